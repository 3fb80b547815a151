//! What the readings of the occlusal side should say, from the phantom's exact surfaces.
//!
//! Heights over a grid in the tooth's own frame, found by bisection of the exact body, stand for the surfaces. Cusp
//! tips and fossae are places higher or lower than all others within 0.6 mm; the groove line runs through the mesial
//! and the distal fossa. (`Truth` takes the line that the phantom's teeth are drawn about; where cusps of unequal height
//! meet, as on 24 and 35, their fossae lie up to 0.25 mm beside it, and on 26 the oblique ridge turns their line.)
//! Closest distances are to a scan without noise: between its vertices it lies within 6 µm of the surface on a cusp's tip.

use std::collections::BTreeMap;

use kerfwright_geometry::TriangleTree;
use kerfwright_measure::document::Value;
use kerfwright_phantom::{Phantom, RowLevel, ScanOptions};
use nalgebra::{Point3, Vector2, Vector3};
use rayon::prelude::*;

use super::truth::Expected;

const STEP_MM: f64 = 0.1;
/// No other place within this is higher than a tip or lower than a fossa.
const ALONE_MM: f64 = 0.6;
const BAND_MM: f64 = 0.8;
/// Of the outer incline so much at its end is left out: the triangles of a scan reach over the edge there.
const CHOPPED_MM: f64 = 0.1;

/// Adds all expected values of the occlusal side.
pub fn add(phantom: &Phantom, all: &mut Expected) {
    let exact = Exact::new(phantom);
    let mut put = |id: String, value: f64| {
        all.insert(id, Value::Number(value));
    };
    exact.reduction(&mut put);
    exact.points(&mut put);
    exact.inclines(&mut put);
    exact.cusp_line(&mut put);
    exact.space(&mut put);
}

/// One place of the prepared occlusal surface.
struct Sample {
    /// Tooth frame.
    place: Point3<f64>,
    area_mm2: f64,
    /// Slopes (mesially, facially) over the plane square on the path.
    slope: Vector2<f64>,
    distance_mm: f64,
}

/// The samples of one column, with where the non-functional ridge, the valley, the functional ridge and the functional end
/// cross it.
struct Column<'a> {
    lines_mm: [f64; 4],
    samples: Vec<&'a Sample>,
}

struct Exact<'a> {
    phantom: &'a Phantom,
    cut: Window,
    facial: Vec<Point3<f64>>,
    lingual: Vec<Point3<f64>>,
    fossae: Vec<Point3<f64>>,
    samples: Vec<Sample>,
    before: Before,
}

/// The uncut surface to measure distances to.
pub(super) struct Before {
    tree: TriangleTree,
    before_from_tooth: nalgebra::Matrix4<f64>,
}

impl Before {
    pub(super) fn of(phantom: &Phantom) -> Self {
        let scan = phantom.scan(&ScanOptions::exact());
        Self { tree: TriangleTree::new(&scan.before), before_from_tooth: scan.before_from_tooth }
    }

    pub(super) fn distance_mm(&self, place: &Point3<f64>) -> f64 {
        let own = self.before_from_tooth.transform_point(place);
        self.tree.closest(&own, 6.0).expect("the uncut tooth is near").distance_mm
    }
}

/// Heights over a grid.
struct Window {
    low: Vector2<f64>,
    step_mm: f64,
    n: [usize; 2],
    z: Vec<f64>,
}

impl Window {
    fn of(
        inside: &(dyn Fn(&Point3<f64>) -> bool + Sync),
        low: Vector2<f64>,
        high: Vector2<f64>,
        step_mm: f64,
        in_view: impl Fn(&Vector2<f64>) -> bool + Sync,
    ) -> Self {
        let n = [0, 1].map(|k| ((high[k] - low[k]) / step_mm) as usize + 1);
        let z = (0..n[0] * n[1])
            .into_par_iter()
            .map(|cell| {
                let at = low + Vector2::new((cell / n[1]) as f64, (cell % n[1]) as f64) * step_mm;
                if in_view(&at) { height(inside, &at).unwrap_or(f64::NAN) } else { f64::NAN }
            })
            .collect();
        Self { low, step_mm, n, z }
    }

