//! Plots as SVG. Numbers and words stand beside every colour, so that form carries what colour says.

use std::fmt::Write;

use kerfwright_class::Answer;
use kerfwright_class::cohort::{Band, Standing};
use kerfwright_class::place::{Bin, Third};

use crate::report::Report;

/// Width of a plot.
const WIDTH: f64 = 760.0;
/// Where the scale begins and ends.
const LEFT: f64 = 330.0;
const RIGHT: f64 = 720.0;
/// Height of one line.
const LINE: f64 = 30.0;

const STYLE: &str = "text{font:12px sans-serif;fill:#222}.s{font-size:10px;fill:#555}.band{fill:#d9e2e7}\
                     .ideal{fill:#b9cad2}.axis{stroke:#888;fill:none}.dot{fill:#1d4e63}\
                     .miss{fill:none;stroke:#8a3b12;stroke-width:1.6}.bar{stroke:#1d4e63;stroke-width:2}";

/// Every reading of the class on its own scale: the acceptable band, the ideal one in it, a dot a learner (a ring where it is proven
/// outside), the median as a bar.
pub fn distributions(report: &Report) -> String {
    let drawn: Vec<_> = report.criteria.iter().filter(|criterion| !criterion.dots.is_empty()).collect();
    let height = 40.0 + LINE * drawn.len() as f64;
    let mut out = begin(
        height,
        &format!(
            "{}, {}: the latest attempt of each of {} learners",
            report.title, report.stage, report.n_learners
        ),
    );
    for (k, criterion) in drawn.iter().enumerate() {
        let y = 40.0 + LINE * (k as f64 + 0.5);
        let scale =
            Scale::of(criterion.dots.iter().map(|dot| dot.value), [criterion.acceptable, criterion.ideal]);
        text(&mut out, 8.0, y + 4.0, "", &format!("{} ({})", criterion.key.name(), criterion.unit));
        band(&mut out, &scale, criterion.acceptable, y, "band");
        band(&mut out, &scale, criterion.ideal, y, "ideal");
        text(&mut out, LEFT, y + 14.0, "s", &short(scale.low));
        text(&mut out, RIGHT, y + 14.0, "s", &short(scale.high));
        for dot in &criterion.dots {
            let is_out = matches!(dot.standing, Standing::Under | Standing::Over);
            let class = if is_out { "miss" } else { "dot" };
            put(
                &mut out,
                format_args!(
                    r#"<circle class="{class}" cx="{:.1}" cy="{y:.1}" r="3.5"/>"#,
                    scale.at(dot.value)
                ),
            );
        }
        if let Answer::Given(distribution) = &criterion.distribution {
            let x = scale.at(distribution.five[2]);
            put(&mut out, format_args!(r#"<path class="bar" d="M{x:.1} {:.1}v18"/>"#, y - 9.0));
        }
    }
    out + "</svg>\n"
}

/// Shares of the class that took too little and too much, by aspect and third. Rings from inside: occlusal, middle, gingival third.
pub fn places(report: &Report) -> Option<String> {
    let Answer::Given(bins) = &report.places.bins else { return None };
    let mut out =
        begin(400.0, &format!("{}, {}: axial reduction proven outside its band", report.title, report.stage));
    for (x, name, share) in [
        (190.0, "too little cut", (|bin: &Bin| bin.under.value) as fn(&Bin) -> f64),
        (570.0, "too much cut", |bin: &Bin| bin.over.value),
    ] {
        text(&mut out, x - 40.0, 44.0, "", name);
        for bin in bins {
            sector(&mut out, (x, 220.0), bin, share(bin));
        }
        for (angle_deg, aspect) in
            [(0.0_f64, "mesial"), (90.0, "facial"), (180.0, "distal"), (270.0, "lingual")]
        {
            let (sin, cos) = sin_cos(angle_deg);
            text(&mut out, x + 158.0 * cos - 18.0, 220.0 - 158.0 * sin + 4.0, "s", aspect);
        }
    }
    Some(out + "</svg>\n")
}

/// A learner's readings from attempt to attempt, each on its own scale with its band; bars reach as far as a limit cannot be told.
pub fn courses(report: &Report) -> Option<String> {
    let learner = report.learner.as_ref()?;
    let Answer::Given(courses) = &learner.courses else { return None };
    const ROW: f64 = 64.0;
    let height = 40.0 + ROW * courses.len() as f64;
    let mut out = begin(height, &format!("{}: {}, {}", learner.learner, report.title, report.stage));
    let n = learner.attempts.len().max(2) as f64;
    for (k, course) in courses.iter().enumerate() {
        let (top, y) = (44.0 + ROW * k as f64, 44.0 + ROW * (k as f64 + 0.5));
        text(&mut out, 8.0, y, "", &course.criterion);
        text(&mut out, 8.0, y + 14.0, "s", &format!("{:?}", course.trend).to_lowercase());
        let scale = Scale::of(course.points.iter().map(|point| point.value), [course.band, course.band]);
        let height_of = |value: f64| top + 50.0 - 50.0 * (value - scale.low) / (scale.high - scale.low);
        let (low, high) = (course.band.from.unwrap_or(scale.low), course.band.to.unwrap_or(scale.high));
        put(
            &mut out,
            format_args!(
                r#"<rect class="band" x="{LEFT}" y="{:.1}" width="{:.1}" height="{:.1}"/>"#,
                height_of(high),
                RIGHT - LEFT,
                height_of(low) - height_of(high)
            ),
        );
        text(&mut out, LEFT - 34.0, top + 52.0, "s", &short(scale.low));
        text(&mut out, LEFT - 34.0, top + 8.0, "s", &short(scale.high));
        let at = |attempt: u32| LEFT + 12.0 + (RIGHT - LEFT - 24.0) * (f64::from(attempt) - 1.0) / (n - 1.0);
        let line: Vec<String> = course
            .points
            .iter()
            .map(|point| format!("{:.1},{:.1}", at(point.attempt), height_of(point.value)))
            .collect();
        put(&mut out, format_args!(r#"<polyline class="axis" points="{}"/>"#, line.join(" ")));
        for point in &course.points {
            let class =
                if matches!(point.standing, Standing::Under | Standing::Over) { "miss" } else { "dot" };
            let (x, y) = (at(point.attempt), height_of(point.value));
            put(&mut out, format_args!(r#"<circle class="{class}" cx="{x:.1}" cy="{y:.1}" r="3.5"/>"#));
        }
    }
    Some(out + "</svg>\n")
}

/// A scale that shows all values and the bands' ends.
struct Scale {
    low: f64,
    high: f64,
}

impl Scale {
    fn of(values: impl Iterator<Item = f64>, bands: [Band; 2]) -> Self {
        let ends = bands.into_iter().flat_map(|band| [band.from, band.to]).flatten();
        let (low, high) = values
            .chain(ends)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
        let margin = if high > low { 0.06 * (high - low) } else { 0.5 };
        Self { low: low - margin, high: high + margin }
    }

    fn at(&self, value: f64) -> f64 {
        LEFT + (RIGHT - LEFT) * (value - self.low) / (self.high - self.low)
    }
}

fn begin(height: f64, title: &str) -> String {
    let title = escaped(title);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height}\" role=\"img\"><title>{title}</title>\
         <style>{STYLE}</style><rect width=\"{WIDTH}\" height=\"{height}\" fill=\"#fff\"/>\
         <text x=\"8\" y=\"20\">{title}</text>"
    )
}

fn band(out: &mut String, scale: &Scale, band: Band, y: f64, class: &str) {
    let (from, to) = (scale.at(band.from.unwrap_or(scale.low)), scale.at(band.to.unwrap_or(scale.high)));
    put(
        out,
        format_args!(
            r#"<rect class="{class}" x="{from:.1}" y="{:.1}" width="{:.1}" height="16"/>"#,
            y - 8.0,
            to - from
        ),
    );
}

fn sector(out: &mut String, (x, y): (f64, f64), bin: &Bin, share: f64) {
    let inner = match bin.third {
        Third::Occlusal => 30.0,
        Third::Middle => 70.0,
        Third::Gingival => 110.0,
    };
    let outer = inner + 38.0;
    let at = |radius: f64, angle_deg: f64| {
        let (sin, cos) = sin_cos(angle_deg);
        format!("{:.1} {:.1}", x + radius * cos, y - radius * sin)
    };
    let (from, to) = (bin.centre_deg - 21.5, bin.centre_deg + 21.5);
    put(
        out,
        format_args!(
            r##"<path d="M{}A{outer} {outer} 0 0 0 {}L{}A{inner} {inner} 0 0 1 {}Z" fill="#1d4e63" fill-opacity="{:.2}" stroke="#888"/>"##,
            at(outer, from),
            at(outer, to),
            at(inner, to),
            at(inner, from),
            0.04 + 0.6 * share
        ),
    );
    let hits = (share * f64::from(bin.n)).round();
    let (sin, cos) = sin_cos(bin.centre_deg);
    let radius = inner + 19.0;
    text(out, x + radius * cos - 12.0, y - radius * sin + 4.0, "", &format!("{hits}/{}", bin.n));
}

fn sin_cos(angle_deg: f64) -> (f64, f64) {
    angle_deg.to_radians().sin_cos()
}

fn text(out: &mut String, x: f64, y: f64, class: &str, words: &str) {
    put(out, format_args!(r#"<text class="{class}" x="{x:.1}" y="{y:.1}">{}</text>"#, escaped(words)));
}

fn put(out: &mut String, what: std::fmt::Arguments<'_>) {
    // Writing to a string cannot fail.
    let _ = out.write_fmt(what);
}

fn short(value: f64) -> String {
    format!("{value:.2}")
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
