//! All readings in tables, and what was refused.

use std::collections::BTreeMap;

use kerfwright_measure::Document;
use kerfwright_measure::document::{Reading, Value};

use crate::marks::full_title;
use crate::text::{decimals_for, escape, fixed, plain, rounded_pair, sentence, usual_decimals, with_unit};
use crate::titles;

/// One table a group.
pub fn readings(document: &Document) -> String {
    of(&document.readings)
}

/// The same for readings that stand alone.
pub fn of(readings: &BTreeMap<String, Reading>) -> String {
    let groups = titles::grouped(readings.keys().map(String::as_str)).into_iter();
    let groups = groups.map(|(first, ids)| {
        let known = ids.into_iter().filter_map(|id| Some((id, readings.get(id)?)));
        table(first, &known.collect::<Vec<_>>())
    });
    groups.collect()
}

fn table(first: &str, readings: &[(&str, &Reading)]) -> String {
    let (heading, about) = titles::group(first);
    let rows: String = readings.iter().map(|(id, reading)| row(id, reading)).collect();
    // The roles keep it a table where a narrow screen lays the rows out in another way.
    format!(
        "<table role=\"table\"><caption><h3>{}</h3>{}</caption>\
         <thead role=\"rowgroup\"><tr role=\"row\"><th role=\"columnheader\" scope=\"col\">Reading</th>\
         <th role=\"columnheader\" scope=\"col\" class=\"number\">Value</th>\
         <th role=\"columnheader\" scope=\"col\" class=\"number\">± U<sub>95</sub></th>\
         <th role=\"columnheader\" scope=\"col\">Where, and what else</th></tr></thead>\
         <tbody role=\"rowgroup\">{rows}</tbody></table>",
        escape(&heading),
        escape(about)
    )
}

fn row(id: &str, reading: &Reading) -> String {
    let (value, u95) = match &reading.value {
        Value::Text(text) => (escape(&plain(text)), String::from("–")),
        Value::Number(value) => {
            let (value, u95) = rounded_pair(*value, reading.u95, &reading.unit);
            (
                escape(&with_unit(&value, &reading.unit)),
                u95.map_or_else(|| "–".into(), |u95| format!("±\u{a0}{u95}")),
            )
        }
    };
    format!(
        "<tr role=\"row\"><th role=\"rowheader\" scope=\"row\">{} <code>{}</code></th>\
         <td role=\"cell\" class=\"number\">{value}</td><td role=\"cell\" class=\"number u95\">{u95}</td>\
         <td role=\"cell\" class=\"more\">{}</td></tr>",
        escape(&titles::title(id)),
        escape(id),
        escape(&more(reading))
    )
}

/// Place, extras and note in one sentence each.
fn more(reading: &Reading) -> String {
    let mut parts = Vec::new();
    if let Some(place) = &reading.place {
        parts.push(format!("{} ({}°)", plain(&place.aspect), fixed(place.angle_deg, 0)));
    }
    let extras: Vec<String> =
        reading.extras.iter().filter_map(|(name, value)| extra(reading, name, value)).collect();
    if !extras.is_empty() {
        parts.push(extras.join(", "));
    }
    parts.extend(reading.note.clone());
    parts.join("; ")
}

fn extra(reading: &Reading, name: &str, value: &Value) -> Option<String> {
    // An uncertainty is shown beside what it belongs to; a copy of the value says nothing new.
    if name.ends_with("_u95") || *value == reading.value {
        return None;
    }
    let unit = titles::extra_unit(name, &reading.unit);
    let words = titles::extra(name);
    let number = match value {
        Value::Text(text) => return Some(format!("{words} {}", plain(text))),
        Value::Number(number) => *number,
    };
    if let Some(Value::Number(u95)) = reading.extras.get(&format!("{name}_u95")) {
        let (value, u95) = rounded_pair(number, Some(*u95), unit);
        return Some(format!("{words} {value} ± {}", with_unit(&u95.unwrap_or_default(), unit)));
    }
    let decimals = if unit == reading.unit {
        reading.u95.map_or(usual_decimals(unit), |u95| decimals_for(u95, unit))
    } else {
        usual_decimals(unit)
    };
    Some(format!("{words} {}", with_unit(&fixed(number, decimals), unit)))
}

/// What could not be taken, and what the user should know.
pub fn refused_and_warnings(document: &Document) -> String {
    let mut html = String::new();
    html += &list("Warnings", &document.warnings, "Nothing to warn of.");
    if document.refused.is_empty() {
        return html + "<h3>Not taken</h3><p>Every reading was taken.</p>";
    }
    let rows = document.refused.iter().map(|(id, reason)| {
        format!(
            "<tr role=\"row\"><th role=\"rowheader\" scope=\"row\">{} <code>{}</code></th><td role=\"cell\" class=\"more\">{}</td></tr>",
            escape(&full_title(id)),
            escape(id),
            escape(&sentence(reason))
        )
    });
    html += &format!(
        "<table role=\"table\" class=\"refused\"><caption><h3>Not taken</h3>Readings that these scans do not carry. A reading that \
         cannot be trusted is left out, not guessed.</caption><thead role=\"rowgroup\"><tr role=\"row\">\
         <th role=\"columnheader\" scope=\"col\">Reading</th><th role=\"columnheader\" scope=\"col\">Why</th></tr></thead>\
         <tbody role=\"rowgroup\">{}</tbody></table>",
        rows.collect::<String>()
    );
    html
}

/// A heading with a list under it.
pub fn list(heading: &str, items: &[String], otherwise: &str) -> String {
    let body = if items.is_empty() {
        format!("<p>{}</p>", escape(otherwise))
    } else {
        let items = items.iter().map(|item| format!("<li>{}</li>", escape(&sentence(item))));
        format!("<ul>{}</ul>", items.collect::<String>())
    };
    format!("<h3>{}</h3>{body}", escape(heading))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading() -> Reading {
        Reading {
            value: Value::Number(5.9024),
            unit: "deg".into(),
            u95: Some(0.3461),
            place: None,
            place_of_greatest: None,
            note: Some("a <b> note".into()),
            extras: BTreeMap::from([
                ("along_axis".into(), Value::Number(6.5829)),
                ("along_axis_u95".into(), Value::Number(3.8209)),
                ("least".into(), Value::Number(5.1187)),
                ("median".into(), Value::Number(5.9024)),
            ]),
        }
    }

    #[test]
    fn a_row_says_everything_once_and_rounds() {
        let row = row("taper.distal_deg", &reading());
        assert!(row.contains(">5.9°<") && row.contains("±\u{a0}0.4"), "{row}");
        assert!(row.contains("along the tooth&#39;s axis 7 ± 4°, least 5.1°; a &lt;b&gt; note"), "{row}");
        assert!(!row.contains("median"));
    }
}
