//! The instruments at hand, as far as advice needs to know them.

use serde::{Deserialize, Serialize};

/// One instrument of a kit. All lengths are those of the working part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Tool {
    /// Its id in the kit, as exercises name it.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Shape of the head.
    pub head: Head,
    /// Largest diameter; of a bar gauge, its width.
    pub diameter_mm: f64,
    /// Diameter of the end: of the flat end with its corner taken for sharp, of the ball of a round end.
    pub tip_diameter_mm: f64,
    /// Angle of one side to the instrument's axis.
    pub half_angle_deg: f64,
    /// Radius of the rounded corner of a flat end; 0 where it is sharp or the end is not flat.
    pub corner_radius_mm: f64,
    /// How it cuts.
    pub grit: Grit,
}

/// Shape of a head, by its outline seen from the side.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Head {
    /// A sphere.
    Ball,
    /// A disc with rounded rim.
    Wheel,
    /// Parallel sides, flat end.
    FlatCylinder,
    /// Parallel sides, end a hemisphere.
    RoundCylinder,
    /// Sides that taper to a flat end.
    FlatCone,
    /// Sides that taper to a ball.
    RoundCone,
    /// Sides that taper to a very small ball or a point.
    PointedCone,
    /// Sides that turn smoothly into a pointed arch.
    Torpedo,
    /// A pointed arch up and down.
    Flame,
    /// An ellipsoid.
    Football,
    /// A rounded head that narrows to the shank.
    Pear,
    /// A flexible disc.
    Disc,
    /// A bar of known width: it cuts nothing, it shows whether there is room.
    Bar,
}

impl Head {
    /// All, in the order of their declaration.
    pub const ALL: [Self; 13] = [
        Self::Ball,
        Self::Wheel,
        Self::FlatCylinder,
        Self::RoundCylinder,
        Self::FlatCone,
        Self::RoundCone,
        Self::PointedCone,
        Self::Torpedo,
        Self::Flame,
        Self::Football,
        Self::Pear,
        Self::Disc,
        Self::Bar,
    ];

    /// The word in tables of texts and rules.
    pub fn key(self) -> &'static str {
        match self {
            Self::Ball => "ball",
            Self::Wheel => "wheel",
            Self::FlatCylinder => "flat_cylinder",
            Self::RoundCylinder => "round_cylinder",
            Self::FlatCone => "flat_cone",
            Self::RoundCone => "round_cone",
            Self::PointedCone => "pointed_cone",
            Self::Torpedo => "torpedo",
            Self::Flame => "flame",
            Self::Football => "football",
            Self::Pear => "pear",
            Self::Disc => "disc",
            Self::Bar => "bar",
        }
    }
}

/// How an instrument cuts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Grit {
    /// Fast: coarse diamonds.
    Coarse,
    /// As usual: medium diamonds, bladed instruments.
    Medium,
    /// For finishing: fine diamonds and finer.
    Fine,
    /// Not at all: a gauge.
    None,
}
