//! `neighbour.*.depth_mm` and `neighbour.*.area_mm2`: what the bur took from the adjacent teeth.
//!
//! Nothing below three times the scatter of the two scans on that very tooth is called damage (engineering choice: no
//! published floor), so the area is that of the surface lowered by more than this floor.
//!
//! Only where an instrument that cuts the prepared tooth can reach: up to 4 mm beside its finish line, on surface that
//! does not face away from it. And only where the two scans can be compared: beside a crease of the before scan (tooth
//! against gingiva, the bridged contact, a deep groove) scanners round off and fill in as their triangles happen to lie, by far
//! more than the scatter on free surface. What lies wholly beside a crease counts if the scan after cutting alone shows the dent.

use nalgebra::Point3;

use super::NO_BEFORE;
use super::neighbour::{SIDES, Side};
use crate::dent::dent;
use crate::outline::Outline;
use crate::preparation::Preparation;
use crate::region::{Region, pooled_normal, regions, vertices_near};
use crate::sheet::{Sheet, expanded, number};
use crate::stats::robust_sigma;

/// Smallest damaged area that is told from scatter, mm².
const LEAST_DAMAGE_MM2: f64 = 0.08;

/// How far beside the finish line an instrument damages the adjacent tooth, mm: twice the diameter of a thick one.
const REACH_MM: f64 = 4.0;
/// Within this distance of a crease in the before scan two scans cannot be compared, mm. Under 0.2 mm scans of the phantoms
/// with smoothed edges still differ there by up to 0.2 mm; from 0.3 mm on real nicks under a contact are lost.
const CREASE_MM: f64 = 0.25;
/// Cosine of 120°: what faces the prepared tooth looks against the direction from it by more.
const TOWARD: f64 = -0.5;
/// Vertices of a damaged place that must be clear of creases.
const LEAST_FREE: usize = 4;
/// A surface that turns inward by more than this within that distance is a crease: a crown's sides turn outward by 5° to 15°.
const CREASE_DEG: f64 = 30.0;

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
    /// How much of the surface that faces the prepared tooth shows in both scans, percent.
    compared_pct: f64,
    /// The damaged places, the deepest first.
    places: Vec<DamagedPlace>,
}

struct DamagedPlace {
    depth_mm: f64,
    deepest: u32,
    area_mm2: f64,
    /// How much of that lies beside a crease of the before scan, mm².
    creased_mm2: f64,
    /// Length of its edge, mm.
    edge_mm: f64,
}

impl DamagedPlace {
    /// `None` if all or nearly all of it lies beside a crease and the scan after cutting shows no dent there. The depth is
    /// read off what lies clear of creases and what borders on it, if there is enough of that.
    fn of(preparation: &Preparation<'_>, region: &Region) -> Option<Self> {
        let is_free = |vertex: usize| region.inside[vertex] && !is_beside_a_crease(preparation, vertex);
        let free: Vec<bool> = (0..region.inside.len()).map(is_free).collect();
        let area_mm2 = |vertex: usize| preparation.vertex_area_mm2[vertex];
        let n_free = free.iter().filter(|&&free| free).count();
        let free_mm2: f64 = (0..free.len()).filter(|&vertex| free[vertex]).map(area_mm2).sum();
        let topology = &preparation.scene.after.topology;
        let borders = |vertex: usize| {
            let mut near = topology.vertex_neighbours(vertex as u32).iter();
            region.inside[vertex] && (free[vertex] || near.any(|&other| free[other as usize]))
        };
        let clear: Vec<bool> =
            if n_free >= LEAST_FREE { (0..free.len()).map(borders).collect() } else { region.inside.clone() };
        let (depth_mm, deepest) = deepest_of(preparation, &clear)?;
        (n_free >= LEAST_FREE || is_dented(preparation, &region.inside, depth_mm)).then(|| Self {
            depth_mm,
            deepest,
            area_mm2: region.area_mm2,
            creased_mm2: region.area_mm2 - free_mm2,
            edge_mm: edge_length_mm(preparation, &region.inside),
        })
    }
}

