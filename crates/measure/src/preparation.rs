//! The prepared tooth, found and described: what every reading is taken from.

use kerfwright_geometry::{Surface, noise_mm};
use kerfwright_tooth::{Side, Tooth};
use nalgebra::{Isometry3, Matrix6, Point3, Vector3, Vector6};
use rayon::prelude::*;

use crate::MeasureError;
use crate::arch::{MesialEvidence, Question};
use crate::axial_walls::{WallPatch, axial_walls};
use crate::axis::Axis;
use crate::axis_evidence::tooth_axis;
use crate::document::{Place, rounded_point};
use crate::excursion::JawWishes;
use crate::finish_line::{self, Ring, Uncut, axes};
use crate::frame::Aspect;
use crate::frame::ToothFrame;
use crate::hidden;
use crate::locate;
use crate::outline::Outline;
use crate::partial;
use crate::path::{self, PathChoice};
use crate::region::{Change, reached_from};
use crate::scene::{Near, Placed, Scene};
use crate::section::Section;
use crate::start::{self, Start};
use crate::station::Station;
use crate::stats::add_square;
use crate::zones::{self, Occlusal, OcclusalVertex};

/// A vertex that departs from its neighbourhood by this many times the noise is shape, not noise.
const CREST_IN_NOISE: f64 = 4.5;

/// Stations to each side that share their floors' points.
const FLOOR_POOL: usize = 2;

/// How well the before scan was aligned, at the prepared tooth.
#[derive(Debug, Clone)]
pub struct Pose {
    /// Takes after-scan points into the before scan's frame.
    pub before_from_after: Isometry3<f64>,
    /// Robust RMS on held-out unchanged tooth surface, µm.
    pub residual_um: f64,
    /// Standard uncertainty of the position at the prepared tooth, mm.
    pub sigma_mm: f64,
    /// Standard uncertainty of the rotation, degrees.
    pub sigma_deg: f64,
    /// Share of the common area that the pose explains, percent.
    pub explained_pct: f64,
}

/// What the user said about the attempt.
#[derive(Debug, Clone)]
pub struct Wishes {
    /// The tooth.
    pub tooth: Tooth,
    /// A point on the mesial side, after frame.
    pub mesial_point: Option<Point3<f64>>,
    /// Which path the readings refer to.
    pub path: PathChoice,
    /// Whether the opposing scan shares the after scan's frame (else the before scan's).
    pub opposing_shares_after: bool,
    /// How the lower jaw moves.
    pub jaw: JawWishes,
}

/// A prepared tooth with everything that readings are taken from. All in the after scan's frame.
#[derive(Debug, Clone)]
pub struct Preparation<'scan> {
    /// The scans.
    pub scene: Scene<'scan>,
    /// How the before scan was aligned, if there is one.
    pub pose: Option<Pose>,
    /// The tooth.
    pub tooth: Tooth,
    /// Its frame; `occlusal` is the tooth's axis.
    pub frame: ToothFrame,
    /// What the axis rests on.
    pub axis: Axis,
    /// What the direction of mesial rests on.
    pub mesial: MesialEvidence,
    /// The path of placement, unit.
    pub path: Vector3<f64>,
    /// Whether the path was found, taken from the axis, or given.
    pub path_choice: PathChoice,
    /// The finish line.
    pub ring: Ring,
    /// What the sections say, one station a ring point.
    pub stations: Vec<Station>,
    /// The change against the before scan.
    pub change: Option<Change>,
    /// One flag a vertex of the after scan: lies on the prepared surface inside the finish line.
    pub inside: Vec<bool>,
    /// The axial walls inside the finish line.
    pub axial_walls: Vec<WallPatch>,
    /// A third of the area of the triangles around each vertex, mm².
    pub vertex_area_mm2: Vec<f64>,
    /// Scan noise, 1 sigma along the normal, mm.
    pub noise_mm: f64,
    /// Median edge length on the prepared surface, mm.
    pub edge_mm: f64,
    /// The occlusal surface and its zones.
    pub occlusal: Occlusal,
    /// What meets the opposing teeth: the occlusal surface up to its very edge; on a front tooth the incisal edge and the
    /// lingual fossa as well, however steep.
    pub bite: Vec<OcclusalVertex>,
    /// The nearest point of the opposing teeth to each vertex of the bite, jaws closed; empty where they cannot be used.
    pub opposite: Vec<Option<Near>>,
    /// Whether the finish line was sought in the after scan's shape alone, though there is a before scan: on a tooth that
    /// sits differently than before the change between the scans does not end at the finish line.
    pub edge_from_shape: bool,
    /// The surfaces without an axial wall, on a tooth covered in part.
    pub uncovered: Vec<Aspect>,
    /// Whether the top alone is cut, so that `ring` is the rim of that cut and no finish line: see [`crate::early`].
    pub is_early: bool,
    /// Whether the opposing scan shares the after scan's frame.
    pub opposing_shares_after: bool,
    /// Why the opposing scan cannot be used, if so.
    pub opposing_fault: Option<String>,
    /// How the lower jaw moves.
    pub jaw: JawWishes,
    /// Things the user should know.
    pub warnings: Vec<String>,
}

