//! How the lower jaw moves over the scanned teeth: from the jaw model or a recording to poses in the after frame, with
//! what the unprepared teeth allow.
//!
//! [`jaw_motion`] is what a view needs to move the jaw: [`JawMotion::lower_pose`] at any share of a movement.

mod guidance;
mod least;
mod path;
mod relief;
mod spread;

pub use guidance::Guidance;
pub use least::{Least, Pieces, least_over};
pub use path::{JawMotion, ModelPath, Site};
pub use spread::{Closest, model_sigma_mm};

use kerfwright_jaw::{JawSettings, Movement, Recording};

use crate::preparation::Preparation;

/// What the user said about the jaw.
#[derive(Debug, Clone, Default)]
pub struct JawWishes {
    /// The model's values.
    pub settings: JawSettings,
    /// Recorded movements, poses in the frame of the opposing scan. One that bears the name of a movement of the model
    /// takes its place.
    pub recordings: Vec<Recording>,
}

impl JawWishes {
    /// The recording of a movement, if there is one.
    pub fn recording(&self, name: &str) -> Option<&Recording> {
        self.recordings.iter().find(|recording| recording.movement == name)
    }

    /// Names of the movements that are measured: the model's, then those that were recorded besides.
    pub fn movements(&self) -> Vec<String> {
        let model = Movement::ALL.iter().map(|movement| movement.id().to_owned());
        let recorded = self.recordings.iter().map(|recording| recording.movement.clone());
        model.chain(recorded.filter(|name| Movement::from_id(name).is_none())).collect()
    }
}

/// How the lower jaw moves in one movement of this attempt, by its name.
///
/// # Errors
/// In words: no opposing scan, a scan that is no bite, a recording that does not fit, teeth that lock.
pub fn jaw_motion(preparation: &Preparation<'_>, name: &str) -> Result<JawMotion, String> {
    let site = Site::of(preparation)?;
    let guidance = Guidance::new(preparation, &site);
    site.motion(preparation, name, &guidance)
}
