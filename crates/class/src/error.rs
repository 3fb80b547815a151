//! Why a statistic is not given.

use serde::Serialize;

/// A statistic that would say nothing, or something false, and what would have to be there for it.
#[derive(Debug, Clone, PartialEq, Serialize, thiserror::Error)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(tag = "reason", rename_all = "snake_case")]
pub enum Refusal {
    /// Too little to count.
    #[error("{n} {of}, {least} needed")]
    TooFew {
        /// What was counted, in the plural.
        of: &'static str,
        /// How many there are.
        n: u32,
        /// How many are needed.
        least: u32,
    },
    /// Everything fell into one category: nothing could have disagreed, so that chance and agreement are one.
    #[error(
        "every rating is the same: chance and agreement cannot be told apart; rate attempts that differ more"
    )]
    OneCategory,
    /// Everything is equal where a spread is divided by.
    #[error("no spread in {of}: the ratio has no meaning; choose attempts that differ more")]
    NoSpread {
        /// What does not differ.
        of: &'static str,
    },
    /// A value that is no number.
    #[error("value {index} of {of} is no finite number: mend it or leave it out")]
    NotFinite {
        /// What was read.
        of: &'static str,
        /// Which one, from 0.
        index: u32,
    },
    /// Rows of unequal length, or two lists that belong together and do not match.
    #[error("{of} {index} has {n} entries where {expected} belong")]
    Ragged {
        /// What is uneven.
        of: &'static str,
        /// Which one, from 0.
        index: u32,
        /// Its entries.
        n: u32,
        /// The entries expected.
        expected: u32,
    },
    /// The same examiner rated the same thing twice where one rating is expected.
    #[error(
        "{examiner} rated {criterion} of {attempt} twice at the same time: keep one, or number the gradings"
    )]
    Twice {
        /// Whose rating it is.
        examiner: String,
        /// What was rated.
        attempt: String,
        /// The criterion.
        criterion: String,
    },
    /// A value outside of what the statistic is defined on.
    #[error("{value} is not {expected}")]
    OutOfRange {
        /// The value.
        value: f64,
        /// What is expected.
        expected: &'static str,
    },
    /// No arrangement has the wanted property.
    #[error(
        "{n} attempts cannot keep repeats {gap} places apart: ask for at most {n}, or grade more attempts"
    )]
    NoRoom {
        /// Different attempts.
        n: u32,
        /// The distance that was asked.
        gap: u32,
    },
}

/// Refuses what is not finite.
pub(crate) fn finite(of: &'static str, values: &[f64]) -> Result<(), Refusal> {
    match values.iter().position(|value| !value.is_finite()) {
        Some(index) => Err(Refusal::NotFinite { of, index: index as u32 }),
        None => Ok(()),
    }
}

/// Refuses fewer than `least`.
pub(crate) fn at_least(of: &'static str, n: usize, least: u32) -> Result<(), Refusal> {
    if (n as u32) < least { Err(Refusal::TooFew { of, n: n as u32, least }) } else { Ok(()) }
}

/// A statistic, or the reason why there is none.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(untagged)]
pub enum Answer<T> {
    /// It was computed.
    Given(T),
    /// It would have no sense.
    Refused(
        #[serde(serialize_with = "told")]
        #[cfg_attr(feature = "api", ts(as = "Told"))]
        Refusal,
    ),
}

/// A refusal as it is written out: with its sentence, so that no reader has to make one.
#[derive(Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Told {
    /// Why, for people.
    pub sentence: String,
    /// Why, for programs.
    #[serde(flatten)]
    pub refusal: Refusal,
}

fn told<S: serde::Serializer>(refusal: &Refusal, to: S) -> Result<S::Ok, S::Error> {
    Told { sentence: refusal.to_string(), refusal: refusal.clone() }.serialize(to)
}

impl<T> Answer<T> {
    /// The statistic, if there is one.
    pub fn given(&self) -> Option<&T> {
        match self {
            Self::Given(value) => Some(value),
            Self::Refused(_) => None,
        }
    }
}

impl<T> From<Result<T, Refusal>> for Answer<T> {
    fn from(result: Result<T, Refusal>) -> Self {
        result.map_or_else(Self::Refused, Self::Given)
    }
}
