//! What each reading should say, from the phantom's exact surfaces.
//!
//! Sources: `kerfwright_phantom::Truth` (exact surfaces, no scan, no code shared with the measuring), and sections of
//! those surfaces taken here where `Truth` uses another definition than the contract:
//! - `Truth` takes an aspect's value over 22.5° to both sides; the contract divides the tooth into eight sectors and
//!   takes the middle half, 11.25° to both sides. Tapers, widths, wall heights, axial reductions and heights over the
//!   gingiva are therefore taken here (which also gives the line angles); declinations and cavosurface angles, which hardly change
//!   over an aspect of these phantoms, are `Truth`'s.
//! - `Truth`'s undercut area is that of surface facing away from the path; shadowed floor and fillet are left out.

use std::collections::BTreeMap;

use kerfwright_geometry::TriangleTree;
use kerfwright_measure::Document;
use kerfwright_measure::document::Value;
use kerfwright_measure::frame::Aspect;
use kerfwright_phantom::{ByAspect, Extent, Phantom, RowLevel, ScanOptions, Scans, Spec};
use nalgebra::{Matrix3, Matrix4, Point3, Vector3};
use rayon::prelude::*;

/// Expected values by id (`id#extra` for extras).
pub type Expected = BTreeMap<String, Value>;

/// All expected values that do not depend on the scan.
pub fn expected(phantom: &Phantom) -> Expected {
    let mut all = Expected::new();
    let truth = phantom.truth();
    walls(phantom, &mut all);
    if phantom.fdi().position() <= 3 {
        front(phantom, &mut all);
    } else {
        occlusal(phantom, &mut all);
        super::truth_occlusal::add(phantom, &mut all);
    }
    path(phantom, &mut all);
    finish_line(phantom, &mut all);
    super::hold::expected(phantom, &mut all);
    let mut put = |id: &str, value: f64| all.insert(id.into(), Value::Number(value));
    put("reduction.volume_mm3", truth.removed_mm3);
    put("reduction.crown_pct", 100.0 * truth.removed_mm3 / truth.crown_mm3);
    put("undercut.area_mm2", truth.along_path.undercut.area_mm2);
    put("undercut.depth_mm", truth.along_path.undercut.depth_mm);
    for (side, name) in ["mesial", "distal"].iter().enumerate() {
        if let Some(distance_mm) = truth.neighbour_mm[side] {
            put(&format!("finish_line.neighbour.{name}_mm"), distance_mm);
            put(&format!("neighbour.{name}.depth_mm"), truth.nick_mm[side]);
        }
    }
    // As `ScanOptions::default` sets it.
    put("scan.noise_um", 8.0);
    // What the exact surfaces do not show, as a line angle over a front tooth's cingulum, is no truth.
    all.retain(|_, value| !matches!(value, Value::Number(number) if !number.is_finite()));
    all
}

