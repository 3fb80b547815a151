/** The finish line in the scene. What is asked of it shows in the form, not in the colour alone: a smooth line where it is
 * met, beads where it is not, dashes where it is too close to call, a thin broken thread where the line was not seen. */

import {
  BackSide,
  BufferGeometry,
  Color,
  CylinderGeometry,
  Group,
  InstancedMesh,
  Matrix4,
  MeshBasicMaterial,
  Quaternion,
  SphereGeometry,
  Vector3,
} from 'three'

import type { Point } from '../lib/wire.ts'

export type RailState = 'plain' | 'meets' | 'does_not_meet' | 'too_close' | 'unseen'

export interface RailPoint {
  point: Point
  state: RailState
}

/** By state, and of the rim that sets the line off from whatever lies under it. */
export type RailColours = Record<RailState | 'halo', string>

const RADIUS_MM: Record<RailState, number> = {
  plain: 0.055,
  meets: 0.055,
  does_not_meet: 0.055,
  too_close: 0.075,
  unseen: 0.025,
}
const BEAD_MM = 0.15
const BEAD_EACH_MM = 0.55
const DASH_MM = 0.4

/** Draws the line into a group that takes the place of what it held. */
export function lay(rail: Group, points: RailPoint[], colours: RailColours): void {
  clear(rail)
  if (points.length < 2) return
  const rods: { matrix: Matrix4; colour: Color }[] = []
  const beads: { matrix: Matrix4; colour: Color }[] = []
  let along_mm = 0
  let lastBead_mm = -BEAD_EACH_MM
  points.forEach((from, k) => {
    const to = points[(k + 1) % points.length]!
    const [a, b] = [new Vector3(...from.point), new Vector3(...to.point)]
    const length_mm = a.distanceTo(b)
    const colour = new Color(colours[from.state])
    const isGap = (from.state === 'too_close' || from.state === 'unseen') && Math.floor(along_mm / DASH_MM) % 2 === 1
    if (!isGap && length_mm > 1e-6) rods.push({ matrix: rod(a, b, RADIUS_MM[from.state]), colour })
    if (from.state === 'does_not_meet' && along_mm - lastBead_mm >= BEAD_EACH_MM) {
      beads.push({ matrix: new Matrix4().makeScale(BEAD_MM, BEAD_MM, BEAD_MM).setPosition(a), colour })
      lastBead_mm = along_mm
    }
    along_mm += length_mm
  })
  rail.add(halo(rods, colours.halo))
  rail.add(instanced(new CylinderGeometry(1, 1, 1, 8, 1, true), rods))
  rail.add(instanced(new SphereGeometry(1, 14, 10), beads))
}

/** Empties a group and frees what it held. */
export function clear(group: Group): void {
  for (const child of [...group.children] as InstancedMesh<BufferGeometry, MeshBasicMaterial>[]) {
    group.remove(child)
    child.geometry?.dispose()
    child.material?.dispose()
    child.dispose?.()
  }
}

function halo(rods: { matrix: Matrix4 }[], colour: string): InstancedMesh {
  const wide = new Matrix4().makeScale(1.75, 1, 1.75)
  const items = rods.map(({ matrix }) => ({ matrix: matrix.clone().multiply(wide), colour: new Color(colour) }))
  const mesh = instanced(new CylinderGeometry(1, 1, 1, 8, 1, true), items)
  // Seen from inside out, only the rim beside the line remains.
  mesh.material.side = BackSide
  return mesh
}

/** Turns and stretches a unit cylinder along y so that it joins two points. */
export function rod(a: Vector3, b: Vector3, radius_mm: number): Matrix4 {
  const way = b.clone().sub(a)
  const length = way.length()
  const turn = new Quaternion().setFromUnitVectors(new Vector3(0, 1, 0), way.divideScalar(length || 1))
  const middle = a.clone().add(b).multiplyScalar(0.5)
  return new Matrix4().compose(middle, turn, new Vector3(radius_mm, length * 1.06, radius_mm))
}

function instanced(
  geometry: BufferGeometry,
  items: { matrix: Matrix4; colour: Color }[],
): InstancedMesh<BufferGeometry, MeshBasicMaterial> {
  const mesh = new InstancedMesh(geometry, new MeshBasicMaterial({ toneMapped: false }), Math.max(items.length, 1))
  mesh.count = items.length
  items.forEach(({ matrix, colour }, k) => {
    mesh.setMatrixAt(k, matrix)
    mesh.setColorAt(k, colour)
  })
  mesh.renderOrder = 3
  mesh.frustumCulled = false
  return mesh
}
