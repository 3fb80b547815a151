/** Where the cutting plane stands: turned round the tooth's axis, leaning against it, pushed along its own normal. */

import type { Point } from '../lib/wire.ts'

export interface BladeStand {
  /** 0: the plane holds mesial and the axis; 90: facial and the axis. */
  turn_deg: number
  /** 0: upright; 90: flat. */
  lean_deg: number
  push_mm: number
}

export const UPRIGHT: BladeStand = { turn_deg: 90, lean_deg: 0, push_mm: 0 }
const RAD = Math.PI / 180

/** The plane's point and normal, for a tooth whose facial side is where y is `facial` (1 or −1). */
export function planeOf({ turn_deg, lean_deg, push_mm }: BladeStand, facial: number): { point: Point; normal: Point } {
  const [turn, lean] = [turn_deg * RAD, lean_deg * RAD]
  const flat = Math.cos(lean)
  // Square on the direction at `turn`, which goes from mesial to facial.
  const normal: Point = [Math.sin(turn) * flat, -Math.cos(turn) * facial * flat, Math.sin(lean)]
  return { point: normal.map((part) => part * push_mm) as Point, normal }
}

/** Kept within what makes sense. */
export function held({ turn_deg, lean_deg, push_mm }: BladeStand): BladeStand {
  const turn = (((turn_deg % 360) + 360) % 360)
  return {
    turn_deg: round(turn, 1),
    lean_deg: round(Math.min(90, Math.max(-90, lean_deg)), 1),
    push_mm: round(Math.min(12, Math.max(-12, push_mm)), 2),
  }
}

function round(value: number, decimals: number): number {
  return Number(value.toFixed(decimals)) + 0
}
