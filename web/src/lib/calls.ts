/** Every question the pages put to the server, by name. */

import { ask, bytes, send } from './client.ts'
import type * as api from './api.ts'
import type * as wire from './wire.ts'

const of = (id: string): string => `/attempts/${encodeURIComponent(id)}`

export const about = (): Promise<wire.About> => ask('/about')
export const session = (): Promise<wire.Session> => ask('/session')
export const signIn = (code: string, password: string): Promise<wire.Session> => send('/session', { code, password })
export const signOut = (): Promise<void> => ask('/session', { method: 'DELETE' })
export const ownPassword = (old: string, next: string): Promise<wire.Session> => send('/session/password', { old, new: next })
export const accounts = (): Promise<wire.Account[]> => ask('/accounts')
export const addAccount = (account: wire.NewAccount): Promise<wire.Account> => send('/accounts', account)
export const removeAccount = (code: string): Promise<void> => ask(`/accounts/${encodeURIComponent(code)}`, { method: 'DELETE' })
export const setPassword = (code: string, password: string): Promise<void> =>
  send(`/accounts/${encodeURIComponent(code)}/password`, { password })
export const auditTrail = (): Promise<wire.AuditLine[]> => ask('/audit')
export const teeth = (): Promise<wire.Tooth[]> => ask('/teeth')
export const exercises = (): Promise<wire.Exercise[]> => ask('/exercises')
export const demo = (): Promise<wire.Demo> => ask('/demo', { method: 'POST' })

/** What came into the watched folder after the first `after` files. */
export const watched = (after: number): Promise<wire.Watched[]> => ask(`/watched?after=${after}`)

export const guessRoles = (scans: string[]): Promise<wire.RoleGuess[]> => send('/scans/roles', { scans })
export const scanMesh = (id: string, signal?: AbortSignal): Promise<ArrayBuffer> =>
  bytes(`/scans/${encodeURIComponent(id)}/mesh.glb`, signal)

/** Uploads one scan; `isDie` says that it shows one tooth alone. */
export function upload(file: File, isDie: boolean): Promise<wire.Scan> {
  const headers = { 'content-type': 'application/octet-stream' }
  const extent = isDie ? '&extent=die' : ''
  return ask(`/scans?name=${encodeURIComponent(file.name)}${extent}`, { method: 'POST', headers, body: file })
}

/** Takes in an exercise file of one's own. */
export async function addExercise(file: File): Promise<wire.Exercise> {
  const headers = { 'content-type': 'text/plain; charset=utf-8' }
  return ask(`/exercises?name=${encodeURIComponent(file.name)}`, { method: 'POST', headers, body: await file.text() })
}

export const attempts = (): Promise<wire.Attempt[]> => ask('/attempts')
export const attempt = (id: string): Promise<wire.Attempt> => ask(of(id))
export const newAttempt = (request: wire.NewAttempt): Promise<wire.Created> => send('/attempts', request)
export const cancel = (id: string): Promise<void> => ask(`${of(id)}/cancel`, { method: 'POST' })
export const document = (id: string): Promise<wire.MeasurementDocument> => ask(`${of(id)}/document`)
/** What its readings are called, in groups. */
export const titles = (id: string): Promise<wire.ReadingGroup[]> => ask(`${of(id)}/titles`)
/** What all teeth that were measured together have in common. */
export const joint = (id: string): Promise<wire.Joint> => ask(`${of(id)}/joint`)

/** The attempt held against an exercise; against the one that it was made for if none is named. */
export function grade(id: string, against: Against): Promise<wire.GradeAnswer> {
  return ask(`${of(id)}/grade${asked(against)}`)
}

/** What an attempt is held against, and in which language it is advised. */
export interface Against {
  exercise: string | null
  stage: string | null
  language: wire.Language
}

function asked({ exercise, stage, language }: Partial<Against>): string {
  const query = new URLSearchParams()
  if (exercise) query.set('exercise', exercise)
  if (stage) query.set('stage', stage)
  if (language && language !== 'en') query.set('language', language)
  return query.size > 0 ? `?${query}` : ''
}
/** What can be shown, with the limits of a stage if an exercise is named. */
export function scene(id: string, exercise: string | null, stage: string | null): Promise<wire.Scene> {
  return ask(`${of(id)}/scene${asked({ exercise, stage })}`)
}
export const ring = (id: string): Promise<wire.Ring> => ask(`${of(id)}/ring`)
export const movements = (id: string): Promise<wire.Movement[]> => ask(`${of(id)}/movements`)
export const mesh = (id: string, body: wire.Body, signal?: AbortSignal): Promise<ArrayBuffer> =>
  bytes(`${of(id)}/${body}.glb`, signal)
export const section = (id: string, point: wire.Point, normal: wire.Point): Promise<wire.Section> =>
  send(`${of(id)}/section`, { point, normal })
export const gauge = (id: string, wish: wire.GaugeWish): Promise<wire.GaugeAnswer> => send(`${of(id)}/gauge`, wish)

