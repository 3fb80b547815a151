//! What a scanner does not deliver: a ragged border, surface it cannot see into, and triangles saved on flat places.

use kerfwright_mesh::Mesh;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::effects::Wave;
use crate::field::Field;
use crate::rng::Rng;
use crate::tidy::drop_vertices;

/// Step along the line of sight, mm: thinner things are no teeth.
const SIGHT_STEP_MM: f64 = 0.05;
/// Surface faces other surface when the normals are this far opposed (127° and more): across a contact, not a fissure.
const FACING: f64 = -0.6;
/// Neighbouring normals within 12° of each other are flat enough to save triangles.
const FLAT: f64 = 0.978;

/// Takes an uneven strip off the border, nothing in some places and `depth_mm` in others.
pub fn ragged_border(
    mesh: &mut Mesh,
    normals: &mut Vec<Vector3<f64>>,
    window: &impl Field,
    depth_mm: f64,
    rng: &mut Rng,
) {
    if depth_mm == 0.0 {
        return;
    }
    let waves: Vec<Wave> = (0..6)
        .map(|_| {
            let length_mm = rng.between(2.0, 8.0);
            Wave::new(length_mm, rng)
        })
        .collect();
    let bite = |p: &Point3<f64>| {
        let sum: f64 = waves.iter().map(|wave| wave.at(p)).sum();
        depth_mm * (0.5 + 0.3 * sum).clamp(0.0, 1.0)
    };
    let gone: Vec<bool> = mesh.vertices.par_iter().map(|v| window.value(v) > -bite(v)).collect();
    keep(mesh, normals, |i| gone[i]);
}

/// Takes away surface that faces other surface closer than `gap_mm`, as around the contacts between teeth.
pub fn blind_gaps(mesh: &mut Mesh, normals: &mut Vec<Vector3<f64>>, body: &impl Field, gap_mm: f64) {
    if gap_mm == 0.0 {
        return;
    }
    let n_steps = (gap_mm / SIGHT_STEP_MM) as i32;
    let hidden = |(v, normal): (&Point3<f64>, &Vector3<f64>)| {
        let ahead = |i: i32| v + normal * (SIGHT_STEP_MM * f64::from(i));
        (1..=n_steps).map(ahead).any(|p| body.value(&p) < 0.0 && body.normal(&p).dot(normal) < FACING)
    };
    let hidden: Vec<bool> = mesh.vertices.par_iter().zip(&*normals).map(hidden).collect();
    keep(mesh, normals, |i| hidden[i]);
}

/// Merges vertices into neighbours where the surface is flat until `share` of all are gone: flat places keep a few
/// large triangles, curved ones keep theirs. The vertices that stay do not move.
pub fn save_triangles(mesh: &mut Mesh, normals: &mut Vec<Vector3<f64>>, share: f64, rng: &mut Rng) {
    let mut wanted = (share * mesh.vertices.len() as f64) as usize;
    let mut fans = Fans::new(mesh);
    let mut order: Vec<u32> = (0..mesh.vertices.len() as u32).collect();
    for i in (1..order.len()).rev() {
        order.swap(i, (rng.next_u64() % (i as u64 + 1)) as usize);
    }
    // A few sweeps: what was freed by a merge may be merged again.
    for _ in 0..6 {
        for &v in &order {
            if wanted == 0 {
                break;
            }
            wanted -= usize::from(fans.merge(mesh, normals, v));
        }
    }
    let mut used = vec![false; mesh.vertices.len()];
    mesh.triangles.retain(|t| t[0] != t[1]);
    mesh.triangles.iter().flatten().for_each(|&v| used[v as usize] = true);
    keep(mesh, normals, |i| !used[i]);
}

/// The triangles around each vertex, kept up while vertices merge; a triangle that is gone has equal corners.
struct Fans {
    triangles: Vec<Vec<u32>>,
}

impl Fans {
    fn new(mesh: &Mesh) -> Self {
        let mut triangles = vec![Vec::new(); mesh.vertices.len()];
        for (index, t) in mesh.triangles.iter().enumerate() {
            t.iter().for_each(|&v| triangles[v as usize].push(index as u32));
        }
        Self { triangles }
    }

    /// The vertices around `v`, each as often as it is a corner beside `v`, sorted.
    fn ring(&self, mesh: &Mesh, v: u32) -> Vec<u32> {
        let around = self.triangles[v as usize].iter().flat_map(|&t| mesh.triangles[t as usize]);
        let mut ring: Vec<u32> = around.filter(|&w| w != v).collect();
        ring.sort_unstable();
        ring
    }

    /// Merges `v` into its nearest neighbour if surface and connections stay sound.
    fn merge(&mut self, mesh: &mut Mesh, normals: &[Vector3<f64>], v: u32) -> bool {
        let twice = self.ring(mesh, v);
        let mut ring = twice.clone();
        ring.dedup();
        // In a closed fan every neighbour belongs to exactly two triangles.
        let is_closed = twice.len() == 2 * ring.len() && twice.chunks(2).all(|pair| pair[0] == pair[1]);
        let is_flat = ring.iter().all(|&w| normals[w as usize].dot(&normals[v as usize]) > FLAT);
        if ring.len() < 4 || !is_closed || !is_flat {
            return false;
        }
        let at = mesh.vertices[v as usize];
        let away = |w: &u32| (mesh.vertices[*w as usize] - at).norm_squared();
        let Some(&w) = ring.iter().min_by(|a, b| away(a).total_cmp(&away(b))) else { return false };
        let mut other = self.ring(mesh, w);
        other.dedup();
        let shared = ring.iter().filter(|u| other.binary_search(u).is_ok()).count();
        if shared != 2 || !self.stays_sound(mesh, normals, v, w) {
            return false;
        }
        for t in std::mem::take(&mut self.triangles[v as usize]) {
            let corners = mesh.triangles[t as usize];
            if corners.contains(&w) {
                for u in corners.into_iter().filter(|&u| u != v) {
                    self.triangles[u as usize].retain(|&s| s != t);
                }
                mesh.triangles[t as usize] = [v; 3];
            } else {
                mesh.triangles[t as usize] = corners.map(|u| if u == v { w } else { u });
                self.triangles[w as usize].push(t);
            }
        }
        true
    }

