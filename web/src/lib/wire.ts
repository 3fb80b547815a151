/** What the server sends and takes. Positions are mm in the screen frame: x mesial, z occlusal, y = z × x. */

export type Point = [number, number, number]
export type Body = 'after' | 'before' | 'opposing' | 'target'
export type Role = 'after' | 'before' | 'opposing'

export interface About {
  name: string
  version: string
  cautions: string[]
  upload_bytes: number
  watches: boolean
}

export interface Tooth {
  fdi: number
  universal: number
  palmer: string
  name: string
  kind: string
  arch: string
  side: string
}

export interface Stage {
  id: string
  title: string
}

export interface Exercise {
  name: string
  title: string
  summary: string | null
  teeth: string
  fdi: number[]
  stages: Stage[]
}

export interface Scan {
  id: string
  name: string
  bytes: number
  format: string
  triangles: number
  size_mm: Point
  warnings: string[]
}

export interface RoleGuess {
  scan: string
  role: Role | null
  certain: boolean
  because: string
}

export interface NewAttempt {
  after: string
  before?: string
  opposing?: string
  opposing_frame?: 'before' | 'after'
  tooth: string
  system?: 'fdi' | 'universal' | 'palmer'
  mesial_point?: Point
  exercise?: string
  stage?: string
  learner?: string
}

export interface Demo {
  scans: { id: string; name: string; role: Role }[]
  tooth: string
  exercise: string
  stage: string
  learner: string
}

export type JobState = 'waiting' | 'running' | 'done' | 'refused' | 'cancelled'

export interface Fault {
  code: string
  message: string
}

export type StageName = 'read' | 'align' | 'find' | 'measure' | 'show' | 'move' | 'target'

export interface Attempt {
  id: string
  state: JobState
  stage: StageName | null
  error: Fault | null
  request: NewAttempt
  fdi: number
  created: string
}

export type AttemptEvent =
  | { type: 'stage'; name: StageName; state: 'started' | 'done'; done: number; of: number; elapsed_ms: number }
  | { type: 'done'; elapsed_ms: number }
  | ({ type: 'refused' } & Fault)
  | { type: 'cancelled' }

export interface Place {
  /** In the after scan's frame within a measurement document, else in the screen frame. */
  point: Point
  aspect: string
  angle_deg: number
}

export interface Reading {
  value: number | string
  unit: string
  u95?: number
  where?: Place
  note?: string
  [extra: string]: unknown
}

export interface MeasurementDocument {
  tooth: { fdi: number; taken_for: string; mesial_because: string }
  inputs: Record<string, { file: string; format: string; n_triangles: number; findings: string[] }>
  readings: Record<string, Reading>
  refused: Record<string, string>
  warnings: string[]
  cautions: string[]
}

export type Decision = 'meets' | 'does_not_meet' | 'too_close'
export interface Finding {
  kind: string
  mend: string
  text: string
  where?: Place
}

export interface Range {
  from?: number
  to?: number
}

export interface GradeItem {
  reading: string
  at?: string
  part?: string
  where?: Place
  value?: number | string
  unit: string
  u95?: number
  wanted: Wanted
  ideal?: Decision
  acceptable?: Decision
  level: string
  not_measured?: string
  finding?: Finding
  points: number
  possible: number
}

/** Ranges for numbers, lists for words. */
export interface Wanted {
  ideal?: Range | string[]
  acceptable?: Range | string[]
}

export interface CriterionGrade {
  id: string
  title: string
  weight: number
  points: number
  possible: number
  critical_error: boolean
  critical_open: boolean
  items: GradeItem[]
}

export interface Tally {
  points: number
  possible: number
  measured_pct: number
  pct?: number
  outcome: 'passed' | 'not_passed' | 'not_graded'
  critical_errors: string[]
  because: string[]
}

export interface Advice {
  sentence: string
  urgency: string
  can_be_mended: boolean
  criteria: string[]
  readings: string[]
  where?: Place
  instrument?: { id: string; name: string }
  gauge?: { id: string; name: string }
}

export interface Grade {
  exercise: { name: string; title: string; scoring: { pass_pct: number } }
  stage: { id: string; title: string; number: number; of: number }
  standing: Tally
  criteria: CriterionGrade[]
  lost_ahead?: { criterion: string; title: string; reading: string; finding: Finding }[]
  cautions: string[]
}

/** Places are in the screen frame. */
export interface GradeAnswer {
  grade: Grade
  advice: Advice[]
  language: string
}

export interface MapLegendStep {
  from: number
  to: number
  colour: string
  words: string
}

export interface Limit {
  title: string
  reading: string
  ideal_from: number | null
  ideal_to: number | null
  acceptable_from: number | null
  acceptable_to: number | null
}

export interface MapInfo {
  id: string
  title: string
  unit: string
  attribute: string
  of: Body
  least: number
  most: number
  step: number
  colour_map: string
  colours: string[]
  legend: MapLegendStep[]
  u95: number
  limits: Limit[]
}

export interface View {
  name: string
  key: string
  /** From the tooth to the viewer. */
  direction: Point
  up: Point
}

export interface Scene {
  fdi: number
  bodies: Body[]
  maps: MapInfo[]
  views: View[]
  directions: Record<'mesial' | 'distal' | 'facial' | 'lingual' | 'occlusal' | 'path', Point>
  screen_from_after: number[][]
  aspects: { name: string; angle_deg: number; direction: Point }[]
  finish_line: Point[]
  target_notes: string[]
  target_parts: { part: string; median_mm: number; over_cut_mm: number; under_cut_mm: number }[]
}

export interface Uncertain {
  value: number
  u95: number
}

export interface Ring {
  length_mm: number
  stations: RingStation[]
}

export interface RingStation {
  point: Point
  along_mm: number
  angle_deg: number
  aspect: string
  seen: boolean
  kind: string | null
  width_mm: Uncertain | null
  above_gingiva_mm: Uncertain | null
  taper_deg: Uncertain | null
  wall_height_mm: number | null
  declination_deg: number | null
}

export interface Spot {
  point: Point
  normal: Point
  aspect: string
  angle_deg: number
  above_finish_line_mm: number
  third: string | null
  values: { map: string; unit: string; value: number; u95: number }[]
}

export interface SectionPlane {
  origin: Point
  across: Point
  up: Point
}

export interface SectionWall {
  edge: [number, number]
  from: [number, number]
  to: [number, number]
  taper_deg: number
  width_mm: number
  angle_deg: number
  aspect: string
}

export interface Section {
  plane: SectionPlane
  bodies: Partial<Record<Body, [number, number][][]>>
  walls: SectionWall[]
}

export interface GaugeWish {
  point: Point
  direction: Point
  width_mm: number
  toward: 'opposing' | 'neighbour'
  length_mm?: number
}

export interface GaugeAnswer {
  fits: boolean
  enters: boolean
  stops_at_mm: number
  length_mm: number
  start: Point
  end: Point
  touches: { body: Body; point: Point }[]
}

export interface Movement {
  name: string
  poses: number[][][]
  travel_mm: number[]
  opened_mm: number[]
  is_recorded: boolean
  least_clearance_mm: number | null
  u95_mm: number | null
  at_pose: number | null
  at: Point | null
  refused: string | null
}

export interface Remark {
  id: string
  at: Point
  text: string
  by: string
  created: string
  resolved: boolean
  removed: boolean
}
