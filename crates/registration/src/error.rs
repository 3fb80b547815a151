//! Why two scans were not registered.

/// A registration that would have been wrong or doubtful, and what to do about it.
///
/// Shares are of the weighted overlap, in which teeth count more than gingiva.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RegistrationError {
    /// A scan has no surface to register.
    #[error(
        "the {which} scan holds {area_mm2:.1} mm² of surface, less than a tooth: export the whole scan again"
    )]
    TooSmall {
        /// `fixed` or `moving`.
        which: &'static str,
        /// Its area, mm².
        area_mm2: f64,
    },
    /// The caller's weights do not fit the scan.
    #[error(
        "{given} weights were given for the {which} scan's {vertices} vertices, or one is not finite and ≥ 0: give one a vertex"
    )]
    Weights {
        /// `fixed` or `moving`.
        which: &'static str,
        /// Weights given.
        given: usize,
        /// Vertices of the scan.
        vertices: usize,
    },
    /// No pose explains the scans.
    #[error(
        "no pose brings the scans together (the best explains {explained_pct:.0} % of the surface where they overlap and contradicts {contradicted_pct:.0} %): check that both show the same arch, not its opponent or another learner's"
    )]
    NotTheSame {
        /// Explained share of the overlap in the best pose, per cent.
        explained_pct: f64,
        /// Share that lies on the rarer side of the other scan, which cutting alone does not leave, per cent.
        contradicted_pct: f64,
    },
    /// The mirror image registers where the scan itself does not.
    #[error(
        "the moving scan is mirrored (its mirror image explains {mirrored_pct:.0} % of the overlap, the scan itself {explained_pct:.0} %): export it again without mirroring"
    )]
    Mirrored {
        /// Explained share by the mirror image, per cent.
        mirrored_pct: f64,
        /// Explained share by the scan as it is, per cent.
        explained_pct: f64,
    },
    /// The scans agree, but on so little that the pose rests on it.
    #[error(
        "the scans agree on {explained_mm2:.0} mm² of surface only, too little to rest a pose on: scan again with more of the arch in common"
    )]
    TooLittleOverlap {
        /// Explained surface, mm².
        explained_mm2: f64,
    },
    /// Two poses explain the scans equally well.
    #[error(
        "two poses {apart_mm:.1} mm and {turned_deg:.0}° apart explain the scans equally well ({first_pct:.0} % and {second_pct:.0} %): scan more of the arch, so that it can be told which one is right"
    )]
    Ambiguous {
        /// Explained share in the best pose, per cent.
        first_pct: f64,
        /// Explained share in the second pose, per cent.
        second_pct: f64,
        /// Distance between the two places of the moving scan's centre, mm.
        apart_mm: f64,
        /// Turn between the two poses, degrees.
        turned_deg: f64,
    },
    /// The overlap does not hold the pose, as a flat or round one does not.
    #[error(
        "the common surface holds the pose to {uncertainty_mm:.3} mm and {turn_deg:.2}° only: scan more of the arch"
    )]
    PoorlyHeld {
        /// Standard uncertainty at the centre of the overlap, mm.
        uncertainty_mm: f64,
        /// Standard uncertainty of the turn, degrees.
        turn_deg: f64,
    },
}
