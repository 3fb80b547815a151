// Written by `cargo test -p kerfwright-server`; the Rust types decide. Do not edit.

/**
 * What stands in an answer with a status of 400 or more.
 */
export type ErrorAnswer = {
/**
 * What went wrong.
 */
error: ErrorBody, };

/**
 * A fault.
 */
export type ErrorBody = {
/**
 * For programs.
 */
code: string,
/**
 * For people: the fault and the next step.
 */
message: string, };

/**
 * The program.
 */
export type About = {
/**
 * `kerf`.
 */
name: string,
/**
 * Its version.
 */
version: string,
/**
 * To be shown with every result.
 */
cautions: Array<string>,
/**
 * Largest file that is taken.
 */
upload_bytes: number,
/**
 * Whether scans come by themselves from a folder.
 */
watches: boolean, };

/**
 * What an account is for.
 */
export type AccountRole = "director" | "instructor" | "learner";

/**
 * Code and password.
 */
export type SignInRequest = {
/**
 * Code of the account.
 */
code: string,
/**
 * Its password.
 */
password: string, };

/**
 * Whether one has to sign in, who one is, and what one may do.
 */
export type SessionAnswer = {
/**
 * Whether there are accounts: without them everybody at this machine may do everything.
 */
accounts: boolean,
/**
 * Who is signed in.
 */
account: SignedIn | null,
/**
 * What the one who asks may do.
 */
may: May, };

/**
 * Who is signed in.
 */
export type SignedIn = {
/**
 * Code of the account.
 */
code: string,
/**
 * What it is for.
 */
role: AccountRole,
/**
 * Of a learner's account: the code under which its work lies.
 */
learner: string | null, };

/**
 * What may be done, as the table of permissions has it.
 */
export type May = {
/**
 * Send scans and measure.
 */
work: boolean,
/**
 * Use the watched folder and the demo, and see everybody's attempts.
 */
bench: boolean,
/**
 * Remark on attempts.
 */
remark: boolean,
/**
 * See the class.
 */
class: boolean,
/**
 * Take a roster in.
 */
roster: boolean,
/**
 * Decide otherwise than was computed.
 */
decide: boolean,
/**
 * Grade blind.
 */
examine: boolean,
/**
 * Set up blind gradings.
 */
gradings: boolean,
/**
 * Delete learners and cohorts.
 */
retention: boolean,
/**
 * Keep accounts.
 */
accounts: boolean, };

/**
 * Another password for oneself.
 */
export type OwnPasswordRequest = {
/**
 * The password so far.
 */
old: string,
/**
 * The password from now on.
 */
new: string, };

/**
 * Another password for an account.
 */
export type PasswordRequest = {
/**
 * The password from now on.
 */
password: string, };

/**
 * An account to be made.
 */
export type AccountRequest = {
/**
 * Its code, never a name.
 */
code: string,
/**
 * What it is for.
 */
role: AccountRole,
/**
 * Of a learner's account: the code under which its work lies; its own code where nothing is said.
 */
learner?: string,
/**
 * Its password.
 */
password: string, };

/**
 * An account.
 */
export type AccountAnswer = {
/**
 * Its code.
 */
code: string,
/**
 * What it is for.
 */
role: AccountRole,
/**
 * Of a learner's account: the code under which its work lies.
 */
learner: string | null,
/**
 * When it was made, UTC.
 */
created: string, };

/**
 * Who did what when: ids alone.
 */
export type AuditAnswer = {
/**
 * Later ones are higher.
 */
number: number,
/**
 * When, UTC.
 */
at: string,
/**
 * Code of the account; `bench` for the program itself, `command line`, or `unknown`.
 */
who: string,
/**
 * What was done.
 */
what: string,
/**
 * Id of what it was done to.
 */
subject: string, };

/**
 * One of the teeth.
 */
export type ToothAnswer = {
/**
 * ISO 3950 number.
 */
fdi: number,
/**
 * Number 1 to 32.
 */
universal: number,
/**
 * Quadrant and position, as UL6.
 */
palmer: string,
/**
 * In words.
 */
name: string,
/**
 * `incisor`, `canine`, `premolar`, `molar`.
 */
kind: string,
/**
 * `upper` or `lower`.
 */
arch: string,
/**
 * The person's `left` or `right`.
 */
side: string, };

/**
 * An exercise in a list.
 */
export type ExerciseSummary = {
/**
 * By which it is called.
 */
name: string,
/**
 * What people call it.
 */
title: string,
/**
 * A sentence or two for the learner.
 */
summary: string | null,
/**
 * The teeth it is for, in words.
 */
teeth: string,
/**
 * The same by number.
 */
fdi: Array<number>,
/**
 * In order.
 */
stages: Array<StageSummary>,
/**
 * Whether it was put beside the shipped ones here.
 */
is_own: boolean, };

/**
 * A stage in a list.
 */
export type StageSummary = {
/**
 * Within the exercise.
 */
id: string,
/**
 * What people call it.
 */
title: string, };

/**
 * A scan that was taken in.
 */
export type ScanAnswer = {
/**
 * SHA-256 of its bytes, hexadecimal.
 */
id: string,
/**
 * Name of the file, without a folder.
 */
name: string,
/**
 * Length of the file.
 */
bytes: number,
/**
 * Format, in words.
 */
format: string,
/**
 * After repair.
 */
triangles: number,
/**
 * Sides of the box around it, mm.
 */
size_mm: [number, number, number],
/**
 * What was found and repaired.
 */
warnings: Array<string>, };

/**
 * Which scans are to be told apart.
 */
export type RolesRequest = {
/**
 * One to three.
 */
scans: Array<string>, };

/**
 * What a scan is to an attempt.
 */
export type Role = "after" | "before" | "opposing";

/**
 * What a scan seems to be.
 */
export type RoleAnswer = {
/**
 * The scan.
 */
scan: string,
/**
 * What it is taken for; absent where nothing tells.
 */
role: Role | null,
/**
 * Whether the shapes prove it; else ask the user.
 */
certain: boolean,
/**
 * Why.
 */
because: string, };

/**
 * An attempt to be measured.
 */
export type AttemptRequest = {
/**
 * Scan of the prepared tooth with its neighbours.
 */
after: string,
/**
 * Scan of the same arch before cutting.
 */
before?: string,
/**
 * Scan of the opposing arch, jaws closed.
 */
opposing?: string,
/**
 * Whose frame the opposing scan shares: `before` (the usual) or `after`.
 */
opposing_frame?: FrameName,
/**
 * Number of the prepared tooth. Several prepared teeth of one scan, as a bridge's abutments, are named `35,37`: each becomes an
 * attempt of its own.
 */
tooth: string,
/**
 * All prepared teeth of the scan, this one among them; set by the server where `tooth` names several.
 */
together?: Array<string>,
/**
 * How much of the mouth the after scan shows; an arch or a part of one where nothing is said.
 */
extent?: ExtentName,
/**
 * Numbering system; FDI where nothing is said.
 */
system?: SystemName,
/**
 * A point on the mesial side of the tooth, in the frame of the before scan (of the after scan where there is none), mm.
 */
mesial_point?: [number, number, number],
/**
 * Path of placement; the best where nothing is said.
 */
path?: PathWish,
/**
 * Jaw settings that differ from the average jaw, by key, as `condylar_inclination_right_deg`.
 */
jaw?: { [key: string]: number },
/**
 * Recorded jaw motion in place of the model: comma-separated text, one 4×4 pose of the lower jaw a line, in the opposing scan's
 * frame.
 */
motion?: string,
/**
 * What to hold it against.
 */
exercise?: string,
/**
 * The stage after which the scan was taken; the last where nothing is said.
 */
stage?: string,
/**
 * Code of the learner, never a name.
 */
learner?: string, };

/**
 * Frames by name.
 */
export type FrameName = "before" | "after";

/**
 * Numbering systems by name.
 */
export type SystemName = "fdi" | "universal" | "palmer";

/**
 * How much of the mouth a scan shows.
 */
export type ExtentName = "arch" | "die";

/**
 * Paths of placement.
 */
export type PathWish = PathName | [number, number, number];

/**
 * Paths by name.
 */
export type PathName = "best" | "axis";

/**
 * The id of something new.
 */
export type Created = {
/**
 * Its id.
 */
id: string,
/**
 * Ids of the others, where several teeth were named, in their order.
 */
others?: Array<string>, };

/**
 * How far an attempt has come.
 */
export type AttemptAnswer = {
/**
 * Its id.
 */
id: string,
/**
 * `waiting`, `running`, `done`, `refused`, `cancelled`.
 */
state: AttemptState,
/**
 * The stage at hand, while it is running.
 */
stage: StageName | null,
/**
 * Why it was refused.
 */
error: ErrorBody | null,
/**
 * All that was asked.
 */
request: AttemptRequest,
/**
 * The tooth, ISO 3950.
 */
fdi: number,
/**
 * When it came, UTC.
 */
created: string, };

/**
 * States by name.
 */
export type AttemptState = "waiting" | "running" | "done" | "refused" | "cancelled";

/**
 * The stages of a measurement, in order.
 */
