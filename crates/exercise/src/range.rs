//! Limits on a number, open ends possible.

use std::fmt;

use serde::{Deserialize, Serialize};

/// From and to, both included; an end that is left out is open.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct Range {
    /// Lower end, in the unit of its reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<f64>,
    /// Upper end, in the unit of its reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<f64>,
}

impl Range {
    /// Whether the value lies in it.
    pub fn holds(self, value: f64) -> bool {
        self.past(value) == 0.0
    }

    /// How far the value lies past the nearer end: negative below, positive above, zero inside.
    pub fn past(self, value: f64) -> f64 {
        match (self.from, self.to) {
            (Some(from), _) if value < from => value - from,
            (_, Some(to)) if to < value => value - to,
            _ => 0.0,
        }
    }

    /// The middle, or the end of a range that has one only.
    pub fn middle(self) -> Option<f64> {
        match (self.from, self.to) {
            (Some(from), Some(to)) => Some(0.5 * (from + to)),
            (from, to) => from.or(to),
        }
    }

    /// Whether all of `inner` lies in it.
    pub fn covers(self, inner: Self) -> bool {
        let lower = match (self.from, inner.from) {
            (None, _) => true,
            (Some(own), Some(theirs)) => own <= theirs,
            (Some(_), None) => false,
        };
        let upper = match (self.to, inner.to) {
            (None, _) => true,
            (Some(own), Some(theirs)) => theirs <= own,
            (Some(_), None) => false,
        };
        lower && upper
    }
}

/// `1.5 to 2`, `at least 1.5`, `at most 2`, `2`.
impl fmt::Display for Range {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.from, self.to) {
            (Some(from), Some(to)) if from == to => write!(formatter, "{from}"),
            (Some(from), Some(to)) => write!(formatter, "{from} to {to}"),
            (Some(from), None) => write!(formatter, "at least {from}"),
            (None, Some(to)) => write!(formatter, "at most {to}"),
            (None, None) => write!(formatter, "any"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn range(from: impl Into<Option<f64>>, to: impl Into<Option<f64>>) -> Range {
        Range { from: from.into(), to: to.into() }
    }

    #[test]
    fn ends_are_included_and_may_be_open() {
        assert!(range(1.5, 2.0).holds(1.5) && range(1.5, 2.0).holds(2.0) && range(1.5, None).holds(99.0));
        assert_eq!(range(1.5, 2.0).past(1.0), -0.5);
        assert_eq!(range(None, 2.0).past(2.5), 0.5);
        let middles =
            [range(1.0, 2.0), range(1.0, None), range(None, 2.0), range(None, None)].map(Range::middle);
        assert_eq!(middles, [Some(1.5), Some(1.0), Some(2.0), None]);
    }

    #[test]
    fn an_open_range_is_covered_only_by_an_open_one() {
        assert!(range(1.0, None).covers(range(1.5, 2.0)));
        assert!(range(1.0, None).covers(range(1.5, None)));
        assert!(!range(1.0, 2.0).covers(range(1.5, None)));
        assert!(!range(1.0, 2.0).covers(range(0.9, 1.5)));
    }

    #[test]
    fn ranges_read_as_people_say_them() {
        let told = [range(1.5, 2.0), range(1.5, None), range(None, 2.0)].map(|range| range.to_string());
        assert_eq!(told, ["1.5 to 2", "at least 1.5", "at most 2"]);
    }
}
