import { describe, expect, it } from 'vitest'

import { held, planeOf } from './blade.place.ts'

describe('the cutting plane', () => {
  it('holds the axis and the aspect it is turned to, on both sides of the mouth', () => {
    for (const facial of [1, -1]) {
      for (const turn_deg of [0, 30, 90, 200]) {
        const { normal } = planeOf({ turn_deg, lean_deg: 0, push_mm: 0 }, facial)
        const turn = (turn_deg * Math.PI) / 180
        const aspect = [Math.cos(turn), Math.sin(turn) * facial, 0]
        expect(normal.reduce((sum, x, k) => sum + x * aspect[k]!, 0)).toBeCloseTo(0, 12)
        expect(normal[2]).toBeCloseTo(0, 12)
        expect(Math.hypot(...normal)).toBeCloseTo(1, 12)
      }
    }
  })

  it('is pushed along its normal and lies flat at a right angle', () => {
    const { point, normal } = planeOf({ turn_deg: 40, lean_deg: 90, push_mm: 2.5 }, 1)
    expect(normal[2]).toBeCloseTo(1, 12)
    expect(point[2]).toBeCloseTo(2.5, 12)
  })

  it('is kept within what makes sense', () => {
    expect(held({ turn_deg: -30, lean_deg: 120, push_mm: -40 })).toEqual({ turn_deg: 330, lean_deg: 90, push_mm: -12 })
  })
})
