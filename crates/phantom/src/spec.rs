//! What a preparation shall be like.

use nalgebra::{Isometry3, Unit, UnitQuaternion, Vector3};

use crate::flaws::Flaws;

/// A value for each aspect of a tooth.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct ByAspect<T> {
    /// Towards the mid-line along the arch.
    pub mesial: T,
    /// Towards cheek or lip.
    pub facial: T,
    /// Away from the mid-line along the arch.
    pub distal: T,
    /// Towards the tongue or palate.
    pub lingual: T,
}

impl<T: Copy> ByAspect<T> {
    /// The same value all round.
    pub fn all(value: T) -> Self {
        Self { mesial: value, facial: value, distal: value, lingual: value }
    }

    /// Mesial, facial, distal, lingual: by rising angle from mesial towards facial.
    pub fn around(&self) -> [T; 4] {
        [self.mesial, self.facial, self.distal, self.lingual]
    }

    /// The inverse of [`Self::around`].
    pub fn from_around(v: [T; 4]) -> Self {
        Self { mesial: v[0], facial: v[1], distal: v[2], lingual: v[3] }
    }

    /// Each value turned into another one.
    pub fn map<U: Copy>(&self, f: impl Fn(T) -> U) -> ByAspect<U> {
        ByAspect::from_around(self.around().map(f))
    }
}

/// The form of a finish line.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Finish {
    /// The floor is the arc of an instrument's round end, tangent to the wall.
    ///
    /// A radius below the width leaves an unsupported lip. `None`: the radius
    /// with which the floor falls by 30° at E (close to twice the width).
    Chamfer {
        /// Radius of the round end.
        tip_radius_mm: Option<f64>,
    },
    /// A floor perpendicular to the path; the inner corner rounded, or sharp with radius 0.
    Shoulder {
        /// Radius between floor and wall.
        internal_radius_mm: f64,
    },
    /// A flat floor that falls outwards.
    SlopedShoulder {
        /// Fall of the floor from the plane perpendicular to the path.
        declination_deg: f64,
        /// Radius between floor and wall.
        internal_radius_mm: f64,
    },
    /// No floor: the wall runs out in E. The width counts as 0.
    KnifeEdge,
}

impl Finish {
    /// A chamfer that meets E at 30°.
    pub const CHAMFER: Self = Self::Chamfer { tip_radius_mm: None };
    /// A shoulder with an inner radius of 0.2 mm.
    pub const SHOULDER: Self = Self::Shoulder { internal_radius_mm: 0.2 };

    /// The word of the trade.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Chamfer { .. } => "chamfer",
            Self::Shoulder { .. } => "shoulder",
            Self::SlopedShoulder { .. } => "sloped shoulder",
            Self::KnifeEdge => "knife edge",
        }
    }
}

/// How much is taken off the occlusal surface: medians of the closest distance over each zone.
///
/// The generator settles its cutting surface so that the medians come out within a few hundredths of these;
/// what was achieved is in [`crate::Truth`].
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct OcclusalReduction {
    /// On the side of the functional cusps (upper lingual, lower facial), and depth of the bevel.
    pub functional_mm: f64,
    /// On the other side.
    pub nonfunctional_mm: f64,
    /// Between, along the central groove.
    pub groove_mm: f64,
}

/// How much is taken off an incisor or canine over its walls.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct IncisalReduction {
    /// Off the incisal edge, along the tooth's axis; the cut follows the edge (a canine keeps its two slopes).
    pub incisal_mm: f64,
    /// Off the lingual fossa: median closest distance between cingulum wall and incisal edge, following the anatomy.
    pub fossa_mm: f64,
}

/// A second facial plane that leans further in than the wall under it.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct SecondPlane {
    /// Angle between the two planes; must not be negative.
    pub angle_deg: f64,
    /// Height of the break over E.
    pub break_mm: f64,
}

/// The whole preparation tipped against the tooth's axis.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Tilt {
    /// Angle between the path of placement and the tooth's axis.
    pub angle_deg: f64,
    /// Towards which side the path's occlusal end leans: 0 mesial, 90 facial, 180 distal, 270 lingual.
    pub toward_deg: f64,
}

/// The line along which the teeth stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum ArchForm {
    /// The same curvature everywhere: a short row.
    #[default]
    Even,
    /// The usual form of a jaw, round in front and nearly straight at the sides, symmetric about the mid-line.
    Jaw,
}

