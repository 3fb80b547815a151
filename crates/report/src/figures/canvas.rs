//! What figures are drawn on: a page of its own colours, and the few marks of a technical drawing.

use crate::svg;
use crate::text::escape;

use super::Figure;

/// Width of every figure, px.
pub const WIDTH: f64 = 700.0;

/// The figures bring their own light ground, so that they look the same on light and dark pages.
const STYLE: &str = include_str!("figure.css");

/// A figure while it is drawn.
#[derive(Debug)]
pub struct Canvas {
    height: f64,
    drawn: String,
}

impl Canvas {
    /// An empty one.
    pub fn new(height: f64) -> Self {
        Self { height, drawn: String::new() }
    }

    /// Draws a piece over what is there.
    pub fn add(&mut self, piece: impl AsRef<str>) -> &mut Self {
        self.drawn += piece.as_ref();
        self
    }

    /// Writes a line of text; `class` says where it is anchored and how it looks.
    pub fn say(&mut self, class: &str, at: [f64; 2], words: &str) -> &mut Self {
        self.add(svg::text(class, short(at), words))
    }

    /// Writes lines under each other.
    pub fn lines(&mut self, class: &str, at: [f64; 2], lines: &[&str]) -> &mut Self {
        for (k, line) in lines.iter().enumerate() {
            self.say(class, [at[0], at[1] + 18.0 * k as f64], line);
        }
        self
    }

    /// Writes the name of a reading and, under it, what was measured.
    pub fn label(&mut self, anchor: &str, at: [f64; 2], name: &str, measured: &str) -> &mut Self {
        self.say(anchor, at, name).say(&format!("{anchor} number"), [at[0], at[1] + 17.0], measured)
    }

    /// A row that says what the strokes mean, its left end at `at`: class, words, and room in px.
    pub fn key(&mut self, at: [f64; 2], entries: &[(&str, &str, f64)]) -> &mut Self {
        let [mut x, y] = at;
        for (class, words, room) in entries {
            self.add(svg::line(class, [x, y - 4.0], [x + 30.0, y - 4.0]));
            self.say("start small", [x + 37.0, y], words);
            x += room;
        }
        self
    }

    /// The file.
    pub fn finish(self, name: &'static str, title: &str, description: &str) -> Figure {
        let height = self.height;
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}\" height=\"{height}\" viewBox=\"0 0 {WIDTH} {height}\" \
             role=\"img\" aria-labelledby=\"title desc\">\n<title id=\"title\">{}</title>\n<desc id=\"desc\">{}</desc>\n\
             <style>\n{STYLE}</style>\n{}\n{}\n</svg>\n",
            escape(title),
            escape(description),
            svg::rectangle("ground", [0.0, 0.0], [WIDTH, height]),
            self.drawn
        );
        Figure { name, svg }
    }
}

/// Tenths of a pixel are fine enough.
pub fn short([x, y]: [f64; 2]) -> [f64; 2] {
    [x, y].map(|value| (value * 10.0).round() / 10.0)
}

/// A path through px places.
pub fn stroke(class: &str, points: impl IntoIterator<Item = [f64; 2]>) -> String {
    svg::path(class, points.into_iter().map(short), false)
}

/// A straight stroke.
pub fn line(class: &str, from: [f64; 2], to: [f64; 2]) -> String {
    stroke(class, [from, to])
}

/// A closed area.
pub fn area(class: &str, points: impl IntoIterator<Item = [f64; 2]>) -> String {
    svg::path(class, points.into_iter().map(short), true)
}

/// A dot.
pub fn dot(class: &str, at: [f64; 2], radius: f64) -> String {
    svg::dot(class, short(at), radius)
}

/// A length between two places: a stroke with a bar across each end.
pub fn length(class: &str, from: [f64; 2], to: [f64; 2]) -> String {
    let [along, across] = directions(from, to);
    let _ = along;
    let bar = |at: [f64; 2]| {
        let [x, y] = at;
        line(class, [x - 5.0 * across[0], y - 5.0 * across[1]], [x + 5.0 * across[0], y + 5.0 * across[1]])
    };
    line(class, from, to) + &bar(from) + &bar(to)
}

/// An arrow with its head at `to`.
pub fn arrow(class: &str, from: [f64; 2], to: [f64; 2]) -> String {
    let [along, across] = directions(from, to);
    let back = |side: f64| [0, 1].map(|axis| to[axis] - 9.0 * along[axis] + side * 3.6 * across[axis]);
    line(class, from, to) + &area(&format!("{class} head"), [back(1.0), to, back(-1.0)])
}

/// Unit vectors from one place to the other and across.
fn directions(from: [f64; 2], to: [f64; 2]) -> [[f64; 2]; 2] {
    let (x, y) = (to[0] - from[0], to[1] - from[1]);
    let norm = x.hypot(y).max(1e-9);
    [[x / norm, y / norm], [-y / norm, x / norm]]
}

/// An arc about `centre` between two directions, degrees counted anticlockwise from the right.
pub fn arc(class: &str, centre: [f64; 2], radius: f64, from_deg: f64, to_deg: f64) -> String {
    let n = (((to_deg - from_deg).abs() / 4.0).ceil() as usize).max(3);
    stroke(
        class,
        (0..=n).map(|k| {
            let angle_rad = (from_deg + (to_deg - from_deg) * k as f64 / n as f64).to_radians();
            [centre[0] + radius * angle_rad.cos(), centre[1] - radius * angle_rad.sin()]
        }),
    )
}

/// Many small marks in one path: `mark` is drawn at each place.
pub fn marks(class: &str, places: impl IntoIterator<Item = [f64; 2]>, mark: &str) -> String {
    let mut data = String::new();
    for place in places {
        let [x, y] = short(place).map(crate::text::coordinate);
        data += &format!("M{x} {y}{mark}");
    }
    format!("<path class=\"{class}\" d=\"{data}\"/>")
}
