//! From what size a step counts as one: the table `data/smoothness.toml`.

use serde::Deserialize;

/// The built-in table.
const TABLE: &str = include_str!("../../data/smoothness.toml");

/// Sizes from which steps have a name.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Smoothness {
    /// On the finish line.
    pub finish_line: Line,
    /// On the axial walls.
    pub wall: Wall,
}

/// Steps of the finish line.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Line {
    /// A jump in height or radius.
    pub jump_from_um: f64,
    /// A stretch over which the line is lost.
    pub break_from_mm: f64,
}

/// Steps of the walls.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Wall {
    /// Its height.
    pub ledge_from_um: f64,
    /// The length over which it must run.
    pub ledge_length_from_mm: f64,
}

impl Smoothness {
    /// The built-in table, or why it cannot be read.
    pub(super) fn read() -> Result<Self, String> {
        toml::from_str(TABLE).map_err(|error| format!("the table of steps cannot be read: {error}"))
    }
}

/// What is left of a mean square once noise has its part, as a root with its expanded uncertainty (k = 2).
///
/// `n` independent samples carry `square`; `noise_square` is known to within `noise_share` (1 sigma).
pub(super) fn beyond_noise(square: f64, noise_square: f64, noise_share: f64, n: f64) -> (f64, f64) {
    let left = (square - noise_square).max(0.0);
    let sigma = (square * (2.0 / n.max(2.0)).sqrt()).hypot(noise_square * noise_share);
    let value = left.sqrt();
    // Of the two sides the wider one, which stays finite at zero.
    (value, (left + 2.0 * sigma).sqrt() - value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_table_reads() {
        let table = Smoothness::read().unwrap();
        assert!(table.finish_line.jump_from_um > table.wall.ledge_from_um);
    }

    #[test]
    fn noise_alone_leaves_nothing_and_much_roughness_hardly_changes() {
        let (value, u95) = beyond_noise(64.0, 70.0, 0.2, 1000.0);
        assert_eq!(value, 0.0);
        assert!(u95 > 4.0 && u95 < 8.0, "{u95}");
        let (value, u95) = beyond_noise(1600.0 + 64.0, 64.0, 0.2, 1000.0);
        assert!((value - 40.0).abs() < 1e-9 && u95 < 4.0, "{value} {u95}");
    }
}
