//! Licence expressions by SPDX, as far as packages use them.

use std::fmt;

/// A licence expression: licences joined by `AND`, `OR` and parentheses, each perhaps `WITH` an exception.
///
/// `AND` binds tighter than `OR`. The older `MIT/Apache-2.0` of the package registry means `OR`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Expression {
    /// One licence, for example `MIT` or `Apache-2.0 WITH LLVM-exception`.
    Licence(String),
    /// All of them apply.
    All(Vec<Expression>),
    /// The user picks one.
    Any(Vec<Expression>),
}

/// Why a text is no licence expression.
#[derive(Debug, PartialEq, Eq)]
pub struct SpdxError(String);

impl Expression {
    /// Reads an expression.
    pub fn parse(text: &str) -> Result<Self, SpdxError> {
        let spaced = text.replace('(', " ( ").replace(')', " ) ").replace('/', " OR ");
        let mut words: Vec<&str> = spaced.split_whitespace().rev().collect();
        let expression = parse_any(&mut words)?;
        match words.pop() {
            None => Ok(expression),
            Some(word) => Err(SpdxError(format!("\"{word}\" is one too many"))),
        }
    }

    /// Whether the expression can be met with licences that pass `is_allowed`.
    pub fn is_met_by(&self, is_allowed: &impl Fn(&str) -> bool) -> bool {
        match self {
            // "X+" is X or a later one, so whoever may use X may take it as X.
            Self::Licence(name) => is_allowed(name.strip_suffix('+').unwrap_or(name)),
            Self::All(parts) => parts.iter().all(|part| part.is_met_by(is_allowed)),
            Self::Any(parts) => parts.iter().any(|part| part.is_met_by(is_allowed)),
        }
    }
}

impl fmt::Display for SpdxError {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "no licence expression: {}", self.0)
    }
}

fn parse_any(words: &mut Vec<&str>) -> Result<Expression, SpdxError> {
    let mut parts = vec![parse_all(words)?];
    while words.pop_if(|word| *word == "OR").is_some() {
        parts.push(parse_all(words)?);
    }
    Ok(if parts.len() == 1 { parts.remove(0) } else { Expression::Any(parts) })
}

fn parse_all(words: &mut Vec<&str>) -> Result<Expression, SpdxError> {
    let mut parts = vec![parse_one(words)?];
    while words.pop_if(|word| *word == "AND").is_some() {
        parts.push(parse_one(words)?);
    }
    Ok(if parts.len() == 1 { parts.remove(0) } else { Expression::All(parts) })
}

fn parse_one(words: &mut Vec<&str>) -> Result<Expression, SpdxError> {
    match words.pop() {
        Some("(") => {
            let inner = parse_any(words)?;
            words
                .pop_if(|word| *word == ")")
                .map(|_| inner)
                .ok_or_else(|| SpdxError("a ) is missing".to_owned()))
        }
        Some(name) if is_name(name) => {
            if words.pop_if(|word| *word == "WITH").is_none() {
                return Ok(Expression::Licence(name.to_owned()));
            }
            match words.pop() {
                Some(exception) if is_name(exception) => {
                    Ok(Expression::Licence(format!("{name} WITH {exception}")))
                }
                _ => Err(SpdxError(format!("no exception after \"{name} WITH\""))),
            }
        }
        Some(word) => Err(SpdxError(format!("\"{word}\" where a licence should stand"))),
        None => Err(SpdxError("it ends where a licence should stand".to_owned())),
    }
}

fn is_name(word: &str) -> bool {
    let is_joiner = matches!(word, "AND" | "OR" | "WITH");
    !is_joiner && word.chars().all(|letter| letter.is_ascii_alphanumeric() || "-.+:".contains(letter))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, expected: bool) {
        let allowed = ["MIT", "Apache-2.0", "Unicode-3.0", "Apache-2.0 WITH LLVM-exception"];
        let expression = Expression::parse(text).unwrap();
        assert_eq!(expression.is_met_by(&|name: &str| allowed.contains(&name)), expected, "{text}");
    }

    #[test]
    fn one_choice_suffices() {
        check("MIT", true);
        check("GPL-3.0-only", false);
        check("MIT OR Apache-2.0", true);
        check("GPL-2.0-or-later OR MIT", true);
        check("MIT/Apache-2.0", true);
        check("GPL-3.0-only OR LGPL-3.0-only", false);
    }

    #[test]
    fn every_part_must_pass() {
        check("(MIT OR Apache-2.0) AND Unicode-3.0", true);
        check("MIT AND GPL-3.0-only", false);
        check("(MIT OR GPL-3.0-only) AND (Unicode-3.0 OR BUSL-1.1)", true);
    }

    #[test]
    fn and_binds_tighter_than_or() {
        check("MIT OR Apache-2.0 AND GPL-3.0-only", true);
        check("(MIT OR Apache-2.0) AND GPL-3.0-only", false);
        check("GPL-3.0-only AND MIT OR Apache-2.0", true);
    }

    #[test]
    fn an_exception_makes_another_licence_of_it() {
        check("Apache-2.0 WITH LLVM-exception", true);
        check("MIT WITH LLVM-exception", false);
        check("Apache-2.0 WITH LLVM-exception OR GPL-3.0-only", true);
    }

    #[test]
    fn or_later_includes_the_licence_itself() {
        check("Apache-2.0+", true);
        check("GPL-2.0+", false);
    }

    #[test]
    fn refuses_broken_expressions() {
        let texts = [
            "",
            "MIT OR",
            "OR MIT",
            "(MIT",
            "MIT)",
            "MIT Apache-2.0",
            "MIT WITH",
            "MIT AND AND MIT",
            "()",
            "MIT;",
        ];
        for text in texts {
            assert!(Expression::parse(text).is_err(), "{text}");
        }
    }
}
