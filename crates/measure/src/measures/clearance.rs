//! `clearance.mip_mm`: the room to the opposing teeth with the jaws closed.

use nalgebra::Point3;

use super::NO_OPPOSING;
use crate::bite::OPPOSITE_MM;
use crate::crest::least_over_crests;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};
use crate::stats::weighted_quantile;

/// Closest distance from the prepared occlusal surface to the opposing teeth: least, p05, median, place.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let id = "clearance.mip_mm";
    let Some(opposing) = preparation.scene.opposing else {
        sheet.refuse(id, NO_OPPOSING);
        return;
    };
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
    let smooth: Vec<(f64, u32)> = vertices
        .iter()
        .filter_map(|vertex| Some((preparation.smooth_at(vertex.vertex, &value_at)?, vertex.vertex)))
        .collect();
    let distances_mm = |points: &[Point3<f64>]| {
        let near = opposing.nearest(points, OPPOSITE_MM).into_iter();
        near.map(|near| near.filter(|near| !near.on_border).map(|near| near.signed_mm)).collect()
    };
    let Some(least) = least_over_crests(preparation, &smooth, distances_mm) else {
        sheet.refuse(id, "the prepared occlusal surface is too ragged for a least distance");
        return;
    };
    let (median, p05) = (weighted_quantile(&pairs, 0.5), weighted_quantile(&pairs, 0.05));
    // The least of many smoothed values still follows the noise by about one of its sigmas.
    let noise_mm = 0.7 * preparation.noise_mm;
    let u95 = expanded(&[preparation.opposing_sigma_mm(), noise_mm, 0.006, least.sigma_mm]);
    let reading = number(least.mm, "mm", u95)
        .with("least", least.mm)
        .with("p05", p05.unwrap_or(f64::NAN))
        .with("median", median.unwrap_or(f64::NAN))
        .at(Some(preparation.place_of(&least.place)))
        .noted("maximal intercuspal position");
    sheet.write(id, reading);
}
