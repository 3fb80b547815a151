//! An attempt held against its target: where too much was cut, where too little.

use kerfwright_geometry::{Surface, fit};
use kerfwright_measure::frame::Aspect;
use kerfwright_measure::region::vertex_areas;
use nalgebra::Point3;
use serde::Serialize;

use crate::stages::Done;
use crate::{Plan, own};

/// The part that is the occlusal surface or the incisal edge.
pub const OCCLUSAL: &str = "occlusal";
const FLOOR: &str = "floor";

/// Signed distances of an attempt to its target.
#[derive(Debug, Clone)]
pub struct Deviation {
    /// One value a vertex of the scan after cutting, `None` off the prepared tooth. Positive: too little was cut; negative:
    /// too much. mm.
    pub signed_mm: Vec<Option<f64>>,
    /// The part to which each vertex belongs, `None` off the prepared tooth.
    pub part_at: Vec<Option<&'static str>>,
    /// By part of the preparation.
    pub parts: Vec<Part>,
}

/// One part of the preparation.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Part {
    /// `occlusal`, the finish line's `floor`, or the wall: `mesial`, `facial`, `distal`, `lingual`.
    pub part: String,
    /// Vertices it rests on.
    pub n_vertices: usize,
    /// Median signed distance, mm; positive: too little was cut.
    pub median_mm: f64,
    /// Most that is cut too deep, 98th percentile, mm; 0 where nothing is.
    pub over_cut_mm: f64,
    /// Most that is still to be cut, 98th percentile, mm; 0 where nothing is.
    pub under_cut_mm: f64,
    /// Share of the area that was cut more than a tenth of a millimetre too deep, percent.
    pub over_cut_area_pct: f64,
}

/// Holds `after`, brought into the frame of the scan before cutting, against the target.
pub fn deviation(after: &Surface, plan: &Plan) -> Deviation {
    const REACH_MM: f64 = 6.0;
    const FROM_MM: f64 = 16.0;
    const OCCLUSAL_COS: f64 = 0.5;
    // What faces up this near to the finish line is its floor.
    const FLOOR_MM: f64 = 1.0;
    let frame = &plan.site.frame;
    let from = frame.origin + frame.occlusal * FROM_MM;
    let top = after.tree.ray(&from, &-frame.occlusal, 2.0 * FROM_MM);
    let Some(top) = top else {
        let n = after.mesh.vertices.len();
        return Deviation { signed_mm: vec![None; n], part_at: vec![None; n], parts: Vec::new() };
    };
    let prepared = own::crown(after, &plan.site, &plan.line, top.triangle);
    let target = Surface::new(plan.target.clone());
    let vertices: Vec<usize> = (0..prepared.len()).filter(|&vertex| prepared[vertex]).collect();
    let points: Vec<Point3<f64>> = vertices.iter().map(|&vertex| after.mesh.vertices[vertex]).collect();
    let mut signed_mm = vec![None; prepared.len()];
    for (&vertex, found) in vertices.iter().zip(target.signed_many(&points, REACH_MM)) {
        signed_mm[vertex] =
            found.filter(|found| !target.on_boundary(&found.closest)).map(|found| found.distance_mm);
    }
    let areas = vertex_areas(after);
    let places = own::Places::new(&plan.site.polar, &plan.line.points);
    let part_of = |vertex: usize| {
        if after.vertex_normals[vertex].dot(&frame.occlusal) > OCCLUSAL_COS {
            let (_, over_mm, ..) = places.of(&after.mesh.vertices[vertex]);
            return if over_mm < FLOOR_MM { FLOOR } else { OCCLUSAL };
        }
        let quarter = (frame.angle_deg(&after.mesh.vertices[vertex]) / 90.0).round() as usize % 4;
        Aspect::SURFACES[quarter].id()
    };
    let mut part_at = vec![None; prepared.len()];
    for &vertex in &vertices {
        part_at[vertex] = Some(part_of(vertex));
    }
    let names = [OCCLUSAL, FLOOR, "mesial", "facial", "distal", "lingual"];
    let parts = names.into_iter().filter_map(|name| {
        let own = vertices.iter().filter(|&&vertex| part_at[vertex] == Some(name));
        let values: Vec<(f64, f64)> =
            own.filter_map(|&vertex| Some((signed_mm[vertex]?, areas[vertex]))).collect();
        Part::of(name, &values)
    });
    Deviation { parts: parts.collect(), signed_mm, part_at }
}

impl Deviation {
    /// Only the parts that a stage has cut.
    pub fn of_what_is(mut self, done: Done) -> Self {
        self.parts.retain(|part| done.cuts(&part.part));
        for (mm, part) in self.signed_mm.iter_mut().zip(&self.part_at) {
            *mm = mm.filter(|_| part.is_some_and(|part| done.cuts(part)));
        }
        self
    }
}

impl Part {
    /// Of signed distances and areas.
    fn of(name: &str, values: &[(f64, f64)]) -> Option<Self> {
        const TOO_DEEP_MM: f64 = 0.1;
        let distances: Vec<f64> = values.iter().map(|value| value.0).collect();
        let area: f64 = values.iter().map(|value| value.1).sum();
        let is_deep = |value: &&(f64, f64)| value.0 < -TOO_DEEP_MM;
        let deep = values.iter().filter(is_deep).fold(0.0, |sum, value| sum + value.1);
        Some(Self {
            part: name.into(),
            n_vertices: values.len(),
            median_mm: fit::percentile(&distances, 50.0)?,
            over_cut_mm: (-fit::percentile(&distances, 2.0)?).max(0.0),
            under_cut_mm: fit::percentile(&distances, 98.0)?.max(0.0),
            over_cut_area_pct: 100.0 * deep / area,
        })
    }
}
