//! A plane section of the scans, drawn true to scale in a part of the figure.

use kerfwright_geometry::Plane;
use kerfwright_measure::preparation::Preparation;
use kerfwright_measure::scene::Placed;
use kerfwright_measure::station::Station;
use nalgebra::{Point2, Point3, Vector3};

use super::canvas::{area, short, stroke};
use crate::camera::{Axes, View};
use crate::svg;

/// Drawn beyond the window and clipped, mm.
const SPARE_MM: f64 = 0.8;

/// A part of a plane and where it stands in the figure.
#[derive(Debug, Clone)]
pub struct Cut {
    /// Plane coordinates (0, 0), after frame.
    pub origin: Point3<f64>,
    /// Unit, to the right.
    pub across: Vector3<f64>,
    /// Unit, upwards.
    pub up: Vector3<f64>,
    /// Left, right, bottom and top of what is shown, mm.
    pub window: [f64; 4],
    /// Top left corner in the figure, px.
    pub corner: [f64; 2],
    /// px a mm.
    pub scale: f64,
    /// Names the clip; once a figure.
    pub id: &'static str,
}

/// Which scans a section shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scan {
    /// The prepared arch.
    After,
    /// What was there before, striped where it was taken away.
    Before,
    /// The opposing teeth.
    Opposing,
}

/// From facial to lingual through a point, so that it lies as seen from mesial; or along the arch, as seen from facial.
pub fn main_plane(preparation: &Preparation<'_>, view: View, at: Point3<f64>) -> (Axes, Cut) {
    let frame = &preparation.frame;
    let axes = Axes::new(frame.origin, &frame.mesial, &frame.facial, &preparation.path);
    // The origin stays on the tooth's path through the centre of the finish line where the plane allows it.
    let across = axes.right(view);
    let normal = across.cross(&axes.path);
    let origin = frame.origin + normal * (at - frame.origin).dot(&normal);
    let cut = Cut {
        origin,
        across,
        up: axes.path,
        window: [-7.0, 7.0, -3.0, 8.0],
        corner: [0.0, 0.0],
        scale: 30.0,
        id: "window",
    };
    (axes, cut)
}

impl Cut {
    /// The plane of a station, the finish line at (0, 0), the tooth to the right.
    pub fn of_station(station: &Station) -> Self {
        let frame = &station.section.frame;
        Self {
            origin: frame.origin,
            across: frame.inward,
            up: frame.up,
            window: [-1.6, 2.4, -2.0, 2.0],
            corner: [0.0, 0.0],
            scale: 90.0,
            id: "window",
        }
    }

    /// Plane coordinates of a point, mm.
    pub fn flat(&self, point: &Point3<f64>) -> Point2<f64> {
        let at = point - self.origin;
        Point2::new(at.dot(&self.across), at.dot(&self.up))
    }

    /// Where plane coordinates lie in the figure.
    pub fn px(&self, x: f64, y: f64) -> [f64; 2] {
        let [left, _, _, top] = self.window;
        short([self.corner[0] + (x - left) * self.scale, self.corner[1] + (top - y) * self.scale])
    }

    /// Where a point of the plane lies in the figure.
    pub fn at(&self, flat: &Point2<f64>) -> [f64; 2] {
        self.px(flat.x, flat.y)
    }

    /// Where a point in space lies in the figure, seen square on the plane.
    pub fn solid(&self, point: &Point3<f64>) -> [f64; 2] {
        self.at(&self.flat(point))
    }

    /// Bottom of the panel, px.
    pub fn bottom(&self) -> f64 {
        self.corner[1] + (self.window[3] - self.window[2]) * self.scale
    }

    /// Right end of the panel, px.
    pub fn right(&self) -> f64 {
        self.corner[0] + (self.window[1] - self.window[0]) * self.scale
    }

    /// The lines in which the plane cuts a scan, as far as the window reaches sideways; and whether they are closed.
    pub fn lines(&self, scan: &Placed<'_>) -> Vec<(Vec<Point2<f64>>, bool)> {
        let plane = Plane { point: self.origin, normal: self.across.cross(&self.up) };
        let mut found = Vec::new();
        for line in scan.section(&plane) {
            let mut points: Vec<Point2<f64>> = line.points.iter().map(|point| self.flat(point)).collect();
            if line.closed {
                points.push(points[0]);
            }
            let holds = |point: &Point2<f64>| {
                (self.window[0] - SPARE_MM..=self.window[1] + SPARE_MM).contains(&point.x)
                    && (self.window[2] - 6.0..=self.window[3] + 6.0).contains(&point.y)
            };
            let is_whole = line.closed && points.iter().all(holds);
            let runs =
                points.chunk_by(|a, b| holds(a) == holds(b)).filter(|run| run.len() > 1 && holds(&run[0]));
            found.extend(runs.map(|run| (run.to_vec(), is_whole)));
        }
        found
    }

    /// Areas and outlines of the scans, the first one lowest.
    pub fn scene(&self, preparation: &Preparation<'_>, shown: &[Scan]) -> String {
        let scene = &preparation.scene;
        let mut drawn = String::new();
        for scan in shown {
            drawn += &match scan {
                Scan::After => self.body("after", &Placed::in_place(scene.after), self.window[2] - 1.0),
                Scan::Before => scene.before.map_or_else(String::new, |before| self.removed(&before)),
                Scan::Opposing => scene.opposing.map_or_else(String::new, |opposing| {
                    self.body("opposing", &opposing, self.window[3] + 1.0)
                }),
            };
        }
        self.clipped(&drawn)
    }