/// A tooth that was found, before it is known how it lies in the arch.
pub(crate) struct Found {
    pub change: Option<Change>,
    pub noise_mm: f64,
    pub axis: Axis,
    pub ring: Ring,
    pub edge_from_shape: bool,
    pub warnings: Vec<String>,
}

impl<'scan> Preparation<'scan> {
    /// Finds the prepared tooth in aligned scans.
    ///
    /// # Errors
    /// See [`MeasureError`]: no prepared tooth, an open finish line, mesial unknown.
    pub fn find(
        scene: Scene<'scan>,
        pose: Option<Pose>,
        wishes: &Wishes,
        write_point: &dyn Fn(&Point3<f64>) -> String,
    ) -> Result<Self, MeasureError> {
        Self::find_at(None, scene, pose, wishes, write_point)
    }

    /// The same for a tooth of which it is known where it stands.
    pub(crate) fn find_at(
        start: Option<&Start>,
        scene: Scene<'scan>,
        pose: Option<Pose>,
        wishes: &Wishes,
        write_point: &dyn Fn(&Point3<f64>) -> String,
    ) -> Result<Self, MeasureError> {
        let after = scene.after;
        let noise_mm = scan_noise(after);
        let mut warnings = Vec::new();
        let change = scene.before.as_ref().map(|before| Change::between(after, before, noise_mm));
        let start = match start {
            Some(start) => start.clone(),
            None => {
                let (start, n_left_out) =
                    start::find_one(after, change.as_ref(), wishes.mesial_point.as_ref())?;
                if n_left_out > 0 {
                    warnings.push(format!("{n_left_out} more cut regions were left out of this measurement"));
                }
                start
            }
        };
        let (guess, first_up) = (start.outline, start.up);
        let (first, edge_from_shape) = first_ring(&scene, &guess, &first_up, noise_mm)?;
        let by_shape = edge_from_shape || scene.before.is_none();
        let first_up = if by_shape { first.up } else { first_up };
        let uncut = uncut(&scene, edge_from_shape);
        let mut axis = tooth_axis(&scene, &first, &first_up);
        if wishes.tooth.is_front() {
            // Lingual slopes and a scalloped gum pull all evidence the same way (from phantom scans).
            const ALIKE_DEG: f64 = 3.0;
            axis.sigma_deg = axis.sigma_deg.hypot(ALIKE_DEG);
        }
        let ring = finish_line::adjust(after, uncut, &first, &axis.direction, noise_mm)?;
        let around = ring.points.clone();
        let found = Found { change, noise_mm, axis, ring, edge_from_shape, warnings };
        let mut preparation = Self::of(found, &around, scene, pose, wishes, write_point)?;
        preparation.settle(uncut)?;
        Ok(preparation)
    }

