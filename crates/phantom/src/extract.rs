//! From an exact body to triangles, as a scanner would: on a lattice that knows nothing of the body's edges.
//!
//! Every lattice cell that the surface crosses gets one vertex per sheet of surface in it, and every lattice edge
//! that the surface crosses gets two triangles between the four cells around it (the dual of marching cubes,
//! Nielson 2004). The vertices are then evened out along the surface and brought onto it exactly.

use std::collections::HashMap;

use kerfwright_mesh::Mesh;
use nalgebra::{Isometry3, Point3, Vector3};
use rayon::prelude::*;

use crate::field::{Field, project};

/// Where and how finely to take a surface.
#[derive(Debug, Clone)]
pub struct Lattice {
    /// Cell size, mm; the median triangle edge comes out close to it.
    pub cell_mm: f64,
    /// Turn and shift of the lattice against the body.
    pub body_from_lattice: Isometry3<f64>,
    /// Half the size of the cube around the lattice's origin that is searched, mm.
    pub half_size_mm: f64,
    /// Rounds of evening out.
    pub relaxations: usize,
}

/// Cells of a smallest block along one axis.
const BLOCK: usize = 4;
const NODES: usize = BLOCK + 1;
/// How fast a field may grow, with a reserve; see [`Field`].
const STEEPEST: f64 = 1.35;

/// The surface of `body` where `window` is negative: exact vertices, and their outward unit normals.
pub fn extract<B: Field, W: Field>(body: &B, window: &W, lattice: &Lattice) -> (Mesh, Vec<Vector3<f64>>) {
    let mut blocks = Vec::new();
    let blocks_across = (2.0 * lattice.half_size_mm / (lattice.cell_mm * BLOCK as f64)).ceil() as u32;
    let root = blocks_across.next_power_of_two() as i32;
    find_blocks(body, window, lattice, [-root / 2; 3], root, &mut blocks);
    let table = SheetTable::new();
    let parts: Vec<Part> = blocks.par_iter().map(|&b| Part::new(body, lattice, &table, b)).collect();
    let (vertices, triangles) = join(&parts, &table);
    let mut mesh = finish(body, window, lattice, vertices, triangles);
    let normals: Vec<_> = mesh.vertices.par_iter().map(|v| body.normal(v)).collect();
    let kept = drop_unseen(body, lattice, &mut mesh, &normals);
    (mesh, kept.into_iter().map(|old| normals[old]).collect())
}

/// Pieces with fewer triangles than this are crumbs of a gap.
const LEAST_PIECE: u32 = 40;

/// Takes away what no scanner sees: the walls of gaps narrower than the lattice, as at a contact between teeth.
///
/// A wall of such a gap has another wall right in front of it that faces it.
fn drop_unseen<B: Field>(
    body: &B,
    lattice: &Lattice,
    mesh: &mut Mesh,
    normals: &[Vector3<f64>],
) -> Vec<usize> {
    let reach = 0.7 * lattice.cell_mm;
    let faced = |(v, normal): (&Point3<f64>, &Vector3<f64>)| {
        let ahead = v + normal * reach;
        body.value(&ahead) < 0.0 && body.normal(&ahead).dot(normal) < -0.6
    };
    let hidden: Vec<bool> = mesh.vertices.par_iter().zip(normals).map(faced).collect();
    let kept = crate::tidy::drop_vertices(mesh, |i| hidden[i]);
    let crumbs = crate::tidy::in_small_pieces(mesh, LEAST_PIECE);
    let kept_again = crate::tidy::drop_vertices(mesh, |i| crumbs[i]);
    kept_again.into_iter().map(|i| kept[i]).collect()
}

/// Blocks that the surface may cross, found by halving space.
fn find_blocks<B: Field, W: Field>(
    body: &B,
    window: &W,
    lattice: &Lattice,
    corner: [i32; 3],
    size: i32,
    found: &mut Vec<[i32; 3]>,
) {
    let block_mm = lattice.cell_mm * BLOCK as f64;
    let centre = corner.map(|c| (f64::from(c) + 0.5 * f64::from(size)) * block_mm);
    let p = lattice.body_from_lattice * Point3::from(centre);
    let reach = STEEPEST * 0.5 * 3f64.sqrt() * f64::from(size) * block_mm;
    if window.value(&p) > reach || body.value(&p).abs() > reach {
        return;
    }
    if size == 1 {
        found.push(corner);
        return;
    }
    let half = size / 2;
    for octant in 0..8 {
        let child = std::array::from_fn(|axis| corner[axis] + half * (octant >> axis & 1));
        find_blocks(body, window, lattice, child, half, found);
    }
}

/// Which of a cell's twelve edges belong to the same sheet of surface, for each pattern of its eight corners.
///
/// Edge `4·axis + b + 2·c` runs along `axis` at offsets `b`, `c` along the next two axes.
struct SheetTable {
    sheet_of_edge: Vec<[u8; 12]>,
    n_sheets: [u8; 256],
}

