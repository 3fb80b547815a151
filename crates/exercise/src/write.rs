//! An exercise as a TOML file that needs no base: what a school copies and edits.

use std::fmt::Write;

use crate::draft::SCHEMA;
use crate::exercise::{Criterion, Critical, Exercise, Onlay, PlacesScore, Scoring, Stage, Wanted};
use crate::range::Range;
use crate::sources::Source;

/// The whole exercise, inherited parts included. Reading it back gives the same exercise.
pub fn to_toml(exercise: &Exercise) -> String {
    let mut out = Out(String::new());
    out.line(
        "# Teaching and decision support, not a diagnosis: the licensed clinician and local rules decide.",
    );
    out.line("# Every limit here is yours to change. `kerf exercise check` names every slip by line.");
    out.text("schema", SCHEMA);
    out.text("name", &exercise.name);
    out.text("title", &exercise.title);
    out.maybe("summary", exercise.summary.as_deref());
    out.texts("teeth", &exercise.teeth.iter().map(ToString::to_string).collect::<Vec<_>>());
    out.text("restoration", &exercise.restoration);
    out.text("material", &exercise.material);
    out.texts("notes", &exercise.notes);
    out.scoring(&exercise.scoring);
    if let Some(onlay) = &exercise.onlay {
        out.onlay(onlay);
    }
    for stage in &exercise.stages {
        out.stage(stage);
    }
    out.0
}

struct Out(String);

impl Out {
    fn line(&mut self, line: &str) {
        self.0.push_str(line);
        self.0.push('\n');
    }

    fn field(&mut self, key: &str, value: impl std::fmt::Display) {
        // Writing to a string cannot fail.
        let _ = writeln!(self.0, "{key} = {value}");
    }

    fn text(&mut self, key: &str, text: &str) {
        self.field(key, quoted(text));
    }

    fn maybe(&mut self, key: &str, text: Option<&str>) {
        if let Some(text) = text {
            self.text(key, text);
        }
    }

    fn texts(&mut self, key: &str, texts: &[String]) {
        if texts.is_empty() {
            return;
        }
        let all: Vec<String> = texts.iter().map(|text| quoted(text)).collect();
        let one_line = format!("[{}]", all.join(", "));
        if one_line.len() <= 100 {
            self.field(key, one_line);
        } else {
            self.field(key, format!("[\n    {},\n]", all.join(",\n    ")));
        }
    }

    fn scoring(&mut self, scoring: &Scoring) {
        self.line("\n[scoring]");
        self.text("critical_error", if scoring.critical_error_fails { "fails" } else { "counts" });
        self.text("credit", scoring.credit.word());
        self.field("acceptable_credit_pct", scoring.acceptable_credit_pct);
        self.text("too_close", scoring.too_close.word());
        self.text("not_measured", scoring.not_measured.word());
        self.field("measured_at_least_pct", scoring.measured_at_least_pct);
        self.field("pass_pct", scoring.pass_pct);
    }

    fn onlay(&mut self, onlay: &Onlay) {
        self.line("\n[onlay]");
        self.text("stage", &onlay.stage);
        self.field("isthmus_width_mm", onlay.isthmus_width_mm);
        self.field("isthmus_depth_mm", onlay.isthmus_depth_mm);
        self.field("box_width_mm", onlay.box_width_mm);
        self.field("box_depth_mm", onlay.box_depth_mm);
        self.field("divergence_deg", onlay.divergence_deg);
        self.source(&onlay.source);
        self.maybe("note", onlay.note.as_deref());
    }

    fn stage(&mut self, stage: &Stage) {
        self.line("\n[[stage]]");
        self.text("id", &stage.id);
        self.text("title", &stage.title);
        self.texts("instruments", &stage.instruments);
        self.texts("notes", &stage.notes);
        if let Some(gauge) = &stage.gauge {
            self.line("\n[stage.gauge]");
            self.field("bar_mm", gauge.bar_mm);
            self.text("check", &gauge.check);
        }
        for criterion in &stage.criteria {
            self.criterion(criterion);
        }
    }

    fn criterion(&mut self, criterion: &Criterion) {
        self.line("\n[[stage.criterion]]");
        self.text("id", &criterion.id);
        self.text("title", &criterion.title);
        self.text("reading", &criterion.reading);
        self.maybe("part", criterion.part.as_deref());
        self.texts("places", &criterion.places);
        self.wanted(&criterion.wanted, &criterion.unit);
        if let Some(critical) = criterion.critical {
            self.text("critical", critical.word());
        }
        self.field("weight", criterion.weight);
        if !criterion.places.is_empty() {
            self.text("places_score", criterion.places_score.word());
        }
        self.maybe("credit", criterion.credit.map(|credit| credit.word()));
        self.maybe("not_measured", criterion.not_measured.map(|choice| choice.word()));
        self.source(&criterion.source);
        self.maybe("disagreement", criterion.disagreement.as_deref());
        self.maybe("note", criterion.note.as_deref());
        for (place, exception) in &criterion.at {
            self.line(&format!("\n[stage.criterion.at.{place}]"));
            self.wanted(&exception.wanted, &criterion.unit);
            self.source(&exception.source);
        }
    }

    fn wanted(&mut self, wanted: &Wanted, unit: &str) {
        let ending = if unit.is_empty() { String::new() } else { format!("_{unit}") };
        match wanted {
            Wanted::Number { ideal, acceptable } => {
                self.field(&format!("ideal{ending}"), range(*ideal));
                self.field(&format!("acceptable{ending}"), range(*acceptable));
            }
            Wanted::Words { ideal_words, acceptable_words } => {
                self.texts("ideal_words", ideal_words);
                self.texts("acceptable_words", acceptable_words);
            }
        }
    }

    fn source(&mut self, source: &[Source]) {
        match source {
            [] => {}
            [one] => self.text("source", &one.to_string()),
            all => self.texts("source", &all.iter().map(Source::to_string).collect::<Vec<_>>()),
        }
    }
}

fn range(range: Range) -> String {
    match (range.from, range.to) {
        (Some(from), Some(to)) => format!("[{from}, {to}]"),
        (Some(from), None) => format!("{{ from = {from} }}"),
        (None, Some(to)) => format!("{{ to = {to} }}"),
        (None, None) => "{}".into(),
    }
}

/// A TOML basic string.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for letter in text.chars() {
        match letter {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            letter if letter.is_control() => {
                let _ = write!(out, "\\u{:04X}", letter as u32);
            }
            letter => out.push(letter),
        }
    }
    out.push('"');
    out
}

impl Critical {
    /// As an exercise file writes it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Below => "below",
            Self::Above => "above",
            Self::Both => "both",
        }
    }
}

impl PlacesScore {
    /// As an exercise file writes it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Mean => "mean",
            Self::Worst => "worst",
            Self::Best => "best",
        }
    }
}