    /// A preparation of which nothing is read yet. `around` is a line round the tooth, over which its neighbours are sought.
    pub(crate) fn of(
        found: Found,
        around: &[Point3<f64>],
        scene: Scene<'scan>,
        pose: Option<Pose>,
        wishes: &Wishes,
        write_point: &dyn Fn(&Point3<f64>) -> String,
    ) -> Result<Self, MeasureError> {
        let Found { change, noise_mm, axis, ring, edge_from_shape, warnings } = found;
        let question = Question {
            after: scene.after,
            tooth: wishes.tooth,
            centre: finish_line::Ring::through(around, &axis.direction).centre(),
            axis: axis.direction,
            finish_line: around,
            mesial_point: wishes.mesial_point,
            write_point,
        };
        let mesial = question.mesial()?;
        let frame = tooth_frame(&ring, &axis, &mesial, wishes.tooth);
        let mut preparation = Self {
            scene,
            pose,
            tooth: wishes.tooth,
            frame,
            path: axis.direction,
            path_choice: wishes.path,
            axis,
            mesial,
            ring,
            stations: Vec::new(),
            change,
            inside: Vec::new(),
            axial_walls: Vec::new(),
            vertex_area_mm2: crate::region::vertex_areas(scene.after),
            noise_mm,
            edge_mm: 0.0,
            occlusal: Occlusal::default(),
            bite: Vec::new(),
            opposite: Vec::new(),
            uncovered: Vec::new(),
            is_early: false,
            edge_from_shape,
            opposing_shares_after: wishes.opposing_shares_after,
            opposing_fault: None,
            jaw: wishes.jaw.clone(),
            warnings,
        };
        preparation.check_opposing();
        Ok(preparation)
    }

    /// The same preparation, read along another path.
    ///
    /// # Errors
    /// The finish line cannot be followed along it.
    pub fn along(&self, path: PathChoice) -> Result<Self, MeasureError> {
        let mut other = Self { path_choice: path, ..self.clone() };
        if self.is_early {
            other.settle_early();
            return Ok(other);
        }
        other.settle(uncut(&self.scene, self.edge_from_shape))?;
        Ok(other)
    }

    /// Path and sections, then what hangs on them.
    fn settle(&mut self, uncut: Uncut<'_>) -> Result<(), MeasureError> {
        self.settle_path(uncut)?;
        if matches!(uncut, Uncut::Before(_)) {
            hidden::mark_level(&mut self.ring, &mut self.stations);
        }
        self.uncovered = partial::uncovered(self);
        self.settle_top();
        self.axial_walls = axial_walls(self.scene.after, &self.inside, &self.path);
        Ok(())
    }

    /// What is cut, and the occlusal surface on it.
    pub(crate) fn settle_top(&mut self) {
        self.inside = self.prepared_vertices();
        self.edge_mm = self.median_edge();
        self.occlusal = self.find_occlusal();
        self.bite = self.find_bite();
        self.opposite = self.find_opposite();
    }

    /// Alternates between path and sections, since each needs the other, and leaves both settled.
    fn settle_path(&mut self, uncut: Uncut<'_>) -> Result<(), MeasureError> {
        // The first path needs no more than the walls, and is soon bettered.
        self.stations = self.read_stations(false);
        for _ in 0..2 {
            self.path = match self.path_choice {
                PathChoice::Best => path::best(&self.stations, &self.frame),
                PathChoice::Axis => self.frame.occlusal,
                PathChoice::Fixed(direction) => direction.normalize(),
            };
            self.ring = finish_line::adjust(self.scene.after, uncut, &self.ring, &self.path, self.noise_mm)?;
            self.frame.origin = self.ring.centre();
            self.stations = self.read_stations(true);
        }
        Ok(())
    }

