//! Teeth in contact on a gently curved arch, with the gum around them.

use nalgebra::{Affine3, Isometry3, Point3};

use crate::arch_line::ArchLine;
use crate::field::Field;
use crate::gingiva::{Footing, Gingiva};
use crate::planar::Planar;
use crate::spec::RowLevel;
use crate::teeth::Fdi;
use crate::tooth::Tooth;

/// A tooth in its place. All places are turned about the tooth's axis, shifted, and mirrored on the other side of the
/// mid-line; none is tipped.
#[derive(Debug, Clone)]
pub struct Placed {
    /// The tooth in its own frame.
    pub tooth: Tooth,
    /// Its place along the arch, mm (mesial positive).
    pub s: f64,
    frame: Planar,
}

impl Placed {
    /// A point of the arch in the tooth's own frame.
    pub fn tooth_from_arch(&self, p: &Point3<f64>) -> Point3<f64> {
        self.frame.unapply(p)
    }

    /// Where the tooth stands.
    pub fn arch_from_tooth(&self) -> Affine3<f64> {
        self.frame.to_affine()
    }

    /// Where the tooth stands, as a motion of the occlusal plane.
    pub fn frame(&self) -> &Planar {
        &self.frame
    }

    /// Moves the tooth along its axis.
    pub fn shift_occlusally(&mut self, by_mm: f64) {
        self.frame = self.frame.raised(by_mm);
    }

    /// Which side of the tooth faces the next one in the row's order: 1 its mesial, −1 its distal side.
    fn onwards(&self) -> f64 {
        if self.frame.is_mirrored() { -1.0 } else { 1.0 }
    }
}

impl Field for Placed {
    fn value(&self, p: &Point3<f64>) -> f64 {
        self.tooth.value(&self.tooth_from_arch(p))
    }
}

/// Which teeth stand in a row, and along what line.
#[derive(Debug, Clone)]
pub struct Row {
    /// The tooth that stands at the origin.
    pub middle: Fdi,
    /// How many stand mesially of it (on across the mid-line) and distally.
    pub mesially: u8,
    /// How many stand distally of it.
    pub distally: u8,
    /// Curvature of the row, 1/mm; `None` for the usual form of a jaw.
    pub curvature_per_mm: Option<f64>,
    /// What of the teeth is level.
    pub level: RowLevel,
    /// Places left empty.
    pub missing: Vec<Fdi>,
}

/// A row of teeth in one jaw: `x` mesial at the middle tooth, `y` facial, `z` occlusal.
///
/// Right-handed, whatever the quadrant; the files of quadrants 2 and 4 are mirrored on the way out.
#[derive(Debug, Clone)]
pub struct Arch {
    /// In order along the arch, the most distal first.
    pub teeth: Vec<Placed>,
    /// Which of them stands at the origin.
    pub middle: usize,
    /// The gum.
    pub gingiva: Option<Gingiva>,
    /// Whether the gum is there; without it the row still knows where it would be.
    pub shows_gingiva: bool,
    /// Teeth whose places are empty.
    absent: Vec<Placed>,
    line: ArchLine,
    line_from_arch: Planar,
    /// Sideways shift of the whole row, mm facially.
    t0: f64,
}

impl Arch {
    /// A row whose cusps, or necks, are level with those of its middle tooth.
    ///
    /// `s0`, `t0` shift the row along and across the line, as an opposing row needs it; along the usual form of a jaw
    /// rows start at the mid-line, and `s0` is not heeded.
    pub fn new(row: &Row, s0: f64, t0: f64) -> Self {
        let (teeth, line) = match row.curvature_per_mm {
            Some(curvature) => even_row(row, ArchLine::even(curvature), s0, t0),
            None => jaw_row(row, ArchLine::of_jaw(row.middle.is_upper()), t0),
        };
        Self::of_teeth(row, teeth, line, t0)
    }

    /// A row of the other jaw along the line of this one.
    pub fn opposing(&self, row: &Row, s0: f64, t0: f64) -> Self {
        if row.curvature_per_mm.is_some() {
            return Self::new(row, s0, t0);
        }
        let teeth = jaw_row(row, self.line, t0).0;
        let mut arch = Self::of_teeth(row, teeth, self.line, t0);
        arch.change_frame(&arch.line_from_arch.inverse().after(&self.line_from_arch));
        arch.refit_gingiva();
        arch
    }

