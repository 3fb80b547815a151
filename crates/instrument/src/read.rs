//! A kit from its file.

use toml::de::DeTable;

use crate::fault::{Fault, Faults, Weight, meant};
use crate::head::{Cuts, Dimensions, Head};
use crate::iso::{Grit, IsoCode};
use crate::kind::HeadKind;
use crate::kit::{Gauge, Instrument, Kit, Probe, Retirement, SCHEMA};
use crate::table::{Slips, Table};

/// An ISO size is in tenths of a millimetre: a diameter farther from it than half of one has another size.
const SAME_SIZE_MM: f64 = 0.05;

/// Numbers of a head, besides the words.
const HEAD_NUMBERS: [&str; 7] = [
    "diameter_mm",
    "length_mm",
    "tip_diameter_mm",
    "half_angle_deg",
    "corner_radius_mm",
    "nose_mm",
    "neck_diameter_mm",
];

/// Every fault of a kit's file, by line; those that are only doubtful do not keep it from being read.
pub fn check(text: &str) -> Vec<Fault> {
    parse(text).1
}

/// Reads a kit.
///
/// # Errors
/// Every fault found, if one of them makes the kit unusable.
pub fn read(text: &str) -> Result<Kit, Faults> {
    match parse(text) {
        (Some(kit), faults) if faults.iter().all(|fault| fault.weight == Weight::Doubtful) => Ok(kit),
        (_, faults) => Err(Faults(faults)),
    }
}

fn parse(text: &str) -> (Option<Kit>, Vec<Fault>) {
    let mut slips = Slips::new(text);
    let root = match DeTable::parse(text) {
        Ok(root) => root,
        Err(error) => {
            let what = format!("is no TOML: {}", error.message().lines().next().unwrap_or_default());
            slips.wrong(&error.span().unwrap_or(0..0), what);
            return (None, slips.finish());
        }
    };
    let kit = kit(&Table::new(root.get_ref(), 0..0, "kit"), &mut slips);
    (kit, slips.finish())
}

fn kit(table: &Table<'_>, slips: &mut Slips<'_>) -> Option<Kit> {
    table.allow(&["schema", "name", "title", "notes", "retire", "instrument", "gauge", "probe"], slips);
    let schema = table.text("schema", slips);
    match table.need("schema", schema, slips) {
        Some(schema) if schema != SCHEMA => slips.wrong(
            &table.place_of("schema"),
            format!("`{schema}` is another layout; this program reads {SCHEMA}"),
        ),
        _ => {}
    }
    let name = name(table, slips);
    let title = table.text("title", slips);
    let retire = retirement(table, Retirement::default(), slips);
    let instruments = collect(table, "instrument", slips, |one, slips| instrument(one, retire, slips));
    let gauges = collect(table, "gauge", slips, gauge);
    let probes = collect(table, "probe", slips, probe);
    if table.get("instrument").is_none() {
        slips.wrong(&table.place, "the kit is empty: it needs at least one [[instrument]]".into());
    }
    Some(Kit {
        title: table.need("title", title, slips)?,
        notes: table.texts("notes", slips).unwrap_or_default(),
        name: name?,
        instruments,
        gauges,
        probes,
    })
}

/// Repeated tables, each with a name of its own.
fn collect<T>(
    table: &Table<'_>,
    key: &str,
    slips: &mut Slips<'_>,
    mut one: impl FnMut(&Table<'_>, &mut Slips<'_>) -> Option<T>,
) -> Vec<T> {
    let mut names: Vec<String> = Vec::new();
    let mut found = Vec::new();
    for mut item in table.tables(key, slips) {
        if let Some(name) = item.get("name").and_then(|name| name.get_ref().as_str()) {
            item.called = format!("{key} `{name}`");
            if names.iter().any(|known| known == name) {
                slips.wrong(
                    &item.place_of("name"),
                    format!("there is another {key} `{name}`: give it another name"),
                );
            }
            names.push(name.to_owned());
        }
        found.extend(one(&item, slips));
    }
    found
}

fn name(table: &Table<'_>, slips: &mut Slips<'_>) -> Option<String> {
    let name = table.text("name", slips);
    let name = table.need("name", name, slips)?;
    let fits = |letter: char| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '-';
    if !name.chars().all(fits) {
        let what = format!("{}: `{name}`: a name has small letters, digits and hyphens only", table.called);
        slips.wrong(&table.place_of("name"), what);
        return None;
    }
    Some(name)
}

