//! Front teeth: incisal edge and lingual fossa on bodies of planes, whose distances are known in closed form.
//!
//! The uncut tooth is an upright elliptic cylinder under a blunt roof (the incisal edge) and an inclined lingual plane;
//! the prepared one has the same roof 1.8 mm lower and the same plane 0.9 mm deeper, on tapered walls over a shoulder.
//! The uncut body is convex, so that the distance from inside is the least of those to its faces.

use kerfwright_geometry::Surface;
use kerfwright_measure::measures::take_all;
use kerfwright_measure::preparation::Wishes;
use kerfwright_measure::scene::{Placed, Scene};
use kerfwright_measure::sheet::Sheet;
use kerfwright_measure::{PathChoice, Preparation};
use kerfwright_mesh::Mesh;
use kerfwright_tooth::Tooth;
use nalgebra::{Point3, Vector2};

const HALF_MM: [f64; 2] = [3.0, 3.6];
const WIDTH_MM: f64 = 0.8;
const TAPER: f64 = 0.105;
const TOP_MM: f64 = 6.0;
const INCISAL_MM: f64 = 1.8;
const FOSSA_MM: f64 = 0.9;
/// Where the edge's crest lies, facially of the middle.
const CREST_MM: f64 = 0.7;
const CREST_SLOPE: f64 = 0.2;
/// Height of the cingulum's wall, and rise of the fossa above it.
const CINGULUM_MM: f64 = 2.0;
const FOSSA_DEG: f64 = 65.0;

/// How much the edge falls mesially and distally: 0 for an incisor.
#[derive(Clone, Copy)]
struct Edge {
    slope: f64,
}

impl Edge {
    fn roof(self, at: &Vector2<f64>, raised_mm: f64, fossa_mm: f64) -> f64 {
        let edge = TOP_MM - self.slope * at.x.abs() - CREST_SLOPE * (at.y - CREST_MM).abs() + raised_mm;
        let rise = FOSSA_DEG.to_radians().tan();
        let wall_mm = -(HALF_MM[1] - WIDTH_MM - TAPER * CINGULUM_MM);
        let fossa = CINGULUM_MM + (at.y - wall_mm) * rise + fossa_mm / FOSSA_DEG.to_radians().cos();
        edge.min(fossa)
    }

    fn prepared(self, at: &Vector2<f64>) -> f64 {
        self.roof(at, 0.0, 0.0)
    }

    fn uncut(self, at: &Vector2<f64>) -> f64 {
        self.roof(at, INCISAL_MM, FOSSA_MM)
    }

    /// Distance between the parallel faces of both roofs.
    fn roof_mm(self) -> f64 {
        INCISAL_MM / (1.0 + self.slope.powi(2) + CREST_SLOPE.powi(2)).sqrt()
    }

    fn mesh(self, is_prepared: bool) -> Mesh {
        const N_AROUND: u32 = 200;
        let mut mesh = Mesh::default();
        let mut n_ring = 0;
        for k in 0..N_AROUND {
            let angle = std::f64::consts::TAU * f64::from(k) / f64::from(N_AROUND);
            let ray = Vector2::new(angle.cos(), angle.sin());
            let profile = if is_prepared { self.prepared_profile(&ray) } else { self.uncut_profile(&ray) };
            n_ring = profile.len() as u32;
            mesh.vertices.extend(profile.iter().map(|&(r, z)| Point3::new(r * ray.x, r * ray.y, z)));
        }
        let pole = mesh.vertices.len() as u32;
        let centre = Vector2::zeros();
        let top = if is_prepared { self.prepared(&centre) } else { self.uncut(&centre) };
        mesh.vertices.push(Point3::new(0.0, 0.0, top));
        for k in 0..N_AROUND {
            let (here, next) = (k * n_ring, (k + 1) % N_AROUND * n_ring);
            for i in 0..n_ring - 1 {
                let [a, b, c, d] = [here + i, next + i, here + i + 1, next + i + 1];
                mesh.triangles.extend([[a, b, d], [a, d, c]]);
            }
            mesh.triangles.push([here + n_ring - 1, next + n_ring - 1, pole]);
        }
        mesh
    }

