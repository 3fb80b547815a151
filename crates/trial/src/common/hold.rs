//! What holds a crown, from the phantom's exact surfaces: axial area, resisting shares, facial planes.
//!
//! The walls are taken from level cuts: planes square on the path, one above the other, each with the outline of the exact body
//! in it. A piece of outline stands for as much surface as it is long, times the step up, over the cosine of its lean, which
//! follows from where the surface lies a little higher and lower. So each place of the surface counts once, however narrow the
//! tooth and whatever is hollow in it. No code is shared with the measuring, which works on triangles.

use kerfwright_measure::document::Value;
use kerfwright_measure::frame::Aspect;
use kerfwright_phantom::{Extent, Finish, Phantom, Spec};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::truth::{Expected, angle_deg, centre_of, line, median, uncut_alone};

/// Between two level cuts, mm.
const STEP_MM: f64 = 0.04;
/// A front tooth's prepared crown is up to 9 mm high over the finish line's highest place.
const ABOVE_MM: f64 = 9.0;
/// Squares in which the outline is sought, mm, and into how many parts their sides are split where it runs.
const SQUARE_MM: f64 = 0.25;
const SPLIT: usize = 5;
/// How far outside of the finish line's extent a wall may lie, mm.
const MARGIN_MM: f64 = 0.5;
/// How far above and below a cut the surface is sought for its lean, mm, and how far to the side: leans of up to 80°.
const NEAR_MM: f64 = 0.002;
const ASIDE_MM: f64 = 0.012;
/// What lies so far outside of the prepared surface was tooth before, mm.
const TAKEN_MM: f64 = 0.02;
/// Every so many of the phantom's 720 stations.
const EVERY: usize = 2;
/// How many of the phantom's stations to each side give the finish line's direction.
const CHORD: usize = 8;
/// Up to this radius, mm, a rounding counts as the corner that it rounds: triangles of 0.15 mm do not show it.
const UNSEEN_RADIUS_MM: f64 = 0.3;
/// Tapers that are tried for a limit, degrees: from one side of 45° to the other.
const MOST_TAPER_DEG: f64 = 45.0;
const N_TAPERS: usize = 90;

/// A prepared tooth that can be asked where it is.
pub struct Body<'a> {
    /// Whether a place lies in the prepared tooth.
    pub is_inside: &'a (dyn Fn(&Point3<f64>) -> bool + Sync),
    /// Whether it lay in the uncut one.
    pub was_inside: &'a (dyn Fn(&Point3<f64>) -> bool + Sync),
    /// Its finish line, in order around the tooth.
    pub line: &'a [Point3<f64>],
    /// The path of placement, unit.
    pub up: Vector3<f64>,
}

/// What holds a crown on a body.
pub struct Hold {
    /// Area of the axial walls, mm².
    pub axial_area_mm2: f64,
    /// By tilting axis: where it lies around the tooth, and what stands against the turn.
    pub turns: Vec<(f64, Turn)>,
}

/// A station of the finish line.
struct Station {
    edge: Point3<f64>,
    inward: Vector3<f64>,
    angle_deg: f64,
}

/// A piece of axial wall.
struct Cell {
    centre: Point3<f64>,
    normal: Vector3<f64>,
    area_mm2: f64,
    /// Height over the finish line where that is nearest as seen along the path, mm.
    height_mm: f64,
    /// Wall of a groove or a wing: it stands across that finish line by more than 45°, and other wall of its height
    /// lies more than 0.2 mm farther out before it, within 45° of its normal.
    recess: bool,
}

