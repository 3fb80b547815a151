//! Agreement with Open3D 0.20 on two small scans; `reference/make_reference.py` made the files.

use kerfwright_geometry::Surface;
use kerfwright_mesh::read_scan;
use kerfwright_registration::{Options, register};
use nalgebra::{Isometry3, Matrix4, Point3, Rotation3, Translation3, UnitQuaternion};

fn surface(bytes: &[u8]) -> Surface {
    Surface::new(read_scan(bytes).unwrap().mesh)
}

fn pose(rows: &serde_json::Value) -> Isometry3<f64> {
    let matrix = Matrix4::from_fn(|row, column| rows[row][column].as_f64().unwrap());
    let turn = Rotation3::from_matrix(&matrix.fixed_view::<3, 3>(0, 0).into_owned());
    let shift = Translation3::new(matrix.m14, matrix.m24, matrix.m34);
    Isometry3::from_parts(shift, UnitQuaternion::from_rotation_matrix(&turn))
}

#[test]
fn the_pose_agrees_with_open3d_and_the_truth_within_its_uncertainty() {
    let fixed = surface(include_bytes!("reference/before.ply"));
    let moving = surface(include_bytes!("reference/after.ply"));
    let reference: serde_json::Value =
        serde_json::from_str(include_str!("reference/reference.json")).unwrap();
    let found = register(&fixed, &moving, &Options::default()).unwrap();
    let place = &reference["tooth_in_moving"];
    let tooth = Point3::from_slice(&[0, 1, 2].map(|axis| place[axis].as_f64().unwrap()));
    let here = found.fixed_from_moving * tooth;
    let (place_mm, turn_deg) = (found.uncertainty.at_mm(&here), found.uncertainty.turn_deg());
    // The uncertainty must say something: with these coarse triangles a few µm.
    assert!(place_mm < 0.010 && turn_deg < 0.05, "{place_mm} mm, {turn_deg}°");
    // The truth lies within three standard uncertainties of our pose; Open3D's pose scatters likewise.
    for (name, factor) in [("fixed_from_moving_truth", 3.0), ("fixed_from_moving_open3d", 3.0 * 2f64.sqrt())]
    {
        let other = pose(&reference[name]);
        let apart_mm = (other * tooth - here).norm();
        let apart_deg = other.rotation.angle_to(&found.fixed_from_moving.rotation).to_degrees();
        assert!(apart_mm < factor * place_mm, "{name}: {apart_mm} mm apart at the tooth, stated {place_mm}");
        assert!(apart_deg < factor * turn_deg, "{name}: {apart_deg}° apart, stated {turn_deg}°");
    }
}
