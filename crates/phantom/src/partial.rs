//! Preparations that leave part of the crown, and grooves and boxes cut into a wall: plane by plane.

use nalgebra::{Point3, Vector3};

use crate::finish_line::FinishLine;
use crate::spec::{Coverage, CutForm, Onlay, WallCut};
use crate::tooth::Tooth;

/// What of the crown is covered, in the tooth's frame.
#[derive(Debug, Clone)]
pub enum Partial {
    /// Nothing is cut facially of a plane that holds the path.
    UpToPlane {
        /// Towards the facial.
        normal: Vector3<f64>,
        /// Distance of the plane from the axis.
        offset: f64,
    },
    /// A channel with proximal boxes, and cusps cut down beside it.
    Channel(Channel),
    /// The top alone; of a front tooth, its incisal edge.
    Top,
    /// The top, and the walls between two planes that hold the path.
    Between {
        /// Towards the mesial.
        normal: Vector3<f64>,
        /// Distance of each plane from the axis.
        offset: f64,
    },
}

/// An onlay's planes; `z` and `y` are those of the tooth.
#[derive(Debug, Clone)]
pub struct Channel {
    groove_y: f64,
    /// Half widths of isthmus and boxes at their floors.
    half_widths: [f64; 2],
    /// Heights of pulpal floor and box floors.
    floors: [f64; 2],
    /// How far mesially and distally the boxes' axial walls stand at the level of their floors.
    axial: [f64; 2],
    /// Tangents of the walls' lean in isthmus and boxes.
    leans: [f64; 2],
    /// Whether the cusps on the facial and on the lingual side are covered.
    covers: [bool; 2],
}

impl Partial {
    /// What is covered; `None` for a complete crown.
    pub fn new(coverage: &Coverage, tooth: &Tooth, line: &FinishLine) -> Option<Self> {
        match coverage {
            Coverage::Complete => None,
            Coverage::ThreeQuarter { facial_from_mm } => {
                let axis = line.axis();
                let normal = (Vector3::y() - axis * axis.y).normalize();
                Some(Self::UpToPlane { normal, offset: *facial_from_mm })
            }
            Coverage::Onlay(onlay) => Some(Self::Channel(Channel::new(onlay, tooth))),
            Coverage::TopAlone => Some(Self::Top),
            Coverage::ContactsStanding { within_mm } => {
                let axis = line.axis();
                let normal = (Vector3::x() - axis * axis.x).normalize();
                Some(Self::Between { normal, offset: *within_mm })
            }
        }
    }

    /// Positive where material is removed, from the value of a complete crown's cut and of its occlusal part.
    pub fn removed(&self, p: &Point3<f64>, complete: f64, occlusal: impl Fn() -> f64) -> f64 {
        match self {
            Self::UpToPlane { normal, offset } => complete.min(offset - p.coords.dot(normal)),
            Self::Channel(channel) => channel.removed(p, occlusal),
            Self::Top => occlusal(),
            Self::Between { normal, offset } => {
                occlusal().max(complete.min(offset - p.coords.dot(normal).abs()))
            }
        }
    }
}

impl Channel {
    fn new(onlay: &Onlay, tooth: &Tooth) -> Self {
        let half = tooth.half_widths_mm();
        let (functional, other) = (onlay.covers_functional, onlay.covers_nonfunctional);
        Self {
            groove_y: tooth.groove_y_mm(),
            half_widths: [onlay.isthmus_mm, onlay.box_width_mm].map(|w| 0.5 * w),
            floors: [onlay.depth_mm, onlay.box_depth_mm].map(|d| tooth.crown_mm - d),
            axial: [half[0], half[2]].map(|w| w - onlay.box_axial_mm),
            leans: [onlay.divergence_deg, onlay.box_divergence_deg.unwrap_or(onlay.divergence_deg)]
                .map(|deg| deg.to_radians().tan()),
            covers: if tooth.fdi.is_upper() { [other, functional] } else { [functional, other] },
        }
    }

    fn removed(&self, p: &Point3<f64>, occlusal: impl Fn() -> f64) -> f64 {
        let across = p.y - self.groove_y;
        // Walls stand where they do at the floor and lean outwards from there.
        let wall = |lean: f64, at: f64, up: f64, outwards: f64| {
            (at + up * lean - outwards) / (1.0 + lean * lean).sqrt()
        };
        let [in_isthmus, in_box] = self.leans;
        let up = self.floors.map(|floor| p.z - floor);
        let isthmus = wall(in_isthmus, self.half_widths[0], up[0], across.abs()).min(up[0]);
        let beyond = p.x - self.axial[0];
        let beyond = beyond.max(-p.x - self.axial[1]);
        let boxes = wall(in_box, self.half_widths[1], up[1], across.abs())
            .min(wall(in_box, 0.0, up[1], -beyond))
            .min(up[1]);
        let channel = isthmus.max(boxes);
        let covered = if across > 0.0 { self.covers[0] } else { self.covers[1] };
        if covered || self.covers.contains(&true) && across.abs() < 0.5 {
            let side = if self.covers[0] && self.covers[1] {
                f64::MAX
            } else if self.covers[0] {
                across
            } else {
                -across
            };
            return channel.max(occlusal().min(side));
        }
        channel
    }
}

/// A groove or box in a wall, in the tooth's frame.
#[derive(Debug, Clone)]
pub struct Carved {
    cut: WallCut,
    /// Middle of the cut's mouth at its floor: on the wall line.
    pub mouth: Point3<f64>,
    /// Unit vectors inwards, along the finish line, along the path.
    inward: Vector3<f64>,
    along: Vector3<f64>,
    axis: Vector3<f64>,
}

impl Carved {
    /// Places a cut into the wall at its azimuth.
    pub fn new(cut: &WallCut, line: &FinishLine) -> Self {
        let azimuth = cut.azimuth_deg.to_radians();
        let (inward, axis) = (line.inward(azimuth), line.axis());
        let reach = line.section(azimuth).wall_inward(cut.floor_mm);
        Self {
            cut: *cut,
            mouth: line.edge(azimuth) + inward * reach + axis * cut.floor_mm,
            inward,
            along: axis.cross(&inward),
            axis,
        }
    }

    /// Positive where material is removed.
    pub fn removed(&self, p: &Point3<f64>) -> f64 {
        let d = p - self.mouth;
        let (depth, aside, up) = (d.dot(&self.inward), d.dot(&self.along), d.dot(&self.axis));
        let lean = self.cut.taper_deg.to_radians();
        let (wider, cosine) = (up * lean.tan(), lean.cos());
        let half = 0.5 * self.cut.width_mm;
        let sides = match self.cut.form {
            CutForm::Box => {
                let side = half + wider - aside.abs();
                side.min(self.cut.depth_mm + wider - depth)
            }
            CutForm::Groove => {
                // A round end: half a circle of the groove's own radius about a point that far before its bottom.
                let centre = self.cut.depth_mm - half;
                half + wider - if depth > centre { aside.hypot(depth - centre) } else { aside.abs() }
            }
        };
        // Nothing is cut on the other side of the tooth's wall: the mouth is open outwards.
        (sides * cosine).min(up)
    }

    /// Middle of the cut's bottom at its floor.
    pub fn bottom(&self) -> Point3<f64> {
        self.mouth + self.inward * self.cut.depth_mm
    }
}