fn retirement(table: &Table<'_>, usual: Retirement, slips: &mut Slips<'_>) -> Retirement {
    let Some(retire) = table.table("retire", slips) else { return usual };
    retire.allow(&["after_uses", "loss_of_diameter_mm", "source"], slips);
    let loss_mm = positive(&retire, "loss_of_diameter_mm", slips);
    Retirement {
        after_uses: retire.count("after_uses", slips).or(usual.after_uses),
        loss_of_diameter_mm: loss_mm.or(usual.loss_of_diameter_mm),
    }
}

fn instrument(table: &Table<'_>, retire: Retirement, slips: &mut Slips<'_>) -> Option<Instrument> {
    table.allow(&["name", "title", "iso", "grit", "note", "head", "retire", "source"], slips);
    let name = name(table, slips);
    let title = table.text("title", slips);
    let title = table.need("title", title, slips);
    let iso = code(table, slips);
    let written = grit(table, slips);
    let retire = retirement(table, retire, slips);
    let head_table = table.table("head", slips);
    let head = table.need("head", head_table.as_ref(), slips).and_then(|given| head(given, slips));
    if let (Some(iso), Some(head), Some(given)) = (iso, &head, &head_table) {
        hold_code_against_head(iso, head, [table, given], slips);
    }
    if let (Some(told), Some(written)) = (iso.and_then(IsoCode::grit), written)
        && told != written
    {
        let what = format!("{}: the code says {}, `grit` says {}", table.called, told.word(), written.word());
        slips.wrong(&table.place_of("grit"), what);
    }
    let mut known = HEAD_NUMBERS.to_vec();
    known.extend(["iso", "grit"]);
    Some(Instrument {
        sources: sources(table, &known, slips),
        note: table.text("note", slips),
        name: name?,
        title: title?,
        iso,
        grit: written.or(iso.and_then(IsoCode::grit)),
        head: head?,
        retire,
        measured: None,
        retired: Vec::new(),
    })
}

fn code(table: &Table<'_>, slips: &mut Slips<'_>) -> Option<IsoCode> {
    let text = table.text("iso", slips)?;
    match IsoCode::parse(&text) {
        Ok(code) => Some(code),
        Err(error) => {
            slips.wrong(&table.place_of("iso"), format!("{}: `iso`: {error}", table.called));
            None
        }
    }
}

fn grit(table: &Table<'_>, slips: &mut Slips<'_>) -> Option<Grit> {
    let word = table.text("grit", slips)?;
    let grit = Grit::parse(&word);
    if grit.is_none() {
        let words = Grit::ALL.map(Grit::word);
        let what = format!("{}: `{word}` is no grit; {}", table.called, meant(&word, &words));
        slips.wrong(&table.place_of("grit"), what);
    }
    grit
}

fn head(table: &Table<'_>, slips: &mut Slips<'_>) -> Option<Head> {
    let mut known = HEAD_NUMBERS.to_vec();
    known.extend(["kind", "cuts"]);
    let is_known = table.allow(&known, slips);
    let kind = kind(table, slips);
    let cuts = cuts(table, slips);
    let numbers = HEAD_NUMBERS.map(|key| table.number(key, slips));
    let is_read =
        HEAD_NUMBERS.iter().zip(&numbers).all(|(key, number)| number.is_some() || table.get(key).is_none());
    let diameter_mm = table.need("diameter_mm", numbers[0], slips);
    let given = Dimensions {
        diameter_mm: diameter_mm?,
        length_mm: numbers[1],
        tip_diameter_mm: numbers[2],
        half_angle_deg: numbers[3],
        corner_radius_mm: numbers[4],
        nose_mm: numbers[5],
        neck_diameter_mm: numbers[6],
        cuts: cuts?,
    };
    // A number that could not be read, or whose key is misspelt, is not missing: it has been told.
    match Head::new(kind.filter(|_| is_read && is_known)?, &given) {
        Ok(head) => Some(head),
        Err(error) => {
            slips.wrong(
                &table.place_of(error.key),
                format!("{}: `{}` {}", table.called, error.key, error.message),
            );
            None
        }
    }
}

fn kind(table: &Table<'_>, slips: &mut Slips<'_>) -> Option<HeadKind> {
    let word = table.text("kind", slips);
    let word = table.need("kind", word, slips)?;
    let kind = HeadKind::ALL.into_iter().find(|kind| kind.key() == word);
    if kind.is_none() {
        let words = HeadKind::ALL.map(HeadKind::key);
        let what = format!("{}: `{word}` is no kind of head; {}", table.called, meant(&word, &words));
        slips.wrong(&table.place_of("kind"), what);
    }
    kind
}