    fn of_teeth(row: &Row, teeth: Vec<Placed>, line: ArchLine, t0: f64) -> Self {
        let (absent, teeth): (Vec<_>, Vec<_>) =
            teeth.into_iter().partition(|placed| row.missing.contains(&placed.tooth.fdi));
        let middle = teeth.iter().position(|placed| placed.tooth.fdi == row.middle).unwrap_or(0);
        let line_from_arch = Planar::identity();
        let mut arch =
            Self { teeth, middle, gingiva: None, shows_gingiva: true, absent, line, line_from_arch, t0 };
        if row.curvature_per_mm.is_none() {
            let frame = arch.teeth[arch.middle].frame.level();
            arch.change_frame(&frame);
        }
        arch.refit_gingiva();
        arch
    }

    /// The same row in the frame of another of its teeth.
    ///
    /// Where that tooth stands on the other side of the mid-line, the order of the row turns round with the frame.
    pub fn seen_from(&self, index: usize) -> Self {
        let frame = self.teeth[index].frame;
        let mut arch = self.clone();
        arch.middle = index;
        if frame.is_mirrored() {
            arch.turn_round();
        }
        arch.change_frame(&frame);
        arch.refit_gingiva();
        arch
    }

    /// Counts the row from its other end.
    pub fn turn_round(&mut self) {
        self.teeth.reverse();
        self.middle = self.teeth.len() - 1 - self.middle;
        self.teeth.iter_mut().chain(&mut self.absent).for_each(|placed| placed.s = -placed.s);
        self.line_from_arch = Planar::reflection().after(&self.line_from_arch);
    }

    /// Takes all places to a new frame, given in the present one.
    pub fn change_frame(&mut self, arch_from_new: &Planar) {
        let new_from_arch = arch_from_new.inverse();
        let places = self.teeth.iter_mut().chain(&mut self.absent);
        places.for_each(|placed| placed.frame = new_from_arch.after(&placed.frame));
        self.line_from_arch = self.line_from_arch.after(&arch_from_new.level());
    }

    /// Makes the gum anew after teeth were moved.
    pub fn refit_gingiva(&mut self) {
        self.gingiva = Some(Gingiva::new(&self.footings()));
    }

    /// A point in the arch's own coordinates: along the row (mesial positive), across it (facial positive).
    pub fn along_and_across(&self, p: &Point3<f64>) -> (f64, f64) {
        let q = self.line_from_arch.apply(p);
        let (s, t) = self.line.along_and_across(q.x, q.y);
        (s, t - self.t0)
    }

    /// Ends of the row along the arch, mm.
    pub fn ends(&self) -> (f64, f64) {
        let (first, last) = (&self.teeth[0], &self.teeth[self.teeth.len() - 1]);
        (first.s - first.tooth.half_widths_mm()[2], last.s + last.tooth.half_widths_mm()[0])
    }

    /// Middle of the row seen from the occlusal, at the level of the origin, and how far the row reaches from it.
    pub fn middle_and_reach(&self) -> (Point3<f64>, f64) {
        if self.line.is_even() && self.line_from_arch == Planar::identity() {
            let (from, to) = self.ends();
            return (Point3::new(0.5 * (from + to), 0.0, 0.0), 0.5 * (to - from));
        }
        let at: Vec<Point3<f64>> =
            self.teeth.iter().map(|placed| placed.frame.apply(&Point3::origin())).collect();
        let middle = |k: usize| {
            let (low, high) = at.iter().fold((f64::MAX, f64::MIN), |e, p| (e.0.min(p[k]), e.1.max(p[k])));
            0.5 * (low + high)
        };
        let centre = Point3::new(middle(0), middle(1), 0.0);
        let reach = at.iter().map(|p| (p.x - centre.x).hypot(p.y - centre.y)).fold(0.0, f64::max);
        (centre, reach + 5.5)
    }

    /// The gum alone, negative inside.
    pub fn gingiva_value(&self, p: &Point3<f64>) -> f64 {
        let Some(gingiva) = self.gingiva.as_ref().filter(|_| self.shows_gingiva) else { return f64::MAX };
        if p.z > gingiva.top_z + 1.0 {
            return p.z - gingiva.top_z;
        }
        let (s, t) = self.along_and_across(p);
        let (height, steep) = gingiva.height(s, t);
        (p.z - height) / (gingiva.steep2 + steep * steep).sqrt()
    }

