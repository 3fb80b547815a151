/** The scene on the bench: bodies, finish line, cutting plane. Plain three.js, drawn only when something changed. */

import {
  AmbientLight,
  Color,
  Group,
  Matrix4,
  NoToneMapping,
  OrthographicCamera,
  Plane,
  Scene as Scene3,
  SRGBColorSpace,
  Vector3,
  WebGLRenderer,
} from 'three'

import type { Body, MapInfo, Point, Section } from '../lib/wire.ts'
import { Blade, type BladeDrag } from './blade.ts'
import type { Mesh } from './glb.ts'
import { Probe } from './probe.ts'
import { clear, lay, type RailColours, type RailPoint } from './rail.ts'
import { DEPTH_MM, extent, type Look, SurfaceBody } from './surface.ts'
import { between, facing, shifted, type Stand, toEye, turned, upward, zoomed } from './turntable.ts'

export interface BenchEvents {
  /** The camera moved by the user's hand. */
  stand?: (stand: Stand) => void
  /** Something was drawn: overlays follow. */
  drawn?: () => void
  /** The pointer rests over a point of the after scan, or over nothing. */
  hover?: (at: Point | null, x: number, y: number) => void
  /** A click or tap on the after scan. */
  tap?: (at: Point, x: number, y: number) => void
  /** The cutting plane was taken by its handles. */
  blade?: (drag: BladeDrag) => void
}

const TURN_MS = 320
/** A pointer that moved less than this was a tap, CSS pixels. */
const TAP_PIXELS = 5

export class Bench3d {
  private readonly renderer: WebGLRenderer
  private readonly scene = new Scene3()
  private readonly camera = new OrthographicCamera(-1, 1, 1, -1, -DEPTH_MM, DEPTH_MM)
  private readonly bodies = new Map<Body, SurfaceBody>()
  private readonly jaw = new Group()
  private readonly rail = new Group()
  private readonly cutLines = new Group()
  private readonly blade = new Blade()
  private readonly probe: Probe
  private readonly watch: ResizeObserver
  private readonly pointers = new Map<number, { x: number; y: number }>()
  private readonly undo: (() => void)[] = []
  private home: Stand = { target: [0, 0, 1], azimuth_deg: -60, elevation_deg: 35, height_mm: 18 }
  private current: Stand = this.home
  private frame = 0
  private flight = 0
  private travelled = 0
  private dragged: 'blade-push' | 'blade-turn' | 'blade-lean' | null = null
  private map: MapInfo | null = null
  private hoverWaits = false

  constructor(
    private readonly canvas: HTMLCanvasElement,
    private readonly events: BenchEvents = {},
  ) {
    this.renderer = new WebGLRenderer({ canvas, antialias: true, alpha: true, powerPreference: 'high-performance' })
    this.renderer.toneMapping = NoToneMapping
    this.renderer.outputColorSpace = SRGBColorSpace
    this.renderer.setClearColor(new Color(0), 0)
    this.probe = new Probe(this.renderer)
    this.scene.add(new AmbientLight(0xffffff), this.jaw, this.rail, this.cutLines, this.blade.group)
    this.blade.group.visible = false
    this.watch = new ResizeObserver(() => this.resize())
    this.watch.observe(canvas)
    this.listen()
    this.resize()
  }

  /** Puts a body in, or takes it out. */
  put(name: Body, mesh: Mesh | null, look: Look): void {
    const old = this.bodies.get(name)
    if (old) {
      this.parent(name).remove(old.mesh, old.veil)
      old.dispose()
      this.bodies.delete(name)
    }
    if (mesh) {
      const body = new SurfaceBody(mesh, look)
      this.bodies.set(name, body)
      this.parent(name).add(body.veil, body.mesh)
      if (name === 'after') body.paint(this.map)
    }
    this.draw()
  }

  /** Whether a body is in the scene. */
  has(name: Body): boolean {
    return this.bodies.has(name)
  }

  look(name: Body, look: Look): void {
    this.bodies.get(name)?.look(look)
    this.draw()
  }

