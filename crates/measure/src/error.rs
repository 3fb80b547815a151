//! Why an attempt cannot be measured at all.

/// One line each: the fault and the next step. A single reading that fails is not an error but a refusal.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MeasureError {
    /// Before and after agree everywhere.
    #[error(
        "no prepared tooth found: nothing between the two scans changed by more than {threshold_mm:.2} mm over \
         {least_area_mm2:.0} mm²; give the scan taken after cutting as AFTER and the uncut one as --before"
    )]
    NothingChanged {
        /// Smallest change that counts, mm.
        threshold_mm: f64,
        /// Smallest area that counts as a prepared tooth, mm².
        least_area_mm2: f64,
    },
    /// The first scan holds more tooth than the second.
    #[error(
        "the scans seem swapped: AFTER holds {volume_mm3:.0} mm³ more tooth than --before; exchange the two files"
    )]
    Swapped {
        /// Volume that appeared, mm³.
        volume_mm3: f64,
    },
    /// No preparation can be recognised without a before scan.
    #[error(
        "no prepared tooth found: no closed finish line with a wall above it (best candidate: {found_pct:.0} % of \
         the way round); give the uncut scan with --before; where gingiva lies over the finish line, free it and scan again; or check \
         that this is the scan after cutting"
    )]
    NoFinishLine {
        /// How much of the circumference the best candidate showed.
        found_pct: f64,
    },
    /// A before scan shows that something was cut, but no finish line runs round it.
    #[error(
        "no finish line runs round what was cut ({area_mm2:.0} mm² changed between the scans); scan the whole tooth again, down to \
         the gingiva; where gingiva lies over the finish line, free it first; or check that both scans are of this tooth"
    )]
    CutWithoutLine {
        /// Area that was cut, mm².
        area_mm2: f64,
    },
    /// The finish line could be followed only in part.
    #[error(
        "the finish line can be followed only {found_pct:.0} % of the way round; rescan the missing part: {where_to}"
    )]
    OpenFinishLine {
        /// How much of the circumference was found.
        found_pct: f64,
        /// Where it is missing.
        where_to: String,
    },
    /// Several teeth were cut.
    #[error(
        "{n_teeth} prepared teeth found; name all of them, for example --tooth 35,37, or give a point on the mesial side of \
         the one to measure with --mesial-point X,Y,Z"
    )]
    SeveralTeeth {
        /// How many.
        n_teeth: usize,
    },
    /// Neither the arch nor the neighbours tell mesial from distal.
    #[error(
        "cannot tell mesial from distal ({evidence}); say it with --mesial-point: {} lie on the {} sides",
        .sides.join(" or "),
        if .sides.len() == 2 { "two" } else { "four" }
    )]
    MesialUnknown {
        /// What was looked at.
        evidence: String,
        /// A point on each side that may be mesial, as the option wants it.
        sides: Vec<String>,
    },
    /// Not as many prepared teeth as were named.
    #[error(
        "{n_named} teeth are named with --tooth but {n_found} prepared teeth were found{}; name exactly the prepared ones",
        if *n_others == 0 { String::new() } else { format!(" (and {n_others} smaller cut places)") }
    )]
    OtherCount {
        /// How many teeth were named.
        n_named: usize,
        /// How many were found.
        n_found: usize,
        /// Cut regions that are no prepared tooth.
        n_others: usize,
    },
    /// Teeth that cannot stand in one scan, or are named twice.
    #[error("--tooth: {fault}; name each prepared tooth of one jaw once")]
    Named {
        /// What is wrong with them.
        fault: String,
    },
    /// Which found tooth is which cannot be told.
    #[error(
        "cannot tell which prepared tooth is {first} and which is {last} ({evidence}); give a point on the mesial side of one \
         of them, nearer to it than to the others, with --mesial-point"
    )]
    OrderUnknown {
        /// The tooth at one end.
        first: u8,
        /// The tooth at the other end.
        last: u8,
        /// What was looked at.
        evidence: String,
    },
    /// The given point does not help.
    #[error(
        "--mesial-point lies {distance_mm:.0} mm from the prepared tooth, in no clear direction: pick a point beside it"
    )]
    MesialPointUseless {
        /// Its distance from the tooth's centre.
        distance_mm: f64,
    },
    /// Alignment failed.
    #[error("{0}")]
    Registration(String),
}

impl MeasureError {
    /// Whether a cut was found, but no finish line round it.
    pub fn is_of_finish_line(&self) -> bool {
        matches!(self, Self::NoFinishLine { .. } | Self::CutWithoutLine { .. } | Self::OpenFinishLine { .. })
    }
}

/// A file that cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{file}: {fault}")]
pub struct InputError {
    /// File name as given.
    pub file: String,
    /// What is wrong and what to do.
    pub fault: String,
}
