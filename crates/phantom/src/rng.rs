//! A small seeded generator, so that every scan can be made again bit for bit.

use nalgebra::{Quaternion, Unit, UnitQuaternion, Vector3};

/// SplitMix64 (Steele, Lea & Flood 2014): a 64-bit counter and a mixer; ample for noise, useless for secrets.
#[derive(Debug, Clone)]
pub struct Rng {
    state: u64,
}

impl Rng {
    /// A generator for `seed`; `stream` keeps the effects of one scan independent of each other.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut rng = Self { state: seed ^ stream.wrapping_mul(0xD6E8_FEB8_6659_FD93) };
        rng.next_u64();
        rng
    }

    /// The next 64 bits.
    pub fn next_u64(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform in `[0, 1)`.
    pub fn uniform(&mut self) -> f64 {
        (self.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform in `[low, high)`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Standard normal (Box–Muller, one of the pair).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }

    /// A direction, uniform on the sphere.
    pub fn direction(&mut self) -> Unit<Vector3<f64>> {
        Unit::new_normalize(Vector3::new(self.normal(), self.normal(), self.normal()))
    }

    /// A rotation, uniform over all rotations (a normalised four-vector of normals).
    pub fn rotation(&mut self) -> UnitQuaternion<f64> {
        UnitQuaternion::from_quaternion(Quaternion::new(
            self.normal(),
            self.normal(),
            self.normal(),
            self.normal(),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn has_the_moments_of_a_standard_normal() {
        let mut rng = Rng::new(7, 1);
        let n = 40_000;
        let draws: Vec<f64> = (0..n).map(|_| rng.normal()).collect();
        let mean = draws.iter().sum::<f64>() / n as f64;
        let variance = draws.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n as f64;
        // Four standard errors: 1/√n for the mean, √(2/n) for the variance.
        assert!(mean.abs() < 4.0 / (n as f64).sqrt(), "{mean}");
        assert!((variance - 1.0).abs() < 4.0 * (2.0 / n as f64).sqrt(), "{variance}");
    }
}
