//! Colours that stand for numbers.

use std::sync::LazyLock;

/// A colour as red, green, blue.
pub type Rgb = [u8; 3];

const JSON: &str = include_str!("../data/colour_maps.json");

static BATLOW: LazyLock<Vec<Rgb>> = LazyLock::new(|| table("batlow"));
static VIK: LazyLock<Vec<Rgb>> = LazyLock::new(|| table("vik"));

/// The 256 colours of the map named batlow, from dark blue to pale pink, evenly spaced to the eye.
///
/// # Source
/// F. Crameri, Scientific colour maps; exported by `data/make_colour_maps.py`.
pub fn batlow() -> &'static [Rgb] {
    &BATLOW
}

/// The 256 colours of the map named vik, from dark blue over near white in the middle to dark red brown: for signed values.
///
/// # Source
/// As for [`batlow`].
pub fn vik() -> &'static [Rgb] {
    &VIK
}

/// A table of the committed file. A file that lacks it is caught by the tests.
fn table(name: &str) -> Vec<Rgb> {
    let document: serde_json::Value = serde_json::from_str(JSON).unwrap_or_default();
    let colours = document["maps"][name].as_array().map(Vec::as_slice).unwrap_or_default();
    colours.iter().filter_map(|colour| parse(colour.as_str()?)).collect()
}

/// Reads `#rrggbb`.
pub fn parse(text: &str) -> Option<Rgb> {
    let digits = text.strip_prefix('#')?;
    let part = |k: usize| u8::from_str_radix(digits.get(2 * k..2 * k + 2)?, 16).ok();
    Some([part(0)?, part(1)?, part(2)?])
}

/// Which colour stands for which number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// The number of the first colour.
    pub low: f64,
    /// The number of the last colour.
    pub high: f64,
    /// Lines are drawn at multiples of this.
    pub step: f64,
}

impl Scale {
    /// The colour of a number; beyond the ends that of the end.
    pub fn colour(&self, value: f64) -> Rgb {
        let share = ((value - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        let table = batlow();
        table[(share * (table.len() - 1) as f64).round() as usize]
    }

    /// Between which two lines a number lies.
    pub fn band(&self, value: f64) -> i32 {
        (value / self.step).floor() as i32
    }

    /// The numbers at which lines are drawn, ends included.
    pub fn levels(&self) -> Vec<f64> {
        let first = (self.low / self.step).ceil() as i32;
        let last = (self.high / self.step).floor() as i32;
        (first..=last).map(|k| f64::from(k) * self.step).collect()
    }
}

/// Relative luminance, 0 black to 1 white, as WCAG 2.2 defines it.
pub fn luminance(colour: Rgb) -> f64 {
    let [red, green, blue] = colour.map(|part| {
        let part = f64::from(part) / 255.0;
        if part <= 0.04045 { part / 12.92 } else { ((part + 0.055) / 1.055).powf(2.4) }
    });
    0.2126 * red + 0.7152 * green + 0.0722 * blue
}

/// A colour on the way to another one.
pub fn mix(from: Rgb, to: Rgb, share: f64) -> Rgb {
    [0, 1, 2].map(|k| (f64::from(from[k]) * (1.0 - share) + f64::from(to[k]) * share).round() as u8)
}

/// The colour of a line that shows on `ground`.
pub fn line_on(ground: Rgb) -> Rgb {
    if luminance(ground) < 0.12 { mix(ground, [255; 3], 0.55) } else { mix(ground, [0; 3], 0.6) }
}

/// As HTML writes it.
pub fn hex([red, green, blue]: Rgb) -> String {
    format!("#{red:02x}{green:02x}{blue:02x}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_map_has_its_published_ends() {
        let map = batlow();
        assert_eq!(map.len(), 256);
        // First and last row of the published text table: 0.005193 0.098238 0.349842 and 0.981354 0.800406 0.981267.
        assert_eq!(map[0], [1, 25, 89]);
        assert_eq!(map[255], [250, 204, 250]);
    }

    #[test]
    fn lightness_rises_all_the_way() {
        let luminances: Vec<f64> = batlow().iter().map(|&colour| luminance(colour)).collect();
        assert!(luminances.windows(2).all(|pair| pair[1] >= pair[0] - 2e-3));
        assert!(luminances.windows(9).all(|nine| nine[8] > nine[0]));
    }

    #[test]
    fn a_scale_meets_its_ends() {
        let scale = Scale { low: 0.0, high: 2.5, step: 0.25 };
        assert_eq!(scale.colour(0.0), batlow()[0]);
        assert_eq!(scale.colour(-3.0), batlow()[0]);
        assert_eq!(scale.colour(2.5), batlow()[255]);
        assert_eq!(scale.colour(9.0), batlow()[255]);
        assert_eq!(scale.levels().len(), 11);
        assert_eq!((scale.band(0.24), scale.band(0.26)), (0, 1));
    }

    #[test]
    fn lines_show_on_every_colour_of_the_map() {
        for &ground in batlow() {
            let (a, b) = (luminance(ground), luminance(line_on(ground)));
            let contrast = (a.max(b) + 0.05) / (a.min(b) + 0.05);
            assert!(contrast >= 2.0, "{ground:?}: {contrast:.2}");
        }
    }

    #[test]
    fn luminance_of_black_and_white() {
        assert_eq!(luminance([0; 3]), 0.0);
        assert!((luminance([255; 3]) - 1.0).abs() < 1e-12);
        assert_eq!(hex([1, 25, 250]), "#0119fa");
    }
}
