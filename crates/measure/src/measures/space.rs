//! `space.*`: the room that the laboratory has for the restoration, in all and layer by layer.

use nalgebra::Point3;
use serde::Deserialize;

use crate::bite::OPPOSITE_MM;
use crate::crest::least_over_crests;
use crate::document::{Reading, Value};
use crate::frame::Aspect;
use crate::front::FrontZones;
use crate::preparation::Preparation;
use crate::scene::{Near, Placed};
use crate::sheet::{Sheet, expanded, number};
use crate::stats::weighted_quantile;
use crate::zones::{GROOVE_BAND_MM, OcclusalVertex, Zone};

/// Fewer vertices are no zone.
const LEAST_VERTICES: usize = 20;
/// The zones of the occlusal surface.
const OCCLUSAL: [&str; 3] = ["functional", "nonfunctional", "groove"];
/// So far the border between two of them is moved to see what hangs on it, mm, and what part of the change is one sigma: the
/// groove line is known to half as much (phantom scans).
const BORDER_MM: f64 = 0.1;
const BORDER_SHARE: f64 = 0.5;
const TOTAL: &str = "space.total_mm";
const NO_LIMIT: &str =
    "needs what limits the room: the scan before cutting (--before) or the opposing teeth (--opposing)";
/// The built-in layers.
const TABLE: &str = include_str!("../../data/material_layers.toml");

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    restoration: Vec<Restoration>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Restoration {
    name: String,
    layer: Vec<Layer>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Layer {
    id: String,
    name: String,
    least_mm: f64,
    anterior_mm: Option<f64>,
    #[serde(rename = "source")]
    _source: String,
}

/// The least thickness that a crown of the original contour can have, and what each layer of a stack is left of it.
///
/// The room at a prepared point is its distance to the uncut surface or to the opposing teeth, jaws closed, whichever
/// is nearer. Zones: functional, non-functional and groove of the occlusal surface (front teeth: incisal edge and
/// lingual fossa), and the upper two thirds of the facial and lingual wall; towards the finish line every crown runs
/// out, and in a contact no scan before cutting shows the uncut surface. A layer's room is the total less the least
/// thickness of the other layers of its stack (`data/material_layers.toml`).
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let table: Table = match toml::from_str(TABLE) {
        Ok(table) => table,
        Err(error) => {
            sheet.refuse(TOTAL, format!("the table of material layers cannot be read: {error}"));
            return;
        }
    };
    match Room::of(preparation) {
        Ok(room) => {
            sheet.write(TOTAL, room.total(preparation));
            for_each_layer(&table, preparation, |id, others_mm, least_mm, note| {
                sheet.write(id, room.layer(preparation, others_mm, least_mm).noted(note));
            });
        }
        Err(reason) => {
            sheet.refuse(TOTAL, reason.clone());
            for_each_layer(&table, preparation, |id, _, _, _| sheet.refuse(id, reason.clone()));
        }
    }
}

/// Each layer's id, what the others of its stack take, its own least thickness, and the two in words.
fn for_each_layer(
    table: &Table,
    preparation: &Preparation<'_>,
    mut told: impl FnMut(String, f64, f64, String),
) {
    let is_front = preparation.tooth.is_front();
    let least_mm = |layer: &Layer| layer.anterior_mm.filter(|_| is_front).unwrap_or(layer.least_mm);
    for restoration in &table.restoration {
        for layer in &restoration.layer {
            let others: Vec<&Layer> = restoration.layer.iter().filter(|other| other.id != layer.id).collect();
            let others_mm = others.iter().map(|other| least_mm(other)).sum();
            let beside: Vec<String> =
                others.iter().map(|other| format!("{} {:.1} mm", other.name, least_mm(other))).collect();
            let after =
                if beside.is_empty() { String::new() } else { format!(" after {}", beside.join(" and ")) };
            let note = format!("{} of a {}{after}", layer.name, restoration.name);
            told(format!("space.{}_mm", layer.id), others_mm, least_mm(layer), note);
        }
    }
}

/// The room in each zone.
struct Room {
    zones: Vec<ZoneRoom>,
    /// Index of the zone with the least.
    least: usize,
    limit: &'static str,
}

