//! Two straight faces and the arc tangent to both: the shape of a floor's inner corner and of an occlusal line angle.

use nalgebra::{Matrix2, Point2, SMatrix, SVector, Vector2};

/// Points nearer than this count as on the shape whatever the noise, mm: facets cut as much off an arc.
const LEAST_SCALE_MM: f64 = 0.003;
/// Largest radius that is told from a plane over the stretch that a corner takes, mm.
const LARGEST_MM: f64 = 3.0;

/// A straight face: the points with `normal · point = offset_mm`.
#[derive(Debug, Clone, Copy)]
pub struct Face {
    /// Unit, towards the hollow side of the corner.
    pub normal: Vector2<f64>,
    /// In mm.
    pub offset_mm: f64,
}

/// A corner between two faces with what the fit says about it.
#[derive(Debug, Clone, Copy)]
pub struct Corner {
    /// The faces, in the order given.
    pub faces: [Face; 2],
    /// Radius of the arc, mm; 0 is sharp.
    pub radius_mm: f64,
    /// Its standard error from the scatter of the points, mm.
    pub sigma_mm: f64,
    /// Weighted root mean square distance of the points, mm.
    pub rms_mm: f64,
}

impl Face {
    /// The face through a point along a direction, hollow side where `toward` points.
    pub fn through(point: &Point2<f64>, direction: &Vector2<f64>, toward: &Vector2<f64>) -> Self {
        let across = Vector2::new(-direction.y, direction.x).normalize();
        let normal = if across.dot(toward) < 0.0 { -across } else { across };
        Self { normal, offset_mm: normal.dot(&point.coords) }
    }

    /// Signed distance of a point, positive on the hollow side, mm.
    #[inline]
    pub fn distance_mm(&self, point: &Point2<f64>) -> f64 {
        self.normal.dot(&point.coords) - self.offset_mm
    }
}

/// Signed distance from the rounded corner, positive on its hollow side, mm.
#[inline]
pub fn distance_mm(faces: &[Face; 2], radius_mm: f64, point: &Point2<f64>) -> f64 {
    let [a, b] = [faces[0].distance_mm(point), faces[1].distance_mm(point)];
    let cosine = faces[0].normal.dot(&faces[1].normal);
    let (u, v) = (radius_mm - a, radius_mm - b);
    if radius_mm <= 0.0 || u <= v * cosine || v <= u * cosine {
        return a.min(b);
    }
    let sine2 = (1.0 - cosine * cosine).max(1e-9);
    radius_mm - ((u * u + v * v - 2.0 * u * v * cosine) / sine2).max(0.0).sqrt()
}

impl Corner {
    /// Fits both faces and the radius at once, robustly, from a first guess of the faces.
    ///
    /// `None` if there are too few points or the faces are nearly one.
    pub fn fit(points: &[Point2<f64>], faces: [Face; 2], noise_mm: f64) -> Option<Self> {
        Self::fit_masked(points, faces, [true, true], noise_mm)
    }

    /// The same with the second face held as it is.
    pub fn fit_to_wall(points: &[Point2<f64>], faces: [Face; 2], noise_mm: f64) -> Option<Self> {
        Self::fit_masked(points, faces, [true, false], noise_mm)
    }

    fn fit_masked(points: &[Point2<f64>], faces: [Face; 2], free: [bool; 2], noise_mm: f64) -> Option<Self> {
        if points.len() < 12 {
            return None;
        }
        let model = CornerModel { faces, free, about: middle(points) };
        // Half of chi square: what three degrees of freedom gain by chance; and four times the scatter's.
        const NO_WORSE: f64 = 1.5;
        const POSSIBLE: f64 = 8.0;
        // From a sharp and from round starts: the distance hardly changes with the radius where it is wrong by far.
        let starts = [0.0, 0.1, 0.4].map(|radius_mm| SVector::from([0.0, 0.0, 0.0, 0.0, radius_mm]));
        let fits: Vec<Fit<5>> =
            starts.iter().filter_map(|start| least_squares(points, *start, &model, noise_mm)).collect();
        let least = fits.iter().map(|fit| fit.cost).fold(f64::INFINITY, f64::min);
        let within = |half_chi2: f64| {
            let most = least + half_chi2 * noise_mm.max(LEAST_SCALE_MM).powi(2);
            fits.iter().filter(move |fit| fit.cost <= most)
        };
        let radius_of = |fit: &Fit<5>| fit.parameters[4].clamp(0.0, LARGEST_MM);
        // Where no point lies in the corner any small radius does: then the smallest.
        let best = within(NO_WORSE).min_by(|a, b| a.parameters[4].total_cmp(&b.parameters[4]))?;
        let radius_mm = radius_of(best);
        // Even over what else may be true.
        let farthest_mm = within(POSSIBLE).map(|fit| (radius_of(fit) - radius_mm).abs()).fold(0.0, f64::max);
        let faces = model.faces_at(&best.parameters);
        (faces[0].normal.perp(&faces[1].normal).abs() > 0.2).then_some(Self {
            faces,
            radius_mm,
            sigma_mm: best.covariance[(4, 4)].max(0.0).sqrt().hypot(farthest_mm / 3f64.sqrt()),
            rms_mm: best.rms_mm,
        })
    }

