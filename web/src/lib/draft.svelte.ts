/** An attempt before it is measured: scans with their roles, the tooth, what it is held against. Every edit can be taken back. */

import * as calls from './calls.ts'
import { Refusal, sentence } from './client.ts'
import { notices } from './notices.svelte.ts'
import type { NewAttempt, Role, Scan, Watched } from './wire.ts'

/** A file on its way to being a scan with a role. */
export interface Slip {
  key: string
  name: string
  bytes: number
  scan: Scan | null
  role: Role | null
  because: string
  certain: boolean
  fault: string | null
  /** Whether it would do as a scan of one tooth alone. */
  maybeDie: boolean
}

/** Deflections from the average jaw, degrees; `null` where the average holds. */
export interface Jaw {
  condylar_deg: number | null
  bennett_deg: number | null
  incisal_deg: number | null
}

const MOST = 3
const ROLES: Record<Role, string> = { after: 'after cutting', before: 'before cutting', opposing: 'opposing jaw' }

export class Draft {
  slips = $state<Slip[]>([])
  teeth = $state<number[]>([])
  /** Whether several prepared teeth of one scan are measured together. */
  isSeveral = $state(false)
  isDie = $state(false)
  exercise = $state('')
  stage = $state('')
  learner = $state('')
  path = $state<'best' | 'axis'>('best')
  opposingFrame = $state<'before' | 'after'>('before')
  jaw = $state<Jaw>({ condylar_deg: null, bennett_deg: null, incisal_deg: null })
  fault = $state<string | null>(null)
  private readonly files = new Map<string, File>()

  /** Why it cannot be measured yet. */
  get missing(): string | null {
    if (this.slips.some((slip) => !slip.scan && !slip.fault)) return 'The files are still being read.'
    if (!this.of('after')) return 'Say which scan was taken after cutting.'
    if (this.teeth.length === 0) return 'Choose the tooth.'
    return this.isSeveral && this.teeth.length < 2 ? 'Choose the other prepared teeth too.' : null
  }

  of(role: Role): string | undefined {
    return this.slips.find((slip) => slip.role === role && slip.scan)?.scan?.id
  }

  /** What is asked of the server. */
  get request(): NewAttempt {
    const { condylar_deg, bennett_deg, incisal_deg } = this.jaw
    const both = (name: string, value: number | null): [string, number][] =>
      value === null ? [] : [[`${name}_right_deg`, value], [`${name}_left_deg`, value]]
    const jaw = Object.fromEntries([
      ...both('condylar_inclination', condylar_deg),
      ...both('bennett', bennett_deg),
      ...(incisal_deg === null ? [] : [['incisal_guidance_deg', incisal_deg] as [string, number]]),
    ])
    return {
      after: this.of('after')!,
      before: this.of('before'),
      opposing: this.of('opposing'),
      opposing_frame: this.opposingFrame === 'after' ? 'after' : undefined,
      tooth: this.teeth.join(','),
      extent: this.isDie ? 'die' : undefined,
      path: this.path === 'axis' ? 'axis' : undefined,
      jaw: Object.keys(jaw).length > 0 ? jaw : undefined,
      exercise: this.exercise || undefined,
      stage: this.stage || undefined,
      learner: this.learner.trim() || undefined,
    }
  }

  async take(files: File[]): Promise<void> {
    if (files.length > MOST) notices.say(`Only the first ${MOST} of ${files.length} files are taken: after, before, opposing.`)
    const added = files.slice(0, MOST).map((file) => {
      const slip = slipOf(file.name, file.size)
      this.files.set(slip.key, file)
      return slip
    })
    this.slips = [...this.slips.filter((slip) => !slip.fault), ...added].slice(-MOST)
    await Promise.all(added.map((slip) => this.upload(slip.key, this.isDie)))
    await this.guess()
  }