  /** Paints a map on the after scan, with thick lines at some limits. */
  paint(map: MapInfo | null, limits: number[] = []): void {
    this.map = map
    const body = this.bodies.get('after')
    body?.paint(map)
    body?.limit(limits)
    this.draw()
  }

  /** Where the opposing jaw is, against its closed place; 4×4 row by row. */
  pose(rows: number[][] | null): void {
    this.jaw.matrixAutoUpdate = false
    if (rows) this.jaw.matrix.copy(new Matrix4().set(...(rows.flat() as Parameters<Matrix4['set']>)))
    else this.jaw.matrix.identity()
    this.jaw.matrixWorldNeedsUpdate = true
    this.draw()
  }

  /** Draws the finish line. */
  line(points: RailPoint[], colours: RailColours): void {
    lay(this.rail, points, colours)
    this.draw()
  }

  /** Shows the cutting plane, or hides it; `hides` takes away what lies on its near side. */
  cutAt(plane: { point: Point; normal: Point } | null, hides: Body[], colour: string): void {
    this.blade.group.visible = plane !== null
    const cut = plane && new Plane().setFromNormalAndCoplanarPoint(new Vector3(...plane.normal), new Vector3(...plane.point))
    if (plane) this.blade.place(plane.point, plane.normal, colour)
    for (const [name, body] of this.bodies) body.cut(hides.includes(name) ? cut : null)
    if (!plane) clear(this.cutLines)
    this.draw()
  }

  /** Draws the chains of a section where they lie. */
  cutSection(section: Section, colours: Partial<Record<Body, string>>): void {
    this.blade.trace(this.cutLines, section, colours)
    this.draw()
  }

  /** The camera's place. */
  get stand(): Stand {
    return this.current
  }

  /** Moves the camera; `fly` takes a moment, unless the user wants no motion. */
  moveTo(stand: Stand, fly: boolean): void {
    cancelAnimationFrame(this.flight)
    const from = this.current
    if (!fly || matchMedia('(prefers-reduced-motion: reduce)').matches) {
      this.stood(stand)
      return
    }
    const start = performance.now()
    const step = (now: number): void => {
      const share = Math.min(1, (now - start) / TURN_MS)
      this.stood(between(from, stand, 1 - (1 - share) ** 3))
      if (share < 1) this.flight = requestAnimationFrame(step)
    }
    this.flight = requestAnimationFrame(step)
  }

  /** A stand that shows the tooth from a direction. */
  seen(eye: Point, up: Point): Stand {
    return facing({ ...this.current, target: this.home.target, height_mm: this.home.height_mm }, eye, up)
  }

  /** A stand that shows a spot from near and a little above, from the side on which it lies. */
  near(at: Point): Stand {
    const out = Math.hypot(at[0], at[1])
    const side: Point = out < 1.2 ? [-0.25, 0, 1] : [at[0] / out, at[1] / out, 0.55]
    return facing({ ...this.current, target: at, height_mm: 9 }, side, [0, 0, 1])
  }

  /** What is shown at first and by the home key. */
  setHome(stand: Stand): void {
    this.home = stand
    this.stood(stand)
  }

  /** Shows all that is there, from where it was scanned: for scans whose place is not known yet. */
  frameAll(eye: Point): void {
    const { middle, radius } = extent(this.bodies.values())
    // An arch is wider than it is high.
    const wide = this.canvas.clientWidth / Math.max(this.canvas.clientHeight, 1)
    const height_mm = (wide > 1.4 ? 1.7 : 2.1) * radius
    const up: Point = Math.abs(eye[2]) > 0.9 ? [0, 1, 0] : [0, 0, 1]
    this.setHome(facing({ ...this.current, target: middle.toArray() as Point, height_mm }, eye, up))
  }

  /** Looks at what stands in the middle of a tooth's frame, from above and in front. */
  frameTooth(): void {
    this.setHome(facing({ ...this.current, target: [0, 0, 2], height_mm: 17 }, [0.25, 0.6, 0.9], [0, 0, 1]))
  }

  goHome(): void {
    this.moveTo(this.home, true)
    this.events.stand?.(this.home)
  }

