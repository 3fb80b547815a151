/** The cutting plane as it is seen and taken: a frame in the scene with three handles (push, turn, lean). */

import {
  BufferGeometry,
  Color,
  CylinderGeometry,
  DoubleSide,
  Float32BufferAttribute,
  Group,
  InstancedMesh,
  LineBasicMaterial,
  LineLoop,
  Mesh,
  MeshBasicMaterial,
  Matrix4,
  PlaneGeometry,
  SphereGeometry,
  Vector3,
} from 'three'

import type { Body, Point, Section } from '../lib/wire.ts'
import { clear, rod } from './rail.ts'
import { rightward, type Stand, upward } from './turntable.ts'

export interface BladeDrag {
  push_mm: number
  turn_deg: number
  lean_deg: number
}

type Handle = 'blade-push' | 'blade-turn' | 'blade-lean'

/** Half the sides of the frame, mm. */
const HALF: [number, number] = [8, 6.5]
const HANDLE_PIXELS = 22

export class Blade {
  readonly group = new Group()
  private readonly pane: Mesh<PlaneGeometry, MeshBasicMaterial>
  private readonly edge: LineLoop<BufferGeometry, LineBasicMaterial>
  private readonly knobs: Record<Handle, Mesh<SphereGeometry, MeshBasicMaterial>>
  private readonly normal = new Vector3(0, 1, 0)

  constructor() {
    const paint = { transparent: true, depthWrite: false, side: DoubleSide, toneMapped: false }
    this.pane = new Mesh(new PlaneGeometry(2 * HALF[0], 2 * HALF[1]), new MeshBasicMaterial({ ...paint, opacity: 0.1 }))
    const [x, y] = HALF
    const corners = new Float32BufferAttribute([-x, -y, 0, x, -y, 0, x, y, 0, -x, y, 0], 3)
    this.edge = new LineLoop(new BufferGeometry().setAttribute('position', corners), new LineBasicMaterial())
    const knob = (place: Point): Mesh<SphereGeometry, MeshBasicMaterial> => {
      const mesh = new Mesh(new SphereGeometry(1, 18, 12), new MeshBasicMaterial({ depthTest: false, transparent: true }))
      mesh.position.set(...place)
      mesh.renderOrder = 6
      return mesh
    }
    this.knobs = {
      'blade-push': knob([0, -y, 0]),
      'blade-turn': knob([x, 0, 0]),
      'blade-lean': knob([0, y, 0]),
    }
    this.pane.renderOrder = 4
    this.edge.renderOrder = 5
    this.group.add(this.pane, this.edge, ...Object.values(this.knobs))
  }

  place(point: Point, normal: Point, colour: string): void {
    this.normal.set(...normal).normalize()
    const up = new Vector3(0, 0, 1).addScaledVector(this.normal, -this.normal.z)
    if (up.lengthSq() < 1e-6) up.set(1, 0, 0)
    up.normalize()
    const across = up.clone().cross(this.normal)
    this.group.matrixAutoUpdate = false
    this.group.matrix.makeBasis(across, up, this.normal).setPosition(new Vector3(...point))
    this.group.matrix.multiply(new Matrix4().makeTranslation(0, 1.5, 0))
    this.group.matrixWorldNeedsUpdate = true
    for (const part of [this.pane, this.edge, ...Object.values(this.knobs)]) part.material.color.set(colour)
  }

  /** Knobs are as large on the screen whatever is seen. */
  scale(height_mm: number): void {
    for (const knob of Object.values(this.knobs)) knob.scale.setScalar(height_mm * 0.013)
  }

  /** The handle at a pixel, if there is one. */
  handleAt(project: (at: Point) => { x: number; y: number }, x: number, y: number): Handle | null {
    this.group.updateMatrixWorld()
    for (const [name, knob] of Object.entries(this.knobs) as [Handle, Mesh][]) {
      const at = project(knob.getWorldPosition(new Vector3()).toArray() as Point)
      if (Math.hypot(at.x - x, at.y - y) < HANDLE_PIXELS) return name
    }
    return null
  }

  /** What a drag of so many pixels does. */
  dragged(handle: Handle, dx: number, dy: number, stand: Stand, pixels: number): BladeDrag {
    const mm = stand.height_mm / Math.max(pixels, 1)
    const none = { push_mm: 0, turn_deg: 0, lean_deg: 0 }
    if (handle === 'blade-turn') return { ...none, turn_deg: dx * 0.5 }
    if (handle === 'blade-lean') return { ...none, lean_deg: -dy * 0.3 }
    const right = new Vector3(...rightward(stand)).dot(this.normal)
    const up = new Vector3(...upward(stand)).dot(this.normal)
    const size = Math.hypot(right, up)
    // Seen head-on the normal has no direction on the screen: then up is forward.
    const push_mm = size < 0.15 ? -dy * mm : ((dx * right - dy * up) * mm) / size
    return { ...none, push_mm }
  }

  /** Draws the chains of a section as rods. */
  trace(into: Group, section: Section, colours: Partial<Record<Body, string>>): void {
    clear(into)
    const { origin, across, up } = section.plane
    const [o, a, u] = [origin, across, up].map((point) => new Vector3(...point)) as [Vector3, Vector3, Vector3]
    const solid = ([x, y]: [number, number]): Vector3 => o.clone().addScaledVector(a, x).addScaledVector(u, y)
    for (const [name, chains] of Object.entries(section.bodies) as [Body, [number, number][][]][]) {
      const colour = colours[name]
      if (!colour) continue
      const rods = chains.flatMap((chain) =>
        chain.slice(1).map((to, k) => rod(solid(chain[k]!), solid(to), name === 'after' ? 0.06 : 0.035)),
      )
      const material = new MeshBasicMaterial({ color: new Color(colour) })
      const mesh = new InstancedMesh(new CylinderGeometry(1, 1, 1, 6, 1, true), material, Math.max(rods.length, 1))
      mesh.count = rods.length
      rods.forEach((matrix, k) => mesh.setMatrixAt(k, matrix))
      mesh.frustumCulled = false
      into.add(mesh)
    }
  }

  dispose(): void {
    for (const part of [this.pane, this.edge, ...Object.values(this.knobs)]) {
      part.geometry.dispose()
      part.material.dispose()
    }
  }
}
