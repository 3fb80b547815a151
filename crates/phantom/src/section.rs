//! The cut in one section across the finish line: floor, fillet, wall, second plane.
//!
//! In a section `r` is the horizontal distance inwards from E and `h` the height over E along the path.

use crate::field::{rounded_max, smooth_step};
use crate::spec::Finish;

/// Numbers of one section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// Horizontal distance from E to the wall line at the level of E.
    pub width: f64,
    /// Tangent of the wall's taper.
    pub tan_taper: f64,
    /// Tangent of the floor's fall outwards.
    pub tan_fall: f64,
    /// Radius between floor and wall; reduced where the floor is too short for it.
    pub radius: f64,
    /// Tangent of the second plane's taper.
    pub tan_second: f64,
    /// Height of the break to the second plane.
    pub second_from: f64,
    /// What a hand left in the wall.
    pub flaws: WallFlaws,
}

/// Flaws of the wall in one section; none by default.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct WallFlaws {
    /// Height of a ledge's floor over E.
    pub ledge_from: f64,
    /// How much further in the wall stands above it.
    pub ledge_depth: f64,
    /// Height of a dent's crest in this section, inwards.
    pub swell: f64,
    /// Of the dents along the section, rad/mm.
    pub wave_number: f64,
}

impl Section {
    /// Fall of the floor at E and inner radius that make this finish, for a given width and taper.
    ///
    /// A chamfer's arc is tangent to the wall and passes through E, so that the floor's straight part vanishes.
    pub fn fall_and_radius(finish: Finish, width: f64, taper_rad: f64) -> (f64, f64) {
        match finish {
            Finish::Chamfer { tip_radius_mm } => {
                let Some(radius) = tip_radius_mm else {
                    return (
                        DEFAULT_FALL_RAD,
                        largest_radius(width, taper_rad.tan(), DEFAULT_FALL_RAD.tan()),
                    );
                };
                let radius = radius.max(0.55 * width).max(1e-3);
                (chamfer_fall(width, taper_rad, radius), radius)
            }
            Finish::Shoulder { internal_radius_mm } => (0.0, internal_radius_mm),
            Finish::SlopedShoulder { declination_deg, internal_radius_mm } => {
                (declination_deg.to_radians(), internal_radius_mm)
            }
            Finish::KnifeEdge => (45f64.to_radians(), 0.0),
        }
    }

    /// Positive where material is removed; the distance in the section near the cut.
    pub fn removed(&self, r: f64, h: f64) -> f64 {
        let wall = unit(self.tan_taper);
        let fall = unit(self.tan_fall);
        let above_floor = h * fall.1 - r * fall.0;
        let flaws = &self.flaws;
        let on_smooth = r - flaws.dent(h);
        let mut outside = self.outside_wall(on_smooth, h, wall);
        if flaws.ledge_depth > 0.0 {
            let above_ledge = self.outside_wall(on_smooth - flaws.ledge_depth, h, wall);
            outside = outside.max(above_ledge.min(h - flaws.ledge_from));
        }
        let cosine = wall.0 * fall.1 + wall.1 * fall.0;
        -rounded_max(-outside, -above_floor, cosine, self.effective_radius())
    }

    /// How far a point lies outside the smooth wall and its second plane; `wall`: sine and cosine of its taper.
    fn outside_wall(&self, r: f64, h: f64, wall: (f64, f64)) -> f64 {
        let outside = h * wall.0 - (r - self.width) * wall.1;
        if self.tan_second <= self.tan_taper {
            return outside;
        }
        let second = unit(self.tan_second);
        let foot = self.width + self.second_from * self.tan_taper;
        outside.max((h - self.second_from) * second.0 - (r - foot) * second.1)
    }

    /// Outward normal of the wall at a height: horizontal share (outwards) and share along the path.
    pub fn wall_normal(&self, h: f64) -> (f64, f64) {
        let two_planes = self.tan_second > self.tan_taper && h > self.second_from;
        let (sine, cosine) = unit(if two_planes { self.tan_second } else { self.tan_taper });
        (cosine, sine)
    }

    /// How far inwards the wall, or the second plane over it, lies at a height.
    pub fn wall_inward(&self, h: f64) -> f64 {
        let second = (h - self.second_from).max(0.0) * (self.tan_second - self.tan_taper).max(0.0);
        let ledge = if h > self.flaws.ledge_from { self.flaws.ledge_depth } else { 0.0 };
        self.width + h * self.tan_taper + second + ledge + self.flaws.dent(h)
    }

    /// Height over E at which the fillet ends and the wall begins.
    pub fn fillet_top(&self) -> f64 {
        let corner = self.width / (1.0 - self.tan_fall * self.tan_taper);
        corner * self.tan_fall + self.tangent_length() * unit(self.tan_taper).1
    }

