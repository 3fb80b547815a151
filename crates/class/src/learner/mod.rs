//! One learner over time: each criterion by attempt, what became better, what to practise next.

mod slope;

use serde::{Deserialize, Serialize};

use crate::cohort::{Band, Reading, Standing, check_readings};
use crate::error::at_least;
use crate::{Answer, Estimate, Refusal, Settings};

pub use slope::theil_sen;

/// Latest attempts by which a criterion is judged as it stands now. A choice of engineering.
const LATEST: usize = 3;

/// One criterion of one learner through all attempts.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// The criterion.
    pub criterion: String,
    /// Where its reading should lie.
    pub band: Band,
    /// The attempts in which it was read: their number from 1, and the reading.
    pub attempts: Vec<(u32, Reading)>,
}

/// An exercise or a stage of it that trains a criterion.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Training {
    /// The criterion.
    pub criterion: String,
    /// Name of the exercise.
    pub exercise: String,
    /// Its stage.
    pub stage: String,
}

/// Which way a criterion goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Trend {
    /// The distance to the band shrinks: the interval of its slope lies below zero.
    Improved,
    /// It grows, likewise.
    Worse,
    /// Neither is proven.
    Unproven,
    /// Never outside the band.
    Steady,
}

impl Trend {
    /// As it is told.
    pub fn words(self) -> &'static str {
        match self {
            Self::Improved => "improved",
            Self::Worse => "worse",
            Self::Unproven => "no trend proven",
            Self::Steady => "steady",
        }
    }
}

/// One criterion over time.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct CriterionCourse {
    /// The criterion.
    pub criterion: String,
    /// The band.
    pub band: Band,
    /// Attempt, value, signed distance to the band (0 inside), standing; by rising attempt.
    pub points: Vec<Point>,
    /// Change of the value an attempt.
    pub slope: Answer<Estimate>,
    /// Change of the distance to the band an attempt; below zero it becomes better.
    pub miss_slope: Answer<Estimate>,
    /// Which way it goes.
    pub trend: Trend,
    /// Share of the latest three attempts, or of all if there are fewer, that are proven outside.
    pub recent_faults: f64,
}

/// One reading of a course.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(rename = "CoursePoint"))]
pub struct Point {
    /// Number of the attempt.
    pub attempt: u32,
    /// The value.
    pub value: f64,
    /// Distance outside the band: negative below it, positive above, 0 inside.
    pub miss: f64,
    /// Where it lies.
    pub standing: Standing,
}

/// What to practise next, and why.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Practice {
    /// The criterion.
    pub criterion: String,
    /// Exercise and stage that train it, as given; none where nothing given does.
    pub training: Vec<Training>,
    /// Share of the latest attempts with this fault.
    pub recent_faults: f64,
    /// Which way it goes.
    pub trend: Trend,
}

/// A learner's criteria over time, in the order given.
///
/// # Errors
/// [`Refusal::TooFew`] for a criterion without readings, [`Refusal::NotFinite`], [`Refusal::OutOfRange`] for a negative guard or
/// limits that cross. Too few attempts for a slope are refused in its place alone.
pub fn courses(courses: &[Course], settings: &Settings) -> Result<Vec<CriterionCourse>, Refusal> {
    settings.check()?;
    courses.iter().map(|course| over_time(course, settings)).collect()
}

/// What to practise next: criteria missed in the latest attempts, the most missed first; of equal ones those that become worse, then
/// those without a proven trend, before those that already become better.
pub fn practice(courses: &[CriterionCourse], trainings: &[Training]) -> Vec<Practice> {
    let mut practice: Vec<Practice> = courses
        .iter()
        .filter(|course| course.recent_faults > 0.0)
        .map(|course| Practice {
            criterion: course.criterion.clone(),
            training: trainings.iter().filter(|t| t.criterion == course.criterion).cloned().collect(),
            recent_faults: course.recent_faults,
            trend: course.trend,
        })
        .collect();
    let urgency = |trend: Trend| match trend {
        Trend::Worse => 0,
        Trend::Unproven | Trend::Steady => 1,
        Trend::Improved => 2,
    };
    practice.sort_by(|a, b| {
        let more = b.recent_faults.total_cmp(&a.recent_faults);
        more.then(urgency(a.trend).cmp(&urgency(b.trend))).then_with(|| a.criterion.cmp(&b.criterion))
    });
    practice
}