/// Adds axial area, resisting shares and facial planes.
pub fn expected(phantom: &Phantom, all: &mut Expected) {
    let (prepared, uncut) = (sharp(phantom), uncut_alone(phantom));
    let body = Body {
        // Of the prepared row what lies in the uncut tooth: neither its neighbours nor the gum.
        is_inside: &|point| uncut.is_inside_before(point) && prepared.is_inside_after(point),
        was_inside: &|point| uncut.is_inside_before(point),
        line: &line(phantom),
        up: Vector3::from(phantom.truth().path),
    };
    let Hold { axial_area_mm2, turns } = body.hold();
    let mut put = |id: String, value: f64| all.insert(id, Value::Number(value));
    put("retention.axial_area_mm2".into(), axial_area_mm2);
    for aspect in Aspect::ALL {
        let opposite = Aspect::at(aspect.centre_deg() + 180.0);
        // Where the value changes along the aspect it follows the tooth frame, which no scan shows better than to 3°.
        let middle = |shift_deg: f64, value: fn(&Turn) -> f64| {
            let near = turns
                .iter()
                .filter(|(angle_deg, _)| opposite.holds_in_middle((angle_deg + shift_deg).rem_euclid(360.0)));
            median(near.map(|(_, turn)| value(turn)).collect())
        };
        let mut put_steady = |id: String, value: fn(&Turn) -> f64, limit: f64| {
            let own = middle(0.0, value);
            if [-3.0, 3.0].iter().all(|&shift_deg| (middle(shift_deg, value) - own).abs() < limit) {
                put(id, own);
            }
        };
        let id = format!("resistance.resisting_pct.{}", aspect.id());
        put_steady(format!("{id}#limiting_taper_deg"), |turn| turn.limiting_taper_deg, 0.25);
        put_steady(id, |turn| turn.resisting_pct, 1.0);
    }
    let least = turns.iter().map(|(_, turn)| turn.limiting_taper_deg).fold(f64::MAX, f64::min);
    put("resistance.limiting_taper_deg".into(), least);
    let second_deg = phantom.spec().second_plane.map_or(0.0, |plane| plane.angle_deg);
    put("facial.second_plane_deg".into(), second_deg);
    put("facial.planes".into(), if second_deg > 4.0 { 2.0 } else { 1.0 });
}

/// The same preparation with sharp corners where they are rounded too little to show.
fn sharp(phantom: &Phantom) -> Phantom {
    let spec = phantom.spec();
    let sharp = |radius_mm: f64| if radius_mm > UNSEEN_RADIUS_MM { radius_mm } else { 0.0 };
    let finish = spec.finish.map(|finish| match finish {
        Finish::Shoulder { internal_radius_mm } => {
            Finish::Shoulder { internal_radius_mm: sharp(internal_radius_mm) }
        }
        Finish::SlopedShoulder { declination_deg, internal_radius_mm } => {
            Finish::SlopedShoulder { declination_deg, internal_radius_mm: sharp(internal_radius_mm) }
        }
        other => other,
    });
    let mut flaws = spec.flaws;
    if let Some(shoulder) = &mut flaws.shoulder {
        shoulder.internal_radius_mm = sharp(shoulder.internal_radius_mm);
    }
    Phantom::new(&Spec {
        finish,
        flaws,
        line_angle_radius_mm: sharp(spec.line_angle_radius_mm),
        line_angle_radii_mm: spec.line_angle_radii_mm.map(|radii| radii.map(sharp)),
        extent: Extent::WithoutGingiva,
        ..spec.clone()
    })
}

