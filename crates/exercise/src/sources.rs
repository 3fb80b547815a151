//! Where a number comes from: an anchor of `docs/sources.md`, common practice, or the school itself.

use std::fmt;
use std::sync::OnceLock;

use serde::{Deserialize, Serialize};

const PAGE: &str = include_str!("../../../docs/sources.md");
const COMMON: &str = "common practice, no source";

/// Where a number comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(as = "String"))]
#[serde(try_from = "String", into = "String")]
pub enum Source {
    /// An anchor of `docs/sources.md`.
    Anchor(String),
    /// What everybody in the trade does and nobody has written down.
    CommonPractice,
    /// A rule of the school that wrote the exercise, in its own words.
    School(String),
}

impl Source {
    /// Reads `goodacre-2001`, `common practice, no source`, or `school: …`.
    ///
    /// # Errors
    /// What is wrong and what to do, where it is none of the three or the anchor does not exist.
    pub fn parse(text: &str) -> Result<Self, (String, String)> {
        if text == COMMON {
            return Ok(Self::CommonPractice);
        }
        if let Some(own) = text.strip_prefix("school:") {
            return match own.trim() {
                "" => Err((
                    "`school:` says no rule".into(),
                    "write which, as `school: protocol of 2026`".into(),
                )),
                own => Ok(Self::School(own.into())),
            };
        }
        if anchors().iter().any(|anchor| anchor == text) {
            return Ok(Self::Anchor(text.into()));
        }
        let known = anchors().iter().map(String::as_str);
        let next = match crate::fault::nearest(text, known) {
            Some(anchor) => format!("did you mean `{anchor}`?"),
            None => format!(
                "take a heading of docs/sources.md in small letters with hyphens, `{COMMON}`, or `school: your own rule`"
            ),
        };
        Err((format!("source `{text}` is not in docs/sources.md"), next))
    }
}

impl fmt::Display for Source {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Anchor(anchor) => formatter.write_str(anchor),
            Self::CommonPractice => formatter.write_str(COMMON),
            Self::School(own) => write!(formatter, "school: {own}"),
        }
    }
}

impl From<Source> for String {
    fn from(source: Source) -> Self {
        source.to_string()
    }
}

impl TryFrom<String> for Source {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        Self::parse(&text).map_err(|(what, next)| format!("{what}; {next}"))
    }
}

/// The anchors of the sources page: its third-level headings as links spell them.
fn anchors() -> &'static [String] {
    static ANCHORS: OnceLock<Vec<String>> = OnceLock::new();
    ANCHORS.get_or_init(|| PAGE.lines().filter_map(|line| line.strip_prefix("### ")).map(anchor).collect())
}

fn anchor(heading: &str) -> String {
    let kept = heading.to_lowercase();
    let kept = kept.chars().filter(|letter| letter.is_alphanumeric() || matches!(letter, ' ' | '-' | '_'));
    kept.map(|letter| if letter == ' ' { '-' } else { letter }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_become_anchors_as_links_spell_them() {
        assert_eq!(anchor("Goodacre 2001"), "goodacre-2001");
        assert_eq!(anchor("Tiu 2015, dies"), "tiu-2015-dies");
        assert_eq!(anchor("O'Toole 2019"), "otoole-2019");
    }

    #[test]
    fn sources_are_read_or_refused() {
        assert_eq!(Source::parse("goodacre-2001"), Ok(Source::Anchor("goodacre-2001".into())));
        assert_eq!(Source::parse(COMMON), Ok(Source::CommonPractice));
        assert_eq!(Source::parse("school: ours"), Ok(Source::School("ours".into())));
        let (what, next) = Source::parse("goodacre-2010").unwrap_err();
        assert!(what.contains("goodacre-2010") && next.contains("`goodacre-2001`"), "{what}; {next}");
        assert!(Source::parse("school: ").is_err());
        assert!(Source::parse("my uncle").is_err());
    }

    #[test]
    fn a_source_survives_being_written() {
        for text in ["goodacre-2001", COMMON, "school: ours"] {
            assert_eq!(Source::parse(text).unwrap().to_string(), text);
        }
    }
}
