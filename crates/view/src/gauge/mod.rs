//! A round bar that is pushed along a line until it no longer fits.
//!
//! The bar is straight, round, with a round end. It is pushed along its own axis from a starting point. It may be held a little
//! higher or lower across the gap, but not turned, and only so that it fits where it starts. It goes as far as the best
//! height lets it.

mod push;

use nalgebra::{Point3, Vector3};
use serde::{Deserialize, Serialize};

use crate::body::{Body, Which};
use crate::view::View;
use push::Push;

/// How far the bar is pushed if nothing stops it and nothing else was said, mm.
const USUAL_MM: f64 = 12.0;
/// Farthest push, mm.
const MOST_MM: f64 = 40.0;

/// What to push, and where.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
pub struct GaugeWish {
    /// Where the bar's round end starts, screen frame, mm; a point of the prepared surface or before it.
    pub point: [f64; 3],
    /// Where to it is pushed; of any length but 0.
    pub direction: [f64; 3],
    /// Diameter of the bar, mm: 0.1 to 6.
    pub width_mm: f64,
    /// Between which surfaces.
    pub toward: Toward,
    /// Farthest push, mm; 12 if left out, 40 at most.
    #[serde(default)]
    #[cfg_attr(feature = "api", ts(optional))]
    pub length_mm: Option<f64>,
}

/// Between which surfaces the bar is pushed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Toward {
    /// Between the prepared and the opposing teeth, jaws closed; the bar's side may lie up to 2.5 mm over the starting point.
    Opposing,
    /// Between the prepared tooth and the one beside it; the bar's middle may pass the starting point by up to 1 mm.
    Neighbour,
}

/// How far the bar went.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
pub struct GaugeAnswer {
    /// Whether it goes all the way.
    pub fits: bool,
    /// Whether it fits at all where it starts.
    pub enters: bool,
    /// How far its end went, mm.
    pub stops_at_mm: f64,
    /// How far it was to go, mm.
    pub length_mm: f64,
    /// Middle of the round end where it stopped, screen frame, mm.
    pub end: [f64; 3],
    /// Middle of the round end where it started, at the height that went farthest.
    pub start: [f64; 3],
    /// Where it touches, at most one point a body.
    pub touches: Vec<GaugeTouch>,
}

/// A contact.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
pub struct GaugeTouch {
    /// With which body.
    pub body: Which,
    /// Screen frame, mm.
    pub point: [f64; 3],
}

/// Why nothing can be pushed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GaugeFault {
    /// A number is missing, infinite, or out of its range.
    Wish,
    /// There is no opposing scan.
    NoOpposing,
}

/// Pushes a bar through a view.
///
/// # Errors
/// See [`GaugeFault`].
pub fn gauge(view: &View, wish: &GaugeWish) -> Result<GaugeAnswer, GaugeFault> {
    let bodies = match wish.toward {
        Toward::Opposing => {
            let opposing = view.opposing.as_ref().ok_or(GaugeFault::NoOpposing)?;
            vec![(Which::After, &view.after), (Which::Opposing, opposing)]
        }
        Toward::Neighbour => vec![(Which::After, &view.after)],
    };
    let toward = |direction: &Vector3<f64>| match wish.toward {
        Toward::Opposing => Vector3::z(),
        Toward::Neighbour => Vector3::z().cross(direction),
    };
    push(bodies, wish, toward)
}

