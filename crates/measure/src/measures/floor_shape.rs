//! `finish_line.internal_radius` and `finish_line.lip`: the shape of the floor between edge and wall.

use nalgebra::{Point2, Vector2};
use rayon::prelude::*;

use super::by_station::ByStation;
use super::finish_line::floor_form;
use super::kind::Table;
use crate::corner::{Corner, Face, WallArc};
use crate::document::Reading;
use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number, text};
use crate::station::Station;
use crate::stats::median;

const LIP_IDS: [&str; 2] = ["finish_line.lip_mm", "finish_line.lip_where"];
/// Half the stretch whose vertices are pooled, mm.
const POOL_MM: f64 = 0.8;
/// The same for a round floor, whose radius shows in how little it bulges.
const ARC_POOL_MM: f64 = 1.0;
/// Next to the edge the mesh cuts the corner, mm.
const CHOPPED_MM: f64 = 0.09;
/// Where between the rim that a scan shows and the one to which the floor's arc is carried on the true one lies, as a share
/// of the way (from round dies with lips in closed form, and phantom scans).
const CARRIED_SHARE: f64 = 1.0 / 3.0;
/// How much wall above the fillet holds the fit, mm.
const WALL_MM: f64 = 0.8;
/// What is uncertain about the path, degrees: it tips the rim against the deepest part of the floor.
const PATH_SIGMA_DEG: f64 = 0.35;
/// A lip stands out when it exceeds its own standard uncertainty by this.
const BEYOND_SIGMAS: f64 = 3.0;

/// The floor of one station.
#[derive(Debug, Clone, Copy)]
struct Shape {
    radius_mm: f64,
    radius_sigma_mm: f64,
    /// How steeply the floor rises towards the edge, degrees; 0 if it does not.
    rise_deg: f64,
    is_arc: bool,
    lip_mm: f64,
    lip_sigma_mm: f64,
}

/// Radius between floor and wall, and height of a rim that stands out over the floor.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let shapes = shapes(preparation);
    for aspect in Aspect::ALL {
        internal_radius(preparation, sheet, aspect, &shapes);
    }
    match Table::read() {
        Ok(table) => lip(preparation, sheet, &shapes, table.lip_rise_from_deg),
        Err(reason) => LIP_IDS.iter().for_each(|&id| sheet.refuse(id, reason.clone())),
    }
}

fn shapes(preparation: &Preparation<'_>) -> Vec<Option<Shape>> {
    let vertices = ByStation::new(preparation);
    let spacing_mm = preparation.ring.length_mm() / preparation.stations.len().max(1) as f64;
    let of = |(place, station): (usize, &Station)| {
        let pool_mm = if station.floor_is_arc == Some(true) { ARC_POOL_MM } else { POOL_MM };
        let reach = (pool_mm / spacing_mm).round() as usize;
        let points: Vec<Point2<f64>> = vertices.pooled(place, reach).map(|near| near.flat).collect();
        shape(station, &points, preparation.noise_mm, preparation.edge_mm)
    };
    preparation.stations.par_iter().enumerate().map(of).collect()
}

/// Fits the floor of a station to the vertices near its section.
fn shape(station: &Station, points: &[Point2<f64>], noise_mm: f64, edge_mm: f64) -> Option<Shape> {
    // Next to the edge, which is known to a hundredth or two, a vertex may belong to the uncut surface.
    const CLEAR_MM: f64 = 0.06;
    /// So near to the edge the rim's highest vertex lies.
    const RIM_MM: f64 = 0.2;
    let wall = station.wall.as_ref()?;
    let foot = station.section.at_arc(wall.fitted_mm[0])?;
    let face = wall.face();
    let own: Vec<Point2<f64>> = points
        .iter()
        .filter(|point| point.x > CLEAR_MM && point.y < foot.y + WALL_MM && face.distance_mm(point) > -0.15)
        .copied()
        .collect();
    if let Some(true) = station.floor_is_arc {
        let at_rim = points.iter().filter(|point| point.x < RIM_MM && point.y.abs() < RIM_MM);
        let rim_mm = at_rim.map(|point| point.y).fold(f64::NEG_INFINITY, f64::max);
        let arc = WallArc::fit(&own, &face, &wall.line.direction, noise_mm)?;
        return Some(Shape::of_arc(&arc, own.len(), station.rim(&arc), rim_mm));
    }
    let declination = station.declination_deg?.to_radians();
    let along = Vector2::new(declination.cos(), declination.sin());
    let floor = Face::through(&Point2::origin(), &along, &Vector2::new(-0.5, 1.0));
    let corner = Corner::fit(&own, [floor, face], noise_mm)?;
    Shape::of_corner(&corner, own.len(), edge_mm)
}

