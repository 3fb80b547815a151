//! Key figures at a glance.

use kerfwright_measure::Document;
use kerfwright_measure::document::{Reading, Value};
use kerfwright_measure::frame::Aspect;
use kerfwright_tooth::{Side, Tooth};

use crate::text::{escape, fixed, plain, rounded_pair, unit_sign, with_unit};

/// One figure.
struct Card {
    title: String,
    /// The number or word, as HTML.
    figure: String,
    /// A line below it.
    aside: String,
}

/// The cards.
pub fn glance(document: &Document) -> String {
    let tooth = Tooth::from_fdi(document.tooth.fdi).ok();
    let cards = [
        occlusal(document, "functional", "Occlusal reduction, functional cusps", tooth, false),
        occlusal(document, "nonfunctional", "Occlusal reduction, non-functional cusps", tooth, true),
        clearance(document),
        convergence(document, "mesiodistal"),
        convergence(document, "faciolingual"),
        width(document),
        undercut(document),
        neighbours(document),
    ];
    let cards = cards.into_iter().flatten().map(|card| {
        format!(
            "<div class=\"card\"><dt>{}</dt><dd class=\"figure\">{}</dd><dd class=\"aside\">{}</dd></div>",
            escape(&card.title),
            card.figure,
            escape(&card.aside)
        )
    });
    format!("<dl class=\"cards\">{}</dl>", cards.collect::<String>())
}

/// A value with its uncertainty, as HTML.
pub fn figure(reading: &Reading) -> String {
    match &reading.value {
        Value::Text(text) => format!("<span class=\"value\">{}</span>", escape(&plain(text))),
        Value::Number(value) => {
            let (value, u95) = rounded_pair(*value, reading.u95, &reading.unit);
            let unit = unit_sign(&reading.unit);
            let space = if unit == "°" || unit.is_empty() { "" } else { "\u{a0}" };
            let u95 = u95.map_or_else(String::new, |u95| format!(" <span class=\"u95\">±\u{a0}{u95}</span>"));
            format!(
                "<span class=\"value\">{value}</span>{u95}<span class=\"unit\">{space}{}</span>",
                escape(unit)
            )
        }
    }
}

/// A card that says why there is no figure; none where the document knows nothing of the reading.
fn refused(document: &Document, id: &str, title: &str) -> Option<Card> {
    let reason = document.refused.get(id)?;
    Some(Card {
        title: title.into(),
        figure: "<span class=\"value none\">not taken</span>".into(),
        aside: reason.clone(),
    })
}

fn extra(reading: &Reading, name: &str, words: &str) -> Option<String> {
    match reading.extras.get(name)? {
        Value::Number(number) => Some(format!("{words} {}", with_unit(&fixed(*number, 2), &reading.unit))),
        Value::Text(text) => Some(format!("{words} {text}")),
    }
}

fn joined(parts: impl IntoIterator<Item = Option<String>>) -> String {
    parts.into_iter().flatten().collect::<Vec<_>>().join("; ")
}

fn occlusal(
    document: &Document,
    zone: &str,
    title: &str,
    tooth: Option<Tooth>,
    is_other: bool,
) -> Option<Card> {
    let id = format!("reduction.occlusal.{zone}_mm");
    let Some(reading) = document.readings.get(&id) else { return refused(document, &id, title) };
    let side =
        tooth.and_then(Tooth::functional_side).map(|side| if is_other { side.opposite() } else { side });
    let side = side.map(|side| match side {
        Side::Facial => "facial cusps".to_owned(),
        Side::Lingual => "lingual cusps".to_owned(),
    });
    let aside = joined([
        side,
        Some("median".into()),
        extra(reading, "p05", "5th percentile"),
        extra(reading, "least", "least"),
    ]);
    Some(Card { title: title.into(), figure: figure(reading), aside })
}

fn clearance(document: &Document) -> Option<Card> {
    let (id, title) = ("clearance.mip_mm", "Least clearance to the opposing teeth");
    let Some(reading) = document.readings.get(id) else { return refused(document, id, title) };
    let place = reading.place.as_ref().map(|place| plain(&place.aspect));
    let aside =
        joined([Some("in maximal intercuspal position".into()), place, extra(reading, "median", "median")]);
    Some(Card { title: title.into(), figure: figure(reading), aside })
}

