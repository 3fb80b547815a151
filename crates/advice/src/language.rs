//! A language: its texts, its numbers.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use kerfwright_exercise::Range;
use serde::{Deserialize, Serialize};

use crate::advice::Urgency;
use crate::template::{Fillings, Template};

/// In which advice is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Language {
    /// English.
    #[default]
    En,
    /// Spanish.
    Es,
}

/// The texts of one language.
#[derive(Debug, Clone, Default)]
pub struct Lexicon {
    decimal: String,
    contractions: Vec<(String, String)>,
    texts: BTreeMap<String, Template>,
}

#[derive(Deserialize)]
struct File {
    format: Format,
    #[serde(flatten)]
    tables: BTreeMap<String, BTreeMap<String, String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Format {
    decimal: String,
    contractions: Vec<(String, String)>,
}

impl Language {
    /// All that are shipped.
    pub const ALL: [Self; 2] = [Self::En, Self::Es];

    /// Its code, as in ISO 639-1.
    pub fn code(self) -> &'static str {
        match self {
            Self::En => "en",
            Self::Es => "es",
        }
    }

    /// The text of its file.
    pub fn file(self) -> &'static str {
        match self {
            Self::En => include_str!("../data/en.toml"),
            Self::Es => include_str!("../data/es.toml"),
        }
    }

    /// What stands over the sentences of one urgency.
    pub fn heading(self, urgency: Urgency) -> String {
        let name = match urgency {
            Urgency::Endangers => "endangers",
            Urgency::Mend => "mend",
            Urgency::Check => "check",
            Urgency::Lesson => "lesson",
            Urgency::Better => "better",
        };
        self.lexicon().word(&format!("heading.{name}")).unwrap_or_default()
    }

    /// What is said when there is no advice.
    pub fn nothing_to_do(self) -> String {
        self.lexicon().word("heading.none").unwrap_or_default()
    }

    /// Its texts. A test reads the files; one that could not be read would leave no texts.
    pub(crate) fn lexicon(self) -> &'static Lexicon {
        static ALL: OnceLock<[Lexicon; 2]> = OnceLock::new();
        let all =
            ALL.get_or_init(|| Self::ALL.map(|language| Lexicon::read(language.file()).unwrap_or_default()));
        &all[self as usize]
    }

    /// Every key of its file with the gaps of its text, each with whether the text can do without it.
    ///
    /// # Errors
    /// What is wrong with the file.
    pub fn gaps(self) -> Result<BTreeMap<String, Vec<(String, bool)>>, String> {
        let lexicon = Lexicon::read(self.file())?;
        let owned = |template: &Template| {
            template.gaps().into_iter().map(|(name, optional)| (name.to_owned(), optional)).collect()
        };
        Ok(lexicon.texts.iter().map(|(key, template)| (key.clone(), owned(template))).collect())
    }
}

impl Lexicon {
    fn read(text: &str) -> Result<Self, String> {
        let file: File = toml::from_str(text).map_err(|error| error.to_string())?;
        let mut texts = BTreeMap::new();
        for (table, entries) in file.tables {
            for (name, text) in entries {
                let key = format!("{table}.{name}");
                let template = Template::read(&text).map_err(|fault| format!("{key}: {fault}"))?;
                texts.insert(key, template);
            }
        }
        Ok(Self { decimal: file.format.decimal, contractions: file.format.contractions, texts })
    }

    /// A filled text; `None` if there is none under the key, or a gap has no filling.
    pub fn say(&self, key: &str, fillings: &Fillings) -> Option<String> {
        self.texts.get(key)?.fill(fillings)
    }

    /// A text without gaps.
    pub fn word(&self, key: &str) -> Option<String> {
        self.say(key, &Fillings::new())
    }

    /// A word for something on a tooth, which upper teeth may call otherwise.
    pub fn tooth_word(&self, table: &str, name: &str, is_upper: bool) -> Option<String> {
        let upper = is_upper.then(|| self.word(&format!("{table}.{name}_upper"))).flatten();
        upper.or_else(|| self.word(&format!("{table}.{name}")))
    }

    /// A whole sentence: words drawn together as the language does, a capital first.
    pub fn sentence(&self, text: &str) -> String {
        let mut joined = format!(" {text}");
        for (apart, together) in &self.contractions {
            joined = joined.replace(apart.as_str(), together);
        }
        let joined = joined.trim_start();
        let mut letters = joined.chars();
        letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
    }

    /// A number with its unit: `0.12 mm`, `3.1°`; `0,12 mm` where the language has it so.
    pub fn value(&self, value: f64, unit: &str) -> String {
        let number = match unit {
            "mm" | "mm2" => self.number(value, 2, false),
            "deg" | "mm3" => self.number(value, 1, false),
            "um" | "pct" => self.number(value, 0, false),
            _ if value.fract() == 0.0 => self.number(value, 0, false),
            _ => self.number(value, 2, false),
        };
        with_unit(number, unit)
    }