/// Which plane the teeth of a row share. Crowns differ in length, so that only one of the two can be level.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum RowLevel {
    /// Their cusps and edges reach one plane.
    #[default]
    Cusps,
    /// They stand on one plane with their necks, and with the gum, so that their axes are square to it.
    Necks,
}

/// What there is to scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Extent {
    /// Teeth and gum.
    #[default]
    Arch,
    /// Teeth alone, as on a model without its gum; heights over the gum are counted from where it would be.
    WithoutGingiva,
    /// The prepared tooth alone on a base, trimmed below the finish line, closed all round; no neighbours, no gum.
    Die,
}

/// How a tooth sits that was taken out of the model, cut and put back: against its neighbours in the after scan.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Remount {
    /// Shift towards mesial, facial and occlusal, mm.
    pub shift_mm: [f64; 3],
    /// Angle by which it is tipped, about the middle of its cervix.
    pub tilt_deg: f64,
    /// Towards which side its crown leans: 0 mesial, 90 facial, 180 distal, 270 lingual.
    pub toward_deg: f64,
    /// Turn about its own axis, from mesial towards facial.
    pub turn_deg: f64,
}

impl Remount {
    /// From where a point of the tooth was to where it is, in the tooth's frame.
    pub(crate) fn motion(&self) -> Isometry3<f64> {
        let (sine, cosine) = self.toward_deg.to_radians().sin_cos();
        let across = Unit::new_normalize(Vector3::new(-sine, cosine, 0.0));
        let turn = UnitQuaternion::from_axis_angle(&across, self.tilt_deg.to_radians())
            * UnitQuaternion::from_axis_angle(&Vector3::z_axis(), self.turn_deg.to_radians());
        Isometry3::from_parts(Vector3::from(self.shift_mm).into(), turn)
    }
}

/// How much of the crown is covered.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Coverage {
    /// A complete crown.
    #[default]
    Complete,
    /// A three-quarter crown: nothing is cut facially of a plane that holds the path, so that the facial surface
    /// stays. Readings of the facial wall do not count; the line that does is [`crate::Truth::outline`].
    ThreeQuarter {
        /// Distance of the plane from the tooth's axis, mm facially.
        facial_from_mm: f64,
    },
    /// An onlay: channel, proximal boxes, cusps as wanted. There is no wall all round: of the truth, volumes, the
    /// occlusal zones (covered cusps alone) and [`crate::Truth::outline`] count.
    Onlay(Onlay),
    /// Nothing yet but the top: the tooth after occlusal or incisal reduction, its walls (of a front tooth its fossa, too) as they
    /// were. Of the truth, volumes and the occlusal zones count.
    TopAlone,
    /// The top, and the walls facially and lingually; the contacts stand, as after the first axial reduction: mesially and distally
    /// of two planes that hold the path the top alone is cut. Of the truth, the occlusal zones count, and the walls and the finish
    /// line facially and lingually.
    ContactsStanding {
        /// Distance of each plane from the tooth's axis, mm.
        within_mm: f64,
    },
}

/// The planes of an onlay. Depths are counted from the highest cusp tip of the unprepared tooth, along its axis.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Onlay {
    /// Width of the channel at its floor; it lies over the groove line.
    pub isthmus_mm: f64,
    /// Depth of its floor.
    pub depth_mm: f64,
    /// Faciolingual width of the boxes at their floors.
    pub box_width_mm: f64,
    /// Depth of their floors.
    pub box_depth_mm: f64,
    /// How far their axial walls stand inside the crown's mesial and distal height of contour, at the floor.
    pub box_axial_mm: f64,
    /// Lean of every wall outwards.
    pub divergence_deg: f64,
    /// That of the boxes' walls where it is another; negative where they are undercut.
    pub box_divergence_deg: Option<f64>,
    /// Whether the functional cusps are cut down, by [`OcclusalReduction`] and bevel.
    pub covers_functional: bool,
    /// Whether the other cusps are.
    pub covers_nonfunctional: bool,
}

impl Default for Onlay {
    /// Mesial, occlusal and distal, with the functional cusps covered.
    fn default() -> Self {
        Self {
            isthmus_mm: 2.5,
            depth_mm: 3.2,
            box_width_mm: 4.0,
            box_depth_mm: 4.8,
            box_axial_mm: 1.6,
            divergence_deg: 8.0,
            box_divergence_deg: None,
            covers_functional: true,
            covers_nonfunctional: false,
        }
    }
}