    /// Where the faces meet, extended.
    pub fn apex(&self) -> Option<Point2<f64>> {
        let [a, b] = self.faces;
        let rows = Matrix2::new(a.normal.x, a.normal.y, b.normal.x, b.normal.y);
        Some(Point2::from(rows.try_inverse()? * Vector2::new(a.offset_mm, b.offset_mm)))
    }

    /// How far the arc's middle stays away from the apex, as a multiple of the radius: 0.41 for a right angle, little for
    /// a blunt corner, whose radius then shows badly.
    pub fn gap_share(&self) -> f64 {
        let cosine = self.faces[0].normal.dot(&self.faces[1].normal).clamp(-1.0, 1.0);
        1.0 / (0.5 * cosine.acos()).cos() - 1.0
    }

    /// Standard uncertainty of the radius: from the scatter of the points, and from how seldom a scan with such edges
    /// has a vertex in a small corner. Never more than it takes to say that nothing is known.
    pub fn radius_sigma_mm(&self, edge_mm: f64) -> f64 {
        // A tenth of an edge is what a corner may be off by between its vertices (from phantom scans).
        const BETWEEN: f64 = 0.1;
        const NOTHING_KNOWN_MM: f64 = 1.0;
        let unseen_mm = BETWEEN * edge_mm / self.gap_share().max(1e-3);
        let unseen_mm = unseen_mm * (edge_mm / self.radius_mm.max(1e-6)).min(1.0);
        self.sigma_mm.hypot(unseen_mm).min(NOTHING_KNOWN_MM)
    }

    /// How far from the apex the arc leaves each face, mm.
    pub fn tangent_mm(&self) -> f64 {
        let cosine = self.faces[0].normal.dot(&self.faces[1].normal).clamp(-1.0, 1.0);
        // The arc turns by the angle between the normals.
        self.radius_mm * (0.5 * cosine.acos()).tan()
    }
}

/// An arc that runs from the edge into the wall, tangent to the wall.
#[derive(Debug, Clone, Copy)]
pub struct WallArc {
    /// Its centre.
    pub centre: Point2<f64>,
    /// Its radius, mm.
    pub radius_mm: f64,
    /// Where it meets the wall.
    pub foot: Point2<f64>,
    /// Weighted root mean square distance of the points, mm.
    pub rms_mm: f64,
}

impl WallArc {
    /// Fits an arc tangent to a wall that is held as it is. `up` is the wall's direction.
    pub fn fit(points: &[Point2<f64>], wall: &Face, up: &Vector2<f64>, noise_mm: f64) -> Option<Self> {
        if points.len() < 10 {
            return None;
        }
        let base = Point2::from(wall.normal * wall.offset_mm);
        let model = ArcModel { wall: *wall, up: *up, base };
        let level = (points[0] - base).dot(up);
        let starts = [0.4, 0.9].map(|radius_mm| SVector::from([level + 0.7 * radius_mm, radius_mm]));
        let fits = starts.iter().filter_map(|start| least_squares(points, *start, &model, noise_mm));
        let best = fits.min_by(|a, b| a.cost.total_cmp(&b.cost))?;
        let ArcShape { foot, centre, .. } = model.shape(&best.parameters);
        let radius_mm = best.parameters[1];
        (radius_mm > 0.05 && radius_mm < LARGEST_MM).then_some(Self {
            centre,
            radius_mm,
            foot,
            rms_mm: best.rms_mm,
        })
    }

    /// Its direction where it passes the origin, leading inward.
    pub fn tangent_at_edge(&self) -> Option<Vector2<f64>> {
        let outward = -self.centre.coords;
        let tangent = Vector2::new(-outward.y, outward.x).try_normalize(1e-9)?;
        Some(if tangent.x < 0.0 { -tangent } else { tangent })
    }
}

