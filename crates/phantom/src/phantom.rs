//! The exact quadrant before and after cutting, and the jaw opposite.

use std::sync::OnceLock;

use nalgebra::{Isometry3, Point3};

use crate::arch::{Arch, Placed, Row};
use crate::die::Die;
use crate::field::Field;
use crate::preparation::Preparation;
use crate::scan::{ScanOptions, Scans};
use crate::spec::{ArchForm, Extent, Spec, SpecError};
use crate::teeth::Fdi;
use crate::truth::Truth;

/// Radius of the instrument that nicks a neighbour, mm.
const NICK_RADIUS_MM: f64 = 0.7;
/// How far opposing teeth are worn into each other: the depth of the contact facets, mm.
const WEAR_MM: f64 = 0.09;
/// The gap left in a contact, mm.
const CONTACT_GAP_MM: f64 = 0.003;

/// A quadrant with one prepared tooth, exactly known.
///
/// All geometry lives in the tooth's frame: `x` mesial, `y` facial, `z` occlusal, origin on the tooth's axis at the
/// level of its facial cervical line; right-handed for every quadrant. Files of quadrants 2 and 4 are mirrored.
#[derive(Debug, Clone)]
pub struct Phantom {
    pub(crate) spec: Spec,
    pub(crate) fdi: Fdi,
    pub(crate) arch: Arch,
    pub(crate) opposing: Arch,
    pub(crate) opposing_level: f64,
    pub(crate) preparation: Preparation,
    pub(crate) nicks: Vec<Nick>,
    /// Further prepared teeth.
    pub(crate) others: Vec<Cut>,
    pub(crate) die: Option<Die>,
    /// Where the prepared tooth stands after it was put back, from where it stood, in its own frame.
    pub(crate) remount: Option<Isometry3<f64>>,
    pub(crate) truth: OnceLock<Truth>,
}

/// A further prepared tooth of the arch.
#[derive(Debug, Clone)]
pub(crate) struct Cut {
    pub index: usize,
    pub spec: Spec,
    pub preparation: Preparation,
}

/// A ball cut out of a neighbour.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Nick {
    pub tooth: usize,
    pub centre: Point3<f64>,
    pub deepest: Point3<f64>,
}

impl Phantom {
    /// The phantom of a spec.
    ///
    /// # Errors
    /// [`SpecError`] when there is no such tooth, it is not modelled, or a value lies outside what can be shown.
    pub fn try_new(spec: &Spec) -> Result<Self, SpecError> {
        let fdi = spec.check()?;
        let row = row(spec, fdi);
        let mut arch = Arch::new(&row, 0.0, 0.0);
        let (opposing, opposing_level) = occlude(&row, &arch);
        arch.shows_gingiva = spec.extent == Extent::Arch;
        let preparation = Preparation::new(spec, &arch);
        let others = spec.abutments.iter().map(|other| further(other, &arch)).collect::<Result<_, _>>()?;
        let half_widths = arch.teeth[arch.middle].tooth.half_widths_mm();
        Ok(Self {
            spec: spec.clone(),
            fdi,
            nicks: nicks(spec, &arch),
            others,
            die: (spec.extent == Extent::Die).then(|| Die::new(&preparation.line, &half_widths)),
            remount: spec.remount.map(|r| r.motion()),
            arch,
            opposing,
            opposing_level,
            preparation,
            truth: OnceLock::new(),
        })
    }

    /// The phantom of a spec.
    ///
    /// # Panics
    /// When the spec cannot be shown; see [`Self::try_new`].
    pub fn new(spec: &Spec) -> Self {
        match Self::try_new(spec) {
            Ok(phantom) => phantom,
            Err(error) => panic!("{error}"),
        }
    }

    /// What was asked for.
    pub fn spec(&self) -> &Spec {
        &self.spec
    }

    /// Which tooth is prepared.
    pub fn fdi(&self) -> Fdi {
        self.fdi
    }

    /// What is true of it; computed at the first call (about two seconds of one core) and kept.
    pub fn truth(&self) -> &Truth {
        self.truth.get_or_init(|| Truth::of(self))
    }

    /// Scans of the quadrant before, after, and of the jaw opposite.
    pub fn scan(&self, options: &ScanOptions) -> Scans {
        crate::scan::scan(self, options)
    }

    /// How the prepared tooth sits after it was put back: takes points of the tooth's frame from where they were to
    /// where they are in the after scan. The truth is told in the tooth's frame, as if it had been put back right.
    pub fn remounted(&self) -> Isometry3<f64> {
        self.remount.unwrap_or_else(Isometry3::identity)
    }

    /// Whether a point of the tooth's frame lies inside the unprepared quadrant, gum included.
    pub fn is_inside_before(&self, p: &Point3<f64>) -> bool {
        self.before().value(p) < 0.0
    }

    /// Whether a point of the tooth's frame lies inside the prepared quadrant, gum included.
    pub fn is_inside_after(&self, p: &Point3<f64>) -> bool {
        self.after().value(p) < 0.0
    }

