//! The axial walls as surface: which triangles they are, which way each faces, and how large each is without the noise.
//!
//! Axial wall is prepared surface inside the finish line whose smooth normal stands more than 60° off the path: the
//! counterpart of the occlusal surface, which lies within 60°. A fillet or a round floor belongs to the wall from
//! where it is steeper than that; a rounded occlusal edge up to there. Grooves and boxes belong to it.
//!
//! **Smooth normals.** Triangle normals of a scan are off by several degrees. They are averaged over edge neighbours,
//! round after round, each neighbour weighted by its area and by how nearly it agrees, so that the average forgets the
//! noise but does not reach round an edge. What the average missed is averaged by the same weights and added: twice smoothed,
//! the end of a round floor bleeds less into the wall above it.
//!
//! **Area.** A noisy triangle is larger than the surface under it by one over the cosine of its tilt. Counted is its
//! area as seen along the smooth normal. Seen so, a flat patch has the area of its outline, whatever the noise within.
//!
//! **Ends.** A scan has no vertices on an edge: its triangles cut the corner between wall and floor. The vector area of such a
//! triangle is that of the pieces under it, so it is resolved into a share along the wall's normal and one along the
//! other surface's, both taken from triangles that do not touch the seam, and the wall gets its share. So a
//! rounding too narrow to be seen in the triangles (a radius up to about 0.3 mm at 0.15 mm) counts as the corner that it rounds.

use kerfwright_geometry::{Surface, Topology};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// Normal farther than this from the path: axial wall; sine and cosine of the limits as in `zones`.
const WALL_COS: f64 = 0.5;
/// Rounds of averaging, each over one edge, and the angle in degrees from which neighbouring triangles have no part in each
/// other's average: wide while the normals are noisy, then narrow, so that no fillet bleeds into the wall beside it.
const ROUNDS: [(usize, f64); 3] = [(2, 45.0), (2, 25.0), (5, 15.0)];

/// A triangle of an axial wall.
#[derive(Debug, Clone, Copy)]
pub struct WallPatch {
    /// Its centroid.
    pub centre: Point3<f64>,
    /// Smooth outward normal, unit.
    pub normal: Vector3<f64>,
    /// Area seen along the smooth normal, mm²; of a triangle on the rim or on a seam only the wall's share, which noise may
    /// turn negative.
    pub area_mm2: f64,
    /// Area of the triangle as it was scanned, mm².
    pub scanned_mm2: f64,
}

/// The axial walls of a surface, in the order of its triangles. `inside` holds a flag a vertex.
///
/// A triangle on the rim counts by the share of its corners inside, with the normal of a wall triangle beside it that lies
/// inside altogether: where the rim is a floor's, or the uncut surface under it begins, there is none.
pub fn axial_walls(surface: &Surface, inside: &[bool], path: &Vector3<f64>) -> Vec<WallPatch> {
    let faces = Faces::of(surface, inside, path);
    let patch = |triangle: u32| match faces.kind[triangle as usize] {
        Kind::Outside => None,
        Kind::Rim(share) => {
            let mut beside = surface.topology.opposite[triangle as usize].into_iter();
            let wall = beside.find(|&other| other != Topology::NONE && faces.is_wall(other))?;
            Some(WallPatch::of(surface, triangle, faces.normals[wall as usize], share))
        }
        Kind::Wall | Kind::Other => faces.patch_inside(triangle),
    };
    (0..surface.mesh.triangles.len() as u32)
        .into_par_iter()
        .map(patch)
        .collect::<Vec<_>>()
        .into_iter()
        .flatten()
        .collect()
}

/// What a triangle is.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    /// No corner inside the finish line.
    Outside,
    /// Some corners inside: their share.
    Rim(f64),
    /// Inside and steep.
    Wall,
    /// Inside: floor or occlusal surface.
    Other,
}

/// The triangles of a preparation sorted into walls and others.
struct Faces<'a> {
    surface: &'a Surface,
    kind: Vec<Kind>,
    /// One flag a triangle: has a corner at which wall and other surface meet.
    on_seam: Vec<bool>,
    /// Smooth normals, for triangles inside; others keep their own.
    normals: Vec<Vector3<f64>>,
}

