//! From decisions to a share of the points, and to critical errors.

use kerfwright_exercise::{Credit, Critical, Range, Scoring, TooClose, Wanted};
use kerfwright_measure::document::Value;

use crate::decision::{Decision, decide, guard};
use crate::judge::Judged;

/// Share of the points in percent, and how it came about; `None` where the weight does not count.
pub struct Earned {
    pub pct: Option<f64>,
    pub because: String,
}

/// The most and the least that is not ruled out, and what the bare value earns, percent.
struct Span {
    most: f64,
    least: f64,
    bare: f64,
}

/// What a judged reading earns.
pub fn earned(judged: &Judged, wanted: &Wanted, credit: Credit, scoring: &Scoring) -> Earned {
    let span = match (credit, &judged.taken.value, wanted) {
        (Credit::Linear, Value::Number(value), Wanted::Number { ideal, acceptable }) => {
            linear(judged, *value, *ideal, *acceptable, scoring.acceptable_credit_pct)
        }
        _ => step(judged, wanted, scoring.acceptable_credit_pct),
    };
    let level = judged.level().word();
    if span.most == span.least {
        let ideal = match (judged.ideal, judged.acceptable) {
            (Decision::TooClose, Decision::Meets) => ", ideal too close to call",
            _ => "",
        };
        return Earned { pct: Some(span.most), because: format!("{level}{ideal}: {:.0} %", span.most) };
    }
    let of = if judged.acceptable == Decision::TooClose { "acceptable" } else { "ideal" };
    let start = format!("{of} too close to call");
    let (pct, how) = match scoring.too_close {
        TooClose::Benefit => (Some(span.most), "the learner has the benefit"),
        TooClose::Middle => (Some(0.5 * (span.most + span.least)), "the middle of what is possible"),
        TooClose::Strict => (Some(span.least), "only what is proven counts"),
        TooClose::AsMeasured => (Some(span.bare), "the bare value decides"),
        TooClose::LeaveOut => (None, "left out"),
    };
    let because = match pct {
        Some(pct) => format!("{start}, {how}: {pct:.0} %"),
        None => format!("{start}, {how}: its weight does not count"),
    };
    Earned { pct, because }
}

fn step(judged: &Judged, wanted: &Wanted, acceptable_pct: f64) -> Span {
    let of = |ideal: bool, acceptable: bool| match (ideal, acceptable) {
        (true, _) => 100.0,
        (false, true) => acceptable_pct,
        (false, false) => 0.0,
    };
    let (is_ideal, is_acceptable) = match (&judged.taken.value, wanted) {
        (Value::Number(value), Wanted::Number { ideal, acceptable }) => {
            (ideal.holds(*value), acceptable.holds(*value))
        }
        _ => (judged.ideal == Decision::Meets, judged.acceptable == Decision::Meets),
    };
    Span {
        most: of(judged.ideal != Decision::DoesNotMeet, judged.acceptable != Decision::DoesNotMeet),
        least: of(judged.ideal == Decision::Meets, judged.acceptable == Decision::Meets),
        bare: of(is_ideal, is_acceptable),
    }
}

/// On a straight line nothing jumps at the end of ideal, so only the end of acceptable can be too close.
fn linear(judged: &Judged, value: f64, ideal: Range, acceptable: Range, acceptable_pct: f64) -> Span {
    let inside = value.max(acceptable.from.unwrap_or(value)).min(acceptable.to.unwrap_or(value));
    let on_line = line(inside, ideal, acceptable, acceptable_pct);
    let bare = if acceptable.holds(value) { on_line } else { 0.0 };
    match judged.acceptable {
        Decision::Meets => Span { most: on_line, least: on_line, bare: on_line },
        Decision::DoesNotMeet => Span { most: 0.0, least: 0.0, bare: 0.0 },
        Decision::TooClose => Span { most: on_line, least: 0.0, bare },
    }
}

/// 100 inside ideal, falling to `acceptable_pct` at the end of acceptable. Where acceptable is open it does not fall that far:
/// there the step is taken, since no end says how fast.
fn line(value: f64, ideal: Range, acceptable: Range, acceptable_pct: f64) -> f64 {
    let past = ideal.past(value);
    let span = match (past < 0.0, ideal, acceptable) {
        _ if past == 0.0 => return 100.0,
        (true, Range { from: Some(ideal), .. }, Range { from: Some(end), .. }) => ideal - end,
        (false, Range { to: Some(ideal), .. }, Range { to: Some(end), .. }) => end - ideal,
        _ => return acceptable_pct,
    };
    100.0 - (100.0 - acceptable_pct) * (past.abs() / span).min(1.0)
}

/// Whether there is a critical error.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CriticalError {
    /// No.
    No,
    /// Yes.
    Yes,
    /// It cannot be said, and so none is counted.
    Open,
}

/// Whether a judged reading is a critical error of a criterion that has one side or both critical.
pub fn critical_error(
    judged: &Judged,
    wanted: &Wanted,
    critical: Option<Critical>,
    too_close: TooClose,
) -> CriticalError {
    let Some(critical) = critical else { return CriticalError::No };
    let (decision, is_outside) = match (&judged.taken.value, wanted) {
        (Value::Number(value), Wanted::Number { acceptable, .. }) => {
            let side = one_side(*acceptable, critical);
            (decide(*value, guard(judged.taken.u95.unwrap_or(0.0)), side), !side.holds(*value))
        }
        _ => (judged.acceptable, judged.acceptable != Decision::Meets),
    };
    match (decision, too_close) {
        (Decision::Meets, _) => CriticalError::No,
        (Decision::DoesNotMeet, _) | (Decision::TooClose, TooClose::Strict) => CriticalError::Yes,
        (Decision::TooClose, TooClose::AsMeasured) if is_outside => CriticalError::Yes,
        (Decision::TooClose, _) => CriticalError::Open,
    }
}

/// The ends of acceptable past which a value is critical.
fn one_side(acceptable: Range, critical: Critical) -> Range {
    match critical {
        Critical::Below => Range { to: None, ..acceptable },
        Critical::Above => Range { from: None, ..acceptable },
        Critical::Both => acceptable,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const IDEAL: Range = Range { from: Some(1.5), to: Some(2.0) };
    const ACCEPTABLE: Range = Range { from: Some(1.1), to: Some(2.2) };

    /// By hand: from 100 at 1.5 to 40 at 1.1 are 60 points over 0.4 mm, so 1.3 earns 70; from 2.0 to 2.2 likewise, so
    /// 2.05 earns 85.
    #[test]
    fn the_line_falls_from_ideal_to_the_end_of_acceptable() {
        let at = |value| line(value, IDEAL, ACCEPTABLE, 40.0);
        for (value, expected) in
            [(1.7, 100.0), (1.5, 100.0), (1.3, 70.0), (1.1, 40.0), (2.05, 85.0), (2.2, 40.0)]
        {
            assert!((at(value) - expected).abs() < 1e-9, "{value}: {}", at(value));
        }
    }

    #[test]
    fn an_open_end_has_no_line() {
        let open = Range { from: None, ..ACCEPTABLE };
        assert_eq!(line(1.0, IDEAL, open, 40.0), 40.0);
    }
}
