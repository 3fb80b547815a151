//! The uncut crown as a closed body, to cut from, and what is left of it put back into the scan.

use std::collections::BTreeMap;

use kerfwright_geometry::Surface;
use kerfwright_mesh::Mesh;
use manifold_rust::linalg::Vec3;
use manifold_rust::manifold::Manifold;
use manifold_rust::types::{Error, MeshGL64};
use nalgebra::{Point3, Vector3};

use crate::PlanError;
use crate::axes::Axes;
use crate::build::{borders, loops};

/// The crown's own triangles, closed below and where the scan runs on into an adjacent tooth.
pub struct Crown<'a> {
    before: &'a Surface,
    axes: Axes,
    /// The scan's triangles that belong to it.
    own: Vec<usize>,
    /// The scan's vertex under each of the body's first vertices.
    vertices: Vec<u32>,
    places: Vec<Vector3<f64>>,
    /// Own triangles first, then those that close it.
    triangles: Vec<[u32; 3]>,
}

/// The crown after cutting, in the scan's frame.
pub struct Cut {
    /// The scan with what is left of the crown and the new surface.
    pub target: Mesh,
    /// The new surface alone.
    pub new: Mesh,
    /// One flag a vertex of the scan: cut away.
    pub is_cut: Vec<bool>,
    /// Where the new surface meets the uncut one: pairs of neighbouring points.
    pub line: Vec<[Point3<f64>; 2]>,
}

impl<'a> Crown<'a> {
    /// Of the vertices that are flagged.
    pub fn new(before: &'a Surface, axes: Axes, flags: &[bool]) -> Result<Self, PlanError> {
        let own = own_triangles(before, flags)?;
        let mut number = BTreeMap::new();
        let mut vertices = Vec::new();
        let mut triangles = Vec::with_capacity(own.len());
        for &triangle in &own {
            triangles.push(before.mesh.triangles[triangle].map(|vertex| {
                *number.entry(vertex).or_insert_with(|| {
                    vertices.push(vertex);
                    vertices.len() as u32 - 1
                })
            }));
        }
        let mut places: Vec<Vector3<f64>> =
            vertices.iter().map(|&vertex| axes.at(&before.mesh.vertices[vertex as usize])).collect();
        let rims = loops(&borders(&triangles));
        let lowest =
            |rim: &Vec<u32>| rim.iter().map(|&at| places[at as usize].z).fold(f64::INFINITY, f64::min);
        let below = rims.iter().map(lowest).enumerate().min_by(|a, b| a.1.total_cmp(&b.1));
        let Some((below, lowest_mm)) = below else {
            return Err(not_joined("the crown has no rim at the gingiva"));
        };
        for (k, rim) in rims.iter().enumerate() {
            let sum: Vector3<f64> = rim.iter().map(|&at| places[at as usize]).sum();
            let mut middle = sum / rim.len() as f64;
            if k == below {
                middle.z = lowest_mm - 1.0;
            }
            let centre = places.len() as u32;
            places.push(middle);
            triangles.extend((0..rim.len()).map(|j| [rim[(j + 1) % rim.len()], rim[j], centre]));
        }
        Ok(Self { before, axes, own, vertices, places, triangles })
    }

    /// Lowest and highest coordinates.
    pub fn bounds(&self) -> [Vector3<f64>; 2] {
        let own = &self.places[..self.vertices.len()];
        own.iter()
            .fold([Vector3::repeat(f64::INFINITY), Vector3::repeat(f64::NEG_INFINITY)], |[low, high], at| {
                [low.inf(at), high.sup(at)]
            })
    }

    /// Takes `cutter` away.
    pub fn less(&self, cutter: &Manifold) -> Result<Cut, PlanError> {
        let id = Manifold::reserve_ids(1);
        let body = self.body(id)?;
        let left = body.difference(cutter);
        if left.status() != Error::NoError || left.is_empty() {
            return Err(not_joined(&format!("the crown cannot be cut ({:?})", left.status())));
        }
        Ok(self.put_back(&Left::new(&left.get_mesh_gl64(-1), id)))
    }

    fn body(&self, id: u32) -> Result<Manifold, PlanError> {
        let gl = MeshGL64 {
            num_prop: 3,
            vert_properties: self.places.iter().flat_map(|at| [at.x, at.y, at.z]).collect(),
            tri_verts: self.triangles.iter().flatten().map(|&vertex| u64::from(vertex)).collect(),
            run_original_id: vec![id],
            run_index: vec![0, 3 * self.triangles.len() as u64],
            // Triangles that are told apart are not merged where they lie in one plane.
            face_id: (0..self.triangles.len() as u64).collect(),
            ..MeshGL64::default()
        };
        let body = Manifold::from_mesh_gl64(&gl);
        if body.status() != Error::NoError {
            return Err(not_joined(&format!("the crown's surface cannot be closed ({:?})", body.status())));
        }
        Ok(body)
    }

