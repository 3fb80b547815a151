//! `neighbour.*.depth_mm` and `neighbour.*.area_mm2`: what the bur took from the adjacent teeth.
//!
//! Nothing below three times the scatter of the two scans on that very tooth is called damage (engineering choice: no
//! published floor), so the area is that of the surface lowered by more than this floor.

use nalgebra::Point3;

use super::NO_BEFORE;
use super::neighbour::{SIDES, Side};
use crate::outline::Outline;
use crate::preparation::Preparation;
use crate::region::regions;
use crate::sheet::{Sheet, expanded, number};
use crate::stats::robust_sigma;

/// Smallest damaged area that is told from scatter, mm².
const LEAST_DAMAGE_MM2: f64 = 0.08;

/// Depth and area on both sides.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    for side in SIDES {
        let ids = ["depth_mm", "area_mm2"].map(|what| format!("neighbour.{}.{what}", side.name));
        match Damage::on(preparation, &side) {
            Ok(damage) => damage.write(preparation, sheet, ids),
            Err(reason) => ids.into_iter().for_each(|id| sheet.refuse(id, reason)),
        }
    }
}

/// What was found on one adjacent tooth.
struct Damage {
    /// Standard deviation of the change on the tooth's untouched surface, mm.
    scatter_mm: f64,
    /// What is called damage at least, mm.
    floor_mm: f64,
    /// The damaged places, the deepest first.
    places: Vec<DamagedPlace>,
}

struct DamagedPlace {
    depth_mm: f64,
    deepest: u32,
    area_mm2: f64,
    /// Length of its edge, mm.
    edge_mm: f64,
}