struct Fit<const N: usize> {
    parameters: SVector<f64, N>,
    covariance: SMatrix<f64, N, N>,
    cost: f64,
    rms_mm: f64,
}

fn middle(points: &[Point2<f64>]) -> Point2<f64> {
    Point2::from(points.iter().map(|point| point.coords).sum::<Vector2<f64>>() / points.len() as f64)
}

/// A shape with `N` free numbers to which points are fitted.
trait Model<const N: usize> {
    /// The shape, ready to be held against many points.
    type Shape;

    fn shape(&self, parameters: &SVector<f64, N>) -> Self::Shape;

    /// Signed distance of a point, mm.
    fn distance_mm(&self, shape: &Self::Shape, point: &Point2<f64>) -> f64;

    /// The distance and how it changes with each number.
    fn gradient(&self, shape: &Self::Shape, point: &Point2<f64>) -> (f64, SVector<f64, N>);
}

/// Two faces, each turned about a point and shifted if it is free, and the radius between them.
struct CornerModel {
    faces: [Face; 2],
    free: [bool; 2],
    about: Point2<f64>,
}

struct CornerShape {
    faces: [Face; 2],
    radius_mm: f64,
    /// Whether the radius may still change, either way.
    radius_is_free: bool,
}

impl CornerModel {
    fn faces_at(&self, p: &SVector<f64, 5>) -> [Face; 2] {
        let face_at = |k: usize| {
            let face = self.faces[k];
            if !self.free[k] {
                return face;
            }
            let (sine, cosine) = p[2 * k].sin_cos();
            let (x, y) = (face.normal.x, face.normal.y);
            let normal = Vector2::new(cosine * x - sine * y, sine * x + cosine * y);
            let offset_mm = normal.dot(&self.about.coords) - face.distance_mm(&self.about) + p[2 * k + 1];
            Face { normal, offset_mm }
        };
        [face_at(0), face_at(1)]
    }
}

impl Model<5> for CornerModel {
    type Shape = CornerShape;

    fn shape(&self, p: &SVector<f64, 5>) -> CornerShape {
        CornerShape {
            faces: self.faces_at(p),
            radius_mm: p[4].clamp(0.0, LARGEST_MM),
            radius_is_free: (0.0..LARGEST_MM).contains(&p[4]),
        }
    }

    #[inline]
    fn distance_mm(&self, shape: &CornerShape, point: &Point2<f64>) -> f64 {
        distance_mm(&shape.faces, shape.radius_mm, point)
    }

    #[inline]
    fn gradient(&self, shape: &CornerShape, point: &Point2<f64>) -> (f64, SVector<f64, 5>) {
        let [first, second] = shape.faces;
        let (a, b) = (first.distance_mm(point), second.distance_mm(point));
        let cosine = first.normal.dot(&second.normal);
        let radius_mm = shape.radius_mm;
        let (u, v) = (radius_mm - a, radius_mm - b);
        // How the distance changes with that from either face, with the cosine between them and with the radius.
        let (mm, by_face, by_cosine, by_radius) = if radius_mm <= 0.0 || u <= v * cosine || v <= u * cosine {
            if a < b { (a, [1.0, 0.0], 0.0, 0.0) } else { (b, [0.0, 1.0], 0.0, 0.0) }
        } else {
            let sine2 = (1.0 - cosine * cosine).max(1e-9);
            let square = ((u * u + v * v - 2.0 * u * v * cosine) / sine2).max(1e-18);
            let root = square.sqrt();
            let by_u = (u - v * cosine) / (sine2 * root);
            let by_v = (v - u * cosine) / (sine2 * root);
            let by_cosine = (u * v - cosine * square) / (sine2 * root);
            (radius_mm - root, [by_u, by_v], by_cosine, 1.0 - by_u - by_v)
        };
        let from = point - self.about;
        let mut row = SVector::<f64, 5>::zeros();
        for k in [0, 1] {
            if self.free[k] {
                let normal = shape.faces[k].normal;
                let turned = Vector2::new(-normal.y, normal.x);
                row[2 * k] =
                    by_face[k] * turned.dot(&from) + by_cosine * turned.dot(&shape.faces[1 - k].normal);
                row[2 * k + 1] = -by_face[k];
            }
        }
        row[4] = if shape.radius_is_free { by_radius } else { 0.0 };
        (mm, row)
    }
}