impl Shape {
    /// `rim` is where the arc meets the uncut surface, `highest_mm` the height of the highest vertex of the rim.
    fn of_arc(arc: &WallArc, n: usize, rim: Option<Point2<f64>>, highest_mm: f64) -> Self {
        let (radius_mm, inside_mm) = (arc.radius_mm, arc.centre.x.max(0.0));
        // Check: lip height r − √(r² − (c − r)²) where the width c exceeds the radius r (chamfer rule).
        let by_centre_mm = radius_mm - (radius_mm * radius_mm - inside_mm.min(radius_mm).powi(2)).sqrt();
        // The same from the arc's bottom up to the edge that was found, and up to the highest vertex of the rim: a steep
        // rim makes the first uncertain, a wavering edge the second, a chopped rim the third.
        let bottom_mm = arc.centre.y - radius_mm;
        let seen_mm = median(&[by_centre_mm, -bottom_mm, highest_mm - bottom_mm]).unwrap_or(0.0).max(0.0);
        // A scan chops what is steep, by no more than the arc rises there; what is carried on runs ahead with every error of the
        // arc: the rim lies between.
        let chopped_mm = CHOPPED_MM * inside_mm / (radius_mm - seen_mm).max(0.4 * radius_mm);
        let carried_mm = rim.map_or(seen_mm, |rim| rim.y - bottom_mm).clamp(seen_mm, seen_mm + chopped_mm);
        let lip_mm = if inside_mm > 0.0 { seen_mm + CARRIED_SHARE * (carried_mm - seen_mm) } else { 0.0 };
        let between_mm = (carried_mm - seen_mm) / 12f64.sqrt();
        let fit_mm = arc.rms_mm * 2.0 / (n as f64).sqrt();
        let tip_mm = inside_mm * PATH_SIGMA_DEG.to_radians();
        // The edge is known to a third of what is chopped.
        let steep_mm = chopped_mm / 3.0;
        Self {
            radius_mm,
            // An arc is told from a flatter one by how far it bulges: the longer the radius the less.
            radius_sigma_mm: 0.03 * radius_mm,
            rise_deg: (inside_mm / radius_mm).min(1.0).asin().to_degrees(),
            is_arc: true,
            lip_mm,
            lip_sigma_mm: 0.5 * expanded(&[fit_mm, tip_mm, steep_mm, between_mm, 0.002]),
        }
    }

    fn of_corner(corner: &Corner, n: usize, edge_mm: f64) -> Option<Self> {
        let floor = corner.faces[0];
        let apex = corner.apex()?;
        // The bottom of the fillet lies under its middle; where the floor rises inward the edge itself is lowest.
        let slope = -floor.normal.x / floor.normal.y;
        let at_edge_mm = floor.offset_mm / floor.normal.y;
        let [a, b] = corner.faces;
        let middle = Corner {
            faces: [
                Face { offset_mm: a.offset_mm + corner.radius_mm, ..a },
                Face { offset_mm: b.offset_mm + corner.radius_mm, ..b },
            ],
            ..*corner
        }
        .apex()?;
        let lip_mm = if slope < 0.0 { (at_edge_mm - middle.y + corner.radius_mm).max(0.0) } else { 0.0 };
        let length_mm = (apex.x - corner.tangent_mm()).clamp(0.1, 3.0);
        let fit_rad = corner.rms_mm * (12.0 / (0.5 * n as f64)).sqrt() / length_mm;
        let sigma_mm = apex.x * fit_rad.hypot(PATH_SIGMA_DEG.to_radians());
        Some(Self {
            radius_mm: corner.radius_mm,
            radius_sigma_mm: corner.radius_sigma_mm(edge_mm),
            rise_deg: (-slope).max(0.0).atan().to_degrees(),
            is_arc: false,
            lip_mm,
            lip_sigma_mm: sigma_mm.hypot(0.003),
        })
    }
}

fn internal_radius(
    preparation: &Preparation<'_>,
    sheet: &mut Sheet,
    aspect: Aspect,
    shapes: &[Option<Shape>],
) {
    let id = format!("finish_line.internal_radius.{}_mm", aspect.id());
    let is_arc = floor_form(preparation, aspect);
    let in_middle = |place: &usize| aspect.holds_in_middle(preparation.stations[*place].angle_deg);
    let places: Vec<usize> = (0..shapes.len())
        .filter(in_middle)
        .filter(|&place| shapes[place].is_some_and(|shape| shape.is_arc == is_arc))
        .collect();
    let radii: Vec<f64> = places.iter().filter_map(|&place| Some(shapes[place]?.radius_mm)).collect();
    if radii.len() < 4 {
        sheet.refuse(id, "the floor or the wall above it is too narrow here to fit the corner between them");
        return;
    }
    let value = median(&radii).unwrap_or(f64::NAN);
    // Stations half a pool apart share half their vertices.
    let spacing_mm = preparation.ring.length_mm() / preparation.stations.len() as f64;
    let n = (radii.len() as f64 * spacing_mm / POOL_MM).max(1.0);
    let scatter_mm = 1.2533 * crate::stats::robust_sigma(&radii).unwrap_or(0.0) / n.sqrt();
    let edge_mm = preparation.edge_mm;
    let sigmas: Vec<f64> = places.iter().filter_map(|&place| Some(shapes[place]?.radius_sigma_mm)).collect();
    let own_mm = median(&sigmas).unwrap_or(f64::NAN);
    let place = preparation.place_of_station(places[places.len() / 2]);
    let mut reading = number(value, "mm", expanded(&[scatter_mm, own_mm, 0.01]))
        .with("least", radii.iter().copied().fold(f64::INFINITY, f64::min))
        .with("greatest", radii.iter().copied().fold(f64::NEG_INFINITY, f64::max))
        .at(Some(place));
    if is_arc {
        reading = reading.noted("the floor is one arc from the edge to the wall: this is its radius");
    } else if value < edge_mm {
        reading = reading.noted(format!(
            "a scan with edges of {edge_mm:.2} mm cannot tell a corner as tight as this from a sharp one"
        ));
    }
    sheet.write(id, reading);
}