impl Body<'_> {
    /// What holds a crown on it.
    pub fn hold(&self) -> Hold {
        let stations = self.stations();
        let cells = self.cells(&stations);
        let turn = |axis: &Station| (axis.angle_deg, Turn::about(axis, &stations, &cells, &self.up));
        Hold {
            axial_area_mm2: cells.iter().map(|cell| cell.area_mm2).sum(),
            turns: stations.par_iter().step_by(EVERY).map(turn).collect(),
        }
    }

    fn stations(&self) -> Vec<Station> {
        let centre = centre_of(self.line);
        let n = self.line.len();
        let at = |k: usize| {
            // Over half a millimetre: at a jump of the line its direction from point to point says little.
            let along = self.line[(k + CHORD) % n] - self.line[(k + n - CHORD) % n];
            let edge = self.line[k];
            let across = self.up.cross(&along).normalize();
            let inward = if across.dot(&(centre - edge)) < 0.0 { -across } else { across };
            Station { edge, inward, angle_deg: angle_deg(&edge, &centre) }
        };
        (0..n).map(at).collect()
    }

    /// The prepared surface whose normal stands more than 60° off the path.
    fn cells(&self, stations: &[Station]) -> Vec<Cell> {
        let levels = self.line.iter().map(|point| point.coords.dot(&self.up));
        let low_mm = levels.clone().fold(f64::MAX, f64::min);
        let n_cuts = ((levels.fold(f64::MIN, f64::max) + ABOVE_MM - low_mm) / STEP_MM) as u32;
        let pieces = (0..n_cuts)
            .into_par_iter()
            .flat_map_iter(|k| Cut::new(self, low_mm + STEP_MM * (f64::from(k) + 0.5)).wall());
        let footed = |(centre, normal, area_mm2): (Point3<f64>, Vector3<f64>, f64)| {
            let off_mm2 = |station: &&Station| {
                let from = centre - station.edge;
                from.norm_squared() - from.dot(&self.up).powi(2)
            };
            let under = stations.iter().min_by(|a, b| off_mm2(a).total_cmp(&off_mm2(b)))?;
            let recess = level_of(&normal, &self.up).dot(&-under.inward) < 45f64.to_radians().cos();
            let height_mm = (centre - under.edge).dot(&self.up);
            Some(Cell { centre, normal, area_mm2, height_mm, recess })
        };
        let mut cells: Vec<Cell> = pieces.filter_map(footed).collect();
        let recessed = |cell: &Cell| {
            let outward = level_of(&cell.normal, &self.up);
            let beyond = |other: &Cell| {
                let to = other.centre - cell.centre;
                let aside = (to - outward * to.dot(&outward) - self.up * to.dot(&self.up)).norm();
                to.dot(&self.up).abs() < 0.25 && to.dot(&outward) > aside.max(0.2)
            };
            cell.recess && cells.iter().any(beyond)
        };
        let recesses: Vec<bool> = cells.par_iter().map(recessed).collect();
        cells.iter_mut().zip(recesses).for_each(|(cell, recess)| cell.recess = recess);
        cells
    }
}

/// A plane square on the path.
struct Cut<'a> {
    body: &'a Body<'a>,
    /// A corner of the field in which the tooth stands, two directions in the plane, and how many squares there are along each.
    corner: Point3<f64>,
    across: [Vector3<f64>; 2],
    n_squares: [usize; 2],
}

/// A place in a cut, mm along its two directions.
type Place = [f64; 2];

impl<'a> Cut<'a> {
    fn new(body: &'a Body<'a>, level_mm: f64) -> Self {
        let first = level_of(&Vector3::x(), &body.up);
        let across = [first, body.up.cross(&first)];
        let extent = across.map(|direction| {
            let places = body.line.iter().map(|point| point.coords.dot(&direction));
            (places.clone().fold(f64::MAX, f64::min), places.fold(f64::MIN, f64::max))
        });
        let low = extent.map(|extent| extent.0 - MARGIN_MM);
        Self {
            body,
            corner: Point3::from(body.up * level_mm + across[0] * low[0] + across[1] * low[1]),
            across,
            n_squares: extent
                .map(|extent| ((extent.1 - extent.0 + 2.0 * MARGIN_MM) / SQUARE_MM).ceil() as usize),
        }
    }

    fn at(&self, place: Place) -> Point3<f64> {
        self.corner + self.across[0] * place[0] + self.across[1] * place[1]
    }

    fn is_inside(&self, place: Place) -> bool {
        (self.body.is_inside)(&self.at(place))
    }

