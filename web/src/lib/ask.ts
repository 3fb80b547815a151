/** What is asked of the finish line, place by place, as the grade says it; nothing is decided here. */

import type { RailPoint, RailState } from '../bench/rail.ts'
import type { Decision, Grade, GradeItem, Range, Ring, RingStation } from './wire.ts'
import { amount, decimalsOf, number } from './words.ts'

/** What a strip of the unrolled finish line shows. */
export type RingValue = 'width_mm' | 'above_gingiva_mm' | 'taper_deg'

const PREFIX: Record<RingValue | 'kind', string> = {
  width_mm: 'finish_line.width.',
  above_gingiva_mm: 'finish_line.above_gingiva.',
  taper_deg: 'taper.',
  kind: 'finish_line.kind.',
}

/** The graded items about one thing at one aspect. */
export function itemsAt(grade: Grade | null, value: RingValue | 'kind', aspect: string): GradeItem[] {
  const items = grade?.criteria.flatMap((criterion) => criterion.items) ?? []
  return items.filter((item) => item.reading.startsWith(PREFIX[value]) && aspectOf(item.reading) === aspect)
}

/** The acceptable range at an aspect, the narrowest if several were set; `null` if nothing is asked. */
export function bandAt(grade: Grade | null, value: RingValue, aspect: string, which: 'ideal' | 'acceptable'): Range | null {
  const ranges = itemsAt(grade, value, aspect).flatMap((item) => {
    return 'ideal' in item.wanted ? [item.wanted[which]] : []
  })
  if (ranges.length === 0) return null
  const from = Math.max(...ranges.map((range) => range.from ?? -Infinity))
  const to = Math.min(...ranges.map((range) => range.to ?? Infinity))
  return { from: Number.isFinite(from) ? from : undefined, to: Number.isFinite(to) ? to : undefined }
}

/** A range in words: `0.80 to 1.20 mm`, `at least 0.80 mm`. */
export function inWords({ from, to }: Range, unit: string): string {
  if (from !== undefined && to !== undefined) return `${number(from, decimalsOf(unit))} to ${amount(to, unit)}`
  if (from !== undefined) return `at least ${amount(from, unit)}`
  return to === undefined ? 'anything' : `at most ${amount(to, unit)}`
}

/** The finish line with the worst that the grade says of its width, kind and height where each station lies. */
export function railOf(ring: Ring, grade: Grade | null): RailPoint[] {
  const states = new Map<string, RailState>()
  const state = (aspect: string): RailState => {
    const known = states.get(aspect) ?? worst(grade, aspect)
    states.set(aspect, known)
    return known
  }
  return ring.stations.map((station) => ({ point: station.point, state: stateOf(station, state) }))
}

function stateOf(station: RingStation, state: (aspect: string) => RailState): RailState {
  return station.seen ? state(station.aspect) : 'unseen'
}

function worst(grade: Grade | null, aspect: string): RailState {
  const kinds = ['width_mm', 'above_gingiva_mm', 'kind'] as const
  const decisions = kinds.flatMap((kind) => itemsAt(grade, kind, aspect).flatMap((item) => item.acceptable ?? []))
  const has = (decision: Decision): boolean => decisions.includes(decision)
  if (has('does_not_meet')) return 'does_not_meet'
  if (has('too_close')) return 'too_close'
  return has('meets') ? 'meets' : 'plain'
}

function aspectOf(reading: string): string | undefined {
  return reading.split('.').find((part) => /^(mesi|faci|dist|ling)/.test(part))?.replace(/_(mm|deg)$/, '')
}