  /** CSS pixels of a point; `hidden` where the after scan lies before it. */
  project(at: Point): { x: number; y: number; depth: number } {
    const { clientWidth, clientHeight } = this.canvas
    const seen = new Vector3(...at).project(this.camera)
    return { x: ((seen.x + 1) / 2) * clientWidth, y: ((1 - seen.y) / 2) * clientHeight, depth: seen.z }
  }

  /** CSS pixels of one millimetre. */
  get pixelsPerMm(): number {
    return this.canvas.clientHeight / this.current.height_mm
  }

  /** The point of the after scan at a CSS pixel. */
  pick(x: number, y: number): Point | null {
    const body = this.bodies.get('after') ?? [...this.bodies.values()][0]
    const { clientWidth, clientHeight } = this.canvas
    return body ? this.probe.at(body, this.camera, x, y, clientWidth, clientHeight) : null
  }

  /** Asks for a new frame. */
  draw(): void {
    this.frame ||= requestAnimationFrame(() => {
      this.frame = 0
      this.render()
    })
  }

  dispose(): void {
    cancelAnimationFrame(this.frame)
    cancelAnimationFrame(this.flight)
    this.watch.disconnect()
    for (const undo of this.undo) undo()
    for (const body of this.bodies.values()) body.dispose()
    clear(this.rail)
    clear(this.cutLines)
    this.blade.dispose()
    this.probe.dispose()
    this.renderer.dispose()
  }

  /** Turns, moves or zooms by keys; tells whether the key meant something. */
  key(event: KeyboardEvent): boolean {
    const arrows: Record<string, [number, number]> = {
      ArrowLeft: [-1, 0],
      ArrowRight: [1, 0],
      ArrowUp: [0, -1],
      ArrowDown: [0, 1],
    }
    const arrow = arrows[event.key]
    const pixels = this.canvas.clientHeight
    if (arrow && !event.altKey && !event.ctrlKey && !event.metaKey) {
      const [x, y] = arrow.map((part) => part * pixels * 0.05) as [number, number]
      this.byHand(event.shiftKey ? shifted(this.current, x, y, pixels) : turned(this.current, x, y, pixels))
    } else if (event.key === '+' || event.key === '=') this.byHand(zoomed(this.current, 0.85))
    else if (event.key === '-' || event.key === '−') this.byHand(zoomed(this.current, 1 / 0.85))
    else if (event.key === 'Home' || event.key === '0') this.goHome()
    else return false
    return true
  }

  private parent(name: Body): Group | Scene3 {
    return name === 'opposing' ? this.jaw : this.scene
  }

  private byHand(stand: Stand): void {
    cancelAnimationFrame(this.flight)
    this.stood(stand)
    this.events.stand?.(stand)
  }

  private stood(stand: Stand): void {
    this.current = stand
    this.draw()
  }

  private resize(): void {
    const { clientWidth, clientHeight } = this.canvas
    if (clientWidth === 0 || clientHeight === 0) return
    this.renderer.setPixelRatio(Math.min(devicePixelRatio, 2))
    this.renderer.setSize(clientWidth, clientHeight, false)
    // Drawn at once: a resized canvas is empty until it is.
    this.render()
  }

  private render(): void {
    const start = performance.now()
    const { target, height_mm } = this.current
    const aspect = this.canvas.clientWidth / Math.max(this.canvas.clientHeight, 1)
    const { camera } = this
    camera.top = height_mm / 2
    camera.bottom = -camera.top
    camera.right = camera.top * aspect
    camera.left = -camera.right
    camera.up.set(...upward(this.current))
    camera.position.set(...toEye(this.current)).multiplyScalar(100).add(new Vector3(...target))
    camera.lookAt(new Vector3(...target))
    camera.updateProjectionMatrix()
    camera.updateMatrixWorld()
    this.blade.scale(height_mm)
    this.renderer.render(this.scene, camera)
    performance.measure('bench-frame', { start, end: performance.now() })
    performance.clearMeasures('bench-frame')
    this.events.drawn?.()
  }