    /// The pieces of axial wall that the cut meets: middle, outward normal, area.
    fn wall(&self) -> Vec<(Point3<f64>, Vector3<f64>, f64)> {
        let [n, m] = self.n_squares;
        let at = |i: usize, j: usize| [SQUARE_MM * i as f64, SQUARE_MM * j as f64];
        let inside: Vec<bool> = (0..=n)
            .flat_map(|i| (0..=m).map(move |j| (i, j)))
            .map(|(i, j)| self.is_inside(at(i, j)))
            .collect();
        if !inside.contains(&true) {
            return Vec::new();
        }
        // A square is looked into where not all corners of it and of the squares around are the same.
        let differs = |i: usize, j: usize| {
            let mut around = (i.saturating_sub(1)..=(i + 2).min(n))
                .flat_map(|i| (j.saturating_sub(1)..=(j + 2).min(m)).map(move |j| (i, j)));
            let own = inside[i * (m + 1) + j];
            around.any(|(i, j)| inside[i * (m + 1) + j] != own)
        };
        let squares = (0..n).flat_map(|i| (0..m).map(move |j| (i, j))).filter(|&(i, j)| differs(i, j));
        squares.flat_map(|(i, j)| self.outline_in(at(i, j))).filter_map(|[a, b]| self.piece(a, b)).collect()
    }

    /// The outline in a square, each piece with the body on its left.
    fn outline_in(&self, corner: Place) -> Vec<[Place; 2]> {
        let side = SQUARE_MM / SPLIT as f64;
        let at = |i: usize, j: usize| [corner[0] + side * i as f64, corner[1] + side * j as f64];
        let inside: [[bool; SPLIT + 1]; SPLIT + 1] =
            std::array::from_fn(|i| std::array::from_fn(|j| self.is_inside(at(i, j))));
        let mut pieces = Vec::new();
        for i in 0..SPLIT {
            for j in 0..SPLIT {
                // Around the small square, to the left.
                let around = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)];
                let (mut enters, mut leaves) = (None, None);
                for k in 0..4 {
                    let ((a, b), (c, d)) = (around[k], around[(k + 1) % 4]);
                    match (inside[a][b], inside[c][d]) {
                        (false, true) => enters = Some(self.between(at(c, d), at(a, b))),
                        (true, false) => leaves = Some(self.between(at(a, b), at(c, d))),
                        _ => {}
                    }
                }
                pieces.extend(leaves.zip(enters).map(|(leaves, enters)| [leaves, enters]));
            }
        }
        pieces
    }

    /// The surface between a place inside and one outside.
    fn between(&self, mut inner: Place, mut outer: Place) -> Place {
        let middle = |a: Place, b: Place| [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
        for _ in 0..13 {
            let between = middle(inner, outer);
            if self.is_inside(between) { inner = between } else { outer = between }
        }
        middle(inner, outer)
    }

    /// The surface that a piece of the outline stands for, if it is prepared and a wall.
    fn piece(&self, a: Place, b: Place) -> Option<(Point3<f64>, Vector3<f64>, f64)> {
        let (from, to) = (self.at(a), self.at(b));
        let (along, centre) = (to - from, nalgebra::center(&from, &to));
        // The body lies on the left.
        let outward = along.cross(&self.body.up).try_normalize(1e-9)?;
        if !(self.body.was_inside)(&(centre + outward * TAKEN_MM)) {
            return None;
        }
        let aside = |up_mm: f64| self.aside(&(centre + self.body.up * up_mm), &outward);
        // Beside an edge of the body one of them is not there.
        let lean = match (aside(-NEAR_MM), aside(NEAR_MM)) {
            (Some(low), Some(high)) => 0.5 * (low - high) / NEAR_MM,
            (Some(low), None) => (low - aside(0.0)?) / NEAR_MM,
            (None, Some(high)) => (aside(0.0)? - high) / NEAR_MM,
            (None, None) => return None,
        };
        let slant = 1f64.hypot(lean);
        // Sine of the lean: the normal stands more than 60° off the path.
        (lean.abs() / slant < 0.5)
            .then(|| (centre, (outward + self.body.up * lean) / slant, along.norm() * STEP_MM * slant))
    }

    /// How far along a direction the surface lies.
    fn aside(&self, from: &Point3<f64>, outward: &Vector3<f64>) -> Option<f64> {
        let is_inside = |place_mm: f64| (self.body.is_inside)(&(from + outward * place_mm));
        let (mut inner, mut outer) = (-ASIDE_MM, ASIDE_MM);
        (is_inside(inner) && !is_inside(outer)).then_some(())?;
        for _ in 0..17 {
            let between = 0.5 * (inner + outer);
            if is_inside(between) { inner = between } else { outer = between }
        }
        Some(0.5 * (inner + outer))
    }
}