    fn at(&self, cell: usize) -> Vector2<f64> {
        self.low + Vector2::new((cell / self.n[1]) as f64, (cell % self.n[1]) as f64) * self.step_mm
    }

    /// Cells above (`sign` 1) or below all others within a distance, none of which is out of view.
    fn alone(&self, sign: f64) -> Vec<Point3<f64>> {
        let reach = (ALONE_MM / self.step_mm) as isize;
        let is_alone = |&cell: &usize| {
            let (i, j) = ((cell / self.n[1]) as isize, (cell % self.n[1]) as isize);
            (-reach..=reach).all(|di| {
                (-reach..=reach).filter(|dj| di * di + dj * dj <= reach * reach).all(|dj| {
                    let (i, j) = (i + di, j + dj);
                    let inside = i >= 0 && j >= 0 && i < self.n[0] as isize && j < self.n[1] as isize;
                    // A comparison with what is out of view is false.
                    inside && sign * self.z[i as usize * self.n[1] + j as usize] <= sign * self.z[cell]
                })
            })
        };
        let found = (0..self.z.len()).filter(is_alone);
        found.map(|cell| Point3::new(self.at(cell).x, self.at(cell).y, self.z[cell])).collect()
    }
}

/// The uppermost surface of a body over a place.
pub(super) fn height(inside: &(dyn Fn(&Point3<f64>) -> bool + Sync), at: &Vector2<f64>) -> Option<f64> {
    let is_in = |z: f64| inside(&Point3::new(at.x, at.y, z));
    let found = (0..70).map(|k| 13.0 - 0.15 * f64::from(k)).find(|&z| is_in(z))?;
    let (mut low, mut high) = (found, found + 0.15);
    for _ in 0..28 {
        let middle = 0.5 * (low + high);
        if is_in(middle) { low = middle } else { high = middle }
    }
    Some(low)
}

/// A tip or fossa brought from its cell to its place.
fn settled(
    inside: &(dyn Fn(&Point3<f64>) -> bool + Sync),
    from: &Point3<f64>,
    sign: f64,
    mut step_mm: f64,
) -> Point3<f64> {
    let mut best = *from;
    while step_mm > 2e-3 {
        let around = (-1..=1).flat_map(|i| (-1..=1).map(move |j| (f64::from(i), f64::from(j))));
        let next = around
            .filter_map(|(i, j)| {
                let at = best.xy().coords + Vector2::new(i, j) * step_mm;
                Some(Point3::new(at.x, at.y, height(inside, &at)?))
            })
            .max_by(|a, b| (sign * a.z).total_cmp(&(sign * b.z)));
        match next {
            Some(next) if sign * next.z > sign * best.z + 1e-9 => best = next,
            _ => step_mm *= 0.5,
        }
    }
    best
}

fn from_mesial(mut row: Vec<Point3<f64>>) -> Vec<Point3<f64>> {
    row.sort_by(|a, b| b.x.total_cmp(&a.x));
    row
}

/// Whether a place lies inside a closed line, seen from the occlusal, the line widened by a factor.
pub(super) fn inside_line(line: &[Point3<f64>], at: &Vector2<f64>, widened: f64) -> bool {
    let centre = line.iter().map(|p| p.coords.xy()).sum::<Vector2<f64>>() / line.len() as f64;
    let at = centre + (at - centre) / widened;
    let crossings = (0..line.len()).filter(|&k| {
        let (a, b) = (line[k], line[(k + 1) % line.len()]);
        (a.y > at.y) != (b.y > at.y) && at.x < a.x + (at.y - a.y) / (b.y - a.y) * (b.x - a.x)
    });
    crossings.count() % 2 == 1
}

