//! Calibrations for the eye.

use std::fmt::Write;

use kerfwright_batch::{Graded, Pool};
use kerfwright_measure::document::Value;
use kerfwright_overview::{
    Calibration, CodeCalibration, CriterionCalibration, KnownReading, LEVELS, Leaning,
};

/// What is proposed, and how it is spread.
pub fn proposal(pool: &Pool, attempts: &[String], criteria: &[Graded]) -> String {
    let mut out = format!("{} of {} attempts with known readings\n\n", attempts.len(), pool.attempts.len());
    for row in pool.attempts.iter().filter(|row| attempts.contains(&row.id)) {
        let levels = pool.levels(&row.id);
        let told: Vec<String> = criteria
            .iter()
            .filter_map(|one| Some(format!("{} {}", one.id, short(*levels.get(&one.id)?))))
            .collect();
        let learner = row.learner.as_deref().unwrap_or("");
        put(
            &mut out,
            format_args!("  {:>4}  {learner:10}  {}  {}\n", row.number, row.taken, told.join(", ")),
        );
    }
    out.push('\n');
    for one in criteria {
        let n = pool.spread(attempts, &one.id);
        let told: Vec<String> = LEVELS.iter().zip(n).map(|((_, word), n)| format!("{n} {word}")).collect();
        put(&mut out, format_args!("  {}: {}\n", one.title, told.join(", ")));
    }
    out
}

/// How one examiner did.
pub fn render(calibration: &Calibration) -> String {
    let mut out = format!("{}\n  all criteria: {}\n", calibration.examiner, leaning(&calibration.all));
    let (same, n) = (calibration.n_repeats_same, calibration.repeats.len());
    if n > 0 {
        put(&mut out, format_args!("  given twice: {same} of {n} the same both times\n"));
    }
    for repeat in calibration.repeats.iter().filter(|repeat| repeat.given[0] != repeat.given[1]) {
        let [first, second] = &repeat.codes;
        let [one, other] = repeat.given;
        let title = &repeat.title;
        put(&mut out, format_args!("    {title}: {first} {}, {second} {}\n", word(one), word(other)));
    }
    calibration.criteria.iter().for_each(|criterion| out += &of_criterion(criterion));
    out
}

fn of_criterion(criterion: &CriterionCalibration) -> String {
    let CriterionCalibration { title, n_same, n_known, .. } = criterion;
    let mut out = format!("  {title}: {n_same} of {n_known} as known; {}\n", leaning(&criterion.leaning));
    for code in criterion.codes.iter().filter(|code| code.differs) {
        let CodeCalibration { code, given, known, readings, .. } = code;
        let known = known.map(word).unwrap_or_default();
        let told: Vec<String> = readings.iter().map(reading).collect();
        put(&mut out, format_args!("    {code}: {}, known {known} ({})\n", word(*given), told.join("; ")));
    }
    out
}

fn leaning(leaning: &Leaning) -> String {
    let Some(estimate) = leaning.severity.given() else { return leaning.sentence.clone() };
    let reach = estimate.interval.map_or_else(
        || estimate.without_interval.unwrap_or_default().to_owned(),
        |interval| format!("{:.2} to {:.2}", interval.low, interval.high),
    );
    format!("{:+.2} levels ({reach}), n = {}: {}", estimate.value, estimate.n, leaning.sentence)
}

fn reading(reading: &KnownReading) -> String {
    let value = match &reading.value {
        Some(Value::Number(value)) => {
            let u95 = reading.u95.map(|u95| format!(" ± {}", short(u95))).unwrap_or_default();
            format!("{}{u95} {}", short(*value), reading.unit)
        }
        Some(Value::Text(word)) => word.clone(),
        None => "not measured".into(),
    };
    format!("{} {}: {}", reading.name, value.trim_end(), reading.level.word())
}

/// A level in words; between two levels, its number.
fn word(level: f64) -> String {
    let known = LEVELS.iter().find(|(value, _)| *value == level);
    known.map_or_else(|| short(level), |(_, word)| (*word).to_owned())
}

/// Two decimals, without zeros at the end.
fn short(value: f64) -> String {
    // Adding zero takes the sign from what rounds to nothing.
    ((value * 100.0).round() / 100.0 + 0.0).to_string()
}

fn put(out: &mut String, what: std::fmt::Arguments<'_>) {
    // Writing to a string cannot fail.
    let _ = out.write_fmt(what);
}
