//! The values at one spot.

use kerfwright_measure::document::rounded;
use kerfwright_measure::frame::Aspect;
use nalgebra::Point3;
use serde::{Deserialize, Serialize};

use crate::maps::{Map, MapKind};
use crate::ring::Uncertain;
use crate::view::{View, coordinates};

/// Farther than this from the after scan there is nothing to say, mm.
const REACH_MM: f64 = 3.0;

/// What is known at a spot of the after scan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
pub struct Spot {
    /// The closest point of the after scan, screen frame, mm.
    pub point: [f64; 3],
    /// Outward, unit.
    pub normal: [f64; 3],
    /// The aspect it lies in.
    pub aspect: String,
    /// Around the tooth: 0 mesial, 90 facial, 180 distal, 270 lingual.
    pub angle_deg: f64,
    /// Height over the finish line at this side, along the path, mm.
    pub above_finish_line_mm: f64,
    /// `gingival`, `middle` or `occlusal` third of the wall; absent off the prepared tooth.
    pub third: Option<String>,
    /// What the maps say here; a map that knows nothing here is left out.
    pub values: Vec<SpotValue>,
}

/// The value of one map.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
pub struct SpotValue {
    /// Which map.
    pub map: MapKind,
    /// `mm` or `deg`.
    pub unit: String,
    /// Value and expanded uncertainty.
    #[serde(flatten)]
    pub uncertain: Uncertain,
}

/// The values at the point of the after scan that is closest to `point`; `None` if none is near.
pub fn spot(view: &View, point: &Point3<f64>) -> Option<Spot> {
    let body = &view.after;
    let surface = body.surface();
    let found = body.signed(point, REACH_MM)?;
    let closest = found.closest;
    let corners = surface.mesh.triangles[closest.triangle as usize];
    let weights = barycentric(&corners.map(|corner| surface.mesh.vertices[corner as usize]), &closest.point);
    let at = body.screen_from_own * closest.point;
    let (angle_deg, above_mm) = (view.frame.angle_deg(&at), above_finish_line_mm(view, &at));
    let values: Vec<SpotValue> = view.maps.iter().filter_map(|map| value(map, corners, weights)).collect();
    let on_prepared = values.iter().any(|value| value.map != MapKind::Damage);
    Some(Spot {
        point: coordinates(&at),
        normal: coordinates(&Point3::from(body.screen_from_own * surface.normal_at(&closest))),
        aspect: Aspect::at(angle_deg).id().into(),
        angle_deg: rounded(angle_deg),
        above_finish_line_mm: rounded(above_mm),
        third: on_prepared.then(|| third(above_mm, view.thirds_mm).into()),
        values,
    })
}

fn value(map: &Map, corners: [u32; 3], weights: [f64; 3]) -> Option<SpotValue> {
    const ENOUGH: f64 = 0.5;
    let (mut sum, mut weight, mut u95) = (0.0, 0.0, 0.0f64);
    for (corner, share) in corners.into_iter().zip(weights) {
        let value = map.values[corner as usize];
        if !value.is_nan() {
            sum += share * f64::from(value);
            weight += share;
            u95 = u95.max(map.u95_at(corner));
        }
    }
    let uncertain = Uncertain { value: rounded(sum / weight), u95: rounded(u95) };
    (weight >= ENOUGH).then(|| SpotValue { map: map.kind, unit: map.kind.unit().into(), uncertain })
}

/// Weights of the corners of a triangle at a point in it.
fn barycentric(corners: &[Point3<f64>; 3], point: &Point3<f64>) -> [f64; 3] {
    let [a, b, c] = corners;
    let normal = (b - a).cross(&(c - a));
    let area = normal.norm_squared();
    if area <= 0.0 {
        return [1.0, 0.0, 0.0];
    }
    let part = |from: &Point3<f64>, to: &Point3<f64>| (to - from).cross(&(point - from)).dot(&normal) / area;
    let [u, v, w] = [part(b, c), part(c, a), part(a, b)].map(|share| share.max(0.0));
    let sum = (u + v + w).max(1e-12);
    [u / sum, v / sum, w / sum]
}

/// Over the station that lies nearest by angle.
fn above_finish_line_mm(view: &View, point: &Point3<f64>) -> f64 {
    let angle_deg = view.frame.angle_deg(point);
    let off = |station_deg: f64| {
        let off = (station_deg - angle_deg).rem_euclid(360.0);
        off.min(360.0 - off)
    };
    let nearest = view.stations.iter().min_by(|a, b| off(a.angle_deg).total_cmp(&off(b.angle_deg)));
    nearest.map_or(f64::NAN, |station| (point - station.point).dot(&view.path))
}

fn third(above_mm: f64, [low_mm, high_mm]: [f64; 2]) -> &'static str {
    if above_mm < low_mm {
        "gingival"
    } else if above_mm < high_mm {
        "middle"
    } else {
        "occlusal"
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_give_the_point_back() {
        let corners = [Point3::new(0.0, 0.0, 0.0), Point3::new(2.0, 0.0, 1.0), Point3::new(0.0, 3.0, 0.0)];
        let weights = [0.2, 0.5, 0.3];
        let sum: nalgebra::Vector3<f64> =
            corners.iter().zip(weights).map(|(corner, weight)| corner.coords * weight).sum();
        let found = barycentric(&corners, &Point3::from(sum));
        assert!(found.iter().zip(weights).all(|(a, b)| (a - b).abs() < 1e-12), "{found:?}");
    }
}