impl SheetTable {
    fn new() -> Self {
        let mut n_sheets = [0; 256];
        let sheet_of_edge = (0..256usize)
            .map(|pattern| {
                let (sheets, n) = sheets(pattern);
                n_sheets[pattern] = n;
                sheets
            })
            .collect();
        Self { sheet_of_edge, n_sheets }
    }
}

fn edge_corners(edge: usize) -> (usize, usize) {
    let (axis, b, c) = (edge / 4, edge & 1, edge >> 1 & 1);
    let low = b << ((axis + 1) % 3) | c << ((axis + 2) % 3);
    (low, low | 1 << axis)
}

fn crosses(pattern: usize, edge: usize) -> bool {
    let (a, b) = edge_corners(edge);
    (pattern >> a & 1) != (pattern >> b & 1)
}

/// Joins crossed edges face by face; a face with four crossings separates its two inside corners.
fn sheets(pattern: usize) -> ([u8; 12], u8) {
    let mut group: [usize; 12] = std::array::from_fn(|i| i);
    let mut join = |a: usize, b: usize| {
        let (old, new) = (group[a], group[b]);
        group.iter_mut().filter(|g| **g == old).for_each(|g| *g = new);
    };
    for face in 0..6 {
        let (axis, side) = (face / 2, face & 1);
        let (b_axis, c_axis) = ((axis + 1) % 3, (axis + 2) % 3);
        let along_b = [0, 1].map(|c| b_axis * 4 + c + 2 * side);
        let along_c = [0, 1].map(|b| c_axis * 4 + side + 2 * b);
        let edges = [along_b[0], along_b[1], along_c[0], along_c[1]];
        let crossed: Vec<_> = edges.into_iter().filter(|&e| crosses(pattern, e)).collect();
        if crossed.len() == 2 {
            join(crossed[0], crossed[1]);
        } else if crossed.len() == 4 {
            for (b, c) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
                let corner = side << axis | b << b_axis | c << c_axis;
                if pattern >> corner & 1 == 1 {
                    join(along_b[c], along_c[b]);
                }
            }
        }
    }
    let mut numbers: Vec<usize> = (0..12).filter(|&e| crosses(pattern, e)).map(|e| group[e]).collect();
    numbers.sort_unstable();
    numbers.dedup();
    let number = |e: usize| numbers.iter().position(|&n| n == group[e]).unwrap_or(0) as u8;
    (std::array::from_fn(number), numbers.len() as u8)
}

/// What one block contributes: its crossed cells with their vertices, and its crossed edges.
struct Part {
    cells: Vec<([i32; 3], u8)>,
    vertices: Vec<Point3<f64>>,
    edges: Vec<([i32; 3], u8, bool)>,
}

impl Part {
    fn new(body: &impl Field, lattice: &Lattice, table: &SheetTable, block: [i32; 3]) -> Self {
        let base = block.map(|b| b * BLOCK as i32);
        let at = |node: [usize; 3]| -> [i32; 3] { std::array::from_fn(|k| base[k] + node[k] as i32) };
        let place = |node: [i32; 3]| Point3::from(node.map(|n| f64::from(n) * lattice.cell_mm));
        let mut values = [[[0.0; NODES]; NODES]; NODES];
        for node in nodes(NODES) {
            let p = lattice.body_from_lattice * place(at(node));
            values[node[2]][node[1]][node[0]] = body.value(&p);
        }
        let value = |node: [usize; 3]| values[node[2]][node[1]][node[0]];
        let mut part = Self { cells: Vec::new(), vertices: Vec::new(), edges: Vec::new() };
        for node in nodes(BLOCK) {
            let corner = |c: usize| [node[0] + (c & 1), node[1] + (c >> 1 & 1), node[2] + (c >> 2)];
            let corner_values: [f64; 8] = std::array::from_fn(|c| value(corner(c)));
            let pattern = (0..8).filter(|&c| corner_values[c] < 0.0).fold(0, |p, c| p | 1 << c);
            if pattern == 0 || pattern == 255 {
                continue;
            }
            part.add_cell(lattice, table, at(node), pattern, &corner_values);
            for axis in 0..3 {
                let (inside, beyond) = (corner_values[0] < 0.0, corner_values[1 << axis] < 0.0);
                if inside != beyond {
                    part.edges.push((at(node), axis as u8, inside));
                }
            }
        }
        part
    }

    /// One vertex per sheet, at the mean of the sheet's crossings.
    fn add_cell(
        &mut self,
        lattice: &Lattice,
        table: &SheetTable,
        cell: [i32; 3],
        pattern: usize,
        values: &[f64; 8],
    ) {
        self.cells.push((cell, pattern as u8));
        for sheet in 0..table.n_sheets[pattern] {
            let mut sum = Vector3::zeros();
            let mut n = 0.0;
            for edge in (0..12).filter(|&e| crosses(pattern, e) && table.sheet_of_edge[pattern][e] == sheet) {
                let (a, b) = edge_corners(edge);
                let t = values[a] / (values[a] - values[b]);
                let mut offset = Vector3::new((a & 1) as f64, (a >> 1 & 1) as f64, (a >> 2) as f64);
                offset[edge / 4] += t;
                sum += offset;
                n += 1.0;
            }
            let p = Vector3::from(cell.map(f64::from)) + sum / n;
            self.vertices.push(lattice.body_from_lattice * Point3::from(p * lattice.cell_mm));
        }
    }
}

