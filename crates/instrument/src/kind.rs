//! The shapes of heads.

/// The shape of a head, by its outline seen from the side.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum HeadKind {
    /// A sphere.
    Ball,
    /// A disc with rounded rim: its length is its thickness.
    Wheel,
    /// Parallel sides, flat end; the corner may be rounded.
    FlatCylinder,
    /// Parallel sides, end a hemisphere.
    RoundCylinder,
    /// Sides that taper to a flat end; the corner may be rounded.
    FlatCone,
    /// Sides that taper to a ball, which they touch smoothly.
    RoundCone,
    /// The same with a very small ball, or a point.
    PointedCone,
    /// Parallel or tapering sides that turn smoothly into a pointed arch, the nose.
    Torpedo,
    /// A pointed arch up to the largest diameter and the same arch mirrored above it.
    Flame,
    /// An ellipsoid.
    Football,
    /// A ball at the end, with sides that touch it and taper to the neck.
    Pear,
}

impl HeadKind {
    /// All, in the order of their declaration.
    pub const ALL: [Self; 11] = [
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
    ];

    /// The word in a kit.
    pub fn key(self) -> &'static str {
        self.words().0
    }

    /// The words for a reader.
    pub fn title(self) -> &'static str {
        self.words().1
    }

    fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::Ball => ("ball", "ball"),
            Self::Wheel => ("wheel", "wheel"),
            Self::FlatCylinder => ("flat_cylinder", "cylinder, flat end"),
            Self::RoundCylinder => ("round_cylinder", "cylinder, round end"),
            Self::FlatCone => ("flat_cone", "taper, flat end"),
            Self::RoundCone => ("round_cone", "taper, round end"),
            Self::PointedCone => ("pointed_cone", "pointed taper"),
            Self::Torpedo => ("torpedo", "torpedo"),
            Self::Flame => ("flame", "flame"),
            Self::Football => ("football", "football"),
            Self::Pear => ("pear", "pear"),
        }
    }

    /// Whether straight sides lie against a wall.
    pub fn has_straight_sides(self) -> bool {
        !matches!(self, Self::Ball | Self::Wheel | Self::Flame | Self::Football | Self::Pear)
    }

    /// Keys that a head of this kind may have besides `kind`, `diameter_mm` and `cuts`.
    pub(crate) fn keys(self) -> &'static [&'static str] {
        match self {
            Self::Ball => &[],
            Self::Wheel | Self::FlatCylinder => &["length_mm", "corner_radius_mm"],
            Self::RoundCylinder | Self::Football => &["length_mm"],
            Self::FlatCone => &["length_mm", "tip_diameter_mm", "half_angle_deg", "corner_radius_mm"],
            Self::RoundCone | Self::PointedCone => &["length_mm", "tip_diameter_mm", "half_angle_deg"],
            Self::Torpedo => &["length_mm", "tip_diameter_mm", "half_angle_deg", "nose_mm"],
            Self::Flame => &["length_mm", "nose_mm"],
            Self::Pear => &["length_mm", "neck_diameter_mm"],
        }
    }
}
