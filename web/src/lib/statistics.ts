/** Statistics of the class in words. All of them come from the server; nothing is counted here. */

import type { Answer, Comparison, CriterionReport, Estimate, Standing, Trend } from './wire.ts'
import { capital, number } from './words.ts'

/** The statistic, if it was given. */
export function given<T>(answer: Answer<T>): T | null {
  return isRefused(answer) ? null : (answer as T)
}

/** Why it was not given. */
export function refusal<T>(answer: Answer<T>): string | null {
  return isRefused(answer) ? answer.sentence : null
}

function isRefused<T>(answer: Answer<T>): answer is Extract<Answer<T>, { sentence: string }> {
  return typeof answer === 'object' && answer !== null && 'sentence' in answer && 'reason' in answer
}

/** A share: `33 %`. */
export function percent(share: number): string {
  return `${number(100 * share, 0)} %`
}

/** Both ends of a share's interval: `10 to 70 %`. */
export function between({ low, high }: { low: number; high: number }): string {
  return `${number(100 * low, 0)} to ${percent(high)}`
}

/** A statistic with its interval, or why it has none: `0.42 (0.10 to 0.71)`. */
export function told(answer: Answer<Estimate>, decimals = 2): string {
  const estimate = given(answer)
  if (!estimate) return refusal(answer) ?? ''
  return `${number(estimate.value, decimals)}${reach(estimate, decimals)}`
}

function reach({ interval, without_interval }: Estimate, decimals: number): string {
  if (interval) return ` (${number(interval.low, decimals)} to ${number(interval.high, decimals)})`
  return without_interval ? ` (${without_interval})` : ''
}

/** `0.8 to 1.3`, `at least 0.8`. */
export function bandOf({ from, to }: CriterionReport['acceptable']): string {
  if (from !== null && to !== null) return `${plain(from)} to ${plain(to)}`
  if (from !== null) return `at least ${plain(from)}`
  return to === null ? 'no limit' : `at most ${plain(to)}`
}

function plain(value: number): string {
  return String(value).replace('-', '−')
}

export const STANDINGS: Record<Standing, string> = { under: 'under', within: 'within', over: 'over', too_close: 'too close to call' }
export const TRENDS: Record<Trend, string> = { improved: 'improved', worse: 'worse', unproven: 'no trend proven', steady: 'steady' }

/** What a comparison of groups says, in one sentence. */
export function compared({ result }: Comparison): string {
  if ('refused' in result) return sentenceOf(result.refused)
  if ('two' in result) {
    const two = given(result.two)
    if (!two) return sentenceOf(refusal(result.two) ?? '')
    const test = given(two.test)
    const word = test ? `p = ${number(test.p, 3)}, ${test.method}` : `no test: ${refusal(two.test)}`
    return `The first group less the second: ${told(two.shift)} percentage points; ${word}.`
  }
  const several = given(result.several)
  if (!several) return sentenceOf(refusal(result.several) ?? '')
  const medians = several.medians.map((median) => number(median, 1)).join(', ')
  return `Medians ${medians} %; p = ${number(several.test.p, 3)}, ${several.test.method}.`
}

function sentenceOf(words: string): string {
  return `${capital(words)}.`
}