/// An arc below its foot on a wall that is held: the foot's height along the wall, and the radius.
struct ArcModel {
    wall: Face,
    up: Vector2<f64>,
    base: Point2<f64>,
}

struct ArcShape {
    foot: Point2<f64>,
    centre: Point2<f64>,
    radius_mm: f64,
}

impl Model<2> for ArcModel {
    type Shape = ArcShape;

    fn shape(&self, p: &SVector<f64, 2>) -> ArcShape {
        let foot = self.base + self.up * p[0];
        ArcShape { foot, centre: foot + self.wall.normal * p[1], radius_mm: p[1] }
    }

    #[inline]
    fn distance_mm(&self, shape: &ArcShape, point: &Point2<f64>) -> f64 {
        if (point - shape.foot).dot(&self.up) > 0.0 {
            self.wall.distance_mm(point)
        } else {
            shape.radius_mm - (point - shape.centre).norm()
        }
    }

    #[inline]
    fn gradient(&self, shape: &ArcShape, point: &Point2<f64>) -> (f64, SVector<f64, 2>) {
        if (point - shape.foot).dot(&self.up) > 0.0 {
            return (self.wall.distance_mm(point), SVector::zeros());
        }
        let from = point - shape.centre;
        let away_mm = from.norm();
        let outward = from / away_mm.max(1e-9);
        let row = SVector::from([outward.dot(&self.up), 1.0 + outward.dot(&self.wall.normal)]);
        (shape.radius_mm - away_mm, row)
    }
}

