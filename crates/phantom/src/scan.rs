//! From exact surfaces to what a scanner delivers.

use kerfwright_mesh::Mesh;
use nalgebra::{Isometry3, Matrix4, Point3, Translation3, Vector3};

use crate::arch::Arch;
use crate::effects;
use crate::extract::{Lattice, extract};
use crate::field::Field;
use crate::losses;
use crate::phantom::Phantom;
use crate::rng::Rng;

/// What a scanner does to a surface. Every effect is separate, seeded, and off at 0.
#[derive(Debug, Clone, PartialEq)]
pub struct ScanOptions {
    /// Seed of everything random.
    pub seed: u64,
    /// Median triangle edge, mm.
    pub edge_mm: f64,
    /// Standard deviation of independent noise along the normal, mm.
    pub noise_mm: f64,
    /// Standard deviation of noise along the normal that is alike within `smooth_noise_length_mm`.
    pub smooth_noise_mm: f64,
    /// Wavelength of that noise, mm.
    pub smooth_noise_length_mm: f64,
    /// Root mean square of the waves that stitching leaves, other ones in each scan.
    pub warp_mm: f64,
    /// Shortest and longest of those waves. Intraoral scans bend over the whole arch: 40 to 120 mm.
    pub warp_length_mm: [f64; 2],
    /// Rounds of smoothing at sharp edges, as scanning software does it.
    pub edge_smoothing: u32,
    /// Share of vertices that are far off.
    pub spike_share: f64,
    /// How far those are off at most, mm.
    pub spike_mm: f64,
    /// Number of holes in each scan.
    pub holes: u32,
    /// Radius of a hole, mm.
    pub hole_radius_mm: f64,
    /// Number of blobs floating over each scan.
    pub debris: u32,
    /// Depth of the bites that the border is short of.
    pub ragged_border_mm: f64,
    /// Surface that faces other surface closer than this is missing, as around contacts.
    pub blind_gap_mm: f64,
    /// Share of vertices merged away where the surface is flat, which leaves uneven triangles; up to about 0.7.
    pub saved_share: f64,
    /// Put each scan into a frame of its own; otherwise all stay in the tooth's frame (mirrored where the file is).
    pub random_pose: bool,
}

impl Default for ScanOptions {
    /// 0.15 mm edges, 8 µm noise, any pose.
    fn default() -> Self {
        Self {
            seed: 1,
            edge_mm: 0.15,
            noise_mm: 0.008,
            smooth_noise_mm: 0.0,
            smooth_noise_length_mm: 3.0,
            warp_mm: 0.0,
            warp_length_mm: [15.0, 30.0],
            edge_smoothing: 0,
            spike_share: 0.0,
            spike_mm: 0.3,
            holes: 0,
            hole_radius_mm: 0.8,
            debris: 0,
            ragged_border_mm: 0.0,
            blind_gap_mm: 0.0,
            saved_share: 0.0,
            random_pose: true,
        }
    }
}

impl ScanOptions {
    /// Vertices exactly on the surfaces and all scans in the tooth's own frame (mirrored where the file is).
    pub fn exact() -> Self {
        Self { noise_mm: 0.0, random_pose: false, ..Self::default() }
    }

    /// Each effect draws from a stream of its own, so that switching one leaves the others as they were.
    fn apply(&self, mesh: &mut Mesh, normals: &[Vector3<f64>], stream: u64) {
        let rng = |effect: u64| Rng::new(self.seed, stream + effect);
        effects::smooth_edges(mesh, normals, self.edge_smoothing);
        effects::warp(mesh, self.warp_mm, self.warp_length_mm, &mut rng(1));
        effects::smooth_noise(mesh, normals, self.smooth_noise_mm, self.smooth_noise_length_mm, &mut rng(2));
        effects::white_noise(mesh, normals, self.noise_mm, &mut rng(3));
        effects::spikes(mesh, normals, self.spike_share, self.spike_mm, &mut rng(4));
        effects::debris(mesh, normals, self.debris, &mut rng(5));
        effects::holes(mesh, self.holes, self.hole_radius_mm, &mut rng(6));
    }
}

/// Three scans and the frames between them.
///
/// A left-handed tooth frame cannot be reached by a rigid motion, so frames against the tooth are plain matrices.
#[derive(Debug, Clone)]
pub struct Scans {
    /// The unprepared quadrant.
    pub before: Mesh,
    /// The prepared quadrant, in a frame of its own.
    pub after: Mesh,
    /// The jaw opposite, in the frame of `before`.
    pub opposing: Mesh,
    /// From the tooth's frame to that of `before` and `opposing`.
    pub before_from_tooth: Matrix4<f64>,
    /// From the tooth's frame to that of `after`.
    pub after_from_tooth: Matrix4<f64>,
    /// From the frame of the prepared tooth, where it stands after it was put back, to that of `after`; the same as
    /// `after_from_tooth` unless the spec has it sit differently.
    pub after_from_prepared: Matrix4<f64>,
    /// The rigid motion that takes `after` onto `before`.
    pub before_from_after: Isometry3<f64>,
}

impl Scans {
    /// From the frame of `before` to the tooth's.
    pub fn tooth_from_before(&self) -> Matrix4<f64> {
        self.before_from_tooth.try_inverse().unwrap_or_else(Matrix4::identity)
    }

