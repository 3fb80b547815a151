//! Exact surfaces as the zero set of a function that is negative inside, and the few things done with one.

use nalgebra::{Point3, Vector3};

/// A body: negative inside, positive outside, zero exactly on the surface.
///
/// The value need not be the distance, but it must not grow faster than 1.35 per mm,
/// since the extraction skips space on the strength of it.
pub trait Field: Sync {
    /// The function's value at a point.
    fn value(&self, p: &Point3<f64>) -> f64;

    /// Value and gradient by four evaluations on a small tetrahedron.
    fn value_and_gradient(&self, p: &Point3<f64>) -> (f64, Vector3<f64>) {
        const CORNERS: [[f64; 3]; 4] = [[1., -1., -1.], [-1., -1., 1.], [-1., 1., -1.], [1., 1., 1.]];
        const STEP: f64 = 2e-5;
        let mut sum = 0.0;
        let mut gradient = Vector3::zeros();
        for corner in CORNERS {
            let direction = Vector3::from(corner);
            let value = self.value(&(p + direction * STEP));
            sum += value;
            gradient += direction * value;
        }
        (sum / 4.0, gradient / (4.0 * STEP))
    }

    /// Outward unit normal.
    fn normal(&self, p: &Point3<f64>) -> Vector3<f64> {
        self.value_and_gradient(p).1.normalize()
    }
}

/// A function of the point is a field as it stands.
impl<F: Fn(&Point3<f64>) -> f64 + Sync> Field for F {
    fn value(&self, p: &Point3<f64>) -> f64 {
        self(p)
    }
}

/// How close to the zero set a projected point ends, mm.
pub const ON_SURFACE_MM: f64 = 1e-7;

/// The point brought onto the surface along the gradient; `None` when it does not get there within `reach` mm.
pub fn project(field: &impl Field, start: &Point3<f64>, reach: f64) -> Option<Point3<f64>> {
    let mut p = *start;
    for _ in 0..12 {
        let (value, gradient) = field.value_and_gradient(&p);
        let steep2 = gradient.norm_squared().max(1e-4);
        if value.abs() <= ON_SURFACE_MM * steep2.sqrt() {
            return ((p - start).norm() <= reach).then_some(p);
        }
        let step = gradient * (value / steep2);
        p -= step * (0.5 * reach / step.norm()).min(1.0);
    }
    // Newton hops to and fro across a sharp edge: finish by halving between an inside and an outside point.
    bisect_along(field, &p, &field.normal(&p), reach).filter(|p| (p - start).norm() <= 2.0 * reach)
}

/// The crossing on the line through `p` along `direction`, within `reach` mm either way.
pub fn bisect_along(
    field: &impl Field,
    p: &Point3<f64>,
    direction: &Vector3<f64>,
    reach: f64,
) -> Option<Point3<f64>> {
    let inside_at_p = field.value(p) < 0.0;
    let sign = if inside_at_p { 1.0 } else { -1.0 };
    let mut far = 1e-6;
    while (field.value(&(p + direction * (sign * far))) < 0.0) == inside_at_p {
        far *= 2.0;
        if far > reach {
            return None;
        }
    }
    let (mut near, mut far) = (0.0, far);
    while far - near > 0.2 * ON_SURFACE_MM {
        let middle = 0.5 * (near + far);
        let inside = field.value(&(p + direction * (sign * middle))) < 0.0;
        if inside == inside_at_p { near = middle } else { far = middle }
    }
    Some(p + direction * (sign * 0.5 * (near + far)))
}

/// The surface point nearest to `q`, starting from a surface point `start` nearby.
///
/// Slides along the surface towards the foot of `q` until the slide is below a tenth of a micrometre.
pub fn closest_from(field: &impl Field, q: &Point3<f64>, start: &Point3<f64>) -> Point3<f64> {
    let mut best = *start;
    let mut step = 1.0;
    for _ in 0..40 {
        let normal = field.normal(&best);
        let offset = q - best;
        let slide = offset - normal * normal.dot(&offset);
        if slide.norm() < 1e-4 {
            break;
        }
        let slide = slide * (0.6 / slide.norm()).min(1.0);
        let Some(next) = project(field, &(best + slide * step), 1.0) else { break };
        if (q - next).norm_squared() < offset.norm_squared() {
            best = next;
        } else {
            step *= 0.5;
            if step < 0.05 {
                break;
            }
        }
    }
    best
}

/// The larger of two values that blend within `width` (quadratic, once differentiable).
pub fn smooth_max(a: f64, b: f64, width: f64) -> f64 {
    let overlap = (1.0 - (a - b).abs() / width).max(0.0);
    a.max(b) + 0.25 * width * overlap * overlap
}

/// The intersection of two half-spaces whose common edge is rounded to `radius`.
///
/// `a` and `b` are distances to the two faces, positive outside, and `cosine` is that between their outward normals:
/// the edge becomes a circular cylinder tangent to both faces, exact for planes. Radius 0 leaves the edge sharp.
pub fn rounded_max(a: f64, b: f64, cosine: f64, radius: f64) -> f64 {
    let (u, v) = (a + radius, b + radius);
    if radius <= 0.0 || u <= v * cosine || v <= u * cosine {
        return a.max(b);
    }
    let sine2 = (1.0 - cosine * cosine).max(1e-9);
    ((u * u + v * v - 2.0 * u * v * cosine) / sine2).max(0.0).sqrt() - radius
}

/// Quintic step from 0 at `x <= 0` to 1 at `x >= 1`, flat at both ends to the second order.
pub fn smooth_step(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    x * x * x * (x * (6.0 * x - 15.0) + 10.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Ball(f64);
    impl Field for Ball {
        fn value(&self, p: &Point3<f64>) -> f64 {
            p.coords.norm() - self.0
        }
    }

    #[test]
    fn projects_and_finds_the_foot_on_a_ball() {
        let p = project(&Ball(4.0), &Point3::new(1.0, 2.0, 3.0), 1.0).unwrap();
        assert!((p.coords.norm() - 4.0).abs() < 1e-7);
        let q = Point3::new(0.0, 0.0, 5.5);
        let foot = closest_from(&Ball(4.0), &q, &Point3::new(0.0, 4.0 * 0.6, 4.0 * 0.8));
        assert!(((foot - q).norm() - 1.5).abs() < 1e-7);
    }

    #[test]
    fn a_rounded_edge_between_planes_is_a_cylinder_tangent_to_both() {
        // Faces x = 0 and the one leaning 30° to it; the point on the bisector at the arc has the closed-form depth.
        let turn = 60f64.to_radians();
        let radius = 0.5;
        // Half the interior angle is (π − turn)/2: the arc leaves the corner by r(1/sin(half) − 1).
        let half = 0.5 * (std::f64::consts::PI - turn);
        let gap = radius * (1.0 / half.sin() - 1.0);
        let depth = -gap * half.sin();
        assert!(rounded_max(depth, depth, turn.cos(), radius).abs() < 1e-12);
        assert_eq!(rounded_max(-0.7, 0.0, turn.cos(), radius), 0.0);
        assert_eq!(rounded_max(-0.1, 0.0, turn.cos(), 0.0), 0.0);
    }
}
