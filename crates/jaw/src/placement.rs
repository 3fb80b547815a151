//! Where the jaw lies in a scan that shows teeth and no skull.

use kerfwright_tooth::Tooth;
use nalgebra::{Isometry3, Matrix3, Point3, Rotation3, Translation3, UnitQuaternion, Vector3};

use crate::JawError;
use crate::settings::{JawSettings, Parameter};

/// A tooth as the scan shows it: unit vectors and a point, all in the frame of the scan.
#[derive(Debug, Clone, Copy)]
pub struct Seat {
    /// Middle of the tooth, at the height of the occlusal plane.
    pub origin: Point3<f64>,
    /// Along the arch towards the midline.
    pub mesial: Vector3<f64>,
    /// Towards cheek or lip.
    pub facial: Vector3<f64>,
    /// Towards the opposing teeth.
    pub occlusal: Vector3<f64>,
}

/// The transform that takes points of the scan into the frame of the jaw.
///
/// What it assumes: the tooth's axis is perpendicular to the occlusal plane; the teeth from the midline to this one have
/// average widths and stand on a parabola; `mesial` is the parabola's direction at the tooth; the lower incisal point
/// lies on the occlusal plane, in the middle, behind the upper one by the overjet. The settings shift and turn all that,
/// and their spread says how far it may be off.
///
/// # Errors
/// [`JawError::WrongHand`] if the directions do not fit the tooth's side of the jaw.
pub fn jaw_from_scan(tooth: Tooth, seat: &Seat, settings: &JawSettings) -> Result<Isometry3<f64>, JawError> {
    let place = Place::on_arch(tooth, settings);
    // Columns: mesial, facial, occlusal in the frame of the jaw; the same in the frame of the scan.
    let occlusal = Vector3::z() * if tooth.is_upper() { -1.0 } else { 1.0 };
    let in_jaw = Matrix3::from_columns(&[place.mesial, place.facial, occlusal]);
    let in_scan = Matrix3::from_columns(&[seat.mesial, seat.facial, seat.occlusal]);
    let matrix = in_jaw * in_scan.transpose();
    if matrix.determinant() < 0.5 {
        return Err(JawError::WrongHand);
    }
    let level = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(matrix));
    let turn =
        |axis: Vector3<f64>, parameter| UnitQuaternion::new(axis * settings.value(parameter).to_radians());
    // Seen from the tooth, the jaw turns the other way than the scan does in it.
    let doubt = turn(Vector3::x(), Parameter::PlanePitch)
        * turn(Vector3::y(), Parameter::PlaneRoll)
        * turn(Vector3::z(), Parameter::Heading);
    let rotation = doubt.inverse() * level;
    Ok(Isometry3::from_parts(Translation3::from(place.at - rotation * seat.origin), rotation))
}

/// A tooth on the average arch, in the frame of the jaw.
struct Place {
    at: Point3<f64>,
    mesial: Vector3<f64>,
    facial: Vector3<f64>,
}

impl Place {
    fn on_arch(tooth: Tooth, settings: &JawSettings) -> Self {
        let (bend, overjet_mm) = if tooth.is_upper() {
            (settings.value(Parameter::ArchBendUpper), settings.value(Parameter::Overjet))
        } else {
            (settings.value(Parameter::ArchBendLower), 0.0)
        };
        let aside_mm = aside_at(bend, along_arch_mm(tooth));
        let side = if tooth.is_left() { 1.0 } else { -1.0 };
        let slope = 2.0 * bend * aside_mm;
        let at = Point3::new(
            side * aside_mm - settings.value(Parameter::MidlineAside),
            bend * aside_mm * aside_mm - overjet_mm - settings.value(Parameter::IncisalBehind),
            0.0,
        );
        let mesial = Vector3::new(-side, -slope, 0.0).normalize();
        Self { at, mesial, facial: Vector3::new(side * slope, -1.0, 0.0).normalize() }
    }
}

/// From the midline to the middle of the tooth along the arch, by average widths.
fn along_arch_mm(tooth: Tooth) -> f64 {
    let mut along_mm = 0.5 * tooth.typical_dimensions().mesiodistal_mm;
    let mut next = tooth;
    while next.position() > 1 {
        let Some(beside) = next.mesial_neighbour() else { break };
        next = beside;
        along_mm += next.typical_dimensions().mesiodistal_mm;
    }
    along_mm
}

