//! The areas and outlines of a section, without what is measured in it.

use nalgebra::Point2;

use crate::profile::{Line, Profile};
use crate::svg;

/// Shown beside the finish line, mm.
const BESIDE_MM: f64 = 3.3;
/// Shown below the lowest finish-line point, mm.
const BELOW_MM: f64 = 2.3;
/// Shown above the highest prepared point, mm: room for the opposing teeth.
const ABOVE_MM: f64 = 2.6;
/// Room for a line of text, mm.
const LABEL_MM: f64 = 0.9;
/// How far beyond the finish line tooth may have been taken away: a bulging contour, mm.
const REMOVED_MM: f64 = 2.5;
/// What part of the plane is shown, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// mm.
    pub left: f64,
    /// mm.
    pub right: f64,
    /// mm.
    pub bottom: f64,
    /// mm.
    pub top: f64,
}

/// Image coordinates of a place in the plane: y downwards.
pub fn at(point: Point2<f64>) -> [f64; 2] {
    [point.x, -point.y]
}

impl Window {
    /// Holds the preparation and what stands around it.
    pub fn of(profile: &Profile) -> Self {
        let edges = profile.sides.iter().map(|side| side.edge);
        let start = Self { left: -3.0, right: 3.0, bottom: -0.5, top: profile.top_mm };
        let held = edges.fold(start, |window, edge| Self {
            left: window.left.min(edge.x),
            right: window.right.max(edge.x),
            bottom: window.bottom.min(edge.y),
            top: window.top.max(edge.y),
        });
        Self {
            left: held.left - BESIDE_MM,
            right: held.right + BESIDE_MM,
            bottom: held.bottom - BELOW_MM,
            top: profile.clearance.map_or(0.0, |[_, to]| to.y + LABEL_MM).max(held.top + ABOVE_MM),
        }
    }

    /// Names two clips after the plane: the window, and the part between the finish-line points.
    pub fn clips(&self, profile: &Profile) -> String {
        let name = profile.plane.name();
        let size = [self.right - self.left, self.top - self.bottom];
        let whole = svg::rectangle("clip", [self.left, -self.top], size);
        let edges = profile.sides.iter().map(|side| side.edge.x);
        let (low, high) = edges.fold((0.0f64, 0.0f64), |(low, high), x| (low.min(x), high.max(x)));
        let tooth =
            svg::rectangle("clip", [low - REMOVED_MM, -self.top], [high - low + 2.0 * REMOVED_MM, size[1]]);
        let stripes = "<path d=\"M-0.1 0.5L0.5 -0.1M0.1 0.5L0.5 0.1\"/>";
        format!(
            "<clipPath id=\"window-{name}\">{whole}</clipPath><clipPath id=\"tooth-{name}\">{tooth}</clipPath>\
             <pattern id=\"stripes-{name}\" class=\"stripes\" width=\"0.4\" height=\"0.4\" patternUnits=\"userSpaceOnUse\">{stripes}</pattern>"
        )
    }

    /// Whether a line's end lies out of sight, sideways or towards `ground`.
    fn leaves(&self, end: &Point2<f64>, ground: f64) -> bool {
        let sideways = end.x < self.left || end.x > self.right;
        sideways || (ground < self.bottom && end.y < self.bottom) || (ground > self.top && end.y > self.top)
    }

    /// The runs of a line near the window, sideways.
    fn runs(&self, line: &Line) -> Vec<(Vec<Point2<f64>>, bool)> {
        const SPARE_MM: f64 = 0.5;
        let holds = |point: &Point2<f64>| (self.left - SPARE_MM..=self.right + SPARE_MM).contains(&point.x);
        let n = line.points.len();
        // A closed line starts outside the window where it can, so that no run is cut in two.
        let start = if line.closed { line.points.iter().position(|point| !holds(point)) } else { None };
        if line.closed && start.is_none() {
            return vec![(line.points.clone(), true)];
        }
        let mut runs = vec![(Vec::new(), false)];
        for step in 0..n {
            let point = line.points[(start.unwrap_or(0) + step) % n];
            if holds(&point) {
                runs.last_mut().into_iter().for_each(|run: &mut (Vec<_>, bool)| run.0.push(point));
            } else if runs.last().is_some_and(|run| !run.0.is_empty()) {
                runs.push((Vec::new(), false));
            }
        }
        runs.retain(|run| run.0.len() > 1);
        runs
    }
}