struct ZoneRoom {
    name: &'static str,
    least_mm: f64,
    at: u32,
    u95: f64,
    p05_mm: f64,
    median_mm: f64,
}

impl Room {
    fn of(preparation: &Preparation<'_>) -> Result<Self, String> {
        let opposing = preparation.scene.opposing.filter(|_| preparation.opposing_fault.is_none());
        let before = preparation.scene.before;
        let limit = match (&before, &opposing) {
            (None, None) => return Err(NO_LIMIT.into()),
            (None, Some(_)) => "limited by the opposing teeth alone, as there is no scan before cutting",
            (Some(_), None) => "limited by the uncut contour alone, as there are no opposing teeth",
            (Some(_), Some(_)) => "limited by the uncut contour or the opposing teeth, whichever is nearer",
        };
        let zones = zones(preparation, before.is_some());
        let mesh = &preparation.scene.after.mesh;
        let mut wanted = vec![false; mesh.vertices.len()];
        // The least is smoothed over two rings of neighbours, which may lie in the next zone.
        for vertex in zones.iter().flat_map(|zone| &zone.1) {
            wanted[vertex.vertex as usize] = true;
            for &near in preparation.scene.after.topology.vertex_neighbours(vertex.vertex) {
                wanted[near as usize] = true;
                let next = preparation.scene.after.topology.vertex_neighbours(near);
                next.iter().for_each(|&vertex| wanted[vertex as usize] = true);
            }
        }
        let chosen: Vec<u32> = (0..mesh.vertices.len() as u32).filter(|&v| wanted[v as usize]).collect();
        let mut room_mm = vec![f64::NAN; mesh.vertices.len()];
        if let Some(change) = &preparation.change {
            for &vertex in &chosen {
                let near = change.near[vertex as usize].filter(|near| !near.on_border);
                // What was cut lies inside the uncut surface: a sign that says otherwise is a folded triangle's.
                room_mm[vertex as usize] = near.map_or(f64::NAN, |near| near.signed_mm.abs());
            }
        }
        if let Some(opposing) = &opposing {
            // Of what meets the opposing teeth it is known already.
            let known = preparation.bite.iter().map(|vertex| vertex.vertex);
            let known: Vec<(u32, Option<Near>)> = known
                .zip(preparation.opposite.iter().copied())
                .filter(|pair| wanted[pair.0 as usize])
                .collect();
            known.iter().for_each(|pair| wanted[pair.0 as usize] = false);
            let others: Vec<u32> = chosen.into_iter().filter(|&vertex| wanted[vertex as usize]).collect();
            let points: Vec<Point3<f64>> =
                others.iter().map(|&other| mesh.vertices[other as usize]).collect();
            let found = others.into_iter().zip(opposing.nearest(&points, OPPOSITE_MM));
            for (vertex, near) in known.into_iter().chain(found) {
                if let Some(near) = near.filter(|near| !near.on_border) {
                    let room = &mut room_mm[vertex as usize];
                    *room = room.min(near.signed_mm);
                }
            }
        }
        let room_at = |points: &[Point3<f64>]| {
            let to = |scan: Option<Placed<'_>>| match scan {
                Some(scan) => scan.nearest(points, OPPOSITE_MM),
                None => vec![None; points.len()],
            };
            let mm = |near: Option<Near>| near.filter(|near| !near.on_border).map(|near| near.signed_mm);
            let pairs = to(before).into_iter().zip(to(opposing));
            pairs
                .map(|(uncut, opposing)| {
                    mm(uncut).map(f64::abs).into_iter().chain(mm(opposing)).reduce(f64::min)
                })
                .collect::<Vec<_>>()
        };
        // The least of many smoothed values follows the noise by about one of its sigmas.
        let pose_mm =
            if before.is_some() { preparation.pose_sigma_mm() } else { preparation.opposing_sigma_mm() };
        let u95 = |crest_mm: f64| expanded(&[pose_mm, 0.9 * preparation.noise_mm, 0.008, crest_mm]);
        let of = |(name, zone): &(&'static str, Vec<OcclusalVertex>)| {
            ZoneRoom::of(preparation, name, zone, &room_mm, &room_at, &u95)
        };
        let zones: Vec<ZoneRoom> = zones.iter().filter_map(of).collect();
        let least = (0..zones.len()).min_by(|&a, &b| zones[a].least_mm.total_cmp(&zones[b].least_mm));
        let least = least.ok_or("the prepared surface or what limits the room was not scanned")?;
        Ok(Self { zones, least, limit })
    }

    fn total(&self, preparation: &Preparation<'_>) -> Reading {
        let mut reading = self.layer(preparation, 0.0, f64::NAN).noted(self.limit);
        for zone in &self.zones {
            reading = reading
                .with(&format!("{}_p05", zone.name), zone.p05_mm)
                .with(&format!("{}_median", zone.name), zone.median_mm);
        }
        reading
    }

    /// What is left in each zone once `others_mm` are taken; negative where even those have no room.
    fn layer(&self, preparation: &Preparation<'_>, others_mm: f64, minimum_mm: f64) -> Reading {
        let least = &self.zones[self.least];
        let mut reading = number(least.least_mm - others_mm, "mm", least.u95)
            .with("minimum", minimum_mm)
            .at(Some(preparation.place_of_vertex(least.at)));
        reading.extras.insert("zone".into(), Value::Text(least.name.into()));
        for zone in &self.zones {
            reading = reading
                .with(zone.name, zone.least_mm - others_mm)
                .with(&format!("{}_u95", zone.name), zone.u95);
        }
        reading
    }
}

