//! A z-buffer: which triangle is seen at each sample of an image.

use nalgebra::{Point3, Vector3};

use crate::camera::Camera;

/// What is seen at each sample, row by row from the top left.
#[derive(Debug, Clone)]
pub struct Raster {
    /// Samples a row.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// The triangle seen, or [`Raster::NOTHING`].
    pub triangle: Vec<u32>,
    /// How far it lies towards the viewer, mm; −∞ where nothing is seen.
    pub depth_mm: Vec<f32>,
    /// All vertices in image coordinates, see [`Camera::project`].
    pub projected: Vec<[f32; 3]>,
}

/// Three signed areas; the point of a sample is weighted by them.
struct Edges {
    corners: [[f32; 3]; 3],
    /// One over twice the area.
    by_area: f32,
    /// How the weights change from one column to the next.
    across: [f32; 3],
}

impl Raster {
    /// No triangle.
    pub const NOTHING: u32 = u32::MAX;

    /// Draws those `triangles` that `is_shown` into the image of `camera`, both sides of each.
    pub fn draw(
        vertices: &[Point3<f64>],
        triangles: &[[u32; 3]],
        camera: &Camera,
        is_shown: impl Fn(&[u32; 3]) -> bool,
    ) -> Self {
        let projected = vertices.iter().map(|vertex| camera.project(vertex).map(|part| part as f32).into());
        let n_samples = camera.width * camera.height;
        let mut raster = Self {
            width: camera.width,
            height: camera.height,
            triangle: vec![Self::NOTHING; n_samples],
            depth_mm: vec![f32::NEG_INFINITY; n_samples],
            projected: projected.collect(),
        };
        for (index, corners) in triangles.iter().enumerate().filter(|(_, corners)| is_shown(corners)) {
            raster.draw_triangle(index as u32, corners, camera.near_mm as f32);
        }
        raster
    }

    fn draw_triangle(&mut self, index: u32, corners: &[u32; 3], near_mm: f32) {
        let edges = Edges::new(&self.projected, corners);
        let Some((columns, rows)) = edges.samples(self.width, self.height) else { return };
        let depths_mm = edges.corners.map(|corner| corner[2]);
        for row in rows {
            let first = edges.weights(columns.start as f32 + 0.5, row as f32 + 0.5);
            let places = row * self.width + columns.start..row * self.width + columns.end;
            let seen = self.depth_mm[places.clone()].iter_mut().zip(&mut self.triangle[places]);
            for (step, (seen_mm, triangle)) in seen.enumerate() {
                let weights = [0, 1, 2].map(|k| first[k] + step as f32 * edges.across[k]);
                if weights[0].min(weights[1]).min(weights[2]) < 0.0 {
                    continue;
                }
                let depth_mm: f32 = (0..3).map(|k| weights[k] * depths_mm[k]).sum();
                if depth_mm > *seen_mm && depth_mm <= near_mm {
                    *seen_mm = depth_mm;
                    *triangle = index;
                }
            }
        }
    }

    /// The triangle seen at a sample and the weights of its corners there.
    pub fn seen(&self, column: usize, row: usize, triangles: &[[u32; 3]]) -> Option<(u32, [f32; 3])> {
        let triangle = self.triangle[row * self.width + column];
        if triangle == Self::NOTHING {
            return None;
        }
        let edges = Edges::new(&self.projected, &triangles[triangle as usize]);
        Some((triangle, edges.weights(column as f32 + 0.5, row as f32 + 0.5)))
    }

    /// Whether a point lies on the seen surface or at most `allowed_mm` behind it.
    pub fn shows(&self, projected: &Vector3<f64>, allowed_mm: f64) -> bool {
        let seen_mm = self.place(projected).map(|place| f64::from(self.depth_mm[place]));
        seen_mm.is_some_and(|seen_mm| projected.z + allowed_mm >= seen_mm)
    }

