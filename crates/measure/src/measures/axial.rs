//! `reduction.axial.*`: how much the walls were cut, by aspect and third.

use nalgebra::{Point2, Point3};

use super::NO_BEFORE;
use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::scene::{Near, Placed};
use crate::sheet::{Sheet, expanded, number};
use crate::station::Station;
use crate::stats::{median, robust_sigma};

const THIRDS: [&str; 3] = ["gingival", "middle", "occlusal"];

/// Heights read in a third of a wall.
const HEIGHTS: usize = 5;
/// What finish line and line angle leave open of a point's height, mm (1 sigma, from phantom scans).
const HEIGHT_MM: f64 = 0.03;
/// The same where most of the finish line was not seen but bridged.
const BRIDGED_MM: f64 = 0.15;

/// Median closest distance from the wall to the uncut surface in each third of the wall's height.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    for aspect in Aspect::SURFACES {
        let id = |third: usize| format!("reduction.axial.{}.{}_mm", aspect.id(), THIRDS[third]);
        let Some(before) = &preparation.scene.before else {
            (0..3).for_each(|third| sheet.refuse(id(third), NO_BEFORE));
            continue;
        };
        let here = preparation.stations.iter().filter(|station| aspect.holds_in_middle(station.angle_deg));
        let stations: Vec<&Station> = here.collect();
        for third in 0..3 {
            match Third::read(&stations, third, before) {
                Some(found) => {
                    let u95 = expanded(&[preparation.pose_sigma_mm(), found.sigma_mm(), 0.006]);
                    let reading = number(found.median_mm, "mm", u95).with("least", found.least_mm);
                    sheet.write(id(third), reading);
                }
                None => {
                    sheet.refuse(id(third), "the wall or the uncut surface beside it was not scanned here");
                }
            }
        }
    }
}

/// What a third of a wall's height says.
struct Third {
    median_mm: f64,
    least_mm: f64,
    /// The middle distance in each section that has one.
    of_stations_mm: Vec<f64>,
    /// How fast the distance changes with the height, mm a mm: fast along a floor.
    slope: f64,
    /// See [`HEIGHT_MM`].
    height_sigma_mm: f64,
}

impl Third {
    /// `None` with fewer than 12 points.
    fn read(stations: &[&Station], third: usize, before: &Placed<'_>) -> Option<Self> {
        let points: Vec<WallPoint> =
            stations.iter().enumerate().flat_map(|(k, station)| wall_points(k, station, third)).collect();
        let near = before.nearest(&points.iter().map(|point| point.place).collect::<Vec<_>>(), 5.0);
        let read: Vec<(&WallPoint, f64)> = points
            .iter()
            .zip(&near)
            .filter_map(|(point, near)| Some((point, distance_mm(&point.place, near.as_ref()?)?)))
            .collect();
        if read.len() < 12 {
            return None;
        }
        let middle = |of: &dyn Fn(&WallPoint) -> bool| {
            let values: Vec<f64> = read.iter().filter(|(point, _)| of(point)).map(|pair| pair.1).collect();
            median(&values)
        };
        let at_step = |step: usize| middle(&|point| point.step == step);
        let step_mm = median(&read.iter().map(|(point, _)| point.step_mm).collect::<Vec<_>>())?;
        // From the middle height to both sides: towards the top the distance grows and shrinks again.
        let rises_mm = [HEIGHTS / 2 - 1, HEIGHTS / 2 + 1].map(|step| {
            at_step(step).zip(at_step(HEIGHTS / 2)).map_or(0.0, |(one, other)| (one - other).abs())
        });
        let n_seen = stations.iter().filter(|station| station.seen).count();
        Some(Self {
            median_mm: middle(&|_| true)?,
            least_mm: read.iter().map(|pair| pair.1).fold(f64::INFINITY, f64::min),
            of_stations_mm: (0..stations.len()).filter_map(|k| middle(&|point| point.station == k)).collect(),
            slope: 0.5 * (rises_mm[0] + rises_mm[1]) / step_mm,
            height_sigma_mm: if 2 * n_seen > stations.len() { HEIGHT_MM } else { BRIDGED_MM },
        })
    }

    /// Standard uncertainty: sections within 0.4 mm of each other, three of them, share their noise.
    fn sigma_mm(&self) -> f64 {
        let spread_mm = robust_sigma(&self.of_stations_mm).unwrap_or(0.0);
        let n_alone = (self.of_stations_mm.len() as f64 / 3.0).max(1.0);
        (1.2533 * spread_mm / n_alone.sqrt()).hypot(self.slope * self.height_sigma_mm)
    }
}

/// Distance of a point of the wall to the uncut surface.
///
/// No scanner sees into a contact. Where the nearest surface ends at such a gap it is carried on as a plane for a little
/// way: to leave these points out would keep those nearest to what was seen, and read 0.05 to 0.08 mm too little.
fn distance_mm(point: &Point3<f64>, near: &Near) -> Option<f64> {
    const CARRIED_ON_MM: f64 = 1.0;
    if !near.on_border {
        return Some(near.signed_mm.abs());
    }
    let offset = point - near.point;
    let height_mm = offset.dot(&near.normal);
    let beside_mm = (offset - near.normal * height_mm).norm();
    (beside_mm < CARRIED_ON_MM).then_some(height_mm.abs())
}

/// A point of the cut surface.
struct WallPoint {
    place: Point3<f64>,
    /// Its section, and its place among the heights of its third.
    station: usize,
    step: usize,
    /// Distance between the heights, mm.
    step_mm: f64,
}

/// Points of the cut surface at even heights in one third of the wall's height: from the finish line to the occlusal line
/// angle, so that the gingival third holds the floor's rise and the fillet.
fn wall_points(place: usize, station: &Station, third: usize) -> Vec<WallPoint> {
    // More than the line angle is off in a section, less than any occlusal surface is wide.
    const PAST_TOP_MM: f64 = 0.3;
    let Some(top) = station.wall.as_ref().and_then(|wall| wall.top) else { return Vec::new() };
    let step_mm = top.y / (3 * HEIGHTS) as f64;
    let at_step = |step: usize| {
        let height_mm = ((third * HEIGHTS + step) as f64 + 0.5) * step_mm;
        // A rounded edge may end below this height; the section meets it again on the far side of the fossa.
        let on_wall = |point: &Point2<f64>| point.x < top.x + PAST_TOP_MM;
        let point = station.section.at_height(height_mm).filter(on_wall)?;
        Some(WallPoint { place: station.section.frame.solid(&point), station: place, step, step_mm })
    };
    (0..HEIGHTS).filter_map(at_step).collect()
}