    /// Whether a point of the tooth's frame lies inside the jaw opposite, gum included.
    pub fn is_inside_opposing(&self, p: &Point3<f64>) -> bool {
        self.opposing().value(p) < 0.0
    }

    /// The unprepared quadrant.
    pub(crate) fn before(&self) -> Before<'_> {
        Before(self)
    }

    /// The prepared quadrant.
    pub(crate) fn after(&self) -> After<'_> {
        After(self)
    }

    /// The jaw opposite, in the frame of the unprepared quadrant.
    pub(crate) fn opposing(&self) -> Opposing<'_> {
        Opposing(self)
    }

    /// The prepared tooth alone.
    pub(crate) fn prepared_tooth(&self, p: &Point3<f64>) -> f64 {
        self.prepared_value(&self.arch.teeth[self.arch.middle].tooth, p)
    }

    fn prepared_value(&self, tooth: &crate::tooth::Tooth, p: &Point3<f64>) -> f64 {
        let uncut = tooth.value(p);
        if uncut > 0.6 { uncut } else { uncut.max(self.preparation.removed(p)) }
    }

    /// The union of all teeth after cutting.
    pub(crate) fn teeth_after(&self, p: &Point3<f64>) -> f64 {
        let moved = self.remount.map(|motion| (self.arch.middle, motion.inverse()));
        self.arch.teeth_value(p, moved.as_ref(), |index, tooth, local| {
            if index == self.arch.middle {
                return self.prepared_value(tooth, local);
            }
            self.cut_further(index, tooth.value(local), local).max(self.nicked(index, p))
        })
    }

    /// One other tooth after cutting.
    pub(crate) fn neighbour_after(&self, index: usize, p: &Point3<f64>) -> f64 {
        let placed = &self.arch.teeth[index];
        let local = placed.tooth_from_arch(p);
        self.cut_further(index, placed.tooth.value(&local), &local).max(self.nicked(index, p))
    }

    fn cut_further(&self, index: usize, uncut: f64, local: &Point3<f64>) -> f64 {
        match self.others.iter().find(|cut| cut.index == index) {
            Some(cut) if uncut <= 0.6 => uncut.max(cut.preparation.removed(local)),
            _ => uncut,
        }
    }

    fn nicked(&self, index: usize, p: &Point3<f64>) -> f64 {
        let cut = self.nicks.iter().filter(|n| n.tooth == index);
        cut.map(|n| NICK_RADIUS_MM - (p - n.centre).norm()).fold(f64::MIN, f64::max)
    }

    /// The opposing teeth without their gum, in the frame of the unprepared quadrant.
    pub(crate) fn opposing_teeth(&self, p: &Point3<f64>) -> f64 {
        let facing = Point3::new(p.x, p.y, self.opposing_level - p.z);
        let raw = uncut_teeth(&self.opposing, &facing);
        // Contacts are worn flat against the unprepared teeth.
        if raw > 0.6 { raw } else { raw.max(CONTACT_GAP_MM - uncut_teeth(&self.arch, p)) }
    }
}

fn uncut_teeth(arch: &Arch, p: &Point3<f64>) -> f64 {
    arch.teeth_value(p, None, |_, tooth, local| tooth.value(local))
}

pub(crate) struct Before<'a>(&'a Phantom);
pub(crate) struct After<'a>(&'a Phantom);
pub(crate) struct Opposing<'a>(&'a Phantom);

impl Field for Before<'_> {
    fn value(&self, p: &Point3<f64>) -> f64 {
        let teeth = uncut_teeth(&self.0.arch, p);
        if let Some(die) = &self.0.die {
            return teeth.max(-die_bottom(p)).min(die.base(p));
        }
        teeth.min(self.0.arch.gingiva_value(p))
    }
}

impl Field for After<'_> {
    fn value(&self, p: &Point3<f64>) -> f64 {
        let teeth = self.0.teeth_after(p);
        if let Some(die) = &self.0.die {
            let ditched = teeth.max(die.ditch(&self.0.preparation.line, p)).max(-die_bottom(p));
            return ditched.min(die.base(p));
        }
        teeth.min(self.0.arch.gingiva_value(p))
    }
}

impl Field for Opposing<'_> {
    fn value(&self, p: &Point3<f64>) -> f64 {
        let facing = Point3::new(p.x, p.y, self.0.opposing_level - p.z);
        self.0.opposing_teeth(p).min(self.0.opposing.gingiva_value(&facing))
    }
}

/// A die's tooth ends within its base.
fn die_bottom(p: &Point3<f64>) -> f64 {
    p.z + 8.0
}

/// Which teeth stand in the row of the prepared one.
fn row(spec: &Spec, middle: Fdi) -> Row {
    let is_die = spec.extent == Extent::Die;
    Row {
        middle,
        mesially: if is_die { 0 } else { spec.teeth_mesially },
        distally: if is_die { 0 } else { spec.teeth_distally },
        curvature_per_mm: (spec.arch_form == ArchForm::Even).then_some(spec.arch_curvature_per_mm),
        level: spec.row_level,
        missing: spec.missing.iter().filter_map(|&number| Fdi::new(number)).collect(),
    }
}

