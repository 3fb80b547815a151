//! Bars of known width: what they show of a gap.

/// What a set of bars shows of a gap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown {
    /// The widest bar that goes through: the gap is at least that.
    pub passes_mm: Option<f64>,
    /// The narrowest bar that does not: the gap is less than that.
    pub stops_mm: Option<f64>,
}

/// What bars of the given widths show of a gap when they are held square to it.
///
/// A bar goes through where the gap is at least its width ("with a little play" is left to the hand: common practice, no source).
pub fn shown(widths_mm: impl IntoIterator<Item = f64>, gap_mm: f64) -> Shown {
    let mut shown = Shown { passes_mm: None, stops_mm: None };
    for width_mm in widths_mm {
        if width_mm <= gap_mm {
            shown.passes_mm = Some(shown.passes_mm.map_or(width_mm, |best_mm: f64| best_mm.max(width_mm)));
        } else {
            shown.stops_mm = Some(shown.stops_mm.map_or(width_mm, |best_mm: f64| best_mm.min(width_mm)));
        }
    }
    shown
}

/// The gap between parallel surfaces that a bar needs when it is held askew by `tilt_deg`: *w* cos θ + *d* sin θ, with *d* its
/// depth in the plane of the tilt. A bar held askew shows less room than there is.
///
/// # Source
/// **derived**: the height of a rectangle turned by θ.
pub fn needed_mm(width_mm: f64, depth_mm: f64, tilt_deg: f64) -> f64 {
    let (sin, cos) = tilt_deg.to_radians().abs().sin_cos();
    width_mm * cos + depth_mm * sin
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_bracket_a_gap() {
        let bars = [1.0, 0.5, 2.0, 1.5];
        assert_eq!(shown(bars, 1.2), Shown { passes_mm: Some(1.0), stops_mm: Some(1.5) });
        assert_eq!(shown(bars, 1.5), Shown { passes_mm: Some(1.5), stops_mm: Some(2.0) });
        assert_eq!(shown(bars, 0.4), Shown { passes_mm: None, stops_mm: Some(0.5) });
        assert_eq!(shown(bars, 3.0), Shown { passes_mm: Some(2.0), stops_mm: None });
        assert_eq!(shown([], 1.0), Shown { passes_mm: None, stops_mm: None });
    }

    #[test]
    fn a_bar_held_askew_needs_more_room() {
        assert_eq!(needed_mm(1.5, 3.0, 0.0), 1.5);
        // A 3-4-5 triangle: cos 0.8, sin 0.6 gives 1.5 · 0.8 + 3 · 0.6 = 3.
        assert!((needed_mm(1.5, 3.0, 0.6_f64.asin().to_degrees()) - 3.0).abs() < 1e-12);
    }
}
