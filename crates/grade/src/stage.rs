//! Grading one stage.

use kerfwright_exercise::readings;
use kerfwright_exercise::{Asked, Criterion, Exercise, NotMeasured, PlacesScore, Scoring, Stage, Wanted};
use kerfwright_measure::document::Value;
use kerfwright_measure::{Document, early};
use kerfwright_tooth::Tooth;

use crate::credit::{CriticalError, critical_error, earned};
use crate::finding::{Finding, Mend, rounded};
use crate::grade::{
    CriterionGrade, DocumentEntry, ExerciseEntry, Grade, Item, Level, Lost, SCHEMA, StageEntry,
};
use crate::judge::{Judged, Taken, judge};
use crate::tally::{Counted, short, tally};

const CAUTION: &str = "Teaching and decision support, not a diagnosis: the licensed clinician and local rules decide. \
                       A grade is as good as the scan; learners' and patients' data are private.";

/// Why a document cannot be held against an exercise.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum GradeError {
    /// No such stage.
    #[error("exercise `{exercise}` has no stage `{given}`; it has {known}")]
    UnknownStage {
        /// The exercise.
        exercise: String,
        /// As given.
        given: String,
        /// What there is.
        known: String,
    },
    /// It is for other teeth.
    #[error(
        "exercise `{exercise}` is for {teeth}, the tooth is {tooth}; take another exercise, or edit its `teeth`"
    )]
    WrongTooth {
        /// The exercise.
        exercise: String,
        /// The teeth it is for.
        teeth: String,
        /// The tooth measured.
        tooth: String,
    },
    /// The document's tooth does not exist.
    #[error("the document says tooth {0}, which does not exist; measure again")]
    NoTooth(u8),
}

/// Holds a document against one stage of an exercise, the last one if none is named.
///
/// # Errors
/// A stage that does not exist, or a tooth that the exercise is not for.
pub fn grade(document: &Document, exercise: &Exercise, stage: Option<&str>) -> Result<Grade, GradeError> {
    suits(document, exercise)?;
    let (number, stage) = find(exercise, stage)?;
    let scoring = &exercise.scoring;
    let grader =
        Grader { document, scoring, later: exercise.stages.last().filter(|last| last.id != stage.id) };
    let criteria: Vec<CriterionGrade> =
        stage.criteria.iter().map(|criterion| grader.criterion(criterion)).collect();
    let computed = tally(&criteria.iter().map(Counted::of).collect::<Vec<_>>(), scoring);
    Ok(Grade {
        schema: SCHEMA.into(),
        version: env!("CARGO_PKG_VERSION").into(),
        exercise: ExerciseEntry {
            name: exercise.name.clone(),
            title: exercise.title.clone(),
            scoring: scoring.clone(),
        },
        stage: StageEntry {
            id: stage.id.clone(),
            title: stage.title.clone(),
            number,
            of: exercise.stages.len(),
        },
        document: DocumentEntry {
            fdi: document.tooth.fdi,
            after_sha256: document.inputs.get("after").map_or(String::new(), |after| after.sha256.clone()),
        },
        standing: computed.clone(),
        computed,
        overrides: Vec::new(),
        lost_ahead: lost_ahead(document, exercise, stage),
        criteria,
        cautions: vec![CAUTION.into()],
    })
}

/// Whether a scan taken after a stage need not show a finish line: this stage and those before it ask only for what is read
/// without one. The last stage if none is named; `false` for a stage that does not exist.
pub fn needs_no_finish_line(exercise: &Exercise, stage: Option<&str>) -> bool {
    find(exercise, stage).is_ok_and(|(number, _)| {
        let asked = exercise.stages[..number].iter().flat_map(|stage| &stage.criteria);
        asked.flat_map(Criterion::asked).all(|asked| early::is_read(&asked.reading))
    })
}

fn suits(document: &Document, exercise: &Exercise) -> Result<(), GradeError> {
    let fdi = document.tooth.fdi;
    let tooth = Tooth::from_fdi(fdi).map_err(|_| GradeError::NoTooth(fdi))?;
    if exercise.is_for(tooth) {
        return Ok(());
    }
    Err(GradeError::WrongTooth {
        exercise: exercise.name.clone(),
        teeth: exercise.teeth_text(),
        tooth: format!("{fdi}, {}", tooth.name()),
    })
}