impl Damage {
    fn on(preparation: &Preparation<'_>, side: &Side) -> Result<Self, &'static str> {
        let change = preparation.change.as_ref().ok_or(NO_BEFORE)?;
        let outline = Outline::new(&preparation.ring, &preparation.path);
        let after = preparation.scene.after;
        let belongs = |vertex: usize| {
            let point = &after.mesh.vertices[vertex];
            let place = preparation.frame.coordinates(point);
            let beside = place.x * side.sign > 0.0 && place.x.abs() < 16.0 && place.y.abs() < 9.0;
            if !beside || preparation.inside[vertex] {
                return false;
            }
            let (radius_mm, height_mm, edge) = outline.place(point);
            // Above the gingiva that a glove or an air jet may have moved.
            radius_mm > edge.0 + 0.15 && height_mm > edge.1 - 0.5
        };
        let scatter: Vec<f64> = (0..after.mesh.vertices.len())
            .filter(|&vertex| belongs(vertex))
            .map(|vertex| change.reduction_mm[vertex])
            .filter(|mm| mm.is_finite() && mm.abs() < 0.2)
            .collect();
        if scatter.len() < 100 {
            return Err("no adjacent tooth was scanned on this side before and after");
        }
        let scatter_mm = robust_sigma(&scatter).unwrap_or(0.0).max(0.002);
        let floor_mm = (3.0 * scatter_mm).max(0.02);
        let cut = |vertex: usize| {
            belongs(vertex)
                && change.reduction_mm[vertex] > floor_mm
                && faces_the_same_way(preparation, vertex)
        };
        let mut places: Vec<DamagedPlace> = regions(after, cut)
            .into_iter()
            .filter(|region| region.area_mm2 > LEAST_DAMAGE_MM2)
            .filter_map(|region| {
                let (depth_mm, deepest) = deepest_of(preparation, &region.inside)?;
                let edge_mm = edge_length_mm(preparation, &region.inside);
                Some(DamagedPlace { depth_mm, deepest, area_mm2: region.area_mm2, edge_mm })
            })
            .filter(|place| stood_out_before(preparation, place.deepest, place.depth_mm))
            .collect();
        places.sort_by(|a, b| b.depth_mm.total_cmp(&a.depth_mm).then(a.deepest.cmp(&b.deepest)));
        Ok(Self { scatter_mm, floor_mm, places })
    }

    fn write(&self, preparation: &Preparation<'_>, sheet: &mut Sheet, [depth_id, area_id]: [String; 2]) {
        let u95_mm = expanded(&[self.scatter_mm, preparation.pose_sigma_mm(), 0.008]);
        let area_mm2: f64 = self.places.iter().map(|place| place.area_mm2).sum();
        // The edge of a damaged place is known to about half a triangle.
        let edge_mm: f64 = self.places.iter().map(|place| place.edge_mm).sum();
        let area_u95_mm2 = expanded(&[0.25 * preparation.edge_mm * edge_mm, 0.5 * LEAST_DAMAGE_MM2]);
        let place = self.places.first().map(|place| preparation.place_of_vertex(place.deepest));
        let depth = number(self.places.first().map_or(0.0, |place| place.depth_mm), "mm", u95_mm);
        let area = number(area_mm2, "mm2", area_u95_mm2).with("places", self.places.len() as f64);
        for (id, reading) in [(depth_id, depth), (area_id, area)] {
            let reading = reading.with("floor", self.floor_mm).at(place.clone());
            sheet.write(
                id,
                if self.places.is_empty() {
                    reading.noted(format!(
                        "nothing beyond three times the scatter on this tooth ({:.0} um)",
                        1000.0 * self.floor_mm
                    ))
                } else {
                    reading
                },
            );
        }
    }
}

/// Length of the triangle edges that lead out of a region of vertices, each counted across: about its outline, mm.
fn edge_length_mm(preparation: &Preparation<'_>, inside: &[bool]) -> f64 {
    let mesh = &preparation.scene.after.mesh;
    let crossed = mesh.triangles.iter().filter(|corners| {
        let n = corners.iter().filter(|&&vertex| inside[vertex as usize]).count();
        n == 1 || n == 2
    });
    // A line across a triangle is about two thirds of its edge long.
    0.67 * preparation.edge_mm * crossed.count() as f64
}

/// Damage lowers a surface along its normal. Where the scans differ because a contact was bridged before, the nearest
/// uncut point lies to the side.
fn faces_the_same_way(preparation: &Preparation<'_>, vertex: usize) -> bool {
    const ALONG: f64 = 0.6;
    let Some(near) = preparation.change.as_ref().and_then(|change| change.near[vertex]) else { return false };
    let after = preparation.scene.after;
    let way = (near.point - after.mesh.vertices[vertex]).try_normalize(1e-9);
    let normal = after.vertex_normals[vertex];
    near.normal.dot(&normal) > ALONG && way.is_some_and(|way| way.dot(&normal) > ALONG)
}

/// Whether the before scan's own vertices there lie outside the after surface by about as much. In a crease between
/// tooth and gingiva two scans fill the corner differently, and only the chords between their vertices disagree.
fn stood_out_before(preparation: &Preparation<'_>, vertex: u32, depth_mm: f64) -> bool {
    const NEAR_MM: f64 = 0.3;
    let (Some(before), Some(change)) = (&preparation.scene.before, &preparation.change) else { return false };
    let Some(near) = change.near[vertex as usize] else { return false };
    let own = before.after_from_scan.inverse() * near.point;
    let mut vertices: Vec<u32> = before
        .surface
        .tree
        .triangles_near(&own, NEAR_MM)
        .into_iter()
        .flat_map(|triangle| before.surface.mesh.triangles[triangle as usize])
        .collect();
    vertices.sort_unstable();
    vertices.dedup();
    let points: Vec<Point3<f64>> = vertices.into_iter().map(|vertex| before.vertex(vertex)).collect();
    let after = crate::scene::Placed::in_place(preparation.scene.after);
    let most_mm =
        after.nearest(&points, 2.0).into_iter().flatten().map(|near| near.signed_mm).fold(0.0, f64::max);
    most_mm > 0.6 * depth_mm
}

fn deepest_of(preparation: &Preparation<'_>, inside: &[bool]) -> Option<(f64, u32)> {
    let change = preparation.change.as_ref()?;
    let value_at = |vertex: u32| Some(change.reduction_mm[vertex as usize]).filter(|mm| mm.is_finite());
    (0..inside.len() as u32)
        .filter(|&vertex| inside[vertex as usize])
        .filter_map(|vertex| Some((preparation.smooth_at(vertex, &value_at)?, vertex)))
        .max_by(|a, b| a.0.total_cmp(&b.0))
}
