//! What is off: too little or too much, how far, where, and whether more cutting mends it.

use kerfwright_exercise::Range;
use kerfwright_exercise::readings::MoreCutting;
use kerfwright_measure::document::Place;
use serde::{Deserialize, Serialize};

/// One thing that is not as asked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct Finding {
    /// Too little, too much, or beside what is asked.
    pub kind: FindingKind,
    /// Whether it can still be put right.
    pub mend: Mend,
    /// How far the value lies outside acceptable, in the reading's unit: negative below, positive above, 0 inside.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub past_acceptable: Option<f64>,
    /// The same for ideal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub past_ideal: Option<f64>,
    /// Where on the tooth.
    #[serde(default, rename = "where", skip_serializing_if = "Option::is_none")]
    pub place: Option<Place>,
    /// All of it in a sentence.
    pub text: String,
}

/// Which way a value is off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum FindingKind {
    /// Cut too little: cutting on leads to what is asked.
    TooLittle,
    /// Cut too much: cutting on leads farther away.
    TooMuch,
    /// Below what is asked, where cutting may lead either way or not at all.
    Below,
    /// Above what is asked, where cutting may lead either way or not at all.
    Above,
    /// Another word than the ones asked for, of which no order is known.
    Other,
}

/// Whether a finding can still be put right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Mend {
    /// By cutting more there.
    MoreCutting,
    /// By cutting elsewhere, or in another direction.
    CuttingElsewhere,
    /// Not needed: more than this stage asks for, but the last stage can still be met.
    LastStageOpen,
    /// Not on this tooth.
    BeyondRecall,
    /// By another scan.
    AnotherScan,
}

impl Finding {
    /// The same finding with another outlook. Its sentence ends with it.
    pub fn with(mut self, mend: Mend) -> Self {
        if let Some(start) = self.text.strip_suffix(self.mend.word()) {
            self.text = format!("{start}{}", mend.word());
        }
        self.mend = mend;
        self
    }
}

impl Mend {
    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Self::MoreCutting => "can still be cut",
            Self::CuttingElsewhere => "can be mended by cutting elsewhere",
            Self::LastStageOpen => "the last stage can still be met",
            Self::BeyondRecall => "beyond recall",
            Self::AnotherScan => "take another scan",
        }
    }
}

/// Which way a value that is below (`true`) or above what is asked is off, and what mends it.
pub fn direction(is_below: bool, more_cutting: MoreCutting) -> (FindingKind, Mend) {
    let beside = if is_below { FindingKind::Below } else { FindingKind::Above };
    match more_cutting {
        MoreCutting::Raises if is_below => (FindingKind::TooLittle, Mend::MoreCutting),
        MoreCutting::Lowers if !is_below => (FindingKind::TooLittle, Mend::MoreCutting),
        MoreCutting::Raises | MoreCutting::Lowers => (FindingKind::TooMuch, Mend::BeyondRecall),
        MoreCutting::Either => (beside, Mend::CuttingElsewhere),
        MoreCutting::Nothing => (beside, Mend::AnotherScan),
    }
}

/// The ranges of a number with what more cutting does to it.
pub struct Sought {
    pub ideal: Range,
    pub acceptable: Range,
    pub more_cutting: MoreCutting,
}

impl Sought {
    /// The finding of a value outside ideal; `None` inside.
    pub fn finding(&self, value: f64, unit: &str, place: Option<&Place>) -> Option<Finding> {
        let past_ideal = self.ideal.past(value);
        if past_ideal == 0.0 {
            return None;
        }
        let past_acceptable = self.acceptable.past(value);
        let (kind, mend) = direction(past_ideal < 0.0, self.more_cutting);
        Some(Finding {
            text: told(kind, mend, past_acceptable, past_ideal, unit, place),
            kind,
            mend,
            past_acceptable: Some(rounded(past_acceptable)),
            past_ideal: Some(rounded(past_ideal)),
            place: place.cloned(),
        })
    }
}

/// The finding of a word that is not ideal.
pub fn of_word(
    value: &str,
    ideal: &[String],
    order: &[String],
    more_cutting: MoreCutting,
    place: Option<&Place>,
) -> Finding {
    let rank = |word: &str| order.iter().position(|known| known == word);
    let ranks: Vec<usize> = ideal.iter().filter_map(|word| rank(word)).collect();
    let has_order = matches!(more_cutting, MoreCutting::Raises | MoreCutting::Lowers);
    let (kind, mend) = match (rank(value), ranks.iter().min(), ranks.iter().max()) {
        (Some(own), Some(least), _) if has_order && own < *least => direction(true, more_cutting),
        (Some(own), _, Some(greatest)) if has_order && *greatest < own => direction(false, more_cutting),
        _ => (FindingKind::Other, direction(true, more_cutting).1),
    };
    let start = match kind {
        FindingKind::TooLittle => "too little: ",
        FindingKind::TooMuch => "too much: ",
        _ => "",
    };
    let wanted = ideal.join(" or ");
    Finding {
        kind,
        mend,
        past_acceptable: None,
        past_ideal: None,
        text: format!("{start}{value} in place of {wanted}{}; {}", at(place), mend.word()),
        place: place.cloned(),
    }
}

