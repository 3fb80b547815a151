//! `edge.sharp_pct`, `edge.least_radius_mm`, `edge.where`: how round the occlusal line angles are.

use nalgebra::{Point2, Point3, Vector2, Vector3};
use rayon::prelude::*;
use serde::Deserialize;

use super::by_station::ByStation;
use crate::corner::{Corner, Face};
use crate::preparation::Preparation;
use crate::sheet::{Sheet, number, text};
use crate::station::Station;
use crate::stats::median;

const IDS: [&str; 3] = ["edge.sharp_pct", "edge.least_radius_mm", "edge.where"];
/// The built-in table.
const TABLE: &str = include_str!("../../data/edges.toml");
/// Half the stretch whose vertices are pooled, mm.
const POOL_MM: f64 = 0.45;
/// Half the stretch over which a radius must hold to count, mm.
const HOLD_MM: f64 = 0.6;
/// How far from the line angle both faces are looked at, mm.
const REACH_MM: f64 = 0.8;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    target_radius_mm: f64,
}

/// Radius of the line angle over a station.
#[derive(Debug, Clone, Copy)]
struct Edge {
    radius_mm: f64,
    sigma_mm: f64,
    /// How well a radius shows there, see [`Corner::gap_share`].
    gap_share: f64,
}

/// A corner that turns by less than 44° shows little of its radius, and known to worse than this, mm (1 sigma), none.
const LEAST_GAP_SHARE: f64 = 0.08;
const MOST_SIGMA_MM: f64 = 0.5;

/// Radius along the line angles between axial walls and occlusal surface.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let target_mm = match toml::from_str::<Table>(TABLE) {
        Ok(table) => table.target_radius_mm,
        Err(error) => {
            let reason = format!("the table of edges cannot be read: {error}");
            IDS.iter().for_each(|&id| sheet.refuse(id, reason.clone()));
            return;
        }
    };
    let edges = held(preparation, &edges(preparation));
    let known: Vec<(usize, Edge)> =
        edges.iter().enumerate().filter_map(|(place, edge)| Some((place, (*edge)?))).collect();
    if 2 * known.len() < edges.len() || known.is_empty() {
        let reason = "the line angle between wall and occlusal surface shows on less than half of the tooth";
        IDS.iter().for_each(|&id| sheet.refuse(id, reason));
        return;
    }
    write(preparation, sheet, &known, target_mm);
}