fn cuts(table: &Table<'_>, slips: &mut Slips<'_>) -> Option<Cuts> {
    if table.get("cuts").is_none() {
        return Some(Cuts::All);
    }
    let word = table.text("cuts", slips)?;
    match word.as_str() {
        "all" => Some(Cuts::All),
        "end" => Some(Cuts::End),
        "side" => Some(Cuts::Side),
        _ => {
            let what = format!("{}: `cuts` is `{word}`; give all, end or side", table.called);
            slips.wrong(&table.place_of("cuts"), what);
            None
        }
    }
}

/// A code and a head of one instrument must be of one size and shape.
fn hold_code_against_head(iso: IsoCode, head: &Head, [table, given]: [&Table<'_>; 2], slips: &mut Slips<'_>) {
    if (iso.diameter_mm() - head.diameter_mm()).abs() > SAME_SIZE_MM {
        let what = format!(
            "{}: the code's size is {:.1} mm (tenths of a millimetre), the largest diameter {:.2} mm: mend one of them",
            table.called,
            iso.diameter_mm(),
            head.diameter_mm()
        );
        slips.wrong(&given.place_of("diameter_mm"), what);
    }
    // Shapes and digits 16 to 18 are known from memory alone: that is no ground to refuse a kit.
    match iso.heads() {
        Some(heads) if !heads.contains(&head.kind()) => {
            let keys: Vec<&str> = heads.iter().map(|kind| kind.key()).collect();
            let what = format!(
                "{}: shape {:03} of the code is {}, the head a {}",
                table.called,
                iso.shape(),
                keys.join(" or "),
                head.kind().key()
            );
            slips.doubtful(&given.place_of("kind"), what);
        }
        Some(_) => {}
        None => {
            let what = format!("{}: shape {:03} of the code is not in our table", table.called, iso.shape());
            slips.doubtful(&table.place_of("iso"), what);
        }
    }
    if let Some(length_mm) =
        iso.head_length_mm().filter(|length_mm| (length_mm - head.length_mm()).abs() > SAME_SIZE_MM)
    {
        let what = format!(
            "{}: the code's head is {length_mm:.1} mm long, the head {:.1}",
            table.called,
            head.length_mm()
        );
        slips.doubtful(&given.place_of("length_mm"), what);
    }
}

fn gauge(table: &Table<'_>, slips: &mut Slips<'_>) -> Option<Gauge> {
    table.allow(&["name", "title", "width_mm", "depth_mm", "source"], slips);
    let name = name(table, slips);
    let title = table.text("title", slips);
    let title = table.need("title", title, slips);
    let width_mm = positive(table, "width_mm", slips);
    let width_mm = table.need("width_mm", width_mm, slips);
    let depth_mm = positive(table, "depth_mm", slips);
    let sources = sources(table, &["width_mm", "depth_mm"], slips);
    Some(Gauge { name: name?, title: title?, width_mm: width_mm?, depth_mm, sources })
}

fn probe(table: &Table<'_>, slips: &mut Slips<'_>) -> Option<Probe> {
    table.allow(&["name", "title", "tip_diameter_mm", "marks_mm", "source"], slips);
    let name = name(table, slips);
    let title = table.text("title", slips);
    let title = table.need("title", title, slips);
    let tip_diameter_mm = positive(table, "tip_diameter_mm", slips);
    let tip_diameter_mm = table.need("tip_diameter_mm", tip_diameter_mm, slips);
    let marks_mm = table.numbers("marks_mm", slips).unwrap_or_default();
    if marks_mm.windows(2).any(|pair| pair[0] >= pair[1])
        || marks_mm.first().is_some_and(|first| *first <= 0.0)
    {
        slips.wrong(
            &table.place_of("marks_mm"),
            format!("{}: marks go up from the tip, above 0", table.called),
        );
    }
    let sources = sources(table, &["tip_diameter_mm", "marks_mm"], slips);
    Some(Probe { name: name?, title: title?, tip_diameter_mm: tip_diameter_mm?, marks_mm, sources })
}

fn positive(table: &Table<'_>, key: &str, slips: &mut Slips<'_>) -> Option<f64> {
    let number = table.number(key, slips)?;
    if number > 0.0 && number <= 20.0 {
        return Some(number);
    }
    slips.wrong(
        &table.place_of(key),
        format!("{}: `{key}` = {number}: give mm above 0 and up to 20", table.called),
    );
    None
}

/// `[instrument.source]`: key and source.
fn sources(table: &Table<'_>, known: &[&str], slips: &mut Slips<'_>) -> Vec<(String, String)> {
    let Some(list) = table.table("source", slips) else { return Vec::new() };
    list.allow(known, slips);
    let keys: Vec<&str> = list.keys().map(|key| key.0).collect();
    let mut found = Vec::new();
    for key in keys {
        found.extend(list.text(key, slips).map(|source| (key.to_owned(), source)));
    }
    found
}