/// The cross-section of a cut into a wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum CutForm {
    /// Flat sides and a flat bottom.
    Box,
    /// Parallel sides that end in half a circle.
    Groove,
}

/// A groove or box in an axial wall, open outwards and occlusally, with a floor perpendicular to the path.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct WallCut {
    /// Its cross-section.
    pub form: CutForm,
    /// Where around the tooth: 0 mesial, 90 facial, 180 distal, 270 lingual.
    pub azimuth_deg: f64,
    /// Width at the floor, along the finish line.
    pub width_mm: f64,
    /// Depth at the floor, from the wall line straight inwards.
    pub depth_mm: f64,
    /// Lean of its sides outwards and of its bottom inwards.
    pub taper_deg: f64,
    /// Height of its floor over E.
    pub floor_mm: f64,
}

/// A preparation in its quadrant. Change what matters: `Spec { fdi: 35, ..Spec::default() }`.
///
/// Values by aspect hold within 30° of the aspect's middle (angle about the tooth's axis) and pass smoothly
/// into each other between 30° and 60°.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Spec {
    /// Which tooth.
    pub fdi: u8,
    /// Taper of the walls to the preparation's axis; negative = undercut.
    pub taper_deg: ByAspect<f64>,
    /// Horizontal distance from E to the wall line extended to the level of E.
    pub width_mm: ByAspect<f64>,
    /// Form of the finish line.
    pub finish: ByAspect<Finish>,
    /// Height of E over the line where the gum meets the unprepared tooth, along the tooth's axis.
    pub above_gingiva_mm: ByAspect<f64>,
    /// Occlusal reduction by zone.
    pub occlusal: OcclusalReduction,
    /// Reduction of an incisor or canine, instead of `occlusal` and `bevel_deg`, which count for the others.
    pub incisal: IncisalReduction,
    /// Angle of the functional cusp bevel to the tooth's axis; `None` leaves it out.
    pub bevel_deg: Option<f64>,
    /// A facial wall in two planes.
    pub second_plane: Option<SecondPlane>,
    /// The preparation tipped as a whole; the occlusal reduction still follows the anatomy.
    pub tilt: Option<Tilt>,
    /// How much of the crown is covered.
    pub coverage: Coverage,
    /// Grooves and boxes in the walls. Readings of walls are those beside them.
    pub wall_cuts: Vec<WallCut>,
    /// Depth of a nick in the mesial neighbour, 0 for none.
    pub nick_mesial_mm: f64,
    /// Depth of a nick in the distal neighbour, 0 for none.
    pub nick_distal_mm: f64,
    /// Radius of the occlusal line angles, 0 = sharp, as an instrument leaves them.
    pub line_angle_radius_mm: f64,
    /// The same by aspect, instead of `line_angle_radius_mm`.
    pub line_angle_radii_mm: Option<ByAspect<f64>>,
    /// What is wrong with it beyond these numbers.
    #[cfg_attr(feature = "serde", serde(default))]
    pub flaws: Flaws,
    /// Teeth mesial of the prepared one; the row leads on across the mid-line.
    pub teeth_mesially: u8,
    /// Teeth distal of the prepared one.
    pub teeth_distally: u8,
    /// Curvature of an even arch in the occlusal plane, 1/mm; 0 = straight.
    pub arch_curvature_per_mm: f64,
    /// The line along which the teeth stand.
    pub arch_form: ArchForm,
    /// Which plane the teeth share; those of the other jaw erupt to meet them.
    #[cfg_attr(feature = "serde", serde(default))]
    pub row_level: RowLevel,
    /// Teeth whose places are empty.
    pub missing: Vec<u8>,
    /// Further prepared teeth of the same arch, each with its own spec; of the arch, nicks and remounting only what
    /// is said here counts. See [`crate::Phantom::bridge_truth`].
    pub abutments: Vec<Spec>,
    /// What there is to scan.
    pub extent: Extent,
    /// How the prepared tooth sits after cutting; `None` where it always was.
    pub remount: Option<Remount>,
}

