//! The average-value jaw: a Bonwill triangle on two condylar paths and an incisal table.

use nalgebra::{Isometry3, Point3, Quaternion, Translation3, UnitQuaternion, Vector3};

use crate::settings::{JawSettings, Parameter};

/// A movement out of the closed bite. The mediotrusion of one side is the laterotrusion of the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Movement {
    /// Forward.
    Protrusion,
    /// To the patient's right.
    LaterotrusionRight,
    /// To the patient's left.
    LaterotrusionLeft,
}

impl Movement {
    /// All.
    pub const ALL: [Self; 3] = [Self::Protrusion, Self::LaterotrusionRight, Self::LaterotrusionLeft];

    /// The name in reading ids and recordings.
    pub fn id(self) -> &'static str {
        match self {
            Self::Protrusion => "protrusion",
            Self::LaterotrusionRight => "laterotrusion_right",
            Self::LaterotrusionLeft => "laterotrusion_left",
        }
    }

    /// The movement of a name.
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|movement| movement.id() == id)
    }
}

/// A lower jaw that moves on average paths.
///
/// The condyles and the lower incisal point form an equilateral triangle (Bonwill), tilted to the occlusal plane by the
/// Balkwill angle. In protrusion both condyles go forward and down their inclination. In laterotrusion the whole jaw
/// first shifts to the working side by the immediate side shift; then the orbiting condyle goes forward, down its
/// inclination and inward by the Bennett angle, while the working one keeps its height and depth and gives way sideways
/// as the distance of the two demands. The turn about the hinge axis that is left follows from the lower incisal
/// point, which runs along a table that falls forward by the incisal guidance and is flat sideways.
///
/// # Units
/// Millimetres, radians inside.
///
/// # Source
/// `docs/sources.md#jaw-model`.
#[derive(Debug, Clone)]
pub struct JawModel {
    /// Right and left condyle with the jaws closed.
    pub condyles: [Point3<f64>; 2],
    side_mm: f64,
    condylar_slope: [f64; 2],
    bennett_slope: [f64; 2],
    side_shift_mm: f64,
    incisal_slope: f64,
    ends_mm: [f64; 3],
}

/// Index of the right and the left condyle.
const RIGHT: usize = 0;
const LEFT: usize = 1;

impl JawModel {
    /// The jaw of these settings.
    pub fn new(settings: &JawSettings) -> Self {
        let slope = |parameter| settings.value(parameter).to_radians().tan();
        let side_mm = settings.value(Parameter::BonwillSide);
        let (sine, cosine) = settings.value(Parameter::Balkwill).to_radians().sin_cos();
        let height_mm = 0.5 * 3f64.sqrt() * side_mm;
        let condyle = |x: f64| Point3::new(x, height_mm * cosine, height_mm * sine);
        let mut model = Self {
            condyles: [condyle(-0.5 * side_mm), condyle(0.5 * side_mm)],
            side_mm,
            condylar_slope: [
                slope(Parameter::CondylarInclinationRight),
                slope(Parameter::CondylarInclinationLeft),
            ],
            bennett_slope: [slope(Parameter::BennettRight), slope(Parameter::BennettLeft)],
            side_shift_mm: settings.value(Parameter::ImmediateSideShift),
            incisal_slope: slope(Parameter::IncisalGuidance),
            ends_mm: [0.0; 3],
        };
        for movement in Movement::ALL {
            let extent_mm = settings.value(match movement {
                Movement::Protrusion => Parameter::Protrusion,
                _ => Parameter::Laterotrusion,
            });
            model.ends_mm[movement as usize] = model.travel_to(movement, extent_mm);
        }
        model
    }

    /// The pose of the lower jaw against its closed place, in the frame of the jaw.
    ///
    /// `travel_mm` is how far the condyles went: forward in protrusion; in laterotrusion the immediate side shift and
    /// then the orbiting one's way forward.
    pub fn pose(&self, movement: Movement, travel_mm: f64) -> Isometry3<f64> {
        let [right, left] = self.moved_condyles(movement, travel_mm);
        let axis = (left - right).normalize();
        let middle = nalgebra::center(&right, &left);
        // The least turn that brings the hinge axis into line, without the arc cosine that small angles suffer from.
        let half = Quaternion::from_parts(1.0 + axis.x, Vector3::x().cross(&axis));
        let turn = UnitQuaternion::from_quaternion(half);
        let arm = turn * -self.hinge().coords;
        let nod = UnitQuaternion::new(axis * self.nod_rad(&axis, &middle, &arm));
        let rotation = nod * turn;
        Isometry3::from_parts(Translation3::from(middle - rotation * self.hinge()), rotation)
    }