/// A stage and its number from 1.
fn find<'e>(exercise: &'e Exercise, id: Option<&str>) -> Result<(usize, &'e Stage), GradeError> {
    let place = match id {
        Some(id) => exercise.stages.iter().position(|stage| stage.id == id),
        None => exercise.stages.len().checked_sub(1),
    };
    place.map(|place| (place + 1, &exercise.stages[place])).ok_or_else(|| GradeError::UnknownStage {
        exercise: exercise.name.clone(),
        given: id.unwrap_or_default().into(),
        known: exercise.stages.iter().map(|stage| stage.id.as_str()).collect::<Vec<_>>().join(", "),
    })
}

/// What every criterion of a stage is graded with.
struct Grader<'a> {
    document: &'a Document,
    scoring: &'a Scoring,
    /// The last stage, unless it is the one that is graded.
    later: Option<&'a Stage>,
}

impl Grader<'_> {
    fn criterion(&self, criterion: &Criterion) -> CriterionGrade {
        let not_measured = criterion.not_measured.unwrap_or(self.scoring.not_measured);
        let mut critical_open = false;
        let mut items = Vec::new();
        for asked in criterion.asked() {
            match judge(self.document, criterion, &asked) {
                Ok(mut judged) => {
                    let finding = judged.finding.take();
                    judged.finding =
                        finding.map(|finding| self.outlook(finding, criterion, &asked, &judged.taken));
                    let too_close = self.scoring.too_close;
                    let error = critical_error(&judged, asked.wanted, criterion.critical, too_close);
                    critical_open |= error == CriticalError::Open;
                    items.push(measured(
                        criterion,
                        &asked,
                        judged,
                        error == CriticalError::Yes,
                        self.scoring,
                    ));
                }
                Err(reason) => {
                    critical_open |= criterion.critical.is_some();
                    items.push(unmeasured(criterion, &asked, reason, not_measured));
                }
            }
        }
        let (best, worst) = ends(&items);
        share(criterion, &mut items);
        let (points, possible) = (sum(&items, |item| item.points), sum(&items, |item| item.possible));
        for item in &mut items {
            (item.points, item.possible) = (rounded(item.points), rounded(item.possible));
        }
        CriterionGrade {
            id: criterion.id.clone(),
            title: criterion.title.clone(),
            weight: criterion.weight,
            points,
            possible,
            critical: criterion.critical,
            critical_error: items.iter().any(|item| item.critical_error),
            critical_open,
            not_measured,
            places_score: criterion.places_score,
            best: best.map(|place| items[place].reading.clone()),
            worst: worst.map(|place| items[place].reading.clone()),
            source: criterion.source.clone(),
            items,
        }
    }

    /// More than an early stage asks for is beyond recall only if the last stage cannot be met any more.
    fn outlook(&self, finding: Finding, criterion: &Criterion, asked: &Asked<'_>, taken: &Taken) -> Finding {
        let (Some(later), Mend::BeyondRecall) = (self.later, finding.mend) else { return finding };
        let wanted = later.criteria.iter().filter(|other| other.part == criterion.part).find_map(|other| {
            let same = other.asked().into_iter().find(|other| other.reading == asked.reading)?;
            Some(same.wanted.clone())
        });
        let is_open = match (&taken.value, wanted) {
            (Value::Number(value), Some(Wanted::Number { acceptable, .. })) => acceptable.holds(*value),
            (Value::Text(word), Some(Wanted::Words { acceptable_words, .. })) => {
                acceptable_words.contains(word)
            }
            _ => false,
        };
        if is_open { finding.with(Mend::LastStageOpen) } else { finding }
    }
}

fn measured(
    criterion: &Criterion,
    asked: &Asked<'_>,
    judged: Judged,
    critical_error: bool,
    scoring: &Scoring,
) -> Item {
    let credit = criterion.credit.unwrap_or(scoring.credit);
    let earned = earned(&judged, asked.wanted, credit, scoring);
    Item {
        level: judged.level(),
        ideal: Some(judged.ideal),
        acceptable: Some(judged.acceptable),
        value: Some(judged.taken.value),
        u95: judged.taken.u95,
        place: judged.taken.place,
        finding: judged.finding,
        credit_pct: earned.pct.map(rounded),
        critical_error,
        because: earned.because,
        ..blank(criterion, asked)
    }
}

fn unmeasured(criterion: &Criterion, asked: &Asked<'_>, reason: String, choice: NotMeasured) -> Item {
    let (credit_pct, because) = match choice {
        NotMeasured::LeaveOut => (None, "not measured: its weight does not count"),
        NotMeasured::Zero => (Some(0.0), "not measured: 0 %, as the exercise says"),
        NotMeasured::NoGrade => (None, "not measured: no grade before it is"),
    };
    Item { not_measured: Some(reason), credit_pct, because: because.into(), ..blank(criterion, asked) }
}