    /// From the corner of floor and wall to where their fillet touches each of them.
    fn tangent_length(&self) -> f64 {
        let ((wall_s, wall_c), (fall_s, fall_c)) = (unit(self.tan_taper), unit(self.tan_fall));
        let (sine, cosine) = (wall_s * fall_c + wall_c * fall_s, wall_c * fall_c - wall_s * fall_s);
        self.effective_radius() * cosine / (1.0 + sine)
    }

    /// The radius that is really cut.
    pub fn effective_radius(&self) -> f64 {
        self.radius.min(largest_radius(self.width, self.tan_taper, self.tan_fall))
    }

    /// How far the floor's deepest point lies under E where the floor rises outwards: its straight part, then the arc.
    pub fn lip(&self) -> f64 {
        if self.tan_fall >= 0.0 {
            return 0.0;
        }
        let (sine, cosine) = unit(self.tan_fall);
        let floor_length = self.width / (1.0 - self.tan_fall * self.tan_taper) / cosine;
        let straight = (floor_length - self.tangent_length()).max(0.0);
        self.effective_radius() * (1.0 - cosine) - straight * sine
    }
}

impl WallFlaws {
    /// Height over E over which dents grow, so that floor and finish line stay as they are.
    const GROWS: [f64; 2] = [0.6, 1.2];

    /// How far the wall is dented inwards at a height.
    fn dent(&self, h: f64) -> f64 {
        if self.swell == 0.0 {
            return 0.0;
        }
        let [from, to] = Self::GROWS;
        self.swell * (self.wave_number * h).cos() * smooth_step((h - from) / (to - from))
    }
}

/// Fall (negative) of a floor whose arc, tangent to the wall, rises to E by `lip`.
pub fn fall_of_lip(width: f64, tan_taper: f64, lip: f64) -> f64 {
    let rises = |fall: f64| largest_radius(width, tan_taper, fall.tan()) * (1.0 - fall.cos());
    let (mut steep, mut flat) = (-1.3, 0.0);
    for _ in 0..60 {
        let middle = 0.5 * (steep + flat);
        if rises(middle) > lip { steep = middle } else { flat = middle }
    }
    0.5 * (steep + flat)
}

/// Fall of a chamfer's floor at E when no radius is given: 30°.
const DEFAULT_FALL_RAD: f64 = std::f64::consts::FRAC_PI_6;

/// The inner radius whose arc, tangent to wall and floor, ends exactly in E.
pub fn largest_radius(width: f64, tan_taper: f64, tan_fall: f64) -> f64 {
    let ((wall_s, wall_c), (fall_s, fall_c)) = (unit(tan_taper), unit(tan_fall));
    let corner = width / (1.0 - tan_fall * tan_taper);
    let floor_length = corner / fall_c;
    let (sine, cosine) = (wall_s * fall_c + wall_c * fall_s, wall_c * fall_c - wall_s * fall_s);
    floor_length * (1.0 + sine) / cosine
}

/// Sine and cosine of an angle from its tangent.
fn unit(tangent: f64) -> (f64, f64) {
    let cosine = 1.0 / (1.0 + tangent * tangent).sqrt();
    (tangent * cosine, cosine)
}

