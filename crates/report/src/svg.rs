//! Pieces of inline SVG.

use std::fmt::Write;

use crate::text::{coordinate, escape};

/// The `d` of a path through points.
pub fn path_data(points: impl IntoIterator<Item = [f64; 2]>, closed: bool) -> String {
    let mut data = String::new();
    for (index, [x, y]) in points.into_iter().enumerate() {
        let letter = if index == 0 { 'M' } else { 'L' };
        // Writing to a string cannot fail.
        let _ = write!(data, "{letter}{} {}", coordinate(x), coordinate(y));
    }
    if closed && !data.is_empty() {
        data.push('Z');
    }
    data
}

/// A path.
pub fn path(class: &str, points: impl IntoIterator<Item = [f64; 2]>, closed: bool) -> String {
    format!("<path class=\"{class}\" d=\"{}\"/>", path_data(points, closed))
}

/// A straight line.
pub fn line(class: &str, from: [f64; 2], to: [f64; 2]) -> String {
    path(class, [from, to], false)
}

/// A dot.
pub fn dot(class: &str, at: [f64; 2], radius: f64) -> String {
    let [x, y] = at.map(coordinate);
    format!("<circle class=\"{class}\" cx=\"{x}\" cy=\"{y}\" r=\"{}\"/>", coordinate(radius))
}

/// Text at a point; `class` says how it is anchored: `start`, `middle` or `end`, among others.
pub fn text(class: &str, at: [f64; 2], words: &str) -> String {
    let [x, y] = at.map(coordinate);
    format!("<text class=\"{class}\" x=\"{x}\" y=\"{y}\">{}</text>", escape(words))
}

/// A rectangle.
pub fn rectangle(class: &str, at: [f64; 2], size: [f64; 2]) -> String {
    let [x, y] = at.map(coordinate);
    let [width, height] = size.map(coordinate);
    format!("<rect class=\"{class}\" x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\"/>")
}

/// An image of vector graphics with the words that stand for it, its view box, and what is drawn.
pub fn image(class: &str, style: &str, view_box: [f64; 4], words: &str, drawn: &str) -> String {
    let view_box = view_box.map(coordinate).join(" ");
    let style = if style.is_empty() { String::new() } else { format!(" style=\"{style}\"") };
    format!(
        "<svg class=\"{class}\"{style} viewBox=\"{view_box}\" role=\"img\" aria-label=\"{}\">{drawn}</svg>",
        escape(words)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_starts_once_and_closes_on_request() {
        assert_eq!(path_data([[0.0, 1.0], [2.5, -1.0]], false), "M0 1L2.5 -1");
        assert_eq!(path_data([[0.0, 1.0], [2.5, -1.0]], true), "M0 1L2.5 -1Z");
        assert_eq!(path_data([], true), "");
    }

    #[test]
    fn words_are_escaped() {
        assert!(
            image("a", "", [0.0, 0.0, 1.0, 1.0], "a \"b\" <c>", "").contains("a &quot;b&quot; &lt;c&gt;")
        );
        assert!(text("a", [0.0, 0.0], "<").contains("&lt;"));
    }
}
