/** One attempt as the pages see it: what is there already, what is still to come, what went wrong. */

import { readGlb, type Mesh } from '../bench/glb.ts'
import * as calls from './calls.ts'
import { sentence } from './client.ts'
import type {
  Advice,
  Attempt,
  AttemptEvent,
  Body,
  Fault,
  Grade,
  GradeAnswer,
  Joint,
  MeasurementDocument,
  Movement,
  Place,
  Point,
  ReadingGroup,
  Remark,
  Ring,
  Scene,
  StageName,
} from './wire.ts'

export interface Progress {
  name: StageName
  done: number
  of: number
  elapsed_ms: number
}

export class AttemptState {
  attempt = $state<Attempt | null>(null)
  progress = $state<Progress | null>(null)
  document = $state.raw<MeasurementDocument | null>(null)
  grade = $state.raw<Grade | null>(null)
  /** Whether the grade is the one that is kept of the attempt, on which instructors decide. */
  isKept = $state(false)
  advice = $state.raw<Advice[]>([])
  /** Language of the advice that is there. */
  spoken = $state('en')
  scene = $state.raw<Scene | null>(null)
  ring = $state.raw<Ring | null>(null)
  movements = $state.raw<Movement[]>([])
  meshes = $state.raw<Partial<Record<Body, Mesh>>>({})
  /** The scan after cutting as it came, in its own frame: a first picture while it is being measured. */
  raw = $state.raw<Mesh | null>(null)
  /** What all teeth that were measured together have in common. */
  joint = $state.raw<Joint | null>(null)
  /** What the readings are called, in groups. */
  titles = $state.raw<ReadingGroup[]>([])
  remarks = $state<Remark[]>([])
  /** Why the attempt could not be measured: the server's own sentence. */
  refused = $state<Fault | null>(null)
  /** What could not be fetched. */
  fault = $state<string | null>(null)

  private against: calls.Against | null = null
  private stop: (() => void) | null = null
  private readonly ended = new AbortController()

  constructor(readonly id: string) {}

  /** Fetches what is there and follows what is under way. */
  async load(): Promise<void> {
    this.fault = null
    try {
      this.attempt = await calls.attempt(this.id)
    } catch (error) {
      this.failed(error)
      return
    }
    const { state, error } = this.attempt
    if (state === 'refused') this.refused = error
    else if (state === 'done') await this.everything()
    else if (state !== 'cancelled') {
      this.follow()
      await this.firstPicture()
    }
  }

  async cancel(): Promise<void> {
    await calls.cancel(this.id).catch((error: unknown) => this.failed(error))
  }

  /** A place of the document, in the screen frame. */
  onScreen(place: Place): Point | null {
    const rows = this.scene?.screen_from_after
    if (!rows) return null
    const [x, y, z] = place.point
    return [0, 1, 2].map((k) => {
      const [a, b, c, d] = rows[k]! as [number, number, number, number]
      return a * x + b * y + c * z + d
    }) as Point
  }

  /** Fetches a body once; the after scan comes by itself. */
  async body(name: Body): Promise<void> {
    if (this.meshes[name] || !this.scene?.bodies.includes(name)) return
    await this.fetchBody(name)
  }

  leave(): void {
    this.stop?.()
    this.ended.abort()
  }

  private graded(answer: GradeAnswer | null): void {
    this.grade = answer?.grade ?? null
    this.isKept = answer?.is_kept ?? false
    this.advice = answer?.advice ?? []
    this.spoken = answer?.language ?? 'en'
  }

  private follow(): void {
    this.stop?.()
    this.stop = calls.events(this.id, (event) => void this.hear(event), () => void this.lost())
  }

  /** Nothing is lost without it, so that a fault here is none. */
  private async firstPicture(): Promise<void> {
    const scan = this.attempt?.request.after
    if (!scan || this.raw) return
    const bytes = await calls.scanMesh(scan, this.ended.signal).catch(() => null)
    if (bytes && !this.meshes.after) this.raw = readGlb(bytes)
  }

  private async hear(event: AttemptEvent): Promise<void> {
    if (event.type === 'stage') {
      this.progress = event
      if (event.state === 'done') await this.arrived(event.name)
      return
    }
    this.stop?.()
    this.attempt = await calls.attempt(this.id).catch(() => this.attempt)
    if (event.type === 'refused') this.refused = { code: event.code, message: event.message }
    if (event.type === 'done') await this.everything()
  }

  /** The stream broke off: look again a little later. */
  private async lost(): Promise<void> {
    this.stop?.()
    await new Promise((resolve) => setTimeout(resolve, 1200))
    if (!this.ended.signal.aborted) await this.load()
  }

  private async arrived(stage: StageName): Promise<void> {
    if (stage === 'measure') await this.readings()
    if (stage === 'show') await this.shown()
    if (stage === 'move') await this.part(async () => (this.movements = await calls.movements(this.id)))
  }

  private async everything(): Promise<void> {
    // After the deviation came, the scene knows one map more, and the after scan carries it.
    await Promise.all([
      this.readings(),
      this.shown(),
      this.part(async () => (this.movements = await calls.movements(this.id))),
      this.part(async () => (this.remarks = await calls.remarks(this.id))),
      // Its grade is kept at the end.
      this.isKept ? undefined : this.gradeAgain(),
    ])
  }

  private async readings(): Promise<void> {
    await Promise.all([
      this.part(async () => (this.document = await calls.document(this.id))),
      this.part(async () => (this.titles = await calls.titles(this.id))),
      this.attempt?.request.together ? this.part(async () => (this.joint = await calls.joint(this.id))) : undefined,
      this.against ? undefined : this.hold({ exercise: null, stage: null, language: 'en' }),
    ])
  }

  /** Holds the attempt against an exercise; without a name against the one it was made for. */
  async hold(next: calls.Against): Promise<void> {
    const { against } = this
    const isSame = against !== null && against.exercise === next.exercise && against.stage === next.stage
    if (isSame && against.language === next.language) return
    this.against = next
    if (!next.exercise && !this.attempt?.request.exercise) this.graded(null)
    else {
      await this.gradeAgain()
    }
    if (this.scene && !isSame) await this.fetchScene()
  }

  /** The grade anew: an instructor may have decided on it. */
  async gradeAgain(): Promise<void> {
    const { against } = this
    if (!against || (!against.exercise && !this.attempt?.request.exercise)) return
    await this.part(async () => {
      const answer = await calls.grade(this.id, against)
      // Another wish may have come meanwhile.
      if (this.against === against) this.graded(answer)
    })
  }

  private async shown(): Promise<void> {
    await Promise.all([
      this.fetchScene(),
      this.fetchBody('after'),
      this.part(async () => (this.ring = await calls.ring(this.id))),
    ])
  }

  /** The maps carry the limits of what the attempt is held against. */
  private fetchScene(): Promise<void> {
    const { request } = this.attempt ?? {}
    const { exercise, stage } = this.against?.exercise
      ? this.against
      : { exercise: request?.exercise ?? null, stage: request?.stage ?? null }
    return this.part(async () => (this.scene = await calls.scene(this.id, exercise, stage)))
  }

  private fetchBody(name: Body): Promise<void> {
    return this.part(async () => {
      const mesh = readGlb(await calls.mesh(this.id, name, this.ended.signal))
      this.meshes = { ...this.meshes, [name]: mesh }
    })
  }

  private async part(fetch: () => Promise<unknown>): Promise<void> {
    try {
      await fetch()
    } catch (error) {
      this.failed(error)
    }
  }

  private failed(error: unknown): void {
    if (this.ended.signal.aborted) return
    this.fault = sentence(error)
  }
}
