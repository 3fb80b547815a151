/** The tools on the section: caliper, angle, round bar. Where they lie stands in the address; the bar's answer is the server's. */

import * as calls from './calls.ts'
import { latestOnly, sentence } from './client.ts'
import { angle_deg, distance, snap, solid, solidWay, type Flat } from './flat.ts'
import { address } from './place.svelte.ts'
import { numbers } from './route.ts'
import type { Body, GaugeAnswer, GaugeWish, Section } from './wire.ts'

export type Tool = 'none' | 'caliper' | 'angle' | 'bar'
export type Way = 'right' | 'left' | 'down'
export type Toward = GaugeWish['toward']

export const WAYS: Record<Way, Flat> = { right: [1, 0], left: [-1, 0], down: [0, -1] }
/** Points that a tool has in all. */
export const MOST: Record<Tool, number> = { none: 0, caliper: 2, angle: 3, bar: 1 }
/** Where the handles lie at first, so that the keyboard has something to move. */
const FIRST: Record<Tool, Flat[]> = { none: [], caliper: [[-1, 4], [1, 4]], angle: [[-3, 4], [-4, 1], [-5, 0]], bar: [[-6, 3]] }

export class Tools {
  points = $state<Flat[]>([])
  barWidth_mm = $state(1.5)
  way = $state<Way>('right')
  toward = $state<Toward>('opposing')
  gauge = $state<GaugeAnswer | null>(null)
  fault = $state<string | null>(null)
  private readonly push: (wish: GaugeWish) => void

  constructor(id: string) {
    this.push = latestOnly(
      (wish: GaugeWish) => calls.gauge(id, wish),
      (answer) => Object.assign(this, { gauge: answer, fault: null }),
      (error) => Object.assign(this, { gauge: null, fault: sentence(error) }),
    )
    const known = numbers(address.get('points'), 2 * MOST[this.tool])
    if (known) this.points = known.flatMap((u, k) => (k % 2 === 0 ? [[u, known[k + 1]!] as Flat] : []))
    const [width, way, toward] = (address.get('bar') ?? '').split(':')
    if (Number(width) > 0) this.barWidth_mm = Number(width)
    if (way && way in WAYS) this.way = way as Way
    if (toward === 'neighbour') this.toward = toward
  }

  get tool(): Tool {
    const tool = address.get('tool') ?? 'none'
    return tool in MOST ? (tool as Tool) : 'none'
  }

  get length_mm(): number | null {
    return this.tool === 'caliper' && this.points.length === 2 ? distance(this.points[0]!, this.points[1]!) : null
  }

  get angle_deg(): number | null {
    return this.tool === 'angle' && this.points.length === 3 ? angle_deg(this.points[0]!, this.points[1]!, this.points[2]!) : null
  }

  /** Takes a tool up, or lays it down. */
  choose(tool: Tool, snapped: (point: Flat) => Flat): void {
    const next = tool === this.tool ? 'none' : tool
    this.points = FIRST[next].map((point) => (next === 'bar' ? point : snapped(point)))
    address.set({ tool: next === 'none' ? null : next, ...this.inWords(next) })
  }

  /** Pushes the bar through what is cut. */
  ask(section: Section | null): void {
    const from = this.points[0]
    if (this.tool !== 'bar' || !section || !from) return
    const direction = solidWay(section.plane, WAYS[this.way])
    this.push({ point: solid(section.plane, from), direction, width_mm: this.barWidth_mm, toward: this.toward })
  }

  /** Writes down where the tool lies: at the end of a movement, not in its course. */
  settle(): void {
    address.set(this.inWords(this.tool))
  }

  private inWords(tool: Tool): Record<string, string | null> {
    return {
      points: tool === 'none' ? null : this.points.flat().map((part) => part.toFixed(4)).join(','),
      bar: tool === 'bar' ? `${this.barWidth_mm}:${this.way}:${this.toward}` : null,
    }
  }
}

/** The nearest point of the drawn lines within reach, else the point itself. */
export function onLine(section: Section | null, point: Flat, reach_mm: number, bodies: Body[]): Flat {
  return snap(section, point, reach_mm, bodies).at
}