    /// No triangle turns by more than 18° against its corners' normals or becomes a sliver.
    fn stays_sound(&self, mesh: &Mesh, normals: &[Vector3<f64>], v: u32, w: u32) -> bool {
        self.triangles[v as usize].iter().map(|&t| mesh.triangles[t as usize]).all(|t| {
            if t.contains(&w) {
                return true;
            }
            let corners = t.map(|u| if u == v { w } else { u });
            let [a, b, c] = corners.map(|u| mesh.vertices[u as usize]);
            let cross = (b - a).cross(&(c - a));
            let longest2 = (b - a).norm_squared().max((c - b).norm_squared()).max((a - c).norm_squared());
            let faces_out = |u: u32| cross.dot(&normals[u as usize]) > 0.95 * cross.norm();
            cross.norm() > 0.2 * longest2 && corners.into_iter().all(faces_out)
        })
    }
}

fn keep(mesh: &mut Mesh, normals: &mut Vec<Vector3<f64>>, drop: impl FnMut(usize) -> bool) {
    let kept = drop_vertices(mesh, drop);
    *normals = kept.into_iter().map(|old| normals[old]).collect();
}

#[cfg(test)]
mod tests {
    use super::*;

    fn edges_mm(mesh: &Mesh) -> Vec<f64> {
        let mut edges: Vec<f64> = (0..mesh.triangles.len() as u32)
            .flat_map(|t| {
                let c = mesh.corners(t);
                [0, 1, 2].map(|k| (c[(k + 1) % 3] - c[k]).norm())
            })
            .collect();
        edges.sort_by(f64::total_cmp);
        edges
    }

    #[test]
    fn triangles_are_saved_on_flats_and_kept_at_edges() {
        let die = crate::bodies::ShoulderDie::default();
        let (mesh, normals) = die.scan(0.2, 3);
        let (mut thin, mut thin_normals) = (mesh.clone(), normals.clone());
        save_triangles(&mut thin, &mut thin_normals, 0.5, &mut Rng::new(1, 1));
        let left = thin.vertices.len() as f64 / mesh.vertices.len() as f64;
        assert!((left - 0.5).abs() < 0.01, "{left}");
        assert_eq!(thin.vertices.len(), thin_normals.len());
        // Closed before, closed after: every edge has its counterpart.
        let mut directed = std::collections::HashSet::new();
        for t in &thin.triangles {
            (0..3).for_each(|k| assert!(directed.insert((t[k], t[(k + 1) % 3])), "an edge is used twice"));
        }
        assert!(directed.iter().all(|&(a, b)| directed.contains(&(b, a))), "the surface was torn");
        let all: std::collections::HashSet<[u64; 3]> =
            mesh.vertices.iter().map(|v| [v.x, v.y, v.z].map(f64::to_bits)).collect();
        assert!(thin.vertices.iter().all(|v| all.contains(&[v.x, v.y, v.z].map(f64::to_bits))));
        let (before, after) = (edges_mm(&mesh), edges_mm(&thin));
        let spread = |e: &[f64]| e[e.len() * 95 / 100] / e[e.len() * 5 / 100];
        assert!(spread(&after) > 1.4 * spread(&before), "{} {}", spread(&after), spread(&before));
        let on_rim = |m: &Mesh| {
            let r = |v: &Point3<f64>| v.x.hypot(v.y);
            m.vertices.iter().filter(|v| v.z.abs() < 0.05 && r(v) > die.outer_radius_mm - 0.05).count()
        };
        assert!(on_rim(&thin) as f64 > 0.8 * on_rim(&mesh) as f64);
    }

    #[test]
    fn gaps_hide_both_their_walls_as_far_as_they_are_narrow() {
        // Two balls 0.2 mm apart: a wall is hidden where the other lies within 0.6 mm along its normal.
        let body = |p: &Point3<f64>| {
            let ball = |x: f64| (p - Point3::new(x, 0.0, 0.0)).norm() - 3.0;
            ball(3.1).min(ball(-3.1))
        };
        let ball = crate::bodies::sphere(3.0, 120);
        let mut normals: Vec<Vector3<f64>> = ball.vertices.iter().map(|v| v.coords.normalize()).collect();
        let vertices = ball.vertices.iter().map(|v| v + Vector3::x() * 3.1).collect();
        let mut mesh = Mesh { vertices, triangles: ball.triangles };
        blind_gaps(&mut mesh, &mut normals, &body, 0.6);
        // Along a normal that leans by `a` the other ball begins where |c + n t| = 3 (c from its centre).
        let seen = |p: &Point3<f64>| {
            let normal = (p - Point3::new(3.1, 0.0, 0.0)).normalize();
            let c = p - Point3::new(-3.1, 0.0, 0.0);
            let b = c.dot(&normal);
            let root = b * b - c.norm_squared() + 9.0;
            root < 0.0 || -b - root.sqrt() > 0.6 || -b - root.sqrt() < 0.0
        };
        assert!(mesh.vertices.iter().all(|v| seen(v) || (v.x - 0.1).abs() > 0.08));
        let least = mesh.vertices.iter().map(|v| v.x).fold(f64::MAX, f64::min);
        assert!(least > 0.12 && least < 0.45, "{least}");
    }
}
