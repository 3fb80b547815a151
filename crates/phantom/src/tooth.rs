//! One unprepared tooth as an exact body in its own frame.

use nalgebra::{Point2, Point3, Vector2};

use crate::anatomy::{Anatomy, Landmark};
use crate::field::{Field, bisect_along, smooth_max};
use crate::front::FrontForm;
use crate::teeth::Fdi;

/// How sharply the developmental grooves are cut between the ridges, mm (smaller is sharper).
const GROOVE_SOFTNESS_MM: f64 = 0.13;
/// How gently the occlusal surface passes into the axial one, mm.
const OCCLUSAL_BLEND_MM: f64 = 0.7;
/// The tips of cusps and crests of ridges are rounded to about this, mm.
const CREST_ROUNDING_MM: f64 = 0.45;

/// No crown has more ridges than this.
const MOST_RIDGES: usize = 15;

/// An unprepared tooth: `x` mesial, `y` facial, `z` occlusal, origin on its axis at the facial cervical line.
///
/// The cross-sections are squarish ovals whose half widths follow a profile on each side: cervix, height of contour,
/// occlusal table. The occlusal surface is a soft maximum of ridges over a basin; where two ridges meet lies a groove.
#[derive(Debug, Clone)]
pub struct Tooth {
    /// Which tooth it is.
    pub fdi: Fdi,
    /// Cusp height over the cervical line, mm.
    pub crown_mm: f64,
    sides: [Profile; 4],
    roundness: f64,
    ridges: Vec<Crest>,
    basin_z: f64,
    steepness: f64,
    groove_y: f64,
    landmarks: Vec<(Landmark, Point2<f64>)>,
    front: Option<FrontForm>,
}

/// A side's half width along the tooth.
#[derive(Debug, Clone, Copy)]
pub struct Profile {
    /// At the cervix, mm.
    pub cervix: f64,
    /// At the height of contour, mm.
    pub contour: f64,
    /// At the cusp tips, mm.
    pub table: f64,
    /// The height of contour, mm.
    pub contour_z: f64,
    /// Length of the crown, mm.
    pub crown: f64,
}

/// A ridge in mm.
#[derive(Debug, Clone, Copy)]
struct Crest {
    from: Vector2<f64>,
    along: Vector2<f64>,
    inverse_length2: f64,
    from_z: f64,
    rise: f64,
    slope: f64,
}

impl Tooth {
    /// The tooth of average size.
    pub fn new(fdi: Fdi) -> Self {
        let (anatomy, size) = (Anatomy::of(fdi), fdi.size());
        let crown = size.crown_mm;
        let half = [size.md_mm, size.fl_mm, size.md_mm, size.fl_mm].map(|w| 0.5 * w);
        let cervix = [size.md_cervix_mm, size.fl_cervix_mm].map(|w| 0.5 * w);
        let sides: [Profile; 4] = std::array::from_fn(|i| Profile {
            cervix: cervix[i % 2],
            contour: half[i],
            table: half[i] * anatomy.sides[i].table,
            contour_z: crown * anatomy.sides[i].contour,
            crown,
        });
        let ridges: Vec<_> = anatomy.ridges.iter().map(|r| Crest::new(r, half[0], half[1], crown)).collect();
        let steepest =
            ridges.iter().map(|c| c.slope.hypot(1.5 * c.rise * c.inverse_length2.sqrt())).fold(0.0, f64::max);
        Self {
            fdi,
            crown_mm: crown,
            front: FrontForm::new(fdi, &sides),
            sides,
            roundness: anatomy.roundness,
            ridges,
            basin_z: crown - anatomy.basin_mm,
            steepness: 1.0f64.hypot(steepest),
            groove_y: half[1] * anatomy.groove,
            landmarks: anatomy
                .landmarks
                .iter()
                .map(|&l| (l, Point2::new(l.x * half[0], l.y * half[1])))
                .collect(),
        }
    }

    /// The form of an incisor or canine.
    pub fn front(&self) -> Option<&FrontForm> {
        self.front.as_ref()
    }