fn told(
    kind: FindingKind,
    mend: Mend,
    past_acceptable: f64,
    past_ideal: f64,
    unit: &str,
    place: Option<&Place>,
) -> String {
    let (past, end) =
        if past_acceptable == 0.0 { (past_ideal, "ideal") } else { (past_acceptable, "acceptable") };
    let amount = shortfall(past.abs(), unit);
    let place = at(place);
    match kind {
        // More cutting lowers an undercut or the share of sharp edges: what is over the limit there was cut too little.
        FindingKind::TooLittle if past > 0.0 => {
            format!("cut too little{place}: {amount} over {end}; {}", mend.word())
        }
        FindingKind::TooMuch if past < 0.0 => {
            format!("cut too much{place}: {amount} under {end}; {}", mend.word())
        }
        FindingKind::TooLittle => format!("too little{place}: {amount} short of {end}; {}", mend.word()),
        FindingKind::TooMuch => format!("too much{place}: {amount} past {end}; {}", mend.word()),
        FindingKind::Below => format!("{amount} below {end}{place}; {}", mend.word()),
        FindingKind::Above | FindingKind::Other => format!("{amount} above {end}{place}; {}", mend.word()),
    }
}

fn at(place: Option<&Place>) -> String {
    place.map_or(String::new(), |place| format!(" ({}, {:.0}°)", place.aspect, place.angle_deg))
}

/// An amount that is not nothing, however small.
fn shortfall(value: f64, unit: &str) -> String {
    let least = match unit {
        "mm" | "mm2" | "" => 0.01,
        "um" => 1.0,
        _ => 0.1,
    };
    if value < least { format!("less than {}", amount(least, unit)) } else { amount(value, unit) }
}

/// A number as people read it: `0.12 mm`, `3.1°`, `12 µm`.
pub fn amount(value: f64, unit: &str) -> String {
    match unit {
        "mm" => format!("{value:.2} mm"),
        "deg" => format!("{value:.1}°"),
        "um" => format!("{value:.0} µm"),
        "mm2" => format!("{value:.2} mm²"),
        "mm3" => format!("{value:.1} mm³"),
        "pct" => format!("{value:.1} %"),
        _ => format!("{}", (value * 100.0).round() / 100.0),
    }
}

/// To four decimals, as readings are.
pub fn rounded(value: f64) -> f64 {
    kerfwright_measure::document::rounded(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sought(more_cutting: MoreCutting) -> Sought {
        Sought {
            ideal: Range { from: Some(1.5), to: Some(2.0) },
            acceptable: Range { from: Some(1.2), to: Some(2.3) },
            more_cutting,
        }
    }

    #[test]
    fn too_little_can_be_cut_and_too_much_cannot_be_brought_back() {
        let reduction = sought(MoreCutting::Raises);
        let less = reduction.finding(1.0, "mm", None).unwrap();
        assert_eq!(
            (less.kind, less.mend, less.past_acceptable),
            (FindingKind::TooLittle, Mend::MoreCutting, Some(-0.2))
        );
        assert_eq!(less.text, "too little: 0.20 mm short of acceptable; can still be cut");
        let more = reduction.finding(2.5, "mm", None).unwrap();
        assert_eq!((more.kind, more.mend), (FindingKind::TooMuch, Mend::BeyondRecall));
        assert!(reduction.finding(1.7, "mm", None).is_none());
    }

    #[test]
    fn a_finish_line_over_the_gingiva_falls_when_cut() {
        let height = sought(MoreCutting::Lowers);
        let [high, low] = [3.0, 0.0].map(|value| height.finding(value, "mm", None).unwrap());
        assert_eq!((high.mend, low.mend), (Mend::MoreCutting, Mend::BeyondRecall));
        assert_eq!(high.text, "cut too little: 0.70 mm over acceptable; can still be cut");
        assert_eq!(low.text, "cut too much: 1.20 mm under acceptable; beyond recall");
    }

    #[test]
    fn scans_are_taken_again_and_slopes_are_cut_elsewhere() {
        assert_eq!(sought(MoreCutting::Nothing).finding(3.0, "um", None).unwrap().mend, Mend::AnotherScan);
        let slope = sought(MoreCutting::Either).finding(3.0, "deg", None).unwrap();
        assert_eq!((slope.kind, slope.mend), (FindingKind::Above, Mend::CuttingElsewhere));
    }

    #[test]
    fn words_have_their_order() {
        let order: Vec<String> = ["knife edge", "chamfer", "shoulder"].map(String::from).to_vec();
        let of = |value: &str| of_word(value, &order[1..2], &order, MoreCutting::Raises, None);
        assert_eq!(of("knife edge").mend, Mend::MoreCutting);
        assert_eq!(of("shoulder").mend, Mend::BeyondRecall);
        assert_eq!(of("shoulder").text, "too much: shoulder in place of chamfer; beyond recall");
        let side = of_word("mesial neighbour", &["none".into()], &[], MoreCutting::Either, None);
        assert_eq!((side.kind, side.mend), (FindingKind::Other, Mend::CuttingElsewhere));
    }
}