    fn put_back(&self, left: &Left) -> Cut {
        let known: BTreeMap<[u64; 3], u32> =
            self.vertices.iter().enumerate().map(|(k, &vertex)| (bits(&self.places[k]), vertex)).collect();
        let mut is_own = vec![false; self.before.mesh.triangles.len()];
        self.own.iter().for_each(|&triangle| is_own[triangle] = true);
        let kept = (0..is_own.len()).filter(|&triangle| !is_own[triangle]);
        let mut target = Mesh {
            vertices: self.before.mesh.vertices.clone(),
            triangles: kept.map(|triangle| self.before.mesh.triangles[triangle]).collect(),
        };
        let mut is_cut = vec![false; target.vertices.len()];
        self.vertices.iter().for_each(|&vertex| is_cut[vertex as usize] = true);
        target.triangles.iter().flatten().for_each(|&vertex| is_cut[vertex as usize] = false);
        let numbers: Vec<u32> = left
            .places
            .iter()
            .map(|place| match known.get(&bits(place)) {
                Some(&vertex) => {
                    is_cut[vertex as usize] = false;
                    vertex
                }
                None => {
                    target.vertices.push(self.axes.point(place));
                    target.vertices.len() as u32 - 1
                }
            })
            .collect();
        let mut new = Vec::new();
        let mut uncut = Vec::new();
        for (corners, part) in &left.triangles {
            let corners = corners.map(|vertex| numbers[vertex as usize]);
            match part {
                Part::Crown(triangle) if *triangle < self.own.len() => uncut.push(corners),
                Part::Crown(_) => {}
                Part::Cutter => new.push(corners),
            }
        }
        let line = shared(&new, &uncut).into_iter().map(|edge| edge.map(|at| target.vertices[at as usize]));
        let line = line.collect();
        let new_mesh = tidy(&Mesh { vertices: target.vertices.clone(), triangles: new.clone() });
        target.triangles.extend(uncut);
        target.triangles.extend(new);
        Cut { target: tidy(&target), new: new_mesh, is_cut, line }
    }
}

/// What came out of the cut, corner by corner.
struct Left {
    places: Vec<Vector3<f64>>,
    triangles: Vec<([u32; 3], Part)>,
}

enum Part {
    /// By its number among the crown's triangles.
    Crown(usize),
    Cutter,
}

impl Left {
    fn new(out: &MeshGL64, crown_id: u32) -> Self {
        let n = out.num_prop as usize;
        let places: Vec<Vector3<f64>> =
            out.vert_properties.chunks(n).map(|at| Vector3::new(at[0], at[1], at[2])).collect();
        // Corners that share a place are one, whatever they came from.
        let mut first = BTreeMap::new();
        let numbers: Vec<u32> =
            places.iter().enumerate().map(|(k, at)| *first.entry(bits(at)).or_insert(k as u32)).collect();
        let run_of = |corner: usize| out.run_index.partition_point(|&start| start as usize <= corner) - 1;
        let triangles = (0..out.tri_verts.len() / 3).map(|k| {
            let corners = [0, 1, 2].map(|corner| numbers[out.tri_verts[3 * k + corner] as usize]);
            let is_crown = out.run_original_id[run_of(3 * k)] == crown_id;
            (corners, if is_crown { Part::Crown(out.face_id[k] as usize) } else { Part::Cutter })
        });
        Self { triangles: triangles.collect(), places }
    }
}

/// The triangles all of whose corners are flagged, without those that hang on by a corner alone.
fn own_triangles(before: &Surface, flags: &[bool]) -> Result<Vec<usize>, PlanError> {
    const ROUNDS: usize = 12;
    let all = &before.mesh.triangles;
    let mut flags = flags.to_vec();
    for _ in 0..ROUNDS {
        let own: Vec<usize> =
            (0..all.len()).filter(|&triangle| all[triangle].iter().all(|&at| flags[at as usize])).collect();
        let triangles: Vec<[u32; 3]> = own.iter().map(|&triangle| all[triangle]).collect();
        let pinched: Vec<u32> =
            borders(&triangles).into_iter().filter(|(_, to)| to.len() > 1).map(|(at, _)| at).collect();
        if pinched.is_empty() {
            return Ok(own);
        }
        pinched.into_iter().for_each(|at| flags[at as usize] = false);
    }
    Err(not_joined("the scan's surface branches there"))
}

/// Edges of the first that the second has the other way round.
fn shared(first: &[[u32; 3]], second: &[[u32; 3]]) -> Vec<[u32; 2]> {
    let edges = |triangles: &[[u32; 3]]| -> Vec<[u32; 2]> {
        triangles.iter().flat_map(|t| [[t[0], t[1]], [t[1], t[2]], [t[2], t[0]]]).collect()
    };
    let there: std::collections::BTreeSet<[u32; 2]> = edges(second).into_iter().collect();
    edges(first).into_iter().filter(|&[from, to]| there.contains(&[to, from])).collect()
}

/// Without vertices that no triangle has.
fn tidy(mesh: &Mesh) -> Mesh {
    let mut number = vec![u32::MAX; mesh.vertices.len()];
    let mut out = Mesh::default();
    for corners in &mesh.triangles {
        out.triangles.push(corners.map(|at| {
            let number = &mut number[at as usize];
            if *number == u32::MAX {
                *number = out.vertices.len() as u32;
                out.vertices.push(mesh.vertices[at as usize]);
            }
            *number
        }));
    }
    out
}

fn bits(at: &Vector3<f64>) -> [u64; 3] {
    [at.x.to_bits(), at.y.to_bits(), at.z.to_bits()]
}

fn not_joined(because: &str) -> PlanError {
    PlanError::NotJoined { because: because.into() }
}

/// As the solids' library writes it.
pub fn vec3(at: &Vector3<f64>) -> Vec3 {
    Vec3::new(at.x, at.y, at.z)
}