/// Levenberg's damped least squares with Huber's weights (corner at twice the noise).
fn least_squares<const N: usize, M: Model<N>>(
    points: &[Point2<f64>],
    start: SVector<f64, N>,
    model: &M,
    noise_mm: f64,
) -> Option<Fit<N>> {
    const N_ROUNDS: usize = 14;
    let bend_mm = 2.0 * noise_mm.max(LEAST_SCALE_MM);
    let weight = |mm: f64| if mm.abs() <= bend_mm { 1.0 } else { bend_mm / mm.abs() };
    let huber =
        |mm: f64| if mm.abs() <= bend_mm { 0.5 * mm * mm } else { bend_mm * (mm.abs() - 0.5 * bend_mm) };
    let loss = |p: &SVector<f64, N>| -> f64 {
        let shape = model.shape(p);
        points.iter().map(|point| huber(model.distance_mm(&shape, point))).sum()
    };
    let (mut p, mut cost, mut damping) = (start, loss(&start), 1e-3);
    let mut normal = SMatrix::<f64, N, N>::zeros();
    for _ in 0..N_ROUNDS {
        let shape = model.shape(&p);
        normal = SMatrix::zeros();
        let mut right = SVector::<f64, N>::zeros();
        for point in points {
            let (mm, row) = model.gradient(&shape, point);
            let weight = weight(mm);
            for j in 0..N {
                let weighted = row[j] * weight;
                for i in j..N {
                    normal[(i, j)] += weighted * row[i];
                }
                right[j] -= weighted * mm;
            }
        }
        normal.fill_upper_triangle_with_lower_triangle();
        let scale = normal.diagonal().map(|value| value.max(1e-6));
        let mut better = false;
        for _ in 0..5 {
            let damped = normal + SMatrix::from_diagonal(&(scale * damping));
            let Some(factor) = damped.cholesky() else { break };
            let next = p + factor.solve(&right);
            let next_cost = loss(&next);
            if next_cost < cost {
                better = cost - next_cost > 1e-7 * cost;
                (p, cost, damping) = (next, next_cost, damping * 0.2);
                break;
            }
            damping *= 8.0;
        }
        if !better {
            break;
        }
    }
    let shape = model.shape(&p);
    let (mut weights, mut squares) = (0.0, 0.0);
    for point in points {
        let mm = model.distance_mm(&shape, point);
        weights += weight(mm);
        squares += weight(mm) * mm * mm;
    }
    let variance = squares / (points.len() as f64 - N as f64).max(1.0);
    let held = normal + SMatrix::<f64, N, N>::identity() * 1e-9;
    let covariance = held.try_inverse()? * variance;
    cost.is_finite().then_some(Fit {
        parameters: p,
        covariance,
        cost,
        rms_mm: (squares / f64::max(weights, 1e-9)).sqrt(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Points on a floor along `h`, an arc, and a wall that leans by `taper_deg`.
    fn shoulder(radius_mm: f64, taper_deg: f64) -> Vec<Point2<f64>> {
        let (sine, cosine) = taper_deg.to_radians().sin_cos();
        let faces = [
            Face { normal: Vector2::y(), offset_mm: 0.0 },
            Face { normal: Vector2::new(-cosine, sine), offset_mm: -cosine },
        ];
        // Straight down or outward onto the shape, by halving.
        let onto = |from: Point2<f64>, along: Vector2<f64>| {
            let (mut low, mut high) = (0.0, 3.0);
            for _ in 0..50 {
                let middle = 0.5 * (low + high);
                if distance_mm(&faces, radius_mm, &(from + along * middle)) > 0.0 {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            from + along * low
        };
        let floor = (0..20).map(|k| onto(Point2::new(0.05 * f64::from(k), 1.0), -Vector2::y()));
        let wall = (0..24).map(|k| onto(Point2::new(0.0, 0.05 * f64::from(k)), Vector2::x()));
        floor.chain(wall).collect()
    }

    fn guess() -> [Face; 2] {
        let toward = Vector2::new(-1.0, 1.0);
        [
            Face::through(&Point2::new(0.0, 0.01), &Vector2::new(1.0, 0.02), &toward),
            Face::through(&Point2::new(1.02, 0.0), &Vector2::new(0.05, 1.0), &toward),
        ]
    }

    /// The slopes in closed form against differences.
    fn check_gradient<const N: usize, M: Model<N>>(model: &M, p: SVector<f64, N>, points: &[Point2<f64>]) {
        const STEP: f64 = 1e-6;
        for point in points {
            let (mm, row) = model.gradient(&model.shape(&p), point);
            assert!((mm - model.distance_mm(&model.shape(&p), point)).abs() < 1e-12);
            for k in 0..N {
                let at = |step: f64| {
                    let mut moved = p;
                    moved[k] += step;
                    model.distance_mm(&model.shape(&moved), point)
                };
                let slope = (at(STEP) - at(-STEP)) / (2.0 * STEP);
                assert!((row[k] - slope).abs() < 1e-5, "{k} at {point}: {} of {slope}", row[k]);
            }
        }
    }

    #[test]
    fn the_slopes_are_those_of_the_distance() {
        let points = shoulder(0.3, 6.0);
        let model = CornerModel { faces: guess(), free: [true, true], about: middle(&points) };
        check_gradient(&model, SVector::from([0.03, -0.02, 0.05, 0.01, 0.27]), &points);
        let wall = guess()[1];
        let model = ArcModel { wall, up: Vector2::y(), base: Point2::from(wall.normal * wall.offset_mm) };
        check_gradient(&model, SVector::from([0.5, 0.6]), &points);
    }

    #[test]
    fn an_exact_corner_gives_its_radius() {
        for radius_mm in [0.0, 0.2, 0.3, 0.5] {
            // Points every 0.05 mm: below 0.2 mm too few lie on the arc to tell it from a sharp corner.
            for taper_deg in [-5.0, 6.0, 15.0] {
                let corner = Corner::fit(&shoulder(radius_mm, taper_deg), guess(), 0.001).unwrap();
                assert!((corner.radius_mm - radius_mm).abs() < 0.01, "{radius_mm} {taper_deg}: {corner:?}");
            }
        }
    }

    #[test]
    fn an_exact_round_floor_gives_its_radius_and_tangent() {
        // Check: c ≤ r, fall at the edge asin((r − c) / r): r 0.6, c 0.3 gives 30°.
        let (radius_mm, width_mm) = (0.6, 0.3);
        let centre = Point2::new(width_mm - radius_mm, (radius_mm * radius_mm - 0.09f64).sqrt());
        let points: Vec<Point2<f64>> = (0..30)
            .map(|k| -60.0 + 2.0 * f64::from(k))
            .map(|deg| centre + Vector2::new(deg.to_radians().cos(), deg.to_radians().sin()) * radius_mm)
            .chain((0..10).map(|k| Point2::new(width_mm, centre.y + 0.03 * f64::from(k))))
            .collect();
        let wall = Face { normal: -Vector2::x(), offset_mm: -width_mm };
        let arc = WallArc::fit(&points, &wall, &Vector2::y(), 0.008).unwrap();
        assert!((arc.radius_mm - radius_mm).abs() < 1e-3, "{arc:?}");
        let tangent = arc.tangent_at_edge().unwrap();
        assert!((tangent.y.atan2(tangent.x).to_degrees() - 30.0).abs() < 0.2, "{tangent}");
        assert!((arc.foot.y - centre.y).abs() < 1e-2);
    }
}