    /// The union of the teeth for which `value` is given, cheaply: teeth far away are not evaluated.
    ///
    /// `moved` says which tooth does not stand in its place, and the way back from where it stands, in its own frame.
    pub fn teeth_value(
        &self,
        p: &Point3<f64>,
        moved: Option<&(usize, Isometry3<f64>)>,
        value: impl Fn(usize, &Tooth, &Point3<f64>) -> f64,
    ) -> f64 {
        let mut least = f64::MAX;
        for (index, placed) in self.teeth.iter().enumerate() {
            let mut local = placed.tooth_from_arch(p);
            if let Some((_, back)) = moved.filter(|m| m.0 == index) {
                local = back * local;
            }
            let outside = placed.tooth.outside_box(&local);
            if outside > 1.0 {
                least = least.min(outside);
            } else if outside < least {
                least = least.min(value(index, &placed.tooth, &local));
            }
        }
        least
    }

    fn footings(&self) -> Vec<Footing> {
        let footing = |placed: &Placed, is_absent: bool| {
            let [half_length, half_width] = placed.tooth.cervix_half_widths_mm();
            let size = placed.tooth.fdi.size();
            let mut rises = [size.curvature_distal_mm, size.curvature_mesial_mm];
            if placed.frame.is_mirrored() {
                rises.reverse();
            }
            Footing { s: placed.s, z: placed.frame.z(), half_length, half_width, rises, is_absent }
        };
        let mut all: Vec<Footing> = self.teeth.iter().map(|placed| footing(placed, false)).collect();
        all.extend(self.absent.iter().map(|placed| footing(placed, true)));
        all.sort_by(|a, b| a.s.total_cmp(&b.s));
        all
    }
}

/// A line along which a row is being set up, in the line's own frame.
struct Setting {
    line: ArchLine,
    t0: f64,
    level: RowLevel,
    /// Length of the middle tooth's crown.
    crown_mm: f64,
}

impl Setting {
    /// Height of a tooth's neck.
    fn neck_mm(&self, tooth: &Tooth) -> f64 {
        match self.level {
            RowLevel::Cusps => self.crown_mm - tooth.crown_mm,
            RowLevel::Necks => 0.0,
        }
    }

    fn place(&self, fdi: Fdi, s: f64, mirrored: bool) -> Placed {
        let tooth = Tooth::new(fdi);
        let frame = self.line.frame(s, self.t0, self.neck_mm(&tooth), mirrored);
        Placed { tooth, s, frame }
    }

    /// The tooth placed so that it just touches its neighbour, towards greater (`side` 1) or smaller `s` (−1).
    fn touching(&self, beside: &Placed, fdi: Fdi, side: f64, mirrored: bool) -> Placed {
        let samples = proximal_points(beside, side * beside.onwards(), 0.15);
        let bounds = (beside.s + side * 3.0, beside.s + side * 14.0);
        let s = self.touch(&samples, fdi, bounds, mirrored);
        let placed = self.place(fdi, s, mirrored);
        if beside.tooth.front().is_none() && placed.tooth.front().is_none() {
            return placed;
        }
        // Front teeth meet on so small a place that it is looked at once more, closely.
        let nearest = samples.iter().min_by(|a, b| placed.value(a).total_cmp(&placed.value(b)));
        let fine = nearest.map_or_else(Vec::new, |p| points_around(beside, p, 0.02));
        self.place(fdi, self.touch(&fine, fdi, (s - side * 0.1, s + side * 0.1), mirrored), mirrored)
    }

    /// Where a tooth just misses all of these points, searched from overlap (first bound) to clear (second).
    fn touch(&self, samples: &[Point3<f64>], fdi: Fdi, bounds: (f64, f64), mirrored: bool) -> f64 {
        let mut placed = self.place(fdi, bounds.0, mirrored);
        let neck_mm = self.neck_mm(&placed.tooth);
        let mut gap = |s: f64| {
            placed.frame = self.line.frame(s, self.t0, neck_mm, mirrored);
            samples.iter().map(|p| placed.value(p)).fold(f64::MAX, f64::min)
        };
        let (mut near, mut far) = bounds;
        while (far - near).abs() > 1e-6 {
            let middle = 0.5 * (near + far);
            if gap(middle) < 0.0 { near = middle } else { far = middle }
        }
        far
    }

    /// The first tooth beside the mid-line, its mesial side touching the plane between both halves.
    fn at_mid_line(&self, fdi: Fdi) -> Placed {
        let furthest = |points: &[Point3<f64>]| {
            points.iter().copied().max_by(|a, b| a.x.total_cmp(&b.x)).unwrap_or_else(Point3::origin)
        };
        let beyond = |s: f64| {
            let placed = self.place(fdi, s, false);
            let coarse = furthest(&proximal_points(&placed, 1.0, 0.15));
            furthest(&points_around(&placed, &coarse, 0.03)).x
        };
        let (mut low, mut high) = (-9.0, 0.0);
        while high - low > 1e-6 {
            let middle = 0.5 * (low + high);
            if beyond(middle) < 0.0 { low = middle } else { high = middle }
        }
        self.place(fdi, low, false)
    }
}

