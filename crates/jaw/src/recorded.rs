//! Motion as it was recorded: a table of poses.

use nalgebra::{Isometry3, Matrix3, Matrix4, Rotation3, Translation3, UnitQuaternion, Vector3};

use crate::{Ball, JawError, Motion, Sweep};

/// Fewer poses are no path.
const LEAST_POSES: usize = 2;
/// Farther between two poses than this, at the tooth, and nobody knows what lies between, mm.
const STEP_LIMIT_MM: f64 = 1.0;
/// How far a matrix may depart from a rotation: what four printed decimals leave.
const RIGID: f64 = 5e-4;

/// A recorded movement: poses of the lower jaw against its place in the closed bite.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// `protrusion`, `laterotrusion_right`, `laterotrusion_left`, or any other name; `recorded` where none was given.
    pub movement: String,
    /// In the frame of the scans as they lie in the closed bite, in order.
    pub poses: Vec<Isometry3<f64>>,
}

impl Recording {
    /// The path, for a tooth within `ball`.
    ///
    /// # Errors
    /// [`JawError::StepTooBig`]
    pub fn motion(&self, ball: &Ball) -> Result<Motion, JawError> {
        let motion = Motion::new(ball.centre, self.poses.clone());
        let sweep = Sweep::new(&motion, ball);
        let n_steps = (self.poses.len() - 1) as f64;
        for step in 0..self.poses.len() - 1 {
            let step_mm = sweep.bound_mm(step as f64 / n_steps, (step + 1) as f64 / n_steps);
            if step_mm > STEP_LIMIT_MM {
                return Err(JawError::StepTooBig { from: step + 1, step_mm, limit_mm: STEP_LIMIT_MM });
            }
        }
        Ok(motion)
    }
}

/// Reads recorded movements from comma-separated text.
///
/// One pose a line: sixteen numbers, the 4 × 4 matrix row by row, which takes points of the lower jaw from where they
/// lie in the closed bite to where they were at that moment, in mm, in the frame of the opposing scan. A name before them
/// says which movement the pose belongs to. Empty lines, lines that begin with `#`, and one line of headings are skipped.
///
/// # Errors
/// [`JawError`] for what is no such table, no rigid motion, a mirrored one, or too few poses.
pub fn read_recording(text: &str) -> Result<Vec<Recording>, JawError> {
    let mut recordings: Vec<Recording> = Vec::new();
    let mut headed = false;
    for (index, row) in text.lines().enumerate() {
        let row = row.trim().trim_start_matches('\u{feff}');
        if row.is_empty() || row.starts_with('#') {
            continue;
        }
        let fields: Vec<&str> = row.split(',').map(str::trim).collect();
        let numbers = fields.iter().filter(|field| field.parse::<f64>().is_ok()).count();
        if numbers == 0 && !headed && recordings.is_empty() {
            headed = true;
            continue;
        }
        let (movement, pose) = read_row(&fields, index + 1)?;
        match recordings.iter_mut().find(|recording| recording.movement == movement) {
            Some(recording) => recording.poses.push(pose),
            None => recordings.push(Recording { movement, poses: vec![pose] }),
        }
    }
    if recordings.is_empty() {
        recordings.push(Recording { movement: "recorded".into(), poses: Vec::new() });
    }
    match recordings.iter().find(|recording| recording.poses.len() < LEAST_POSES) {
        Some(short) => Err(JawError::TooFew {
            movement: short.movement.clone(),
            n: short.poses.len(),
            least: LEAST_POSES,
        }),
        None => Ok(recordings),
    }
}

fn read_row(fields: &[&str], line: usize) -> Result<(String, Isometry3<f64>), JawError> {
    let (name, rest) = match fields.len() {
        16 => ("recorded", fields),
        17 => (fields[0], &fields[1..]),
        n => return Err(JawError::Row { line, fault: format!("{n} fields") }),
    };
    let is_word = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
    if name.is_empty() || !name.chars().all(is_word) {
        let fault = format!("`{name}` is no name of a movement (small letters, digits and _)");
        return Err(JawError::Row { line, fault });
    }
    let mut values = [0.0; 16];
    for (value, field) in values.iter_mut().zip(rest) {
        *value = field
            .parse()
            .ok()
            .filter(|value: &f64| value.is_finite())
            .ok_or_else(|| JawError::Row { line, fault: format!("`{field}` is no number") })?;
    }
    Ok((name.to_owned(), rigid(&Matrix4::from_row_slice(&values), line)?))
}

