//! Texts with gaps: `{name}` is filled in; `[ … ]` is left out as a whole if a gap in it has no filling.

use std::collections::BTreeMap;

/// What fills the gaps.
pub type Fillings = BTreeMap<&'static str, String>;

/// One text of a language file, taken apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Template {
    pieces: Vec<Piece>,
}

#[derive(Debug, Clone, PartialEq)]
enum Piece {
    Plain(String),
    Gap(String),
    Optional(Vec<Piece>),
}

impl Template {
    /// Takes a text apart. Brackets that do not match are refused with what is wrong.
    ///
    /// # Errors
    /// A bracket that is not closed, closed without being open, or inside another of its kind.
    pub fn read(text: &str) -> Result<Self, String> {
        let mut outer: Vec<Piece> = Vec::new();
        let mut inner: Option<Vec<Piece>> = None;
        let mut rest = text;
        while let Some(at) = rest.find(['{', '}', '[', ']']) {
            let (plain, tail) = rest.split_at(at);
            let here = inner.as_mut().unwrap_or(&mut outer);
            if !plain.is_empty() {
                here.push(Piece::Plain(plain.into()));
            }
            rest = &tail[1..];
            match &tail[..1] {
                "{" => {
                    let (name, after) = rest.split_once('}').ok_or("a { is not closed")?;
                    let fits = |letter: char| {
                        letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '_'
                    };
                    if name.is_empty() || !name.chars().all(fits) {
                        return Err(format!("{{{name}}} is no name of a gap"));
                    }
                    here.push(Piece::Gap(name.into()));
                    rest = after;
                }
                "[" if inner.is_none() => inner = Some(Vec::new()),
                "]" => outer.push(Piece::Optional(inner.take().ok_or("a ] was not opened")?)),
                other => return Err(format!("{other} stands where it cannot")),
            }
        }
        if inner.is_some() {
            return Err("a [ is not closed".into());
        }
        if !rest.is_empty() {
            outer.push(Piece::Plain(rest.into()));
        }
        Ok(Self { pieces: outer })
    }

    /// The filled text; `None` if a gap outside of brackets has no filling.
    pub fn fill(&self, fillings: &Fillings) -> Option<String> {
        fill(&self.pieces, fillings)
    }

    /// Names of all gaps, sorted, each with whether the text can do without it.
    pub fn gaps(&self) -> Vec<(&str, bool)> {
        let mut gaps: Vec<(&str, bool)> = Vec::new();
        for piece in &self.pieces {
            match piece {
                Piece::Plain(_) => {}
                Piece::Gap(name) => gaps.push((name, false)),
                Piece::Optional(inner) => gaps.extend(inner.iter().filter_map(|piece| match piece {
                    Piece::Gap(name) => Some((name.as_str(), true)),
                    _ => None,
                })),
            }
        }
        gaps.sort_unstable();
        gaps.dedup();
        gaps
    }
}

fn fill(pieces: &[Piece], fillings: &Fillings) -> Option<String> {
    let mut out = String::new();
    for piece in pieces {
        match piece {
            Piece::Plain(text) => out.push_str(text),
            Piece::Gap(name) => out.push_str(fillings.get(name.as_str())?),
            Piece::Optional(inner) => out.push_str(&fill(inner, fillings).unwrap_or_default()),
        }
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaps_are_filled_and_brackets_go_with_what_they_lack() {
        let template = Template::read("Take {amount} off[, starting {spot}], then stop.").unwrap();
        let mut fillings = Fillings::from([("amount", "0.3 mm".to_owned())]);
        assert_eq!(template.fill(&fillings).unwrap(), "Take 0.3 mm off, then stop.");
        fillings.insert("spot", "mesially".into());
        assert_eq!(template.fill(&fillings).unwrap(), "Take 0.3 mm off, starting mesially, then stop.");
        assert_eq!(template.fill(&Fillings::new()), None);
        assert_eq!(template.gaps(), [("amount", false), ("spot", true)]);
    }

    #[test]
    fn slips_of_translators_are_found() {
        for text in ["a {b", "a [b", "a ]", "a }", "a [b [c]]", "a {B}", "a {}"] {
            assert!(Template::read(text).is_err(), "{text}");
        }
    }
}