/// How far the found pose is off at the prepared tooth, as readings with the expected value 0.
pub fn pose_errors(document: &Document, scans: &Scans, phantom: &Phantom) -> [(&'static str, f64); 2] {
    let Some(rows) = document.frame.before_from_after else {
        return [("pose.shift_um", f64::NAN), ("pose.turn_deg", f64::NAN)];
    };
    let found = Matrix4::from_fn(|row, column| rows[row][column]);
    let exact = scans.before_from_after.to_homogeneous();
    let centre = scans.after_from_tooth.transform_point(&centre_of(&line(phantom)));
    let shift_mm = (found.transform_point(&centre) - exact.transform_point(&centre)).norm();
    let turn: Matrix3<f64> = found.fixed_view::<3, 3>(0, 0) * exact.fixed_view::<3, 3>(0, 0).transpose();
    // The skew part is the sine of the angle: the trace loses small angles.
    let skew =
        Vector3::new(turn[(2, 1)] - turn[(1, 2)], turn[(0, 2)] - turn[(2, 0)], turn[(1, 0)] - turn[(0, 1)]);
    [("pose.shift_um", 1000.0 * shift_mm), ("pose.turn_deg", (0.5 * skew.norm()).asin().to_degrees())]
}

fn each(values: &ByAspect<f64>, mut put: impl FnMut(&str, f64)) {
    for (name, value) in ["mesial", "facial", "distal", "lingual"].iter().zip(values.around()) {
        put(name, value);
    }
}

fn walls(phantom: &Phantom, all: &mut Expected) {
    let truth = phantom.truth();
    let mut put = |id: String, value: f64| {
        all.insert(id, Value::Number(value));
    };
    let directions = [(Vector3::from(truth.path), ""), (Vector3::z(), "#along_axis")];
    for (direction, extra) in directions {
        let walls = exact_walls(phantom, &direction);
        let tapers: Vec<Placed> = walls.iter().map(|wall| (wall.angle_deg, wall.taper_deg)).collect();
        let widths: Vec<Placed> = walls.iter().map(|wall| (wall.angle_deg, wall.width_mm)).collect();
        let taper = |aspect: Aspect| middle(&tapers, aspect);
        for aspect in Aspect::ALL {
            if steady(&tapers, aspect, 0.3) {
                put(format!("taper.{}_deg{extra}", aspect.id()), taper(aspect));
            }
            if extra.is_empty() && steady(&widths, aspect, 0.025) {
                put(format!("finish_line.width.{}_mm", aspect.id()), middle(&widths, aspect));
            }
        }
        if extra.is_empty() {
            use Aspect::{
                Distal, Distofacial, Distolingual, Facial, Lingual, Mesial, Mesiofacial, Mesiolingual,
            };
            let planes = [
                ("mesiodistal", Mesial, Distal),
                ("faciolingual", Facial, Lingual),
                ("mesiofacial_distolingual", Mesiofacial, Distolingual),
                ("distofacial_mesiolingual", Distofacial, Mesiolingual),
            ];
            for (name, one, other) in planes {
                if [one, other].iter().all(|&aspect| steady(&tapers, aspect, 0.3)) {
                    put(format!("toc.{name}_deg"), taper(one) + taper(other));
                }
            }
        }
    }
    let sections = exact_sections(phantom, &Vector3::from(truth.path));
    let heights: Vec<Placed> =
        sections.iter().filter_map(|section| Some((section.angle_deg, section.top_mm?))).collect();
    for aspect in Aspect::SURFACES {
        if steady(&heights, aspect, 0.075) {
            put(format!("wall.height.{}_mm", aspect.id()), middle(&heights, aspect));
        }
    }
    axial(phantom, &sections, &mut put);
    let across = line(phantom);
    let extent_mm = across.iter().map(|point| point.y).fold(f64::MIN, f64::max)
        - across.iter().map(|point| point.y).fold(f64::MAX, f64::min);
    let height_mm = 0.5 * (middle(&heights, Aspect::Facial) + middle(&heights, Aspect::Lingual));
    put("ratio.oc_fl".into(), height_mm / extent_mm);
}

fn occlusal(phantom: &Phantom, all: &mut Expected) {
    let truth = phantom.truth();
    let mut put = |id: String, value: f64| all.insert(id, Value::Number(value));
    // The other zones hang on the groove line: see `truth_occlusal`.
    let ridge = &truth.occlusal.marginal_ridge;
    put("reduction.occlusal.marginal_ridge_mm".into(), ridge.median_mm);
    put("reduction.occlusal.marginal_ridge_mm#p05".into(), ridge.p05_mm);
    put("clearance.mip_mm".into(), truth.clearance_mip.least_mm);
}

/// Front teeth have an incisal edge and a lingual fossa.
fn front(phantom: &Phantom, all: &mut Expected) {
    let mut put = |id: &str, value: f64| all.insert(id.into(), Value::Number(value));
    put("clearance.mip_mm", phantom.truth().clearance_mip.least_mm);
    super::truth_front::add(phantom, all);
}

fn path(phantom: &Phantom, all: &mut Expected) {
    let truth = phantom.truth();
    // Where a row's cusps are level its necks are not, by up to 5 degrees: neither plane's upright alone is the tooth's axis.
    let is_known = phantom.spec().row_level == RowLevel::Necks;
    if is_known {
        all.insert("path.tilt_deg".into(), Value::Number(truth.path_tilt_deg));
    }
    // Between a clear tilt and none, either word is right.
    if is_known && truth.path_tilt_deg > 3.0 {
        let aspect = Aspect::at(truth.path_toward_deg).to_string();
        all.insert("path.tilt_toward".into(), Value::Text(aspect));
    }
    // Nothing of the scene, own wall included, stands straight over the finish line or a tenth outside of it.
    let up = Vector3::from(truth.path);
    let points = line(phantom);
    let centre = centre_of(&points);
    let covered = |outside_mm: f64| {
        points.iter().step_by(2).any(|point| {
            let outward = point - centre;
            let outward = (outward - up * outward.dot(&up)).normalize();
            let over = |step: u32| point + outward * outside_mm + up * (0.1 * f64::from(step));
            (3..60).any(|step| phantom.is_inside_after(&over(step)))
        })
    };
    if !covered(0.1) && !covered(-0.1) {
        all.insert("path.blocked_by".into(), Value::Text("none".into()));
    }
}

fn finish_line(phantom: &Phantom, all: &mut Expected) {
    let truth = phantom.truth();
    let points = line(phantom);
    let centre = centre_of(&points);
    for aspect in Aspect::SURFACES {
        // Both curves are given at the same azimuths; heights run along the tooth's axis, which is z.
        let pairs = points.iter().zip(&truth.gingiva_line);
        let near = pairs.filter(|(point, _)| aspect.holds_in_middle(angle_deg(point, &centre)));
        let above = median(near.map(|(point, gingiva)| point.z - gingiva[2]).collect());
        all.insert(format!("finish_line.above_gingiva.{}_mm", aspect.id()), Value::Number(above));
    }
    each(&truth.along_path.declination_deg, |name, value| {
        all.insert(format!("finish_line.declination.{name}_deg"), Value::Number(value));
    });
    each(&truth.cavosurface_deg, |name, value| {
        all.insert(format!("finish_line.cavosurface.{name}_deg"), Value::Number(value));
    });
    let highest = truth.flaws.lips.iter().map(|lip| lip.height_mm).fold(0.0, f64::max);
    // Without one nothing is asked: the reading is then 0 or not by what it can see.
    if highest > 0.0 {
        all.insert("finish_line.lip_mm".into(), Value::Number(highest));
    }
    let spec = phantom.spec();
    let names = spec.finish.map(|finish| finish.name()).around();
    for ((aspect, name), width_mm) in Aspect::SURFACES.iter().zip(names).zip(spec.width_mm.around()) {
        // The program's table calls a chamfer of 0.8 mm and more a deep one; the phantom knows one word.
        let name = if name == "chamfer" && width_mm >= 0.8 { "deep chamfer" } else { name };
        all.insert(format!("finish_line.kind.{}", aspect.id()), Value::Text(name.into()));
    }
}

/// The phantom's finish line.
pub fn line(phantom: &Phantom) -> Vec<Point3<f64>> {
    phantom.truth().finish_line.iter().map(|&point| Point3::from(point)).collect()
}

/// The mean of some points.
pub fn centre_of(points: &[Point3<f64>]) -> Point3<f64> {
    Point3::from(points.iter().map(|point| point.coords).sum::<Vector3<f64>>() / points.len() as f64)
}

/// 0 mesial, 90 facial: the phantom's `x` and `y`.
pub fn angle_deg(point: &Point3<f64>, centre: &Point3<f64>) -> f64 {
    (point.y - centre.y).atan2(point.x - centre.x).to_degrees().rem_euclid(360.0)
}

/// The wall line in one section of the exact body.
pub struct ExactWall {
    /// Angle around the tooth: 0 mesial, 90 facial.
    pub angle_deg: f64,
    /// Angle of the wall line to the direction.
    pub taper_deg: f64,
    /// From E to the wall line at the level of E.
    pub width_mm: f64,
    /// E, and the direction square on the finish line and on the path towards the tooth.
    pub edge: Point3<f64>,
    /// See `edge`.
    pub inward: Vector3<f64>,
    /// The middle of the straight stretch over E.
    pub middle_mm: f64,
}

/// Sections of the exact prepared body in planes that hold the direction and stand square on the finish line as seen
/// along it. The wall line runs through the lowest straight stretch of the wall; sections without one are left out.
pub fn exact_walls(phantom: &Phantom, direction: &Vector3<f64>) -> Vec<ExactWall> {
    let points = line(phantom);
    let centre = centre_of(&points);
    let n = points.len();
    (0..n)
        .into_par_iter()
        .step_by(2)
        .filter_map(|k| {
            let along = points[(k + 1) % n] - points[(k + n - 1) % n];
            let across = direction.cross(&along).normalize();
            let inward = if across.dot(&(centre - points[k])) < 0.0 { -across } else { across };
            let Straight { low, high } = straight(phantom, &points[k], direction, &inward)?;
            let lean = (high.1 - low.1) / (high.0 - low.0);
            Some(ExactWall {
                angle_deg: angle_deg(&points[k], &centre),
                taper_deg: lean.atan().to_degrees(),
                width_mm: low.1 - lean * low.0,
                edge: points[k],
                inward,
                middle_mm: 0.5 * (low.0 + high.0),
            })
        })
        .collect()
}

/// One section of the exact body.
struct ExactSection {
    angle_deg: f64,
    edge: Point3<f64>,
    inward: Vector3<f64>,
    up: Vector3<f64>,
    /// The occlusal line angle over E: where wall and occlusal surface meet when extended past any rounding.
    top_mm: Option<f64>,
}

/// Every degree of the finish line, in the middle of the four surfaces and a little beyond.
fn exact_sections(phantom: &Phantom, up: &Vector3<f64>) -> Vec<ExactSection> {
    let points = line(phantom);
    let centre = centre_of(&points);
    let n = points.len();
    let places: Vec<usize> = (0..n).step_by(2).collect();
    let section = |&k: &usize| {
        let across = up.cross(&(points[(k + 1) % n] - points[(k + n - 1) % n])).normalize();
        let inward = if across.dot(&(centre - points[k])) < 0.0 { -across } else { across };
        let mut section = ExactSection {
            angle_deg: angle_deg(&points[k], &centre),
            edge: points[k],
            inward,
            up: *up,
            top_mm: None,
        };
        let is_near = |aspect: &Aspect| {
            SHIFTS_DEG.iter().any(|shift_deg| aspect.holds_in_middle(section.angle_deg + shift_deg))
        };
        let aspect = Aspect::SURFACES.iter().position(is_near)?;
        // `Truth`'s median over the wider sector is near enough to start from.
        let start_mm = phantom.truth().along_path.height_mm.around()[aspect];
        // Between two cusps the line angle lies lower, and the start finds no wall.
        section.top_mm =
            (0..10).find_map(|step| section.line_angle(phantom, start_mm - 0.2 * f64::from(step)));
        Some(section)
    };
    places.par_iter().filter_map(section).collect()
}

fn of_aspect(sections: &[ExactSection], aspect: Aspect) -> impl Iterator<Item = &ExactSection> {
    sections.iter().filter(move |section| aspect.holds_in_middle(section.angle_deg))
}

impl ExactSection {
    fn wall_at(&self, phantom: &Phantom, height_mm: f64) -> Option<f64> {
        wall_at(phantom, &(self.edge + self.up * height_mm), &self.inward)
    }

    /// Height of the prepared surface at a distance inwards of E, from below.
    fn top_at(&self, phantom: &Phantom, inward_mm: f64) -> f64 {
        let (mut low, mut high) = (0.3, 9.0);
        for _ in 0..35 {
            let between = 0.5 * (low + high);
            let point = self.edge + self.inward * inward_mm + self.up * between;
            if phantom.is_inside_after(&point) { low = between } else { high = between }
        }
        low
    }

    /// Where the line through the wall 0.5 and 0.8 mm under it meets the line through the occlusal surface 0.3 and
    /// 0.45 mm behind it: past roundings of 0.25 mm, near enough to follow what curves.
    fn line_angle(&self, phantom: &Phantom, start_mm: f64) -> Option<f64> {
        let mut top_mm = start_mm;
        for _ in 0..40 {
            let (low, high) = (self.wall_at(phantom, top_mm - 0.8)?, self.wall_at(phantom, top_mm - 0.5)?);
            let lean = (high - low) / 0.3;
            let edge_mm = high + 0.5 * lean;
            let (near, far) = (self.top_at(phantom, edge_mm + 0.3), self.top_at(phantom, edge_mm + 0.45));
            let slope = (far - near) / 0.15;
            // Height of the occlusal line over the wall line's foot, both taken to their meeting point.
            let next_mm = (near - 0.3 * slope - top_mm * lean * slope) / (1.0 - lean * slope);
            let step_mm = 0.5 * (next_mm - top_mm);
            top_mm += step_mm;
            if step_mm.abs() < 1e-4 {
                break;
            }
        }
        (0.8..9.0).contains(&top_mm).then_some(top_mm)
    }
}

/// The tooth as it was, alone: only the place of its finish line hangs on the teeth beside it.
pub(super) fn uncut_alone(phantom: &Phantom) -> Phantom {
    Phantom::new(&Spec {
        teeth_mesially: 0,
        teeth_distally: 0,
        abutments: Vec::new(),
        nick_mesial_mm: 0.0,
        nick_distal_mm: 0.0,
        extent: Extent::WithoutGingiva,
        ..phantom.spec().clone()
    })
}

/// Median closest distance to the uncut surface over the thirds of the height from E to the occlusal line angle.
///
/// The uncut surface is a scan without noise of this tooth alone, since in a contact no scan of the row shows it: between
/// vertices it lies within 0.25² / (8 × 4 mm) = 2 µm of the truth.
fn axial(phantom: &Phantom, sections: &[ExactSection], put: &mut impl FnMut(String, f64)) {
    // Odd, or the median falls between two heights, 0.2 mm of reduction apart where a floor rises slowly.
    const HEIGHTS: usize = 15;
    let uncut = uncut_alone(phantom).scan(&ScanOptions { edge_mm: 0.25, ..ScanOptions::exact() });
    let tree = TriangleTree::new(&uncut.before);
    for aspect in Aspect::SURFACES {
        let mut thirds = [const { Vec::new() }; 3];
        for section in of_aspect(sections, aspect) {
            let Some(top_mm) = section.top_mm else { continue };
            for step in 0..3 * HEIGHTS {
                let height_mm = top_mm * (step as f64 + 0.5) / (3 * HEIGHTS) as f64;
                let Some(inward_mm) = section.wall_at(phantom, height_mm) else { continue };
                let point = section.edge + section.inward * inward_mm + section.up * height_mm;
                thirds[step / HEIGHTS].push(uncut.before_from_tooth.transform_point(&point));
            }
        }
        for (third, points) in ["gingival", "middle", "occlusal"].iter().zip(&thirds) {
            let near = tree.closest_many(points, 5.0);
            let distances = near.iter().flatten().map(|near| near.distance_mm).collect();
            put(format!("reduction.axial.{}.{third}_mm", aspect.id()), median(distances));
        }
    }
}

/// The lowest 0.4 mm of a section's wall that are straight, as how far inwards the wall lies at both ends: above every
/// fillet and round floor, below line angles and breaks. `None` where there is no such stretch below 2.6 mm.
fn straight(
    phantom: &Phantom,
    edge: &Point3<f64>,
    up: &Vector3<f64>,
    inward: &Vector3<f64>,
) -> Option<Straight> {
    const STEP_MM: f64 = 0.1;
    // On the round floor of a chamfer the middle of 0.4 mm lies 10 µm and more off the chord.
    const BULGE_MM: f64 = 0.001;
    let mut walls = Vec::new();
    for step in 3..=26 {
        let height_mm = STEP_MM * f64::from(step);
        walls.push((height_mm, wall_at(phantom, &(edge + up * height_mm), inward)));
        // One step more than is taken: its lowest may reach a little into the round floor.
        let Some(last) = walls.last_chunk::<6>() else { continue };
        let [Some(a), Some(b), Some(c), Some(d), Some(e), Some(f)] = last.map(|wall| wall.1) else {
            continue;
        };
        let is_straight = |low: f64, middle: f64, high: f64| (0.5 * (low + high) - middle).abs() < BULGE_MM;
        if is_straight(a, c, e) && is_straight(b, d, f) {
            return Some(Straight { low: (last[1].0, b), high: (last[5].0, f) });
        }
    }
    None
}

/// Height and place of both ends of a straight stretch.
struct Straight {
    low: (f64, f64),
    high: (f64, f64),
}

/// How far inwards the wall lies: from inside the body outwards until its surface, then halved down.
fn wall_at(phantom: &Phantom, from: &Point3<f64>, inward: &Vector3<f64>) -> Option<f64> {
    const STEP_MM: f64 = 0.05;
    let inside = |place_mm: f64| phantom.is_inside_after(&(from + inward * place_mm));
    // Near the top the occlusal surface may dip below this height farther in.
    let deep_mm = [2.0, 1.5, 1.2, 0.9].into_iter().find(|&place_mm| inside(place_mm))?;
    let out = (1..60).map(|step| deep_mm - STEP_MM * f64::from(step)).find(|&place_mm| !inside(place_mm))?;
    let (mut outer, mut inner) = (out, out + STEP_MM);
    for _ in 0..30 {
        let between = 0.5 * (outer + inner);
        if inside(between) { inner = between } else { outer = between }
    }
    Some(0.5 * (outer + inner))
}

/// Angle around the tooth, degrees, and a value there.
type Placed = (f64, f64);

/// The middle of the values in an aspect's middle half.
fn middle(values: &[Placed], aspect: Aspect) -> f64 {
    median(values.iter().filter(|value| aspect.holds_in_middle(value.0)).map(|value| value.1).collect())
}

/// How far the tooth frame, which no scan shows better than to a few degrees, may stand turned to either side.
const SHIFTS_DEG: [f64; 2] = [-3.0, 3.0];

/// Whether a value stays the same within `limit` when the aspect is shifted around the tooth to either side.
///
/// Where one wall's taper passes into another's (line angles of uneven preparations), or the line angle climbs to a cusp, the
/// median over a sector follows the tooth frame: no tolerance on the value can be asked there.
fn steady(values: &[Placed], aspect: Aspect, limit: f64) -> bool {
    // Of about 22 sections; where half have no straight wall there is nothing to read.
    const LEAST: usize = 11;
    let at = |shift_deg: f64| {
        let shifted: Vec<Placed> = values.iter().map(|value| (value.0 + shift_deg, value.1)).collect();
        let n_inside = shifted.iter().filter(|value| aspect.holds_in_middle(value.0)).count();
        if n_inside < LEAST { f64::NAN } else { middle(&shifted, aspect) }
    };
    SHIFTS_DEG.iter().all(|&shift_deg| (at(shift_deg) - at(0.0)).abs() < limit)
}

/// The middle value; NaN of none.
pub fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}
