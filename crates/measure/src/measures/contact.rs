//! `finish_line.in_contact`: does the finish line run into the contact with an adjacent tooth?

use kerfwright_geometry::TriangleTree;
use kerfwright_mesh::Mesh;

use super::neighbour::{PAPILLA, SIDES, facing_vertices, smooth_normals};
use crate::outline::Outline;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, text};
use crate::stats::median;

const ID: &str = "finish_line.in_contact";
/// So long a stretch must touch, mm: less is a stray triangle.
const LEAST_MM: f64 = 0.5;

/// Names the sides on which the finish line comes so near to the adjacent tooth that the scan shows no gap.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    if preparation.tooth.is_front() {
        sheet.refuse(ID, PAPILLA);
        return;
    }
    let smooth = smooth_normals(preparation);
    let outline = Outline::new(&preparation.ring, &preparation.path);
    let (mut touched, mut length_mm, mut missing) = (Vec::new(), 0.0, Vec::new());
    let mut middle = None;
    for side in &SIDES {
        let facing = facing_vertices(preparation, side, &outline, &smooth);
        match touching(preparation, &facing) {
            None => missing.push(side.name),
            Some(places) => {
                let mm =
                    places.len() as f64 * preparation.ring.length_mm() / preparation.ring.points.len() as f64;
                if mm >= LEAST_MM {
                    touched.push(side.name);
                    length_mm += mm;
                    middle = middle.or(places.get(places.len() / 2).copied());
                }
            }
        }
    }
    if missing.len() == SIDES.len() {
        sheet.refuse(ID, "no adjacent tooth was scanned on either side");
        return;
    }
    let word = if touched.is_empty() { "none".into() } else { touched.join(" and ") };
    let place = middle.map(|place: usize| preparation.place_of(&preparation.ring.points[place]));
    let mut reading = text(word).at(place);
    if !touched.is_empty() {
        reading = reading.with("length_mm", length_mm).noted(
            "the finish line runs into the contact with the adjacent tooth: nothing can pass between them there",
        );
    } else if let [side] = missing[..] {
        reading = reading.noted(format!("no adjacent tooth was scanned on the {side} side"));
    }
    sheet.write(ID, reading);
}

/// The stations at which the facing surface begins within one triangle's edge; `None` without such a surface.
fn touching(preparation: &Preparation<'_>, facing: &[bool]) -> Option<Vec<usize>> {
    const HALF: usize = 2;
    let mesh = &preparation.scene.after.mesh;
    let own = |corners: &&[u32; 3]| corners.iter().all(|&vertex| facing[vertex as usize]);
    let triangles: Vec<[u32; 3]> = mesh.triangles.iter().filter(own).copied().collect();
    if triangles.is_empty() {
        return None;
    }
    let tree = TriangleTree::new(&Mesh { vertices: mesh.vertices.clone(), triangles });
    let limit_mm = preparation.edge_mm;
    let far_mm = 2.0;
    let distances: Vec<f64> = tree
        .closest_many(&preparation.ring.points, far_mm)
        .into_iter()
        .map(|found| found.map_or(far_mm, |found| found.distance_mm))
        .collect();
    let n = distances.len();
    let touches = |place: &usize| {
        let near: Vec<f64> = (0..=2 * HALF).map(|step| distances[(place + n + step - HALF) % n]).collect();
        median(&near).is_some_and(|mm| mm < limit_mm)
    };
    Some((0..n).filter(touches).collect())
}