fn convergence(document: &Document, plane: &str) -> Option<Card> {
    let id = format!("toc.{plane}_deg");
    let title = format!("Total occlusal convergence, {plane}");
    let Some(reading) = document.readings.get(&id) else { return refused(document, &id, &title) };
    let walls = if plane == "mesiodistal" {
        [Aspect::Mesial, Aspect::Distal]
    } else {
        [Aspect::Facial, Aspect::Lingual]
    };
    let tapers = walls.map(|aspect| {
        let reading = document.readings.get(&format!("taper.{aspect}_deg"))?;
        Some(format!("{aspect} {}°", fixed(reading.number()?, 1)))
    });
    Some(Card { title, figure: figure(reading), aside: joined(tapers) })
}

fn width(document: &Document) -> Option<Card> {
    let title = "Finish-line width, narrowest aspect";
    let id = |aspect: Aspect| format!("finish_line.width.{aspect}_mm");
    let mut widths: Vec<(f64, Aspect, &Reading)> = Aspect::ALL
        .iter()
        .filter_map(|&aspect| {
            let reading = document.readings.get(&id(aspect))?;
            Some((reading.number()?, aspect, reading))
        })
        .collect();
    widths.sort_by(|a, b| a.0.total_cmp(&b.0));
    let Some(&(_, aspect, narrowest)) = widths.first() else {
        return refused(document, &id(Aspect::Mesial), title);
    };
    let middle = widths.len() / 2;
    let median = if widths.len() % 2 == 1 {
        widths[middle].0
    } else {
        0.5 * (widths[middle - 1].0 + widths[middle].0)
    };
    let aside = format!(
        "{}; median of {} aspects {}; widest {}",
        aspect,
        widths.len(),
        with_unit(&fixed(median, 2), "mm"),
        with_unit(&fixed(widths[widths.len() - 1].0, 2), "mm")
    );
    Some(Card { title: title.into(), figure: figure(narrowest), aside })
}

fn undercut(document: &Document) -> Option<Card> {
    let (id, title) = ("undercut.area_mm2", "Undercut along the path");
    let Some(area) = document.readings.get(id) else { return refused(document, id, title) };
    let is_none = document
        .readings
        .get("undercut.where")
        .is_some_and(|place| place.value == Value::Text("none".into()));
    let depth = document.readings.get("undercut.depth_mm");
    if is_none {
        let limit = depth
            .and_then(|depth| depth.u95)
            .map(|u95| format!("anything deeper than {} would show", with_unit(&fixed(u95, 2), "mm")));
        return Some(Card {
            title: title.into(),
            figure: "<span class=\"value\">none found</span>".into(),
            aside: joined([limit]),
        });
    }
    let deep = depth.and_then(|depth| {
        let (value, u95) = rounded_pair(depth.number()?, depth.u95, "mm");
        Some(format!("depth {value} ± {}", with_unit(&u95?, "mm")))
    });
    let place = document.readings.get("undercut.where").and_then(|place| match &place.value {
        Value::Text(text) => Some(plain(text)),
        Value::Number(_) => None,
    });
    Some(Card { title: title.into(), figure: figure(area), aside: joined([place, deep]) })
}

fn neighbours(document: &Document) -> Option<Card> {
    let title = "Adjacent teeth";
    let id = |side: &str| format!("neighbour.{side}.depth_mm");
    let readings: Vec<(&str, &Reading)> = ["mesial", "distal"]
        .into_iter()
        .filter_map(|side| Some((side, document.readings.get(&id(side))?)))
        .collect();
    if readings.is_empty() {
        return refused(document, &id("mesial"), title);
    }
    let depth = |reading: &Reading| reading.number().unwrap_or(0.0);
    let worst = readings.iter().max_by(|a, b| depth(a.1).total_cmp(&depth(b.1)))?;
    let judged = readings.iter().map(|(side, reading)| {
        Some(format!("{side} {}", if depth(reading) > 0.0 { "damaged" } else { "unharmed" }))
    });
    let floors = readings.iter().filter_map(|(_, reading)| match reading.extras.get("floor")? {
        Value::Number(floor_mm) => Some(*floor_mm),
        Value::Text(_) => None,
    });
    let floor = floors.reduce(f64::max).map(|floor_mm| {
        format!("less than {} would not be told from scatter", with_unit(&fixed(floor_mm, 2), "mm"))
    });
    let aside = joined(judged.chain([floor]));
    if depth(worst.1) > 0.0 {
        return Some(Card {
            title: format!("{title}, damage to the {} one", worst.0),
            figure: figure(worst.1),
            aside,
        });
    }
    Some(Card { title: title.into(), figure: "<span class=\"value\">no damage found</span>".into(), aside })
}