export type StageName = "read" | "align" | "find" | "measure" | "show" | "move" | "target";

/**
 * What happens to an attempt. The event's name is `type`.
 */
export type AttemptEvent = { "type": "stage",
/**
 * Which.
 */
name: StageName,
/**
 * `started` or `done`.
 */
state: StageState,
/**
 * Stages that are done.
 */
done: number,
/**
 * Stages in all.
 */
of: number,
/**
 * Since the job began, ms.
 */
elapsed_ms: number, } | { "type": "done",
/**
 * Since the job began, ms.
 */
elapsed_ms: number, } | { "type": "refused" } & ErrorBody | { "type": "cancelled" };

/**
 * Whether a stage began or ended.
 */
export type StageState = "started" | "done";

/**
 * What can be shown of an attempt.
 */
export type Scene = {
/**
 * The tooth, ISO 3950.
 */
fdi: number,
/**
 * The bodies that there are.
 */
bodies: Array<Which>,
/**
 * What is painted on them.
 */
maps: Array<MapAnswer>,
/**
 * Best views, with a key each.
 */
views: Array<ViewAnswer>,
/**
 * Unit vectors of the screen frame.
 */
directions: Directions,
/**
 * 4×4, row by row: takes points of the after scan (as the document has them) into the screen frame.
 */
screen_from_after: [[number, number, number, number], [number, number, number, number], [number, number, number, number], [number, number, number, number]],
/**
 * The eight aspects by rising angle: 0 mesial, 90 facial, 180 distal, 270 lingual.
 */
aspects: Array<AspectAnswer>,
/**
 * The finish line, mm.
 */
finish_line: Array<[number, number, number]>,
/**
 * What to know of the target, or why there is none.
 */
target_notes: Array<string>,
/**
 * By part of the preparation, against the target.
 */
target_parts: Array<TargetPart>, };

/**
 * How one part of the preparation lies to the target.
 */
export type TargetPart = {
/**
 * `occlusal`, `floor`, or the wall: `mesial`, `facial`, `distal`, `lingual`.
 */
part: string,
/**
 * Median signed distance, mm; positive: too little was cut.
 */
median_mm: number,
/**
 * Most that is cut too deep, mm.
 */
over_cut_mm: number,
/**
 * Most that is still to be cut, mm.
 */
under_cut_mm: number, };

/**
 * Where things lie on the screen: unit vectors.
 */
export type Directions = {
/**
 * Towards the midline.
 */
mesial: [number, number, number],
/**
 * Away from it.
 */
distal: [number, number, number],
/**
 * Towards cheek or lip.
 */
facial: [number, number, number],
/**
 * Towards tongue or palate.
 */
lingual: [number, number, number],
/**
 * The tooth's axis, towards the opposing teeth.
 */
occlusal: [number, number, number],
/**
 * The path of placement, away from the tooth.
 */
path: [number, number, number], };

/**
 * A map.
 */
export type MapAnswer = {
/**
 * Which.
 */
id: MapKind,
/**
 * What people call it.
 */
title: string,
/**
 * `mm` or `deg`.
 */
unit: string,
/**
 * The vertex attribute; with `_KNOWN` behind it that of the companion which is 1 where the value is known.
 */
attribute: string,
/**
 * On which body.
 */
of: Which,
/**
 * Value of the first colour.
 */
least: number,
/**
 * Value of the last colour.
 */
most: number,
/**
 * Lines are drawn at multiples of this.
 */
step: number,
/**
 * `batlow` or `vik`.
 */
colour_map: string,
/**
 * All 256 colours, `#rrggbb`.
 */
colours: Array<string>,
/**
 * The steps.
 */
legend: Array<LegendStep>,
/**
 * Expanded uncertainty of the value at one place.
 */
u95: number,
/**
 * Limits of the exercise on what the map shows, if one was given.
 */
limits: Array<LimitAnswer>, };

/**
 * A limit of an exercise.
 */
export type LimitAnswer = {
/**
 * What people call the criterion.
 */
title: string,
/**
 * The reading.
 */
reading: string,
/**
 * Its place, where the criterion has several.
 */
place: string | null,
/**
 * Ideal, lower end.
 */
ideal_from: number | null,
/**
 * Ideal, upper end.
 */
ideal_to: number | null,
/**
 * Acceptable, lower end.
 */
acceptable_from: number | null,
/**
 * Acceptable, upper end.
 */
acceptable_to: number | null, };

/**
 * A view of the tooth.
 */
export type ViewAnswer = {
/**
 * `occlusal`, `facial` …
 */
name: string,
/**
 * The key that shows it.
 */
key: string,
/**
 * From the tooth to the viewer, unit.
 */
direction: [number, number, number],
/**
 * Up on the screen, unit.
 */
up: [number, number, number], };

/**
 * An aspect.
 */
export type AspectAnswer = {
/**
 * `mesial`, `mesiofacial` …
 */
name: string,
/**
 * The middle of its sector.
 */
angle_deg: number,
/**
 * The same as a unit vector square on the axis.
 */
direction: [number, number, number], };

/**
 * Readings that belong together.
 */
export type ReadingGroup = {
/**
 * First part of their ids.
 */
id: string,
/**
 * Heading.
 */
heading: string,
/**
 * What they are, in a sentence; may be empty.
 */
about: string,
/**
 * Those that were taken and those that were refused.
 */
readings: Array<ReadingTitle>, };

/**
 * What one reading is called.
 */
export type ReadingTitle = {
/**
 * Its id in the document.
 */
id: string,
/**
 * Its name inside its group.
 */
title: string, };

/**
 * A remark to be pinned.
 */
export type RemarkRequest = {
/**
 * Screen frame, mm.
 */
at: [number, number, number],
/**
 * What is said; 1 to 2000 characters.
 */
text: string,
/**
 * Code of who says it; 1 to 40 characters.
 */
by: string, };

/**
 * What changes on a remark.
 */
export type RemarkChange = {
/**
 * Other words; 1 to 2000 characters.
 */
text?: string,
/**
 * Settled, or open again.
 */
resolved?: boolean,
/**
 * Removed, or brought back.
 */
removed?: boolean, };

/**
 * A pinned remark.
 */
export type RemarkAnswer = {
/**
 * Its id.
 */
id: string,
/**
 * Screen frame, mm.
 */
at: [number, number, number],
/**
 * What is said.
 */
text: string,
/**
 * Code of who says it.
 */
by: string,
/**
 * When it came, UTC.
 */
created: string,
/**
 * Whether it is settled.
 */
resolved: boolean,
/**
 * Whether it is removed.
 */
removed: boolean, };

/**
 * The demo's scans, taken in.
 */
export type DemoAnswer = {
/**
 * With their roles.
 */
scans: Array<DemoScan>,
/**
 * The tooth, ISO 3950.
 */
tooth: string,
/**
 * What it may be held against.
 */
exercise: string,
/**
 * The stage.
 */
stage: string,
/**
 * Code of the made-up learner.
 */
learner: string, };

/**
 * One scan of the demo.
 */
export type DemoScan = {
/**
 * Its id.
 */
id: string,
/**
 * Name of the file.
 */
name: string,
/**
 * What it is.
 */
role: Role, };

/**
 * A file that came into the watched folder.
 */
export type WatchedAnswer = {
/**
 * Order of coming since the start, from 1.
 */
number: number,
/**
 * Name of the file.
 */
name: string,
/**
 * The scan, if it is one.
 */
scan: ScanAnswer | null,
/**
 * Why it is none.
 */
error: ErrorBody | null, };

/**
 * Who and what there is.
 */
export type ClassAnswer = {
/**
 * Learners, by code.
 */
learners: Array<LearnerAnswer>,
/**
 * Cohorts, by code.
 */
cohorts: Array<CohortAnswer>,
/**
 * Sessions, by day.
 */
sessions: Array<SessionSummary>,
/**
 * Exercises that are kept with attempts, by name.
 */
exercises: Array<ClassExercise>, };

/**
 * A learner.
 */
export type LearnerAnswer = {
/**
 * The code.
 */
code: string,
/**
 * The name, if it is kept and was asked for.
 */
name: string | null,
/**
 * Codes of the cohorts.
 */
cohorts: Array<string>,
/**
 * Attempts that are kept.
 */
n_attempts: number,
/**
 * Day of the latest attempt.
 */
latest: string | null, };

/**
 * A cohort.
 */
export type CohortAnswer = {
/**
 * The code.
 */
code: string,
/**
 * What people call it.
 */
title: string,
/**
 * Its learners.
 */
n_learners: number, };

/**
 * A meeting of a cohort at the benches.
 */
export type SessionSummary = {
/**
 * The code.
 */
code: string,
/**
 * What people call it.
 */
title: string,
/**
 * Code of the cohort.
 */
cohort: string | null,
/**
 * Code of the instructor.
 */
instructor: string | null,
/**
 * The day, ISO 8601.
 */
held: string | null, };

/**
 * An exercise against which attempts were held.
 */
export type ClassExercise = {
/**
 * Its name.
 */
name: string,
/**
 * What people call it.
 */
title: string,
/**
 * Its stages that have attempts, in order.
 */
stages: Array<StageSummary>, };