fn write(preparation: &Preparation<'_>, sheet: &mut Sheet, known: &[(usize, Edge)], target_mm: f64) {
    let share = |limit: &dyn Fn(&Edge) -> f64| {
        let sharp = known.iter().filter(|(_, edge)| edge.radius_mm < limit(edge)).count();
        100.0 * sharp as f64 / known.len() as f64
    };
    let value = share(&|_| target_mm);
    let (surely, perhaps) =
        (share(&|edge| target_mm - 2.0 * edge.sigma_mm), share(&|edge| target_mm + 2.0 * edge.sigma_mm));
    // A share counted over some tens of independent stretches wavers by one of them.
    let one_pct = 100.0 * 2.0 * HOLD_MM / preparation.ring.length_mm();
    let u95 = (value - surely).max(perhaps - value).max(one_pct);
    let radii: Vec<f64> = known.iter().map(|(_, edge)| edge.radius_mm).collect();
    let reading = number(value, "pct", u95)
        .with("target_mm", target_mm)
        .with("surely", surely)
        .with("perhaps", perhaps)
        .noted("share of the line angles around the walls' top that are sharper than the target radius");
    sheet.write(IDS[0], reading);
    // A corner so blunt that its radius may be anything must not pass for the sharpest edge of the tooth while others are known.
    let is_vague = |edge: &Edge| edge.gap_share < LEAST_GAP_SHARE && edge.sigma_mm > MOST_SIGMA_MM;
    let order = |edge: &Edge| (is_vague(edge), edge.radius_mm);
    let least = known.iter().min_by(|a, b| {
        let (a, b) = (order(&a.1), order(&b.1));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    let Some(&(place, edge)) = least else { return };
    let at = top_place(preparation, place);
    let mut least = number(edge.radius_mm, "mm", 2.0 * edge.sigma_mm)
        .with("median", median(&radii).unwrap_or(f64::NAN))
        .at(at.clone());
    if edge.radius_mm < preparation.edge_mm {
        least = least.noted(format!(
            "a scan with edges of {:.2} mm cannot tell an edge as sharp as this from a knife's",
            preparation.edge_mm
        ));
    }
    sheet.write(IDS[1], least);
    sheet.write(IDS[2], text(at.as_ref().map_or("unknown", |at| &at.aspect)).at(at.clone()));
}

fn top_place(preparation: &Preparation<'_>, place: usize) -> Option<crate::document::Place> {
    let station = &preparation.stations[place];
    let top = station.wall.as_ref()?.rounded_top?;
    Some(preparation.place_of(&station.section.frame.solid(&top)))
}

fn edges(preparation: &Preparation<'_>) -> Vec<Option<Edge>> {
    let vertices = ByStation::new(preparation);
    let spacing_mm = preparation.ring.length_mm() / preparation.stations.len().max(1) as f64;
    let reach = (POOL_MM / spacing_mm).round() as usize;
    let mesh = &preparation.scene.after.mesh;
    let of = |(place, station): (usize, &Station)| {
        let view = View::of(preparation, place, 2 * reach)?;
        let near = vertices.pooled(place, reach);
        let points: Vec<Point2<f64>> =
            near.map(|near| view.flat(&mesh.vertices[near.vertex as usize])).collect();
        edge(station, &view, &points, preparation.noise_mm, preparation.edge_mm)
    };
    preparation.stations.par_iter().enumerate().map(of).collect()
}

/// The view along the line angle, the line angle itself in the origin.
struct View {
    top: Point3<f64>,
    inward: Vector3<f64>,
    up: Vector3<f64>,
}

impl View {
    /// Along the line through the line angles of the stations around: it need not run parallel to the finish line.
    fn of(preparation: &Preparation<'_>, place: usize, reach: usize) -> Option<Self> {
        let stations = &preparation.stations;
        let n = stations.len();
        let top = |station: &Station| Some(station.section.frame.solid(&station.wall.as_ref()?.rounded_top?));
        let own = top(&stations[place])?;
        let frame = &stations[place].section.frame;
        let sideways = frame.inward.cross(&frame.up);
        // Inward and up by the way along, robustly: one station's stray corner must not turn the view.
        let slope = |axis: &Vector3<f64>| {
            let slopes: Vec<f64> = (1..=reach.min(n / 2 - 1))
                .filter_map(|step| {
                    let across =
                        top(&stations[(place + step) % n])? - top(&stations[(place + n - step) % n])?;
                    let along_mm = across.dot(&sideways);
                    (along_mm.abs() > 0.1).then(|| across.dot(axis) / along_mm)
                })
                .collect();
            median(&slopes)
        };
        let along =
            (sideways + frame.inward * slope(&frame.inward)? + frame.up * slope(&frame.up)?).normalize();
        let inward = (frame.inward - along * frame.inward.dot(&along)).normalize();
        Some(Self {
            top: own,
            inward,
            up: along.cross(&inward) * along.cross(&inward).dot(&frame.up).signum(),
        })
    }

    fn flat(&self, point: &Point3<f64>) -> Point2<f64> {
        let at = point - self.top;
        Point2::new(at.dot(&self.inward), at.dot(&self.up))
    }
}

fn edge(station: &Station, view: &View, points: &[Point2<f64>], noise_mm: f64, edge_mm: f64) -> Option<Edge> {
    let faces = faces(station, view)?;
    let near: Vec<Point2<f64>> = points
        .iter()
        .filter(|point| point.coords.norm() < REACH_MM)
        .filter(|point| faces.iter().any(|face| face.distance_mm(point).abs() < 0.15))
        .copied()
        .collect();
    let corner = Corner::fit(&near, faces, noise_mm)?;
    // Not far from where the faces were seen to meet, and still a corner.
    corner.apex().filter(|apex| apex.coords.norm() < 0.5)?;
    let radius_mm = corner.radius_mm;
    let sigma_mm = corner.radius_sigma_mm(edge_mm).hypot(0.05 * radius_mm);
    Some(Edge { radius_mm, sigma_mm, gap_share: corner.gap_share() })
}

/// Wall and occlusal surface on both sides of the line angle, hollow side inside the tooth.
fn faces(station: &Station, view: &View) -> Option<[Face; 2]> {
    let section = &station.section;
    let points: Vec<Point2<f64>> =
        section.points.iter().map(|point| view.flat(&section.frame.solid(point))).collect();
    let nearest = (0..points.len())
        .filter(|&k| section.arc_mm[k] > 0.0)
        .min_by(|&a, &b| points[a].coords.norm().total_cmp(&points[b].coords.norm()))?;
    let at_mm = section.arc_mm[nearest];
    let line = |from_mm: f64, to_mm: f64| {
        let range = at_mm + from_mm..=at_mm + to_mm;
        let own = points.iter().zip(&section.arc_mm).filter(|(_, arc_mm)| range.contains(*arc_mm));
        let own: Vec<Point2<f64>> = own.map(|(point, _)| *point).collect();
        kerfwright_geometry::fit::line2(&own).filter(|_| own.len() >= 4)
    };
    let (below, above) = (line(-REACH_MM, -0.25)?, line(0.25, REACH_MM)?);
    let inside = Vector2::new(1.0, -1.0);
    Some([
        Face::through(&below.point, &below.direction, &inside),
        Face::through(&above.point, &above.direction, &inside),
    ])
}

/// The median over the stretch around each station, so that one station does not make a sharp edge.
fn held(preparation: &Preparation<'_>, edges: &[Option<Edge>]) -> Vec<Option<Edge>> {
    let n = edges.len();
    let spacing_mm = preparation.ring.length_mm() / n.max(1) as f64;
    let half = ((HOLD_MM / spacing_mm).round() as usize).min(n.saturating_sub(1) / 2);
    (0..n)
        .map(|place| {
            let near: Vec<Edge> =
                (0..=2 * half).filter_map(|step| edges[(place + n + step - half) % n]).collect();
            if near.len() <= half {
                return None;
            }
            let of = |pick: fn(&Edge) -> f64| median(&near.iter().map(pick).collect::<Vec<_>>());
            Some(Edge {
                radius_mm: of(|edge| edge.radius_mm)?,
                sigma_mm: of(|edge| edge.sigma_mm)?,
                gap_share: of(|edge| edge.gap_share)?,
            })
        })
        .collect()
}
