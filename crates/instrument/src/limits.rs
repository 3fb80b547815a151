//! Limits and how they are told.

/// From–to, both included; a side that does not bind is infinite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Least.
    pub low: f64,
    /// Greatest.
    pub high: f64,
}

impl Limits {
    /// One value.
    pub fn at(value: f64) -> Self {
        Self { low: value, high: value }
    }

    /// From–to.
    pub fn between(low: f64, high: f64) -> Self {
        Self { low, high }
    }

    /// No less than.
    pub fn at_least(low: f64) -> Self {
        Self { low, high: f64::INFINITY }
    }

    /// No more than.
    pub fn at_most(high: f64) -> Self {
        Self { low: f64::NEG_INFINITY, high }
    }

    pub(crate) fn holds(self, value: f64, slack: f64) -> bool {
        self.low - slack <= value && value <= self.high + slack
    }

    /// Its middle, or its end if it has one only.
    pub(crate) fn middle(self) -> f64 {
        match (self.low.is_finite(), self.high.is_finite()) {
            (true, true) => 0.5 * (self.low + self.high),
            (true, false) => self.low,
            _ => self.high,
        }
    }

    /// Distance from the middle, in halves of the span.
    pub(crate) fn strain(self, value: f64, least_half: f64) -> f64 {
        let half = 0.5 * (self.high - self.low);
        (value - self.middle()).abs()
            / if half.is_finite() { half.max(least_half) } else { self.middle().abs().max(least_half) }
    }

    pub(crate) fn told(self, unit: &str) -> String {
        let (low, high) = (digits(self.low), digits(self.high));
        match (self.low.is_finite(), self.high.is_finite()) {
            (true, true) if low == high => format!("{low}{unit}"),
            (true, true) => format!("{low} to {high}{unit}"),
            (true, false) => format!("at least {low}{unit}"),
            _ => format!("at most {high}{unit}"),
        }
    }
}

/// A number with two digits, without zeros at its end.
pub(crate) fn digits(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
