//! One attempt, from its scans to what is kept of it. Doing it again changes nothing.

use std::collections::BTreeMap;
use std::sync::Arc;

use kerfwright_exchange::person_code;
use kerfwright_exercise::Exercise;
use kerfwright_measure::attempt::sha256;
use kerfwright_measure::{Document, ScanFile, document};
use kerfwright_store::{Measured, NewGrade, NewMeasured, Store, StoreError};
use kerfwright_tooth::Numbered;
use tokio::runtime::Handle;

use crate::baselines::{Baseline, Baselines, scan_row};
use crate::job::{About, Asked};
use crate::measure::{Wanted, json, measure};

/// Exercises by the name that jobs call them, each with the id of its version in the store.
pub type Exercises = BTreeMap<String, Versioned>;

/// An exercise and the id of its version in the store.
pub type Versioned = (Exercise, String);

/// How the work is done.
#[derive(Debug)]
pub struct Settings {
    /// Attempts that are measured at once, each on one core.
    pub workers: usize,
    /// Version of the program.
    pub version: String,
    /// The exercises that the jobs name.
    pub exercises: Exercises,
}

/// What became of a job that did not fail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// Measured and kept.
    New,
    /// Kept already.
    Known,
}

/// Why an attempt is not measured.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Fault {
    /// It was tried and cannot be; that is kept, and trying again gives the same.
    #[error("{0}")]
    Refused(String),
    /// Its scans or what is asked of them are not fit to be tried.
    #[error("{0}")]
    Unfit(String),
    /// The store failed, which may pass.
    #[error("{0}")]
    Store(String),
}

impl From<StoreError> for Fault {
    fn from(error: StoreError) -> Self {
        Self::Store(error.to_string())
    }
}

/// The scans of an attempt.
#[derive(Debug)]
pub struct Material {
    /// The scan after cutting.
    pub bytes: Vec<u8>,
    /// Of the same arch before cutting.
    pub before: Option<Arc<Baseline>>,
    /// Of the opposing arch.
    pub opposing: Option<Arc<Baseline>>,
}

/// What measures, grades and keeps attempts.
#[derive(Debug, Clone, Copy)]
pub struct Settler<'a> {
    /// How.
    pub settings: &'a Settings,
    /// Scans that many attempts share.
    pub baselines: &'a Baselines,
    /// Where it is kept.
    pub store: &'a Store,
    /// Runs the store's calls.
    pub runtime: &'a Handle,
}

