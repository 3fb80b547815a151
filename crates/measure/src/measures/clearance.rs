//! `clearance.mip_mm`: the room to the opposing teeth with the jaws closed.

use nalgebra::Point3;
use rayon::prelude::*;

use super::NO_OPPOSING;
use crate::bite::OPPOSITE_MM;
use crate::crest::Crest;
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
    let smooth: Vec<(f64, u32)> = vertices
        .iter()
        .filter_map(|vertex| Some((preparation.smooth_at(vertex.vertex, &value_at)?, vertex.vertex)))
        .collect();
    let Some(least) = least(preparation, &smooth) else {
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

struct Least {
    mm: f64,
    place: Point3<f64>,
    /// Of a crest that the scan's triangles cut off, mm (1 sigma).
    sigma_mm: f64,
}

/// The least of the smoothed distances, over crests as they were cut.
fn least(preparation: &Preparation<'_>, smooth: &[(f64, u32)]) -> Option<Least> {
    // No crest loses more to the triangles, or gains more where they reach past it.
    const MOST_CHANGE_MM: f64 = 0.12;
    let opposing = preparation.scene.opposing?;
    let least_mm = smooth.iter().map(|near| near.0).min_by(f64::total_cmp)?;
    let may_be = smooth.par_iter().filter(|near| near.0 < least_mm + MOST_CHANGE_MM);
    let found = may_be.map(|&(mm, vertex)| {
        let on_crest = Crest::at(preparation, vertex).and_then(|crest| {
            let near = opposing.nearest(&crest.points, OPPOSITE_MM).into_iter().zip(crest.points);
            let open = near
                .filter_map(|(near, place)| Some((near.filter(|near| !near.on_border)?.signed_mm, place)));
            let (mm, place) = open.min_by(|a, b| a.0.total_cmp(&b.0))?;
            Some(Least { mm, place, sigma_mm: crest.sigma_mm })
        });
        on_crest.unwrap_or(Least {
            mm,
            place: preparation.scene.after.mesh.vertices[vertex as usize],
            sigma_mm: 0.0,
        })
    });
    found.collect::<Vec<_>>().into_iter().min_by(|a, b| a.mm.total_cmp(&b.mm))
}