/// How far from the middle the parabola `y = bend x²` has a given length.
fn aside_at(bend: f64, along_mm: f64) -> f64 {
    let length = |x: f64| {
        let slope = 2.0 * bend * x;
        0.5 * x * (1.0 + slope * slope).sqrt() + slope.asinh() / (4.0 * bend)
    };
    let (mut low, mut high) = (0.0, along_mm);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if length(middle) < along_mm { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tooth(fdi: u8) -> Tooth {
        Tooth::from_fdi(fdi).unwrap()
    }

    /// A tooth in a scan with its own frame, right- or left-handed as its quadrant is.
    fn seat(fdi: u8) -> Seat {
        let turn = UnitQuaternion::new(Vector3::new(0.4, -0.7, 0.9));
        let [mesial, occlusal] = [Vector3::x(), Vector3::z()].map(|axis| turn * axis);
        let facial = occlusal.cross(&mesial) * tooth(fdi).handedness();
        Seat { origin: Point3::new(3.0, -8.0, 5.0), mesial, facial, occlusal }
    }

    #[test]
    fn the_arch_is_as_wide_as_the_settings_say() {
        let average = JawSettings::average();
        let apart_mm = |fdi| 2.0 * Place::on_arch(tooth(fdi), &average).at.x.abs();
        assert!((apart_mm(26) - 50.0).abs() < 1.0, "{}", apart_mm(26));
        assert!((apart_mm(46) - 45.0).abs() < 1.0, "{}", apart_mm(46));
        // 5 / 2 + 5.5 + … : widths of the lower teeth up to the middle of the first molar.
        assert_eq!(along_arch_mm(tooth(46)), 5.0 + 5.5 + 7.0 + 7.0 + 7.0 + 5.5);
        assert_eq!(along_arch_mm(tooth(11)), 4.25);
    }

    #[test]
    fn a_tooth_lands_on_its_side_and_looks_its_way() {
        let average = JawSettings::average();
        for fdi in [16, 26, 36, 46, 11, 31] {
            let (tooth, seat) = (tooth(fdi), seat(fdi));
            let jaw_from_scan = jaw_from_scan(tooth, &seat, &average).unwrap();
            let at = jaw_from_scan * seat.origin;
            assert_eq!(at.x > 0.0, tooth.is_left(), "{fdi}");
            assert!(at.z.abs() < 1e-12);
            assert_eq!((jaw_from_scan * seat.occlusal).z > 0.99, !tooth.is_upper(), "{fdi}");
            // Mesially lies the midline, facially the outside of the arch.
            assert!((at + jaw_from_scan * seat.mesial).x.abs() < at.x.abs(), "{fdi}");
            let facial = jaw_from_scan * seat.facial;
            assert!(facial.dot(&Vector3::new(at.x, at.y - 40.0, 0.0)) > 0.0, "{fdi}");
        }
    }

    #[test]
    fn turns_and_shifts_go_where_they_say() {
        let seat = seat(36);
        let of = |parameter, value| {
            let mut settings = JawSettings::average();
            settings.set(parameter, value).unwrap();
            jaw_from_scan(tooth(36), &seat, &settings).unwrap().inverse()
        };
        let average = of(Parameter::Heading, 0.0);
        let local = |point: Point3<f64>| average.inverse() * point;
        // The incisal point, placed by other settings, seen in the average jaw.
        assert!((local(of(Parameter::MidlineAside, 2.0) * Point3::origin()).x - 2.0).abs() < 1e-12);
        assert!((local(of(Parameter::IncisalBehind, 2.0) * Point3::origin()).y - 2.0).abs() < 1e-12);
        let front_down = local(of(Parameter::PlanePitch, 5.0) * Point3::origin());
        assert!(front_down.z < -1.0, "{front_down}");
        let ahead = local(of(Parameter::Heading, 5.0) * Point3::new(0.0, -10.0, 0.0))
            - local(of(Parameter::Heading, 5.0) * Point3::origin());
        assert!(ahead.x > 0.5, "the front turns to the left: {ahead}");
        let left = local(of(Parameter::PlaneRoll, 5.0) * Point3::new(10.0, 0.0, 0.0))
            - local(of(Parameter::PlaneRoll, 5.0) * Point3::origin());
        assert!(left.z < -0.5, "the left goes down: {left}");
    }

    #[test]
    fn a_tooth_of_the_other_side_is_refused() {
        let refused = jaw_from_scan(tooth(46), &seat(36), &JawSettings::average());
        assert_eq!(refused.unwrap_err(), JawError::WrongHand);
    }
}
