//! Reports on a class for the eye.

use std::fmt::Write;

use kerfwright_class::cohort::Standing;
use kerfwright_class::{Answer, Estimate, Refusal};
use kerfwright_overview::{Compared, Comparison, LearnerReport, Report};

use crate::columns::Columns;

/// All reports, one under the other.
pub fn render(reports: &[Report]) -> String {
    let mut out = String::new();
    for report in reports {
        out += &heading(report);
        out += &criteria(report);
        out += &report.places.sentences.iter().map(|line| format!("  {line}\n")).collect::<String>();
        out += &items(report);
        out += &report.comparisons.iter().map(comparison).collect::<String>();
        out += &report.learner.as_ref().map(learner).unwrap_or_default();
        out.push('\n');
    }
    for caution in reports.first().map_or(&[][..], |report| &report.cautions[..]) {
        out += caution;
        out.push('\n');
    }
    out
}

fn heading(report: &Report) -> String {
    let older = match report.n_older_version {
        0 => String::new(),
        n => format!(", {n} held against an older version of the exercise and left out"),
    };
    format!(
        "{}, stage {}: {} attempts of {} learners{older}; of each learner the latest counts\n\n",
        report.title, report.stage, report.n_attempts, report.n_learners
    )
}

fn criteria(report: &Report) -> String {
    let mut columns = Columns::new(&[false, true, true, true, true, true, true, true, true]);
    columns.row(["reading", "band", "n", "median", "quartiles", "under", "within", "over", "too close"]);
    for criterion in &report.criteria {
        let name = format!("  {} ({})", criterion.key.name(), criterion.unit);
        let band = match (criterion.acceptable.from, criterion.acceptable.to) {
            (Some(from), Some(to)) => format!("{from} to {to}"),
            (Some(from), None) => format!("from {from}"),
            (None, Some(to)) => format!("to {to}"),
            (None, None) => "open".into(),
        };
        let Answer::Given(distribution) = &criterion.distribution else {
            columns.row([&name, &band, "0", "–", "–", "–", "–", "–", "–"]);
            continue;
        };
        let [_, lower, median, upper, _] = distribution.five;
        columns.row([
            &name,
            &band,
            &distribution.n.to_string(),
            &format!("{median:.2}"),
            &format!("{lower:.2} to {upper:.2}"),
            &share(&distribution.under),
            &share(&distribution.within),
            &share(&distribution.over),
            &share(&distribution.too_close),
        ]);
    }
    columns.render() + "\n"
}

/// A share in percent with its interval.
fn share(estimate: &Estimate) -> String {
    let percent = |value: f64| (value * 100.0).round() + 0.0;
    let interval = estimate.interval.map_or_else(String::new, |interval| {
        format!(" ({}–{})", percent(interval.low), percent(interval.high))
    });
    format!("{} %{interval}", percent(estimate.value))
}

fn items(report: &Report) -> String {
    let items = match &report.items {
        Answer::Given(items) => items,
        Answer::Refused(refusal) => return format!("\n  criteria as items: {refusal}\n"),
    };
    let mut columns = Columns::new(&[false, true, true]);
    columns.row(["\n  criterion", "share of points won", "tells learners apart"]);
    for item in &items.items {
        columns.row([&format!("  {}", item.name), &told(&item.difficulty), &told(&item.discrimination)]);
    }
    columns.row(["  reliability of the grade", &told(&items.reliability), ""]);
    columns.render()
}

fn told(answer: &Answer<Estimate>) -> String {
    match answer {
        Answer::Given(estimate) => number(estimate),
        Answer::Refused(refusal) => refusal.to_string(),
    }
}

fn number(estimate: &Estimate) -> String {
    let interval = match (estimate.interval, estimate.without_interval) {
        (Some(interval), _) => format!(" ({:.2} to {:.2})", interval.low, interval.high),
        (None, Some(why)) => format!(" ({why})"),
        (None, None) => String::new(),
    };
    format!("{:.2}{interval}", estimate.value)
}

fn comparison(comparison: &Comparison) -> String {
    let groups: Vec<String> =
        comparison.groups.iter().map(|(group, n)| format!("{group} ({n} learners)")).collect();
    let refused = |refusal: &Refusal| refusal.to_string();
    let result = match &comparison.result {
        Compared::Refused(why) => why.clone(),
        Compared::Two(answer) => match &**answer {
            Answer::Refused(refusal) => refused(refusal),
            Answer::Given(two) => {
                let test = match &two.test {
                    Answer::Given(test) => format!("p = {:.3}, {}", test.p, test.method),
                    Answer::Refused(refusal) => format!("no test: {refusal}"),
                };
                format!("first less second {} percentage points; {test}", number(&two.shift))
            }
        },
        Compared::Several(Answer::Refused(refusal)) => refused(refusal),
        Compared::Several(Answer::Given(several)) => {
            let medians: Vec<String> = several.medians.iter().map(|median| format!("{median:.1}")).collect();
            format!("medians {} %; p = {:.3}, {}", medians.join(", "), several.test.p, several.test.method)
        }
    };
    format!("\n  points by {}: {}: {result}\n", comparison.by, groups.join(", "))
}

fn learner(learner: &LearnerReport) -> String {
    let mut out = format!("\n  {} over {} attempts\n", learner.learner, learner.attempts.len());
    let points: Vec<String> = learner
        .attempts
        .iter()
        .map(|(_, day, pct)| format!("{day}: {}", pct.map_or("–".into(), |pct| format!("{pct:.0} %"))))
        .collect();
    // Writing to a string cannot fail.
    let _ = writeln!(out, "  points {}", points.join(", "));
    if let Answer::Given(courses) = &learner.courses {
        let mut columns = Columns::new(&[false, false, false, false]);
        columns.row(["  reading", "values", "change an attempt", "trend"]);
        for course in courses {
            let values: Vec<String> = course
                .points
                .iter()
                .map(|point| {
                    let mark = match point.standing {
                        Standing::Under => "-",
                        Standing::Over => "+",
                        Standing::TooClose => "?",
                        Standing::Within => "",
                    };
                    format!("{:.2}{mark}", point.value)
                })
                .collect();
            columns.row([
                &format!("  {}", course.criterion),
                &values.join(" "),
                &told(&course.slope),
                course.trend.words(),
            ]);
        }
        out += &columns.render();
        out += "  - proven under the band, + over, ? too close to call\n";
    }
    for next in &learner.practice {
        let where_to: Vec<String> = next
            .training
            .iter()
            .map(|training| format!("{}, stage {}", training.exercise, training.stage))
            .collect();
        let _ = writeln!(
            out,
            "  practise {} ({:.0} % of the latest attempts missed it): {}",
            next.criterion,
            100.0 * next.recent_faults,
            if where_to.is_empty() { "no kept exercise trains it".into() } else { where_to.join("; ") }
        );
    }
    out
}
