//! A measured preparation, ready to be shown.

use std::sync::Arc;

use kerfwright_measure::document::rounded;
use kerfwright_measure::frame::Aspect;
use kerfwright_measure::{Preparation, ScanFile};
use kerfwright_tooth::Tooth;
use nalgebra::{Isometry3, Point3, Vector3};
use serde_json::json;

use crate::body::{Body, Which};
use crate::frame::ScreenFrame;
use crate::glb::Glb;
use crate::maps::{Map, MapKind, maps};
use crate::target::Held;

/// The scans of an attempt, shared with whoever keeps them.
#[derive(Debug, Clone)]
pub struct Scans {
    /// The prepared tooth with its neighbours.
    pub after: Arc<ScanFile>,
    /// The same arch before cutting.
    pub before: Option<Arc<ScanFile>>,
    /// The opposing arch.
    pub opposing: Option<Arc<ScanFile>>,
}

/// What can be shown of a measured preparation. Positions are in the screen frame, mm.
#[derive(Debug, Clone)]
pub struct View {
    /// The frame.
    pub frame: ScreenFrame,
    /// The tooth.
    pub tooth: Tooth,
    /// The path of placement, unit.
    pub path: Vector3<f64>,
    /// The prepared tooth with its neighbours.
    pub after: Body,
    /// The same arch before cutting.
    pub before: Option<Body>,
    /// The opposing arch, jaws closed.
    pub opposing: Option<Body>,
    /// The target and how far the attempt is from it.
    pub target: Option<Body>,
    /// What is painted.
    pub maps: Vec<Map>,
    /// The finish line, station by station.
    pub stations: Vec<ShownStation>,
    /// Height above the finish line at which the wall's thirds part, mm: gingival to middle, middle to occlusal.
    pub thirds_mm: [f64; 2],
}

/// A station of the finish line.
#[derive(Debug, Clone)]
pub struct ShownStation {
    /// On the finish line.
    pub point: Point3<f64>,
    /// Of the station's plane, which holds the path.
    pub normal: Vector3<f64>,
    /// Around the tooth: 0 mesial, 90 facial, 180 distal, 270 lingual.
    pub angle_deg: f64,
    /// The aspect that the angle lies in.
    pub aspect: Aspect,
    /// Whether the finish line was seen here or bridged.
    pub seen: bool,
    /// The axial wall.
    pub wall: Option<ShownWall>,
    /// Slope of the floor next to the edge, degrees.
    pub declination_deg: Option<f64>,
    /// Over the gingiva, along the tooth's axis, mm.
    pub above_gingiva_mm: Option<f64>,
    /// Expanded uncertainty of width and height over the gingiva, mm.
    pub u95_mm: [f64; 2],
}

/// The wall at a station.
#[derive(Debug, Clone)]
pub struct ShownWall {
    /// Ends of the wall line.
    pub ends: [Point3<f64>; 2],
    /// Angle to the path, degrees.
    pub taper_deg: f64,
    /// Its expanded uncertainty at this one station.
    pub taper_u95_deg: f64,
    /// Width of the finish line, mm.
    pub width_mm: f64,
    /// From the finish line to the occlusal line angle, mm.
    pub height_mm: Option<f64>,
}

impl View {
    /// What is to be shown of `preparation`, which was found in `scans`.
    pub fn of(preparation: &Preparation<'_>, scans: &Scans) -> Self {
        let frame = ScreenFrame::of(&preparation.frame);
        let scene = &preparation.scene;
        let on_screen = |after_from_scan: Isometry3<f64>| frame.screen_from_after * after_from_scan;
        let before = scene.before.zip(scans.before.clone());
        let opposing = scene.opposing.zip(scans.opposing.clone());
        let wall_mm = preparation.wall_height_mm().unwrap_or(3.0);
        Self {
            frame,
            tooth: preparation.tooth,
            path: frame.screen_from_after * preparation.path,
            after: Body::scan(scans.after.clone(), frame.screen_from_after),
            before: before.map(|(placed, scan)| Body::scan(scan, on_screen(placed.after_from_scan))),
            opposing: opposing.map(|(placed, scan)| Body::scan(scan, on_screen(placed.after_from_scan))),
            target: None,
            maps: maps(preparation),
            stations: crate::ring::stations(preparation, &frame),
            thirds_mm: [wall_mm / 3.0, wall_mm * 2.0 / 3.0],
        }
    }

    /// The same with a target.
    pub fn with_target(mut self, held: &Held) -> Self {
        let screen_from_before = self.before.as_ref().map(|before| before.screen_from_own);
        self.target = screen_from_before.map(|pose| Body::surface_at(held.target.clone(), pose));
        self.maps.retain(|map| map.kind != MapKind::Deviation);
        self.maps.push(held.map.clone());
        self
    }

