import { describe, expect, it } from 'vitest'

import { angle_deg, distance, flat, outline, snap, solid } from './flat.ts'
import type { Section, SectionPlane } from './wire.ts'

const plane: SectionPlane = { origin: [1, 0, 2], across: [0, 1, 0], up: [0, 0, 1] }
const section: Section = { plane, bodies: { after: [[[0, 0], [4, 0], [4, 3]]], before: [[[0, 1], [4, 1]]] }, walls: [] }

describe('the sheet', () => {
  it('snaps to the nearest line within reach, and to none beyond', () => {
    expect(snap(section, [2, 0.2], 0.5, ['after', 'before'])).toEqual({ at: [2, 0], body: 'after' })
    expect(snap(section, [2, 0.8], 0.5, ['after', 'before'])).toEqual({ at: [2, 1], body: 'before' })
    expect(snap(section, [4.2, 3.3], 0.5, ['after'])).toEqual({ at: [4, 3], body: 'after' })
    expect(snap(section, [2, 9], 0.5, ['after', 'before'])).toEqual({ at: [2, 9], body: null })
    expect(snap(section, [2, 0.8], 0.5, ['after'])).toEqual({ at: [2, 0.8], body: null })
  })

  it('reads lengths and angles of right triangles', () => {
    expect(distance([0, 0], [3, 4])).toBe(5)
    expect(angle_deg([1, 0], [0, 0], [0, 2])).toBeCloseTo(90, 12)
    expect(angle_deg([4, 0], [0, 0], [4, 3])).toBeCloseTo(36.8699, 4)
    expect(angle_deg([0, 0], [0, 0], [1, 1])).toBeNull()
  })

  it('goes to the scene and back', () => {
    const at = solid(plane, [2, -3])
    expect(at).toEqual([1, 2, -1])
    expect(flat(plane, at)).toEqual([2, -3])
  })

  it('draws y upwards', () => {
    expect(outline([[[0, 1], [2, -1]]])).toBe('M0.000 -1.000L2.000 1.000')
  })
})
