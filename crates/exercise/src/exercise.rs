//! An exercise, ready to be held against readings.

use std::collections::BTreeMap;

use kerfwright_tooth::Tooth;
use serde::{Deserialize, Serialize};

use crate::range::Range;
use crate::readings::filled;
use crate::sources::Source;
use crate::teeth::Teeth;

/// What was asked, how it is to be reached, and how it is graded. All inheritance is resolved.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct Exercise {
    /// Name by which it is called: small letters, digits, hyphens.
    pub name: String,
    /// What people call it.
    pub title: String,
    /// A sentence or two for the learner.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub summary: Option<String>,
    /// The teeth it is for.
    pub teeth: Vec<Teeth>,
    /// The restoration that the preparation is for.
    pub restoration: String,
    /// Its material.
    pub material: String,
    /// What to know.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<String>,
    /// How points are given.
    pub scoring: Scoring,
    /// The inner form of an onlay, for its target.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub onlay: Option<Onlay>,
    /// In order; the last is the final check.
    pub stages: Vec<Stage>,
}

/// One step of the work, after which a scan may be taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct Stage {
    /// Id within the exercise.
    pub id: String,
    /// What people call it.
    pub title: String,
    /// Ids of instruments of the kit, in the order of use.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub instruments: Vec<String>,
    /// The check with a hand gauge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gauge: Option<Gauge>,
    /// What to watch.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<String>,
    /// What a scan after this stage is held against.
    pub criteria: Vec<Criterion>,
}

/// A check at the chair without a scan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Gauge {
    /// Width of the gauge's bar, mm.
    pub bar_mm: f64,
    /// What to do with it and what tells that it is right.
    pub check: String,
}

/// Limits on one reading, or on one reading at several places.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct Criterion {
    /// Id within the stage.
    pub id: String,
    /// What people call it.
    pub title: String,
    /// Id of the reading; `*` stands for each of `places`.
    pub reading: String,
    /// A further number of the reading instead of its value: `least`, `p05` …
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
    /// Unit of the limits; empty for ratios, counts and words.
    pub unit: String,
    /// What `*` stands for, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub places: Vec<String>,
    /// The limits.
    pub wanted: Wanted,
    /// Other limits at single places.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub at: BTreeMap<String, Exception>,
    /// On which side a value outside acceptable fails the whole.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub critical: Option<Critical>,
    /// Share of the points.
    pub weight: f64,
    /// How several places become one score.
    pub places_score: PlacesScore,
    /// Between ideal and acceptable; the exercise's own way where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub credit: Option<Credit>,
    /// When the reading was not taken; the exercise's own way where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub not_measured: Option<NotMeasured>,
    /// Where the limits come from.
    pub source: Vec<Source>,
    /// Where authorities differ, and which was taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub disagreement: Option<String>,
    /// What to know.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Limits of their own at one place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Exception {
    /// The limits there.
    pub wanted: Wanted,
    /// Where they come from; as for the other places if empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub source: Vec<Source>,
}

/// Limits: on a number or on a word.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(untagged)]
pub enum Wanted {
    /// On a number, in the criterion's unit. Acceptable holds all of ideal.
    Number {
        /// Full marks.
        ideal: Range,
        /// Still right.
        acceptable: Range,
    },
    /// On a word. Acceptable holds all of ideal.
    Words {
        /// Full marks.
        ideal_words: Vec<String>,
        /// Still right.
        acceptable_words: Vec<String>,
    },
}

/// On which side of acceptable a failure is critical.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Critical {
    /// Below.
    Below,
    /// Above.
    Above,
    /// On either side; the only choice for words.
    Both,
}

/// How several places of one criterion become one score.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum PlacesScore {
    /// Each place has the same share of the weight.
    Mean,
    /// The worst place decides.
    Worst,
    /// The best place decides.
    Best,
}

/// What a value between ideal and acceptable earns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Credit {
    /// `acceptable_credit_pct` all the way.
    Step,
    /// A straight line from 100 at the end of ideal to `acceptable_credit_pct` at the end of acceptable.
    Linear,
}

/// What a reading earns whose limit lies inside its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum TooClose {
    /// The most that is not ruled out.
    Benefit,
    /// The middle between the most and the least that is not ruled out.
    Middle,
    /// The least that is not ruled out.
    Strict,
    /// What the bare value earns.
    AsMeasured,
    /// Neither earned nor lost: its weight does not count.
    LeaveOut,
}

/// What a reading earns that was not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum NotMeasured {
    /// Its weight does not count.
    LeaveOut,
    /// Nothing: its points are lost, and the grade says why.
    Zero,
    /// The whole stays ungraded until it is measured.
    NoGrade,
}

/// How points are given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Scoring {
    /// Whether one critical error fails the whole, whatever the points.
    pub critical_error_fails: bool,
    /// Between ideal and acceptable.
    pub credit: Credit,
    /// What the end of acceptable earns.
    pub acceptable_credit_pct: f64,
    /// When a limit lies inside the uncertainty.
    pub too_close: TooClose,
    /// When a reading was not taken.
    pub not_measured: NotMeasured,
    /// Less of the weight than this measured gives no grade.
    pub measured_at_least_pct: f64,
    /// Pass mark.
    pub pass_pct: f64,
}

/// The inner form of an onlay, as a target is laid into a tooth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct Onlay {
    /// Id of the stage in which isthmus and boxes are cut.
    pub stage: String,
    /// Distance of the isthmus walls at its floor, mm.
    pub isthmus_width_mm: f64,
    /// From the occlusal cut along the groove down to the floor, mm.
    pub isthmus_depth_mm: f64,
    /// Distance of a box's facial and lingual wall at its floor, mm.
    pub box_width_mm: f64,
    /// From the proximal surface in to a box's axial wall, at its floor, mm.
    pub box_depth_mm: f64,
    /// Lean of each wall, outwards on its way up from the floor, degrees.
    pub divergence_deg: f64,
    /// Where the numbers come from.
    pub source: Vec<Source>,
    /// What to know.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Exercise {
    /// The stage with an id, or the last one.
    pub fn stage(&self, id: Option<&str>) -> Option<&Stage> {
        match id {
            Some(id) => self.stages.iter().find(|stage| stage.id == id),
            None => self.stages.last(),
        }
    }

    /// Whether it is for this tooth.
    pub fn is_for(&self, tooth: Tooth) -> bool {
        self.teeth.iter().any(|teeth| teeth.includes(tooth))
    }

    /// The teeth in words: `molar or premolar`.
    pub fn teeth_text(&self) -> String {
        self.teeth.iter().map(Teeth::to_string).collect::<Vec<_>>().join(" or ")
    }
}

/// One reading that a criterion asks for.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked<'a> {
    /// Its id.
    pub reading: String,
    /// The place, if the criterion has several.
    pub place: Option<&'a str>,
    /// The limits there.
    pub wanted: &'a Wanted,
}

impl Criterion {
    /// Each reading it asks for, in order.
    pub fn asked(&self) -> Vec<Asked<'_>> {
        if self.places.is_empty() {
            return vec![Asked { reading: self.reading.clone(), place: None, wanted: &self.wanted }];
        }
        let asked = self.places.iter().map(|place| Asked {
            reading: filled(&self.reading, place),
            place: Some(place.as_str()),
            wanted: self.at.get(place).map_or(&self.wanted, |exception| &exception.wanted),
        });
        asked.collect()
    }
}
