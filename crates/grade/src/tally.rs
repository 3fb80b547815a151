//! From criteria to an outcome.

use kerfwright_exercise::{NotMeasured, Scoring};

use crate::finding::rounded;
use crate::grade::{CriterionGrade, Outcome, Tally};

/// What arithmetic on decimal fractions leaves at the pass mark.
const ROUNDING: f64 = 1e-9;

/// What counts of one criterion.
pub struct Counted {
    pub id: String,
    /// Its title, with the places of its critical errors.
    pub told: String,
    pub weight: f64,
    pub points: f64,
    pub possible: f64,
    /// Of the weight, how much was measured.
    pub measured: f64,
    pub critical_error: bool,
    /// Whether it cannot be said if there is a critical error.
    pub critical_open: bool,
    /// Whether a reading is missing without which there is no grade.
    pub blocks: bool,
}

impl Counted {
    /// As computed.
    pub fn of(criterion: &CriterionGrade) -> Self {
        let share = criterion.weight / criterion.items.len().max(1) as f64;
        let measured = criterion.items.iter().filter(|item| item.value.is_some()).count() as f64 * share;
        Self {
            id: criterion.id.clone(),
            told: told(criterion),
            weight: criterion.weight,
            points: criterion.points,
            possible: criterion.possible,
            measured,
            critical_error: criterion.critical_error,
            critical_open: criterion.critical_open,
            blocks: criterion.not_measured == NotMeasured::NoGrade
                && criterion.items.iter().any(|item| item.value.is_none()),
        }
    }
}

/// A criterion by its title, and where it has critical errors.
fn told(criterion: &CriterionGrade) -> String {
    let critical = criterion.items.iter().filter(|item| item.critical_error);
    let places: Vec<String> =
        critical.filter_map(|item| item.at.as_ref()).map(|at| at.replace('_', " ")).collect();
    if places.is_empty() {
        criterion.title.clone()
    } else {
        format!("{} ({})", criterion.title, places.join(", "))
    }
}

/// Adds up.
pub fn tally(counted: &[Counted], scoring: &Scoring) -> Tally {
    let sum = |of: &dyn Fn(&Counted) -> f64| counted.iter().map(of).sum::<f64>();
    let (points, possible, weight) =
        (sum(&|one| one.points), sum(&|one| one.possible), sum(&|one| one.weight));
    let measured_pct = if weight > 0.0 { 100.0 * sum(&|one| one.measured) / weight } else { 0.0 };
    let pct = (possible > 0.0).then(|| 100.0 * points / possible);
    let ids = |of: &dyn Fn(&&Counted) -> bool| -> Vec<String> {
        counted.iter().filter(of).map(|one| one.id.clone()).collect()
    };
    let mut tally = Tally {
        points: rounded(points),
        possible: rounded(possible),
        measured_pct: rounded(measured_pct),
        pct: pct.map(rounded),
        outcome: Outcome::NotGraded,
        critical_errors: ids(&|one| one.critical_error),
        critical_open: ids(&|one| one.critical_open && !one.critical_error),
        because: Vec::new(),
    };
    decide(&mut tally, counted, pct, measured_pct, scoring);
    tally
}

fn decide(tally: &mut Tally, counted: &[Counted], pct: Option<f64>, measured_pct: f64, scoring: &Scoring) {
    // For people by their titles, not by the ids of the file.
    let titles = |of: &dyn Fn(&&Counted) -> bool| -> String {
        counted.iter().filter(of).map(|one| one.told.as_str()).collect::<Vec<_>>().join(", ")
    };
    let missing = titles(&|one| one.blocks);
    let because = &mut tally.because;
    if let Some(pct) = pct {
        because.push(format!("{} of {} points, {pct:.1} %", short(tally.points), short(tally.possible)));
    }
    if !tally.critical_open.is_empty() {
        let open = titles(&|one| one.critical_open && !one.critical_error);
        because.push(format!("whether there is a critical error is open: {open}"));
    }
    let is_critical = !tally.critical_errors.is_empty();
    if is_critical {
        let counts =
            if scoring.critical_error_fails { "fails the whole" } else { "counts by its points alone" };
        let errors = titles(&|one| one.critical_error);
        because.push(format!("critical error, which {counts}: {errors}"));
    }
    tally.outcome = match pct {
        _ if is_critical && scoring.critical_error_fails => Outcome::NotPassed,
        _ if !missing.is_empty() => {
            because.push(format!("no grade before these are measured: {missing}"));
            Outcome::NotGraded
        }
        _ if measured_pct < scoring.measured_at_least_pct - ROUNDING => {
            because.push(format!(
                "only {measured_pct:.0} % of the weight was measured, {:.0} % is needed for a grade",
                scoring.measured_at_least_pct
            ));
            Outcome::NotGraded
        }
        None => {
            because.push("nothing that counts was measured".into());
            Outcome::NotGraded
        }
        Some(pct) => {
            because.push(format!("pass mark {} %", short(scoring.pass_pct)));
            if pct < scoring.pass_pct - ROUNDING { Outcome::NotPassed } else { Outcome::Passed }
        }
    };
}

/// A number without needless digits.
pub fn short(value: f64) -> String {
    format!("{}", (value * 100.0).round() / 100.0)
}
