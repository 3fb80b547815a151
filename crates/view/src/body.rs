//! The bodies of a view: scans and target, each with its place on the screen.

use std::sync::Arc;

use kerfwright_geometry::{Signed, Surface};
use kerfwright_measure::ScanFile;
use kerfwright_measure::scene::Placed;
use nalgebra::{Isometry3, Point3, Vector3};
use serde::{Deserialize, Serialize};

/// Which body.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Which {
    /// The prepared tooth with its neighbours.
    After,
    /// The same arch before cutting.
    Before,
    /// The opposing arch, jaws closed.
    Opposing,
    /// What was to be cut.
    Target,
}

/// A surface with its place in the screen frame.
#[derive(Debug, Clone)]
pub struct Body {
    held: Held,
    /// Takes the surface's own points into the screen frame.
    pub screen_from_own: Isometry3<f64>,
}

#[derive(Debug, Clone)]
enum Held {
    Scan(Arc<ScanFile>),
    Surface(Arc<Surface>),
}

impl Which {
    /// All, in the order in which they are listed.
    pub const ALL: [Self; 4] = [Self::After, Self::Before, Self::Opposing, Self::Target];

    /// The name in addresses and answers.
    pub fn id(self) -> &'static str {
        match self {
            Self::After => "after",
            Self::Before => "before",
            Self::Opposing => "opposing",
            Self::Target => "target",
        }
    }
}

impl Body {
    /// A scan.
    pub fn scan(scan: Arc<ScanFile>, screen_from_own: Isometry3<f64>) -> Self {
        Self { held: Held::Scan(scan), screen_from_own }
    }

    /// Any other surface.
    pub fn surface_at(surface: Arc<Surface>, screen_from_own: Isometry3<f64>) -> Self {
        Self { held: Held::Surface(surface), screen_from_own }
    }

    /// The surface in its own frame.
    pub fn surface(&self) -> &Surface {
        match &self.held {
            Held::Scan(scan) => &scan.surface,
            Held::Surface(surface) => surface,
        }
    }

    /// The surface with its place; what `Placed` calls the after frame is the screen frame here.
    pub fn placed(&self) -> Placed<'_> {
        Placed { surface: self.surface(), after_from_scan: self.screen_from_own }
    }

    /// Signed distance to a point of the screen, positive outside, with the closest point in the surface's own frame. Where
    /// that lies on the scan's open border the distance is positive: there is no inside behind a border.
    pub fn signed(&self, point: &Point3<f64>, within_mm: f64) -> Option<Signed> {
        let surface = self.surface();
        let own = self.screen_from_own.inverse_transform_point(point);
        let mut signed = surface.signed(&own, within_mm)?;
        if surface.on_boundary(&signed.closest) {
            signed.distance_mm = signed.distance_mm.abs();
        }
        Some(signed)
    }

    /// Where a ray from `from` first meets the body, screen frame.
    pub fn ray(
        &self,
        from: &Point3<f64>,
        direction: &Vector3<f64>,
        most_mm: f64,
    ) -> Option<(Point3<f64>, u32)> {
        let own = self.screen_from_own.inverse_transform_point(from);
        let direction_own = self.screen_from_own.inverse_transform_vector(direction);
        let hit = self.surface().tree.ray(&own, &direction_own, most_mm)?;
        Some((self.screen_from_own * hit.point, hit.triangle))
    }
}
