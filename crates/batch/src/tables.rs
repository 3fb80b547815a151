//! Grades and readings of a class as tables, each column with its meaning.

use std::collections::BTreeMap;

use kerfwright_exchange::table::Kind::{Number, Text};
use kerfwright_exchange::{Cell, Column, Table};
use kerfwright_exercise::readings;
use kerfwright_store::{ClassAttempt, GradeRow, LearnerRow, OverrideRow, ReadingRow};

use crate::records::{RecordFault, standing};

const fn column(name: &'static str, kind: kerfwright_exchange::table::Kind, meaning: &'static str) -> Column {
    Column { name, kind, meaning }
}

/// Columns of the readings.
const READINGS: &[Column] = &[
    column("attempt", Text, "id of the attempt"),
    column("learner", Text, "code of the learner"),
    column("session", Text, "code of the session"),
    column("exercise", Text, "name of the exercise"),
    column("stage", Text, "id of the stage after which the scan was taken"),
    column("date", Text, "day of cutting where it is known, else of the session, else of coming; ISO 8601"),
    column("fdi", Number, "tooth, FDI number (ISO 3950)"),
    column("version", Text, "version of the program that measured"),
    column("reading", Text, "id of the reading; docs/measures.md defines it"),
    column("part", Text, "empty for the reading itself, else the name of a further number of it"),
    column("title", Text, "what people call the reading; empty where exercises cannot ask for it"),
    column("value", Number, "the value in `unit`; empty where the reading is a word or was refused"),
    column("word", Text, "the value where it is a word"),
    column("unit", Text, "mm, deg, um, mm2, mm3, pct, or empty for words and ratios"),
    column("u95", Number, "expanded uncertainty, k = 2, in `unit`; empty where none is stated"),
    column("aspect", Text, "aspect of the tooth in which the place of the reading lies"),
    column("angle_deg", Number, "where round the tooth: 0 mesial, 90 facial, 180 distal, 270 lingual"),
    column("refused", Text, "why the reading could not be taken"),
];

/// Columns of the grades.
const GRADES: &[Column] = &[
    column("learner", Text, "code of the learner"),
    column("name", Text, "name of the learner, if it was asked for and is kept"),
    column("roster_id", Text, "id of the learner in the roster's system, if it was asked for and is kept"),
    column("exercise", Text, "name of the exercise"),
    column("stage", Text, "id of the stage after which the scan was taken"),
    column("attempt", Number, "number of the attempt in order of coming"),
    column("date", Text, "day of cutting where it is known, else of the session, else of coming; ISO 8601"),
    column(
        "grade_pct",
        Number,
        "what counts: points of possible points, percent; empty if nothing was possible",
    ),
    column("outcome", Text, "what counts: passed, not passed, not graded"),
    column("points", Number, "points that count"),
    column("possible", Number, "points that could be won from what was measured"),
    column("computed_pct", Number, "the same as computed, before an instructor decided otherwise"),
    column("computed_outcome", Text, "the outcome as computed"),
    column("overridden_by", Text, "codes of instructors who decided otherwise; empty if nobody did"),
    column("override_reason", Text, "their reasons"),
    column("comment", Text, "how the outcome came about"),
];

/// All readings, a line each.
pub fn readings_table(attempts: &[ClassAttempt], rows: &[ReadingRow]) -> Table {
    let title = |reading: &str| readings::find(reading).map(|(row, _)| row.title.clone());
    let by_id: BTreeMap<&str, &ClassAttempt> =
        attempts.iter().map(|attempt| (attempt.id.as_str(), attempt)).collect();
    let line = |row: &ReadingRow| {
        let attempt = by_id.get(row.attempt.as_str())?;
        Some(vec![
            row.attempt.as_str().into(),
            attempt.learner.as_deref().into(),
            attempt.session.as_deref().into(),
            attempt.exercise.as_deref().into(),
            attempt.stage.as_deref().into(),
            attempt.taken.as_str().into(),
            Cell::Number(attempt.fdi as f64),
            row.version.as_str().into(),
            row.reading.as_str().into(),
            row.part.as_str().into(),
            title(&row.reading).as_deref().into(),
            row.value.into(),
            row.word.as_deref().into(),
            row.unit.as_str().into(),
            row.u95.into(),
            row.aspect.as_deref().into(),
            row.angle_deg.into(),
            row.refused.as_deref().into(),
        ])
    };
    Table { columns: READINGS, rows: rows.iter().filter_map(line).collect() }
}

/// All grades, a line an attempt: what counts, and what was computed.
///
/// # Errors
/// [`RecordFault::Damaged`].
pub fn grades_table(
    attempts: &[ClassAttempt],
    grades: &[GradeRow],
    overrides: &BTreeMap<String, Vec<OverrideRow>>,
    learners: &[LearnerRow],
) -> Result<Table, RecordFault> {
    let by_id: BTreeMap<&str, &ClassAttempt> =
        attempts.iter().map(|attempt| (attempt.id.as_str(), attempt)).collect();
    let mut rows = Vec::new();
    for row in grades {
        let Some(attempt) = by_id.get(row.attempt.as_str()) else { continue };
        let decided = overrides.get(&row.id).map_or(&[][..], Vec::as_slice);
        let grade = standing(row, decided)?;
        let code = attempt.learner.as_deref();
        let learner = learners.iter().find(|learner| Some(learner.code.as_str()) == code);
        let joined = |part: &dyn Fn(&OverrideRow) -> String| {
            Cell::from(decided.iter().map(part).collect::<Vec<_>>().join("; ").as_str())
        };
        rows.push(vec![
            code.into(),
            learner.and_then(|learner| learner.name.as_deref()).into(),
            learner.and_then(|learner| learner.roster_id.as_deref()).into(),
            attempt.exercise.as_deref().into(),
            row.stage.as_str().into(),
            Cell::Number(attempt.number as f64),
            attempt.taken.as_str().into(),
            grade.standing.pct.into(),
            grade.standing.outcome.word().into(),
            Cell::Number(grade.standing.points),
            Cell::Number(grade.standing.possible),
            grade.computed.pct.into(),
            grade.computed.outcome.word().into(),
            joined(&|row| row.by.clone()),
            joined(&|row| row.reason.clone()),
            grade.standing.because.join(" ").as_str().into(),
        ]);
    }
    Ok(Table { columns: GRADES, rows })
}