impl Default for Spec {
    /// An upper left first molar, chamfer all round, everything as a good learner leaves it.
    fn default() -> Self {
        Self {
            fdi: 26,
            taper_deg: ByAspect::all(6.0),
            width_mm: ByAspect::all(0.6),
            finish: ByAspect::all(Finish::CHAMFER),
            above_gingiva_mm: ByAspect::all(0.5),
            occlusal: OcclusalReduction { functional_mm: 1.5, nonfunctional_mm: 1.0, groove_mm: 1.1 },
            incisal: IncisalReduction { incisal_mm: 2.0, fossa_mm: 0.7 },
            bevel_deg: Some(45.0),
            second_plane: None,
            tilt: None,
            coverage: Coverage::Complete,
            wall_cuts: Vec::new(),
            nick_mesial_mm: 0.0,
            nick_distal_mm: 0.0,
            line_angle_radius_mm: 0.25,
            line_angle_radii_mm: None,
            flaws: Flaws::default(),
            teeth_mesially: 2,
            teeth_distally: 1,
            arch_curvature_per_mm: 1.0 / 45.0,
            arch_form: ArchForm::Even,
            row_level: RowLevel::Cusps,
            missing: Vec::new(),
            abutments: Vec::new(),
            extent: Extent::Arch,
            remount: None,
        }
    }
}

/// Why no phantom can be made.
#[derive(Debug, Clone, PartialEq)]
pub enum SpecError {
    /// No such permanent tooth.
    UnknownTooth(u8),
    /// A further abutment that does not stand in the row, or is the prepared tooth itself.
    NotInRow(u8),
    /// A value outside of what the geometry can show.
    OutOfRange {
        /// Which value.
        what: &'static str,
        /// What it was.
        value: f64,
        /// Least and greatest.
        range: (f64, f64),
    },
}

impl std::fmt::Display for SpecError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::UnknownTooth(n) => {
                write!(f, "{n} is no FDI number of a permanent tooth: use 11–18, 21–28, 31–38, 41–48")
            }
            Self::NotInRow(n) => write!(
                f,
                "tooth {n} cannot be a further abutment: make the row longer, or give another tooth than the first"
            ),
            Self::OutOfRange { what, value, range } => {
                write!(f, "{what} is {value}: keep it between {} and {}", range.0, range.1)
            }
        }
    }
}

impl std::error::Error for SpecError {}

impl Spec {
    /// The usual metal-ceramic or ceramic crown of an incisor or canine: facial shoulder and two facial planes,
    /// chamfer elsewhere.
    pub fn front(fdi: u8) -> Self {
        let upper = fdi < 30;
        let facial = if upper { 1.0 } else { 0.6 };
        Self {
            fdi,
            taper_deg: ByAspect::all(5.0),
            width_mm: ByAspect { facial, ..ByAspect::all(if upper { 0.6 } else { 0.4 }) },
            finish: ByAspect { facial: Finish::SHOULDER, ..ByAspect::all(Finish::CHAMFER) },
            second_plane: Some(SecondPlane { angle_deg: if upper { 14.0 } else { 16.0 }, break_mm: 3.0 }),
            incisal: IncisalReduction { incisal_mm: if upper { 2.0 } else { 1.5 }, fossa_mm: 0.6 },
            teeth_mesially: 2,
            teeth_distally: 2,
            arch_curvature_per_mm: if upper { 1.0 / 22.0 } else { 1.0 / 20.0 },
            ..Self::default()
        }
    }

    /// The same tooth in its whole jaw: second molar to second molar in the usual form of an arch.
    pub fn in_full_arch(self) -> Self {
        let position = self.fdi % 10;
        let (teeth_mesially, teeth_distally) = (position + 6, 7u8.saturating_sub(position));
        Self { teeth_mesially, teeth_distally, arch_form: ArchForm::Jaw, ..self }
    }

    /// The same tooth in its quadrant: from the mid-line to the second molar.
    pub fn in_quadrant(self) -> Self {
        let position = self.fdi % 10;
        let (teeth_mesially, teeth_distally) = (position.saturating_sub(1), 7u8.saturating_sub(position));
        Self { teeth_mesially, teeth_distally, arch_form: ArchForm::Jaw, ..self }
    }

    /// The same tooth in its sextant: canine to canine, or first premolar to second molar.
    pub fn in_sextant(self) -> Self {
        let position = self.fdi % 10;
        let (teeth_mesially, teeth_distally) = if position < 4 {
            (position + 2, 3u8.saturating_sub(position))
        } else {
            (position - 4, 7u8.saturating_sub(position))
        };
        Self { teeth_mesially, teeth_distally, arch_form: ArchForm::Jaw, ..self }
    }

    /// The same tooth in a row that stands level on its necks.
    pub fn on_level_necks(self) -> Self {
        Self { row_level: RowLevel::Necks, ..self }
    }