/** What is known at a point of the after scan; `null` where nothing is near. */
export function spot(id: string, [x, y, z]: wire.Point): Promise<wire.Spot | null> {
  return ask(`${of(id)}/value?x=${x}&y=${y}&z=${z}`)
}

/** Progress of a job; the returned function stops listening. */
export function events(id: string, hear: (event: wire.AttemptEvent) => void, lost: () => void): () => void {
  const source = new EventSource(`/api/v1${of(id)}/events`)
  const take = (event: Event): void => hear(JSON.parse((event as MessageEvent<string>).data) as wire.AttemptEvent)
  for (const kind of ['stage', 'done', 'refused', 'cancelled']) source.addEventListener(kind, take)
  source.onerror = lost
  return () => source.close()
}

export const remarks = (id: string): Promise<wire.Remark[]> => ask(`${of(id)}/remarks`)
export const pin = (id: string, remark: { at: wire.Point; text: string; by: string }): Promise<wire.Remark> =>
  send(`${of(id)}/remarks`, remark)
export const changeRemark = (
  id: string,
  remark: string,
  change: { text?: string; resolved?: boolean; removed?: boolean },
): Promise<wire.Remark> => send(`${of(id)}/remarks/${encodeURIComponent(remark)}`, change, { method: 'PATCH' })

/** Which attempts of a class: all where nothing is said. */
export type Which = Partial<Record<'learner' | 'cohort' | 'session' | 'exercise' | 'stage', string | null>>

/** A query of what is said. */
export function queryOf(values: Record<string, string | null | undefined>): string {
  const query = new URLSearchParams()
  for (const [key, value] of Object.entries(values)) if (value) query.set(key, value)
  return query.size > 0 ? `?${query}` : ''
}

/** Where a file of the class can be fetched. */
export const fileAt = (path: string, values: Record<string, string | null | undefined>): string => `/api/v1${path}${queryOf(values)}`

export const roster = (names: boolean): Promise<wire.Roster> => ask(`/class${names ? '?names=true' : ''}`)
/** Takes a roster in; without `keep` it is only said what it would bring. */
export const takeRoster = (file: File, { prefix, names, keep }: { prefix: string; names: boolean; keep: boolean }): Promise<wire.RosterChange> =>
  ask(`/class/roster${queryOf({ name: file.name, prefix, names: names ? 'true' : null, keep: keep ? 'true' : null })}`, {
    method: 'POST', headers: { 'content-type': 'application/octet-stream' }, body: file,
  })
export const classAttempts = (which: Which): Promise<wire.ClassAttempt[]> => ask(`/class/attempts${queryOf(which)}`)
export const classReports = (which: Which): Promise<wire.ClassReport[]> => ask(`/class/report${queryOf(which)}`)
export const learner = (code: string): Promise<wire.LearnerPage> => ask(`/class/learners/${encodeURIComponent(code)}`)
export const deleteLearner = (code: string): Promise<wire.Removed> => ask(`/class/learners/${encodeURIComponent(code)}`, { method: 'DELETE' })
export const deleteCohort = (code: string): Promise<wire.Removed> => ask(`/class/cohorts/${encodeURIComponent(code)}`, { method: 'DELETE' })
export const agreement = (criterion: string | null): Promise<wire.Agreement> => ask(`/class/agreement${queryOf({ criterion })}`)
export const decide = (id: string, decision: wire.NewDecision): Promise<void> => send(`${of(id)}/decisions`, decision)

const sheetAt = (grading: string, examiner: string): string => `/gradings/${encodeURIComponent(grading)}/sheets/${encodeURIComponent(examiner)}`
/** An exercise with its stages and their criteria. */
export const exercise = (name: string): Promise<api.Exercise> => ask(`/exercises/${encodeURIComponent(name)}`)
export const gradings = (): Promise<wire.Grading[]> => ask('/gradings')
export const addGrading = (grading: wire.NewGrading): Promise<wire.Created> => send('/gradings', grading)
/** Attempts whose readings are known, and which of them to calibrate with. */
export const proposal = (wish: wire.ProposalWish): Promise<wire.Proposal> => send('/gradings/proposal', wish)
export const calibration = (grading: string, examiner: string): Promise<wire.Calibration> => ask(`${sheetAt(grading, examiner)}/calibration`)
export const calibrationFile = (grading: string, examiner: string): string => fileAt(`${sheetAt(grading, examiner)}/calibration.csv`, {})
export const removeGrading = (id: string): Promise<void> => ask(`/gradings/${encodeURIComponent(id)}`, { method: 'DELETE' })
export const sheet = (grading: string, examiner: string): Promise<wire.Sheet> => ask(sheetAt(grading, examiner))
export const giveMarks = (grading: string, examiner: string, code: string, marks: wire.Mark[]): Promise<void> =>
  send(`${sheetAt(grading, examiner)}/${encodeURIComponent(code)}`, { marks })
export const sheetMesh = (grading: string, examiner: string, code: string, signal?: AbortSignal): Promise<ArrayBuffer> =>
  bytes(`${sheetAt(grading, examiner)}/${encodeURIComponent(code)}/mesh.glb`, signal)