/**
 * An attempt in the list of a class.
 */
export type ClassAttemptAnswer = {
/**
 * Its id.
 */
id: string,
/**
 * Order of coming.
 */
number: number,
/**
 * Code of the learner.
 */
learner: string | null,
/**
 * Code of the session.
 */
session: string | null,
/**
 * Name of the exercise.
 */
exercise: string | null,
/**
 * Id of the stage.
 */
stage: string | null,
/**
 * The tooth, ISO 3950.
 */
fdi: number,
/**
 * The day of cutting where it is known, else of the session, else of coming; ISO 8601.
 */
taken: string,
/**
 * How far it has come.
 */
state: AttemptState,
/**
 * Why it was refused.
 */
error: string | null,
/**
 * What it earned, if it was held against an exercise.
 */
grade: GradeSummary | null, };

/**
 * A grade in a list.
 */
export type GradeSummary = {
/**
 * What counts: points of possible points, percent.
 */
pct: number | null,
/**
 * What counts.
 */
outcome: Outcome,
/**
 * Whether an instructor decided otherwise than was computed.
 */
is_decided: boolean, };

/**
 * A report with the drawings that stand beside its numbers.
 */
export type ReportAnswer = {
/**
 * Each reading against its band, as SVG, in the order of `criteria`.
 */
drawn: Array<string>,
/**
 * Faults by place, as SVG: too little, too much; none where nothing is known.
 */
drawn_places: [string, string] | null,
/**
 * [`SCHEMA`].
 */
schema: string,
/**
 * Name of the exercise.
 */
exercise: string,
/**
 * What people call it.
 */
title: string,
/**
 * Id of the stage.
 */
stage: string,
/**
 * Confidence of the intervals.
 */
confidence: number,
/**
 * Graded attempts.
 */
n_attempts: number,
/**
 * Learners; statistics count the latest attempt of each.
 */
n_learners: number,
/**
 * Attempts that were held against an older version of the exercise, and are left out.
 */
n_older_version: number,
/**
 * Each reading against its band.
 */
criteria: Array<CriterionReport>,
/**
 * Faults by place.
 */
places: PlacesReport,
/**
 * The criteria as items of a test.
 */
items: Answer<ItemReport>,
/**
 * Groups against each other.
 */
comparisons: Array<Comparison>,
/**
 * The learner who was asked for.
 */
learner: LearnerReport | null,
/**
 * What a report is not.
 */
cautions: [string, string, string], };

/**
 * A learner over time.
 */
export type LearnerPage = {
/**
 * The code.
 */
code: string,
/**
 * The cohorts.
 */
cohorts: Array<string>,
/**
 * For each exercise and stage.
 */
reports: Array<LearnerStage>,
/**
 * The attempts, the latest first.
 */
attempts: Array<ClassAttemptAnswer>,
/**
 * What a report is not.
 */
cautions: Array<string>, };

/**
 * A learner at one stage of one exercise.
 */
export type LearnerStage = {
/**
 * Name of the exercise.
 */
exercise: string,
/**
 * What people call it.
 */
title: string,
/**
 * Id of the stage.
 */
stage: string,
/**
 * Confidence of the intervals.
 */
confidence: number,
/**
 * Attempts that were held against an older version of the exercise, and are left out.
 */
n_older_version: number,
/**
 * As `kerf class report --learner --json` has it under `learner`.
 */
report: LearnerReport,
/**
 * Ids of the attempts, by their number in the order of coming.
 */
ids: { [key in number]: string },
/**
 * Each reading over the attempts, as SVG, in the order of `courses`.
 */
drawn: Array<string>, };

/**
 * Agreement of examiners.
 */
export type AgreementAnswer = {
/**
 * The criteria that were rated.
 */
criteria: Array<string>,
/**
 * Confidence of the intervals.
 */
confidence: number,
/**
 * The one that was asked for, or the first; none without ratings.
 */
agreement: CriterionAgreement | null,
/**
 * What agreement is not.
 */
caution: string, };

/**
 * Agreement on one criterion.
 */
export type CriterionAgreement = {
/**
 * The criterion.
 */
criterion: string,
/**
 * Codes of the examiners.
 */
examiners: Array<string>,
/**
 * Attempts that anybody rated.
 */
n_attempts: number,
/**
 * Attempts that all rated.
 */
n_complete: number,
/**
 * Every statistic, as `kerf class agree` prints it.
 */
figures: Array<Figure>,
/**
 * Each with its interval, as SVG, in the same order; none where it was refused.
 */
drawn: Array<string | null>,
/**
 * Where the examiners lie farthest apart, worst first.
 */
far_apart: Array<FarApart>,
/**
 * Order of coming of the attempts that are named there, by their id.
 */
numbers: { [key in string]: number }, };

/**
 * A decision of an instructor, to be kept beside the computed grade.
 */
export type DecisionRequest = {
/**
 * What changes.
 */
change: Change,
/**
 * Why; 1 to 2000 characters.
 */
reason: string,
/**
 * Code of who decides, where there are no accounts.
 */
by?: string, };

/**
 * What a deletion took away.
 */
export type RemovedAnswer = {
/**
 * Learners.
 */
learners: number,
/**
 * Attempts with all that hangs on them.
 */
attempts: number,
/**
 * Scans with their files.
 */
scans: number, };

/**
 * What a roster brings.
 */
export type RosterAnswer = {
/**
 * As `kerf class import` says it.
 */
sentence: string,
/**
 * Learners of the roster that have a name there.
 */
n_named: number,
/**
 * Codes of learners that were not known.
 */
new_learners: Array<string>,
/**
 * Who is taken out of a cohort.
 */
leaving: Array<Leaving>, };

/**
 * A learner who is taken out of a cohort.
 */
export type Leaving = {
/**
 * Code of the cohort.
 */
cohort: string,
/**
 * Code of the learner.
 */
learner: string, };

/**
 * A grading to be set up.
 */
export type GradingRequest = {
/**
 * What people call it; 1 to 80 characters.
 */
title: string,
/**
 * Name of the exercise.
 */
exercise: string,
/**
 * Its stage.
 */
stage: string,
/**
 * Only attempts of learners of this cohort.
 */
cohort?: string,
/**
 * Only attempts of this session.
 */
session?: string,
/**
 * Of each learner only the latest attempt.
 */
latest_only: boolean,
/**
 * Ids of these attempts instead, whose readings are known: a calibration. Each examiner is shown afterwards where he differed from them.
 */
attempts?: Array<string>,
/**
 * Ids of the criteria that are graded.
 */
criteria: Array<string>,
/**
 * Codes of the examiners; where there are accounts, of accounts of instructors or directors.
 */
examiners: Array<string>,
/**
 * Attempts that each examiner sees twice.
 */
n_repeats: number,
/**
 * Least number of places between the two sights of an attempt.
 */
least_gap: number, };

/**
 * Which attempts to calibrate with.
 */
export type ProposalRequest = {
/**
 * Name of the exercise.
 */
exercise: string,
/**
 * Its stage.
 */
stage: string,
/**
 * Only attempts of learners of this cohort.
 */
cohort?: string,
/**
 * Only attempts of this session.
 */
session?: string,
/**
 * Of each learner only the latest attempt.
 */
latest_only: boolean,
/**
 * Ids of the criteria that are graded.
 */
criteria: Array<string>,
/**
 * How many to propose; all where fewer are known.
 */
n: number, };

/**
 * Attempts whose readings are known.
 */
export type ProposalAnswer = {
/**
 * By day and order of coming.
 */
attempts: Array<ProposedAttempt>,
/**
 * What is graded.
 */
criteria: Array<GradedCriterion>,
/**
 * What may be given.
 */
levels: Array<GradeLevel>, };

/**
 * An attempt whose readings are known.
 */
export type ProposedAttempt = {
/**
 * Its id.
 */
id: string,
/**
 * Order of coming.
 */
number: number,
/**
 * Code of the learner.
 */
learner: string | null,
/**
 * The day.
 */
taken: string,
/**
 * The levels that its readings lead to, by criterion, as far as they are known. Between two levels where an exercise takes the mean of places.
 */
levels: { [key in string]: number },
/**
 * Whether it is proposed.
 */
is_proposed: boolean, };

/**
 * How an examiner did in a calibration.
 */
export type CalibrationAnswer = {
/**
 * What may be given.
 */
levels: Array<GradeLevel>,
/**
 * Order of coming of the attempts behind the codes, by their id, once nobody grades any more.
 */
numbers: { [key in string]: number },
/**
 * Code of the examiner.
 */
examiner: string,
/**
 * All criteria together.
 */
all: Leaning,
/**
 * Criterion by criterion.
 */
criteria: Array<CriterionCalibration>,
/**
 * What was given twice for the same criterion of the same attempt.
 */
repeats: Array<Repeat>,
/**
 * How many of these are the same both times.
 */
n_repeats_same: number,
/**
 * What a calibration is not.
 */
caution: string, };

/**
 * One examiner's calibration.
 */