/// The part of a direction that is square on the path, unit.
fn level_of(direction: &Vector3<f64>, up: &Vector3<f64>) -> Vector3<f64> {
    (direction - up * direction.dot(up)).normalize()
}

/// What a turn about the finish line's tangent at a station meets in a strip a fifth as wide as
/// the finish line reaches across, and in recesses wherever they lie.
pub struct Turn {
    /// Share of the wall's area that resists.
    pub resisting_pct: f64,
    /// Taper up to which half of it would.
    pub limiting_taper_deg: f64,
}

impl Turn {
    fn about(axis: &Station, stations: &[Station], cells: &[Cell], up: &Vector3<f64>) -> Self {
        let reach =
            stations.iter().map(|other| (other.edge - axis.edge).dot(&axis.inward)).fold(0.0, f64::max);
        // Unit axis about which a turn by the right-hand rule lifts the far side.
        let turn = axis.inward.cross(up);
        let (mut resisting, mut all, mut limits) = (0.0, 0.0, Vec::new());
        for cell in cells {
            let from = cell.centre - axis.edge;
            let facing = level_of(&cell.normal, up).dot(&axis.inward);
            let in_strip = from.dot(&turn).abs() <= 0.1 * reach && facing >= 0.5;
            let in_recess = cell.recess && facing > 45f64.to_radians().cos();
            if !(in_strip || in_recess) {
                continue;
            }
            all += cell.area_mm2;
            if turn.cross(&from).dot(&cell.normal) < 0.0 {
                resisting += cell.area_mm2;
            }
            limits.push((Self::limit_deg(axis, cell, up), cell.area_mm2));
        }
        limits.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut below = 0.0;
        let middle = limits.iter().find(|limit| {
            below += limit.1;
            below >= 0.5 * all
        });
        Self {
            resisting_pct: 100.0 * resisting / all,
            limiting_taper_deg: middle.map_or(f64::NAN, |limit| limit.0),
        }
    }

    /// The taper up to which the cell, leaned about its wall's foot, resists: by trial, not by the formula.
    fn limit_deg(axis: &Station, cell: &Cell, up: &Vector3<f64>) -> f64 {
        let from = cell.centre - axis.edge;
        let lean = cell.normal.dot(up) / cell.normal.dot(&axis.inward);
        let base = from.dot(&axis.inward) + cell.height_mm * lean;
        let raised = cell.height_mm - from.dot(up);
        // At a taper the point stands over its foot by its own height, leaning in, and its normal leans as much.
        let resists = |taper_deg: f64| {
            let (sine, cosine) = taper_deg.to_radians().sin_cos();
            let (x, z) = (base - cell.height_mm * sine / cosine, cell.height_mm - raised);
            x * sine - z * cosine < 0.0
        };
        let taper_deg = |k: usize| MOST_TAPER_DEG * (2.0 * k as f64 / N_TAPERS as f64 - 1.0);
        let Some(first) = (0..=N_TAPERS).find(|&k| resists(taper_deg(k))) else { return -MOST_TAPER_DEG };
        // Over a raised axis there may be none.
        let Some(none) = (first..=N_TAPERS).find(|&k| !resists(taper_deg(k))) else { return MOST_TAPER_DEG };
        let (mut low, mut high) = (taper_deg(none - 1), taper_deg(none));
        for _ in 0..20 {
            let between = 0.5 * (low + high);
            if resists(between) { low = between } else { high = between }
        }
        0.5 * (low + high)
    }
}

#[cfg(test)]
mod tests {
    //! Against closed forms: `docs/sources.md#frustum` for areas, `#resistance-in-a-section` for the turn (both derived).

    use super::*;

    const N_STATIONS: u32 = 720;