    /// The same tooth alone on a trimmed die.
    pub fn as_die(self) -> Self {
        Self { extent: Extent::Die, ..self }
    }

    /// Refuses what the generator cannot show truly.
    pub(crate) fn check(&self) -> Result<crate::Fdi, SpecError> {
        let fdi = crate::Fdi::new(self.fdi).ok_or(SpecError::UnknownTooth(self.fdi))?;
        let each = |what, values: &ByAspect<f64>, low, high| {
            values.around().into_iter().try_for_each(|v| within(what, v, low, high))
        };
        each("taper_deg", &self.taper_deg, -15.0, 35.0)?;
        each("width_mm", &self.width_mm, 0.0, 1.8)?;
        each("above_gingiva_mm", &self.above_gingiva_mm, -1.2, 2.0)?;
        within("functional_mm", self.occlusal.functional_mm, 0.2, 3.0)?;
        within("nonfunctional_mm", self.occlusal.nonfunctional_mm, 0.2, 3.0)?;
        within("groove_mm", self.occlusal.groove_mm, 0.2, 3.0)?;
        within("incisal_mm", self.incisal.incisal_mm, 0.2, 4.0)?;
        within("fossa_mm", self.incisal.fossa_mm, 0.1, 1.6)?;
        within("line_angle_radius_mm", self.line_angle_radius_mm, 0.0, 1.0)?;
        each("line_angle_radii_mm", &self.line_angle_radii_mm.unwrap_or_default(), 0.0, 1.0)?;
        self.flaws.check(self)?;
        within("arch_curvature_per_mm", self.arch_curvature_per_mm, 0.0, 0.05)?;
        within("nick_mesial_mm", self.nick_mesial_mm, 0.0, 0.6)?;
        within("nick_distal_mm", self.nick_distal_mm, 0.0, 0.6)?;
        within("bevel_deg", self.bevel_deg.unwrap_or(45.0), 20.0, 70.0)?;
        within("tilt angle_deg", self.tilt.map_or(0.0, |t| t.angle_deg), 0.0, 25.0)?;
        within("second_plane angle_deg", self.second_plane.map_or(0.0, |p| p.angle_deg), 0.0, 40.0)?;
        self.check_coverage()?;
        if let Some(remount) = &self.remount {
            remount.shift_mm.iter().try_for_each(|&v| within("remount shift_mm", v, -0.5, 0.5))?;
            within("remount tilt_deg", remount.tilt_deg, 0.0, 5.0)?;
            within("remount turn_deg", remount.turn_deg, -10.0, 10.0)?;
        }
        if self.missing.contains(&self.fdi) {
            return Err(SpecError::NotInRow(self.fdi));
        }
        Ok(fdi)
    }

    fn check_coverage(&self) -> Result<(), SpecError> {
        for cut in &self.wall_cuts {
            within("wall cut width_mm", cut.width_mm, 0.2, 5.0)?;
            within("wall cut depth_mm", cut.depth_mm, 0.1, 3.0)?;
            within("wall cut taper_deg", cut.taper_deg, 0.0, 15.0)?;
            within("wall cut floor_mm", cut.floor_mm, 0.0, 5.0)?;
        }
        match self.coverage {
            Coverage::Complete | Coverage::TopAlone => Ok(()),
            Coverage::ThreeQuarter { facial_from_mm } => within("facial_from_mm", facial_from_mm, 0.5, 5.0),
            Coverage::ContactsStanding { within_mm } => within("within_mm", within_mm, 1.0, 5.0),
            Coverage::Onlay(onlay) => {
                within("isthmus_mm", onlay.isthmus_mm, 0.5, 6.0)?;
                within("box_width_mm", onlay.box_width_mm, 0.5, 7.0)?;
                within("onlay depth_mm", onlay.depth_mm, 1.5, 5.5)?;
                within("box_depth_mm", onlay.box_depth_mm, onlay.depth_mm, 6.5)?;
                within("box_axial_mm", onlay.box_axial_mm, 0.3, 3.5)?;
                within("divergence_deg", onlay.divergence_deg, -15.0, 20.0)?;
                within("box_divergence_deg", onlay.box_divergence_deg.unwrap_or(0.0), -15.0, 20.0)
            }
        }
    }
}

pub(crate) fn within(what: &'static str, value: f64, low: f64, high: f64) -> Result<(), SpecError> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(SpecError::OutOfRange { what, value, range: (low, high) })
}