/// Teeth set up from the middle one, along a line that is the same everywhere.
fn even_row(row: &Row, line: ArchLine, s0: f64, t0: f64) -> (Vec<Placed>, ArchLine) {
    let setting = Setting { line, t0, level: row.level, crown_mm: row.middle.size().crown_mm };
    let mut teeth = vec![setting.place(row.middle, s0, false)];
    for step in 1..=row.distally as i8 {
        let Some(fdi) = row.middle.along_arch(step) else { break };
        let next = setting.touching(&teeth[0], fdi, -1.0, false);
        teeth.insert(0, next);
    }
    for step in 1..=row.mesially as i8 {
        let Some(fdi) = row.middle.along_arch(-step) else { break };
        let across = fdi.is_left_handed() != row.middle.is_left_handed();
        let next = setting.touching(&teeth[teeth.len() - 1], fdi, 1.0, across);
        teeth.push(next);
    }
    (teeth, line)
}

/// Teeth set up from the mid-line to both sides, the same on both.
fn jaw_row(row: &Row, line: ArchLine, t0: f64) -> (Vec<Placed>, ArchLine) {
    let setting = Setting { line, t0, level: row.level, crown_mm: row.middle.size().crown_mm };
    let position = row.middle.position() as i8;
    let at = |position: i8| row.middle.distally(position - row.middle.position() as i8);
    let across = row.mesially as i8 - (position - 1);
    let last = (position + row.distally as i8).max(across).min(8);
    let mut half: Vec<Placed> = Vec::new();
    for fdi in (1..=last).filter_map(at) {
        let next = match half.last() {
            Some(beside) => setting.touching(beside, fdi, -1.0, false),
            None => setting.at_mid_line(fdi),
        };
        half.push(next);
    }
    let wanted = position - row.mesially as i8..=position + row.distally as i8;
    let mut teeth: Vec<Placed> = half
        .iter()
        .rev()
        .filter(|placed| wanted.contains(&(placed.tooth.fdi.position() as i8)))
        .cloned()
        .collect();
    for placed in half.iter().take(across.max(0) as usize) {
        let steps = 1 - position - placed.tooth.fdi.position() as i8;
        let Some(fdi) = row.middle.along_arch(steps) else { break };
        teeth.push(setting.place(fdi, -placed.s, true));
    }
    (teeth, line)
}

/// Points on one proximal side of a tooth, `spacing` mm apart: at 0.15 a contact is found to about a micrometre.
fn proximal_points(placed: &Placed, side: f64, spacing: f64) -> Vec<Point3<f64>> {
    let arch_from_tooth = placed.arch_from_tooth();
    let middle = if side > 0.0 { 0.0 } else { std::f64::consts::PI };
    let mut points = Vec::new();
    let n = (0.4 * placed.tooth.crown_mm / spacing) as i32;
    for k in 0..n {
        let z = 0.4 * placed.tooth.crown_mm + spacing * f64::from(k);
        for i in -(n / 2)..=n / 2 {
            let azimuth = middle + 0.2 * spacing * f64::from(i);
            let r = placed.tooth.radius_at(azimuth, z);
            points.push(arch_from_tooth * Point3::new(r * azimuth.cos(), r * azimuth.sin(), z));
        }
    }
    points
}

