//! `occlusal.incline.*`: how the cusp inclines of the prepared occlusal surface lie.

use nalgebra::{Matrix3, Vector3};

use crate::preparation::Preparation;
use crate::region::pooled_normal;
use crate::sheet::{Sheet, expanded, number};
use crate::zones::{OcclusalVertex, Zone};

/// Surface that falls outward by more than this lies beyond the cusp's ridge.
const OUTWARD_DEG: f64 = 15.0;
/// An incline smaller than this is none, mm².
const LEAST_AREA_MM2: f64 = 1.0;
/// A strip narrower than this, seen along the arch, is a rounded edge, mm.
const LEAST_WIDTH_MM: f64 = 0.5;
/// How far an incline's curved borders lift its plane on one side, mm (1 sigma, from phantom scans).
const BORDER_MM: f64 = 0.02;

const IDS: [&str; 4] = [
    "occlusal.incline.functional_outer_deg",
    "occlusal.incline.functional_inner_deg",
    "occlusal.incline.nonfunctional_inner_deg",
    "occlusal.incline.parallel_deg",
];

/// Inclinations of the three cusp inclines against the plane square on the path, seen along the arch, and the angle
/// between the functional outer and the non-functional inner one.
///
/// An incline's plane is fitted to its vertices, weighted by area, what lies off by more than 0.15 mm counting less. On
/// the functional side of the groove band what falls outward by more than 15° is the outer incline, the rest the
/// inner one; on the other side what falls outward is left out. Positive: the outer one falls outward, the inner
/// ones towards the groove.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let Some(sign) = preparation.functional_sign() else {
        IDS.iter().for_each(|&id| sheet.refuse(id, "front teeth have no cusp inclines"));
        return;
    };
    if preparation.occlusal.groove.is_none() {
        IDS.iter().for_each(|&id| sheet.refuse(id, "no fossae between two cusp rows were found"));
        return;
    }
    let faces = Faces::new(preparation);
    let (outer, inner) = faces.split(preparation.occlusal.zone(Zone::Functional, sign), sign);
    let (_, other) = faces.split(preparation.occlusal.zone(Zone::Nonfunctional, sign), -sign);
    if std::env::var("OCC").is_ok() { eprintln!("groove {:?} outer n {} area {:.2} len {:?} inner {} {:.2}", preparation.occlusal.groove, outer.len(), outer.iter().map(|s| s.area_mm2).sum::<f64>(), Incline::of(&outer, &faces).map(|i| (i.length_mm, i.slope_facially, i.slope_mesially)), inner.len(), inner.iter().map(|s| s.area_mm2).sum::<f64>()); }
    let outer =
        Incline::of(&outer, &faces).filter(|incline| incline.area_mm2 > LEAST_WIDTH_MM * incline.length_mm);
    let (inner, other) = (Incline::of(&inner, &faces), Incline::of(&other, &faces));
    let reasons = [
        "nothing beyond the functional cusps' ridge falls outward by more than 15 degrees: no functional cusp bevel",
        "no inner incline of the functional cusps is left",
        "no inner incline of the non-functional cusps is left",
    ];
    // Slopes are components towards the facial; each incline counts from the horizontal in its own sense.
    let senses = [-sign, sign, -sign];
    for ((id, incline), (reason, sense)) in
        IDS.into_iter().zip([&outer, &inner, &other]).zip(reasons.into_iter().zip(senses))
    {
        let Some(incline) = incline else {
            sheet.refuse(id, reason);
            continue;
        };
        let reading = number((sense * incline.slope_facially).atan().to_degrees(), "deg", incline.u95_deg())
            .with("mesial_deg", incline.slope_mesially.atan().to_degrees())
            .with("area_mm2", incline.area_mm2)
            .at(Some(preparation.place_of_vertex(incline.middle)));
        sheet.write(id, reading);
    }
    match (&outer, &other) {
        (Some(outer), Some(other)) => {
            let angle_deg = outer.normal().angle(&other.normal()).to_degrees();
            let u95 = outer.u95_deg().hypot(other.u95_deg());
            sheet.write(IDS[3], number(angle_deg, "deg", u95));
        }
        (None, _) => sheet.refuse(IDS[3], reasons[0]),
        _ => sheet.refuse(IDS[3], reasons[2]),
    }
}

/// The directions in which slopes are counted: square on the path.
struct Faces<'a> {
    preparation: &'a Preparation<'a>,
    mesial: Vector3<f64>,
    facial: Vector3<f64>,
}

impl<'a> Faces<'a> {
    fn new(preparation: &'a Preparation<'a>) -> Self {
        let path = &preparation.path;
        let square = |axis: &Vector3<f64>| (axis - path * axis.dot(path)).normalize();
        let mesial = square(&preparation.frame.mesial);
        // The facial direction is square on both, so that the two slopes are independent.
        let facial = square(&(preparation.frame.facial - mesial * preparation.frame.facial.dot(&mesial)));
        Self { preparation, mesial, facial }
    }