    /// Cuts and reads the sections; `with_floors` says whether the floors' form is wanted, which takes the longest.
    fn read_stations(&self, with_floors: bool) -> Vec<Station> {
        let frames = self.ring.section_frames(&self.path);
        let before = self.scene.before;
        let after = self.scene.after;
        let sections: Vec<Option<(Section, Option<Section>)>> = frames
            .par_iter()
            .map(|frame| {
                let section = Section::cut(after, *frame)?;
                let uncut = before.and_then(|before| {
                    let own = frame.moved(&before.after_from_scan.inverse());
                    Section::cut_within(before.surface, own, 4.0, 1.5)
                });
                Some((section, uncut))
            })
            .collect();
        let n = sections.len();
        let read = (0..n).into_par_iter().map(|place| {
            let (section, uncut) = sections[place].as_ref()?;
            let n_near = if with_floors { 2 * FLOOR_POOL + 1 } else { 0 };
            let near: Vec<&Section> = (0..n_near)
                .filter_map(|step| Some(&sections[(place + n + step - FLOOR_POOL) % n].as_ref()?.0))
                .collect();
            let angle_deg = self.frame.angle_deg(&section.frame.origin);
            let seen = self.ring.seen[place];
            Some(Station::read(section.clone(), angle_deg, seen, uncut.as_ref(), &near, self.noise_mm))
        });
        let mut stations: Vec<Station> = read.collect::<Vec<_>>().into_iter().flatten().collect();
        if with_floors {
            crate::floor::settle(&mut stations, self.ring.length_mm() / n as f64);
        }
        drop_stray_walls(&mut stations);
        stations
    }

    /// Vertices inside the finish line and above it, connected with the top of the tooth.
    fn prepared_vertices(&self) -> Vec<bool> {
        let outline = Outline::new(&self.ring, &self.path);
        let after = self.scene.after;
        if !self.uncovered.is_empty() {
            return partial::prepared_vertices(self, &outline);
        }
        let may: Vec<bool> = after
            .mesh
            .vertices
            .par_iter()
            .with_min_len(4096)
            .map(|point| {
                if !outline.may_reach(point, 0.02, [-0.02, 15.0]) {
                    return false;
                }
                let (radius_mm, height_mm, edge) = outline.place(point);
                radius_mm <= edge.0 + 0.02 && height_mm >= edge.1 - 0.02 && height_mm < edge.1 + 15.0
            })
            .collect();
        let centre = self.ring.centre();
        let Some(top) = after.tree.ray(&(centre + self.path * 14.0), &-self.path, 25.0) else { return may };
        reached_from(after, top.triangle, &may)
    }

    fn median_edge(&self) -> f64 {
        let mesh = &self.scene.after.mesh;
        let mut lengths = Vec::new();
        for corners in &mesh.triangles {
            if corners.iter().all(|&vertex| self.inside[vertex as usize]) {
                let [a, b, c] = corners.map(|vertex| mesh.vertices[vertex as usize]);
                lengths.extend([(b - a).norm(), (c - b).norm(), (a - c).norm()]);
            }
        }
        crate::stats::median(&lengths).unwrap_or(f64::NAN)
    }

    fn find_occlusal(&self) -> Occlusal {
        let top_mm = self.finish_line_top_mm();
        let line_angles = self.stations.iter().filter_map(|station| {
            let top = station.section.frame.solid(&station.wall.as_ref()?.top?);
            Some((top - self.frame.origin).dot(&self.path) - top_mm)
        });
        let heights: Vec<f64> = line_angles.collect();
        let source = zones::Source {
            after: self.scene.after,
            inside: &self.inside,
            areas: &self.vertex_area_mm2,
            frame: &self.frame,
            path: &self.path,
            finish_line_top_mm: top_mm,
            // The lowest tenth: one station's stray corner must not decide.
            least_wall_mm: kerfwright_geometry::fit::percentile(&heights, 10.0).unwrap_or(0.0),
            ring: &self.ring,
            uncut: self.scene.before.unwrap_or(Placed::in_place(self.scene.after)),
        };
        if self.uncovered.is_empty() {
            Occlusal::find(&source)
        } else {
            partial::occlusal(self, source, &Outline::new(&self.ring, &self.path))
        }
    }

    /// A vertex of the after scan with its place in the tooth frame.
    pub(crate) fn placed(&self, vertex: u32) -> OcclusalVertex {
        OcclusalVertex {
            vertex,
            place: self.frame.coordinates(&self.scene.after.mesh.vertices[vertex as usize]),
            area_mm2: self.vertex_area_mm2[vertex as usize],
        }
    }

    /// Standard uncertainty that the alignment brings to a distance at the prepared tooth, mm; 0 without a before scan.
    pub fn pose_sigma_mm(&self) -> f64 {
        self.pose.as_ref().map_or(0.0, |pose| pose.sigma_mm)
    }