impl Settler<'_> {
    /// Measures and keeps one attempt, unless it is kept. `file` names its scan in what people read; `number` hears the attempt's identity before
    /// it is measured, and may reserve its number.
    ///
    /// # Errors
    /// [`Fault`]; also where the program itself breaks off.
    pub fn settle(
        &self,
        file: &str,
        about: &About,
        gather: impl FnOnce() -> Result<Material, Fault>,
        number: impl FnOnce(&str) -> Result<(), Fault>,
    ) -> Result<Kept, Fault> {
        let own = std::panic::AssertUnwindSafe(|| self.work(file, about, gather, number));
        std::panic::catch_unwind(own).unwrap_or_else(|_| {
            Err(Fault::Unfit(format!("{file}: broke off inside the program; please report it")))
        })
    }

    /// The tooth and the exercise that are meant.
    ///
    /// # Errors
    /// [`Fault::Unfit`] where they are none, or do not go together, or a name stands where the learner's code belongs.
    pub fn asked(&self, file: &str, about: &About) -> Result<(Numbered, Option<&Versioned>), Fault> {
        let of_file = |why: String| Fault::Unfit(format!("{file}: {why}"));
        if let Some(learner) = &about.learner {
            person_code(learner).map_err(|error| of_file(format!("learner `{learner}`: {error}")))?;
        }
        let tooth = about.tooth.as_deref().ok_or_else(|| {
            of_file("no tooth is known; give --tooth, a {tooth} in the pattern, or a column tooth".into())
        })?;
        let tooth = kerfwright_tooth::parse(tooth, None).map_err(|error| of_file(error.to_string()))?;
        Ok((tooth, self.exercise(file, about)?))
    }

    /// The identity of the attempt on kept scans, by their ids (after, before, opposing).
    ///
    /// # Errors
    /// As for [`Self::asked`].
    pub fn identity(
        &self,
        file: &str,
        about: &About,
        scans: (String, Option<String>, Option<String>),
    ) -> Result<String, Fault> {
        let (tooth, exercise) = self.asked(file, about)?;
        Ok(identity(&asked(about, tooth.tooth.fdi(), exercise, scans)))
    }

    /// Reserves the number of a learner's attempt.
    ///
    /// # Errors
    /// The store fails.
    pub fn number(&self, identity: &str, about: &About) -> Result<(), Fault> {
        self.wait(self.store.reserve_numbers(&[(identity.to_owned(), about.learner.clone())]))
    }

    /// Keeps a scan, unless it is kept.
    ///
    /// # Errors
    /// The store fails.
    pub fn keep(&self, scan: &ScanFile, bytes: &[u8]) -> Result<(), Fault> {
        let row = scan_row(scan, bytes.len());
        if self.wait(self.store.scan(&row.id))?.is_none_or(|kept| kept.erased.is_some()) {
            self.wait(self.store.keep_scan(&row, bytes))?;
        }
        Ok(())
    }

    fn work(
        &self,
        file: &str,
        about: &About,
        gather: impl FnOnce() -> Result<Material, Fault>,
        number: impl FnOnce(&str) -> Result<(), Fault>,
    ) -> Result<Kept, Fault> {
        let (tooth, exercise) = self.asked(file, about)?;
        let fdi = tooth.tooth.fdi();
        let is_early = exercise.is_some_and(|(exercise, _)| {
            kerfwright_grade::needs_no_finish_line(exercise, about.stage.as_deref())
        });
        let wanted = Wanted { tooth, mesial_point: about.mesial_point, is_early };
        let Material { bytes, before, opposing } = gather()?;
        let id =
            |baseline: &Option<Arc<Baseline>>| baseline.as_ref().map(|baseline| baseline.scan.sha256.clone());
        let asked = asked(about, fdi, exercise, (sha256(&bytes), id(&before), id(&opposing)));
        let identity = identity(&asked);
        if let Some(settled) = self.wait(self.store.settled(&identity, &self.settings.version))? {
            if let Some(why) = settled.error_text {
                return Err(Fault::Refused(why));
            }
            self.grade_again(&settled.id, settled.exercise_version.as_deref(), exercise, (file, about))?;
            return Ok(Kept::Known);
        }
        let after = ScanFile::read(file, &bytes).map_err(|error| Fault::Unfit(error.to_string()))?;
        number(&identity)?;
        let scans = (
            &after,
            before.as_ref().map(|baseline| &baseline.scan),
            opposing.as_ref().map(|baseline| &baseline.scan),
        );
        let measured = measure(scans, &wanted);
        let outcome = match &measured {
            Ok(document) => Measured::Done {
                layout: document::SCHEMA.into(),
                document: json(document),
                grade: exercise.map(|exercise| grade(document, exercise, file, about)).transpose()?,
            },
            Err((code, text)) => Measured::Refused { code: (*code).into(), text: text.clone() },
        };
        self.keep(&after, &bytes)?;
        for baseline in [&before, &opposing].into_iter().flatten() {
            self.keep(&baseline.scan, &baseline.bytes)?;
        }
        let new = NewMeasured {
            identity,
            scans: (asked.after.clone(), asked.before.clone(), asked.opposing.clone()),
            request: asked.to_json(),
            fdi,
            learner: asked.learner.clone(),
            session: about.session.clone(),
            exercise: asked.exercise.clone(),
            exercise_version: exercise.map(|(_, version)| version.clone()),
            stage: asked.stage.clone(),
            taken: about.date.clone(),
            version: self.settings.version.clone(),
            outcome,
        };
        self.wait(self.store.keep_awaited(&new))?.ok_or_else(|| {
            let why = "was measured for a learner who was deleted meanwhile, and is not kept; hand it in again if that is not meant";
            Fault::Unfit(format!("{file}: {why}"))
        })?;
        measured.map(|_| Kept::New).map_err(|(_, text)| Fault::Refused(text))
    }

    /// The exercise of an attempt; it has to suit the stage.
    fn exercise(&self, file: &str, about: &About) -> Result<Option<&Versioned>, Fault> {
        let Some(name) = &about.exercise else { return Ok(None) };
        let unfit = |why: String| Fault::Unfit(format!("{file}: {why}"));
        let exercise = self.settings.exercises.get(name);
        let exercise = exercise.ok_or_else(|| unfit(format!("there is no exercise `{name}`")))?;
        match about.stage.as_deref() {
            Some(stage) if exercise.0.stage(Some(stage)).is_none() => {
                Err(unfit(format!("exercise `{name}` has no stage `{stage}`; see kerf exercise show {name}")))
            }
            _ => Ok(Some(exercise)),
        }
    }

    /// An attempt that was measured is held against another version of its exercise without being measured again.
    fn grade_again(
        &self,
        id: &str,
        held_against: Option<&str>,
        exercise: Option<&Versioned>,
        (file, about): (&str, &About),
    ) -> Result<(), Fault> {
        let Some(exercise) = exercise.filter(|(_, version)| held_against != Some(version)) else {
            return Ok(());
        };
        let damaged = || Fault::Unfit(format!("{file}: its kept document cannot be read; restore a backup"));
        let kept = self.wait(self.store.document(id))?.ok_or_else(damaged)?;
        let document: Document = serde_json::from_str(&kept).map_err(|_| damaged())?;
        self.wait(self.store.keep_grade(id, &grade(&document, exercise, file, about)?)).map(drop)
    }

    fn wait<T>(&self, work: impl Future<Output = Result<T, StoreError>>) -> Result<T, Fault> {
        Ok(self.runtime.block_on(work)?)
    }
}

fn grade(document: &Document, exercise: &Versioned, file: &str, about: &About) -> Result<NewGrade, Fault> {
    let grade = kerfwright_grade::grade(document, &exercise.0, about.stage.as_deref())
        .map_err(|error| Fault::Unfit(format!("{file}: {error}")))?;
    Ok(NewGrade {
        exercise_version: exercise.1.clone(),
        stage: grade.stage.id.clone(),
        version: grade.version.clone(),
        // Numbers and texts can always be written.
        grade: serde_json::to_string(&grade).unwrap_or_default(),
    })
}

/// All that makes an attempt what it is. Without a word the stage is the last one.
fn asked(
    about: &About,
    fdi: u8,
    exercise: Option<&Versioned>,
    (after, before, opposing): (String, Option<String>, Option<String>),
) -> Asked {
    let stage = exercise.and_then(|(exercise, _)| exercise.stage(about.stage.as_deref()));
    Asked {
        after,
        before,
        opposing,
        tooth: fdi.to_string(),
        mesial_point: about.mesial_point,
        exercise: exercise.map(|(exercise, _)| exercise.name.clone()),
        stage: stage.map(|stage| stage.id.clone()),
        learner: about.learner.clone(),
    }
}

fn identity(asked: &Asked) -> String {
    sha256(asked.to_json().as_bytes())
}