  private on<K extends keyof HTMLElementEventMap>(
    kind: K,
    listener: (event: HTMLElementEventMap[K]) => void,
    options?: AddEventListenerOptions,
  ): void {
    this.canvas.addEventListener(kind, listener, options)
    this.undo.push(() => this.canvas.removeEventListener(kind, listener, options))
  }

  private listen(): void {
    this.on('contextmenu', (event) => event.preventDefault())
    this.on('pointerdown', (event) => this.down(event))
    this.on('pointermove', (event) => this.moved(event))
    this.on('pointerup', (event) => this.up(event))
    this.on('pointercancel', (event) => this.up(event))
    this.on('pointerleave', () => this.events.hover?.(null, 0, 0))
    this.on('dblclick', () => this.goHome())
    const wheel = (event: WheelEvent): void => {
      event.preventDefault()
      const { clientWidth, clientHeight } = this.canvas
      const [x, y] = [(2 * event.offsetX) / clientWidth - 1, 1 - (2 * event.offsetY) / clientHeight]
      const factor = Math.exp(Math.sign(event.deltaY) * Math.min(Math.abs(event.deltaY), 240) * 0.0012)
      this.byHand(zoomed(this.current, factor, x, y, clientWidth / clientHeight))
    }
    this.on('wheel', wheel, { passive: false })
  }

  private down(event: PointerEvent): void {
    this.canvas.setPointerCapture(event.pointerId)
    this.pointers.set(event.pointerId, { x: event.offsetX, y: event.offsetY })
    this.travelled = 0
    this.dragged = null
    if (this.blade.group.visible && event.button === 0) {
      this.dragged = this.blade.handleAt((at) => this.project(at), event.offsetX, event.offsetY)
    }
  }

  private moved(event: PointerEvent): void {
    const last = this.pointers.get(event.pointerId)
    if (!last) {
      this.hover(event)
      return
    }
    const [dx, dy] = [event.offsetX - last.x, event.offsetY - last.y]
    const pixels = this.canvas.clientHeight
    this.travelled += Math.hypot(dx, dy)
    if (this.dragged) {
      const drag = this.blade.dragged(this.dragged, dx, dy, this.current, pixels)
      this.events.blade?.(drag)
    } else if (this.pointers.size === 2) this.pinch(event, last)
    else if (event.buttons & 2 || event.shiftKey) this.byHand(shifted(this.current, dx, dy, pixels))
    else if (this.travelled > TAP_PIXELS) this.byHand(turned(this.current, dx, dy, pixels))
    this.pointers.set(event.pointerId, { x: event.offsetX, y: event.offsetY })
  }

  private pinch(event: PointerEvent, last: { x: number; y: number }): void {
    const other = [...this.pointers].find(([id]) => id !== event.pointerId)?.[1]
    if (!other) return
    const was = Math.hypot(last.x - other.x, last.y - other.y)
    const now = Math.hypot(event.offsetX - other.x, event.offsetY - other.y)
    const pixels = this.canvas.clientHeight
    const half = [(event.offsetX - last.x) / 2, (event.offsetY - last.y) / 2] as const
    this.byHand(shifted(zoomed(this.current, was / Math.max(now, 1)), ...half, pixels))
  }

  private up(event: PointerEvent): void {
    const wasDown = this.pointers.delete(event.pointerId)
    const isTap = wasDown && !this.dragged && this.travelled <= TAP_PIXELS && event.type === 'pointerup'
    this.dragged = null
    if (!isTap || event.button !== 0) return
    const at = this.pick(event.offsetX, event.offsetY)
    if (at) this.events.tap?.(at, event.offsetX, event.offsetY)
  }

  /** At most one look under the pointer a frame. */
  private hover(event: PointerEvent): void {
    if (!this.events.hover || this.hoverWaits || event.pointerType === 'touch') return
    const { offsetX, offsetY } = event
    if (this.blade.group.visible) {
      const handle = this.blade.handleAt((at) => this.project(at), offsetX, offsetY)
      this.canvas.style.cursor = handle ? 'grab' : ''
    }
    this.hoverWaits = true
    requestAnimationFrame(() => {
      this.hoverWaits = false
      this.events.hover?.(this.pick(offsetX, offsetY), offsetX, offsetY)
    })
  }
}