fn nodes(n: usize) -> impl Iterator<Item = [usize; 3]> {
    (0..n * n * n).map(move |i| [i % n, i / n % n, i / (n * n)])
}

/// Numbers all vertices in block order and makes the triangles.
fn join(parts: &[Part], table: &SheetTable) -> (Vec<Point3<f64>>, Vec<[u32; 3]>) {
    let mut vertices = Vec::new();
    let mut first_of_cell = HashMap::new();
    for part in parts {
        let mut next = vertices.len() as u32;
        for &(cell, pattern) in &part.cells {
            first_of_cell.insert(cell, (next, pattern));
            next += u32::from(table.n_sheets[pattern as usize]);
        }
        vertices.extend_from_slice(&part.vertices);
    }
    let vertex = |cell: [i32; 3], edge: usize| {
        let (first, pattern) = first_of_cell.get(&cell)?;
        Some(first + u32::from(table.sheet_of_edge[*pattern as usize][edge]))
    };
    let mut triangles = Vec::new();
    for &(node, axis, inside) in parts.iter().flat_map(|part| &part.edges) {
        let axis = axis as usize;
        // The four cells around the edge, counter-clockwise seen from its far end.
        let corners = [(1, 1), (0, 1), (0, 0), (1, 0)].map(|(b, c): (i32, i32)| {
            let mut cell = node;
            cell[(axis + 1) % 3] -= b;
            cell[(axis + 2) % 3] -= c;
            vertex(cell, axis * 4 + (b + 2 * c) as usize)
        });
        let [Some(p), Some(q), Some(r), Some(s)] = corners else { continue };
        let [p, q, r, s] = if inside { [p, q, r, s] } else { [p, s, r, q] };
        let length2 = |a: u32, b: u32| {
            let (a, b): (Point3<f64>, Point3<f64>) = (vertices[a as usize], vertices[b as usize]);
            (a - b).norm_squared()
        };
        if length2(p, r) <= length2(q, s) {
            triangles.extend([[p, q, r], [p, r, s]]);
        } else {
            triangles.extend([[q, r, s], [q, s, p]]);
        }
    }
    (vertices, triangles)
}

/// Brings vertices onto the surface, evens them out, keeps the window, flips edges where that helps.
fn finish<B: Field, W: Field>(
    body: &B,
    window: &W,
    lattice: &Lattice,
    vertices: Vec<Point3<f64>>,
    triangles: Vec<[u32; 3]>,
) -> Mesh {
    let reach = 1.5 * lattice.cell_mm;
    let mut mesh = keep_window(window, Mesh { vertices, triangles });
    let bring = |p: &Point3<f64>| project(body, p, reach);
    let brought: Vec<_> = mesh.vertices.par_iter().map(&bring).collect();
    let mut lost: Vec<bool> = brought.iter().map(Option::is_none).collect();
    for (vertex, brought) in mesh.vertices.iter_mut().zip(brought) {
        *vertex = brought.unwrap_or(*vertex);
    }
    for _ in 0..lattice.relaxations {
        let targets = ring_centres(&mesh);
        let moved: Vec<_> = mesh
            .vertices
            .par_iter()
            .zip(&targets)
            .map(|(v, target)| target.and_then(|t| project(body, &(v + (t - v) * 0.6), reach)).unwrap_or(*v))
            .collect();
        mesh.vertices = moved;
        crate::tidy::flip_to_even(&mut mesh);
    }
    // A vertex that never reached the surface (a spike of space narrower than a cell) leaves with its triangles.
    crate::tidy::drop_vertices(&mut mesh, |i| std::mem::take(&mut lost[i]));
    mesh
}

fn keep_window<W: Field>(window: &W, mut mesh: Mesh) -> Mesh {
    let outside: Vec<bool> = mesh.vertices.par_iter().map(|v| window.value(v) > 0.0).collect();
    crate::tidy::drop_vertices(&mut mesh, |i| outside[i]);
    mesh
}

/// The mean of each vertex's neighbours; `None` on the boundary, which stays where it is.
fn ring_centres(mesh: &Mesh) -> Vec<Option<Point3<f64>>> {
    let n = mesh.vertices.len();
    // In a closed fan every neighbour is the head of one directed edge and the tail of another.
    let mut sums = vec![(Vector3::zeros(), 0i32); n];
    let mut balance = vec![0i64; n];
    for t in &mesh.triangles {
        for k in 0..3 {
            let (a, b, c) = (t[k] as usize, t[(k + 1) % 3], t[(k + 2) % 3]);
            sums[a].0 += mesh.vertices[b as usize].coords;
            sums[a].1 += 1;
            balance[a] += i64::from(b) - i64::from(c);
        }
    }
    let centre = |(&(sum, n), &balance): (&(Vector3<f64>, i32), &i64)| {
        (n > 2 && balance == 0).then(|| Point3::from(sum / f64::from(n)))
    };
    sums.iter().zip(&balance).map(centre).collect()
}