    /// From the frame of `after` to the tooth's.
    pub fn tooth_from_after(&self) -> Matrix4<f64> {
        self.after_from_tooth.try_inverse().unwrap_or_else(Matrix4::identity)
    }
}

pub(crate) fn scan(phantom: &Phantom, options: &ScanOptions) -> Scans {
    let mirror = phantom.fdi.is_left_handed();
    let poses = [1, 2].map(|stream| pose(options, stream));
    let mut window = Window::new(&phantom.arch, options.seed, None);
    window.is_die = phantom.die.is_some();
    let facing = Window::new(&phantom.opposing, options.seed + 1, Some(phantom.opposing_level));
    let before = one(&phantom.before(), &window, options, 10, mirror, &poses[0]);
    let after = one(&phantom.after(), &window, options, 20, mirror, &poses[1]);
    let opposing = one(&phantom.opposing(), &facing, options, 30, mirror, &poses[0]);
    let flip = if mirror {
        Matrix4::new_nonuniform_scaling(&Vector3::new(-1.0, 1.0, 1.0))
    } else {
        Matrix4::identity()
    };
    Scans {
        before,
        after,
        opposing,
        before_from_tooth: poses[0].to_homogeneous() * flip,
        after_from_tooth: poses[1].to_homogeneous() * flip,
        after_from_prepared: poses[1].to_homogeneous() * flip * phantom.remounted().to_homogeneous(),
        before_from_after: poses[0] * poses[1].inverse(),
    }
}

fn one<B: Field>(
    body: &B,
    window: &Window<'_>,
    options: &ScanOptions,
    stream: u64,
    mirror: bool,
    pose: &Isometry3<f64>,
) -> Mesh {
    let (mut mesh, mut normals) = extract(body, window, &window.lattice(options, stream));
    let rng = |effect: u64| Rng::new(options.seed, stream + effect);
    losses::ragged_border(&mut mesh, &mut normals, window, options.ragged_border_mm, &mut rng(7));
    losses::blind_gaps(&mut mesh, &mut normals, body, options.blind_gap_mm);
    if options.saved_share > 0.0 {
        losses::save_triangles(&mut mesh, &mut normals, options.saved_share, &mut rng(8));
    }
    options.apply(&mut mesh, &normals, stream);
    if mirror {
        mesh.vertices.iter_mut().for_each(|v| v.x = -v.x);
        mesh.triangles.iter_mut().for_each(|t| t.swap(1, 2));
    }
    mesh.transformed(pose)
}

fn pose(options: &ScanOptions, stream: u64) -> Isometry3<f64> {
    if !options.random_pose {
        return Isometry3::identity();
    }
    let mut rng = Rng::new(options.seed, stream);
    let shift = Vector3::from_fn(|_, _| rng.between(-25.0, 25.0));
    Isometry3::from_parts(Translation3::from(shift), rng.rotation())
}

/// What the scanner saw: the teeth and some gum, with a wavy edge.
struct Window<'a> {
    arch: &'a Arch,
    /// Set for the opposing jaw: its `z` runs down from here.
    level: Option<f64>,
    /// A die is seen from all sides.
    is_die: bool,
    phases: [f64; 3],
}

impl<'a> Window<'a> {
    fn new(arch: &'a Arch, seed: u64, level: Option<f64>) -> Self {
        let mut rng = Rng::new(seed, 3);
        Self {
            arch,
            level,
            is_die: false,
            phases: std::array::from_fn(|_| rng.between(0.0, std::f64::consts::TAU)),
        }
    }

    /// A lattice turned at random, around the row of teeth.
    fn lattice(&self, options: &ScanOptions, stream: u64) -> Lattice {
        let mut rng = Rng::new(options.seed, stream);
        let (mut centre, reach) = self.arch.middle_and_reach();
        centre.z = 3.0;
        if let Some(level) = self.level {
            centre.z = level - centre.z;
        }
        Lattice {
            // The median edge of the evened mesh is 0.84 cells.
            cell_mm: options.edge_mm / 0.84,
            body_from_lattice: Isometry3::from_parts(Translation3::from(centre), rng.rotation()),
            half_size_mm: reach + 12.0,
            relaxations: 3,
        }
    }
}

impl Field for Window<'_> {
    fn value(&self, p: &Point3<f64>) -> f64 {
        if self.is_die {
            return -1.0;
        }
        let p = self.level.map_or(*p, |level| Point3::new(p.x, p.y, level - p.z));
        let (s, t) = self.arch.along_and_across(&p);
        let (from, to) = self.arch.ends();
        let wave =
            |s: f64, k: f64| 0.5 * (0.55 * s + self.phases[0]).sin() + 0.3 * (k * s + self.phases[1]).sin();
        let half = self.arch.gingiva.as_ref().map_or(6.0, |g| g.half_width_at(s));
        let side = t.abs() - half - 3.6 - wave(s, 1.3 + 0.2 * t.signum());
        let end = (from - 1.8 - s).max(s - to - 1.2) - 0.3 * (0.9 * t + self.phases[2]).sin();
        (0.8 * side).max(0.8 * end).max(-5.0 - p.z)
    }
}