    /// The bodies that there are.
    pub fn bodies(&self) -> Vec<(Which, &Body)> {
        Which::ALL.into_iter().filter_map(|which| Some((which, self.body(which)?))).collect()
    }

    /// One body.
    pub fn body(&self, which: Which) -> Option<&Body> {
        match which {
            Which::After => Some(&self.after),
            Which::Before => self.before.as_ref(),
            Which::Opposing => self.opposing.as_ref(),
            Which::Target => self.target.as_ref(),
        }
    }

    /// A body as glTF binary, the after scan with its maps.
    pub fn glb(&self, which: Which) -> Option<Vec<u8>> {
        let body = self.body(which)?;
        let values = if which == Which::After { self.attributes() } else { Vec::new() };
        let extras = json!({
            "frame": "screen: x mesial, z occlusal, y = z × x; mm before the node's scale",
            "tooth_fdi": self.tooth.fdi(),
            "body": which.id(),
        });
        Some(glb_of(which.id(), body, &values, extras))
    }

    /// Each map as two attributes: its values, and 1 where they are known.
    fn attributes(&self) -> Vec<(String, Vec<f32>)> {
        let surface = self.after.surface();
        let pairs = self.maps.iter().flat_map(|map| {
            let known = map.values.iter().map(|value| f32::from(u8::from(!value.is_nan())));
            let name = map.kind.attribute();
            [(name.clone(), filled(surface, &map.values)), (format!("{name}_KNOWN"), known.collect())]
        });
        pairs.collect()
    }
}

/// A scan in its own frame as glTF binary.
pub fn scan_glb(scan: &ScanFile) -> Vec<u8> {
    let surface = &scan.surface;
    let extras = json!({ "frame": "the scan's own; mm before the node's scale" });
    glb_of_surface("scan", surface, &Isometry3::identity(), &[], extras)
}

/// A scan in the frame of a tooth as glTF binary, without readings: what is graded by eye.
pub fn scan_glb_in(scan: &ScanFile, frame: &ScreenFrame) -> Vec<u8> {
    let extras = json!({ "frame": "screen: x mesial, z occlusal, y = z × x; mm before the node's scale" });
    glb_of_surface("scan", &scan.surface, &frame.screen_from_after, &[], extras)
}

fn glb_of(name: &str, body: &Body, values: &[(String, Vec<f32>)], extras: serde_json::Value) -> Vec<u8> {
    glb_of_surface(name, body.surface(), &body.screen_from_own, values, extras)
}

fn glb_of_surface(
    name: &str,
    surface: &kerfwright_geometry::Surface,
    pose: &Isometry3<f64>,
    values: &[(String, Vec<f32>)],
    extras: serde_json::Value,
) -> Vec<u8> {
    let single = |x: f64, y: f64, z: f64| [x as f32, y as f32, z as f32];
    let positions: Vec<[f32; 3]> = surface
        .mesh
        .vertices
        .iter()
        .map(|point| {
            let at = pose * point;
            single(at.x, at.y, at.z)
        })
        .collect();
    let normals: Vec<[f32; 3]> = surface
        .vertex_normals
        .iter()
        .map(|normal| {
            let at = pose * normal;
            // glTF wants unit normals, also where a vertex has no triangle.
            if at == Vector3::zeros() { [0.0, 0.0, 1.0] } else { single(at.x, at.y, at.z) }
        })
        .collect();
    let glb = Glb {
        name,
        positions: &positions,
        normals: &normals,
        triangles: &surface.mesh.triangles,
        values,
        extras,
    };
    glb.write()
}

/// Values without NaN: where nothing is known, the mean of the neighbours that are, so that the paint does not fade towards its
/// rim; 0 where there is none.
fn filled(surface: &kerfwright_geometry::Surface, values: &[f32]) -> Vec<f32> {
    let fill = |vertex: usize| {
        let (mut sum, mut n) = (0.0, 0.0);
        for &other in surface.topology.vertex_neighbours(vertex as u32) {
            let value = values[other as usize];
            if !value.is_nan() {
                sum += value;
                n += 1.0;
            }
        }
        if n > 0.0 { sum / n } else { 0.0 }
    };
    let fill_unknown = |(vertex, value): (usize, &f32)| if value.is_nan() { fill(vertex) } else { *value };
    values.iter().enumerate().map(fill_unknown).collect()
}

/// Three coordinates, rounded to a tenth of a micrometre.
pub fn coordinates(point: &Point3<f64>) -> [f64; 3] {
    [rounded(point.x), rounded(point.y), rounded(point.z)]
}