    /// The same for distances to the opposing teeth.
    pub fn opposing_sigma_mm(&self) -> f64 {
        if self.opposing_shares_after { 0.0 } else { self.pose_sigma_mm() }
    }

    /// A place on the tooth as a reading carries it.
    pub fn place_of(&self, point: &Point3<f64>) -> Place {
        let angle_deg = self.frame.angle_deg(point);
        Place {
            point: rounded_point(point),
            aspect: Aspect::at(angle_deg).to_string(),
            angle_deg: (angle_deg * 10.0).round() / 10.0,
        }
    }

    /// The place of an after-scan vertex.
    pub fn place_of_vertex(&self, vertex: u32) -> Place {
        self.place_of(&self.scene.after.mesh.vertices[vertex as usize])
    }

    /// The place of a station's finish-line point.
    pub fn place_of_station(&self, station: usize) -> Place {
        self.place_of(&self.stations[station].edge())
    }

    /// How far the path may lean without a wall that says so, in the plane through it towards an angle around the tooth,
    /// degrees (1 sigma): nothing where the walls on both sides were seen, since their own errors carry it.
    pub fn path_sigma_deg(&self, angle_deg: f64) -> f64 {
        if self.path_choice != PathChoice::Best {
            return 0.0;
        }
        let [mesiodistal, faciolingual] = path::without_walls(&self.stations);
        let (sine, cosine) = angle_deg.to_radians().sin_cos();
        let of = |is_open: bool, share: f64| if is_open { self.axis.sigma_deg * share } else { 0.0 };
        of(mesiodistal, cosine).hypot(of(faciolingual, sine))
    }

    /// The value of a vertex field at a vertex, from a quadratic over the two rings of neighbours that have one:
    /// follows slopes and peaks, forgets most of the noise. `None` with fewer than nine neighbours.
    pub fn smooth_at(&self, vertex: u32, value: &dyn Fn(u32) -> Option<f64>) -> Option<f64> {
        let after = self.scene.after;
        let centre = after.mesh.vertices[vertex as usize];
        let (u, v) = axes(&after.vertex_normals[vertex as usize]);
        let mut near: Vec<u32> = after.topology.vertex_neighbours(vertex).to_vec();
        for k in 0..near.len() {
            near.extend_from_slice(after.topology.vertex_neighbours(near[k]));
        }
        near.push(vertex);
        near.sort_unstable();
        near.dedup();
        let rows = near.iter().filter_map(|&other| {
            let at = after.mesh.vertices[other as usize] - centre;
            let (x, y) = (at.dot(&u), at.dot(&v));
            Some((Vector6::new(1.0, x, y, x * x, x * y, y * y), value(other)?))
        });
        let (mut normal, mut right, mut n_rows) = (Matrix6::zeros(), Vector6::zeros(), 0);
        for (row, value) in rows {
            add_square(&mut normal, &row, 1.0);
            right += row * value;
            n_rows += 1;
        }
        // A trace of damping keeps one-sided neighbourhoods at the rim of a zone from swinging.
        normal += Matrix6::from_diagonal(&Vector6::new(0.0, 1e-6, 1e-6, 1e-6, 1e-6, 1e-6));
        let smooth =
            (n_rows >= 9).then(|| normal.cholesky().map(|factor| factor.solve(&right)[0])).flatten()?;
        // A sharp crest or a narrow nick is no noise: what stands out by far stays as it was scanned.
        let own = value(vertex)?;
        Some(if (own - smooth).abs() > CREST_IN_NOISE * self.noise_mm { own } else { smooth })
    }

    /// The highest point of the finish line above its centre, along the path, mm.
    pub fn finish_line_top_mm(&self) -> f64 {
        let heights = self.ring.points.iter().map(|point| (point - self.frame.origin).dot(&self.path));
        heights.fold(f64::NEG_INFINITY, f64::max)
    }

    /// Median height of the axial walls along the path, mm.
    pub fn wall_height_mm(&self) -> Option<f64> {
        let heights: Vec<f64> =
            self.stations.iter().filter_map(|station| Some(station.wall.as_ref()?.top?.y)).collect();
        crate::stats::median(&heights)
    }