/// The areas: what is left, and under it what was taken away.
pub fn areas(profile: &Profile, window: &Window) -> String {
    let name = profile.plane.name();
    let (below, above) = (window.bottom - 1.0, window.top + 1.0);
    let shape = |class: &str, lines: &[Line], close: &dyn Fn(&mut Vec<Point2<f64>>)| {
        let runs = lines.iter().flat_map(|line| window.runs(line));
        let shapes = runs.map(|(mut points, closed)| {
            if !closed {
                close(&mut points);
            }
            svg::path_data(points.into_iter().map(at), true)
        });
        format!("<path class=\"{class}\" d=\"{}\"/>", shapes.collect::<String>())
    };
    let mut drawn = String::new();
    if !profile.opposing.is_empty() {
        let area = shape("body opposing", &profile.opposing, &|points| close_past(points, above));
        drawn += &format!("<g clip-path=\"url(#window-{name})\">{area}</g>");
    }
    if !profile.before.is_empty() {
        let area =
            shape("body removed", &profile.before, &|points| close_removed(points, profile, window, below));
        let hatched = area.replace("class=\"body removed\"", &format!("fill=\"url(#stripes-{name})\""));
        drawn += &format!("<g clip-path=\"url(#tooth-{name})\">{area}{hatched}</g>");
    }
    let area = shape("body after", &profile.after, &|points| close(points, window, below));
    drawn + &format!("<g clip-path=\"url(#window-{name})\">{area}</g>")
}

/// Closes an open line: past the ground, or straight where both ends are the scan's own border.
fn close(points: &mut Vec<Point2<f64>>, window: &Window, ground: f64) {
    let ends = [points.first(), points.last()];
    if ends.into_iter().flatten().any(|end| window.leaves(end, ground)) {
        close_past(points, ground);
    }
}

/// Closes an open line past the ground.
fn close_past(points: &mut Vec<Point2<f64>>, ground: f64) {
    if let (Some(&first), Some(&last)) = (points.first(), points.last()) {
        points.extend([Point2::new(last.x, ground), Point2::new(first.x, ground)]);
    }
}

/// Closes the line of the uncut tooth. Where the scan has a gap between the teeth the line goes straight to the finish
/// line, where cut and uncut surface meet. Lines of the neighbours are left out: nothing was taken from them.
fn close_removed(points: &mut Vec<Point2<f64>>, profile: &Profile, window: &Window, ground: f64) {
    let spans_middle = points.iter().any(|point| point.x < 0.0) && points.iter().any(|point| point.x > 0.0);
    let (Some(&first), Some(&last), true) = (points.first(), points.last(), spans_middle) else {
        points.clear();
        return;
    };
    let foot = |end: Point2<f64>| {
        let same_side = profile.sides.iter().find(|side| (side.edge.x < 0.0) == (end.x < 0.0));
        same_side.map(|side| side.edge).filter(|_| !window.leaves(&end, ground)).unwrap_or(end)
    };
    let (from, to) = (foot(last), foot(first));
    points.extend([from, Point2::new(from.x, ground), Point2::new(to.x, ground), to]);
}

/// The outlines.
pub fn outlines(profile: &Profile, window: &Window) -> String {
    let all = [("before", &profile.before), ("opposing", &profile.opposing), ("after", &profile.after)];
    let drawn = all.into_iter().filter(|(_, lines)| !lines.is_empty()).map(|(class, lines)| {
        let runs = lines.iter().flat_map(|line| window.runs(line));
        let data = runs.map(|(points, closed)| svg::path_data(points.into_iter().map(at), closed));
        format!("<path class=\"outline {class}\" d=\"{}\"/>", data.collect::<String>())
    });
    let name = profile.plane.name();
    format!("<g clip-path=\"url(#window-{name})\">{}</g>", drawn.collect::<String>())
}

#[cfg(test)]
mod tests {
    use super::*;

    const WINDOW: Window = Window { left: -6.0, right: 6.0, bottom: -3.0, top: 8.0 };

    fn points(places: &[(f64, f64)]) -> Vec<Point2<f64>> {
        places.iter().map(|&(x, y)| Point2::new(x, y)).collect()
    }

    #[test]
    fn an_area_goes_to_the_ground_where_a_line_leaves_the_drawing() {
        let mut line = points(&[(-7.0, -1.0), (0.0, 5.0), (5.0, -1.0)]);
        close(&mut line, &WINDOW, -4.0);
        assert_eq!(line[3..], points(&[(5.0, -4.0), (-7.0, -4.0)]));
    }

    #[test]
    fn an_area_ends_where_the_scan_ends_on_both_sides() {
        let mut line = points(&[(-2.0, 0.0), (0.0, 3.0), (2.0, 0.0)]);
        close(&mut line, &WINDOW, -4.0);
        assert_eq!(line.len(), 3);
    }
}