impl ZoneRoom {
    fn of(
        preparation: &Preparation<'_>,
        name: &'static str,
        vertices: &[OcclusalVertex],
        room_mm: &[f64],
        room_at: &(impl Fn(&[Point3<f64>]) -> Vec<Option<f64>> + Sync),
        u95: &impl Fn(f64) -> f64,
    ) -> Option<Self> {
        let value_at = |vertex: u32| Some(room_mm[vertex as usize]).filter(|value| value.is_finite());
        let pairs: Vec<(f64, f64)> =
            vertices.iter().filter_map(|vertex| Some((value_at(vertex.vertex)?, vertex.area_mm2))).collect();
        if pairs.len() < LEAST_VERTICES {
            return None;
        }
        let smooth: Vec<(f64, u32)> = vertices
            .iter()
            .filter_map(|vertex| Some((preparation.smooth_at(vertex.vertex, &value_at)?, vertex.vertex)))
            .collect();
        let &(smooth_mm, at) = smooth.iter().min_by(|a, b| a.0.total_cmp(&b.0))?;
        // Over a crest the triangles leave more room than there is, and faces fitted beside a sharp one, which bend, less: it
        // lies between the two, anywhere.
        let crest_mm = least_over_crests(preparation, &smooth, room_at)?.mm;
        let least_mm = 0.5 * (smooth_mm + crest_mm);
        let between_sigma_mm = (smooth_mm - crest_mm).abs() / 12f64.sqrt();
        // Where the least lies at a border towards the next zone, as much as it changes if that border moves.
        let off_border = |vertex: u32| border_mm(preparation, name, vertex) > BORDER_MM;
        let within = smooth.iter().filter(|near| off_border(near.1)).map(|near| near.0);
        let border_sigma_mm = within.min_by(f64::total_cmp).map_or(0.0, |mm| BORDER_SHARE * (mm - smooth_mm));
        let quantile = |share: f64| weighted_quantile(&pairs, share);
        Some(Self {
            name,
            least_mm,
            at,
            u95: u95(between_sigma_mm.hypot(border_sigma_mm)),
            p05_mm: quantile(0.05)?,
            median_mm: quantile(0.5)?,
        })
    }
}

/// How far a vertex of an occlusal zone lies from the border between groove and cusps; the other zones have none.
fn border_mm(preparation: &Preparation<'_>, zone: &str, vertex: u32) -> f64 {
    let groove = preparation.occlusal.groove.filter(|_| OCCLUSAL.contains(&zone));
    let place = preparation.frame.coordinates(&preparation.scene.after.mesh.vertices[vertex as usize]);
    groove.map_or(f64::MAX, |groove| (groove.facially_mm(&place).abs() - GROOVE_BAND_MM).abs())
}