impl<'a> Faces<'a> {
    fn of(surface: &'a Surface, inside: &[bool], path: &Vector3<f64>) -> Self {
        let count =
            |corners: &[u32; 3]| match corners.iter().filter(|&&vertex| inside[vertex as usize]).count() {
                0 => Kind::Outside,
                3 => Kind::Other,
                n => Kind::Rim(n as f64 / 3.0),
            };
        let kind: Vec<Kind> = surface.mesh.triangles.iter().map(count).collect();
        let n = kind.len();
        let mut faces =
            Self { surface, kind, on_seam: vec![false; n], normals: surface.triangle_normals.clone() };
        let is_inside = |faces: &Self, triangle: u32| faces.kind[triangle as usize] == Kind::Other;
        let inside: Vec<u32> = (0..n as u32).filter(|&triangle| is_inside(&faces, triangle)).collect();
        for (&triangle, normal) in inside.iter().zip(smooth_normals(surface, &inside)) {
            faces.normals[triangle as usize] = normal;
            if normal.dot(path).abs() < WALL_COS {
                faces.kind[triangle as usize] = Kind::Wall;
            }
        }
        faces.mark_seams();
        // Once more without what lies on the seams, so that neither side bleeds into the other.
        let off_seam: Vec<u32> =
            inside.into_iter().filter(|&triangle| !faces.on_seam[triangle as usize]).collect();
        for (&triangle, normal) in off_seam.iter().zip(smooth_normals(surface, &off_seam)) {
            faces.normals[triangle as usize] = normal;
        }
        faces
    }

    fn mark_seams(&mut self) {
        let n_vertices = self.surface.mesh.vertices.len();
        let (mut has_wall, mut has_other) = (vec![false; n_vertices], vec![false; n_vertices]);
        for (corners, kind) in self.surface.mesh.triangles.iter().zip(&self.kind) {
            for &vertex in corners {
                has_wall[vertex as usize] |= *kind == Kind::Wall;
                has_other[vertex as usize] |= *kind == Kind::Other;
            }
        }
        let meet = |vertex: &u32| has_wall[*vertex as usize] && has_other[*vertex as usize];
        self.on_seam = self.surface.mesh.triangles.iter().map(|corners| corners.iter().any(meet)).collect();
    }

    fn is_wall(&self, triangle: u32) -> bool {
        self.kind[triangle as usize] == Kind::Wall
    }

    /// The wall in a triangle that lies inside: all of it, nothing, or its share where wall and other surface meet.
    fn patch_inside(&self, triangle: u32) -> Option<WallPatch> {
        let seam = if self.on_seam[triangle as usize] { self.seam(triangle) } else { None };
        let Some((wall, other)) = seam else {
            let normal = self.normals[triangle as usize];
            return self.is_wall(triangle).then(|| WallPatch::of(self.surface, triangle, normal, 1.0));
        };
        let mut patch = WallPatch::of(self.surface, triangle, wall, 1.0);
        let cosine = wall.dot(&other);
        let along_other = self.vector_area(triangle).dot(&other);
        patch.area_mm2 = (patch.area_mm2 - cosine * along_other) / (1.0 - cosine * cosine);
        if !self.is_wall(triangle) {
            patch.scanned_mm2 = 0.0;
        }
        Some(patch)
    }

    /// Normals of wall and other surface on both sides of a seam, from the triangles near it that do not touch it.
    /// `None` if one side is missing or they do not stand apart.
    fn seam(&self, triangle: u32) -> Option<(Vector3<f64>, Vector3<f64>)> {
        const LEAST_SINE: f64 = 0.2;
        let mut near = self.around(&self.around(&[triangle]));
        near.retain(|&other| !self.on_seam[other as usize]);
        let mean = |is_wall: bool| {
            let side = near.iter().copied().filter(|&other| self.is_wall(other) == is_wall);
            let weighted = side.map(|other| self.normals[other as usize] * self.vector_area(other).norm());
            weighted.sum::<Vector3<f64>>().try_normalize(1e-12)
        };
        let (wall, other) = (mean(true)?, mean(false)?);
        (wall.cross(&other).norm() > LEAST_SINE).then_some((wall, other))
    }

    /// The triangles inside that share a corner with one of `triangles`, in order.
    fn around(&self, triangles: &[u32]) -> Vec<u32> {
        let surface = self.surface;
        // Each corner once: a vertex is shared by six triangles.
        let mut corners: Vec<u32> =
            triangles.iter().flat_map(|&triangle| surface.mesh.triangles[triangle as usize]).collect();
        corners.sort_unstable();
        corners.dedup();
        let users = corners.iter().flat_map(|&vertex| surface.topology.vertex_triangles(vertex));
        let mut near: Vec<u32> = users.copied().collect();
        near.retain(|&triangle| matches!(self.kind[triangle as usize], Kind::Wall | Kind::Other));
        near.sort_unstable();
        near.dedup();
        near
    }