export type Calibration = {
/**
 * Code of the examiner.
 */
examiner: string,
/**
 * All criteria together.
 */
all: Leaning,
/**
 * Criterion by criterion.
 */
criteria: Array<CriterionCalibration>,
/**
 * What was given twice for the same criterion of the same attempt.
 */
repeats: Array<Repeat>,
/**
 * How many of these are the same both times.
 */
n_repeats_same: number,
/**
 * What a calibration is not.
 */
caution: string, };

/**
 * Whether more or less is given than was measured.
 */
export type Leaning = {
/**
 * What was given less what is known, in levels, mean over attempts, the first sight of each.
 */
severity: Answer<Estimate>,
/**
 * What that comes to.
 */
way: Way,
/**
 * The same in a sentence.
 */
sentence: string, };

/**
 * A way to lean.
 */
export type Way = "severe" | "lenient" | "open";

/**
 * One criterion.
 */
export type CriterionCalibration = {
/**
 * Its id.
 */
id: string,
/**
 * What people call it.
 */
title: string,
/**
 * Codes of which this criterion is known.
 */
n_known: number,
/**
 * Of them, those to which the known level was given.
 */
n_same: number,
/**
 * Whether more or less is given than was measured.
 */
leaning: Leaning,
/**
 * Code by code, in the order of the sheet.
 */
codes: Array<CodeCalibration>, };

/**
 * One criterion of one code.
 */
export type CodeCalibration = {
/**
 * The code.
 */
code: string,
/**
 * Id of the attempt behind it, once nobody grades any more.
 */
attempt: string | null,
/**
 * The level given.
 */
given: number,
/**
 * The level that the readings lead to; none where they leave it open.
 */
known: number | null,
/**
 * Whether another level lies nearer to what is known.
 */
differs: boolean,
/**
 * Where it differs: the readings by which it is known.
 */
readings: Array<KnownReading>, };

/**
 * A reading and the level to which it leads.
 */
export type KnownReading = {
/**
 * What people call it.
 */
name: string,
/**
 * The value.
 */
value: Value | null,
/**
 * Its unit.
 */
unit: string,
/**
 * Expanded uncertainty, k = 2, in the same unit.
 */
u95: number | null,
/**
 * The level.
 */
level: Level, };

/**
 * What was given on both sights of the same criterion of the same attempt.
 */
export type Repeat = {
/**
 * What people call the criterion.
 */
title: string,
/**
 * Both codes.
 */
codes: [string, string],
/**
 * Both levels.
 */
given: [number, number], };

/**
 * A grading, as far as the one who asks may see it.
 */
export type GradingAnswer = {
/**
 * Its id.
 */
id: string,
/**
 * What people call it.
 */
title: string,
/**
 * What people call the exercise.
 */
exercise: string,
/**
 * Id of the stage.
 */
stage: string,
/**
 * Whether each examiner is shown afterwards where he differed from what was measured.
 */
is_calibration: boolean,
/**
 * What is graded.
 */
criteria: Array<GradedCriterion>,
/**
 * What may be given.
 */
levels: Array<GradeLevel>,
/**
 * When it was set up, UTC.
 */
created: string,
/**
 * How far the examiners have come; an examiner is told the own sheet alone.
 */
sheets: Array<SheetSummary>, };

/**
 * A criterion that is graded.
 */
export type GradedCriterion = {
/**
 * Its id.
 */
id: string,
/**
 * What people call it.
 */
title: string, };

/**
 * A value that may be given.
 */
export type GradeLevel = {
/**
 * The value.
 */
value: number,
/**
 * What it says.
 */
word: string, };

/**
 * How far an examiner has come.
 */
export type SheetSummary = {
/**
 * Code of the examiner.
 */
examiner: string,
/**
 * Codes to grade.
 */
n: number,
/**
 * Codes that are graded.
 */
n_given: number, };

/**
 * What an examiner grades: codes in the own order. Neither the attempt nor whether it comes again can be read from it.
 */
export type SheetAnswer = {
/**
 * The grading.
 */
grading: GradingAnswer,
/**
 * Code of the examiner.
 */
examiner: string,
/**
 * The codes.
 */
codes: Array<SheetCode>, };

/**
 * One code.
 */
export type SheetCode = {
/**
 * The code.
 */
code: string,
/**
 * Whether it is graded. What was given is shown to nobody while the sheet is open.
 */
is_given: boolean, };

/**
 * What an examiner gives.
 */
export type MarksRequest = {
/**
 * One for each criterion.
 */
marks: Array<Mark>, };

/**
 * What an examiner gives for one criterion.
 */
export type Mark = {
/**
 * Id of the criterion.
 */
criterion: string,
/**
 * One of the levels.
 */
value: number, };

/**
 * How a class does at one stage of one exercise.
 */
export type Report = {
/**
 * [`SCHEMA`].
 */
schema: string,
/**
 * Name of the exercise.
 */
exercise: string,
/**
 * What people call it.
 */
title: string,
/**
 * Id of the stage.
 */
stage: string,
/**
 * Confidence of the intervals.
 */
confidence: number,
/**
 * Graded attempts.
 */
n_attempts: number,
/**
 * Learners; statistics count the latest attempt of each.
 */
n_learners: number,
/**
 * Attempts that were held against an older version of the exercise, and are left out.
 */
n_older_version: number,
/**
 * Each reading against its band.
 */
criteria: Array<CriterionReport>,
/**
 * Faults by place.
 */
places: PlacesReport,
/**
 * The criteria as items of a test.
 */
items: Answer<ItemReport>,
/**
 * Groups against each other.
 */
comparisons: Array<Comparison>,
/**
 * The learner who was asked for.
 */
learner: LearnerReport | null,
/**
 * What a report is not.
 */
cautions: [string, string, string], };

/**
 * One reading, one value a learner.
 */
export type CriterionReport = {
/**
 * What people call the criterion.
 */
title: string,
/**
 * What people call the reading.
 */
name: string,
/**
 * Unit of values and bands.
 */
unit: string,
/**
 * Full marks.
 */
ideal: Band,
/**
 * Still right: what shares and standings refer to.
 */
acceptable: Band,
/**
 * How the class lies.
 */
distribution: Answer<Distribution>,
/**
 * Learners whose reading was refused.
 */
n_not_measured: number,
/**
 * Each learner.
 */
dots: Array<Dot>,
/**
 * Id of the criterion.
 */
criterion: string,
/**
 * Id of the reading.
 */
reading: string,
/**
 * The further number of it that is asked for.
 */
part: string | null, };

/**
 * One learner's value.
 */
export type Dot = {
/**
 * Code of the learner.
 */
learner: string | null,
/**
 * The value.
 */
value: number,
/**
 * Half the width in which a limit cannot be told from it.
 */
guard: number,
/**
 * Where it lies.
 */
standing: Standing, };

/**
 * Reduction of the axial walls by aspect and third.
 */
export type PlacesReport = {
/**
 * For each aspect and third that the exercise asks for: shares of the class that are proven under or over.
 */
bins: Answer<Array<Bin>>,
/**
 * The commonest faults.
 */
findings: Array<PlaceFinding>,
/**
 * The same as sentences.
 */
sentences: Array<string>, };

/**
 * Groups by one of their kinds, compared by the points that count.
 */
export type Comparison = {
/**
 * `cohort`, `session` or `instructor`.
 */
by: string,
/**
 * The groups, by code, and the learners of each.
 */
groups: Array<[string, number]>,
/**
 * What came of it.
 */
result: Compared, };

/**
 * What a comparison says.
 */
export type Compared = { "two": Answer<TwoGroups> } | { "several": Answer<Groups> } | { "refused": string };

/**
 * A learner's attempts at one stage of one exercise.
 */
export type LearnerReport = {
/**
 * The code.
 */
learner: string,
/**
 * Number and day of each attempt, and the points that count, percent.
 */
attempts: Array<[number, string, number | null]>,
/**
 * What the readings are called, by the id that stands in `courses` and `practice`.
 */
readings: { [key in string]: Named },
/**
 * Each criterion's readings over the attempts; attempts are counted from 1.
 */
courses: Answer<Array<CriterionCourse>>,
/**
 * What to practise next, most urgent first.
 */
practice: Array<Practice>, };

/**
 * What a reading is called.
 */
export type Named = {
/**
 * By people.
 */
name: string,
/**
 * Unit of its values.
 */
unit: string, };

/**
 * One statistic by its name.
 */
export type Figure = {
/**
 * What it is about.
 */
of: FigureOf,
/**
 * Its name, with the model and the examiners.
 */
name: string,
/**
 * The statistic, or why there is none.
 */
answer: Answer<Estimate>, };

/**
 * What a figure is about.
 */
export type FigureOf = "all" | "pair" | "repeat" | "severity" | "measured";

/**
 * A statistic, or the reason why there is none.
 */
export type Answer<T> = T | Told;

/**
 * A refusal as it is written out: with its sentence, so that no reader has to make one.
 */
