//! The finish line unrolled: what each section says, against the angle around the tooth.

use kerfwright_measure::Document;
use kerfwright_measure::document::StationEntry;
use kerfwright_measure::frame::Aspect;

use crate::svg;
use crate::text::{fixed, rounded_pair};

const LEFT: f64 = 46.0;
const WIDTH: f64 = 620.0;
const RIGHT: f64 = 10.0;
const PANEL: f64 = 104.0;
const GAP: f64 = 46.0;
const TOP: f64 = 24.0;
/// The chart begins here, so that each surface of the tooth lies in one piece, degrees.
const FIRST_DEG: f64 = -45.0;
/// A line is broken where stations are missing for more than this, degrees.
const BREAK_DEG: f64 = 5.0;

/// One quantity around the tooth.
struct Panel {
    title: &'static str,
    unit: &'static str,
    /// The ids of the aspects' readings: before and after the aspect's name.
    id: (&'static str, &'static str),
    value: fn(&StationEntry) -> Option<f64>,
    /// Smallest range of the axis.
    least_range: [f64; 2],
}

const PANELS: [Panel; 3] = [
    Panel {
        title: "Finish-line width",
        unit: "mm",
        id: ("finish_line.width.", "_mm"),
        value: |station| station.width_mm,
        least_range: [0.0, 1.0],
    },
    Panel {
        title: "Finish line above the gingiva",
        unit: "mm",
        id: ("finish_line.above_gingiva.", "_mm"),
        value: |station| station.above_gingiva_mm,
        least_range: [-0.2, 0.8],
    },
    Panel {
        title: "Taper of the wall",
        unit: "deg",
        id: ("taper.", "_deg"),
        value: |station| station.taper_deg,
        least_range: [0.0, 12.0],
    },
];

/// The chart: a panel for each quantity that was read anywhere.
pub fn chart(document: &Document) -> String {
    let stations = &document.finish_line.stations;
    let is_read = |panel: &&Panel| stations.iter().any(|station| (panel.value)(station).is_some());
    let panels: Vec<&Panel> = PANELS.iter().filter(is_read).collect();
    let mut drawn = String::new();
    let mut words = String::from("Charts around the tooth, from mesial over facial and distal to lingual. ");
    for (index, panel) in panels.iter().enumerate() {
        let top = TOP + index as f64 * (PANEL + GAP);
        drawn += &panel.draw(document, top);
        words += &panel.words(document);
    }
    let height = TOP + panels.len() as f64 * (PANEL + GAP);
    svg::image("unrolled", "", [0.0, 0.0, WIDTH, height], words.trim_end(), &drawn)
}

fn x(angle_deg: f64) -> f64 {
    LEFT + (angle_deg - FIRST_DEG).rem_euclid(360.0) / 360.0 * (WIDTH - LEFT - RIGHT)
}

/// The values on an axis and how they map to the image.
struct Axis {
    ticks: Vec<f64>,
    decimals: usize,
    top: f64,
}

impl Axis {
    fn of(values: &[f64], least_range: [f64; 2], top: f64) -> Self {
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        // One bad station in fifty does not set the scale; it is drawn at the rim.
        let at = |share: f64| sorted.get(((sorted.len().max(1) - 1) as f64 * share) as usize).copied();
        let low = at(0.02).map_or(least_range[0], |low| low.min(least_range[0]));
        let high = at(0.98).map_or(least_range[1], |high| high.max(least_range[1]));
        let step = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0]
            .into_iter()
            .find(|step| (high - low) / step <= 5.0)
            .unwrap_or(100.0);
        let (first, last) = ((low / step).floor() as i32, (high / step).ceil() as i32);
        let ticks = (first..=last).map(|k| f64::from(k) * step).collect();
        Self { ticks, decimals: usize::from(step < 1.0), top }
    }

    fn y(&self, value: f64) -> f64 {
        let (low, high) = (self.ticks[0], self.ticks[self.ticks.len() - 1]);
        self.top + PANEL * (1.0 - ((value - low) / (high - low)).clamp(-0.02, 1.02))
    }

    fn draw(&self) -> String {
        let lines = self.ticks.iter().map(|&tick| {
            let class = if tick == 0.0 { "zero" } else { "grid" };
            let y = self.y(tick);
            let line = svg::line(class, [LEFT, y], [WIDTH - RIGHT, y]);
            line + &svg::text("tick end", [LEFT - 6.0, y + 3.2], &fixed(tick, self.decimals))
        });
        lines.collect()
    }
}