/// Another tooth of the arch, prepared by a spec of its own.
fn further(spec: &Spec, arch: &Arch) -> Result<Cut, SpecError> {
    let fdi = spec.check()?;
    let index = arch.teeth.iter().position(|placed| placed.tooth.fdi == fdi);
    let index = index.filter(|&i| i != arch.middle).ok_or(SpecError::NotInRow(spec.fdi))?;
    Ok(Cut { index, spec: spec.clone(), preparation: Preparation::new(spec, &arch.seen_from(index)) })
}

/// How far mesially of its namesake in the upper jaw a lower tooth stands, mm.
fn offset_along(upper: Fdi) -> f64 {
    if upper.position() > 3 {
        return 2.4;
    }
    // Front teeth are set from the mid-line: the difference of the widths up to the middle of the tooth.
    let from_mid_line = |fdi: Fdi| {
        let width = |steps: i8| fdi.distally(steps).map_or(0.0, |f| f.size().md_mm);
        (1 - fdi.position() as i8..0).map(width).sum::<f64>() + 0.5 * fdi.size().md_mm
    };
    from_mid_line(upper) - from_mid_line(upper.opposing())
}

/// Sets the other jaw against the unprepared teeth: functional cusps over the fossae, every tooth erupted to contact.
fn occlude(row: &Row, arch: &Arch) -> (Arch, f64) {
    let fdi = row.middle;
    let other = fdi.opposing();
    // Lower teeth stand half a cusp mesially of, and a cusp's width lingually of, their upper namesakes.
    let along = offset_along(if fdi.is_upper() { fdi } else { other });
    let (s0, t0) = if fdi.is_upper() { (along, -2.5) } else { (-along, 2.5) };
    let facing = Row { middle: other, missing: Vec::new(), ..row.clone() };
    let mut opposing = arch.opposing(&facing, s0, t0);
    let level = fdi.size().crown_mm + other.size().crown_mm - 1.2;
    let shifts: Vec<Option<f64>> = opposing.teeth.iter().map(|tooth| eruption(tooth, arch, level)).collect();
    let met: Vec<f64> = shifts.iter().flatten().copied().collect();
    let mean = met.iter().sum::<f64>() / met.len().max(1) as f64;
    for (tooth, shift) in opposing.teeth.iter_mut().zip(&shifts) {
        tooth.shift_occlusally(shift.unwrap_or(mean));
    }
    opposing.refit_gingiva();
    (opposing, level)
}

/// How far a tooth must move until it is worn in by the wear depth; `None` when it meets nothing within 1.6 mm (front teeth 2.5 mm).
fn eruption(placed: &Placed, arch: &Arch, level: f64) -> Option<f64> {
    let arch_from_tooth = placed.arch_from_tooth();
    let points: Vec<_> = placed.tooth.biting_points().iter().map(|p| arch_from_tooth * p).collect();
    let range = if placed.tooth.front().is_some() { 2.5 } else { 1.6 };
    let gap = |shift: f64| {
        let facing = points.iter().map(|p| Point3::new(p.x, p.y, level - p.z - shift));
        facing.map(|p| uncut_teeth(arch, &p)).fold(f64::MAX, f64::min)
    };
    let (mut low, mut high) = (-range, range);
    if gap(high) > -WEAR_MM || gap(low) < -WEAR_MM {
        return None;
    }
    for _ in 0..24 {
        let middle = 0.5 * (low + high);
        if gap(middle) > -WEAR_MM { low = middle } else { high = middle }
    }
    Some(low)
}

fn nicks(spec: &Spec, arch: &Arch) -> Vec<Nick> {
    // The side that faces the prepared tooth: distal of the mesial neighbour, unless the mid-line lies between.
    let facing_distally = |index: usize| {
        let across = arch.teeth.get(index).is_some_and(|placed| placed.frame().is_mirrored());
        if across { 0.0 } else { std::f64::consts::PI }
    };
    let wanted = [
        (spec.nick_mesial_mm, arch.middle + 1, facing_distally(arch.middle + 1)),
        (spec.nick_distal_mm, arch.middle.wrapping_sub(1), 0.0),
    ];
    let cut = wanted.into_iter().filter(|&(depth, tooth, _)| depth > 0.0 && tooth < arch.teeth.len());
    cut.map(|(depth, index, side)| {
        let placed = &arch.teeth[index];
        let tooth = &placed.tooth;
        // Under the contact and a little facial of it, where an instrument that strays first bites.
        let azimuth = if side > 1.0 { side - 0.12 } else { 0.12 };
        let z = 0.52 * tooth.crown_mm;
        let r = tooth.radius_at(azimuth, z);
        let on = Point3::new(r * azimuth.cos(), r * azimuth.sin(), z);
        let normal = tooth.normal(&on);
        let arch_from_tooth = placed.arch_from_tooth();
        let centre = arch_from_tooth * (on + normal * (NICK_RADIUS_MM - depth));
        Nick { tooth: index, centre, deepest: arch_from_tooth * (on - normal * depth) }
    })
    .collect()
}
