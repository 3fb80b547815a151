import { describe, expect, it } from 'vitest'

import type { Point } from '../lib/wire.ts'
import { between, facing, rightward, shifted, type Stand, toEye, turned, upward, zoomed } from './turntable.ts'

const stand: Stand = { target: [1, 2, 3], azimuth_deg: 30, elevation_deg: 20, height_mm: 20 }
const dot = (a: Point, b: Point): number => a.reduce((sum, x, k) => sum + x * b[k]!, 0)
const cross = (a: Point, b: Point): Point => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
]

describe('the camera', () => {
  it('has three square axes, right-handed, at every elevation', () => {
    for (const elevation_deg of [-90, -45, 0, 20, 90]) {
      const [right, up, eye] = [rightward, upward, toEye].map((axis) => axis({ ...stand, elevation_deg })) as [Point, Point, Point]
      for (const [a, b] of [[right, up], [up, eye], [eye, right]] as const) expect(dot(a, b)).toBeCloseTo(0, 12)
      cross(right, up).forEach((x, k) => expect(x).toBeCloseTo(eye[k]!, 12))
    }
  })

  it('faces a direction, from straight above with the up that was asked for', () => {
    const side = facing(stand, [0, -1, 0], [0, 0, 1])
    toEye(side).forEach((x, k) => expect(x).toBeCloseTo([0, -1, 0][k]!, 12))
    for (const up of [[0, 1, 0], [-1, 0, 0], [0.6, 0.8, 0]] as Point[]) {
      for (const eye of [[0, 0, 1], [0, 0, -1]] as Point[]) {
        const seen = facing(stand, eye, up)
        toEye(seen).forEach((x, k) => expect(x).toBeCloseTo(eye[k]!, 9))
        upward(seen).forEach((x, k) => expect(x).toBeCloseTo(up[k]!, 9))
      }
    }
  })

  it('moves by as many millimetres as pixels say', () => {
    const moved = shifted(stand, 50, 0, 1000)
    const way = moved.target.map((x, k) => x - stand.target[k]!) as Point
    expect(dot(way, rightward(stand))).toBeCloseTo(-1, 12)
    expect(dot(way, upward(stand))).toBeCloseTo(0, 12)
  })

  it('keeps what lies under the pointer when zooming', () => {
    const [x, y, aspect] = [0.5, -0.25, 1.6]
    const under = (s: Stand): Point =>
      s.target.map((c, k) => c + (s.height_mm / 2) * (x * aspect * rightward(s)[k]! + y * upward(s)[k]!)) as Point
    const nearer = zoomed(stand, 0.5, x, y, aspect)
    expect(nearer.height_mm).toBe(10)
    under(nearer).forEach((c, k) => expect(c).toBeCloseTo(under(stand)[k]!, 12))
  })

  it('never turns over the pole and goes the short way round', () => {
    expect(turned(stand, 0, 10_000, 100).elevation_deg).toBe(90)
    const half = between({ ...stand, azimuth_deg: 170 }, { ...stand, azimuth_deg: -170 }, 0.5)
    expect(Math.abs(half.azimuth_deg)).toBeCloseTo(180, 9)
  })
})