    /// A circle at a height that may change around it.
    fn round_line(radius_mm: impl Fn(f64) -> f64, level_mm: impl Fn(f64) -> f64) -> Vec<Point3<f64>> {
        let angles = (0..N_STATIONS).map(|k| std::f64::consts::TAU * f64::from(k) / f64::from(N_STATIONS));
        let at = |a: f64| {
            let (level, radius) = (level_mm(a), radius_mm(level_mm(a)));
            Point3::new(radius * a.cos(), radius * a.sin(), level)
        };
        angles.map(at).collect()
    }

    /// A cone that carries on below its finish line, cut off at a height; what was taken off lay around it.
    fn cone(radius_mm: f64, taper_deg: f64, top_mm: f64, line: &[Point3<f64>]) -> Hold {
        let lean = taper_deg.to_radians().tan();
        let is_inside = |p: &Point3<f64>| p.z < top_mm && p.x.hypot(p.y) < radius_mm - p.z * lean;
        let above_line = |p: &Point3<f64>| {
            let angle = p.y.atan2(p.x).rem_euclid(std::f64::consts::TAU);
            let place = angle / std::f64::consts::TAU * f64::from(N_STATIONS);
            p.z > line[place.round() as usize % line.len()].z
        };
        let was_inside = |p: &Point3<f64>| is_inside(p) || above_line(p);
        Body { is_inside: &is_inside, was_inside: &was_inside, line, up: Vector3::z() }.hold()
    }

    /// Height from which a wall resists.
    fn neutral_mm(base_mm: f64, taper_deg: f64, raised_mm: f64) -> f64 {
        let (sine, cosine) = taper_deg.to_radians().sin_cos();
        base_mm * sine * cosine + raised_mm * cosine * cosine
    }

    #[test]
    fn cones_have_the_area_and_the_hold_of_the_closed_forms() {
        // Diameter, height, convergence and lateral area, as tabled.
        for (base, height, toc, area) in [
            (10.0, 4.0, 6.0, 123.198),
            (10.0, 3.0, 12.0, 91.779),
            (8.0, 4.0, 12.0, 95.773),
            (6.0, 5.0, 10.0, 87.710),
        ] {
            let taper_deg = 0.5 * toc;
            let hold = cone(0.5 * base, taper_deg, height, &round_line(|_| 0.5 * base, |_| 0.0));
            assert!(
                (hold.axial_area_mm2 - area).abs() < 0.002 * area,
                "{base} {height} {toc}: {}",
                hold.axial_area_mm2
            );
            let share = 100.0 * (1.0 - neutral_mm(base, taper_deg, 0.0) / height);
            let limit = 0.5 * (height / base).asin().to_degrees();
            for (angle_deg, turn) in &hold.turns {
                // The strip is a fifth of a round wall: at its sides it stands a little nearer.
                assert!(
                    (turn.resisting_pct - share).abs() < 0.7,
                    "{angle_deg}: {} of {share}",
                    turn.resisting_pct
                );
                assert!(
                    (turn.limiting_taper_deg - limit).abs() < 0.3,
                    "{angle_deg}: {} of {limit}",
                    turn.limiting_taper_deg
                );
            }
        }
    }

    #[test]
    fn an_uneven_finish_line_costs_or_gives_hold() {
        for (radius, top, taper_deg, raised) in
            [(5.0, 4.5, 6.0, 1.0), (5.0, 4.0, 0.0, 1.5), (4.5, 4.0, 8.0, -1.0)]
        {
            let lean = f64::to_radians(taper_deg).tan();
            let line = round_line(
                |level| radius - level * lean,
                |angle| 0.5 * (f64::abs(raised) + raised * angle.cos()),
            );
            let hold = cone(radius, taper_deg, top, &line);
            // Over the highest place of the line the axis stands lowest opposite: the turn about the mesial station.
            let (near, far) = (line[0].z, line[360].z);
            let (base, height) = (2.0 * radius - (near + far) * lean, top - far);
            let share = 100.0 * (1.0 - neutral_mm(base, taper_deg, raised) / height);
            let turn = &hold.turns[0].1;
            assert!((turn.resisting_pct - share).abs() < 1.0, "{raised}: {} of {share}", turn.resisting_pct);
            // The taper at which the wall's middle is the neutral place.
            let off = |limit_deg: f64| neutral_mm(base, limit_deg, raised) - 0.5 * height;
            let own = turn.limiting_taper_deg;
            assert!(off(own - 0.4) < 0.0 && off(own + 0.4) > 0.0, "{raised}: {own}");
        }
    }