    /// The same, opened about the hinge axis by `opening_rad`.
    pub fn opened(&self, pose: &Isometry3<f64>, opening_rad: f64) -> Isometry3<f64> {
        let hinge = self.hinge();
        let opening = UnitQuaternion::new(Vector3::x() * opening_rad);
        pose * Isometry3::from_parts(Translation3::from(hinge - opening * hinge), opening)
    }

    /// The middle of the hinge axis with the jaws closed; the axis runs along `x`.
    pub fn hinge(&self) -> Point3<f64> {
        nalgebra::center(&self.condyles[RIGHT], &self.condyles[LEFT])
    }

    /// How far the condyles go until the lower incisal point has gone as far as the settings say.
    pub fn end_mm(&self, movement: Movement) -> f64 {
        self.ends_mm[movement as usize]
    }

    /// How far the lower incisal point has gone, forward in protrusion and sideways in laterotrusion.
    pub fn incisal_travel_mm(&self, movement: Movement, travel_mm: f64) -> f64 {
        let incisal = self.pose(movement, travel_mm) * Point3::origin();
        match movement {
            Movement::Protrusion => -incisal.y,
            Movement::LaterotrusionRight => -incisal.x,
            Movement::LaterotrusionLeft => incisal.x,
        }
    }

    /// Travels of a path with about `n_steps` steps of one length, with one that ends where the side shift does.
    pub fn stops_mm(&self, movement: Movement, n_steps: usize) -> Vec<f64> {
        let end_mm = self.end_mm(movement);
        let shift_mm = if movement == Movement::Protrusion { 0.0 } else { self.side_shift_mm.min(end_mm) };
        let n_shift = (n_steps as f64 * shift_mm / end_mm).ceil() as usize;
        let n_rest = if shift_mm < end_mm { (n_steps - n_shift.min(n_steps)).max(1) } else { 0 };
        let shift = (0..n_shift).map(|step| shift_mm * step as f64 / n_shift as f64);
        let rest =
            (0..=n_rest).map(|step| shift_mm + (end_mm - shift_mm) * step as f64 / n_rest.max(1) as f64);
        shift.chain(rest).collect()
    }

    fn moved_condyles(&self, movement: Movement, travel_mm: f64) -> [Point3<f64>; 2] {
        let [right, left] = self.condyles;
        let (orbiting, working, inward) = match movement {
            Movement::Protrusion => {
                let step = |slope: f64| Vector3::new(0.0, -travel_mm, -travel_mm * slope);
                return [right + step(self.condylar_slope[RIGHT]), left + step(self.condylar_slope[LEFT])];
            }
            Movement::LaterotrusionRight => (LEFT, RIGHT, -1.0),
            Movement::LaterotrusionLeft => (RIGHT, LEFT, 1.0),
        };
        let shift_mm = travel_mm.min(self.side_shift_mm);
        let forward_mm = travel_mm - shift_mm;
        let drop_mm = forward_mm * self.condylar_slope[orbiting];
        let inward_mm = shift_mm + forward_mm * self.bennett_slope[orbiting];
        let mut moved = [right, left];
        moved[orbiting] += Vector3::new(inward * inward_mm, -forward_mm, -drop_mm);
        let apart_mm = (self.side_mm.powi(2) - forward_mm.powi(2) - drop_mm.powi(2)).max(0.0).sqrt();
        moved[working].x = moved[orbiting].x + inward * apart_mm;
        moved
    }

