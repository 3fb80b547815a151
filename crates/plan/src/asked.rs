//! What the criteria of an exercise ask, reading by reading.

use kerfwright_exercise::{Criterion, Exercise, Range, Stage, Wanted};
use kerfwright_instrument::Limits;

/// The four sides, by rising angle from mesial.
pub(crate) const SIDES: [&str; 4] = ["mesial", "facial", "distal", "lingual"];

/// Ideal and acceptable.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Ranges {
    pub ideal: Range,
    pub acceptable: Range,
}

impl Ranges {
    fn half(self) -> Self {
        let half =
            |range: Range| Range { from: range.from.map(|end| 0.5 * end), to: range.to.map(|end| 0.5 * end) };
        Self { ideal: half(self.ideal), acceptable: half(self.acceptable) }
    }
}

/// The criterion that asks for a reading's own value at one stage, and what it asks.
fn asking<'e>(stage: &'e Stage, id: &str) -> Option<(&'e Criterion, &'e Wanted)> {
    let own = stage.criteria.iter().filter(|one| one.part.as_deref().is_none_or(|part| part == "median"));
    let mut asked = own.flat_map(|one| one.asked().into_iter().map(move |asked| (one, asked)));
    asked.find(|(_, asked)| asked.reading == id).map(|(one, asked)| (one, asked.wanted))
}

/// What is asked of a reading's own value at one stage.
fn wanted<'e>(stage: &'e Stage, id: &str) -> Option<&'e Wanted> {
    asking(stage, id).map(|(_, wanted)| wanted)
}

/// The criterion that asks for a reading at one stage.
pub(crate) fn criterion<'e>(stage: &'e Stage, id: &str) -> Option<&'e Criterion> {
    asking(stage, id).map(|(criterion, _)| criterion)
}

/// Limits of a number at one stage.
pub(crate) fn number(stage: &Stage, id: &str) -> Option<Ranges> {
    match wanted(stage, id)? {
        Wanted::Number { ideal, acceptable } => Some(Ranges { ideal: *ideal, acceptable: *acceptable }),
        Wanted::Words { .. } => None,
    }
}

/// Words at one stage: ideal, acceptable.
pub(crate) fn words<'e>(stage: &'e Stage, id: &str) -> Option<[&'e [String]; 2]> {
    match wanted(stage, id)? {
        Wanted::Words { ideal_words, acceptable_words } => Some([ideal_words, acceptable_words]),
        Wanted::Number { .. } => None,
    }
}

/// The taper of a wall: its own limits, else half of what is asked of it and its opposite together.
pub(crate) fn taper(stage: &Stage, side: &str) -> Option<Ranges> {
    let [own, sum] = taper_ids(side);
    number(stage, &own).or_else(|| number(stage, &sum).map(Ranges::half))
}

/// The readings that say something of a wall's taper: its own, and the one it has together with its opposite.
pub(crate) fn taper_ids(side: &str) -> [String; 2] {
    let sum = match side {
        "mesial" | "distal" => "mesiodistal",
        "facial" | "lingual" => "faciolingual",
        "mesiofacial" | "distolingual" => "mesiofacial_distolingual",
        _ => "distofacial_mesiolingual",
    };
    [format!("taper.{side}_deg"), format!("toc.{sum}_deg")]
}

/// Stages in the order in which they may speak for stage `at`: itself, the earlier ones from it backwards, the later ones from the
/// last backwards.
pub(crate) fn speaking(exercise: &Exercise, at: usize) -> impl Iterator<Item = &Stage> {
    let earlier = (0..=at).rev();
    let later = (at + 1..exercise.stages.len()).rev();
    earlier.chain(later).filter_map(|k| exercise.stages.get(k))
}

/// Whether stage `at` asks something that no earlier stage asked alike.
pub(crate) fn is_new<T: PartialEq>(
    exercise: &Exercise,
    at: usize,
    what: impl Fn(&Stage) -> Option<T>,
) -> bool {
    let now = what(&exercise.stages[at]);
    now.is_some() && exercise.stages[..at].iter().all(|earlier| what(earlier) != now)
}

/// The same limits for instruments.
pub(crate) fn limits(range: Range) -> Limits {
    Limits { low: range.from.unwrap_or(f64::NEG_INFINITY), high: range.to.unwrap_or(f64::INFINITY) }
}