fn lip(preparation: &Preparation<'_>, sheet: &mut Sheet, shapes: &[Option<Shape>], rise_from_deg: f64) {
    // So long a rim holds together, stations to each side.
    const HALF: usize = 5;
    let n = shapes.len();
    let known = shapes.iter().flatten().count();
    if known < n / 2 || n < 4 * HALF {
        LIP_IDS.iter().for_each(|&id| {
            sheet.refuse(id, "the floor shows too little to look for a lip: too narrow, or no wall was found")
        });
        return;
    }
    let near_middle = |place: usize, of: &dyn Fn(usize) -> Option<f64>| {
        let near: Vec<f64> = (0..=2 * HALF).filter_map(|step| of((place + n + step - HALF) % n)).collect();
        if near.len() > HALF { median(&near) } else { None }
    };
    let middle = |place: usize, of: &dyn Fn(&Shape) -> f64| {
        near_middle(place, &|other| shapes[other].as_ref().map(of))
    };
    // A rim that explains the floor as well as a flat one with a wide fillet does is not ruled out.
    let possible = (0..n).filter_map(|place| {
        let other_mm = near_middle(place, &|other| preparation.stations[other].other_lip_mm())?;
        Some((other_mm, place))
    });
    let possible = possible.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 0));
    let found = (0..n).filter_map(|place| {
        // A floor that falls inward a little is a slope and no rim: it supports its edge.
        let lip_mm = middle(place, &|shape| if shape.rise_deg < rise_from_deg { 0.0 } else { shape.lip_mm })?;
        Some((lip_mm, middle(place, &|shape| shape.lip_sigma_mm)?, place))
    });
    let found: Vec<(f64, f64, usize)> = found.collect();
    let standing: Vec<&(f64, f64, usize)> =
        found.iter().filter(|(lip_mm, sigma_mm, _)| *lip_mm > BEYOND_SIGMAS * sigma_mm).collect();
    let usual_mm = median(&found.iter().map(|found| found.1).collect::<Vec<_>>()).unwrap_or(f64::NAN);
    match standing.iter().max_by(|a, b| a.0.total_cmp(&b.0)) {
        Some(&&(lip_mm, sigma_mm, place)) => {
            let at = preparation.place_of_station(place);
            let share = 100.0 * standing.len() as f64 / n as f64;
            sheet.write(LIP_IDS[1], text(at.aspect.clone()).at(Some(at.clone())));
            // The rim that may stand is known no better than the one that was found.
            let above_mm = (possible.0 - lip_mm).max(0.0);
            let u95 = 2.0 * sigma_mm + above_mm;
            let reading = number(lip_mm, "mm", u95).with("around_pct", share).at(Some(at));
            sheet.write(LIP_IDS[0], not_ruled_out(preparation, reading, possible, above_mm > 2.0 * sigma_mm));
        }
        None => {
            sheet.write(LIP_IDS[1], text("none"));
            let noise_mm = BEYOND_SIGMAS * usual_mm;
            let is_open = possible.0 > noise_mm;
            let reading = number(0.0, "mm", if is_open { possible.0 + noise_mm } else { noise_mm });
            let reading = not_ruled_out(preparation, reading, possible, is_open);
            let note = "no rim stands out over the floor beyond the noise";
            sheet.write(LIP_IDS[0], if is_open { reading } else { reading.noted(note) });
        }
    }
}

/// Says of a reading that a higher lip may stand at a place, if so.
fn not_ruled_out(
    preparation: &Preparation<'_>,
    reading: Reading,
    (lip_mm, place): (f64, usize),
    is_open: bool,
) -> Reading {
    if !is_open {
        return reading;
    }
    let at = preparation.place_of_station(place);
    reading.with("possible", lip_mm).noted(format!(
        "at {:.0} deg, {}, a flat floor with a wide fillet and a rim of {lip_mm:.2} mm explain the scan alike: look at the \
         rim, or scan it finer",
        at.angle_deg, at.aspect
    ))
}
