//! What a file's name says of an attempt.

use crate::inbox::SCAN_ENDINGS;
use crate::job::About;

/// Fields that a pattern may name.
const FIELDS: [&str; 6] = ["learner", "tooth", "exercise", "stage", "session", "date"];

/// A pattern for file names without their ending, as `{learner}_{tooth}_{stage}`. A field stands for one letter or more, `*` for any
/// letters or none; everything else stands for itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pattern(Vec<Piece>);

#[derive(Debug, Clone, PartialEq, Eq)]
enum Piece {
    Text(String),
    Field(&'static str),
    Any,
}

/// Why a pattern makes no sense.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "{0}; for example {{learner}}_{{tooth}}_{{stage}}, with the fields learner, tooth, exercise, stage, session, date"
)]
pub struct PatternFault(String);

impl Pattern {
    /// Reads a pattern.
    ///
    /// # Errors
    /// An unknown or repeated field, a brace that is not closed, or two fields with nothing between them.
    pub fn read(text: &str) -> Result<Self, PatternFault> {
        let mut pieces: Vec<Piece> = Vec::new();
        let mut rest = text;
        while let Some(place) = rest.find(['{', '*']) {
            if place > 0 {
                pieces.push(Piece::Text(rest[..place].to_lowercase()));
            }
            let (piece, left) = if let Some(left) = rest[place..].strip_prefix('*') {
                (Piece::Any, left)
            } else {
                let (name, left) = rest[place + 1..]
                    .split_once('}')
                    .ok_or_else(|| PatternFault("a { is not closed".into()))?;
                let field = FIELDS.into_iter().find(|field| *field == name);
                (
                    Piece::Field(field.ok_or_else(|| PatternFault(format!("there is no field {{{name}}}")))?),
                    left,
                )
            };
            if matches!(&piece, Piece::Field(name) if pieces.contains(&Piece::Field(name))) {
                return Err(PatternFault("a field stands twice".into()));
            }
            if pieces.last().is_some_and(|last| !matches!(last, Piece::Text(_))) {
                return Err(PatternFault(
                    "between two fields there has to be something that parts them".into(),
                ));
            }
            pieces.push(piece);
            rest = left;
        }
        if !rest.is_empty() {
            pieces.push(Piece::Text(rest.to_lowercase()));
        }
        Ok(Self(pieces))
    }

    /// What a file's name says; none where it does not fit. Capital letters make no difference to the pattern's own letters.
    pub fn about(&self, file_name: &str) -> Option<About> {
        let stem = without_ending(file_name);
        let mut about = About::default();
        fit(&self.0, stem, &mut about).then_some(about)
    }
}

/// A name without the endings of scans.
fn without_ending(name: &str) -> &str {
    let mut stem = name;
    while let Some((start, ending)) = stem.rsplit_once('.') {
        if start.is_empty() || !SCAN_ENDINGS.contains(&ending.to_lowercase().as_str()) {
            break;
        }
        stem = start;
    }
    stem
}

/// Whether the pieces fit the text; each takes as little as it can.
fn fit(pieces: &[Piece], text: &str, about: &mut About) -> bool {
    let Some((piece, rest)) = pieces.split_first() else { return text.is_empty() };
    let (field, least) = match piece {
        Piece::Text(own) => {
            let Some((start, left)) = text.split_at_checked(own.len()) else { return false };
            return start.to_lowercase() == *own && fit(rest, left, about);
        }
        Piece::Field(name) => (Some(*name), 1),
        Piece::Any => (None, 0),
    };
    let ends = text.char_indices().map(|(place, _)| place).chain([text.len()]);
    for end in ends.filter(|&end| end >= least) {
        if fit(rest, &text[end..], about) {
            if let Some(name) = field {
                put(about, name, &text[..end]);
            }
            return true;
        }
    }
    false
}

fn put(about: &mut About, field: &str, text: &str) {
    let place = match field {
        "learner" => &mut about.learner,
        "tooth" => &mut about.tooth,
        "exercise" => &mut about.exercise,
        "stage" => &mut about.stage,
        "session" => &mut about.session,
        _ => &mut about.date,
    };
    *place = Some(text.to_owned());
}

#[cfg(test)]
mod tests {
    use super::*;

    fn about(pattern: &str, name: &str) -> Option<(Option<String>, Option<String>, Option<String>)> {
        let about = Pattern::read(pattern).unwrap().about(name)?;
        Some((about.learner, about.tooth, about.stage))
    }

    fn some(text: &str) -> Option<String> {
        Some(text.to_owned())
    }

    #[test]
    fn names_are_taken_apart() {
        let pattern = "{learner}_{tooth}_{stage}";
        assert_eq!(about(pattern, "QS-07_26_final.stl"), Some((some("QS-07"), some("26"), some("final"))));
        assert_eq!(about(pattern, "QS-07_26_final.STL.gz"), Some((some("QS-07"), some("26"), some("final"))));
        assert_eq!(about(pattern, "QS-07_26.stl"), None);
        assert_eq!(about("lab {learner}", "LAB QS-07.ply"), Some((some("QS-07"), None, None)));
        assert_eq!(about("{learner} *", "QS-07 again, final.ply"), Some((some("QS-07"), None, None)));
        assert_eq!(about("*_{learner}", "a_b_QS-07.obj"), Some((some("b_QS-07"), None, None)));
        assert_eq!(about("ä{learner}", "ÄÖ.obj"), Some((some("Ö"), None, None)));
    }

    #[test]
    fn patterns_without_sense_are_refused() {
        for (pattern, expected) in [
            ("{name}", "there is no field {name}"),
            ("{learner", "a { is not closed"),
            ("{learner}_{learner}", "a field stands twice"),
            ("{learner}{tooth}", "between two fields"),
            ("{learner}*", "between two fields"),
        ] {
            let told = Pattern::read(pattern).unwrap_err().to_string();
            assert!(told.starts_with(expected), "{told}");
        }
    }
}