impl<'a> Exact<'a> {
    fn new(phantom: &'a Phantom) -> Self {
        let line: Vec<Point3<f64>> =
            phantom.truth().finish_line.iter().map(|&point| Point3::from(point)).collect();
        let corner = Vector2::new(6.0, 6.0);
        let in_view = |at: &Vector2<f64>| inside_line(&line, at, 1.05);
        let window = |body: &(dyn Fn(&Point3<f64>) -> bool + Sync)| {
            Window::of(body, -corner, corner, STEP_MM, in_view)
        };
        let uncut = window(&|p| phantom.is_inside_before(p));
        let cut = window(&|p| phantom.is_inside_after(p));
        let before = Before::of(phantom);
        let body = |p: &Point3<f64>| phantom.is_inside_before(p);
        let tips: Vec<Point3<f64>> =
            uncut.alone(1.0).iter().map(|tip| settled(&body, tip, 1.0, STEP_MM)).collect();
        let across = || tips.iter().map(|tip| tip.y);
        let rows = [across().fold(f64::MAX, f64::min), across().fold(f64::MIN, f64::max)];
        let middle = 0.5 * (rows[0] + rows[1]);
        let pits: Vec<Point3<f64>> = uncut
            .alone(-1.0)
            .iter()
            .map(|pit| settled(&body, pit, -1.0, STEP_MM))
            .filter(|pit| (pit.y - middle).abs() < 0.35 * (rows[1] - rows[0]))
            .collect();
        let row = |sign: f64| {
            let tips = tips.iter().filter(|tip| sign * (tip.y - middle) > BAND_MM).copied();
            from_mesial(tips.collect())
        };
        let (facial, lingual) = (row(1.0), row(-1.0));
        let mut exact =
            Self { phantom, fossae: from_mesial(pits), cut, facial, lingual, samples: Vec::new(), before };
        exact.samples = exact.occlusal_samples(&line);
        exact
    }

    fn path(&self) -> Vector3<f64> {
        Vector3::from(self.phantom.truth().path)
    }

    /// Prepared places whose normal lies within 60° of the path, 1.5 mm over the finish line (or half the lowest wall).
    fn occlusal_samples(&self, line: &[Point3<f64>]) -> Vec<Sample> {
        let path = self.path();
        let walls = self.phantom.truth().along_path.height_mm.around();
        let lowest = walls.into_iter().fold(f64::MAX, f64::min);
        let top = line.iter().map(|p| p.coords.dot(&path)).fold(f64::MIN, f64::max);
        let floor = top + 1.5f64.min(0.5 * lowest);
        let inside = |p: &Point3<f64>| self.phantom.is_inside_after(p);
        let mesial = self.square_mesial();
        let facial = path.cross(&mesial);
        (0..self.cut.z.len())
            .into_par_iter()
            .filter_map(|cell| {
                const NEAR_MM: f64 = 0.01;
                let (at, z) = (self.cut.at(cell), self.cut.z[cell]);
                let place = Point3::new(at.x, at.y, z);
                if z.is_nan() || place.coords.dot(&path) <= floor {
                    return None;
                }
                let near = |dx: f64, dy: f64| height(&inside, &(at + Vector2::new(dx, dy)));
                let gradient = Vector2::new(
                    (near(NEAR_MM, 0.0)? - near(-NEAR_MM, 0.0)?) / (2.0 * NEAR_MM),
                    (near(0.0, NEAR_MM)? - near(0.0, -NEAR_MM)?) / (2.0 * NEAR_MM),
                );
                let up = Vector3::new(-gradient.x, -gradient.y, 1.0);
                let normal = up.normalize();
                if normal.dot(&path) <= 0.5 {
                    return None;
                }
                let slope = Vector2::new(-normal.dot(&mesial), -normal.dot(&facial)) / normal.dot(&path);
                let distance_mm = self.before.distance_mm(&place);
                Some(Sample { place, area_mm2: up.norm() * STEP_MM * STEP_MM, slope, distance_mm })
            })
            .collect()
    }

