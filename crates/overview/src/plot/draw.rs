//! What the plots share: style, scale, lines of a sheet.

use std::fmt::Write;

use kerfwright_class::cohort::Band;

/// Width of a whole plot.
const WIDTH: f64 = 760.0;
/// Where names end and parts begin.
const LEFT: f64 = 400.0;
/// Width of a part.
pub const PART: f64 = 340.0;
/// Where the scale of a part begins and ends.
pub const FROM: f64 = 10.0;
pub const TO: f64 = 330.0;

/// A plot is dark on light by itself; a page that has its own style for these classes leaves this one out.
const STYLE: &str = ".plot text{font:12px system-ui,sans-serif;fill:#14232b}.plot .s{font-size:11px;fill:#4a5a62}\
                     .plot .paper{fill:#fff}.plot .band{fill:#d5e3e6}.plot .ideal{fill:#a9c8cd}.plot .axis{stroke:#7d8a8f;fill:none}\
                     .plot .dot{fill:#0b5560}.plot .miss{fill:#fff;stroke:#a0330b;stroke-width:1.8}\
                     .plot .doubt{fill:#fff;stroke:#6a4c0e;stroke-width:1.8}.plot .bar{stroke:#14232b;stroke-width:2.5}\
                     .plot .reach{stroke:#0b5560;stroke-width:2}.plot .share{fill:#0b5560;stroke:#7d8a8f}";

/// A scale that shows all values and the bands' ends.
#[derive(Debug, Clone, Copy)]
pub struct Scale {
    pub low: f64,
    pub high: f64,
}

impl Scale {
    pub fn of(values: impl Iterator<Item = f64>, bands: &[Band]) -> Self {
        let ends = bands.iter().flat_map(|band| [band.from, band.to]).flatten();
        let (low, high) = values
            .chain(ends)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
        let margin = if high > low { 0.06 * (high - low) } else { 0.5 };
        Self { low: low - margin, high: high + margin }
    }

    /// Where a value lies between two ends.
    pub fn between(&self, value: f64, from: f64, to: f64) -> f64 {
        from + (to - from) * (value - self.low) / (self.high - self.low)
    }

    pub fn at(&self, value: f64) -> f64 {
        self.between(value, FROM, TO)
    }
}

/// A part by itself, for a page.
pub fn part(height: f64, inside: &str) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"plot\" viewBox=\"0 0 {PART} {height}\">{inside}</svg>"
    )
}

/// A whole plot: a title, what its signs mean, then a name and a part a line.
pub fn sheet(title: &str, signs: &str, lines: &[(String, String, String)], height: f64) -> String {
    let mut inside = String::new();
    for (k, (name, more, drawn)) in lines.iter().enumerate() {
        let y = 56.0 + height * k as f64;
        text(&mut inside, 12.0, y + height / 2.0, "", name);
        text(&mut inside, 12.0, y + height / 2.0 + 14.0, "s", more);
        put(&mut inside, format_args!(r#"<g transform="translate({LEFT} {y})">{drawn}</g>"#));
    }
    text(&mut inside, 12.0, 42.0, "s", signs);
    whole(title, 64.0 + height * lines.len() as f64, &inside)
}

/// A whole plot around what is drawn already.
pub fn whole(title: &str, height: f64, inside: &str) -> String {
    let title = escaped(title);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"plot\" viewBox=\"0 0 {WIDTH} {height}\" role=\"img\"><title>{title}</title>\
         <style>{STYLE}</style><rect class=\"paper\" width=\"{WIDTH}\" height=\"{height}\"/>\
         <text x=\"12\" y=\"22\">{title}</text>{inside}</svg>\n"
    )
}

pub fn band(out: &mut String, scale: &Scale, band: Band, y: f64, class: &str) {
    let (from, to) = (scale.at(band.from.unwrap_or(scale.low)), scale.at(band.to.unwrap_or(scale.high)));
    put(
        out,
        format_args!(
            r#"<rect class="{class}" x="{from:.1}" y="{:.1}" width="{:.1}" height="20"/>"#,
            y - 10.0,
            to - from
        ),
    );
}

/// The scale's ends in numbers.
pub fn ends(out: &mut String, scale: &Scale, y: f64) {
    text(out, FROM, y, "s", &short(scale.low));
    aligned(out, TO, y, "s", "end", &short(scale.high));
}

pub fn text(out: &mut String, x: f64, y: f64, class: &str, words: &str) {
    aligned(out, x, y, class, "start", words);
}

pub fn aligned(out: &mut String, x: f64, y: f64, class: &str, anchor: &str, words: &str) {
    put(
        out,
        format_args!(
            r#"<text class="{class}" x="{x:.1}" y="{y:.1}" text-anchor="{anchor}">{}</text>"#,
            escaped(words)
        ),
    );
}

pub fn put(out: &mut String, what: std::fmt::Arguments<'_>) {
    // Writing to a string cannot fail.
    let _ = out.write_fmt(what);
}

pub fn short(value: f64) -> String {
    // Adding zero takes the sign from what rounds to nothing.
    format!("{:.2}", (value * 100.0).round() / 100.0 + 0.0)
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