/// Fall of a chamfer's floor at E: the arc of `radius`, tangent to the wall, passes through E.
fn chamfer_fall(width: f64, taper_rad: f64, radius: f64) -> f64 {
    let (sine, cosine) = taper_rad.sin_cos();
    let root = (width * sine).powi(2) - width * width + 2.0 * width * radius * cosine;
    let along = root.max(0.0).sqrt() - width * sine;
    let centre_r = width + along * sine - radius * cosine;
    (-centre_r / radius).clamp(-1.0, 1.0).asin()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn section(width: f64, taper_deg: f64, finish: Finish) -> Section {
        let taper = taper_deg.to_radians();
        let (fall, radius) = Section::fall_and_radius(finish, width, taper);
        let (tan_taper, tan_fall) = (taper.tan(), fall.tan());
        Section {
            width,
            tan_taper,
            tan_fall,
            radius,
            tan_second: tan_taper,
            second_from: 9.0,
            flaws: WallFlaws::default(),
        }
    }

    /// Chamfer rule: fall of the floor at E = asin((r − c)/r) for a vertical wall. Derived in closed form.
    #[test]
    fn a_chamfer_falls_as_the_closed_form_says() {
        for (r, c, fall_deg) in [(0.6, 0.3, 30.0), (0.6, 0.5, 9.59), (0.5, 0.3, 23.58), (0.8, 0.5, 22.02)] {
            let fall = chamfer_fall(c, 0.0, r).to_degrees();
            assert!((fall - fall_deg).abs() < 0.005, "{r} {c}: {fall}");
        }
    }

    /// Lip height = r − √(r² − (c − r)²) when the cut is deeper than the tip's radius. Derived in closed form.
    #[test]
    fn a_chamfer_deeper_than_its_tip_leaves_a_lip() {
        for (r, c, lip) in [(0.5, 0.7, 0.042), (0.5, 0.8, 0.100), (0.7, 1.0, 0.068), (0.8, 1.0, 0.025)] {
            let s = section(c, 0.0, Finish::Chamfer { tip_radius_mm: Some(r) });
            // E lies on the cut, and its lowest point lies `lip` under E.
            assert!(s.removed(0.0, 0.0).abs() < 1e-9);
            assert!(
                s.removed(c - r, -lip - 0.0006) < 0.0 && s.removed(c - r, -lip + 0.0006) > 0.0,
                "{r} {c}"
            );
        }
    }

    #[test]
    fn the_wall_line_meets_the_level_of_e_at_the_width() {
        for (taper, finish) in [(6.0, Finish::CHAMFER), (-4.0, Finish::SHOULDER), (12.0, Finish::SHOULDER)] {
            let s = section(0.8, taper, finish);
            assert!(s.removed(0.0, 0.0).abs() < 1e-9, "E is on the cut");
            for h in [2.0, 4.0] {
                let r = 0.8 + h * taper.to_radians().tan();
                assert!(s.removed(r, h).abs() < 1e-9);
                assert!(s.removed(r - 0.1, h) > 0.0 && s.removed(r + 0.1, h) < 0.0);
            }
        }
    }

    #[test]
    fn a_knife_edge_has_no_floor() {
        let s = section(0.0, 8.0, Finish::KnifeEdge);
        assert!(s.removed(0.01, 0.01 / 8f64.to_radians().tan() + 1e-3) > 0.0);
        assert!(s.removed(1e-3, 0.0) < 0.0);
    }

    #[test]
    fn a_lip_is_as_high_as_asked_for() {
        for (width, taper_deg, lip) in [(0.6, 0.0, 0.03), (0.9, 6.0, 0.08), (1.2, -4.0, 0.15)] {
            let tan_taper = f64::to_radians(taper_deg).tan();
            let tan_fall = fall_of_lip(width, tan_taper, lip).tan();
            let radius = largest_radius(width, tan_taper, tan_fall);
            let s = Section { tan_fall, radius, ..section(width, taper_deg, Finish::SHOULDER) };
            assert!((s.lip() - lip).abs() < 1e-9 && s.removed(0.0, 0.0).abs() < 1e-9);
            // By the body itself: its lowest removed point anywhere between E and the wall.
            let removed_at = |h: f64| (1..400).any(|i| s.removed(width * f64::from(i) / 400.0, h) > 0.0);
            assert!(removed_at(-lip + 5e-5) && !removed_at(-lip - 5e-5), "{width} {taper_deg} {lip}");
            // With a smaller radius the floor first runs straight, and the rim is higher.
            let s = Section { radius: 0.4 * radius, ..s };
            let removed_at = |h: f64| (1..400).any(|i| s.removed(width * f64::from(i) / 400.0, h) > 0.0);
            assert!(s.lip() > lip && removed_at(-s.lip() + 5e-5) && !removed_at(-s.lip() - 5e-5));
        }
    }

    #[test]
    fn above_a_ledge_the_wall_stands_deeper_and_below_it_does_not() {
        let flaws = WallFlaws { ledge_from: 2.0, ledge_depth: 0.25, ..WallFlaws::default() };
        let s = Section { flaws, ..section(0.8, 6.0, Finish::CHAMFER) };
        for h in [1.5, 1.99, 2.01, 3.0] {
            let r = 0.8 + h * 6f64.to_radians().tan() + if h > 2.0 { 0.25 } else { 0.0 };
            assert!((s.wall_inward(h) - r).abs() < 1e-12);
            assert!(s.removed(r - 1e-6, h) > 0.0 && s.removed(r + 1e-6, h) < 0.0, "{h}");
        }
    }

    #[test]
    fn the_fillet_ends_where_the_wall_begins() {
        for (taper_deg, finish) in [(6.0, Finish::CHAMFER), (0.0, Finish::SHOULDER), (-5.0, Finish::SHOULDER)]
        {
            let s = section(0.9, taper_deg, finish);
            let off = |h: f64| s.removed(s.wall_inward(h), h).abs();
            let top = s.fillet_top();
            assert!(off(top + 1e-3) < 1e-9 && off(top - 0.02) > 1e-5, "{taper_deg} {top}");
        }
    }
}
