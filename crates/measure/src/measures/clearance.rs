//! `clearance.mip_mm`: the room to the opposing teeth with the jaws closed.

use super::NO_OPPOSING;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};
use crate::stats::weighted_quantile;

/// Closest distance from the prepared occlusal surface to the opposing teeth: least, p05, median, place.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let id = "clearance.mip_mm";
    if preparation.scene.opposing.is_none() {
        sheet.refuse(id, NO_OPPOSING);
        return;
    }
    if let Some(fault) = &preparation.opposing_fault {
        sheet.refuse(id, fault.clone());
        return;
    }
    let vertices = &preparation.bite;
    let mesh = &preparation.scene.after.mesh;
    let mut distances = vec![f64::NAN; mesh.vertices.len()];
    for (vertex, near) in vertices.iter().zip(&preparation.opposite) {
        if let Some(near) = near.filter(|near| !near.on_border) {
            distances[vertex.vertex as usize] = near.signed_mm;
        }
    }
    let pairs: Vec<(f64, f64)> = vertices
        .iter()
        .map(|vertex| (distances[vertex.vertex as usize], vertex.area_mm2))
        .filter(|pair| pair.0.is_finite())
        .collect();
    if pairs.len() < 20 {
        sheet.refuse(id, "no opposing tooth stands over the prepared occlusal surface");
        return;
    }
    let value_at = |vertex: u32| Some(distances[vertex as usize]).filter(|value| value.is_finite());
    let least = vertices
        .iter()
        .filter_map(|vertex| Some((preparation.smooth_at(vertex.vertex, &value_at)?, vertex.vertex)))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let Some((least, vertex)) = least else {
        sheet.refuse(id, "the prepared occlusal surface is too ragged for a least distance");
        return;
    };
    let (median, p05) = (weighted_quantile(&pairs, 0.5), weighted_quantile(&pairs, 0.05));
    // The least of many smoothed values still follows the noise by about one of its sigmas.
    let noise_mm = 0.7 * preparation.noise_mm;
    let u95 = expanded(&[preparation.opposing_sigma_mm(), noise_mm, 0.006, cut_off_mm(preparation, vertex)]);
    let reading = number(least, "mm", u95)
        .with("least", least)
        .with("p05", p05.unwrap_or(f64::NAN))
        .with("median", median.unwrap_or(f64::NAN))
        .at(Some(preparation.place_of_vertex(vertex)))
        .noted("maximal intercuspal position");
    sheet.write(id, reading);
}

/// What the triangles and the average over them cut off a crest at a vertex, mm (1 sigma): by how sharply they turn there.
fn cut_off_mm(preparation: &Preparation<'_>, vertex: u32) -> f64 {
    const SHARE: f64 = 0.45;
    let after = preparation.scene.after;
    let normals: Vec<_> = after
        .topology
        .vertex_triangles(vertex)
        .iter()
        .map(|&triangle| after.triangle_normals[triangle as usize])
        .collect();
    let pairs = normals.iter().flat_map(|one| normals.iter().map(move |other| one.angle(other)));
    let turn_rad = pairs.fold(0.0, f64::max);
    SHARE * preparation.edge_mm * (0.5 * turn_rad).tan().min(1.0)
}