impl Panel {
    fn draw(&self, document: &Document, top: f64) -> String {
        let stations = &document.finish_line.stations;
        let values: Vec<f64> = stations.iter().filter_map(self.value).collect();
        let axis = Axis::of(&values, self.least_range, top);
        let unit = if self.unit == "deg" { "degrees" } else { self.unit };
        let mut drawn =
            svg::text("panel-title start", [LEFT, top - 10.0], &format!("{}, {unit}", self.title));
        for aspect in Aspect::SURFACES {
            drawn += &self.band(aspect, top);
        }
        drawn += &axis.draw();
        drawn += &self.curve(stations, &axis);
        for aspect in Aspect::SURFACES {
            drawn += &self.median(document, aspect, &axis);
        }
        drawn
    }

    /// The stretch that an aspect's reading is taken from, with the aspect's name under it.
    fn band(&self, aspect: Aspect, top: f64) -> String {
        let centre = aspect.centre_deg();
        let (from, to) = (x(centre - 11.25), x(centre + 11.25));
        svg::rectangle("band", [from, top], [to - from, PANEL])
            + &svg::text("tick middle", [x(centre), top + PANEL + 13.0], aspect.id())
    }

    fn curve(&self, stations: &[StationEntry], axis: &Axis) -> String {
        let mut points: Vec<(f64, f64, bool)> = stations
            .iter()
            .filter_map(|station| {
                let turned = (station.angle_deg - FIRST_DEG).rem_euclid(360.0);
                Some((turned, (self.value)(station)?, station.seen))
            })
            .collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let joins = |a: &(f64, f64, bool), b: &(f64, f64, bool)| b.0 - a.0 <= BREAK_DEG && a.2 == b.2;
        let runs = points.chunk_by(joins).map(|run| {
            let class = if run[0].2 { "curve" } else { "curve bridged" };
            svg::path(class, run.iter().map(|point| [x(point.0 + FIRST_DEG), axis.y(point.1)]), false)
        });
        runs.collect()
    }

    /// The reading of an aspect with its uncertainty.
    fn median(&self, document: &Document, aspect: Aspect, axis: &Axis) -> String {
        let Some(reading) = document.readings.get(&self.reading_id(aspect)) else { return String::new() };
        let Some(value) = reading.number() else { return String::new() };
        let middle = x(aspect.centre_deg());
        let u95 = reading.u95.unwrap_or(0.0);
        let (low, high) = (axis.y(value - u95), axis.y(value + u95));
        let (shown, _) = rounded_pair(value, reading.u95, self.unit);
        // The number stands above the curve, or below it where there is no room.
        let above = high - 10.0 > axis.top + 12.0;
        let y = if above { high - 6.0 } else { low + 14.0 };
        [
            svg::line("u95", [middle, low], [middle, high]),
            svg::line("u95", [middle - 3.0, low], [middle + 3.0, low]),
            svg::line("u95", [middle - 3.0, high], [middle + 3.0, high]),
            svg::dot("value", [middle, axis.y(value)], 2.6),
            svg::text("number middle", [middle, y], &shown),
        ]
        .concat()
    }

    fn reading_id(&self, aspect: Aspect) -> String {
        format!("{}{}{}", self.id.0, aspect.id(), self.id.1)
    }

    fn words(&self, document: &Document) -> String {
        let parts = Aspect::SURFACES.iter().filter_map(|&aspect| {
            let reading = document.readings.get(&self.reading_id(aspect))?;
            let (value, u95) = rounded_pair(reading.number()?, reading.u95, self.unit);
            Some(format!("{aspect} {value} ± {}", u95.unwrap_or_else(|| "unknown".into())))
        });
        let unit = if self.unit == "deg" { "degrees" } else { self.unit };
        format!("{} in {unit}: {}. ", self.title, parts.collect::<Vec<_>>().join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_surface_lies_in_one_piece() {
        for aspect in Aspect::SURFACES {
            let centre = aspect.centre_deg();
            let (from, middle, to) = (x(centre - 44.9), x(centre), x(centre + 44.9));
            assert!(from < middle && middle < to, "{aspect}");
            assert!((middle - 0.5 * (from + to)).abs() < 1e-9);
        }
    }

    #[test]
    fn an_axis_holds_its_values() {
        let values: Vec<f64> = (0..200).map(|k| 0.3 + 0.01 * f64::from(k)).collect();
        let axis = Axis::of(&values, [0.0, 1.0], 0.0);
        assert!(axis.ticks.len() <= 7);
        assert!(axis.ticks[0] <= 0.0 && *axis.ticks.last().unwrap() >= 2.25);
        assert!(axis.y(0.3) > axis.y(2.2));
        assert_eq!(Axis::of(&[], [0.0, 1.0], 0.0).ticks[0], 0.0);
    }
}
