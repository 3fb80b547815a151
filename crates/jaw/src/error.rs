//! What can be wrong with a jaw file or a recording.

/// Why jaw settings or a recorded motion were refused, and what to do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum JawError {
    /// The settings are no TOML, or hold a key that there is not.
    #[error("jaw settings: {fault}; the keys are {keys}")]
    Settings {
        /// What the parser says.
        fault: String,
        /// All keys.
        keys: String,
    },
    /// A value outside of what a jaw can have.
    #[error("jaw settings: {key} = {value} lies outside {low} to {high}; check the value and its unit")]
    OutOfRange {
        /// Which one.
        key: &'static str,
        /// As given.
        value: f64,
        /// Least accepted.
        low: f64,
        /// Greatest accepted.
        high: f64,
    },
    /// A row of a recording that is not sixteen numbers.
    #[error(
        "recorded motion, line {line}: {fault}; give sixteen numbers a line, the 4x4 pose of the lower jaw row by row, \
         with the movement's name before them if there are several"
    )]
    Row {
        /// Line of the file, from 1.
        line: usize,
        /// What is wrong.
        fault: String,
    },
    /// A pose that stretches or shears.
    #[error(
        "recorded motion, line {line}: the pose is not rigid (off by {off:.4}); export turns and shifts alone"
    )]
    NotRigid {
        /// Line of the file, from 1.
        line: usize,
        /// Greatest departure from a rotation.
        off: f64,
    },
    /// A pose that mirrors.
    #[error(
        "recorded motion, line {line}: the pose mirrors the jaw; check the handedness of the recording's axes"
    )]
    Mirrored {
        /// Line of the file, from 1.
        line: usize,
    },
    /// A movement with less than two poses.
    #[error(
        "recorded motion: {movement} has {n} pose(s), at least {least} are needed; record the whole path"
    )]
    TooFew {
        /// Its name.
        movement: String,
        /// How many there are.
        n: usize,
        /// How many it takes.
        least: usize,
    },
    /// Two poses too far apart to say what lies between.
    #[error(
        "recorded motion: between pose {from} and the next the tooth moves {step_mm:.2} mm, more than {limit_mm} mm; \
         record more poses, and check that they are in the frame of the opposing scan"
    )]
    StepTooBig {
        /// Number of the pose before the step, from 1.
        from: usize,
        /// How far any point near the tooth moves.
        step_mm: f64,
        /// How far it may.
        limit_mm: f64,
    },
    /// The tooth frame given is not one.
    #[error(
        "the tooth frame does not fit the tooth's side of the jaw: check the tooth number and the mesial point"
    )]
    WrongHand,
}
