/** What of an attempt is shown, read from the address and written back to it. */

import type { Fades } from '../parts/Stage.svelte'
import { held, UPRIGHT, type BladeStand } from '../bench/blade.place.ts'
import type { Stand } from '../bench/turntable.ts'
import { address } from './place.svelte.ts'
import { numbers, type Side } from './route.ts'
import type { Body, Language, Point } from './wire.ts'

const SIDES: readonly string[] = ['verdict', 'readings', 'remarks']
const FADED = ['before', 'opposing', 'target'] as const
const SETTLE_MS = 350

function remembered(): string | null {
  try {
    return localStorage.getItem('advice')
  } catch {
    return null
  }
}

export class ViewState {
  private waiting: ReturnType<typeof setTimeout> | undefined
  /** While something is dragged the address lags behind; this does not. */
  private bladeNow = $state<BladeStand | null>(null)

  get side(): Side {
    const side = address.get('side') ?? ''
    return (SIDES.includes(side) ? side : 'verdict') as Side
  }

  get map(): string {
    return address.get('map') ?? 'reduction'
  }

  get limit(): string | null {
    return address.get('limit')
  }

  get exercise(): string {
    return address.get('exercise') ?? ''
  }

  get stage(): string {
    return address.get('stage') ?? ''
  }

  /** Of the advice: as the link says, else as it was chosen last. */
  get language(): Language {
    return (address.get('advice') ?? remembered()) === 'es' ? 'es' : 'en'
  }

  get search(): string {
    return address.get('search') ?? ''
  }

  get fades(): Fades {
    return Object.fromEntries(FADED.map((body) => [body, Math.min(1, Math.max(0, Number(address.get(body) ?? 0) / 100 || 0))]))
  }

  get jaw(): { name: string; at: number } | null {
    const [name, at] = (address.get('jaw') ?? '').split(':')
    return name ? { name, at: Math.min(1, Math.max(0, Number(at) || 0)) } : null
  }

  get stand(): Stand | null {
    const values = numbers(address.get('eye'), 6)
    if (!values) return null
    const [azimuth_deg, elevation_deg, height_mm, ...target] = values as [number, number, number, number, number, number]
    return { azimuth_deg, elevation_deg, height_mm: Math.max(height_mm, 1), target: target as Point }
  }

  get blade(): BladeStand {
    if (this.bladeNow) return this.bladeNow
    const values = numbers(address.get('cut'), 3)
    return values ? held({ turn_deg: values[0]!, lean_deg: values[1]!, push_mm: values[2]! }) : UPRIGHT
  }

  get hides(): boolean {
    return address.get('whole') === null
  }

  /** The angle looked at round the finish line. */
  get ringAt(): number | null {
    return numbers(address.get('at'), 1)?.[0] ?? null
  }

  setLanguage(language: Language): void {
    try {
      localStorage.setItem('advice', language)
    } catch {
      // Without storage the choice stands in the link alone.
    }
    address.set({ advice: language })
  }

  setSide(side: Side): void {
    address.set({ side: side === 'verdict' ? null : side }, 'push')
  }

  setMap(map: string): void {
    address.set({ map: map === 'reduction' ? null : map, limit: null }, 'push')
  }

  fade(body: Body, opacity: number): void {
    address.set({ [body]: opacity > 0 ? String(Math.round(opacity * 100)) : null })
  }

  move(jaw: { name: string; at: number } | null): void {
    const isShown = (this.fades.opposing ?? 0) > 0
    const shown: Record<string, string> = jaw && !isShown ? { opposing: '45' } : {}
    address.set({ jaw: jaw ? `${jaw.name}:${jaw.at.toFixed(3)}` : null, ...shown })
  }

  /** Written once the camera rests: the address is no place for every frame. */
  setStand({ azimuth_deg, elevation_deg, height_mm, target }: Stand): void {
    const parts = [azimuth_deg, elevation_deg, height_mm, ...target].map((part) => part.toFixed(2))
    this.later({ eye: parts.join(',') })
  }

  setBlade(stand: BladeStand): void {
    this.bladeNow = held(stand)
    const { turn_deg, lean_deg, push_mm } = this.bladeNow
    this.later({ cut: [turn_deg, lean_deg, push_mm].join(',') })
  }

  setRingAt(angle_deg: number): void {
    address.set({ at: angle_deg.toFixed(1) })
  }

  leave(): void {
    clearTimeout(this.waiting)
  }

  private pending: Record<string, string> = {}

  private later(values: Record<string, string>): void {
    Object.assign(this.pending, values)
    clearTimeout(this.waiting)
    this.waiting = setTimeout(() => {
      address.set(this.pending)
      this.pending = {}
      this.bladeNow = null
    }, SETTLE_MS)
  }
}