    /// Where the groove line through the fossae lies, mm from the axis (facial positive).
    pub fn groove_y_mm(&self) -> f64 {
        self.groove_y
    }

    /// The customary points of the occlusal surface: name and place seen from the occlusal.
    pub fn landmarks(&self) -> impl Iterator<Item = (&'static str, Point2<f64>)> {
        self.landmarks.iter().map(|(landmark, at)| (landmark.name, *at))
    }

    /// Half widths at the height of contour: mesial, facial, distal, lingual.
    pub fn half_widths_mm(&self) -> [f64; 4] {
        self.sides.map(|side| side.contour)
    }

    /// Half widths at the cervix: mesiodistal, faciolingual.
    pub fn cervix_half_widths_mm(&self) -> [f64; 2] {
        [self.sides[0].cervix, self.sides[1].cervix]
    }

    /// Height of the occlusal surface over the origin, grooves cut with the given softness.
    pub fn occlusal_height(&self, x: f64, y: f64, softness: f64) -> f64 {
        let at = Vector2::new(x, y);
        let mut heights = [self.basin_z; MOST_RIDGES + 1];
        for (height, crest) in heights.iter_mut().zip(&self.ridges) {
            *height = crest.height(&at);
        }
        let heights = &heights[..=self.ridges.len()];
        let top = heights.iter().copied().fold(f64::MIN, f64::max);
        let term = |&h: &f64| if top - h > 18.0 * softness { 0.0 } else { ((h - top) / softness).exp() };
        top + softness * heights.iter().map(term).sum::<f64>().ln()
    }

    /// The axial surface alone: negative inside, about the distance in mm near it.
    pub fn axial_value(&self, p: &Point3<f64>) -> f64 {
        if let Some(front) = &self.front {
            return front.oval(p);
        }
        let widths = self.sides.map(|side| side.half_width(p.z));
        // One scale for a whole level, between the half widths' smaller one and a little over it.
        let (a, b) = (0.5 * (widths[0] + widths[2]), 0.5 * (widths[1] + widths[3]));
        (self.girth(p, &widths) - 1.0) * 1.1 * a * b / (a * a + b * b).sqrt()
    }

    /// 1 on the axial surface, and linear along every horizontal ray from the axis.
    fn girth(&self, p: &Point3<f64>, widths: &[f64; 4]) -> f64 {
        let a = widths[if p.x >= 0.0 { 0 } else { 2 }];
        let b = widths[if p.y >= 0.0 { 1 } else { 3 }];
        let (u2, v2) = ((p.x / a).powi(2), (p.y / b).powi(2));
        (u2 * u2 + v2 * v2 + self.roundness * u2 * v2).sqrt().sqrt()
    }

    /// A lower bound of the value away from the tooth, cheap: how far `p` lies outside the tooth's box, mm.
    pub fn outside_box(&self, p: &Point3<f64>) -> f64 {
        let a = self.sides[if p.x >= 0.0 { 0 } else { 2 }].contour;
        let b = self.sides[if p.y >= 0.0 { 1 } else { 3 }].contour;
        let (dx, dy) = ((p.x.abs() - a).max(0.0), (p.y.abs() - b).max(0.0));
        (dx * dx + dy * dy).sqrt().max(p.z - self.crown_mm - 0.5)
    }

