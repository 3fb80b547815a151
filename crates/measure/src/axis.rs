//! The tooth's axis: its occlusal direction, from several independent pieces of evidence.

use kerfwright_geometry::Surface;
use kerfwright_geometry::fit::{self, PlaneFit};
use nalgebra::{Matrix3, Point3, Vector3};

use crate::region::vertex_area;

/// One opinion on the occlusal direction.
#[derive(Debug, Clone)]
pub struct Opinion {
    /// Where it comes from.
    pub from: &'static str,
    /// Unit direction, after frame.
    pub direction: Vector3<f64>,
    /// How far off it is expected to be, degrees (1 sigma; engineering judgement, no source).
    pub sigma_deg: f64,
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
pub fn facing(surface: &Surface) -> Option<Vector3<f64>> {
    let (mut sum, mut area) = (Vector3::zeros(), 0.0);
    for triangle in 0..surface.mesh.triangles.len() as u32 {
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
) -> Option<PlaneFit> {
    let points: Vec<Point3<f64>> = (0..surface.mesh.vertices.len() as u32)
        .filter(|&vertex| in_use(vertex) && surface.vertex_normals[vertex as usize].dot(start) > 0.5)
        .map(|vertex| surface.mesh.vertices[vertex as usize])
        .collect();
    let plane = fit::plane(&points).filter(|_| points.len() > 100)?;
    (plane.normal.dot(start).abs() > 25_f64.to_radians().cos()).then_some(plane)
}

/// Combines opinions: weighted mean, each weight falling with the distance from the others.
pub fn agree(opinions: Vec<Opinion>) -> Option<Axis> {
    let mut weights: Vec<f64> = opinions.iter().map(|opinion| opinion.sigma_deg.powi(-2)).collect();
    let mean = |weights: &[f64]| {
        let pairs = opinions.iter().zip(weights);
        pairs.map(|(opinion, weight)| opinion.direction * *weight).sum::<Vector3<f64>>().try_normalize(1e-9)
    };
    // Start at the medoid, so that one wild opinion cannot draw the first mean.
    let cost = |from: &Opinion| {
        let terms = opinions
            .iter()
            .map(|other| from.direction.angle(&other.direction).to_degrees() / other.sigma_deg);
        terms.sum::<f64>()
    };
    let mut direction = opinions.iter().min_by(|a, b| cost(a).total_cmp(&cost(b)))?.direction;
    for _ in 0..20 {
        for (weight, opinion) in weights.iter_mut().zip(&opinions) {
            let off = direction.angle(&opinion.direction).to_degrees() / opinion.sigma_deg;
            *weight = opinion.sigma_deg.powi(-2) / (1.0 + (off / 1.5).powi(2)).powi(2);
        }
        direction = mean(&weights)?;
    }
    let total: f64 = weights.iter().sum();
    let spread: f64 = opinions
        .iter()
        .zip(&weights)
        .map(|(opinion, weight)| weight * direction.angle(&opinion.direction).to_degrees().powi(2))
        .sum();
    let sigma_deg = (1.0 / total + spread / total / opinions.len().max(2) as f64).sqrt();
    Some(Axis { direction, sigma_deg, opinions })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_wild_opinion_does_not_move_the_axis() {
        let opinion = |x: f64, sigma_deg| Opinion {
            from: "test",
            direction: Vector3::new(x, 0.0, 1.0).normalize(),
            sigma_deg,
        };
        let axis = agree(vec![opinion(0.0, 3.0), opinion(0.01, 3.0), opinion(0.8, 3.0)]).unwrap();
        assert!(axis.direction.angle(&Vector3::z()).to_degrees() < 1.0);
        assert!(axis.sigma_deg > 1.0);
    }
}
