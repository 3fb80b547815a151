//! One learner's readings from attempt to attempt.

use kerfwright_class::Answer;
use kerfwright_class::learner::CriterionCourse;

use super::draw::{FROM, Scale, TO, aligned, part, put, sheet, short, text};
use super::readings::sign;
use crate::learner::LearnerReport;
use crate::report::Report;

/// Height of a part.
const HEIGHT: f64 = 84.0;
/// Where its scale begins and ends.
const TOP: f64 = 8.0;
const FOOT: f64 = 66.0;

/// One reading over the attempts, on its own scale with its band; the number of each attempt below.
pub fn course(course: &CriterionCourse, n_attempts: usize) -> String {
    part(HEIGHT, &inside(course, n_attempts))
}

/// All readings of the report's learner, one below the other.
pub fn courses(report: &Report) -> Option<String> {
    report.learner.as_ref().and_then(|learner| of_learner(learner, &report.title, &report.stage))
}

fn of_learner(learner: &LearnerReport, title: &str, stage: &str) -> Option<String> {
    let Answer::Given(courses) = &learner.courses else { return None };
    let line = |course: &CriterionCourse| {
        let name = learner.readings.get(&course.criterion).map(|reading| reading.name.clone());
        (name.unwrap_or_default(), course.trend.words().to_owned(), inside(course, learner.attempts.len()))
    };
    let lines: Vec<_> = courses.iter().map(line).collect();
    let signs = "shaded: acceptable; dot: within, ring: proven outside, diamond: too close to call";
    Some(sheet(&format!("{}: {title}, {stage}", learner.learner), signs, &lines, HEIGHT))
}

fn inside(course: &CriterionCourse, n_attempts: usize) -> String {
    let mut out = String::new();
    let scale = Scale::of(course.points.iter().map(|point| point.value), &[course.band]);
    let height_of = |value: f64| scale.between(value, FOOT, TOP);
    let (low, high) = (course.band.from.unwrap_or(scale.low), course.band.to.unwrap_or(scale.high));
    let left = FROM + 36.0;
    put(
        &mut out,
        format_args!(
            r#"<rect class="band" x="{left}" y="{:.1}" width="{:.1}" height="{:.1}"/>"#,
            height_of(high),
            TO - left,
            height_of(low) - height_of(high)
        ),
    );
    text(&mut out, FROM, TOP + 8.0, "s", &short(scale.high));
    text(&mut out, FROM, FOOT, "s", &short(scale.low));
    let steps = n_attempts.max(2) as f64 - 1.0;
    let at = |attempt: u32| left + 12.0 + (TO - left - 24.0) * (f64::from(attempt) - 1.0) / steps;
    let line: Vec<String> = course
        .points
        .iter()
        .map(|point| format!("{:.1},{:.1}", at(point.attempt), height_of(point.value)))
        .collect();
    put(&mut out, format_args!(r#"<polyline class="axis" points="{}"/>"#, line.join(" ")));
    // Where many attempts stand close, every second or fifth is numbered.
    let every = [1, 2, 5, 10, 20].into_iter().find(|every| n_attempts <= 16 * every).unwrap_or(50);
    for point in &course.points {
        sign(&mut out, (at(point.attempt), height_of(point.value)), point.standing);
    }
    for attempt in (1..=n_attempts as u32).filter(|attempt| attempt % every as u32 == 0 || *attempt == 1) {
        aligned(&mut out, at(attempt), HEIGHT - 4.0, "s", "middle", &attempt.to_string());
    }
    out
}
