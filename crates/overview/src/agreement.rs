//! How far examiners agree, criterion by criterion, and the same as a list of figures.

use kerfwright_class::agreement::{AgainstMeasured, Overview, Pair, Repeats, against_measured, overview};
use kerfwright_class::severity::{Disagreements, Severity, disagreements, severity};
use kerfwright_class::{Answer, Estimate, Rating, Refusal, Settings};
use serde::Serialize;

use crate::known::Known;

/// Names the layout of what is written out; the number rises when a field changes its meaning.
pub const AGREEMENT_SCHEMA: &str = "kerfwright-agreement-1";

/// Shown with every agreement.
pub const AGREEMENT_CAUTION: &str = "No coefficient says who is right: two examiners may agree and both be wrong. Ratings are personal data: keep them \
                                     private.";

/// One criterion.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Agreement {
    /// Coefficients.
    #[serde(flatten)]
    pub overview: Overview,
    /// Each examiner against the others and against what was measured.
    pub severity: Vec<Severity>,
    /// Each examiner against what was measured: bias and limits of agreement.
    pub against_measured: Answer<Vec<AgainstMeasured>>,
    /// Where they differ most.
    pub disagreements: Answer<Disagreements>,
}

/// What a figure is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum FigureOf {
    /// All examiners together.
    All,
    /// Two of them.
    Pair,
    /// One and the own earlier grades.
    Repeat,
    /// One against the others.
    Severity,
    /// One against what was measured.
    Measured,
}

/// One statistic by its name.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Figure {
    /// What it is about.
    pub of: FigureOf,
    /// Its name, with the model and the examiners.
    pub name: String,
    /// The statistic, or why there is none.
    pub answer: Answer<Estimate>,
}

impl Agreement {
    /// All that can be said of one criterion, with what is known of the attempts beside what examiners gave.
    ///
    /// # Errors
    /// A rating is no number or stands twice, or the confidence is none.
    pub fn of(
        ratings: &[Rating],
        known: &Known,
        criterion: &str,
        settings: &Settings,
    ) -> Result<Self, Refusal> {
        let own: Vec<Rating> =
            ratings.iter().filter(|rating| rating.criterion == criterion).cloned().collect();
        let measured = known.measured(&own, criterion);
        Ok(Self {
            overview: overview(&own, criterion, settings)?,
            severity: severity(&own, measured.as_deref().unwrap_or_default(), settings)?,
            disagreements: disagreements(&own).into(),
            against_measured: measured
                .and_then(|measured| against_measured(&own, &measured, criterion, settings))
                .into(),
        })
    }

    /// Every statistic in the order in which it is shown.
    pub fn figures(&self) -> Vec<Figure> {
        let all = of_all(&self.overview);
        let pairs = self.overview.pairs.iter().flat_map(of_pair);
        let repeats = self.overview.repeats.iter().flat_map(of_repeat);
        let severity = self.severity.iter().map(|severity| Figure {
            of: FigureOf::Severity,
            name: format!("{} less the others, mean", severity.examiner),
            answer: severity.to_others.clone(),
        });
        let measured = of_measured(&self.against_measured);
        all.into_iter().chain(pairs).chain(repeats).chain(severity).chain(measured).collect()
    }
}

fn of_measured(against: &Answer<Vec<AgainstMeasured>>) -> Vec<Figure> {
    let figure = |name, answer| Figure { of: FigureOf::Measured, name, answer };
    match against {
        Answer::Refused(refusal) => {
            vec![figure("examiners less what was measured".into(), Answer::Refused(refusal.clone()))]
        }
        Answer::Given(examiners) => {
            let of = |one: &AgainstMeasured| {
                let less = |what| format!("{} less what was measured, {what}", one.examiner);
                [
                    figure(less("mean"), part(&one.result, |result| &result.bias)),
                    figure(less("lower limit of agreement"), part(&one.result, |result| &result.lower_limit)),
                    figure(less("upper limit of agreement"), part(&one.result, |result| &result.upper_limit)),
                ]
            };
            examiners.iter().flat_map(of).collect()
        }
    }
}

fn of_all(overview: &Overview) -> Vec<Figure> {
    let mut named: Vec<(String, Answer<Estimate>)> = vec![
        ("mean share of agreeing pairs of examiners".into(), overview.percent.clone()),
        ("Fleiss' kappa".into(), part(&overview.fleiss_kappa, |kappa| &kappa.kappa)),
    ];
    let scales = ["nominal", "ordinal", "interval", "ratio"];
    let alphas = scales.iter().zip(&overview.alphas);
    named.extend(alphas.map(|(scale, alpha)| (format!("Krippendorff's alpha, {scale}"), alpha.clone())));
    let models = [
        "ICC(1,1), one-way random, single rating",
        "ICC(2,1), two-way random, absolute agreement, single rating",
        "ICC(3,1), two-way mixed, consistency, single rating",
        "ICC(1,k), one-way random, mean of k ratings",
        "ICC(2,k), two-way random, absolute agreement, mean of k",
        "ICC(3,k), two-way mixed, consistency, mean of k ratings",
    ];
    named.extend(models.iter().zip(&overview.iccs).map(|(model, icc)| ((*model).to_owned(), icc.clone())));
    named.into_iter().map(|(name, answer)| Figure { of: FigureOf::All, name, answer }).collect()
}

fn of_pair(pair: &Pair) -> Vec<Figure> {
    let both = pair.examiners.join(" and ");
    let figure = |what: &str, answer| Figure { of: FigureOf::Pair, name: format!("{both}, {what}"), answer };
    let mut figures = vec![figure("share of attempts with agreement", pair.percent.clone())];
    let weights = ["Cohen's kappa", "Cohen's kappa, linear weights", "Cohen's kappa, quadratic weights"];
    figures.extend(
        weights.iter().zip(&pair.kappas).map(|(kind, kappa)| figure(kind, part(kappa, |kappa| &kappa.kappa))),
    );
    figures
}

fn of_repeat(again: &Repeats) -> [Figure; 3] {
    let figure = |what: &str, answer| Figure {
        of: FigureOf::Repeat,
        name: format!("{} and own earlier grade, {what}", again.examiner),
        answer,
    };
    [
        figure("share of attempts with agreement", again.percent.clone()),
        figure("kappa, quadratic weights", part(&again.kappa, |kappa| &kappa.kappa)),
        figure("standard deviation", part(&again.spread, |spread| &spread.within)),
    ]
}

fn part<T>(answer: &Answer<T>, of: impl Fn(&T) -> &Estimate) -> Answer<Estimate> {
    match answer {
        Answer::Given(whole) => Answer::Given(of(whole).clone()),
        Answer::Refused(refusal) => Answer::Refused(refusal.clone()),
    }
}