    /// A place's distance, to the tenth that a hand can find: `2.1 mm`.
    pub fn millimetres(&self, value: f64) -> String {
        with_unit(self.number(value, 1, false), "mm")
    }

    /// An amount that is not nothing, however small.
    pub fn amount(&self, value: f64, unit: &str) -> String {
        let least = match unit {
            "mm" | "mm2" | "" => 0.01,
            "deg" | "mm3" => 0.1,
            _ => 1.0,
        };
        let size = value.abs();
        if size >= least {
            return self.value(size, unit);
        }
        let amount = self.value(least, unit);
        self.say("form.less_than", &Fillings::from([("amount", amount.clone())])).unwrap_or(amount)
    }

    /// The end of limits that a value misses, or the nearer one: `at least 1.5 mm`.
    pub fn end(&self, value: f64, limits: Range, unit: &str) -> Option<String> {
        let (end, form) = nearest_end(value, limits)?;
        let end = with_unit(self.number(end, 2, true), unit);
        self.say(&format!("form.{form}"), &Fillings::from([("end", end)]))
    }

    /// A bare limit: `1.5 mm`, without needless digits.
    pub fn bare(&self, value: f64, unit: &str) -> String {
        with_unit(self.number(value, 2, true), unit)
    }

    /// `a, b and c`, the last joined by the word under the key; after five the rest is counted.
    pub fn list(&self, items: &[String], key: &str) -> String {
        const SHOWN: usize = 5;
        let join = |one: String, name: &'static str, other: String, key: &str| {
            self.say(key, &Fillings::from([("one", one.clone()), (name, other)])).unwrap_or(one)
        };
        match items {
            [] => String::new(),
            [one] => one.clone(),
            many if many.len() > SHOWN + 1 => {
                join(many[..SHOWN].join(", "), "number", (many.len() - SHOWN).to_string(), "form.more")
            }
            [front @ .., last] => join(front.join(", "), "other", last.clone(), key),
        }
    }

    fn number(&self, value: f64, decimals: usize, is_short: bool) -> String {
        let mut text = format!("{value:.decimals$}");
        if is_short && text.contains('.') {
            text = text.trim_end_matches('0').trim_end_matches('.').to_owned();
        }
        if text.trim_start_matches('-').chars().all(|letter| matches!(letter, '0' | '.')) {
            text = text.trim_start_matches('-').to_owned();
        }
        text.replace('-', "−").replace('.', &self.decimal)
    }
}

/// The end of a range that a value lies past, else the nearer one, and the form that tells it.
pub fn nearest_end(value: f64, limits: Range) -> Option<(f64, &'static str)> {
    match (limits.from, limits.to) {
        (Some(from), Some(to)) if from == to => Some((from, "just")),
        (Some(from), Some(to)) if value - from < to - value => Some((from, "at_least")),
        (_, Some(to)) => Some((to, "at_most")),
        (Some(from), None) => Some((from, "at_least")),
        (None, None) => None,
    }
}

fn with_unit(number: String, unit: &str) -> String {
    match unit {
        "mm" => format!("{number} mm"),
        "deg" => format!("{number}°"),
        "um" => format!("{number} µm"),
        "mm2" => format!("{number} mm²"),
        "mm3" => format!("{number} mm³"),
        "pct" => format!("{number} %"),
        _ => number,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_those_of_the_language() {
        let [en, es] = Language::ALL.map(Language::lexicon);
        assert_eq!(en.value(0.125, "mm"), "0.12 mm");
        assert_eq!(es.value(3.07, "deg"), "3,1°");
        assert_eq!(es.value(-0.5, "mm"), "−0,50 mm");
        assert_eq!(en.value(-0.001, "mm"), "0.00 mm");
        assert_eq!(en.value(34.6, "pct"), "35 %");
        assert_eq!(en.value(2.0, ""), "2");
        assert_eq!(es.amount(0.002, "mm"), "menos de 0,01 mm");
        assert_eq!(en.end(1.2, Range { from: Some(1.5), to: None }, "mm").unwrap(), "at least 1.5 mm");
    }

    #[test]
    fn lists_are_joined_and_long_ones_counted() {
        let [en, es] = Language::ALL.map(Language::lexicon);
        let items: Vec<String> = ["a", "b", "c", "d", "e", "f", "g", "h"].map(String::from).to_vec();
        assert_eq!(en.list(&items[..3], "form.and"), "a, b and c");
        assert_eq!(es.list(&items[..2], "form.and"), "a y b");
        assert_eq!(en.list(&items, "form.and"), "a, b, c, d, e and 3 more");
    }

    #[test]
    fn spanish_draws_together_and_begins_large() {
        let es = Language::Es.lexicon();
        assert_eq!(es.sentence("a el ángulo de el diente"), "Al ángulo del diente");
        assert_eq!(es.sentence("ángulo"), "Ángulo");
    }
}
