//! A plane through all bodies at once, in the plane's own coordinates.

use std::collections::BTreeMap;

use kerfwright_geometry::Plane;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::body::Which;
use crate::view::View;

/// Where to cut.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
pub struct SectionWish {
    /// A point of the plane, mm, screen frame.
    pub point: [f64; 3],
    /// Perpendicular to the plane, towards the viewer; of any length but 0.
    pub normal: [f64; 3],
}

/// A section.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
pub struct Section {
    /// The plane's coordinates.
    pub plane: SectionPlane,
    /// Chains of points, `[across, up]` in mm, by body. A closed chain ends with its first point.
    pub bodies: BTreeMap<Which, Vec<Vec<[f64; 2]>>>,
    /// The wall lines where the finish line crosses the plane about squarely.
    pub walls: Vec<SectionWall>,
}

/// Coordinates in a plane: `point = origin + across × u + up × v`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
pub struct SectionPlane {
    /// Where u and v are 0, screen frame, mm.
    pub origin: [f64; 3],
    /// Unit, to the right seen against the normal.
    pub across: [f64; 3],
    /// Unit, as far occlusal as the plane allows (mesial in a plane square on the axis).
    pub up: [f64; 3],
}

/// A wall line in a section.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
pub struct SectionWall {
    /// The finish line, mm in the plane.
    pub edge: [f64; 2],
    /// Lower end of the line, mm in the plane.
    pub from: [f64; 2],
    /// Upper end.
    pub to: [f64; 2],
    /// Angle to the path as the station read it, degrees.
    pub taper_deg: f64,
    /// Its expanded uncertainty at this one station, degrees.
    pub taper_u95_deg: f64,
    /// Width of the finish line as the station read it, mm.
    pub width_mm: f64,
    /// Its expanded uncertainty at this one station, mm.
    pub width_u95_mm: f64,
    /// Around the tooth.
    pub angle_deg: f64,
    /// The aspect.
    pub aspect: String,
}

/// Cuts every body of the view; `None` if the normal is no direction.
pub fn section(view: &View, wish: &SectionWish) -> Option<Section> {
    let axes = Axes::of(wish)?;
    let bodies: Vec<(Which, Vec<Vec<[f64; 2]>>)> = view
        .bodies()
        .into_par_iter()
        .map(|(which, body)| {
            let lines = body.placed().section(&axes.plane).into_iter();
            let flat = lines.map(|line| {
                let mut points: Vec<[f64; 2]> = line.points.iter().map(|point| axes.flat(point)).collect();
                if line.closed {
                    points.extend(points.first().copied());
                }
                points
            });
            (which, flat.collect())
        })
        .collect();
    Some(Section {
        plane: SectionPlane {
            origin: axes.plane.point.into(),
            across: axes.across.into(),
            up: axes.up.into(),
        },
        bodies: bodies.into_iter().collect(),
        walls: walls(view, &axes),
    })
}

struct Axes {
    plane: Plane,
    across: Vector3<f64>,
    up: Vector3<f64>,
}

impl Axes {
    fn of(wish: &SectionWish) -> Option<Self> {
        let finite = wish.point.iter().chain(&wish.normal).all(|value| value.is_finite());
        let normal = Vector3::from(wish.normal).try_normalize(1e-9).filter(|_| finite)?;
        let within = |axis: Vector3<f64>| (axis - normal * axis.dot(&normal)).try_normalize(1e-3);
        let up = within(Vector3::z()).or_else(|| within(Vector3::x()))?;
        let plane = Plane { point: Point3::from(wish.point), normal };
        Some(Self { plane, across: up.cross(&normal), up })
    }

    fn flat(&self, point: &Point3<f64>) -> [f64; 2] {
        let at = point - self.plane.point;
        [at.dot(&self.across), at.dot(&self.up)]
    }
}