    /// The triangle seen where a point is projected to.
    pub fn at(&self, projected: &Vector3<f64>) -> Option<u32> {
        self.place(projected).map(|place| self.triangle[place]).filter(|&triangle| triangle != Self::NOTHING)
    }

    fn place(&self, projected: &Vector3<f64>) -> Option<usize> {
        let holds = |value: f64, end: usize| value >= 0.0 && value < end as f64;
        let is_inside = holds(projected.x, self.width) && holds(projected.y, self.height);
        is_inside.then(|| projected.y as usize * self.width + projected.x as usize)
    }
}

impl Edges {
    fn new(projected: &[[f32; 3]], corners: &[u32; 3]) -> Self {
        let [a, b, c] = corners.map(|vertex| projected[vertex as usize]);
        let doubled_area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        let by_area = 1.0 / doubled_area;
        let across = [b[1] - c[1], c[1] - a[1], a[1] - b[1]].map(|part| part * by_area);
        Self { corners: [a, b, c], by_area, across }
    }

    /// Columns and rows of the samples that the triangle may cover.
    fn samples(
        &self,
        width: usize,
        height: usize,
    ) -> Option<(std::ops::Range<usize>, std::ops::Range<usize>)> {
        if !self.by_area.is_finite() || self.by_area == 0.0 {
            return None;
        }
        let range = |axis: usize, end: usize| {
            let [a, b, c] = self.corners.map(|corner| corner[axis]);
            let (low, high) = (a.min(b).min(c), a.max(b).max(c));
            let first = (low - 0.5).ceil().max(0.0);
            let last = (high - 0.5).floor().min(end as f32 - 1.0);
            (first <= last).then(|| first as usize..last as usize + 1)
        };
        Some((range(0, width)?, range(1, height)?))
    }