    /// The turn about the hinge axis that puts the incisal point on its table.
    ///
    /// With the point at `middle + arm`, its height over the table is `a + b cos + c sin` of the turn.
    fn nod_rad(&self, axis: &Vector3<f64>, middle: &Point3<f64>, arm: &Vector3<f64>) -> f64 {
        let table = Vector3::new(0.0, -self.incisal_slope, 1.0);
        let along = axis * axis.dot(arm);
        let a = table.dot(&(middle.coords + along));
        let (b, c) = (table.dot(&(arm - along)), table.dot(&axis.cross(arm)));
        // Newton from the closed place: the turn is a few degrees, and near 0 the arc cosine would lose half its digits.
        let mut turn = 0.0f64;
        for _ in 0..8 {
            let (sine, cosine) = turn.sin_cos();
            turn -= (a + b * cosine + c * sine) / (c * cosine - b * sine);
        }
        turn
    }

    fn travel_to(&self, movement: Movement, extent_mm: f64) -> f64 {
        let (mut low, mut high) = (0.0, 3.0 * extent_mm + self.side_shift_mm);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.incisal_travel_mm(movement, middle) < extent_mm { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn jaw(set: &[(Parameter, f64)]) -> JawModel {
        let mut settings = JawSettings::average();
        for &(parameter, value) in set {
            // Some checks hold for shapes outside of what a jaw has.
            settings.set(parameter, value).unwrap();
        }
        JawModel::new(&settings)
    }

    /// Closed form: condyles at (± side / 2, side √3/2 cos β, side √3/2 sin β); `docs/sources.md#bonwill-triangle`.
    #[test]
    fn the_triangle_has_its_closed_form() {
        let table = [
            (100.0, 20.0, 86.603, 81.380, 29.620),
            (101.6, 22.5, 87.988, 81.290, 33.672),
            (110.0, 20.0, 95.263, 89.518, 32.582),
            (110.0, 22.0, 95.263, 88.326, 35.686),
            (110.0, 22.5, 95.263, 88.011, 36.455),
            (110.0, 25.0, 95.263, 86.337, 40.260),
        ];
        let half_a_digit = 0.5e-3;
        for (side_mm, balkwill_deg, middle_mm, y_mm, z_mm) in table {
            let model = jaw(&[(Parameter::BonwillSide, side_mm), (Parameter::Balkwill, balkwill_deg)]);
            assert!((model.hinge().coords.norm() - middle_mm).abs() <= half_a_digit);
            for condyle in model.condyles {
                assert!((condyle.coords.norm() - side_mm).abs() < 1e-12);
                assert!((condyle.y - y_mm).abs() <= half_a_digit && (condyle.z - z_mm).abs() <= half_a_digit);
                assert_eq!(condyle.x.abs(), 0.5 * side_mm);
            }
        }
    }

    /// Drop at a share of the way from condyle to incisal point, p ((1 − t) tan σ + t tan ι), to first order in p:
    /// `docs/sources.md#jaw-model`. The form takes condyles and incisor as level, so the triangle is laid flat here.
    #[test]
    fn protrusion_drops_as_its_first_order_form() {
        let table = [
            (3.0, 30.0, 10.0, [1.732, 1.131, 1.010, 0.529]),
            (5.0, 40.0, 50.0, [4.195, 5.077, 5.253, 5.959]),
        ];
        for (protrusion_mm, sigma_deg, iota_deg, drops_mm) in table {
            let mut model = jaw(&[
                (Parameter::CondylarInclinationRight, sigma_deg),
                (Parameter::CondylarInclinationLeft, sigma_deg),
                (Parameter::IncisalGuidance, iota_deg),
            ]);
            for condyle in &mut model.condyles {
                condyle.z = 0.0;
            }
            let small = 1e-6;
            let pose = model.pose(Movement::Protrusion, small * protrusion_mm);
            for (share, expected_mm) in [0.0, 0.5, 0.6, 1.0].into_iter().zip(drops_mm) {
                let point = Point3::from(model.hinge().coords * (1.0 - share));
                let drop_mm = -(pose * point - point).z / small;
                assert!((drop_mm - expected_mm).abs() <= 0.5e-3, "{share}: {drop_mm}");
            }
        }
    }

    /// What defines the model, followed over the whole movement: condyles on their line, incisal point on its table, no stretch.
    #[test]
    fn every_constraint_holds_along_every_movement() {
        let model = jaw(&[
            (Parameter::CondylarInclinationLeft, 41.0),
            (Parameter::ImmediateSideShift, 0.8),
            (Parameter::IncisalGuidance, 35.0),
        ]);
        for movement in Movement::ALL {
            for step in 0..=40 {
                let travel_mm = 0.2 * f64::from(step);
                let pose = model.pose(movement, travel_mm);
                let incisal = pose * Point3::origin();
                assert!((incisal.z - incisal.y * 35f64.to_radians().tan()).abs() < 1e-12, "{movement:?}");
                // With unlike inclinations the paths of protrusion draw apart: a² (tan 41° − tan 32°)² / 2D, half a side.
                let slack_mm = if movement == Movement::Protrusion { 0.025 } else { 1e-12 };
                for (own, there) in model.condyles.iter().zip(model.moved_condyles(movement, travel_mm)) {
                    assert!((pose * own - there).norm() < slack_mm, "{movement:?} {travel_mm}");
                }
            }
            assert_eq!(model.pose(movement, 0.0).translation.vector.norm(), 0.0);
        }
    }

    /// Inward shift of the orbiting condyle a tan(Bennett) plus the side shift: `docs/sources.md#bennett-angle`.
    #[test]
    fn the_orbiting_condyle_shifts_inward() {
        let table = [(5.0, 15.0, 1.340), (5.0, 7.5, 0.658), (10.0, 15.0, 2.679), (10.0, 7.5, 1.317)];
        for (forward_mm, bennett_deg, inward_mm) in table {
            for side_shift_mm in [0.0, 0.75] {
                let model = jaw(&[
                    (Parameter::BennettRight, bennett_deg),
                    (Parameter::BennettLeft, bennett_deg),
                    (Parameter::ImmediateSideShift, side_shift_mm),
                ]);
                for (movement, orbiting, sign) in
                    [(Movement::LaterotrusionRight, LEFT, -1.0), (Movement::LaterotrusionLeft, RIGHT, 1.0)]
                {
                    let own = model.condyles[orbiting];
                    let shift = model.pose(movement, forward_mm + side_shift_mm) * own - own;
                    assert!((sign * shift.x - inward_mm - side_shift_mm).abs() <= 0.5e-3, "{}", shift.x);
                    assert!((shift.y + forward_mm).abs() < 1e-12);
                }
            }
        }
    }

    #[test]
    fn left_is_the_mirror_image_of_right() {
        let model = jaw(&[(Parameter::ImmediateSideShift, 0.5)]);
        let mirror = |point: Point3<f64>| Point3::new(-point.x, point.y, point.z);
        for travel_mm in [0.3, 1.0, 4.0] {
            let (to_right, to_left) = (
                model.pose(Movement::LaterotrusionRight, travel_mm),
                model.pose(Movement::LaterotrusionLeft, travel_mm),
            );
            let point = Point3::new(20.0, 30.0, -4.0);
            assert!((mirror(to_right * mirror(point)) - to_left * point).norm() < 1e-12);
        }
    }

    #[test]
    fn opening_lowers_the_jaw_and_leaves_the_condyles() {
        let model = JawModel::new(&JawSettings::average());
        let pose = model.pose(Movement::Protrusion, 2.0);
        let opened = model.opened(&pose, 0.01);
        for condyle in model.condyles {
            assert!((opened * condyle - pose * condyle).norm() < 1e-12);
        }
        let lower_by_mm = (pose * Point3::origin() - opened * Point3::origin()).z;
        assert!((lower_by_mm - 0.01 * model.hinge().y).abs() < 0.01, "{lower_by_mm}");
    }

    #[test]
    fn movements_end_at_their_extent_and_stop_where_the_shift_ends() {
        let model = jaw(&[(Parameter::ImmediateSideShift, 0.8), (Parameter::Laterotrusion, 3.0)]);
        for (movement, extent_mm) in Movement::ALL.into_iter().zip([4.0, 3.0, 3.0]) {
            let end_mm = model.end_mm(movement);
            assert!((model.incisal_travel_mm(movement, end_mm) - extent_mm).abs() < 1e-9);
            let stops = model.stops_mm(movement, 20);
            assert!(stops.windows(2).all(|pair| pair[0] < pair[1]) && stops.len() >= 20);
            assert_eq!((stops[0], stops[stops.len() - 1]), (0.0, end_mm));
            assert!(movement == Movement::Protrusion || stops.contains(&0.8), "{stops:?}");
        }
    }
}
