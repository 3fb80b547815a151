//! Limits: their unit, their kind, and ideal inside acceptable.

use super::Builder;
use super::criterion::line;
use crate::draft::{Bound, LimitDraft, LimitsDraft};
use crate::exercise::Wanted;
use crate::fault::meant;
use crate::range::Range;
use crate::reader::{At, Spot};
use crate::readings::Row;

/// The reading that limits are for.
pub(super) struct Asked<'a> {
    pub row: &'a Row,
    pub part: Option<&'a str>,
    pub reading: &'a str,
}

impl Asked<'_> {
    /// What the limit's key must end in: `_mm`, `_words`, nothing.
    fn ending(&self) -> String {
        if self.row.is_words() {
            return "_words".into();
        }
        match self.row.unit_of_part(self.part) {
            "" => String::new(),
            unit => format!("_{unit}"),
        }
    }
}

impl Builder<'_> {
    /// Checks limits; what an exception leaves out is taken from the `usual` ones.
    pub(super) fn wanted(
        &mut self,
        asked: &Asked<'_>,
        limits: &LimitsDraft,
        usual: Option<&LimitsDraft>,
        spot: &Spot,
        id: &str,
    ) -> Option<Wanted> {
        let given = |limit: &Option<LimitDraft>, usual: Option<&Option<LimitDraft>>| {
            limit.clone().or_else(|| usual.cloned().flatten())
        };
        let ideal = given(&limits.ideal, usual.map(|usual| &usual.ideal));
        let acceptable = given(&limits.acceptable, usual.map(|usual| &usual.acceptable));
        let (Some(first), second) = (ideal.clone().or(acceptable.clone()), ideal.and(acceptable)) else {
            let ending = asked.ending();
            let example = if ending == "_words" { "[\"chamfer\"]" } else { "[1.5, 2.0]" };
            self.missing(
                spot,
                &format!("criterion `{id}` has no limits"),
                &format!("write ideal{ending} = {example}, acceptable{ending}, or both"),
            );
            return None;
        };
        let second = second.unwrap_or_else(|| first.clone());
        let fits = [&first, &second].map(|limit| self.fits(asked, limit));
        if fits.contains(&false) {
            return None;
        }
        match (&first.bound, &second.bound) {
            (Bound::Range(ideal), Bound::Range(acceptable)) => {
                self.number(&first, *ideal, &second, *acceptable)
            }
            (Bound::Words(ideal), Bound::Words(acceptable)) => self.words(asked, ideal, acceptable),
            _ => None,
        }
    }

    /// Whether the key's unit is the reading's.
    fn fits(&mut self, asked: &Asked<'_>, limit: &LimitDraft) -> bool {
        let stem = if limit.key.starts_with("ideal") { "ideal" } else { "acceptable" };
        let ending = asked.ending();
        if limit.key[stem.len()..] == ending {
            return true;
        }
        let thing = match asked.part {
            Some(part) => format!("`{part}` of `{}`", asked.reading),
            None => format!("`{}`", asked.reading),
        };
        let unit = match ending.as_str() {
            "_words" => "says a word".to_owned(),
            "" => "has no unit".to_owned(),
            unit => format!("is in {}", &unit[1..]),
        };
        self.fault(
            &limit.spot,
            format!("`{}` does not suit {thing}, which {unit}", limit.key),
            match ending.as_str() {
                "_words" => format!("write {stem}_words = [\"{}\"]", asked.row.words[0]),
                _ => format!("write {stem}{ending}, with the limit in that unit"),
            },
        );
        false
    }

    fn number(
        &mut self,
        first: &LimitDraft,
        ideal: Range,
        second: &LimitDraft,
        acceptable: Range,
    ) -> Option<Wanted> {
        if acceptable.covers(ideal) {
            return Some(Wanted::Number { ideal, acceptable });
        }
        self.fault(
            &first.spot,
            format!(
                "ideal ({ideal}) reaches outside acceptable ({acceptable}, {})",
                line(&second.spot, &first.spot)
            ),
            "widen acceptable or narrow ideal; an end left out is open",
        );
        None
    }

    fn words(
        &mut self,
        asked: &Asked<'_>,
        ideal: &[At<String>],
        acceptable: &[At<String>],
    ) -> Option<Wanted> {
        let known: Vec<&str> = asked.row.words.iter().map(String::as_str).collect();
        let n_faults = self.faults.len();
        for word in ideal.iter().chain(acceptable) {
            if !known.contains(&word.value.as_str()) {
                let what = format!("`{}` never says \"{}\"", asked.reading, word.value);
                self.fault(&word.spot, what, meant(&word.value, &known));
            }
        }
        if n_faults < self.faults.len() {
            return None;
        }
        let is_inside = |word: &At<String>| acceptable.iter().any(|other| other.value == word.value);
        if let Some(word) = ideal.iter().find(|word| !is_inside(word)) {
            let what = format!("\"{}\" is ideal but not acceptable", word.value);
            self.fault(&word.spot, what, "add it to acceptable_words");
            return None;
        }
        let plain = |words: &[At<String>]| words.iter().map(|word| word.value.clone()).collect();
        Some(Wanted::Words { ideal_words: plain(ideal), acceptable_words: plain(acceptable) })
    }
}