export type Told = {
/**
 * Why, for people.
 */
sentence: string, } & ({ "reason": "too_few",
/**
 * What was counted, in the plural.
 */
of: string,
/**
 * How many there are.
 */
n: number,
/**
 * How many are needed.
 */
least: number, } | { "reason": "one_category" } | { "reason": "no_spread",
/**
 * What does not differ.
 */
of: string, } | { "reason": "not_finite",
/**
 * What was read.
 */
of: string,
/**
 * Which one, from 0.
 */
index: number, } | { "reason": "ragged",
/**
 * What is uneven.
 */
of: string,
/**
 * Which one, from 0.
 */
index: number,
/**
 * Its entries.
 */
n: number,
/**
 * The entries expected.
 */
expected: number, } | { "reason": "twice",
/**
 * Whose rating it is.
 */
examiner: string,
/**
 * What was rated.
 */
attempt: string,
/**
 * The criterion.
 */
criterion: string, } | { "reason": "out_of_range",
/**
 * The value.
 */
value: number,
/**
 * What is expected.
 */
expected: string, } | { "reason": "no_room",
/**
 * Different attempts.
 */
n: number,
/**
 * The distance that was asked.
 */
gap: number, });

/**
 * A statistic that would say nothing, or something false, and what would have to be there for it.
 */
export type Refusal = { "reason": "too_few",
/**
 * What was counted, in the plural.
 */
of: string,
/**
 * How many there are.
 */
n: number,
/**
 * How many are needed.
 */
least: number, } | { "reason": "one_category" } | { "reason": "no_spread",
/**
 * What does not differ.
 */
of: string, } | { "reason": "not_finite",
/**
 * What was read.
 */
of: string,
/**
 * Which one, from 0.
 */
index: number, } | { "reason": "ragged",
/**
 * What is uneven.
 */
of: string,
/**
 * Which one, from 0.
 */
index: number,
/**
 * Its entries.
 */
n: number,
/**
 * The entries expected.
 */
expected: number, } | { "reason": "twice",
/**
 * Whose rating it is.
 */
examiner: string,
/**
 * What was rated.
 */
attempt: string,
/**
 * The criterion.
 */
criterion: string, } | { "reason": "out_of_range",
/**
 * The value.
 */
value: number,
/**
 * What is expected.
 */
expected: string, } | { "reason": "no_room",
/**
 * Different attempts.
 */
n: number,
/**
 * The distance that was asked.
 */
gap: number, };

/**
 * A statistic, its interval, how many it rests on, and the definition used.
 */
export type Estimate = {
/**
 * The statistic.
 */
value: number,
/**
 * Its interval; none where `without_interval` says why.
 */
interval: Interval | null,
/**
 * Why there is no interval.
 */
without_interval: string | null,
/**
 * Independent units it rests on: attempts, learners or pairs, as the function says.
 */
n: number,
/**
 * The definition, in words.
 */
method: string, };

/**
 * Both ends of an interval that holds the true value with a stated confidence.
 */
export type Interval = {
/**
 * Lower end.
 */
low: number,
/**
 * Upper end.
 */
high: number,
/**
 * Share of such intervals that hold the true value, 0.95 as a rule.
 */
confidence: number,
/**
 * How it was made.
 */
method: string, };

/**
 * Where a reading should lie; an open end has no limit.
 */
export type Band = {
/**
 * Lowest value that is right.
 */
from: number | null,
/**
 * Highest value that is right.
 */
to: number | null, };

/**
 * Where a reading lies.
 */
export type Standing = "under" | "within" | "over" | "too_close";

/**
 * The readings of a class.
 */
export type Distribution = {
/**
 * Least, lower quartile, median, upper quartile, greatest; quartiles by interpolation at 1 + (n − 1) p.
 */
five: [number, number, number, number, number],
/**
 * Shares, with Wilson's interval, of those under the band.
 */
under: Estimate,
/**
 * Within.
 */
within: Estimate,
/**
 * Over.
 */
over: Estimate,
/**
 * Too close to call.
 */
too_close: Estimate,
/**
 * Readings.
 */
n: number, };

/**
 * Two groups.
 */
export type TwoGroups = {
/**
 * Median of all differences first − second; `n` counts learners of both groups.
 */
shift: Estimate,
/**
 * Share of pairs in which the first is greater less the share in which it is smaller, −1 … 1.
 */
dominance: Estimate,
/**
 * Whether chance explains it.
 */
test: Answer<Test>,
/**
 * Learners of each group.
 */
n: [number, number], };

/**
 * More than two groups.
 */
export type Groups = {
/**
 * Median of each group, in the order given.
 */
medians: Array<number>,
/**
 * Learners of each group.
 */
n: Array<number>,
/**
 * Kruskal and Wallis' H/(n − 1): share of the ranks' spread that the groups explain, 0 … 1.
 */
explained: number,
/**
 * Whether chance explains it.
 */
test: Test, };

/**
 * How often chance alone would part groups so far.
 */
export type Test = {
/**
 * Two-sided.
 */
p: number,
/**
 * The statistic: U of the first group, or H.
 */
statistic: number,
/**
 * How p was found.
 */
method: string, };

/**
 * What a test of these criteria is worth.
 */
export type ItemReport = {
/**
 * Each criterion, in the order given.
 */
items: Array<ItemStatistics>,
/**
 * Cronbach's alpha, or KR-20 where every criterion gives all or nothing; the result says which.
 */
reliability: Answer<Estimate>,
/**
 * Learners whose scores were complete.
 */
n: number,
/**
 * Learners left out for a missing score.
 */
n_incomplete: number, };

/**
 * How one criterion works.
 */
export type ItemStatistics = {
/**
 * The criterion.
 */
name: string,
/**
 * Mean share of its points that was won: near 1 it is easy. `n` counts learners.
 */
difficulty: Answer<Estimate>,
/**
 * Correlation with the sum of the other criteria: near 0 or below, it does not separate those who can from those who cannot.
 */
discrimination: Answer<Estimate>, };

/**
 * One criterion over time.
 */
export type CriterionCourse = {
/**
 * The criterion.
 */
criterion: string,
/**
 * The band.
 */
band: Band,
/**
 * Attempt, value, signed distance to the band (0 inside), standing; by rising attempt.
 */
points: Array<CoursePoint>,
/**
 * Change of the value an attempt.
 */
slope: Answer<Estimate>,
/**
 * Change of the distance to the band an attempt; below zero it becomes better.
 */
miss_slope: Answer<Estimate>,
/**
 * Which way it goes.
 */
trend: Trend,
/**
 * Share of the latest three attempts, or of all if there are fewer, that are proven outside.
 */
recent_faults: number, };

/**
 * One reading of a course.
 */
export type CoursePoint = {
/**
 * Number of the attempt.
 */
attempt: number,
/**
 * The value.
 */
value: number,
/**
 * Distance outside the band: negative below it, positive above, 0 inside.
 */
miss: number,
/**
 * Where it lies.
 */
standing: Standing, };

/**
 * What to practise next, and why.
 */
export type Practice = {
/**
 * The criterion.
 */
criterion: string,
/**
 * Exercise and stage that train it, as given; none where nothing given does.
 */
training: Array<Training>,
/**
 * Share of the latest attempts with this fault.
 */
recent_faults: number,
/**
 * Which way it goes.
 */
trend: Trend, };

/**
 * An exercise or a stage of it that trains a criterion.
 */
export type Training = {
/**
 * The criterion.
 */
criterion: string,
/**
 * Name of the exercise.
 */
exercise: string,
/**
 * Its stage.
 */
stage: string, };

/**
 * Which way a criterion goes.
 */
export type Trend = "improved" | "worse" | "unproven" | "steady";

/**
 * One bin of the map.
 */
export type Bin = {
/**
 * Middle of the bin.
 */
centre_deg: number,
/**
 * The aspect that the middle lies in.
 */
aspect: string,
/**
 * The third.
 */
third: Third,
/**
 * Median over the class of each attempt's median.
 */
median_mm: Estimate,
/**
 * Share of the class under-reduced here.
 */
under: Estimate,
/**
 * Share of the class over-reduced here.
 */
over: Estimate,
/**
 * Attempts seen here.
 */
n: number, };

/**
 * A third of the height, or none where the place is not on a wall.
 */
export type Third = "gingival" | "middle" | "occlusal";

/**
 * What the class did wrong at a place.
 */
export type Fault = "under" | "over";

/**
 * A fault that a share of the class has at a place.
 */
export type PlaceFinding = {
/**
 * Where.
 */
aspect: string,
/**
 * Where, in height.
 */
third: Third,
/**
 * What.
 */
fault: Fault,
/**
 * How many of the class.
 */
share: Estimate,
/**
 * Median deviation of the class there.
 */
median_mm: number, };

/**
 * One criterion of one attempt.
 */
export type FarApart = {
/**
 * Code of the attempt.
 */
attempt: string,
/**
 * The criterion.
 */
criterion: string,
/**
 * Who gave least, and how much.
 */
least: [string, number],
/**
 * Who gave most, and how much.
 */
most: [string, number], };

/**
 * Which body.
 */
export type Which = "after" | "before" | "opposing" | "target";

/**
 * What a map shows.
 */
export type MapKind = "reduction" | "clearance" | "taper" | "undercut" | "deviation" | "damage";

/**
 * One step of a legend.
 */
export type LegendStep = {
/**
 * From this value.
 */
from: number,
/**
 * Up to this.
 */
to: number,
/**
 * The colour in the middle, `#rrggbb`.
 */
colour: string,
/**
 * The step in words.
 */
words: string, };

