//! What is known of one reading, as fillings for texts, and the instrument for it.

use kerfwright_exercise::{Range, Wanted, readings};
use kerfwright_grade::{CriterionGrade, Finding, Grade, Item, Lost, Mend};
use kerfwright_instrument::Kit;
use kerfwright_measure::Document;
use kerfwright_measure::document::{Place, Value};
use kerfwright_tooth::Tooth;

use crate::language::{Lexicon, nearest_end};
use crate::place::Guide;
use crate::rules::{Rule, Rules};
use crate::template::Fillings;

/// Tables of words for what the `*` of an id stands for; the table's name is the gap's.
const PLACE_TABLES: [&str; 8] =
    ["zone", "point", "planes", "movement", "incline", "layer", "neighbour", "box"];

/// What every sentence of one grade is made from.
pub struct Desk<'a> {
    pub grade: &'a Grade,
    pub document: Option<&'a Document>,
    pub kit: Option<&'a Kit>,
    pub lexicon: &'a Lexicon,
    pub rules: &'a Rules,
    pub tooth: Option<Tooth>,
}

/// One reading with what was asked of it.
pub struct Looked<'a> {
    pub reading: &'a str,
    pub title: &'a str,
    pub unit: &'a str,
    pub value: Option<&'a Value>,
    pub u95: Option<f64>,
    pub wanted: &'a Wanted,
    pub place: Option<&'a Place>,
    pub finding: Option<&'a Finding>,
}

impl<'a> Looked<'a> {
    pub fn item(criterion: &'a CriterionGrade, item: &'a Item) -> Self {
        let finding = item.finding.as_ref();
        Self {
            reading: &item.reading,
            title: &criterion.title,
            unit: &item.unit,
            value: item.value.as_ref(),
            u95: item.u95,
            wanted: &item.wanted,
            place: finding.and_then(|finding| finding.place.as_ref()),
            finding,
        }
    }

    pub fn lost(lost: &'a Lost) -> Self {
        Self {
            reading: &lost.reading,
            title: &lost.title,
            unit: &lost.unit,
            value: Some(&lost.value),
            u95: lost.u95,
            wanted: &lost.wanted,
            place: lost.finding.place.as_ref(),
            finding: Some(&lost.finding),
        }
    }

    /// The place that the id names.
    fn named_place(&self) -> Option<&'a str> {
        readings::find(self.reading).and_then(|(_, place)| place).or_else(|| {
            // `reduction.axial.facial.middle_mm` and the like name their aspect between dots.
            self.reading.split('.').find(|piece| readings::ASPECTS.contains(piece))
        })
    }

    /// The aspect that the id names, else the one where the place lies.
    pub fn aspect(&self) -> Option<&'a str> {
        let named = self.named_place().filter(|place| readings::ASPECTS.contains(place));
        named.or_else(|| self.place.map(|place| place.aspect.as_str()))
    }

    pub fn number(&self) -> Option<f64> {
        match self.value {
            Some(Value::Number(value)) => Some(*value),
            _ => None,
        }
    }

    pub fn ranges(&self) -> Option<(Range, Range)> {
        match self.wanted {
            Wanted::Number { ideal, acceptable } => Some((*ideal, *acceptable)),
            Wanted::Words { .. } => None,
        }
    }

    /// The end of ideal that is missed, or the nearer one.
    pub fn aim(&self) -> Option<f64> {
        Some(nearest_end(self.number()?, self.ranges()?.0)?.0)
    }

    /// How far to go, or how far past: to ideal where cutting leads there, else past acceptable if it lies past it.
    fn amount(&self) -> Option<f64> {
        let finding = self.finding?;
        let past_acceptable = finding.past_acceptable.filter(|past| *past != 0.0);
        match finding.mend {
            Mend::MoreCutting => finding.past_ideal,
            _ => past_acceptable.or(finding.past_ideal),
        }
    }
}

impl<'a> Desk<'a> {
    fn is_upper(&self) -> bool {
        self.tooth.is_some_and(Tooth::is_upper)
    }

    /// A word for something on this tooth.
    pub fn word(&self, table: &str, name: &str) -> Option<String> {
        self.lexicon.tooth_word(table, name, self.is_upper())
    }

    /// Everything that can be said of a reading, but for the instrument.
    pub fn fillings(&self, looked: &Looked<'_>, rule: Option<&Rule>) -> Fillings {
        let mut fillings = Fillings::from([("title", looked.title.to_owned())]);
        self.put_numbers(looked, &mut fillings);
        self.put_words(looked, &mut fillings);
        self.put_places(looked, rule, &mut fillings);
        if let Some(subject) =
            rule.and_then(|rule| self.lexicon.say(&format!("subject.{}", rule.subject), &fillings))
        {
            fillings.insert("subject", subject);
        }
        fillings
    }

    fn put_numbers(&self, looked: &Looked<'_>, fillings: &mut Fillings) {
        let Some(value) = looked.number() else { return };
        fillings.insert("value", self.lexicon.value(value, looked.unit));
        if let Some(u95) = looked.u95 {
            fillings.insert("u95", self.lexicon.value(u95, looked.unit));
        }
        if let Some(amount) = looked.amount() {
            fillings.insert("amount", self.lexicon.amount(amount, looked.unit));
        }
        let limit =
            looked.ranges().and_then(|(_, acceptable)| self.lexicon.end(value, acceptable, looked.unit));
        fillings.extend(limit.map(|limit| ("limit", limit)));
        fillings.extend(looked.aim().map(|aim| ("aim", self.lexicon.bare(aim, looked.unit))));
    }