fn blank(criterion: &Criterion, asked: &Asked<'_>) -> Item {
    Item {
        reading: asked.reading.clone(),
        at: asked.place.map(str::to_owned),
        part: criterion.part.clone(),
        place: None,
        value: None,
        unit: criterion.unit.clone(),
        u95: None,
        wanted: asked.wanted.clone(),
        ideal: None,
        acceptable: None,
        level: Level::NotMeasured,
        not_measured: None,
        finding: None,
        credit_pct: None,
        points: 0.0,
        possible: 0.0,
        critical_error: false,
        because: String::new(),
    }
}

/// The places that do best and worst among those that count, where they differ: by credit, then by distance from ideal.
fn ends(items: &[Item]) -> (Option<usize>, Option<usize>) {
    let rank = |item: &Item| {
        let past = item.finding.as_ref().and_then(|finding| finding.past_ideal).map_or(0.0, f64::abs);
        item.credit_pct.map(|credit| (credit, -past))
    };
    let ranked: Vec<(usize, (f64, f64))> =
        items.iter().enumerate().filter_map(|(place, item)| Some((place, rank(item)?))).collect();
    let mut best = ranked.first().copied();
    let mut worst = best;
    for &one in &ranked {
        best = best.map(|known| if known.1 < one.1 { one } else { known });
        worst = worst.map(|known| if one.1 < known.1 { one } else { known });
    }
    match (best, worst) {
        (Some(best), Some(worst)) if best.1 != worst.1 => (Some(best.0), Some(worst.0)),
        _ => (None, None),
    }
}

fn sum(items: &[Item], of: impl Fn(&Item) -> f64) -> f64 {
    rounded(items.iter().map(of).sum())
}

/// Gives each place its points.
fn share(criterion: &Criterion, items: &mut [Item]) {
    let counting: Vec<usize> = (0..items.len()).filter(|&place| items[place].credit_pct.is_some()).collect();
    let decides = match criterion.places_score {
        PlacesScore::Mean => None,
        PlacesScore::Best => ends(items).0.or(counting.first().copied()),
        PlacesScore::Worst => ends(items).1.or(counting.first().copied()),
    };
    let is_alone = items.len() == 1;
    let share = criterion.weight / items.len().max(1) as f64;
    for (place, item) in items.iter_mut().enumerate() {
        let Some(credit) = item.credit_pct else { continue };
        item.possible = match decides {
            None => share,
            Some(decider) if decider == place => criterion.weight,
            Some(_) => 0.0,
        };
        item.points = item.possible * credit / 100.0;
        let how = match (criterion.places_score, item.possible > 0.0) {
            (PlacesScore::Mean, _) => "",
            _ if is_alone => "",
            (PlacesScore::Worst, true) => "; the worst place decides",
            (PlacesScore::Best, true) => "; the best place decides",
            _ => "; another place decides",
        };
        let of = format!(", {} of {} points{how}", short(item.points), short(item.possible));
        item.because.push_str(&of);
    }
}

/// Limits of the last stage that no cut can bring back: asked of readings that last, and of those that this stage looks at too.
fn lost_ahead(document: &Document, exercise: &Exercise, stage: &Stage) -> Vec<Lost> {
    let Some(last) = exercise.stages.last().filter(|last| last.id != stage.id) else { return Vec::new() };
    let here: Vec<String> = stage
        .criteria
        .iter()
        .flat_map(|criterion| criterion.asked().into_iter().map(|asked| asked.reading))
        .collect();
    let mut lost = Vec::new();
    for criterion in &last.criteria {
        for asked in criterion.asked() {
            let lasts = readings::find(&asked.reading).is_some_and(|(row, _)| row.lasting);
            if lasts || here.contains(&asked.reading) {
                lost.extend(lost_one(document, criterion, &asked, exercise.scoring.too_close));
            }
        }
    }
    lost
}

fn lost_one(
    document: &Document,
    criterion: &Criterion,
    asked: &Asked<'_>,
    too_close: kerfwright_exercise::TooClose,
) -> Option<Lost> {
    let judged = judge(document, criterion, asked).ok()?;
    let finding = judged.finding.clone().filter(|finding| finding.mend == Mend::BeyondRecall)?;
    if judged.level() != Level::NotAcceptable {
        return None;
    }
    let error = critical_error(&judged, asked.wanted, criterion.critical, too_close);
    Some(Lost {
        criterion: criterion.id.clone(),
        title: criterion.title.clone(),
        reading: asked.reading.clone(),
        value: judged.taken.value,
        unit: criterion.unit.clone(),
        u95: judged.taken.u95,
        wanted: asked.wanted.clone(),
        critical: error == CriticalError::Yes,
        finding,
    })
}