fn over_time(course: &Course, settings: &Settings) -> Result<CriterionCourse, Refusal> {
    course.band.check()?;
    check_readings(&course.attempts.iter().map(|&(_, reading)| reading).collect::<Vec<Reading>>())?;
    at_least("attempts with this criterion", course.attempts.len(), 1)?;
    let mut points: Vec<Point> = course
        .attempts
        .iter()
        .map(|&(attempt, reading)| Point {
            attempt,
            value: reading.value,
            miss: course.band.miss(reading.value),
            standing: course.band.standing(reading),
        })
        .collect();
    points.sort_by_key(|point| point.attempt);
    let number: Vec<f64> = points.iter().map(|point| f64::from(point.attempt)).collect();
    let of = |value: &dyn Fn(&Point) -> f64| {
        theil_sen(&number, &points.iter().map(value).collect::<Vec<_>>(), settings)
    };
    let miss_slope = of(&|point| point.miss.abs());
    Ok(CriterionCourse {
        criterion: course.criterion.clone(),
        band: course.band,
        slope: of(&|point| point.value).into(),
        trend: trend(&points, miss_slope.as_ref().ok()),
        miss_slope: miss_slope.into(),
        recent_faults: recent_faults(&points),
        points,
    })
}

fn trend(points: &[Point], miss_slope: Option<&Estimate>) -> Trend {
    if points.iter().all(|point| point.miss == 0.0) {
        return Trend::Steady;
    }
    match miss_slope.and_then(|slope| slope.interval) {
        Some(interval) if interval.high < 0.0 => Trend::Improved,
        Some(interval) if interval.low > 0.0 => Trend::Worse,
        _ => Trend::Unproven,
    }
}

fn recent_faults(points: &[Point]) -> f64 {
    let latest = &points[points.len().saturating_sub(LATEST)..];
    let faults = latest.iter().filter(|point| matches!(point.standing, Standing::Under | Standing::Over));
    faults.count() as f64 / latest.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    const BAND: Band = Band { from: Some(1.5), to: Some(2.0) };

    fn course(criterion: &str, values: &[f64]) -> Course {
        let attempts = (1..).zip(values).map(|(n, &value)| (n, Reading { value, guard: 0.02 })).collect();
        Course { criterion: criterion.into(), band: BAND, attempts }
    }

    fn learner() -> Vec<CriterionCourse> {
        let given = [
            course("improving", &[0.7, 0.9, 1.0, 1.15, 1.3, 1.42]),
            course("steady", &[1.6, 1.7, 1.8, 1.7, 1.6, 1.7]),
            course("worse", &[2.1, 2.2, 2.3, 2.4, 2.5, 2.6]),
            course("mixed", &[1.7, 2.3, 1.6, 1.7, 2.2, 1.8]),
        ];
        courses(&given, &Settings::default()).unwrap()
    }

    #[test]
    fn trends_are_those_of_the_distance_to_the_band() {
        let trends: Vec<Trend> = learner().iter().map(|course| course.trend).collect();
        assert_eq!(trends, [Trend::Improved, Trend::Steady, Trend::Worse, Trend::Unproven]);
    }

    #[test]
    fn what_is_missed_and_becomes_worse_comes_first() {
        let training =
            Training { criterion: "worse".into(), exercise: "quayside-26".into(), stage: "axial".into() };
        let next = practice(&learner(), std::slice::from_ref(&training));
        let names: Vec<&str> = next.iter().map(|practice| practice.criterion.as_str()).collect();
        assert_eq!(names, ["worse", "improving", "mixed"]);
        assert_eq!(next[0].training, [training]);
        assert!(next[1].training.is_empty());
    }

    #[test]
    fn two_attempts_show_no_trend() {
        let result = courses(&[course("new", &[0.7, 1.7])], &Settings::default()).unwrap();
        assert_eq!(result[0].trend, Trend::Unproven);
        assert!(matches!(result[0].slope, Answer::Refused(Refusal::TooFew { n: 2, least: 3, .. })));
    }

    #[test]
    fn the_order_of_the_attempts_given_says_nothing() {
        let mut reversed = course("improving", &[0.7, 0.9, 1.0, 1.15, 1.3, 1.42]);
        reversed.attempts.reverse();
        assert_eq!(courses(&[reversed], &Settings::default()).unwrap()[0], learner()[0]);
    }
}