    /// What falls towards `outward` (+1 facially) by more than 15°, and the rest.
    fn split(
        &self,
        vertices: Vec<OcclusalVertex>,
        outward: f64,
    ) -> (Vec<OcclusalVertex>, Vec<OcclusalVertex>) {
        let least = OUTWARD_DEG.to_radians().tan();
        vertices.into_iter().partition(|vertex| {
            let normal = pooled_normal(self.preparation.scene.after, vertex.vertex);
            outward * normal.dot(&self.facial) > least * normal.dot(&self.preparation.path)
        })
    }

    /// A vertex's place: mesially, facially, along the path.
    fn place(&self, vertex: &OcclusalVertex) -> Vector3<f64> {
        let preparation = self.preparation;
        let at = preparation.scene.after.mesh.vertices[vertex.vertex as usize] - preparation.frame.origin;
        Vector3::new(at.dot(&self.mesial), at.dot(&self.facial), at.dot(&preparation.path))
    }
}

/// The plane of an incline.
struct Incline {
    slope_mesially: f64,
    slope_facially: f64,
    area_mm2: f64,
    /// Extent along the tooth.
    length_mm: f64,
    /// Extent across the tooth: the mean over its length.
    width_mm: f64,
    /// The vertex nearest to the middle.
    middle: u32,
}

impl Incline {
    fn of(part: &[OcclusalVertex], faces: &Faces<'_>) -> Option<Self> {
        let area_mm2: f64 = part.iter().map(|vertex| vertex.area_mm2).sum();
        if part.len() < 20 || area_mm2 < LEAST_AREA_MM2 {
            return None;
        }
        let places: Vec<Vector3<f64>> = part.iter().map(|vertex| faces.place(vertex)).collect();
        let areas: Vec<f64> = part.iter().map(|vertex| vertex.area_mm2).collect();
        let [_, slope_mesially, slope_facially] = plane(&places, &areas)?;
        let along = || places.iter().map(|place| place.x);
        let length_mm = along().fold(f64::NEG_INFINITY, f64::max) - along().fold(f64::INFINITY, f64::min);
        let centre: Vector3<f64> =
            places.iter().zip(&areas).map(|(place, area)| place * *area).sum::<Vector3<f64>>() / area_mm2;
        let off = |place: &Vector3<f64>| (place - centre).norm_squared();
        let middle = (0..part.len()).min_by(|&a, &b| off(&places[a]).total_cmp(&off(&places[b])))?;
        let width_mm = area_mm2 / length_mm / slope_facially.hypot(1.0);
        let middle = part[middle].vertex;
        Some(Self { slope_mesially, slope_facially, area_mm2, length_mm, width_mm, middle })
    }

    /// Unit normal in (mesial, facial, path).
    fn normal(&self) -> Vector3<f64> {
        Vector3::new(-self.slope_mesially, -self.slope_facially, 1.0).normalize()
    }

    /// What the borders move the plane by, the more the narrower the incline.
    fn u95_deg(&self) -> f64 {
        expanded(&[(BORDER_MM / self.width_mm.max(0.3)).atan().to_degrees()])
    }
}

/// Height and slopes of the plane through some places: least squares, but beyond 0.15 mm the distance itself counts
/// and not its square. The sum of such terms has one minimum only, so that no second plane can be taken for the first.
fn plane(places: &[Vector3<f64>], areas: &[f64]) -> Option<[f64; 3]> {
    const SQUARE_MM: f64 = 0.15;
    let mut weights = areas.to_vec();
    let mut fit = Vector3::zeros();
    for _ in 0..8 {
        let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
        for (place, &weight) in places.iter().zip(&weights) {
            let row = Vector3::new(1.0, place.x, place.y);
            normal += row * row.transpose() * weight;
            right += row * (place.z * weight);
        }
        fit = normal.cholesky()?.solve(&right);
        for ((weight, &area), place) in weights.iter_mut().zip(areas).zip(places) {
            let off_mm = (place.z - fit.dot(&Vector3::new(1.0, place.x, place.y))).abs();
            *weight = area * (SQUARE_MM / off_mm.max(SQUARE_MM));
        }
    }
    Some([fit[0], fit[1], fit[2]])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_plane_is_found_under_a_patch_of_debris() {
        let mut places: Vec<Vector3<f64>> = (0..400)
            .map(|k| (0.1 * f64::from(k % 20), 0.1 * f64::from(k / 20)))
            .map(|(x, y)| Vector3::new(x, y, 1.0 + 0.1 * x - 0.4 * y))
            .collect();
        let areas = vec![0.01; 400];
        let [_, mesially, facially] = plane(&places, &areas).unwrap();
        assert!((mesially - 0.1).abs() < 1e-9 && (facially + 0.4).abs() < 1e-9);
        places.iter_mut().skip(150).take(20).for_each(|place| place.z += 2.0);
        let [_, _, facially] = plane(&places, &areas).unwrap();
        assert!((facially.atan() + 0.4f64.atan()).to_degrees().abs() < 0.5, "{facially}");
    }
}