    #[test]
    fn over_a_raised_axis_a_high_place_resists_at_every_taper() {
        let up = Vector3::z();
        let axis = Station { edge: Point3::origin(), inward: Vector3::x(), angle_deg: 0.0 };
        // A place of an upright wall 4 mm away whose finish line lies 2 mm lower.
        let at = |height_mm: f64| Cell {
            centre: Point3::new(4.0, 0.0, height_mm - 2.0),
            normal: Vector3::x(),
            area_mm2: 1.0,
            height_mm,
            recess: false,
        };
        // Neutral at h = (p + √(b² + p²) sin(2T + atan(p/b)))/2, which is never more than (2 + √20)/2 = 3.236 mm.
        assert!((Turn::limit_deg(&axis, &at(3.3), &up) - 45.0).abs() < 1e-9);
        for height_mm in [2.2, 3.0, 3.23] {
            let limit_deg = Turn::limit_deg(&axis, &at(height_mm), &up);
            assert!((neutral_mm(4.0, limit_deg, 2.0) - height_mm).abs() < 1e-6, "{height_mm}: {limit_deg}");
            assert!(limit_deg < 0.5 * (90.0 - 0.5f64.atan().to_degrees()), "{limit_deg}");
        }
    }

    /// Narrow and hollow as an incisor: flat in front and at the sides, behind a hollow like a lying cylinder's outside.
    #[test]
    fn a_narrow_hollow_body_has_the_area_of_its_parts() {
        const WIDE_MM: f64 = 5.0;
        const HIGH_MM: f64 = 6.0;
        const FRONT_MM: f64 = 1.5;
        // The hollow's axis lies behind at half the height, and reaches to 1 mm behind the front.
        const RADIUS_MM: f64 = 6.0;
        let axis = (-RADIUS_MM + 0.5, 0.5 * HIGH_MM);
        let lean = 8f64.to_radians().tan();
        let hollow = |z: f64| axis.0 + (RADIUS_MM.powi(2) - (z - axis.1).powi(2)).sqrt();
        let front = |z: f64| FRONT_MM - z * lean;
        let is_inside = |p: &Point3<f64>| {
            p.x.abs() < 0.5 * WIDE_MM && p.z < HIGH_MM && p.y < front(p.z) && (p.z < 0.0 || p.y > hollow(p.z))
        };
        let was_inside = |p: &Point3<f64>| p.z > 0.0;
        let line: Vec<Point3<f64>> = round_line(|_| 1.0, |_| 0.0)
            .iter()
            .map(|p| {
                Point3::new(p.x / p.x.abs().max(p.y.abs()) * 2.6, p.y / p.x.abs().max(p.y.abs()) * 1.6, 0.0)
            })
            .collect();
        let found =
            Body { is_inside: &is_inside, was_inside: &was_inside, line: &line, up: Vector3::z() }.hold();
        let side: f64 = (0..6000)
            .map(|k| 1e-3 * (f64::from(k) + 0.5))
            .map(|z| 1e-3 * (front(z) - hollow(z)).max(0.0))
            .sum();
        // The front leans by 8°; of the hollow all is steeper than 60° to the level: asin(3/6) = 30°.
        let behind = WIDE_MM * RADIUS_MM * 2.0 * (0.5 * HIGH_MM / RADIUS_MM).asin();
        let expected = WIDE_MM * HIGH_MM / 8f64.to_radians().cos() + behind + 2.0 * side;
        // The outline cuts the four upright edges, at most from side to side of a small square.
        let cut = 4.0 * HIGH_MM * (2.0 - f64::sqrt(2.0)) * SQUARE_MM / SPLIT as f64;
        let off = found.axial_area_mm2 - expected;
        assert!((-cut..0.002 * expected).contains(&off), "{} of {expected}", found.axial_area_mm2);
    }
}
