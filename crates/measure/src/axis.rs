//! The tooth's axis: its occlusal direction, from several independent pieces of evidence.

use kerfwright_geometry::{Surface, fit};
use nalgebra::{Matrix3, Point3, Vector3};

use crate::region::vertex_area;

/// One opinion on the occlusal direction.
#[derive(Debug, Clone)]
pub struct Opinion {
    /// Where it comes from.
    pub from: &'static str,
    /// Unit direction, after frame.
    pub direction: Vector3<f64>,
    /// How far it is expected to lean the wrong way along the row of teeth and across it, degrees (1 sigma; engineering
    /// judgement, no source).
    pub sigma_deg: [f64; 2],
}

/// The tooth's axis and how well it is known.
#[derive(Debug, Clone)]
pub struct Axis {
    /// Unit, towards the opposing teeth, after frame.
    pub direction: Vector3<f64>,
    /// Standard uncertainty, degrees.
    pub sigma_deg: f64,
    /// What it rests on.
    pub opinions: Vec<Opinion>,
}

/// Where the scan as a whole faces: the area-weighted mean normal. `None` for a closed body.
///
/// For an open surface this depends on its border alone, so it is as good as the border is even.
pub fn facing(surface: &Surface, in_use: impl Fn(u32) -> bool) -> Option<Vector3<f64>> {
    let (mut sum, mut area) = (Vector3::zeros(), 0.0);
    for triangle in 0..surface.mesh.triangles.len() as u32 {
        if !in_use(triangle) {
            continue;
        }
        let [a, b, c] = surface.mesh.corners(triangle);
        let doubled = (b - a).cross(&(c - a));
        sum += doubled;
        area += doubled.norm();
    }
    // A closed model's normals cancel.
    (sum.norm() > 0.05 * area).then(|| sum.normalize())
}

/// The direction to which the side walls of the uncut teeth lean equally from all sides.
///
/// Each side's inclination to the direction is balanced against the opposite side's by least squares.
pub fn balance(
    surface: &Surface,
    start: &Vector3<f64>,
    in_use: impl Fn(u32) -> bool,
) -> Option<Vector3<f64>> {
    const SIDE: f64 = 0.5; // Within 30° of upright counts as side.
    let chosen: Vec<(Vector3<f64>, f64)> = (0..surface.mesh.vertices.len() as u32)
        .filter(|&vertex| in_use(vertex))
        .map(|vertex| (surface.vertex_normals[vertex as usize], vertex_area(surface, vertex)))
        .collect();
    let mut direction = *start;
    for _ in 0..12 {
        let (u, v) = crate::finish_line::axes(&direction);
        let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
        for (side, area) in chosen.iter().filter(|(side, _)| side.dot(&direction).abs() < SIDE) {
            let row = Vector3::new(1.0, side.dot(&u), side.dot(&v));
            normal += row * row.transpose() * *area;
            right += row * (side.dot(&direction) * area);
        }
        let solved = normal.cholesky()?.solve(&right);
        direction = (direction - u * solved.y - v * solved.z).normalize();
    }
    (direction.angle(start).to_degrees() < 25.0).then_some(direction)
}

/// The plane through the occlusal surfaces of the uncut teeth.
pub fn occlusal_plane(
    surface: &Surface,
    start: &Vector3<f64>,
    in_use: impl Fn(u32) -> bool,
) -> Option<Vector3<f64>> {
    let points: Vec<Point3<f64>> = (0..surface.mesh.vertices.len() as u32)
        .filter(|&vertex| in_use(vertex) && surface.vertex_normals[vertex as usize].dot(start) > 0.5)
        .map(|vertex| surface.mesh.vertices[vertex as usize])
        .collect();
    let plane = fit::plane(&points).filter(|_| points.len() > 100)?;
    let normal = if plane.normal.dot(start) < 0.0 { -plane.normal } else { plane.normal };
    (normal.angle(start).to_degrees() < 25.0).then_some(normal)
}

/// Combines opinions: along and across the row a weighted mean each, an opinion's weight falling with its distance from
/// the others.
///
/// `row` is the direction along the row of teeth.
pub fn agree(opinions: Vec<Opinion>, row: &Vector3<f64>) -> Option<Axis> {
    // How far two directions stand apart along and across the row, degrees.
    let apart_deg = |from: &Vector3<f64>, to: &Vector3<f64>| {
        let across = from.cross(row).normalize();
        let along = across.cross(from);
        [along, across].map(|side| to.dot(&side).atan2(to.dot(from)).to_degrees())
    };
    let off = |from: &Vector3<f64>, opinion: &Opinion| {
        let apart = apart_deg(from, &opinion.direction);
        (apart[0] / opinion.sigma_deg[0]).hypot(apart[1] / opinion.sigma_deg[1])
    };
    // Start at the medoid, so that one wild opinion cannot draw the first mean.
    let cost = |from: &Opinion| opinions.iter().map(|other| off(&from.direction, other)).sum::<f64>();
    let mut direction = opinions.iter().min_by(|a, b| cost(a).total_cmp(&cost(b)))?.direction;
    let mut variance_deg2 = [0.0; 2];
    for _ in 0..20 {
        let across = direction.cross(row).normalize();
        let sides = [across.cross(&direction), across];
        let (mut total, mut shift, mut spread) = ([0.0; 2], [0.0; 2], [0.0; 2]);
        for opinion in &opinions {
            let trust = 1.0 / (1.0 + (off(&direction, opinion) / 1.5).powi(2)).powi(2);
            let apart = apart_deg(&direction, &opinion.direction);
            for k in 0..2 {
                let weight = trust / opinion.sigma_deg[k].powi(2);
                total[k] += weight;
                shift[k] += weight * apart[k];
                spread[k] += weight * apart[k].powi(2);
            }
        }
        let n = opinions.len().max(2) as f64;
        variance_deg2 = std::array::from_fn(|k| (1.0 + spread[k] / n) / total[k]);
        let step: Vector3<f64> = (0..2).map(|k| sides[k] * (shift[k] / total[k]).to_radians()).sum();
        direction = (direction + step).normalize();
    }
    // One number for both: what a direction is off by in the worse of them counts.
    let sigma_deg = variance_deg2[0].max(variance_deg2[1]).sqrt();
    Some(Axis { direction, sigma_deg, opinions })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_wild_opinion_does_not_move_the_axis() {
        for row in [Vector3::x(), Vector3::y(), Vector3::new(0.6, 0.8, 0.1)] {
            let all = [0.0, 0.01, 0.8].map(|x| opinion([x, 0.0], [3.0, 3.0]));
            let axis = agree(all.to_vec(), &row).unwrap();
            assert!(axis.direction.angle(&Vector3::z()).to_degrees() < 1.0);
            assert!(axis.sigma_deg > 1.0);
        }
    }

    #[test]
    fn an_opinion_counts_only_where_it_knows_better() {
        // Along the row (x) the first knows, across it the second.
        let all = vec![opinion([0.0, 0.07], [1.0, 50.0]), opinion([0.07, 0.0], [50.0, 1.0])];
        let axis = agree(all, &Vector3::x()).unwrap();
        assert!(axis.direction.angle(&Vector3::z()).to_degrees() < 0.1, "{}", axis.direction);
    }

    fn opinion(lean: [f64; 2], sigma_deg: [f64; 2]) -> Opinion {
        let direction = Vector3::new(lean[0], lean[1], 1.0).normalize();
        Opinion { from: "test", direction, sigma_deg }
    }
}