    /// Radius and height from the root over the floor and up the wall to the roof's middle.
    fn prepared_profile(self, ray: &Vector2<f64>) -> Vec<(f64, f64)> {
        let outer = radius(ray, 0.0);
        let wall = |z: f64| radius(ray, WIDTH_MM + TAPER * z);
        let top = meeting(|z| self.prepared(&(ray * wall(z))) - z);
        let mut profile = line((outer, -3.0), (outer, 0.0), 20);
        profile.extend(line((outer, 0.0), (wall(0.0), 0.0), 6));
        profile.extend(line((wall(0.0), 0.0), (wall(top), top), 40));
        profile.extend((0..26).map(|i| {
            let r = wall(top) * (1.0 - f64::from(i) / 26.0);
            (r, self.prepared(&(ray * r)))
        }));
        profile
    }

    fn uncut_profile(self, ray: &Vector2<f64>) -> Vec<(f64, f64)> {
        let outer = radius(ray, 0.0);
        let top = self.uncut(&(ray * outer));
        let mut profile = line((outer, -3.0), (outer, top), 70);
        profile.extend((0..30).map(|i| {
            let r = outer * (1.0 - f64::from(i) / 30.0);
            (r, self.uncut(&(ray * r)))
        }));
        profile
    }
}

/// Radius of the ellipse drawn in by a width, in a direction.
fn radius(ray: &Vector2<f64>, inside_mm: f64) -> f64 {
    let [a, b] = HALF_MM.map(|half| half - inside_mm);
    1.0 / (ray.x / a).hypot(ray.y / b)
}

/// `n` places from one end on, the other end left out.
fn line(from: (f64, f64), to: (f64, f64), n: u32) -> Vec<(f64, f64)> {
    let mix = |a: f64, b: f64, i: u32| a + (b - a) * f64::from(i) / f64::from(n);
    (0..n).map(|i| (mix(from.0, to.0, i), mix(from.1, to.1, i))).collect()
}

/// Zero of a falling function between 0.5 and 8.
fn meeting(falling: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.5, 8.0);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if falling(middle) > 0.0 { low = middle } else { high = middle }
    }
    low
}

/// Median and 5th percentile of the distance from the prepared roof to the uncut body: its roof or its side.
fn expected_incisal(edge: Edge) -> (f64, f64) {
    let side: Vec<Vector2<f64>> = (0..1440)
        .map(|k| f64::from(k).to_radians() / 4.0)
        .map(|angle| Vector2::new(HALF_MM[0] * angle.cos(), HALF_MM[1] * angle.sin()))
        .collect();
    let (sine, cosine) = FOSSA_DEG.to_radians().sin_cos();
    let mut distances = Vec::new();
    for i in -60..=60 {
        for j in -70..=70 {
            let at = Vector2::new(f64::from(i), f64::from(j)) * 0.05;
            let z = edge.prepared(&at);
            let on_edge = edge.roof(&at, 0.0, 50.0) <= z + 1e-9;
            let inside = at.norm() < radius(&at.normalize(), WIDTH_MM + TAPER * z);
            if on_edge && inside {
                let to_side = side.iter().map(|p| (p - at).norm()).fold(f64::MAX, f64::min);
                // The inclined plane, from the prepared one 0.9 mm inside it.
                let fossa = edge.roof(&Vector2::new(0.0, at.y), 50.0, 0.0);
                let to_fossa = FOSSA_MM + (fossa - z) * cosine;
                assert!(sine > 0.0 && to_fossa > FOSSA_MM - 1e-9);
                distances.push(edge.roof_mm().min(to_side).min(to_fossa));
            }
        }
    }
    distances.sort_by(f64::total_cmp);
    (distances[distances.len() / 2], distances[distances.len() / 20])
}