    /// Distance from the axis to the surface at an azimuth (from mesial towards facial) and height.
    pub fn radius_at(&self, azimuth: f64, z: f64) -> f64 {
        let (sine, cosine) = azimuth.sin_cos();
        if self.front.is_some() {
            return self.searched_radius(sine, cosine, z);
        }
        // On one ray the axial value is linear in the radius, so that its zero is known at once …
        let widths = self.sides.map(|side| side.half_width(z));
        let axial = 1.0 / self.girth(&Point3::new(cosine, sine, z), &widths);
        if self.value(&Point3::new(axial * cosine, axial * sine, z)).abs() < 1e-13 {
            return axial;
        }
        // … and only where the occlusal surface blends in does it take a search.
        let (mut low, mut high) = (0.5, axial);
        while high - low > 1e-12 * high {
            let middle = 0.5 * (low + high);
            let inside = self.value(&Point3::new(middle * cosine, middle * sine, z)) < 0.0;
            if inside { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }

    /// The same by false position (Illinois) between the axis and the tooth's box.
    fn searched_radius(&self, sine: f64, cosine: f64, z: f64) -> f64 {
        let value = |r: f64| self.value(&Point3::new(r * cosine, r * sine, z));
        let (mut low, mut high) = (0.2, 8.0);
        let (mut at_low, mut at_high) = (value(low), value(high));
        if at_low >= 0.0 {
            return low;
        }
        // Whether the last step moved the low (−1) or the high end (1): an end kept twice counts half.
        let mut moved = 0;
        for _ in 0..100 {
            let r = (low * at_high - high * at_low) / (at_high - at_low);
            let at = value(r);
            if at.abs() < 1e-13 || high - low < 1e-12 {
                return r;
            }
            if at < 0.0 {
                (low, at_low) = (r, at);
                at_high *= if moved == -1 { 0.5 } else { 1.0 };
                moved = -1;
            } else {
                (high, at_high) = (r, at);
                at_low *= if moved == 1 { 0.5 } else { 1.0 };
                moved = 1;
            }
        }
        0.5 * (low + high)
    }

    /// Points of the surface that can meet the other jaw, in the tooth's frame.
    pub fn biting_points(&self) -> Vec<Point3<f64>> {
        let half = self.half_widths_mm();
        let mut points = Vec::new();
        for i in -24..=24 {
            let x = half[0] * f64::from(i) / 25.0;
            for j in -24..=24 {
                if let Some(front) = &self.front {
                    // Facial and lingual faces of the incisal half, each met from within.
                    let within =
                        Point3::new(x, front.edge_y(), self.crown_mm * (0.72 + 0.0113 * f64::from(j)));
                    if self.value(&within) < 0.0 {
                        let sides = [-1.0, 1.0].map(|side| nalgebra::Vector3::y() * side);
                        points.extend(sides.iter().filter_map(|d| bisect_along(self, &within, d, 8.0)));
                    }
                    continue;
                }
                let y = half[1] * f64::from(j) / 25.0;
                let top = Point3::new(x, y, self.occlusal_height(x, y, 0.11));
                if self.axial_value(&top) < -0.4 {
                    points.push(top);
                }
            }
        }
        points
    }
}

impl Field for Tooth {
    fn value(&self, p: &Point3<f64>) -> f64 {
        if let Some(front) = &self.front {
            return front.value(p);
        }
        let axial = self.axial_value(p);
        let lowest = (p.z - self.crown_mm - 0.5) / self.steepness;
        // Far below the occlusal surface, or far outside the walls, the other face decides.
        if axial > lowest.max(0.0) + 3.0 || (p.z < self.basin_z - 2.5 && axial > -1.0) {
            return axial;
        }
        let occlusal = (p.z - self.occlusal_height(p.x, p.y, GROOVE_SOFTNESS_MM)) / self.steepness;
        smooth_max(axial, occlusal, OCCLUSAL_BLEND_MM)
    }
}

impl Profile {
    /// Half width in mm at a height: widest at the height of contour, drawn in to the cervix and to the occlusal table.
    pub fn half_width(&self, z: f64) -> f64 {
        // The cervical curve goes on a little below the cervical line, then the root runs straight.
        const BEYOND: f64 = 1.3;
        const AT_CERVIX: f64 = (3.0 - 2.0 / BEYOND) / (BEYOND * BEYOND);
        if z < self.contour_z {
            let u = ((self.contour_z - z) / (BEYOND * self.contour_z)).min(1.0);
            self.contour - (self.contour - self.cervix) * u * u * (3.0 - 2.0 * u) / AT_CERVIX
        } else {
            let u = ((z - self.contour_z) / (self.crown - self.contour_z)).min(1.0);
            self.contour - (self.contour - self.table) * u * u
        }
    }
}

impl Crest {
    fn new(ridge: &crate::anatomy::Ridge, half_x: f64, half_y: f64, crown: f64) -> Self {
        let place = |p: [f64; 3]| Vector2::new(p[0] * half_x, p[1] * half_y);
        let (from, to) = (place(ridge.from), place(ridge.to));
        Self {
            from,
            along: to - from,
            inverse_length2: 1.0 / (to - from).norm_squared(),
            from_z: crown + ridge.from[2],
            rise: ridge.to[2] - ridge.from[2],
            slope: ridge.slope,
        }
    }

    /// Height of this ridge over a place: its crest falls as a cubic, so that both ends are level.
    fn height(&self, at: &Vector2<f64>) -> f64 {
        let offset = at - self.from;
        let t = (offset.dot(&self.along) * self.inverse_length2).clamp(0.0, 1.0);
        let aside = (offset - self.along * t).norm_squared();
        let fall = (aside + CREST_ROUNDING_MM * CREST_ROUNDING_MM).sqrt() - CREST_ROUNDING_MM;
        self.from_z + self.rise * t * t * (3.0 - 2.0 * t) - self.slope * fall
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn has_the_dimensions_of_the_table() {
        for number in [11, 22, 13, 31, 42, 33, 14, 25, 16, 27, 34, 45, 36, 47] {
            let tooth = Tooth::new(Fdi::new(number).unwrap());
            let size = tooth.fdi.size();
            let top = if tooth.front.is_some() { 0.93 * size.crown_mm } else { 6.4 };
            let widest =
                |a: f64| (0..80).map(|i| tooth.radius_at(a, top * i as f64 / 80.0)).fold(0.0, f64::max);
            let half = std::f64::consts::FRAC_PI_2;
            // The occlusal blend rounds the wall off by up to a few hundredths where the two faces meet.
            assert!(
                (widest(0.0) + widest(2.0 * half) - size.md_mm).abs() < 0.08,
                "{number} md {}",
                widest(0.0) + widest(2.0 * half)
            );
            assert!((widest(half) + widest(3.0 * half) - size.fl_mm).abs() < 0.03, "{number} fl");
            let cervix = tooth.radius_at(0.0, 0.0) + tooth.radius_at(2.0 * half, 0.0);
            assert!((cervix - size.md_cervix_mm).abs() < 1e-9, "{number} cervix {cervix}");
            let top = (0..4000)
                .filter_map(|i| {
                    let (x, y) = ((i % 63) as f64 * 0.18 - 5.6, (i / 63) as f64 * 0.18 - 5.6);
                    let above = Point3::new(x, y, size.crown_mm + 1.0);
                    bisect_along(&tooth, &above, &nalgebra::Vector3::z(), 4.0).map(|p| p.z)
                })
                .fold(0.0, f64::max);
            assert!((top - size.crown_mm).abs() < 0.3, "{number} crown {top}");
        }
    }

    #[test]
    fn grows_no_faster_than_the_extraction_allows() {
        let mut rng = crate::rng::Rng::new(1, 1);
        for number in [11, 12, 13, 31, 33, 14, 26, 34, 35, 36] {
            let tooth = Tooth::new(Fdi::new(number).unwrap());
            let surface: Vec<_> = (0..6000)
                .filter_map(|_| {
                    let p = Point3::new(rng.between(-6., 6.), rng.between(-6., 6.), rng.between(-3., 11.));
                    crate::field::project(&tooth, &p, 6.0)
                })
                .collect();
            assert!(surface.len() > 3000, "{number}: {}", surface.len());
            for _ in 0..400 {
                let p = Point3::new(rng.between(-8., 8.), rng.between(-8., 8.), rng.between(-2., 12.));
                let nearest = surface.iter().map(|q| (p - q).norm()).fold(f64::MAX, f64::min);
                let value = tooth.value(&p).abs();
                assert!(value < 1.35 * nearest + 1e-6, "{number}: {value} but {nearest} mm away at {p}");
            }
        }
    }
}