    fn put_words(&self, looked: &Looked<'_>, fillings: &mut Fillings) {
        let Wanted::Words { ideal_words, .. } = looked.wanted else { return };
        let wanted: Vec<String> = ideal_words.iter().map(|word| self.said(looked.reading, word)).collect();
        fillings.insert("wanted", self.lexicon.list(&wanted, "form.or"));
        if let Some(Value::Text(word)) = looked.value {
            fillings.insert("found", self.said(looked.reading, word));
        }
    }

    /// A word that a reading says, in the language.
    fn said(&self, reading: &str, word: &str) -> String {
        let table = if reading.ends_with("toward") { "toward" } else { "wall" };
        let known = self.word(table, word).or_else(|| self.word("word", &word.replace(' ', "_")));
        known.unwrap_or_else(|| word.to_owned())
    }

    fn put_places(&self, looked: &Looked<'_>, rule: Option<&Rule>, fillings: &mut Fillings) {
        let aspect = looked.aspect();
        for table in ["side", "wall"] {
            fillings.extend(aspect.and_then(|aspect| self.word(table, aspect)).map(|word| (table, word)));
        }
        if let Some(place) = looked.named_place() {
            for table in PLACE_TABLES {
                fillings.extend(self.word(table, place).map(|word| (table, word)));
            }
        }
        fillings.extend(self.word("point", "lf").map(|fossa| ("fossa", fossa)));
        let third = ["gingival", "middle", "occlusal"]
            .into_iter()
            .find(|third| looked.reading.ends_with(&format!(".{third}_mm")));
        fillings.extend(third.and_then(|third| self.word("third", third)).map(|word| ("third", word)));
        if let (Some(place), Some(rule), Some(tooth)) = (looked.place, rule, self.tooth) {
            let guide = Guide { lexicon: self.lexicon, tooth, document: self.document };
            let spot = guide.spot(place, rule.spot, looked.named_place());
            fillings.extend(spot.map(|spot| ("spot", spot)));
        }
        let toward = self.document_word("path.tilt_toward");
        fillings.extend(toward.and_then(|toward| self.word("toward", toward)).map(|word| ("toward", word)));
        let straighter = self.straighter(looked.reading).and_then(|(aspect, _)| self.word("wall", aspect));
        fillings.extend(straighter.map(|wall| ("straighter", wall)));
        for (gap, part) in [("upright", "least"), ("flared", "greatest")] {
            let wall = self.channel_wall(looked, part).and_then(|wall| self.word("wall", wall));
            fillings.extend(wall.map(|wall| (gap, wall)));
        }
    }

    /// Of the walls of an isthmus or a box, the one that leans least or most, if it is known which. The axial wall of a box belongs to what
    /// is asked only if just that lean is.
    fn channel_wall(&self, looked: &Looked<'_>, part: &str) -> Option<&'static str> {
        let of = |part: &str| self.document_part(looked.reading, part);
        let utmost = of(part).filter(|_| looked.unit == "deg")?;
        let names = if looked.number() == Some(utmost) { 3 } else { 2 };
        let names = ["facial", "lingual", "axial"].into_iter().take(names);
        let mut leans: Vec<(f64, &str)> = names.filter_map(|wall| Some((of(wall)?, wall))).collect();
        let sense = if part == "least" { 1.0 } else { -1.0 };
        leans.sort_by(|one, other| (sense * one.0).total_cmp(&(sense * other.0)));
        let u95 = |part: &str| of(part).unwrap_or_default();
        let [first, second, ..] = leans[..] else { return None };
        ((first.0 - second.0).abs() > u95("least_u95").hypot(u95("greatest_u95"))).then_some(first.1)
    }

    /// Of two opposing walls, the one with less taper, and its taper.
    pub fn straighter(&self, reading: &str) -> Option<(&'static str, f64)> {
        let walls = match reading.strip_prefix("toc.")?.strip_suffix("_deg")? {
            "mesiodistal" => ["mesial", "distal"],
            "faciolingual" => ["facial", "lingual"],
            "mesiofacial_distolingual" => ["mesiofacial", "distolingual"],
            "distofacial_mesiolingual" => ["distofacial", "mesiolingual"],
            _ => return None,
        };
        let tapers =
            walls.map(|wall| self.document_number(&format!("taper.{wall}_deg")).map(|taper| (wall, taper)));
        let [Some(one), Some(other)] = tapers else { return None };
        Some(if one.1 <= other.1 { one } else { other })
    }

    pub fn document_number(&self, id: &str) -> Option<f64> {
        self.document?.readings.get(id)?.number()
    }

    /// A further number of a reading.
    pub fn document_part(&self, id: &str, part: &str) -> Option<f64> {
        match self.document?.readings.get(id)?.extras.get(part)? {
            Value::Number(value) => Some(*value),
            Value::Text(_) => None,
        }
    }

    fn document_word(&self, id: &str) -> Option<&'a str> {
        match &self.document?.readings.get(id)?.value {
            Value::Text(word) => Some(word),
            Value::Number(_) => None,
        }
    }
}