/**
 * Where to cut.
 */
export type SectionWish = {
/**
 * A point of the plane, mm, screen frame.
 */
point: [number, number, number],
/**
 * Perpendicular to the plane, towards the viewer; of any length but 0.
 */
normal: [number, number, number], };

/**
 * A section.
 */
export type Section = {
/**
 * The plane's coordinates.
 */
plane: SectionPlane,
/**
 * Chains of points, `[across, up]` in mm, by body. A closed chain ends with its first point.
 */
bodies: { [key in Which]?: Array<Array<[number, number]>> },
/**
 * The wall lines where the finish line crosses the plane about squarely.
 */
walls: Array<SectionWall>, };

/**
 * Coordinates in a plane: `point = origin + across × u + up × v`.
 */
export type SectionPlane = {
/**
 * Where u and v are 0, screen frame, mm.
 */
origin: [number, number, number],
/**
 * Unit, to the right seen against the normal.
 */
across: [number, number, number],
/**
 * Unit, as far occlusal as the plane allows (mesial in a plane square on the axis).
 */
up: [number, number, number], };

/**
 * A wall line in a section.
 */
export type SectionWall = {
/**
 * The finish line, mm in the plane.
 */
edge: [number, number],
/**
 * Lower end of the line, mm in the plane.
 */
from: [number, number],
/**
 * Upper end.
 */
to: [number, number],
/**
 * Angle to the path as the station read it, degrees.
 */
taper_deg: number,
/**
 * Its expanded uncertainty at this one station, degrees.
 */
taper_u95_deg: number,
/**
 * Width of the finish line as the station read it, mm.
 */
width_mm: number,
/**
 * Its expanded uncertainty at this one station, mm.
 */
width_u95_mm: number,
/**
 * Around the tooth.
 */
angle_deg: number,
/**
 * The aspect.
 */
aspect: string, };

/**
 * What to push, and where.
 */
export type GaugeWish = {
/**
 * Where the bar's round end starts, screen frame, mm; a point of the prepared surface or before it.
 */
point: [number, number, number],
/**
 * Where to it is pushed; of any length but 0.
 */
direction: [number, number, number],
/**
 * Diameter of the bar, mm: 0.1 to 6.
 */
width_mm: number,
/**
 * Between which surfaces.
 */
toward: Toward,
/**
 * Farthest push, mm; 12 if left out, 40 at most.
 */
length_mm?: number, };

/**
 * Between which surfaces the bar is pushed.
 */
export type Toward = "opposing" | "neighbour";

/**
 * How far the bar went.
 */
export type GaugeAnswer = {
/**
 * Whether it goes all the way.
 */
fits: boolean,
/**
 * Whether it fits at all where it starts.
 */
enters: boolean,
/**
 * How far its end went, mm.
 */
stops_at_mm: number,
/**
 * How far it was to go, mm.
 */
length_mm: number,
/**
 * Middle of the round end where it stopped, screen frame, mm.
 */
end: [number, number, number],
/**
 * Middle of the round end where it started, at the height that went farthest.
 */
start: [number, number, number],
/**
 * Where it touches, at most one point a body.
 */
touches: Array<GaugeTouch>, };

/**
 * A contact.
 */
export type GaugeTouch = {
/**
 * With which body.
 */
body: Which,
/**
 * Screen frame, mm.
 */
point: [number, number, number], };

/**
 * The finish line round the tooth.
 */
export type RingAnswer = {
/**
 * Length, mm.
 */
length_mm: number,
/**
 * In order round the tooth; the last is followed by the first.
 */
stations: Array<RingStation>, };

/**
 * One station.
 */
export type RingStation = {
/**
 * On the finish line, screen frame, mm.
 */
point: [number, number, number],
/**
 * Way along the finish line from the first station, mm.
 */
along_mm: number,
/**
 * Around the tooth: 0 mesial, 90 facial, 180 distal, 270 lingual.
 */
angle_deg: number,
/**
 * The aspect.
 */
aspect: string,
/**
 * Whether the finish line was seen here or bridged.
 */
seen: boolean,
/**
 * Kind of the finish line, as the reading of this aspect has it.
 */
kind: string | null,
/**
 * From the edge to the wall line, mm.
 */
width_mm: Uncertain | null,
/**
 * Over the gingiva, mm.
 */
above_gingiva_mm: Uncertain | null,
/**
 * Angle of the wall to the path, degrees.
 */
taper_deg: Uncertain | null,
/**
 * From the finish line to the occlusal line angle, mm.
 */
wall_height_mm: number | null,
/**
 * Slope of the floor, degrees.
 */
declination_deg: number | null, };

/**
 * A value with its expanded uncertainty, k = 2, in the same unit.
 */
export type Uncertain = {
/**
 * The value.
 */
value: number,
/**
 * Its uncertainty at this one place.
 */
u95: number, };

/**
 * What is known at a spot of the after scan.
 */
export type Spot = {
/**
 * The closest point of the after scan, screen frame, mm.
 */
point: [number, number, number],
/**
 * Outward, unit.
 */
normal: [number, number, number],
/**
 * The aspect it lies in.
 */
aspect: string,
/**
 * Around the tooth: 0 mesial, 90 facial, 180 distal, 270 lingual.
 */
angle_deg: number,
/**
 * Height over the finish line at this side, along the path, mm.
 */
above_finish_line_mm: number,
/**
 * `gingival`, `middle` or `occlusal` third of the wall; absent off the prepared tooth.
 */
third: string | null,
/**
 * What the maps say here; a map that knows nothing here is left out.
 */
values: Array<SpotValue>, };

/**
 * The value of one map.
 */
export type SpotValue = {
/**
 * Which map.
 */
map: MapKind,
/**
 * `mm` or `deg`.
 */
unit: string,
/**
 * The value.
 */
value: number,
/**
 * Its uncertainty at this one place.
 */
u95: number, };

/**
 * One movement of the jaw.
 */
export type MovementAnswer = {
/**
 * Its id, as in the reading `clearance.excursion.<name>_mm`.
 */
name: string,
/**
 * The opposing teeth against their closed place, at equal shares from 0 closed to 1; 4×4, row by row, screen frame. The
 * prepared tooth rests. Empty where the movement could not be followed.
 */
poses: Array<[[number, number, number, number], [number, number, number, number], [number, number, number, number], [number, number, number, number]]>,
/**
 * Way of the lower incisal point at each pose, mm.
 */
travel_mm: Array<number>,
/**
 * How far the teeth open the jaw at each pose, mm at the prepared tooth.
 */
opened_mm: Array<number>,
/**
 * Whether it was recorded.
 */
is_recorded: boolean,
/**
 * The reading: least clearance over the whole path, mm.
 */
least_clearance_mm: number | null,
/**
 * Its expanded uncertainty, mm.
 */
u95_mm: number | null,
/**
 * At which pose it is least, as a fractional place in `poses`.
 */
at_pose: number | null,
/**
 * Where on the prepared tooth, screen frame, mm.
 */
at: [number, number, number] | null,
/**
 * Why there are no poses, or no reading.
 */
refused: string | null, };

/**
 * Several prepared teeth of one scan. `$defs/several` of `docs/measurement.schema.json`.
 */
export type JointDocument = {
/**
 * `kerfwright-abutments-1`.
 */
schema: string,
/**
 * What made it.
 */
tool: Tool,
/**
 * The scans, by role.
 */
inputs: { [key in string]: Input },
/**
 * One document a tooth, in the order in which they were named.
 */
teeth: Array<Document>,
/**
 * What they have in common.
 */
abutments: Abutments,
/**
 * What the readings are not.
 */
cautions: Array<string>, };

/**
 * What several prepared teeth have in common.
 */
export type Abutments = {
/**
 * The best common path of placement, unit vector in the after scan's frame.
 */
common_path?: [number, number, number],
/**
 * Readings by id.
 */
readings: { [key in string]: Reading },
/**
 * Readings that could not be taken, by id, each with the reason.
 */
refused: { [key in string]: string }, };

/**
 * A measurement as written out. Field by field the JSON of `docs/measurement.schema.json`.
 */
export type Document = {
/**
 * [`SCHEMA`].
 */
schema: string,
/**
 * What made it.
 */
tool: Tool,
/**
 * The scans, by role.
 */
inputs: { [key in string]: Input },
/**
 * The tooth.
 */
tooth: ToothEntry,
/**
 * Frames, row by row.
 */
frame: Frames,
/**
 * Path of placement, unit vector in the after scan's frame, and how it was chosen.
 */
path: PathEntry,
/**
 * The finish line in the after scan's frame.
 */
finish_line: FinishLineEntry,
/**
 * Readings by id.
 */
readings: { [key in string]: Reading },
/**
 * Readings that could not be taken, by id, each with the reason.
 */
refused: { [key in string]: string },
/**
 * What the user should know.
 */
warnings: Array<string>,
/**
 * What the readings are not.
 */
cautions: Array<string>, };

/**
 * What made a document.
 */
export type Tool = {
/**
 * `kerf`.
 */
name: string,
/**
 * Its version.
 */
version: string, };

