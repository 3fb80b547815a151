import { describe, expect, it } from 'vitest'

import { parse, path, type Route } from './route.ts'
import { bandOf, between, compared, given, percent, refusal, told } from './statistics.ts'
import type { Answer, Comparison, Estimate } from './wire.ts'

const estimate: Estimate = { value: 0.414, interval: { low: -0.1, high: 0.72, confidence: 0.95, method: '' }, without_interval: null, n: 8, method: '' }
const refused: Answer<Estimate> = { sentence: '3 attempts, 5 needed', reason: 'too_few', of: 'attempts', n: 3, least: 5 }

describe('statistics in words', () => {
  it('tells a statistic with its interval, or why there is none', () => {
    expect(told(estimate)).toBe('0.41 (−0.10 to 0.72)')
    expect(told({ ...estimate, interval: null, without_interval: 'all the same' })).toBe('0.41 (all the same)')
    expect(told(refused)).toBe('3 attempts, 5 needed')
    expect([given(refused), refusal(refused), refusal(estimate)]).toEqual([null, '3 attempts, 5 needed', null])
    expect([percent(1 / 3), between({ low: 0.07, high: 0.7 })]).toEqual(['33 %', '7 to 70 %'])
  })

  it('tells bands with their open ends', () => {
    expect([bandOf({ from: 0.4, to: 1.3 }), bandOf({ from: -2, to: null }), bandOf({ from: null, to: 0.15 }), bandOf({ from: null, to: null })]).toEqual([
      '0.4 to 1.3', 'at least −2', 'at most 0.15', 'no limit',
    ])
  })

  it('tells comparisons, and says where there is no test', () => {
    const by = { by: 'cohort', groups: [['a', 4], ['b', 4]] as [string, number][] }
    const two = { shift: estimate, dominance: estimate, test: refused as never, n: [4, 4] as [number, number] }
    expect(compared({ ...by, result: { two } } as Comparison)).toBe('The first group less the second: 0.41 (−0.10 to 0.72) percentage points; no test: 3 attempts, 5 needed.')
    expect(compared({ ...by, result: { refused: '2 learners are in more than one group' } })).toBe('2 learners are in more than one group.')
    const several = { medians: [61.25, 70], n: [5, 5], explained: 0.1, test: { p: 0.0412, statistic: 3, method: 'permutations' } }
    expect(compared({ ...by, result: { several } })).toBe('Medians 61.3, 70.0 %; p = 0.041, permutations.')
  })
})

it('every page of the class is a link', () => {
  const routes: Route[] = [
    { page: 'class', part: 'learners' },
    { page: 'class', part: 'report' },
    { page: 'grading', grading: 'a b', examiner: 'QS/1' },
    { page: 'learner', code: 'QS-01 ä' },
    { page: 'audit' },
  ]
  for (const route of routes) expect(parse(path(route))).toEqual(route)
  for (const wrong of ['/class/nothing', '/class/gradings/a', '/learner', '/learner/a/b', '/audit/a']) expect(parse(wrong).page).toBe('missing')
})