    /// How far a place lies facially of the line through the mesial and distal fossa.
    fn facially(&self, place: &Point3<f64>) -> f64 {
        let (mesial, distal) = (self.fossae[0], self.fossae[self.fossae.len() - 1]);
        let along = (mesial - distal).xy().normalize();
        along.perp(&(place - distal).xy())
    }

    fn functional_sign(&self) -> f64 {
        if self.phantom.fdi().is_upper() { -1.0 } else { 1.0 }
    }

    fn zone(&self, name: &str) -> Vec<&Sample> {
        let sign = self.functional_sign();
        let off = |sample: &&Sample| {
            let off = sign * self.facially(&sample.place);
            match name {
                "functional" => off > BAND_MM,
                "nonfunctional" => off < -BAND_MM,
                _ => off.abs() <= BAND_MM,
            }
        };
        self.samples.iter().filter(off).collect()
    }

    fn reduction(&self, put: &mut impl FnMut(String, f64)) {
        for name in ["functional", "nonfunctional", "groove"] {
            let pairs: Vec<(f64, f64)> =
                self.zone(name).iter().map(|sample| (sample.distance_mm, sample.area_mm2)).collect();
            put(format!("reduction.occlusal.{name}_mm"), quantile(&pairs, 0.5));
            put(format!("reduction.occlusal.{name}_mm#p05"), quantile(&pairs, 0.05));
        }
    }

    /// From the uncut point to the closest prepared place: the closest of the grid, then of ever finer ones around it.
    fn points(&self, put: &mut impl FnMut(String, f64)) {
        let inside = |p: &Point3<f64>| self.phantom.is_inside_after(p);
        for (name, point) in self.customary() {
            let off = |place: &Point3<f64>| (place - point).norm();
            let places = (0..self.cut.z.len()).filter(|&cell| self.cut.z[cell].is_finite());
            let places = places.map(|k| Point3::new(self.cut.at(k).x, self.cut.at(k).y, self.cut.z[k]));
            let mut best =
                places.min_by(|a, b| off(a).total_cmp(&off(b))).expect("there is a prepared surface");
            let mut step = 0.5 * STEP_MM;
            while step > 1e-3 {
                let around = (-1..=1).flat_map(|i| (-1..=1).map(move |j| (f64::from(i), f64::from(j))));
                let tried = around.filter_map(|(i, j)| {
                    let at = best.xy().coords + Vector2::new(i, j) * step;
                    Some(Point3::new(at.x, at.y, height(&inside, &at)?))
                });
                let next = tried.min_by(|a, b| off(a).total_cmp(&off(b))).expect("places around a place");
                if off(&next) < off(&best) { best = next } else { step *= 0.5 }
            }
            put(format!("reduction.points.{name}_mm"), off(&best));
        }
    }

    fn customary(&self) -> BTreeMap<&'static str, Point3<f64>> {
        let mut named = BTreeMap::new();
        let molar = self.phantom.fdi().position() >= 6;
        let names: [&[&'static str]; 2] = match (molar, self.lingual.len()) {
            (true, _) => [&["mb", "db"], &["ml", "dl"]],
            (false, 1) => [&["b"], &["l"]],
            _ => [&["b"], &["ml", "dl"]],
        };
        for (names, row) in names.iter().zip([&self.facial, &self.lingual]) {
            named.extend(names.iter().copied().zip(row.iter().copied()));
        }
        named.insert("mf", self.fossae[0]);
        named.insert("df", self.fossae[self.fossae.len() - 1]);
        named
    }

    /// The inclines where they are flat enough to have one inclination: with borders 0.1 mm farther in or out it stays
    /// within 1.3° of its own.
    fn inclines(&self, put: &mut impl FnMut(String, f64)) {
        let columns = self.columns();
        let at = |moved_mm: f64| self.inclines_within(&columns, 0.3 + moved_mm);
        let (wider, own, narrower) = (at(-0.1), at(0.0), at(0.1));
        for (id, value) in own {
            let near =
                |other: &BTreeMap<String, f64>| other.get(&id).is_some_and(|v| (v - value).abs() < 1.3);
            if near(&wider) && near(&narrower) {
                put(id, value);
            }
        }
    }

