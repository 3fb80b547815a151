/** Where the camera stands: round a target, by azimuth and elevation, seeing so many millimetres. Pure; no page, no three. */

import type { Point } from '../lib/wire.ts'

export interface Stand {
  target: Point
  /** Of the eye round the z axis from x (mesial), degrees. */
  azimuth_deg: number
  /** Of the eye over the xy plane, −90 to 90. */
  elevation_deg: number
  /** Height of what is seen, mm. */
  height_mm: number
}

const RAD = Math.PI / 180
export const LEAST_HEIGHT_MM = 2
export const MOST_HEIGHT_MM = 120

/** Unit vector from the target to the eye. */
export function toEye({ azimuth_deg, elevation_deg }: Stand): Point {
  const [a, e] = [azimuth_deg * RAD, elevation_deg * RAD]
  return [Math.cos(e) * Math.cos(a), Math.cos(e) * Math.sin(a), Math.sin(e)]
}

/** Unit vector that is up on the screen. */
export function upward({ azimuth_deg, elevation_deg }: Stand): Point {
  const [a, e] = [azimuth_deg * RAD, elevation_deg * RAD]
  return [-Math.sin(e) * Math.cos(a), -Math.sin(e) * Math.sin(a), Math.cos(e)]
}

/** Unit vector that is right on the screen. */
export function rightward({ azimuth_deg }: Stand): Point {
  const a = azimuth_deg * RAD
  return [-Math.sin(a), Math.cos(a), 0]
}

/** The stand that sees from `eye` (a direction) with `up` up on the screen. */
export function facing(stand: Stand, eye: Point, up: Point): Stand {
  const flat = Math.hypot(eye[0], eye[1])
  const elevation_deg = Math.atan2(eye[2], flat) / RAD
  // Straight from above or below, only `up` tells which way round.
  const isPole = flat < 0.02 * Math.hypot(...eye)
  const sign = eye[2] > 0 ? -1 : 1
  const azimuth_deg = (isPole ? Math.atan2(sign * up[1], sign * up[0]) : Math.atan2(eye[1], eye[0])) / RAD
  return { ...stand, azimuth_deg, elevation_deg: isPole ? -sign * 90 : elevation_deg }
}

/** Turned by a drag of so many pixels on a view so many pixels high. */
export function turned(stand: Stand, dx: number, dy: number, pixels: number): Stand {
  const perPixel = 200 / Math.max(pixels, 1)
  return {
    ...stand,
    azimuth_deg: wrapped(stand.azimuth_deg - dx * perPixel),
    elevation_deg: clamp(stand.elevation_deg + dy * perPixel, -90, 90),
  }
}

/** Moved sideways by a drag of so many pixels. */
export function shifted(stand: Stand, dx: number, dy: number, pixels: number): Stand {
  const mm = stand.height_mm / Math.max(pixels, 1)
  const [right, up] = [rightward(stand), upward(stand)]
  const target = stand.target.map((x, k) => x - mm * (dx * right[k]! - dy * up[k]!)) as Point
  return { ...stand, target }
}

/** Nearer (`factor` < 1) or farther, keeping what lies at a screen point (−1…1 from the middle, y up) where it is. */
export function zoomed(stand: Stand, factor: number, x = 0, y = 0, aspect = 1): Stand {
  const height_mm = clamp(stand.height_mm * factor, LEAST_HEIGHT_MM, MOST_HEIGHT_MM)
  const half = (stand.height_mm - height_mm) / 2
  const [right, up] = [rightward(stand), upward(stand)]
  const target = stand.target.map((c, k) => c + half * (x * aspect * right[k]! + y * up[k]!)) as Point
  return { ...stand, target, height_mm }
}

/** A share `t` of the way from one stand to another, the shorter way round. */
export function between(from: Stand, to: Stand, t: number): Stand {
  const mix = (a: number, b: number): number => a + (b - a) * t
  const turn = wrapped(to.azimuth_deg - from.azimuth_deg)
  return {
    target: from.target.map((x, k) => mix(x, to.target[k]!)) as Point,
    azimuth_deg: wrapped(from.azimuth_deg + turn * t),
    elevation_deg: mix(from.elevation_deg, to.elevation_deg),
    height_mm: from.height_mm * (to.height_mm / from.height_mm) ** t,
  }
}

function wrapped(deg: number): number {
  return ((((deg + 180) % 360) + 360) % 360) - 180
}

function clamp(value: number, least: number, most: number): number {
  return Math.min(most, Math.max(least, value))
}
