//! Where round the tooth the class takes too little or too much.

use kerfwright_class::place::{Bin, Finding, Limits, Sample, Third, findings, map};
use kerfwright_class::{Answer, Settings};
use kerfwright_exercise::readings::ASPECTS;
use serde::Serialize;

use crate::entry::{Entry, bands, reading};

/// A share of the class from which a fault at a place is named. A choice of engineering.
const COMMON: f64 = 0.25;

/// Reduction of the axial walls by aspect and third.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct PlacesReport {
    /// For each aspect and third that the exercise asks for: shares of the class that are proven under or over.
    pub bins: Answer<Vec<Bin>>,
    /// The commonest faults.
    pub findings: Vec<Finding>,
    /// The same as sentences.
    pub sentences: Vec<String>,
}

/// Faults by place, one attempt a learner. A place counts as missed only where its reading is proven outside acceptable.
pub fn places(latest: &[&Entry], settings: &Settings) -> PlacesReport {
    let samples: Vec<Sample> = latest.iter().flat_map(|entry| samples(entry)).collect();
    let limits = Limits { under_mm: 0.0, over_mm: 0.0, n_angles: 8 };
    let bins = map(&samples, &limits, settings);
    let findings = bins.as_ref().map(|bins| findings(bins, COMMON)).unwrap_or_default();
    PlacesReport {
        sentences: findings.iter().map(ToString::to_string).collect(),
        findings,
        bins: bins.into(),
    }
}

fn samples(entry: &Entry) -> Vec<Sample> {
    let sample = |item: &kerfwright_grade::Item| {
        let (aspect, third) = place_of(&item.reading)?;
        let ((_, band), reading) = (bands(&item.wanted)?, reading(item)?);
        let miss = band.miss(reading.value);
        let is_proven = miss.abs() > reading.guard;
        Some(Sample {
            attempt: entry.number.to_string(),
            angle_deg: 45.0 * aspect as f64,
            third,
            // Reduction below its band is too little cut: something is left.
            deviation_mm: if is_proven { -miss } else { 0.0 },
        })
    };
    entry.grade.items().filter(|(_, item)| item.part.is_none()).filter_map(|(_, item)| sample(item)).collect()
}

/// Aspect and third of an axial reduction, as `reduction.axial.distal.middle_mm`.
fn place_of(reading: &str) -> Option<(usize, Third)> {
    let (aspect, third) = reading.strip_prefix("reduction.axial.")?.split_once('.')?;
    let third = match third {
        "gingival_mm" => Third::Gingival,
        "middle_mm" => Third::Middle,
        "occlusal_mm" => Third::Occlusal,
        _ => return None,
    };
    Some((ASPECTS.iter().position(|known| *known == aspect)?, third))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_follow_the_ids_of_the_readings() {
        assert_eq!(place_of("reduction.axial.distal.middle_mm"), Some((4, Third::Middle)));
        assert_eq!(place_of("reduction.axial.facial.gingival_mm"), Some((2, Third::Gingival)));
        assert_eq!(place_of("reduction.occlusal.functional_mm"), None);
    }
}