    /// A scan's area and outline, its ground at a height.
    fn body(&self, class: &str, scan: &Placed<'_>, ground_mm: f64) -> String {
        let lines = self.lines(scan);
        self.areas(&format!("body-{class}"), joined(&lines), ground_mm) + &self.outlines(class, &lines)
    }

    /// The uncut tooth, striped; what is left of it is drawn over it afterwards.
    fn removed(&self, scan: &Placed<'_>) -> String {
        let lines = self.lines(scan);
        let areas = self.areas("body-before", lines.clone(), self.window[2] - 1.0);
        let id = self.id;
        let data = areas.split(" d=\"").nth(1).and_then(|rest| rest.split('"').next()).unwrap_or_default();
        format!(
            "<clipPath id=\"striped-{id}\"><path class=\"clip\" d=\"{data}\"/></clipPath>{areas}\
             <g clip-path=\"url(#striped-{id})\">{}</g>{}",
            self.stripes(),
            self.outlines("before", &lines)
        )
    }

    /// What is drawn, cut off at the window.
    pub fn clipped(&self, drawn: &str) -> String {
        let size = [self.right() - self.corner[0], self.bottom() - self.corner[1]];
        let clip = svg::rectangle("clip", short(self.corner), short(size));
        let id = self.id;
        format!("<clipPath id=\"{id}\">{clip}</clipPath><g clip-path=\"url(#{id})\">{drawn}</g>")
    }

    fn areas(&self, class: &str, lines: Vec<(Vec<Point2<f64>>, bool)>, ground_mm: f64) -> String {
        let mut data = String::new();
        for (mut around, closed) in lines {
            if !closed {
                let (first, last) = (around[0], around[around.len() - 1]);
                around.extend([Point2::new(last.x, ground_mm), Point2::new(first.x, ground_mm)]);
            }
            data += &svg::path_data(around.iter().map(|point| self.at(point)), true);
        }
        format!("<path class=\"{class}\" d=\"{data}\"/>")
    }

    fn outlines(&self, class: &str, lines: &[(Vec<Point2<f64>>, bool)]) -> String {
        let all =
            lines.iter().map(|(points, _)| svg::path_data(points.iter().map(|point| self.at(point)), false));
        format!("<path class=\"{class}\" d=\"{}\"/>", all.collect::<String>())
    }

    fn stripes(&self) -> String {
        let ([x, y], right, bottom) = (self.corner, self.right(), self.bottom());
        let n = ((right - x + bottom - y) / 7.0) as usize;
        let strokes = (0..n).map(|k| {
            let start = x + 7.0 * k as f64;
            svg::path_data([short([start, y]), short([start - (bottom - y), bottom])], false)
        });
        format!("<path class=\"hatch\" d=\"{}\"/>", strokes.collect::<String>())
    }

    /// A bar of a length, at the lower left.
    pub fn scale_bar(&self, mm: f64) -> String {
        let [left, _, bottom, _] = self.window;
        let [x, y] = self.px(left, bottom);
        let words = if mm < 1.0 { format!("{mm} mm") } else { format!("{mm:.0} mm") };
        super::canvas::length("thin", [x + 8.0, y - 10.0], [x + 8.0 + mm * self.scale, y - 10.0])
            + &svg::text("start small", short([x + 16.0 + mm * self.scale, y - 6.0]), &words)
    }

    /// What lies at the two ends, in the upper corners.
    pub fn ends(&self, axes: &Axes) -> String {
        let y = self.corner[1] + 16.0;
        svg::text("side start", short([self.corner[0] + 6.0, y]), axes.word(&-self.across))
            + &svg::text("side end", short([self.right() - 6.0, y]), axes.word(&self.across))
    }

    /// A piece of a line between two arc lengths of a station's section.
    pub fn along_section(&self, class: &str, station: &Station, from_mm: f64, to_mm: f64) -> String {
        let frame = &station.section.frame;
        let points = station.section.between(from_mm, to_mm);
        stroke(class, points.iter().map(|point| self.solid(&frame.solid(point))))
    }

    /// An area through points of the plane.
    pub fn area(&self, class: &str, points: &[Point2<f64>]) -> String {
        area(class, points.iter().map(|point| self.at(point)))
    }
}

/// The pieces from left to right, joined where one ends near the next one's beginning: under an overhang and in a contact
/// a scan has gaps, the tooth has none.
fn joined(lines: &[(Vec<Point2<f64>>, bool)]) -> Vec<(Vec<Point2<f64>>, bool)> {
    const GAP_MM: f64 = 0.6;
    let ends = |points: &[Point2<f64>]| (points[0], points[points.len() - 1]);
    let (closed, open): (Vec<_>, Vec<_>) = lines.iter().cloned().partition(|(_, closed)| *closed);
    let mut open: Vec<Vec<Point2<f64>>> = open
        .into_iter()
        .map(|(mut points, _)| {
            if ends(&points).0.x > ends(&points).1.x {
                points.reverse();
            }
            points
        })
        .collect();
    open.sort_by(|a, b| a[0].x.total_cmp(&b[0].x));
    let mut whole: Vec<Vec<Point2<f64>>> = Vec::new();
    for points in open {
        match whole.last_mut().filter(|last| (ends(last).1 - points[0]).norm() < GAP_MM) {
            Some(last) => last.extend(points),
            None => whole.push(points),
        }
    }
    whole.into_iter().map(|points| (points, false)).chain(closed).collect()
}
