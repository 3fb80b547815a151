//! `scan.*`: what the after scan itself is worth.

use kerfwright_geometry::Topology;

use crate::preparation::Preparation;
use crate::sheet::{Sheet, number};

/// Noise, edge length and missing data on the prepared tooth.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let noise_um = 1000.0 * preparation.noise_mm;
    sheet.write("scan.noise_um", number(noise_um, "um", 0.3 * noise_um).noted("1 sigma, along the normal"));
    sheet.write("scan.edge_mm", number(preparation.edge_mm, "mm", 0.01));
    let (void_mm2, area_mm2) = (void_area_mm2(preparation), prepared_area_mm2(preparation));
    sheet.write("scan.void_pct", number(100.0 * void_mm2 / (void_mm2 + area_mm2), "pct", 0.5));
}

fn prepared_area_mm2(preparation: &Preparation<'_>) -> f64 {
    let areas = preparation.vertex_area_mm2.iter().zip(&preparation.inside);
    areas.filter(|(_, inside)| **inside).map(|(area, _)| area).sum()
}

/// Area of the holes whose rim lies on the prepared surface: fans from each rim's middle.
pub(super) fn void_area_mm2(preparation: &Preparation<'_>) -> f64 {
    let after = preparation.scene.after;
    let n_vertices = after.mesh.vertices.len();
    let mut next = vec![u32::MAX; n_vertices];
    for (corners, opposite) in after.mesh.triangles.iter().zip(&after.topology.opposite) {
        for edge in 0..3 {
            let (from, to) = (corners[edge], corners[(edge + 1) % 3]);
            let on_tooth = preparation.inside[from as usize] && preparation.inside[to as usize];
            if opposite[edge] == Topology::NONE && on_tooth {
                next[from as usize] = to;
            }
        }
    }
    let mut area_mm2 = 0.0;
    for start in 0..n_vertices as u32 {
        let mut rim = Vec::new();
        let mut at = start;
        while next[at as usize] != u32::MAX {
            rim.push(after.mesh.vertices[at as usize]);
            let to = next[at as usize];
            next[at as usize] = u32::MAX;
            at = to;
        }
        if at == start && rim.len() >= 3 {
            let middle =
                rim.iter().map(|point| point.coords).sum::<nalgebra::Vector3<f64>>() / rim.len() as f64;
            let pairs = rim.iter().zip(rim.iter().cycle().skip(1));
            area_mm2 +=
                pairs.map(|(a, b)| 0.5 * (a.coords - middle).cross(&(b.coords - middle)).norm()).sum::<f64>();
        }
    }
    area_mm2
}