/**
 * One scan.
 */
export type Input = {
/**
 * File name without its folder.
 */
file: string,
/**
 * Of the bytes as given.
 */
sha256: string,
/**
 * File format.
 */
format: string,
/**
 * After repair.
 */
n_triangles: number,
/**
 * What was found and repaired.
 */
findings: Array<string>, };

/**
 * The tooth, in all numbering systems.
 */
export type ToothEntry = {
/**
 * FDI (ISO 3950) number.
 */
fdi: number,
/**
 * What the given number was taken for.
 */
taken_for: string,
/**
 * Why this side is mesial.
 */
mesial_because: string, };

/**
 * Where things are.
 */
export type Frames = {
/**
 * x mesial, y facial, z occlusal, origin at the centre of the finish line; left-handed in quadrants 2 and 4.
 */
tooth_from_after: [[number, number, number, number], [number, number, number, number], [number, number, number, number], [number, number, number, number]],
/**
 * From the alignment; absent without a before scan.
 */
before_from_after?: [[number, number, number, number], [number, number, number, number], [number, number, number, number], [number, number, number, number]],
/**
 * Standard uncertainty of the tooth's axis, degrees.
 */
axis_sigma_deg: number,
/**
 * What the axis rests on.
 */
axis_evidence: Array<string>, };

/**
 * The path of placement.
 */
export type PathEntry = {
/**
 * Unit vector in the after scan's frame.
 */
direction: [number, number, number],
/**
 * `best`, `axis` or `fixed`.
 */
choice: string, };

/**
 * The finish line.
 */
export type FinishLineEntry = {
/**
 * Length, mm.
 */
length_mm: number,
/**
 * Points in the after scan's frame, mm.
 */
points: Array<[number, number, number]>,
/**
 * One entry a point at which the section could be read.
 */
stations: Array<StationEntry>, };

/**
 * What one section says.
 */
export type StationEntry = {
/**
 * Around the tooth: 0 mesial, 90 facial, 180 distal, 270 lingual.
 */
angle_deg: number,
/**
 * The finish-line point, after scan's frame.
 */
point: [number, number, number],
/**
 * Whether the finish line was seen here or bridged.
 */
seen: boolean,
/**
 * Angle of the wall line to the path.
 */
taper_deg: number | null,
/**
 * From the edge to the wall line.
 */
width_mm: number | null,
/**
 * From the finish line to the occlusal line angle.
 */
wall_height_mm: number | null,
/**
 * Slope of the floor.
 */
declination_deg: number | null,
/**
 * Over the gingiva, along the tooth's axis.
 */
above_gingiva_mm: number | null, };

/**
 * A number or a word.
 */
export type Value = number | string;

/**
 * One reading.
 */
export type Reading = {
/**
 * The value.
 */
value: Value,
/**
 * `mm`, `deg`, `um`, `mm2`, `mm3`, `pct`, or empty.
 */
unit: string,
/**
 * Expanded uncertainty, k = 2, in the same unit.
 */
u95?: number,
/**
 * Where on the tooth.
 */
where?: Place,
/**
 * Where the greatest single value lies, if `place` is that of the least.
 */
where_greatest?: Place,
/**
 * What to know about it.
 */
note?: string, } & ({ [key in string]: number | string });

/**
 * A place on the tooth.
 */
export type Place = {
/**
 * After scan's frame, mm.
 */
point: [number, number, number],
/**
 * The aspect it lies in.
 */
aspect: string,
/**
 * Around the tooth.
 */
angle_deg: number, };

/**
 * What was asked, how it is to be reached, and how it is graded. All inheritance is resolved.
 */
export type Exercise = {
/**
 * Name by which it is called: small letters, digits, hyphens.
 */
name: string,
/**
 * What people call it.
 */
title: string,
/**
 * A sentence or two for the learner.
 */
summary?: string,
/**
 * The teeth it is for.
 */
teeth: Array<Teeth>,
/**
 * The restoration that the preparation is for.
 */
restoration: string,
/**
 * Its material.
 */
material: string,
/**
 * What to know.
 */
notes: Array<string>,
/**
 * How points are given.
 */
scoring: Scoring,
/**
 * The inner form of an onlay, for its target.
 */
onlay?: Onlay,
/**
 * In order; the last is the final check.
 */
stages: Array<Stage>, };

/**
 * One step of the work, after which a scan may be taken.
 */
export type Stage = {
/**
 * Id within the exercise.
 */
id: string,
/**
 * What people call it.
 */
title: string,
/**
 * Ids of instruments of the kit, in the order of use.
 */
instruments: Array<string>,
/**
 * The check with a hand gauge.
 */
gauge?: Gauge,
/**
 * What to watch.
 */
notes: Array<string>,
/**
 * What a scan after this stage is held against.
 */
criteria: Array<Criterion>, };

/**
 * A check at the chair without a scan.
 */
export type Gauge = {
/**
 * Width of the gauge's bar, mm.
 */
bar_mm: number,
/**
 * What to do with it and what tells that it is right.
 */
check: string, };

/**
 * Limits on one reading, or on one reading at several places.
 */
export type Criterion = {
/**
 * Id within the stage.
 */
id: string,
/**
 * What people call it.
 */
title: string,
/**
 * Id of the reading; `*` stands for each of `places`.
 */
reading: string,
/**
 * A further number of the reading instead of its value: `least`, `p05` …
 */
part?: string,
/**
 * Unit of the limits; empty for ratios, counts and words.
 */
unit: string,
/**
 * What `*` stands for, in order.
 */
places: Array<string>,
/**
 * The limits.
 */
wanted: Wanted,
/**
 * Other limits at single places.
 */
at: { [key in string]: Exception },
/**
 * On which side a value outside acceptable fails the whole.
 */
critical?: Critical,
/**
 * Share of the points.
 */
weight: number,
/**
 * How several places become one score.
 */
places_score: PlacesScore,
/**
 * Between ideal and acceptable; the exercise's own way where left out.
 */
credit?: Credit,
/**
 * When the reading was not taken; the exercise's own way where left out.
 */
not_measured?: NotMeasured,
/**
 * Where the limits come from.
 */
source: Array<Source>,
/**
 * Where authorities differ, and which was taken.
 */
disagreement?: string,
/**
 * What to know.
 */
note?: string, };

/**
 * Limits of their own at one place.
 */
export type Exception = {
/**
 * The limits there.
 */
wanted: Wanted,
/**
 * Where they come from; as for the other places if empty.
 */
source?: Array<Source>, };

/**
 * Limits: on a number or on a word.
 */
export type Wanted = {
/**
 * Full marks.
 */
ideal: Range,
/**
 * Still right.
 */
acceptable: Range, } | {
/**
 * Full marks.
 */
ideal_words: Array<string>,
/**
 * Still right.
 */
acceptable_words: Array<string>, };

/**
 * On which side of acceptable a failure is critical.
 */
export type Critical = "below" | "above" | "both";

/**
 * How several places of one criterion become one score.
 */
export type PlacesScore = "mean" | "worst" | "best";

/**
 * What a value between ideal and acceptable earns.
 */
export type Credit = "step" | "linear";

/**
 * What a reading earns whose limit lies inside its uncertainty.
 */
export type TooClose = "benefit" | "middle" | "strict" | "as_measured" | "leave_out";

/**
 * What a reading earns that was not taken.
 */
export type NotMeasured = "leave_out" | "zero" | "no_grade";

/**
 * How points are given.
 */
export type Scoring = {
/**
 * Whether one critical error fails the whole, whatever the points.
 */
critical_error_fails: boolean,
/**
 * Between ideal and acceptable.
 */
credit: Credit,
/**
 * What the end of acceptable earns.
 */
acceptable_credit_pct: number,
/**
 * When a limit lies inside the uncertainty.
 */
too_close: TooClose,
/**
 * When a reading was not taken.
 */
not_measured: NotMeasured,
/**
 * Less of the weight than this measured gives no grade.
 */
measured_at_least_pct: number,
/**
 * Pass mark.
 */
pass_pct: number, };

/**
 * The inner form of an onlay, as a target is laid into a tooth.
 */
export type Onlay = {
/**
 * Id of the stage in which isthmus and boxes are cut.
 */
stage: string,
/**
 * Distance of the isthmus walls at its floor, mm.
 */
isthmus_width_mm: number,
/**
 * From the occlusal cut along the groove down to the floor, mm.
 */
isthmus_depth_mm: number,
/**
 * Distance of a box's facial and lingual wall at its floor, mm.
 */
box_width_mm: number,
/**
 * From the proximal surface in to a box's axial wall, at its floor, mm.
 */
box_depth_mm: number,
/**
 * Lean of each wall, outwards on its way up from the floor, degrees.
 */
divergence_deg: number,
/**
 * Where the numbers come from.
 */
source: Array<Source>,
/**
 * What to know.
 */
note?: string, };

/**
 * From and to, both included; an end that is left out is open.
 */
export type Range = {
/**
 * Lower end, in the unit of its reading.
 */
from?: number,
/**
 * Upper end, in the unit of its reading.
 */
to?: number, };

