//! `reduction.occlusal.*`: how much the occlusal surface was cut.

use super::NO_BEFORE;
use crate::channel::Channel;
use crate::document::Reading;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};
use crate::stats::weighted_quantile;
use crate::zones::{OCCLUSAL_COS, OcclusalVertex, Zone};

/// What the zones' borders leave open, mm (1 sigma, from phantom scans): reduction changes across them.
const ZONE_MM: f64 = 0.018;

/// Zones with their ids.
const ZONES: [(Zone, &str); 4] = [
    (Zone::Functional, "reduction.occlusal.functional_mm"),
    (Zone::Nonfunctional, "reduction.occlusal.nonfunctional_mm"),
    (Zone::Groove, "reduction.occlusal.groove_mm"),
    (Zone::MarginalRidge, "reduction.occlusal.marginal_ridge_mm"),
];

/// Closest distance from the prepared occlusal surface to the uncut one, by zone: median, p05, least and greatest with their places.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let channel = onlay_channel(preparation);
    for (zone, id) in ZONES {
        let Some(sign) = preparation.functional_sign() else {
            sheet.refuse(id, FRONT);
            continue;
        };
        if preparation.change.is_none() {
            sheet.refuse(id, NO_BEFORE);
            continue;
        }
        if preparation.occlusal.groove.is_none() && zone != Zone::MarginalRidge {
            sheet.refuse(id, "no fossae between two cusp rows were found on the uncut tooth");
            continue;
        }
        let mut vertices = preparation.occlusal.zone(zone, sign);
        if let Some(channel) = &channel {
            vertices.retain(|vertex| is_under_top(preparation, vertex.vertex));
            if zone != Zone::Groove {
                let half_mm = channel.half_mm();
                let points = &preparation.scene.after.mesh.vertices;
                vertices.retain(|vertex| !channel.holds(&points[vertex.vertex as usize], half_mm));
            }
        }
        let is_onlay = channel.is_some();
        read_vertices(preparation, sheet, id, &vertices, |reading| {
            said_beside(preparation, zone, is_onlay, reading)
        });
    }
}

/// The channel of an onlay; a three-quarter crown has none, and a wall under most of its rim.
fn onlay_channel<'a, 'scan>(preparation: &'a Preparation<'scan>) -> Option<Channel<'a, 'scan>> {
    let is_covered_in_part = !preparation.uncovered.is_empty() && !preparation.is_early;
    is_covered_in_part.then(|| Channel::find(preparation).ok()).flatten()
}

/// Whether the closest uncut surface is the tooth's top. Near the rim of a covered cusp, and in a box, it is the side of the tooth:
/// its distance says how near the rim is, and not how deep the top was cut. A crown keeps its rim out by height.
fn is_under_top(preparation: &Preparation<'_>, vertex: u32) -> bool {
    let near = preparation.change.as_ref().and_then(|change| change.near[vertex as usize]);
    near.is_some_and(|near| near.normal.dot(&preparation.path) > OCCLUSAL_COS)
}

/// Why front teeth have no occlusal zones, and what stands instead.
const FRONT: &str =
    "front teeth have no cusp rows: reduction.incisal_mm and reduction.lingual_fossa_mm stand instead";

fn said_beside(preparation: &Preparation<'_>, zone: Zone, is_onlay: bool, mut reading: Reading) -> Reading {
    if let Some(groove) = preparation.occlusal.groove.filter(|_| zone == Zone::Groove) {
        reading =
            reading.with("line_facial_mm", groove.at_mm).with("line_deg", groove.slope.atan().to_degrees());
    }
    if is_onlay {
        reading = reading
            .noted("an onlay: read where the closest uncut surface is the tooth's top and not its side, and beside isthmus and boxes");
    } else if preparation.occlusal.is_short {
        reading =
            reading.noted("short preparation: everything above half the wall's height counts as occlusal");
    }
    reading
}

/// Median closest distance from some prepared vertices to the uncut surface, with p05, least and greatest and their places.
pub(super) fn read_vertices(
    preparation: &Preparation<'_>,
    sheet: &mut Sheet,
    id: &str,
    vertices: &[OcclusalVertex],
    beside: impl Fn(Reading) -> Reading,
) {
    let pairs: Vec<(f64, f64)> = vertices
        .iter()
        .filter_map(|vertex| Some((distance_of(preparation, vertex.vertex)?, vertex.area_mm2)))
        .collect();
    if pairs.len() < 20 {
        sheet.refuse(id, "fewer than 20 vertices of the prepared surface lie in this zone");
        return;
    }
    let (Some(median), Some(p05)) = (weighted_quantile(&pairs, 0.5), weighted_quantile(&pairs, 0.05)) else {
        return;
    };
    let smooth_mm = |vertex: &OcclusalVertex| {
        let mm = preparation.smooth_at(vertex.vertex, &|other| distance_of(preparation, other))?;
        Some((mm, vertex.vertex))
    };
    let smooth: Vec<(f64, u32)> = vertices.iter().filter_map(smooth_mm).collect();
    let least = smooth.iter().min_by(|a, b| a.0.total_cmp(&b.0));
    let greatest = smooth.iter().max_by(|a, b| a.0.total_cmp(&b.0));
    let u95 =
        expanded(&[preparation.pose_sigma_mm(), preparation.noise_mm / (pairs.len() as f64).sqrt(), ZONE_MM]);
    let mut reading = number(median, "mm", u95).with("median", median).with("p05", p05);
    if let (Some((least_mm, lowest)), Some((greatest_mm, deepest))) = (least, greatest) {
        let [lowest, deepest] = [lowest, deepest].map(|vertex| Some(preparation.place_of_vertex(*vertex)));
        reading =
            reading.with("least", *least_mm).with("greatest", *greatest_mm).at(lowest).greatest_at(deepest);
    }
    sheet.write(id, beside(reading));
}

fn distance_of(preparation: &Preparation<'_>, vertex: u32) -> Option<f64> {
    let near = preparation.change.as_ref()?.near[vertex as usize].filter(|near| !near.on_border)?;
    Some(near.signed_mm.abs())
}
