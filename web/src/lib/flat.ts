/** Geometry of the drawing: where a pointer snaps, what lies between two points of the sheet. The section itself is the server's. */

import type { Body, Point, Section, SectionPlane } from './wire.ts'

export type Flat = [number, number]

export interface Snap {
  at: Flat
  body: Body | null
}

/** The point of the drawn lines that is nearest, if one is within reach; else the point itself. */
export function snap(section: Section | null, at: Flat, reach_mm: number, bodies: Body[]): Snap {
  let best: Snap = { at, body: null }
  let least = reach_mm
  for (const body of bodies) {
    for (const chain of section?.bodies[body] ?? []) {
      for (let k = 1; k < chain.length; k++) {
        const on = onSegment(chain[k - 1]!, chain[k]!, at)
        const mm = distance(on, at)
        if (mm < least) {
          least = mm
          best = { at: on, body }
        }
      }
    }
  }
  return best
}

export function distance(a: Flat, b: Flat): number {
  return Math.hypot(b[0] - a[0], b[1] - a[1])
}

/** Angle at `corner` between the arms to `a` and `b`, 0 to 180 degrees; `null` where an arm has no length. */
export function angle_deg(a: Flat, corner: Flat, b: Flat): number | null {
  const [u, v]: [Flat, Flat] = [
    [a[0] - corner[0], a[1] - corner[1]],
    [b[0] - corner[0], b[1] - corner[1]],
  ]
  if (Math.hypot(...u) < 1e-9 || Math.hypot(...v) < 1e-9) return null
  return (Math.abs(Math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1])) * 180) / Math.PI
}

/** A point of the sheet in the screen frame. */
export function solid({ origin, across, up }: SectionPlane, [u, v]: Flat): Point {
  return [0, 1, 2].map((k) => origin[k]! + across[k]! * u + up[k]! * v) as Point
}

/** A direction of the sheet in the screen frame. */
export function solidWay({ across, up }: SectionPlane, [u, v]: Flat): Point {
  return [0, 1, 2].map((k) => across[k]! * u + up[k]! * v) as Point
}

/** A point of the screen frame as seen square on the sheet. */
export function flat({ origin, across, up }: SectionPlane, at: Point): Flat {
  const part = (axis: Point): number => axis.reduce((sum, c, k) => sum + c * (at[k]! - origin[k]!), 0)
  return [part(across), part(up)]
}

/** Chains as the `d` of an SVG path, y down. */
export function outline(chains: Flat[][] | undefined): string {
  const point = ([u, v]: Flat): string => `${u.toFixed(3)} ${(-v).toFixed(3)}`
  return (chains ?? []).map((chain) => `M${chain.map(point).join('L')}`).join('')
}

function onSegment(a: Flat, b: Flat, at: Flat): Flat {
  const [x, y] = [b[0] - a[0], b[1] - a[1]]
  const square = x * x + y * y
  const t = square === 0 ? 0 : Math.min(1, Math.max(0, ((at[0] - a[0]) * x + (at[1] - a[1]) * y) / square))
  return [a[0] + t * x, a[1] + t * y]
}