/// Points of a tooth's surface around one of them, `spacing` mm apart, ten to each side.
fn points_around(placed: &Placed, at: &Point3<f64>, spacing: f64) -> Vec<Point3<f64>> {
    let local = placed.tooth_from_arch(at);
    let (azimuth, turn) = (local.y.atan2(local.x), spacing / local.x.hypot(local.y));
    let places = (-10..=10).flat_map(|i| (-10..=10).map(move |k| (f64::from(i), f64::from(k))));
    let point = |(i, k): (f64, f64)| {
        let (a, z) = (azimuth + turn * i, local.z + spacing * k);
        let r = placed.tooth.radius_at(a, z);
        placed.frame.apply(&Point3::new(r * a.cos(), r * a.sin(), z))
    };
    places.map(point).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(fdi: u8, mesially: u8, distally: u8, curvature_per_mm: Option<f64>) -> Row {
        let middle = Fdi::new(fdi).unwrap();
        let level = RowLevel::Cusps;
        Row { middle, mesially, distally, curvature_per_mm, level, missing: Vec::new() }
    }

    fn gaps(arch: &Arch) -> Vec<f64> {
        let gap = |pair: &[Placed]| {
            let points = proximal_points(&pair[0], pair[0].onwards(), 0.04);
            points.iter().map(|p| pair[1].value(p)).fold(f64::MAX, f64::min)
        };
        arch.teeth.windows(2).map(gap).collect()
    }

    #[test]
    fn a_full_arch_stands_in_contact_and_alike_on_both_sides() {
        for (fdi, canines, molars) in [(36, 25.0, 43.0), (13, 33.0, 49.0)] {
            let arch = Arch::new(&row(fdi, fdi % 10 + 6, 7 - fdi % 10, None), 0.0, 0.0);
            let position = |n: usize| arch.teeth[n].tooth.fdi.position();
            assert_eq!((0..14).map(position).collect::<Vec<_>>(), [7, 6, 5, 4, 3, 2, 1, 1, 2, 3, 4, 5, 6, 7]);
            // Front teeth meet on edges of about 0.1 mm radius, which samples 0.04 mm apart miss by up to 8 µm.
            assert!(gaps(&arch).iter().all(|g| (-1e-3..1e-2).contains(g)), "{:?}", gaps(&arch));
            let middle = &arch.teeth[arch.middle];
            assert_eq!(middle.tooth.fdi.number(), fdi);
            assert!(
                (middle.frame.apply(&Point3::new(1.0, 2.0, 3.0)) - Point3::new(1.0, 2.0, 3.0)).norm() < 1e-9
            );
            let at = |n: usize| arch.teeth[n].frame.apply(&Point3::origin());
            let apart = |n: usize| (at(n) - at(13 - n)).norm();
            assert!(
                (apart(4) - canines).abs() < 2.0 && (apart(1) - molars).abs() < 2.5,
                "{} {}",
                apart(4),
                apart(1)
            );
        }
    }

    #[test]
    fn a_row_is_the_same_seen_from_any_of_its_teeth() {
        let full = Arch::new(&row(35, 11, 2, None), 0.0, 0.0);
        for index in [0, 4, 9, 12] {
            let other = full.seen_from(index);
            let number = full.teeth[index].tooth.fdi.number();
            assert_eq!(other.teeth[other.middle].tooth.fdi.number(), number);
            for p in [Point3::new(2.0, 4.5, 1.0), Point3::new(9.0, -2.0, 6.0), Point3::new(30.0, -30.0, 0.5)]
            {
                let q = full.teeth[index].tooth_from_arch(&p);
                let teeth = |arch: &Arch, p| arch.teeth_value(p, None, |_, tooth, local| tooth.value(local));
                assert!((teeth(&full, &p) - teeth(&other, &q)).abs() < 1e-9);
                assert!((full.gingiva_value(&p) - other.gingiva_value(&q)).abs() < 2e-3, "{index} {p}");
            }
            let mesial = other.teeth.get(other.middle + 1).map(|t| t.tooth.fdi.number());
            assert_eq!(mesial, full.teeth[index].tooth.fdi.along_arch(-1).map(Fdi::number));
        }
    }

    #[test]
    fn neighbours_touch_and_do_not_overlap() {
        for curvature in [0.0, 1.0 / 45.0] {
            let arch = Arch::new(&row(26, 2, 1, Some(curvature)), 0.0, 0.0);
            assert_eq!(arch.teeth.len(), 4);
            let numbers: Vec<u8> = arch.teeth.iter().map(|t| t.tooth.fdi.number()).collect();
            assert_eq!(numbers, [27, 26, 25, 24]);
            for pair in arch.teeth.windows(2) {
                let least = proximal_points(&pair[0], 1.0, 0.04)
                    .iter()
                    .map(|p| pair[1].value(p))
                    .fold(f64::MAX, f64::min);
                assert!((-2e-3..2e-3).contains(&least), "{least}");
            }
        }
    }

    #[test]
    fn a_point_moves_between_frames_and_back() {
        let arch = Arch::new(&row(35, 1, 1, Some(1.0 / 40.0)), 0.0, 0.0);
        let placed = &arch.teeth[2];
        let p = Point3::new(1.0, 2.0, 3.0);
        assert!((placed.tooth_from_arch(&(placed.arch_from_tooth() * p)) - p).norm() < 1e-12);
    }
}