/// Pushes a bar between bodies; `toward` gives the way across the gap for a unit direction.
fn push(
    bodies: Vec<(Which, &Body)>,
    wish: &GaugeWish,
    toward: impl Fn(&Vector3<f64>) -> Vector3<f64>,
) -> Result<GaugeAnswer, GaugeFault> {
    let numbers = wish.point.iter().chain(&wish.direction);
    let sound = numbers.copied().all(f64::is_finite) && (0.1..=6.0).contains(&wish.width_mm);
    let direction = Vector3::from(wish.direction).try_normalize(1e-9).filter(|_| sound);
    let direction = direction.ok_or(GaugeFault::Wish)?;
    let across = toward(&direction);
    let across = (across - direction * across.dot(&direction)).try_normalize(1e-6).ok_or(GaugeFault::Wish)?;
    let length_mm = wish.length_mm.unwrap_or(USUAL_MM);
    if !(length_mm > 0.0 && length_mm <= MOST_MM) {
        return Err(GaugeFault::Wish);
    }
    let push = Push {
        bodies,
        point: Point3::from(wish.point),
        direction,
        across,
        heights_mm: match wish.toward {
            Toward::Opposing => [-0.5, 0.5 * wish.width_mm + 2.5],
            Toward::Neighbour => [-1.0, 1.0],
        },
        radius_mm: 0.5 * wish.width_mm,
        length_mm,
    };
    Ok(push.answer())
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use kerfwright_geometry::Surface;
    use kerfwright_mesh::Mesh;
    use nalgebra::Isometry3;

    use super::push::{STEP_MM, TOUCH_MM};
    use super::*;

    /// A flat sheet of 20 by 20 mm at a height that may change along x, facing up or down.
    fn sheet(height: impl Fn(f64) -> f64, faces_up: bool) -> Body {
        let n = 40;
        let mut mesh = Mesh::default();
        for j in 0..=n {
            for i in 0..=n {
                let (x, y) = (f64::from(i) * 0.5 - 10.0, f64::from(j) * 0.5 - 10.0);
                mesh.vertices.push(Point3::new(x, y, height(x)));
            }
        }
        for j in 0..n as u32 {
            for i in 0..n as u32 {
                let a = j * 41 + i;
                let quads = [[a, a + 1, a + 42], [a, a + 42, a + 41]];
                let turned = quads.map(|[a, b, c]| if faces_up { [a, b, c] } else { [a, c, b] });
                mesh.triangles.extend(turned);
            }
        }
        Body::surface_at(Arc::new(Surface::new(mesh)), Isometry3::identity())
    }

    fn pushed(lower: &Body, upper: &Body, width_mm: f64) -> GaugeAnswer {
        let wish = GaugeWish {
            point: [-5.0, 0.0, 0.0],
            direction: [1.0, 0.0, 0.0],
            width_mm,
            toward: Toward::Opposing,
            length_mm: Some(9.0),
        };
        push(vec![(Which::After, lower), (Which::Opposing, upper)], &wish, |_| Vector3::z()).unwrap()
    }

    #[test]
    fn between_planes_2_mm_apart_1_9_fits_and_2_1_does_not() {
        let (lower, upper) = (sheet(|_| 0.0, true), sheet(|_| 2.0, false));
        let thin = pushed(&lower, &upper, 1.9);
        assert!(thin.fits && thin.stops_at_mm == 9.0 && thin.touches.is_empty(), "{thin:?}");
        let exact = pushed(&lower, &upper, 1.999);
        assert!(exact.fits, "{exact:?}");
        let thick = pushed(&lower, &upper, 2.1);
        assert!(!thick.fits && !thick.enters && thick.stops_at_mm == 0.0, "{thick:?}");
        assert_eq!(thick.touches.len(), 2);
    }

    #[test]
    fn in_a_wedge_the_bar_stops_where_the_closed_form_says() {
        // The upper sheet falls from 2.5 at x = -5 by 0.25 a millimetre. The bar lies on the lower sheet, its middle at r; its
        // round end meets the upper one where (h(x) - r) cos = r.
        let slope = 0.25f64;
        let (lower, upper) = (sheet(|_| 0.0, true), sheet(|x| 2.5 - slope * (x + 5.0), false));
        let cosine = 1.0 / slope.hypot(1.0);
        for width_mm in [1.0, 1.5, 2.0] {
            let radius_mm = 0.5 * width_mm;
            let expected_mm = (2.5 - radius_mm - radius_mm / cosine) / slope;
            let answer = pushed(&lower, &upper, width_mm);
            // Room that is not told from contact, over the slope at which the gap closes.
            let tolerance_mm = STEP_MM + 2.0 * TOUCH_MM * (1.0 + 1.0 / cosine) / slope;
            let off_mm = answer.stops_at_mm - expected_mm;
            assert!(off_mm.abs() < tolerance_mm, "{width_mm}: {answer:?} against {expected_mm}");
            assert!(!answer.fits && answer.enters && answer.touches.len() == 2, "{answer:?}");
        }
    }

    #[test]
    fn a_wish_that_makes_no_sense_is_refused() {
        let (lower, upper) = (sheet(|_| 0.0, true), sheet(|_| 2.0, false));
        let bodies = || vec![(Which::After, &lower), (Which::Opposing, &upper)];
        let wish = GaugeWish {
            point: [0.0; 3],
            direction: [0.0, 0.0, 1.0],
            width_mm: 1.0,
            toward: Toward::Opposing,
            length_mm: None,
        };
        let push = |wish: &GaugeWish| push(bodies(), wish, |_| Vector3::z()).unwrap_err();
        assert_eq!(push(&wish), GaugeFault::Wish);
        assert_eq!(push(&GaugeWish { direction: [1.0, 0.0, 0.0], width_mm: 99.0, ..wish }), GaugeFault::Wish);
        assert_eq!(push(&GaugeWish { direction: [f64::NAN, 0.0, 0.0], ..wish }), GaugeFault::Wish);
    }
}