    /// +1 if the functional cusps lie facially, −1 if lingually, `None` for front teeth.
    pub fn functional_sign(&self) -> Option<f64> {
        self.tooth.functional_side().map(|side| match side {
            Side::Facial => 1.0,
            Side::Lingual => -1.0,
        })
    }
}

/// How the edge is sought.
fn uncut<'scan>(scene: &Scene<'scan>, edge_from_shape: bool) -> Uncut<'scan> {
    match scene.before {
        Some(before) if !edge_from_shape => Uncut::Before(before),
        _ => Uncut::Below,
    }
}

/// The finish line by the change between the scans; by the shape alone, its direction righted on what is found, where that
/// shows clearly more of it or there is no before scan. The flag says whether a before scan was passed over.
fn first_ring(
    scene: &Scene<'_>,
    guess: &[Point3<f64>],
    up: &Vector3<f64>,
    noise_mm: f64,
) -> Result<(Ring, bool), MeasureError> {
    const ENOUGH: f64 = 0.8;
    let by_change = finish_line::refine(scene.after, uncut(scene, false), guess, up, noise_mm);
    let seen =
        |ring: &Ring| ring.seen.iter().filter(|seen| **seen).count() as f64 / ring.seen.len().max(1) as f64;
    let share = by_change.as_ref().map_or(0.0, seen);
    let is_change = scene.before.is_some();
    if (is_change && share < ENOUGH) || by_change.is_err() {
        let sum: Vector3<f64> = guess.iter().map(|point| point.coords).sum();
        let centre = Point3::from(sum / guess.len().max(1) as f64);
        let by_shape = locate::around(scene.after, &centre, up).and_then(|start| {
            finish_line::refine(scene.after, Uncut::Below, &start.outline, &start.up, noise_mm).ok()
        });
        if let Some(ring) = by_shape.filter(|ring| seen(ring) > share) {
            return Ok((ring, is_change));
        }
    }
    by_change.map(|ring| (ring, false))
}

/// Takes back walls that differ wildly from their neighbours': where the mesh is folded, a section loses its way.
fn drop_stray_walls(stations: &mut [Station]) {
    const NEAR: usize = 6;
    const STRAY_DEG: f64 = 10.0;
    const STRAY_MM: f64 = 0.3;
    let n = stations.len();
    let walls: Vec<Option<(f64, f64)>> = stations
        .iter()
        .map(|station| station.wall.as_ref().map(|wall| (wall.taper_deg, wall.width_mm)))
        .collect();
    for (place, station) in stations.iter_mut().enumerate() {
        let Some((taper_deg, width_mm)) = walls[place] else { continue };
        let near = (0..=2 * NEAR).filter_map(|step| walls[(place + n + step - NEAR) % n]);
        let (tapers, widths): (Vec<f64>, Vec<f64>) = near.unzip();
        let off = |values: &[f64], own: f64| {
            crate::stats::median(values).map_or(0.0, |middle| (own - middle).abs())
        };
        if n > 2 * NEAR && off(&tapers, taper_deg) > STRAY_DEG && off(&widths, width_mm) > STRAY_MM {
            station.wall = None;
        }
    }
}

/// Noise of a scan, 1 sigma, mm.
pub(crate) fn scan_noise(after: &Surface) -> f64 {
    // A few thousand vertices spread over the scan are plenty.
    let n = after.mesh.vertices.len();
    let step = (n / 6000).max(1);
    let vertices: Vec<u32> = (0..n).step_by(step).map(|vertex| vertex as u32).collect();
    noise_mm(after, &vertices)
}

fn tooth_frame(ring: &Ring, axis: &Axis, mesial: &MesialEvidence, tooth: Tooth) -> ToothFrame {
    let occlusal = axis.direction;
    let mesial = (mesial.mesial - occlusal * mesial.mesial.dot(&occlusal)).normalize();
    ToothFrame {
        origin: ring.centre(),
        mesial,
        facial: occlusal.cross(&mesial) * tooth.handedness(),
        occlusal,
    }
}