/**
 * Where a number comes from.
 */
export type Source = string;

/**
 * One tooth or a group: `26`, `molar`, `upper premolar`.
 */
export type Teeth = string;

/**
 * A grade with advice; every place in the screen frame.
 */
export type GradeAnswer = {
/**
 * Decisions, findings, points.
 */
grade: Grade,
/**
 * What to do about it, most urgent first.
 */
advice: Array<Advice>,
/**
 * Language of the advice.
 */
language: string,
/**
 * Whether this is the grade that is kept of the attempt, on which instructors decide.
 */
is_kept: boolean, };

/**
 * A measurement held against one stage of an exercise.
 */
export type Grade = {
/**
 * [`SCHEMA`].
 */
schema: string,
/**
 * Version of the program that graded.
 */
version: string,
/**
 * What was asked.
 */
exercise: ExerciseEntry,
/**
 * The stage after which the scan was taken.
 */
stage: StageEntry,
/**
 * What was graded.
 */
document: DocumentEntry,
/**
 * What the readings earn.
 */
computed: Tally,
/**
 * What counts: the computed result, or what instructors made of it.
 */
standing: Tally,
/**
 * What instructors decided otherwise, in order.
 */
overrides?: Array<Override>,
/**
 * Criterion by criterion, in the order of the exercise.
 */
criteria: Array<CriterionGrade>,
/**
 * Limits of the last stage that can no longer be met, whatever is cut; empty at the last stage itself.
 */
lost_ahead?: Array<Lost>,
/**
 * What a grade is not.
 */
cautions: Array<string>, };

/**
 * What was asked.
 */
export type ExerciseEntry = {
/**
 * Its name.
 */
name: string,
/**
 * What people call it.
 */
title: string,
/**
 * How it gives points.
 */
scoring: Scoring, };

/**
 * The stage held against.
 */
export type StageEntry = {
/**
 * Its id.
 */
id: string,
/**
 * What people call it.
 */
title: string,
/**
 * Its place among the stages, from 1.
 */
number: number,
/**
 * How many there are.
 */
of: number, };

/**
 * What was graded.
 */
export type DocumentEntry = {
/**
 * FDI number.
 */
fdi: number,
/**
 * Of the scan after cutting; empty if the document does not say.
 */
after_sha256: string, };

/**
 * Points and what they mean.
 */
export type Tally = {
/**
 * Earned.
 */
points: number,
/**
 * What could be earned from what was measured.
 */
possible: number,
/**
 * Of the weight, how much was measured, percent.
 */
measured_pct: number,
/**
 * Points of possible, percent; absent if nothing was possible.
 */
pct?: number,
/**
 * Passed or not.
 */
outcome: Outcome,
/**
 * Ids of criteria with a critical error.
 */
critical_errors: Array<string>,
/**
 * Ids of critical criteria of which it cannot be said whether there is a critical error: too close, or not measured.
 */
critical_open: Array<string>,
/**
 * How the outcome came about, sentence by sentence.
 */
because: Array<string>, };

/**
 * What a stage comes to.
 */
export type Outcome = "passed" | "not_passed" | "not_graded";

/**
 * One criterion.
 */
export type CriterionGrade = {
/**
 * Id in the stage.
 */
id: string,
/**
 * What people call it.
 */
title: string,
/**
 * Its weight in the exercise.
 */
weight: number,
/**
 * Earned.
 */
points: number,
/**
 * What could be earned from what was measured.
 */
possible: number,
/**
 * On which side a failure is critical.
 */
critical?: Critical,
/**
 * Whether there is a critical error.
 */
critical_error: boolean,
/**
 * Whether it cannot be said if there is one: too close, or not measured.
 */
critical_open: boolean,
/**
 * What happens to readings that were not taken.
 */
not_measured: NotMeasured,
/**
 * How several places became one score.
 */
places_score: PlacesScore,
/**
 * The reading that does best, where there are several and they differ.
 */
best?: string,
/**
 * The reading that does worst, where there are several and they differ.
 */
worst?: string,
/**
 * Where the limits come from.
 */
source: Array<Source>,
/**
 * Reading by reading.
 */
items: Array<Item>, };

/**
 * One reading against its limits.
 */
export type Item = {
/**
 * Id of the reading.
 */
reading: string,
/**
 * What the criterion's `*` stands for here.
 */
at?: string,
/**
 * The further number of the reading that was asked for.
 */
part?: string,
/**
 * Where the reading has its place.
 */
where?: Place,
/**
 * What was read; absent if it was not.
 */
value?: Value,
/**
 * Unit of value and limits.
 */
unit: string,
/**
 * Expanded uncertainty, k = 2.
 */
u95?: number,
/**
 * The limits.
 */
wanted: Wanted,
/**
 * Against ideal.
 */
ideal?: Decision,
/**
 * Against acceptable.
 */
acceptable?: Decision,
/**
 * The two decisions in one word.
 */
level: Level,
/**
 * Why it was not measured.
 */
not_measured?: string,
/**
 * What is off.
 */
finding?: Finding,
/**
 * Share of the points, percent; absent where the weight does not count.
 */
credit_pct?: number,
/**
 * Earned.
 */
points: number,
/**
 * What could be earned.
 */
possible: number,
/**
 * Whether this is a critical error.
 */
critical_error: boolean,
/**
 * How the points came about.
 */
because: string, };

/**
 * A reading's standing.
 */
export type Level = "ideal" | "acceptable" | "not_acceptable" | "too_close" | "not_measured";

/**
 * A limit of the last stage that can no longer be met.
 */
export type Lost = {
/**
 * Id of the last stage's criterion.
 */
criterion: string,
/**
 * What people call it.
 */
title: string,
/**
 * The reading.
 */
reading: string,
/**
 * What was read.
 */
value: Value,
/**
 * Unit of value and limits.
 */
unit: string,
/**
 * Expanded uncertainty, k = 2.
 */
u95?: number,
/**
 * The last stage's limits.
 */
wanted: Wanted,
/**
 * Whether it will be a critical error then.
 */
critical: boolean,
/**
 * What is off.
 */
finding: Finding, };

/**
 * One thing that is not as asked.
 */
export type Finding = {
/**
 * Too little, too much, or beside what is asked.
 */
kind: FindingKind,
/**
 * Whether it can still be put right.
 */
mend: Mend,
/**
 * How far the value lies outside acceptable, in the reading's unit: negative below, positive above, 0 inside.
 */
past_acceptable?: number,
/**
 * The same for ideal.
 */
past_ideal?: number,
/**
 * Where on the tooth.
 */
where?: Place,
/**
 * All of it in a sentence.
 */
text: string, };

/**
 * Which way a value is off.
 */
export type FindingKind = "too_little" | "too_much" | "below" | "above" | "other";

/**
 * Whether a finding can still be put right.
 */
export type Mend = "more_cutting" | "cutting_elsewhere" | "last_stage_open" | "beyond_recall" | "another_scan";

/**
 * What can be said of a value and a limit.
 */
export type Decision = "meets" | "does_not_meet" | "too_close";

/**
 * One decision of an instructor.
 */
export type Override = {
/**
 * Who, as a code: grades carry no names.
 */
by: string,
/**
 * Why.
 */
reason: string,
/**
 * When, as the caller writes it; grading has no clock.
 */
when?: string,
/**
 * What changes.
 */
change: Change, };

/**
 * What an override changes.
 */
export type Change = { "points": {
/**
 * Its id.
 */
criterion: string,
/**
 * From 0 to the criterion's weight.
 */
points: number, } } | { "waive": {
/**
 * Its criterion's id.
 */
criterion: string, } } | { "outcome": Outcome };

/**
 * One thing to do, or to know.
 */
export type Advice = {
/**
 * All of it in one sentence.
 */
sentence: string,
/**
 * How soon.
 */
urgency: Urgency,
/**
 * What it is about.
 */
concern: Concern,
/**
 * Which way the value is off, where it is.
 */
kind?: FindingKind,
/**
 * Whether something can still be done on this tooth, or by another scan.
 */
can_be_mended: boolean,
/**
 * 1 a few strokes, 2 a few minutes, 3 takes other work with it.
 */
quick: number,
/**
 * Ids of the criteria that ask for it.
 */
criteria: Array<string>,
/**
 * The readings; several only where they were not measured for one cause.
 */
readings: Array<string>,
/**
 * Where on the tooth.
 */
where?: Place,
/**
 * What to cut with; absent where nothing is cut, or the kit has nothing that suits.
 */
instrument?: Instrument,
/**
 * What to check with.
 */
gauge?: Instrument, };

/**
 * An instrument of the kit.
 */
export type Instrument = {
/**
 * Its id in the kit.
 */
id: string,
/**
 * What people call it.
 */
name: string,
/**
 * Its ISO 6360 code, where it has one.
 */
iso?: string | null, };

/**
 * How soon. Earlier is sooner.
 */
export type Urgency = "endangers" | "mend" | "check" | "lesson" | "better";

/**
 * What advice is about.
 */
export type Concern = "amiss" | "early" | "too_close" | "not_measured" | "ahead" | "better";

/**
 * In which advice is given.
 */
export type Language = "en" | "es";