/// Where the finish line passes through the plane, the station there, if its own plane is nearly this one.
fn walls(view: &View, axes: &Axes) -> Vec<SectionWall> {
    const SQUARE_COS: f64 = 0.94; // 20°: beyond that a section shows another angle than the station's.
    let n = view.stations.len();
    let side = |k: usize| axes.plane.signed_distance(&view.stations[k % n].point) >= 0.0;
    let crossings = (0..n).filter(|&k| side(k) != side(k + 1));
    crossings
        .filter_map(|k| {
            let station = &view.stations[k];
            let wall = station.wall.as_ref()?;
            if station.normal.dot(&axes.plane.normal).abs() < SQUARE_COS {
                return None;
            }
            let [from, to] = wall.ends.map(|end| axes.flat(&end));
            Some(SectionWall {
                edge: axes.flat(&station.point),
                from,
                to,
                taper_deg: wall.taper_deg,
                taper_u95_deg: wall.taper_u95_deg,
                width_mm: wall.width_mm,
                width_u95_mm: station.u95_mm[0],
                angle_deg: station.angle_deg,
                aspect: station.aspect.id().into(),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use kerfwright_geometry::Surface;
    use kerfwright_phantom::bodies::sphere;
    use kerfwright_tooth::Tooth;
    use nalgebra::{Isometry3, Translation3};

    use super::*;
    use crate::body::Body;
    use crate::frame::ScreenFrame;

    /// Nothing but one ball, away from the origin in its own frame and at `centre` on the screen.
    fn ball(radius_mm: f64, n_around: u32, centre: Vector3<f64>) -> View {
        let pose = Isometry3::new(centre, Vector3::new(0.3, -0.2, 1.0)) * Translation3::new(-7.0, 0.0, 4.0);
        let mut mesh = sphere(radius_mm, n_around);
        mesh.vertices.iter_mut().for_each(|vertex| *vertex += Vector3::new(7.0, 0.0, -4.0));
        View {
            frame: ScreenFrame { screen_from_after: pose, facial_sign: 1.0 },
            tooth: Tooth::from_fdi(16).unwrap(),
            path: Vector3::z(),
            after: Body::surface_at(Arc::new(Surface::new(mesh)), pose),
            before: None,
            opposing: None,
            target: None,
            maps: Vec::new(),
            stations: Vec::new(),
            thirds_mm: [1.0, 2.0],
        }
    }

    #[test]
    fn a_ball_is_cut_in_a_circle() {
        let (radius_mm, n_around, centre) = (5.0, 240, Vector3::new(1.0, -2.0, 0.5));
        let view = ball(radius_mm, n_around, centre);
        // A facet lies below the ball by this much at most, both ways; the section's circle is off by that over its share.
        let facet_mm = 2.0 * radius_mm * (1.0 - (std::f64::consts::PI / f64::from(n_around)).cos());
        for normal in [Vector3::x(), Vector3::z(), Vector3::new(1.0, 2.0, -2.0)] {
            let unit = normal.normalize();
            let point = Point3::from(centre) + unit * 3.0;
            let wish = SectionWish { point: point.into(), normal: normal.into() };
            let found = section(&view, &wish).unwrap();
            let lines = &found.bodies[&Which::After];
            assert_eq!(lines.len(), 1);
            let circle_mm = (radius_mm * radius_mm - 9.0).sqrt();
            for at in &lines[0] {
                let off_mm = at[0].hypot(at[1]) - circle_mm;
                assert!(off_mm < 1e-9 && off_mm > -facet_mm * radius_mm / circle_mm, "{off_mm}");
            }
            assert_eq!(lines[0].first(), lines[0].last());
            let [across, up] = [found.plane.across, found.plane.up].map(Vector3::from);
            assert!((across.cross(&up) - unit).norm() < 1e-12, "the normal points at the viewer");
        }
    }

    #[test]
    fn a_plane_without_direction_is_none() {
        let view = ball(5.0, 40, Vector3::zeros());
        for normal in [[0.0; 3], [f64::NAN, 0.0, 1.0], [f64::INFINITY, 0.0, 0.0]] {
            assert_eq!(section(&view, &SectionWish { point: [0.0; 3], normal }), None);
        }
    }
}