/// Whether the scan after cutting alone shows most of the depth, as a dent in the surface around. A crease that two scans
/// fill differently leaves none: there the scan before cutting is the one that bulges.
fn is_dented(preparation: &Preparation<'_>, inside: &[bool], depth_mm: f64) -> bool {
    const SHARE: f64 = 0.5;
    const OVER_SCATTER: f64 = 3.0;
    dent(preparation.scene.after, inside)
        .is_some_and(|dent| dent.depth_mm > SHARE * depth_mm && dent.depth_mm > OVER_SCATTER * dent.rms_mm)
}

impl Damage {
    fn on(preparation: &Preparation<'_>, side: &Side) -> Result<Self, &'static str> {
        let change = preparation.change.as_ref().ok_or(NO_BEFORE)?;
        let outline = Outline::new(&preparation.ring, &preparation.path);
        let after = preparation.scene.after;
        let is_own = |vertex: usize| {
            let point = &after.mesh.vertices[vertex];
            let place = preparation.frame.coordinates(point);
            let beside = place.x * side.sign > 0.0 && place.x.abs() < 16.0 && place.y.abs() < 9.0;
            if !beside || preparation.inside[vertex] {
                return false;
            }
            let (radius_mm, height_mm, edge) = outline.place(point);
            // Above the gingiva that a glove or an air jet may have moved.
            (0.15..REACH_MM).contains(&(radius_mm - edge.0)) && height_mm > edge.1 - 0.5
        };
        let own: Vec<usize> = (0..after.mesh.vertices.len()).filter(|&vertex| is_own(vertex)).collect();
        let scatter: Vec<f64> = own
            .iter()
            .map(|&vertex| change.reduction_mm[vertex])
            .filter(|mm| mm.is_finite() && mm.abs() < 0.2)
            .collect();
        if scatter.len() < 100 {
            return Err("no adjacent tooth was scanned on this side before and after");
        }
        let scatter_mm = robust_sigma(&scatter).unwrap_or(0.0).max(0.002);
        let floor_mm = (3.0 * scatter_mm).max(0.02);
        let is_lowered =
            |vertex: usize| change.reduction_mm[vertex] > floor_mm && faces_the_same_way(preparation, vertex);
        let mut cut = vec![false; after.mesh.vertices.len()];
        for &vertex in &own {
            cut[vertex] = is_lowered(vertex) && !faces_away(preparation, vertex);
        }
        let mut places: Vec<DamagedPlace> = regions(after, |vertex| cut[vertex])
            .into_iter()
            .filter(|region| region.area_mm2 > LEAST_DAMAGE_MM2)
            .filter_map(|region| DamagedPlace::of(preparation, &region))
            .filter(|place| stood_out_before(preparation, place.deepest, place.depth_mm))
            .collect();
        places.sort_by(|a, b| b.depth_mm.total_cmp(&a.depth_mm).then(a.deepest.cmp(&b.deepest)));
        let (mut facing_mm2, mut compared_mm2) = (0.0, 0.0);
        for vertex in own.into_iter().filter(|&vertex| outward_share(preparation, vertex) < TOWARD) {
            let area_mm2 = preparation.vertex_area_mm2[vertex];
            facing_mm2 += area_mm2;
            if change.reduction_mm[vertex].abs() <= floor_mm || is_lowered(vertex) {
                compared_mm2 += area_mm2;
            }
        }
        Ok(Self {
            scatter_mm,
            floor_mm,
            compared_pct: 100.0 * compared_mm2 / f64::max(facing_mm2, 1e-9),
            places,
        })
    }

    fn write(&self, preparation: &Preparation<'_>, sheet: &mut Sheet, [depth_id, area_id]: [String; 2]) {
        let u95_mm = expanded(&[self.scatter_mm, preparation.pose_sigma_mm(), 0.008]);
        let area_mm2: f64 = self.places.iter().map(|place| place.area_mm2).sum();
        // The edge of a damaged place is known to about half a triangle.
        let edge_mm: f64 = self.places.iter().map(|place| place.edge_mm).sum();
        let creased_mm2: f64 = self.places.iter().map(|place| place.creased_mm2).sum();
        let area_u95_mm2 =
            expanded(&[0.25 * preparation.edge_mm * edge_mm, 0.5 * LEAST_DAMAGE_MM2, 0.3 * creased_mm2]);
        let place = self.places.first().map(|place| preparation.place_of_vertex(place.deepest));
        let depth = number(self.places.first().map_or(0.0, |place| place.depth_mm), "mm", u95_mm);
        let area = number(area_mm2, "mm2", area_u95_mm2).with("places", self.places.len() as f64);
        for (id, reading) in [(depth_id, depth), (area_id, area)] {
            let reading = reading
                .with("floor", self.floor_mm)
                .with("compared_pct", self.compared_pct)
                .at(place.clone());
            sheet.write(
                id,
                if self.places.is_empty() {
                    reading.noted(format!(
                        "nothing beyond three times the scatter on this tooth ({:.0} um) on the {:.0} % of its facing \
                         surface that show in both scans",
                        1000.0 * self.floor_mm,
                        self.compared_pct
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

/// Whether a surface looks away from the prepared tooth, where no instrument in it reaches.
fn faces_away(preparation: &Preparation<'_>, vertex: usize) -> bool {
    const AWAY: f64 = 0.3;
    outward_share(preparation, vertex) > AWAY
}

/// Cosine between a vertex's normal and the horizontal direction from the prepared tooth: −1 faces it.
fn outward_share(preparation: &Preparation<'_>, vertex: usize) -> f64 {
    let after = preparation.scene.after;
    let from = after.mesh.vertices[vertex] - preparation.frame.origin;
    let outward = from - preparation.path * from.dot(&preparation.path);
    outward.try_normalize(1e-9).map_or(0.0, |outward| outward.dot(&after.vertex_normals[vertex]))
}

/// Whether the before scan turns inward close to where a vertex was.
fn is_beside_a_crease(preparation: &Preparation<'_>, vertex: usize) -> bool {
    let (Some(before), Some(change)) = (&preparation.scene.before, &preparation.change) else { return false };
    let Some(near) = change.near[vertex] else { return false };
    let surface = before.surface;
    let own = before.after_from_scan.inverse() * near.point;
    let near = vertices_near(surface, &own, CREASE_MM);
    let off = |vertex: u32| (surface.mesh.vertices[vertex as usize] - own).norm_squared();
    let Some(&middle) = near.iter().min_by(|a, b| off(**a).total_cmp(&off(**b))) else { return false };
    let normal = pooled_normal(surface, middle).normalize();
    let place = surface.mesh.vertices[middle as usize];
    near.iter().any(|&other| {
        let turned = pooled_normal(surface, other).normalize() - normal;
        let along = surface.mesh.vertices[other as usize] - place;
        // The chord between two unit normals is twice the sine of half the angle between them.
        turned.norm() > 2.0 * (0.5 * CREASE_DEG.to_radians()).sin() && turned.dot(&along) < 0.0
    })
}

/// Whether the before scan's own vertices there lie outside the after surface by about as much. In a crease between
/// tooth and gingiva two scans fill the corner differently, and only the chords between their vertices disagree.
fn stood_out_before(preparation: &Preparation<'_>, vertex: u32, depth_mm: f64) -> bool {
    const NEAR_MM: f64 = 0.3;
    let (Some(before), Some(change)) = (&preparation.scene.before, &preparation.change) else { return false };
    let Some(near) = change.near[vertex as usize] else { return false };
    let own = before.after_from_scan.inverse() * near.point;
    let vertices = vertices_near(before.surface, &own, NEAR_MM);
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