    fn vector_area(&self, triangle: u32) -> Vector3<f64> {
        let [a, b, c] = self.surface.mesh.corners(triangle);
        0.5 * (b - a).cross(&(c - a))
    }
}

impl WallPatch {
    fn of(surface: &Surface, triangle: u32, normal: Vector3<f64>, share: f64) -> Self {
        let [a, b, c] = surface.mesh.corners(triangle);
        let vector_area = 0.5 * (b - a).cross(&(c - a));
        Self {
            centre: Point3::from((a.coords + b.coords + c.coords) / 3.0),
            normal,
            area_mm2: share * vector_area.dot(&normal),
            scanned_mm2: share * vector_area.norm(),
        }
    }
}

/// Normals of the chosen triangles, averaged over neighbours among them that face nearly the same way.
fn smooth_normals(surface: &Surface, chosen: &[u32]) -> Vec<Vector3<f64>> {
    let mut place = vec![u32::MAX; surface.mesh.triangles.len()];
    for (k, &triangle) in chosen.iter().enumerate() {
        place[triangle as usize] = k as u32;
    }
    let areas: Vec<f64> = chosen
        .iter()
        .map(|&triangle| {
            let [a, b, c] = surface.mesh.corners(triangle);
            0.5 * (b - a).cross(&(c - a)).norm()
        })
        .collect();
    let neighbours: Vec<[u32; 3]> = chosen
        .iter()
        .map(|&triangle| {
            surface.topology.opposite[triangle as usize].map(|other| match other {
                Topology::NONE => u32::MAX,
                other => place[other as usize],
            })
        })
        .collect();
    let own: Vec<Vector3<f64>> =
        chosen.iter().map(|&triangle| surface.triangle_normals[triangle as usize]).collect();
    let (rounds, first) = weigh(&own, &areas, &neighbours);
    // Averaged again is what the average missed: between a round floor and the wall above it that is what has bled over.
    let missed: Vec<Vector3<f64>> = own.iter().zip(&first).map(|(own, mean)| own - mean).collect();
    let missed = rounds.iter().fold(missed, |field, weights| averaged(&field, &neighbours, weights));
    let whole = first.iter().zip(&missed).map(|(mean, missed)| mean + missed);
    whole.zip(&own).map(|(normal, own)| normal.try_normalize(1e-12).unwrap_or(*own)).collect()
}

/// Averages round after round; the weights of each round (own first, then the three neighbours') and the last average.
fn weigh(
    own: &[Vector3<f64>],
    areas: &[f64],
    neighbours: &[[u32; 3]],
) -> (Vec<Vec<[f64; 4]>>, Vec<Vector3<f64>>) {
    let (mut normals, mut rounds) = (own.to_vec(), Vec::new());
    for apart_deg in ROUNDS.iter().flat_map(|&(n, apart_deg)| std::iter::repeat_n(apart_deg, n)) {
        let limit = 1.0 - apart_deg.to_radians().cos();
        let of = |k: usize| {
            let weight = |other: u32| {
                let Some(normal) = normals.get(other as usize) else { return 0.0 };
                let apart = (1.0 - normals[k].dot(normal)) / limit;
                areas[other as usize] * (1.0 - apart * apart).max(0.0).powi(2)
            };
            let [a, b, c] = neighbours[k].map(weight);
            let sum = areas[k] + a + b + c;
            if sum > 0.0 { [areas[k], a, b, c].map(|weight| weight / sum) } else { [1.0, 0.0, 0.0, 0.0] }
        };
        let weights: Vec<[f64; 4]> = (0..normals.len()).into_par_iter().map(of).collect();
        let next = averaged(&normals, neighbours, &weights);
        let unit =
            |(normal, own): (&Vector3<f64>, &Vector3<f64>)| normal.try_normalize(1e-12).unwrap_or(*own);
        normals = next.iter().zip(&normals).map(unit).collect();
        rounds.push(weights);
    }
    (rounds, normals)
}

/// One round of averaging with given weights.
fn averaged(field: &[Vector3<f64>], neighbours: &[[u32; 3]], weights: &[[f64; 4]]) -> Vec<Vector3<f64>> {
    let mean = |k: usize| {
        let sides = neighbours[k].iter().zip(&weights[k][1..]);
        let beside = sides.filter(|(_, weight)| **weight > 0.0);
        beside.fold(field[k] * weights[k][0], |sum, (&other, weight)| sum + field[other as usize] * *weight)
    };
    (0..field.len()).into_par_iter().map(mean).collect()
}