    /// Mesially in the plane square on the path.
    fn square_mesial(&self) -> Vector3<f64> {
        let path = self.path();
        (Vector3::x() - path * path.x).normalize()
    }

    /// How far mesially a place lies.
    fn along(&self, place: &Point3<f64>) -> f64 {
        place.coords.dot(&self.square_mesial())
    }

    /// How far towards the functional side a place lies.
    fn across(&self, place: &Point3<f64>) -> f64 {
        self.functional_sign() * place.coords.dot(&self.path().cross(&self.square_mesial()))
    }

    /// The grid's columns across the tooth that have two ridges and a valley.
    fn columns<'s>(&'s self) -> Vec<Column<'s>> {
        let path = self.path();
        let up = |place: &Point3<f64>| place.coords.dot(&path);
        let mut columns = BTreeMap::<i64, Vec<&Sample>>::new();
        for sample in &self.samples {
            columns.entry((sample.place.x / STEP_MM).round() as i64).or_default().push(sample);
        }
        let inside = |p: &Point3<f64>| self.phantom.is_inside_after(p);
        // Between the cells beside the highest or lowest one, by thirds.
        let settle = |sample: &Sample, sign: f64| {
            let at = |y: f64| {
                let place = Vector2::new(sample.place.x, y);
                height(&inside, &place).map(|z| Point3::new(place.x, y, z))
            };
            let score = |y: f64| at(y).map_or(f64::MIN, |place| sign * up(&place));
            let (mut low, mut high) = (sample.place.y - STEP_MM, sample.place.y + STEP_MM);
            while high - low > 1e-3 {
                let third = (high - low) / 3.0;
                if score(low + third) < score(high - third) { low += third } else { high -= third }
            }
            self.across(&at(0.5 * (low + high)).unwrap_or(sample.place))
        };
        let read = |samples: Vec<&'s Sample>| -> Option<Column<'s>> {
            let top = |side: f64| {
                let beside = samples
                    .iter()
                    .filter(|s| side * self.functional_sign() * self.facially(&s.place) > BAND_MM);
                beside.max_by(|a, b| up(&a.place).total_cmp(&up(&b.place)))
            };
            let (ridge, far) = (top(1.0)?, top(-1.0)?);
            let span = self.across(&far.place)..=self.across(&ridge.place);
            let between = samples.iter().filter(|s| span.contains(&self.across(&s.place)));
            let valley = between.min_by(|a, b| up(&a.place).total_cmp(&up(&b.place)))?;
            let end_mm = samples.iter().map(|s| self.across(&s.place)).fold(f64::MIN, f64::max);
            let end_mm = end_mm + 0.5 * STEP_MM - CHOPPED_MM;
            let lines_mm = [settle(far, 1.0), settle(valley, -1.0), settle(ridge, 1.0), end_mm];
            Some(Column { lines_mm, samples })
        };
        columns.into_values().collect::<Vec<_>>().into_par_iter().filter_map(read).collect()
    }

    /// Between valley and ridges of each column of the grid, so much to each left out, within 1 mm of the uncut tips. A
    /// place counts by the part of its cell that lies between these borders.
    fn inclines_within(&self, columns: &[Column<'_>], rounded_mm: f64) -> BTreeMap<String, f64> {
        let mut all = BTreeMap::new();
        let mut put = |id: String, value: f64| {
            all.insert(id, value);
        };
        let sign = self.functional_sign();
        let (functional, nonfunctional) =
            if sign > 0.0 { (&self.facial, &self.lingual) } else { (&self.lingual, &self.facial) };
        let [mut outer, mut inner, mut other] = [const { Vec::<(Vector2<f64>, f64)>::new() }; 3];
        for column in columns {
            let [far, valley, ridge, end] = column.lines_mm;
            for sample in &column.samples {
                let y = self.across(&sample.place);
                let part = |low: f64, high: f64| {
                    let half = 0.5 * STEP_MM;
                    ((y + half).min(high) - (y - half).max(low)).max(0.0) / STEP_MM * sample.area_mm2
                };
                let near = |tips: &[Point3<f64>]| {
                    tips.iter().any(|tip| (self.along(tip) - self.along(&sample.place)).abs() < 1.0)
                };
                let outward = -sign * sample.slope.y > 15f64.to_radians().tan();
                if near(functional) && outward {
                    outer.push((sample.slope, part(ridge + rounded_mm, end)));
                }
                if near(functional) {
                    let area_mm2 = part(valley + rounded_mm, ridge - rounded_mm - 0.15);
                    inner.push((sample.slope, area_mm2));
                }
                if near(nonfunctional) {
                    other.push((sample.slope, part(far + rounded_mm, valley - rounded_mm)));
                }
            }
        }
        let slopes = |part: &[(Vector2<f64>, f64)]| {
            // Too little is refused; near the limit of 0.8 mm² either answer is right.
            let area_mm2: f64 = part.iter().map(|sample| sample.1).sum();
            (area_mm2 > 1.1).then(|| [0, 1].map(|axis| middle_half_mean(part, axis)))
        };
        let (outer, inner, other) = (slopes(&outer), slopes(&inner), slopes(&other));
        let mut tell = |name: &str, slope: Option<[f64; 2]>, sense: f64| {
            if let Some(slope) = slope {
                let value = (sense * sign * slope[1]).atan().to_degrees();
                put(format!("occlusal.incline.{name}_deg"), value);
            }
        };
        tell("functional_outer", outer, -1.0);
        tell("functional_inner", inner, 1.0);
        tell("nonfunctional_inner", other, -1.0);
        if let (Some(outer), Some(other)) = (outer, other) {
            let normal = |slope: [f64; 2]| Vector3::new(-slope[0], -slope[1], 1.0);
            let parallel_deg = normal(outer).angle(&normal(other)).to_degrees();
            put("occlusal.incline.parallel_deg".into(), parallel_deg);
        }
        all
    }

    /// Prepared facial tips against the parabola through the two nearest facial tips on each side; in rows with level cusps,
    /// since it tells cusps from ridges by their height.
    fn cusp_line(&self, put: &mut impl FnMut(String, f64)) {
        if self.phantom.spec().row_level != RowLevel::Cusps {
            return;
        }
        let line: Vec<Point3<f64>> =
            self.phantom.truth().finish_line.iter().map(|&point| Point3::from(point)).collect();
        let inside = |p: &Point3<f64>| self.phantom.is_inside_before(p);
        let corner = Vector2::new(18.0, 7.0);
        let reach = self.two_neighbours_mm();
        let in_view =
            |at: &Vector2<f64>| !inside_line(&line, at, 1.15) && at.x < reach[0] && at.x > -reach[1];
        let row = Window::of(&inside, -corner, corner, 0.2, in_view);
        // Cusps of neighbours reach as high as each other within 1.6 mm; marginal ridges stay below.
        let summits = row.alone(1.0);
        let highest = summits.iter().map(|tip| tip.z).fold(f64::MIN, f64::max);
        let summits = summits.into_iter().filter(|tip| tip.z > highest - 1.6);
        let tips: Vec<Point3<f64>> = summits.map(|tip| settled(&inside, &tip, 1.0, 0.2)).collect();
        let has_farther = |tip: &Point3<f64>| {
            tips.iter().any(|other| (other.x - tip.x).abs() < 2.5 && other.y - tip.y > 1.5)
        };
        let facial: Vec<Point3<f64>> = tips.iter().filter(|tip| !has_farther(tip)).copied().collect();
        let mut near = Vec::new();
        for side in [1.0, -1.0] {
            let mut these: Vec<Point3<f64>> =
                facial.iter().filter(|tip| side * tip.x > 0.0).copied().collect();
            these.sort_by(|a, b| (side * a.x).total_cmp(&(side * b.x)));
            near.extend(these.into_iter().take(2));
        }
        let own = self.cut.alone(1.0).into_iter().filter(|tip| self.facially(tip) > BAND_MM);
        let n_own = if self.phantom.fdi().position() >= 6 { 2 } else { 1 };
        let cut = |p: &Point3<f64>| self.phantom.is_inside_after(p);
        let mut own: Vec<Point3<f64>> = own.map(|tip| settled(&cut, &tip, 1.0, STEP_MM)).collect();
        own.sort_by(|a, b| b.z.total_cmp(&a.z));
        own.truncate(n_own);
        if near.len() < 2 || own.len() < n_own {
            return;
        }
        // Two tips bear a straight line only.
        let bend = if near.len() > 2 { 1.0 } else { 0.0 };
        let powers = |x: f64| Vector3::new(1.0, x, bend * x * x);
        let mut normal: nalgebra::Matrix3<f64> =
            near.iter().map(|tip| powers(tip.x) * powers(tip.x).transpose()).sum();
        normal[(2, 2)] += 1.0 - bend;
        let right: Vector3<f64> = near.iter().map(|tip| powers(tip.x) * tip.y).sum();
        let c = normal.lu().solve(&right).expect("three tips bear a parabola");
        let off =
            |tip: &Point3<f64>| (tip.y - c.dot(&powers(tip.x))) / (c[1] + 2.0 * c[2] * tip.x).hypot(1.0);
        put("occlusal.cusp_line_mm".into(), own.iter().map(off).sum::<f64>() / own.len() as f64);
    }

    /// How far the two nearest teeth reach mesially and distally; incisors do not count.
    fn two_neighbours_mm(&self) -> [f64; 2] {
        let fdi = self.phantom.fdi();
        let width = |steps: i8| {
            let tooth = fdi.distally(steps).filter(|tooth| tooth.position() >= 3);
            tooth.map_or(0.0, |tooth| tooth.size().md_mm)
        };
        let own = 0.5 * fdi.size().md_mm;
        [own + width(-1) + width(-2), own + width(1) + width(2)]
    }

    /// The opposing teeth lie outside the uncut ones, so that the uncut contour is the nearer limit everywhere.
    fn space(&self, put: &mut impl FnMut(String, f64)) {
        for name in ["functional", "nonfunctional", "groove"] {
            let zone = self.zone(name);
            let pairs: Vec<(f64, f64)> = zone.iter().map(|s| (s.distance_mm, s.area_mm2)).collect();
            put(format!("space.total_mm#{name}"), quantile(&pairs, 0.0));
            put(format!("space.total_mm#{name}_median"), quantile(&pairs, 0.5));
            put(format!("space.total_mm#{name}_p05"), quantile(&pairs, 0.05));
            // Coping 0.3 and opaque 0.2 mm under the body.
            put(format!("space.body_ceramic_mm#{name}"), quantile(&pairs, 0.0) - 0.5);
        }
    }
}

/// Mean slope of the samples between the quartiles, by area.
fn middle_half_mean(part: &[(Vector2<f64>, f64)], axis: usize) -> f64 {
    let pairs: Vec<(f64, f64)> = part.iter().map(|(slope, area_mm2)| (slope[axis], *area_mm2)).collect();
    let (low, high) = (quantile(&pairs, 0.25), quantile(&pairs, 0.75));
    let middle = pairs.iter().filter(|pair| pair.0 >= low && pair.0 <= high);
    let (sum, total) = middle.fold((0.0, 0.0), |(sum, total), pair| (sum + pair.0 * pair.1, total + pair.1));
    sum / total
}

/// The smallest value with the given share of the weight at or below it.
pub(super) fn quantile(pairs: &[(f64, f64)], share: f64) -> f64 {
    let mut sorted = pairs.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = sorted.iter().map(|pair| pair.1).sum();
    let mut passed = 0.0;
    let reached = |pair: &&(f64, f64)| {
        passed += pair.1;
        passed >= share * total
    };
    sorted.iter().find(reached).map_or(f64::NAN, |pair| pair.0)
}