    /// Weights of the corners at an image point; none is negative inside the triangle. A sample on a shared edge goes
    /// to both triangles, and the depth decides.
    fn weights(&self, x: f32, y: f32) -> [f32; 3] {
        let [a, b, c] = self.corners;
        let area = |p: [f32; 3], q: [f32; 3]| (p[0] - x) * (q[1] - y) - (p[1] - y) * (q[0] - x);
        [area(b, c), area(c, a), area(a, b)].map(|part| part * self.by_area)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn camera(px_per_mm: f64, near_mm: f64) -> Camera {
        Camera {
            centre: Point3::origin(),
            right: Vector3::x(),
            up: Vector3::y(),
            toward: Vector3::z(),
            px_per_mm,
            width: 400,
            height: 300,
            near_mm,
        }
    }

    /// A sphere of 2 mm, `n` bands from pole to pole.
    fn sphere(n: usize) -> (Vec<Point3<f64>>, Vec<[u32; 3]>) {
        let point = |band: usize, step: usize| {
            let polar_rad = std::f64::consts::PI * band as f64 / n as f64;
            let around_rad = std::f64::consts::TAU * step as f64 / (2 * n) as f64;
            let (sine, cosine) = polar_rad.sin_cos();
            Point3::new(sine * around_rad.cos(), cosine, sine * around_rad.sin()) * 2.0
        };
        let index = |band: usize, step: usize| (band * 2 * n + step % (2 * n)) as u32;
        let cells = (0..n).flat_map(|band| (0..2 * n).map(move |step| (band, step)));
        let vertices = (0..=n).flat_map(|band| (0..2 * n).map(move |step| point(band, step))).collect();
        let triangles = cells.flat_map(|(band, step)| {
            let [a, b] = [index(band, step), index(band, step + 1)];
            let [c, d] = [index(band + 1, step), index(band + 1, step + 1)];
            [[a, b, c], [b, d, c]]
        });
        (vertices, triangles.collect())
    }

    #[test]
    fn a_sphere_covers_the_area_of_its_circle() {
        let (vertices, triangles) = sphere(90);
        let raster = Raster::draw(&vertices, &triangles, &camera(60.0, f64::INFINITY), |_| true);
        let n_seen = raster.triangle.iter().filter(|&&triangle| triangle != Raster::NOTHING).count();
        let expected = std::f64::consts::PI * 120.0 * 120.0;
        // The rim of a circle decides about its length in samples, half of them each way: far less than 0.3 %.
        let error = (n_seen as f64 - expected) / expected;
        assert!(error.abs() < 3e-3, "{error}");
    }

    #[test]
    fn a_sphere_has_the_depth_of_a_sphere() {
        let (vertices, triangles) = sphere(90);
        let camera = camera(60.0, f64::INFINITY);
        let raster = Raster::draw(&vertices, &triangles, &camera, |_| true);
        for (column, row) in [(200, 150), (260, 150), (200, 100), (150, 200)] {
            let (x, y) = ((column as f64 + 0.5 - 200.0) / 60.0, (row as f64 + 0.5 - 150.0) / 60.0);
            let expected = (4.0 - x * x - y * y).sqrt();
            let depth_mm = f64::from(raster.depth_mm[row * 400 + column]);
            // A facet of 2° lies at most 2 mm · (1 − cos 1°) inside, divided by the slant of the surface.
            assert!((depth_mm - expected).abs() < 2e-3, "{column} {row}: {depth_mm} {expected}");
        }
    }

    /// Two squares across the whole image, the first farther away.
    fn two_squares() -> (Vec<Point3<f64>>, Vec<[u32; 3]>) {
        let corners = [(-11.0, -11.0), (11.0, -11.0), (11.0, 11.0), (-11.0, 11.0)];
        let square = |z: f64| corners.map(|(x, y)| Point3::new(x, y, z));
        let vertices = [square(-1.0), square(1.0)].concat();
        (vertices, vec![[0, 1, 2], [0, 2, 3], [4, 5, 6], [4, 6, 7]])
    }

    #[test]
    fn the_nearer_surface_hides_the_farther_one_in_any_order() {
        let (vertices, mut triangles) = two_squares();
        for _ in 0..2 {
            let raster = Raster::draw(&vertices, &triangles, &camera(20.0, f64::INFINITY), |_| true);
            assert!(raster.depth_mm.iter().all(|&depth_mm| (depth_mm - 1.0).abs() < 1e-5));
            assert!(raster.shows(&Vector3::new(10.0, 10.0, 0.95), 0.1));
            assert!(!raster.shows(&Vector3::new(10.0, 10.0, -1.0), 0.1));
            triangles.reverse();
        }
    }

    #[test]
    fn what_lies_before_the_near_plane_is_cut_away() {
        let (vertices, triangles) = two_squares();
        let raster = Raster::draw(&vertices, &triangles, &camera(20.0, 0.5), |_| true);
        assert!(raster.depth_mm.iter().all(|&depth_mm| (depth_mm + 1.0).abs() < 1e-5));
    }

    #[test]
    fn weights_give_the_sample_back() {
        let (vertices, triangles) = sphere(20);
        let raster = Raster::draw(&vertices, &triangles, &camera(60.0, f64::INFINITY), |_| true);
        let (triangle, weights) = raster.seen(230, 140, &triangles).unwrap();
        let corners = triangles[triangle as usize].map(|vertex| raster.projected[vertex as usize]);
        let x: f32 = (0..3).map(|k| weights[k] * corners[k][0]).sum();
        assert!((x - 230.5).abs() < 1e-3);
        assert_eq!(raster.seen(0, 0, &triangles), None);
    }

    #[test]
    fn a_triangle_with_a_corner_that_is_no_number_draws_nothing() {
        let vertices =
            [Point3::new(f64::NAN, 0.0, 0.0), Point3::new(1.0, 0.0, 0.0), Point3::new(0.0, 1.0, 0.0)];
        let raster = Raster::draw(&vertices, &[[0, 1, 2]], &camera(20.0, f64::INFINITY), |_| true);
        assert!(raster.triangle.iter().all(|&triangle| triangle == Raster::NOTHING));
    }
}