/// The zones with their vertices. Against the opposing teeth alone walls have no limit.
fn zones(preparation: &Preparation<'_>, with_walls: bool) -> Vec<(&'static str, Vec<OcclusalVertex>)> {
    let mut zones = match preparation.functional_sign() {
        Some(sign) if preparation.occlusal.groove.is_some() => {
            let zone = |zone| preparation.occlusal.zone(zone, sign);
            let zones = [Zone::Functional, Zone::Nonfunctional, Zone::Groove];
            OCCLUSAL.into_iter().zip(zones.map(zone)).collect()
        }
        Some(_) => vec![("occlusal", preparation.occlusal.vertices.clone())],
        None => {
            let front = FrontZones::of(preparation);
            vec![("incisal", front.incisal), ("lingual_fossa", front.fossa)]
        }
    };
    if with_walls {
        let taken: std::collections::BTreeSet<u32> =
            zones.iter().flat_map(|zone| &zone.1).map(|vertex| vertex.vertex).collect();
        zones.extend(walls(preparation, &taken));
    }
    zones
}

/// The upper two thirds of the facial and the lingual wall, in the middle of the aspect.
fn walls(
    preparation: &Preparation<'_>,
    taken: &std::collections::BTreeSet<u32>,
) -> [(&'static str, Vec<OcclusalVertex>); 2] {
    let mesh = &preparation.scene.after.mesh;
    [Aspect::Facial, Aspect::Lingual].map(|aspect| {
        let mut heights: Vec<(f64, f64)> = Vec::new();
        for station in preparation.stations.iter().filter(|s| aspect.holds_in_middle(s.angle_deg)) {
            if let Some(top) = station.wall.as_ref().and_then(|wall| wall.rounded_top) {
                heights.push(((station.edge() - preparation.frame.origin).dot(&preparation.path), top.y));
            }
        }
        let median = |pick: fn(&(f64, f64)) -> f64| {
            crate::stats::median(&heights.iter().map(pick).collect::<Vec<_>>())
        };
        let (Some(edge_mm), Some(wall_mm)) = (median(|pair| pair.0), median(|pair| pair.1)) else {
            return (aspect.id(), Vec::new());
        };
        let chosen = (0..mesh.vertices.len() as u32).filter(|&vertex| {
            let point = &mesh.vertices[vertex as usize];
            let height_mm = (point - preparation.frame.origin).dot(&preparation.path) - edge_mm;
            preparation.inside[vertex as usize]
                && !taken.contains(&vertex)
                && (wall_mm / 3.0..=wall_mm).contains(&height_mm)
                && aspect.holds_in_middle(preparation.frame.angle_deg(point))
                && is_wall(preparation, vertex)
        });
        let vertices = chosen.map(|vertex| OcclusalVertex {
            vertex,
            place: preparation.frame.coordinates(&mesh.vertices[vertex as usize]),
            area_mm2: preparation.vertex_area_mm2[vertex as usize],
        });
        (aspect.id(), vertices.collect())
    })
}

/// Steeper than 60°: on deep preparations the occlusal surface dips below the top of a wall.
fn is_wall(preparation: &Preparation<'_>, vertex: u32) -> bool {
    let normal = crate::region::pooled_normal(preparation.scene.after, vertex);
    normal.dot(&preparation.path) < 0.5 * normal.norm()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_reads_and_its_ids_are_unique_and_lie_between_thin_and_thick() {
        let table: Table = toml::from_str(TABLE).unwrap();
        let layers: Vec<&Layer> = table.restoration.iter().flat_map(|one| &one.layer).collect();
        let mut ids: Vec<&str> = layers.iter().map(|layer| layer.id.as_str()).collect();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), layers.len());
        assert!(layers.iter().all(|layer| (0.1..=2.0).contains(&layer.least_mm) && layer._source.len() > 10));
        // The sum that explains the 1.2 mm of facial reduction taught for noble alloys.
        let metal_ceramic: f64 = table.restoration[0].layer.iter().map(|layer| layer.least_mm).sum();
        assert!((metal_ceramic - 1.2).abs() < 1e-9);
    }
}