fn rigid(matrix: &Matrix4<f64>, line: usize) -> Result<Isometry3<f64>, JawError> {
    let turn: Matrix3<f64> = matrix.fixed_view::<3, 3>(0, 0).into();
    let last = matrix.row(3) - nalgebra::RowVector4::new(0.0, 0.0, 0.0, 1.0);
    let off = (turn.transpose() * turn - Matrix3::identity()).amax().max(last.amax());
    if off > RIGID {
        return Err(JawError::NotRigid { line, off });
    }
    if turn.determinant() < 0.0 {
        return Err(JawError::Mirrored { line });
    }
    let rotation = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_eps(
        &turn,
        1e-15,
        100,
        Rotation3::identity(),
    ));
    let shift = Vector3::new(matrix[(0, 3)], matrix[(1, 3)], matrix[(2, 3)]);
    Ok(Isometry3::from_parts(Translation3::from(shift), rotation))
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

    fn row(pose: &Isometry3<f64>) -> String {
        let matrix = pose.to_homogeneous().transpose();
        matrix.iter().map(|value| format!("{value:.6}")).collect::<Vec<_>>().join(",")
    }

    fn poses() -> Vec<Isometry3<f64>> {
        let step = |k: f64| Isometry3::new(Vector3::new(0.3 * k, 0.1, -0.2 * k), Vector3::x() * 0.004 * k);
        (0..5).map(|k| step(f64::from(k))).collect()
    }

    fn ball() -> Ball {
        Ball { centre: Point3::new(10.0, 5.0, 0.0), radius_mm: 6.0 }
    }

    #[test]
    fn poses_come_back_as_they_were_written() {
        let head = (1..=16).map(|k| format!("m{k}")).collect::<Vec<_>>().join(",");
        let named: Vec<String> = poses().iter().map(|pose| format!("protrusion,{}", row(pose))).collect();
        let bare: Vec<String> = poses().iter().map(row).collect();
        let text = format!("# made up\nmovement,{head}\n{}\n\n{}\n", named.join("\n"), bare.join("\r\n"));
        let read = read_recording(&text).unwrap();
        assert_eq!((read[0].movement.as_str(), read[1].movement.as_str()), ("protrusion", "recorded"));
        for recording in &read {
            let motion = recording.motion(&ball()).unwrap();
            for (k, pose) in poses().iter().enumerate() {
                let point = Point3::new(4.0, 8.0, -3.0);
                assert!((motion.pose(k as f64 / 4.0) * point - pose * point).norm() < 3e-5);
            }
        }
    }

    #[test]
    fn what_is_no_motion_is_refused() {
        let refused = |text: &str| read_recording(text).unwrap_err();
        let good = row(&Isometry3::identity());
        assert!(matches!(refused(""), JawError::TooFew { n: 0, .. }));
        assert!(matches!(refused(&good), JawError::TooFew { n: 1, .. }));
        assert!(matches!(refused("1,2,3\n"), JawError::Row { line: 1, .. }));
        assert!(matches!(refused(&format!("{good}\n{good},5,6")), JawError::Row { line: 2, .. }));
        assert!(matches!(refused(&good.replace("0.000000", "nan")), JawError::Row { line: 1, .. }));
        assert!(matches!(refused(&format!("Chew it,{good}")), JawError::Row { line: 1, .. }));
        let stretched = row(&Isometry3::identity()).replacen("1.000000", "1.010000", 1);
        assert!(matches!(refused(&format!("{good}\n{stretched}")), JawError::NotRigid { line: 2, .. }));
        let mirrored = row(&Isometry3::identity()).replacen("1.000000", "-1.000000", 1);
        assert!(matches!(refused(&mirrored), JawError::Mirrored { line: 1 }));
        // A matrix written column by column has its shift in the last row.
        let mut columns = Isometry3::translation(1.0, 2.0, 3.0).to_homogeneous();
        columns.transpose_mut();
        let text: Vec<String> = columns.transpose().iter().map(f64::to_string).collect();
        assert!(matches!(refused(&text.join(",")), JawError::NotRigid { line: 1, .. }));
    }

    #[test]
    fn a_jump_is_refused_with_its_place() {
        let mut jumping = poses();
        jumping[3].translation.vector.y += 1.5;
        let recording = Recording { movement: "protrusion".into(), poses: jumping };
        let JawError::StepTooBig { from, step_mm, .. } = recording.motion(&ball()).unwrap_err() else {
            panic!()
        };
        assert_eq!(from, 3);
        assert!(step_mm > 1.4, "{step_mm}");
    }
}
