//! `clearance.excursion.<movement>_mm`: the room to the opposing teeth while the jaw moves out of the closed bite.

use kerfwright_jaw::Movement;
use nalgebra::{Isometry3, Point3};
use rayon::prelude::*;

use crate::document::{Reading, Value};
use crate::excursion::{Closest, Guidance, JawMotion, Pieces, Site, least_over, model_sigma_mm};
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};

/// Farther than this is no clearance but a missing antagonist, mm.
const REACH_MM: f64 = 8.0;

/// Least distance from the prepared occlusal surface to the opposing teeth over each movement, with place and moment.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let movements = preparation.jaw.movements();
    let site = match Site::of(preparation) {
        Ok(site) => site,
        Err(reason) => {
            for name in &movements {
                sheet.refuse(id(name), reason.clone());
            }
            return;
        }
    };
    let (guidance, pieces) = rayon::join(
        || Guidance::new(preparation, &site),
        || {
            let mesh = &preparation.scene.after.mesh;
            let vertices = preparation.bite.iter();
            Pieces::new(&vertices.map(|v| mesh.vertices[v.vertex as usize]).collect::<Vec<_>>())
        },
    );
    let context = Context { preparation, site, guidance, pieces };
    let taken: Vec<Result<Reading, String>> =
        movements.par_iter().with_max_len(1).map(|name| context.reading(name)).collect();
    for (name, taken) in movements.iter().zip(taken) {
        match taken {
            Ok(reading) => sheet.write(id(name), reading),
            Err(reason) => sheet.refuse(id(name), reason),
        }
    }
}

fn id(movement: &str) -> String {
    format!("clearance.excursion.{movement}_mm")
}

struct Context<'a> {
    preparation: &'a Preparation<'a>,
    site: Site<'a>,
    guidance: Guidance<'a>,
    pieces: Pieces,
}

impl Context<'_> {
    fn reading(&self, name: &str) -> Result<Reading, String> {
        let preparation = self.preparation;
        let motion = self.site.motion(preparation, name, &self.guidance)?;
        let surface = self.site.opposing.surface;
        let scan_from_after = self.site.opposing.after_from_scan.inverse();
        let found = least_over(&self.pieces, &motion.relative, surface, &scan_from_after, REACH_MM)
            .ok_or("no opposing tooth stands over the prepared occlusal surface")?;
        let closest = self.at_moment(&motion, found.share, found.signed_mm);
        // Noise makes the least of many distances too small: a quadratic over the neighbours takes most of it out.
        let value_at = closest_value(&closest, preparation.scene.after.mesh.vertices.len());
        let smooth = closest
            .distances
            .iter()
            .filter_map(|&(vertex, _)| Some((preparation.smooth_at(vertex, &|v| value_at(v))?, vertex)));
        let raw_vertex = preparation.bite[found.point].vertex;
        let (least_mm, vertex) =
            smooth.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((found.signed_mm, raw_vertex));
        let model_sigma = match Movement::from_id(name) {
            Some(movement) if !motion.is_recorded => {
                let (site, guidance) = (&self.site, &self.guidance);
                model_sigma_mm(preparation, site, guidance, movement, &motion, &closest)
            }
            _ => Some(0.0),
        };
        let opened_mm = motion.opened_mm(found.share);
        // How deep contacts reach into each other is known no better than half.
        let contact_sigma = if opened_mm > 0.0 { 0.5 * self.guidance.depth_mm } else { 0.0 };
        let u95 = expanded(&[
            preparation.opposing_sigma_mm(),
            0.7 * preparation.noise_mm,
            0.006,
            model_sigma.unwrap_or(f64::NAN),
            contact_sigma,
        ]);
        let mut reading = number(least_mm, "mm", u95)
            .with("least", least_mm)
            .with("share", found.share)
            .with("travel_mm", motion.travel_mm(found.share))
            .with("opened_by_teeth_mm", opened_mm)
            .with("opened_by_teeth_at_end_mm", motion.opened_mm(1.0))
            .at(Some(preparation.place_of_vertex(vertex)))
            .noted(self.note(name, &motion));
        if let Some(side) = side(name, preparation.tooth.is_left()) {
            reading.extras.insert("side".into(), Value::Text(side.into()));
        }
        Ok(reading)
    }

    /// Distances at one moment, of the vertices that are near enough to be the least or a neighbour of it.
    fn at_moment(&self, motion: &JawMotion, share: f64, least_mm: f64) -> Closest {
        const NEIGHBOURS_MM: f64 = 0.5;
        let relative = motion.relative.pose(share);
        let mesh = &self.preparation.scene.after.mesh;
        let vertices = &self.preparation.bite;
        let scan_from_after = self.site.opposing.after_from_scan.inverse();
        let moved: Isometry3<f64> = scan_from_after * relative;
        let points: Vec<Point3<f64>> =
            vertices.iter().map(|v| moved * mesh.vertices[v.vertex as usize]).collect();
        let surface = self.site.opposing.surface;
        let near = surface.signed_many(&points, least_mm.max(0.0) + NEIGHBOURS_MM);
        let distances = vertices.iter().zip(near).filter_map(|(vertex, near)| {
            let near = near.filter(|near| !surface.on_boundary(&near.closest))?;
            Some((vertex.vertex, near.distance_mm))
        });
        Closest { share, distances: distances.collect() }
    }

    fn note(&self, name: &str, motion: &JawMotion) -> String {
        let side = match side(name, self.preparation.tooth.is_left()) {
            Some("working") => "; this tooth is on the working side",
            Some(_) => "; this tooth is on the nonworking side (mediotrusion)",
            None => "",
        };
        let by = if motion.is_recorded {
            "recorded motion".into()
        } else {
            let jaw =
                if self.preparation.jaw.settings.is_own { "jaw settings as given" } else { "average jaw" };
            let guided = if self.guidance.is_empty() {
                "no unprepared tooth guides it"
            } else {
                "guided by the unprepared teeth"
            };
            format!("{jaw}, {guided}")
        };
        format!("least over the whole path; {by}{side}")
    }
}

/// Which side of the mouth the tooth is on in a sideways movement.
fn side(movement: &str, is_left: bool) -> Option<&'static str> {
    let to_left = match Movement::from_id(movement)? {
        Movement::Protrusion => return None,
        Movement::LaterotrusionLeft => true,
        Movement::LaterotrusionRight => false,
    };
    Some(if to_left == is_left { "working" } else { "nonworking" })
}

/// The distances by vertex of the after scan.
fn closest_value(closest: &Closest, n_vertices: usize) -> impl Fn(u32) -> Option<f64> {
    let mut distances = vec![f64::NAN; n_vertices];
    for &(vertex, distance_mm) in &closest.distances {
        distances[vertex as usize] = distance_mm;
    }
    move |vertex| Some(distances[vertex as usize]).filter(|value| value.is_finite())
}