fn measured(fdi: u8, edge: Edge) -> Sheet {
    let (after, before) = (Surface::new(edge.mesh(true)), Surface::new(edge.mesh(false)));
    let scene = Scene { after: &after, before: Some(Placed::in_place(&before)), opposing: None };
    let tooth = Tooth::from_fdi(fdi).unwrap();
    let wishes = Wishes {
        tooth,
        mesial_point: Some(Point3::new(6.0, 0.0, 3.0)),
        path: PathChoice::Best,
        opposing_shares_after: true,
        jaw: kerfwright_measure::JawWishes::default(),
    };
    let preparation = Preparation::find(scene, None, &wishes, &|point| point.to_string()).unwrap();
    take_all(&preparation)
}

fn value(sheet: &Sheet, id: &str) -> f64 {
    let reason = sheet.refused.get(id);
    sheet.readings.get(id).and_then(|reading| reading.number()).unwrap_or_else(|| panic!("{id}: {reason:?}"))
}

fn extra(sheet: &Sheet, id: &str, name: &str) -> f64 {
    match &sheet.readings[id].extras[name] {
        kerfwright_measure::document::Value::Number(number) => *number,
        other => panic!("{id} {name} is {other:?}"),
    }
}

fn check(fdi: u8, edge: Edge, points: &[(&str, f64)]) {
    let sheet = measured(fdi, edge);
    let (median, p05) = expected_incisal(edge);
    let close = |what: &str, found: f64, truth: f64, limit: f64| {
        assert!((found - truth).abs() < limit, "{fdi} {what}: {found} instead of {truth}");
    };
    close("incisal", value(&sheet, "reduction.incisal_mm"), median, 0.03);
    close("incisal p05", extra(&sheet, "reduction.incisal_mm", "p05"), p05, 0.05);
    close("fossa", value(&sheet, "reduction.lingual_fossa_mm"), FOSSA_MM, 0.03);
    close("fossa p05", extra(&sheet, "reduction.lingual_fossa_mm", "p05"), FOSSA_MM, 0.05);
    for (name, truth) in points {
        close(name, value(&sheet, &format!("reduction.points.{name}_mm")), *truth, 0.05);
    }
    close("room over the fossa", extra(&sheet, "space.total_mm", "lingual_fossa"), FOSSA_MM, 0.05);
    for zone in ["functional", "nonfunctional", "groove", "marginal_ridge"] {
        let reason = &sheet.refused[&format!("reduction.occlusal.{zone}_mm")];
        assert!(reason.contains("reduction.incisal_mm") && reason.contains("reduction.lingual_fossa_mm"));
    }
    assert!(sheet.refused.contains_key("occlusal.incline.parallel_deg"));
}

#[test]
fn an_incisor_has_an_incisal_edge_and_a_lingual_fossa() {
    // From the crest of the uncut edge the closest prepared place is the crest under it.
    let edge = Edge { slope: 0.0 };
    check(11, edge, &[("mi", INCISAL_MM), ("i", INCISAL_MM), ("di", INCISAL_MM), ("lf", FOSSA_MM)]);
}

#[test]
fn a_canine_has_one_tip_and_two_slopes() {
    let edge = Edge { slope: 0.5 };
    // Half-way down, the closest place lies square on the crest's slope.
    let slope_mm = INCISAL_MM / 0.5f64.hypot(1.0);
    check(13, edge, &[("tip", INCISAL_MM), ("mi", slope_mm), ("di", slope_mm), ("lf", FOSSA_MM)]);
}

#[test]
fn teeth_behind_the_canine_have_no_incisal_readings() {
    // The same body called a premolar: nothing of a front tooth is said of it.
    let sheet = measured(14, Edge { slope: 0.0 });
    let is_front = |id: &String| id.contains("incisal") || id.contains("lingual_fossa");
    assert!(!sheet.readings.keys().chain(sheet.refused.keys()).any(is_front));
}