  /** What the scanner left in the watched folder. */
  async takeWatched(came: Watched[]): Promise<void> {
    const added = came.map(({ name, scan, error }) => {
      return { ...slipOf(name, scan?.bytes ?? 0), scan, fault: error?.message ?? null }
    })
    this.slips = [...this.slips, ...added].slice(-MOST)
    await this.guess()
  }

  /** The scan shows one tooth alone: it is read again as such. */
  async asDie(slip: Slip): Promise<void> {
    this.isDie = true
    slip.fault = null
    await this.upload(slip.key, true)
    await this.guess()
    notices.say(`${slip.name} is taken for a single die.`, () => {
      this.isDie = false
      this.slips = this.slips.filter((other) => other.key !== slip.key)
    })
  }

  /** A role belongs to one scan. */
  assign(key: string, role: Role | null): void {
    const was = this.slips.map(({ key, role, because, certain }) => ({ key, role, because, certain }))
    const name = this.slips.find((slip) => slip.key === key)?.name
    for (const slip of this.slips) {
      if (slip.key === key) Object.assign(slip, { role, because: 'chosen by you', certain: true })
      else if (role && slip.role === role) slip.role = null
    }
    notices.say(`${name} is ${role ? `the scan ${ROLES[role]}` : 'left out'}.`, () => {
      for (const old of was) Object.assign(this.slips.find((slip) => slip.key === old.key) ?? {}, old)
    }, 'role')
  }

  remove(slip: Slip): void {
    const at = this.slips.findIndex((other) => other.key === slip.key)
    const gone = $state.snapshot(slip) as Slip
    this.slips = this.slips.filter((other) => other.key !== slip.key)
    notices.say(`${slip.name} taken away.`, () => {
      this.slips = this.slips.toSpliced(at, 0, gone).slice(0, MOST)
    })
  }

  choose(tooth: number): void {
    const was = [...this.teeth]
    const has = was.includes(tooth)
    if (!this.isSeveral) this.teeth = [tooth]
    else this.teeth = has ? was.filter((other) => other !== tooth) : [...was, tooth]
    const words = this.isSeveral && has ? 'left out' : 'chosen'
    notices.say(`Tooth ${tooth} ${words}.`, () => void (this.teeth = was), 'tooth')
  }

  several(isSeveral: boolean): void {
    this.isSeveral = isSeveral
    if (!isSeveral) this.teeth = this.teeth.slice(0, 1)
  }

  hold(exercise: string, title: string): void {
    const was = { exercise: this.exercise, stage: this.stage }
    Object.assign(this, { exercise, stage: '' })
    notices.say(exercise ? `Held against ${title}.` : 'Held against no exercise.', () => void Object.assign(this, was), 'exercise')
  }

  private async upload(key: string, isDie: boolean): Promise<void> {
    const file = this.files.get(key)
    const slip = (): Slip | undefined => this.slips.find((slip) => slip.key === key)
    if (!file) return
    try {
      const scan = await calls.upload(file, isDie)
      const at = slip()
      if (at) at.scan = scan
    } catch (error) {
      const at = slip()
      if (at) Object.assign(at, { fault: sentence(error), maybeDie: error instanceof Refusal && error.code === 'maybe_die' })
    }
  }

  private async guess(): Promise<void> {
    const ids = [...new Set(this.slips.flatMap((slip) => (slip.scan ? [slip.scan.id] : [])))]
    if (ids.length === 0) return
    try {
      for (const guess of await calls.guessRoles(ids)) {
        const slip = this.slips.find((slip) => slip.scan?.id === guess.scan)
        if (slip) Object.assign(slip, { role: guess.role ?? null, because: guess.because, certain: guess.certain })
      }
    } catch (error) {
      this.fault = sentence(error)
    }
  }
}

function slipOf(name: string, bytes: number): Slip {
  return { key: crypto.randomUUID(), name, bytes, scan: null, role: null, because: '', certain: false, fault: null, maybeDie: false }
}
