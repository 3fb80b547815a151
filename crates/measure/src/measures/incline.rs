//! `occlusal.incline.*`: how the cusp inclines of the prepared occlusal surface lie.

use nalgebra::Vector3;

use crate::preparation::Preparation;
use crate::region::pooled_normal;
use crate::sheet::{Sheet, expanded, number};
use crate::stats::weighted_quantile;
use crate::zones::{OcclusalVertex, Zone};

/// Surface that falls outward by more than this lies beyond the cusp's ridge.
const OUTWARD_DEG: f64 = 15.0;
/// An incline smaller than this is none, mm².
const LEAST_AREA_MM2: f64 = 1.0;
/// A strip narrower than this, seen along the arch, is a rounded edge, mm.
const LEAST_WIDTH_MM: f64 = 0.5;
/// What the borders of an incline leave open, degrees (1 sigma, from phantom scans).
const BORDER_DEG: f64 = 0.45;

const IDS: [&str; 4] = [
    "occlusal.incline.functional_outer_deg",
    "occlusal.incline.functional_inner_deg",
    "occlusal.incline.nonfunctional_inner_deg",
    "occlusal.incline.parallel_deg",
];

/// Inclinations of the three cusp inclines against the plane square on the path, seen along the arch, and the angle
/// between the functional outer and the non-functional inner one.
///
/// An incline's plane has the area-weighted median of its vertices' slopes along and across the tooth. On the
/// functional side of the groove band what falls outward by more than 15° is the outer incline, the rest the inner
/// one; on the other side what falls outward is left out. Positive: the outer one falls outward, the inner ones
/// towards the groove.
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
    if std::env::var("OCC").is_ok() { eprintln!("groove {:?} outer n {} area {:.2} len {:?} inner {} {:.2}; tips {:?} fossae {:?}", preparation.occlusal.groove, outer.len(), outer.iter().map(|s| s.vertex.area_mm2).sum::<f64>(), Incline::of(&outer).map(|i| (i.length_mm, i.slope_facially, i.slope_mesially)), inner.len(), inner.iter().map(|s| s.vertex.area_mm2).sum::<f64>(), preparation.occlusal.landmarks.facial, preparation.occlusal.landmarks.fossae); }
    let outer = Incline::of(&outer).filter(|incline| incline.area_mm2 > LEAST_WIDTH_MM * incline.length_mm);
    let (inner, other) = (Incline::of(&inner), Incline::of(&other));
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

/// A vertex with its slopes.
struct Sloped {
    vertex: OcclusalVertex,
    /// Rise a mm mesially and facially.
    slope: [f64; 2],
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
    fn split(&self, vertices: Vec<OcclusalVertex>, outward: f64) -> (Vec<Sloped>, Vec<Sloped>) {
        let sloped = vertices.into_iter().map(|vertex| {
            let normal = pooled_normal(self.preparation.scene.after, vertex.vertex);
            let up = normal.dot(&self.preparation.path);
            Sloped { vertex, slope: [-normal.dot(&self.mesial) / up, -normal.dot(&self.facial) / up] }
        });
        let least = OUTWARD_DEG.to_radians().tan();
        sloped.partition(|sloped| -outward * sloped.slope[1] > least)
    }
}

/// The plane of an incline.
struct Incline {
    slope_mesially: f64,
    slope_facially: f64,
    /// Spread of the facial slope, robust, as 1 sigma of a vertex.
    spread: f64,
    n: usize,
    area_mm2: f64,
    /// Extent along the tooth.
    length_mm: f64,
    /// The vertex nearest to the middle.
    middle: u32,
}

impl Incline {
    fn of(part: &[Sloped]) -> Option<Self> {
        let area_mm2: f64 = part.iter().map(|sloped| sloped.vertex.area_mm2).sum();
        if part.len() < 20 || area_mm2 < LEAST_AREA_MM2 {
            return None;
        }
        let quantile = |axis: usize, share: f64| {
            let pairs: Vec<(f64, f64)> =
                part.iter().map(|sloped| (sloped.slope[axis], sloped.vertex.area_mm2)).collect();
            weighted_quantile(&pairs, share)
        };
        let along = || part.iter().map(|sloped| sloped.vertex.place.x);
        let sum: Vector3<f64> = part.iter().map(|sloped| sloped.vertex.place * sloped.vertex.area_mm2).sum();
        let off = |sloped: &Sloped| (sloped.vertex.place - sum / area_mm2).norm_squared();
        let middle = part.iter().min_by(|a, b| off(a).total_cmp(&off(b)))?;
        Some(Self {
            slope_mesially: quantile(0, 0.5)?,
            slope_facially: quantile(1, 0.5)?,
            spread: 0.741 * (quantile(1, 0.75)? - quantile(1, 0.25)?),
            n: part.len(),
            area_mm2,
            length_mm: along().fold(f64::NEG_INFINITY, f64::max) - along().fold(f64::INFINITY, f64::min),
            middle: middle.vertex.vertex,
        })
    }

    /// Unit normal in (mesial, facial, path).
    fn normal(&self) -> Vector3<f64> {
        Vector3::new(-self.slope_mesially, -self.slope_facially, 1.0).normalize()
    }

    /// Neighbouring vertices share their pooled normals, so about every seventh is independent.
    fn u95_deg(&self) -> f64 {
        const VERTICES_A_SAMPLE: f64 = 7.0;
        let n = (self.n as f64 / VERTICES_A_SAMPLE).max(1.0);
        let flat = 1.0 / (1.0 + self.slope_facially.powi(2));
        expanded(&[(1.2533 * self.spread * flat / n.sqrt()).to_degrees(), BORDER_DEG])
    }
}
