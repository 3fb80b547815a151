//! A description of the surface around each sample that does not depend on the pose.
//!
//! Fast point feature histograms (Rusu, Blodow & Beetz 2009) at two radii. Their angles change sign under
//! reflection, so that a mirrored body does not match its original.

use crate::cloud::Cloud;
use nalgebra::Vector3;
use rayon::prelude::*;

const BINS: usize = 11;
const ONE_RADIUS: usize = 3 * BINS;
/// Radii of the two histograms, mm: a cusp, and a good part of a tooth.
const RADII_MM: [f64; 2] = [2.2, 4.0];
/// Numbers a description holds.
pub(crate) const LENGTH: usize = ONE_RADIUS * RADII_MM.len();

/// The description of one sample; each of its six histograms sums to 1.
pub(crate) type Feature = [f32; LENGTH];

/// Describes the samples named in `of`, in their order.
pub(crate) fn describe(cloud: &Cloud, of: &[u32]) -> Vec<Feature> {
    let simple: Vec<Feature> = (0..cloud.samples.len()).into_par_iter().map(|at| simple(cloud, at)).collect();
    of.par_iter().map(|&at| blend(cloud, &simple, at as usize)).collect()
}

/// Histograms of the three angles between a sample and its neighbours, for both radii: the wider holds the narrower.
fn simple(cloud: &Cloud, at: usize) -> Feature {
    let mut feature = [0.0f32; LENGTH];
    let (narrow, wide) = feature.split_at_mut(ONE_RADIUS);
    let centre = &cloud.samples[at];
    cloud.cells.within(&centre.point, RADII_MM[1], |index, squared| {
        if index == at || squared == 0.0 {
            return;
        }
        let other = &cloud.samples[index];
        let line = (other.point - centre.point) / squared.sqrt();
        let is_narrow = squared <= RADII_MM[0] * RADII_MM[0];
        for (angle, value) in pair_angles(&centre.normal, &other.normal, &line).into_iter().enumerate() {
            let bin = ((value * BINS as f64) as usize).min(BINS - 1);
            wide[angle * BINS + bin] += 1.0;
            narrow[angle * BINS + bin] += f32::from(u8::from(is_narrow));
        }
    });
    scale_to_one(&mut feature);
    feature
}

/// The three angles of a pair of oriented points, each scaled to 0..1.
fn pair_angles(normal: &Vector3<f64>, other: &Vector3<f64>, line: &Vector3<f64>) -> [f64; 3] {
    let phi = normal.dot(line);
    let Some(v) = line.cross(normal).try_normalize(1e-9) else { return [0.5, 0.5 * (phi + 1.0), 0.5] };
    let w = normal.cross(&v);
    let alpha = v.dot(other);
    let theta = angle_rad(w.dot(other), normal.dot(other));
    [0.5 * (alpha + 1.0), 0.5 * (phi + 1.0), theta / std::f64::consts::TAU + 0.5]
}

/// The angle of (x, y) to within 0.001 rad, much finer than a bin: a cubic in the squared ratio. The library's own
/// costs five times as much and differs from one system to the next.
fn angle_rad(y: f64, x: f64) -> f64 {
    let (large, small) = (x.abs().max(y.abs()), x.abs().min(y.abs()));
    let ratio = small / large.max(1e-30);
    let squared = ratio * ratio;
    let cubic = (-0.046_496_474_9 * squared + 0.159_314_22) * squared - 0.327_622_764;
    let octant = cubic * squared * ratio + ratio;
    let quadrant = if x.abs() < y.abs() { std::f64::consts::FRAC_PI_2 - octant } else { octant };
    let half = if x < 0.0 { std::f64::consts::PI - quadrant } else { quadrant };
    if y < 0.0 { -half } else { half }
}

/// A sample's own histograms plus its neighbours', the nearer the heavier.
fn blend(cloud: &Cloud, simple: &[Feature], at: usize) -> Feature {
    let mut sum = [0.0f32; LENGTH];
    let mut counts = [0.0f32; RADII_MM.len()];
    cloud.cells.within(&cloud.samples[at].point, RADII_MM[1], |index, squared| {
        if index == at || squared == 0.0 {
            return;
        }
        for (part, radius_mm) in RADII_MM.into_iter().enumerate() {
            if squared > radius_mm * radius_mm {
                continue;
            }
            let weight = (radius_mm / squared.sqrt()) as f32;
            counts[part] += 1.0;
            let range = part * ONE_RADIUS..(part + 1) * ONE_RADIUS;
            for (total, value) in sum[range.clone()].iter_mut().zip(&simple[index][range]) {
                *total += weight * value;
            }
        }
    });
    let mut blended = simple[at];
    for (place, (value, total)) in blended.iter_mut().zip(&sum).enumerate() {
        *value += total / counts[place / ONE_RADIUS].max(1.0);
    }
    scale_to_one(&mut blended);
    blended
}

fn scale_to_one(histogram: &mut Feature) {
    for angle in histogram.chunks_exact_mut(BINS) {
        let sum: f32 = angle.iter().sum();
        if 0.0 < sum {
            angle.iter_mut().for_each(|value| *value /= sum);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_quick_angle_is_close_to_the_exact_one() {
        for degree in -179..180 {
            let exact = f64::from(degree).to_radians();
            let quick = angle_rad(3.0 * exact.sin(), 3.0 * exact.cos());
            assert!((quick - exact).abs() < 1e-3, "{quick} for {exact}");
        }
    }
}
