//! The gum: a sheet that meets every tooth a little over its cervical line and rises to papillae between them.

use crate::spline::Spline;

/// Height of the gum where it meets the middle of the facial surface, over the cervical line, mm.
pub const GINGIVA_LEVEL_MM: f64 = 0.6;
/// How far a papilla's crest rises over that level between premolars and molars, mm, and its half length along
/// the arch. Between front teeth it follows the cervical lines, which rise much more there.
const PAPILLA_MM: f64 = 1.2;
const PAPILLA_LENGTH_MM: f64 = 1.55;
/// A papilla's crest as a share of the mean rise of the two cervical lines at it.
const OF_CERVICAL_RISE: f64 = 0.95;
/// Slope of the outer side of the gum.
const OUTER_SLOPE: f64 = 1.7;

/// The gum as a height over the arch's own coordinates: `s` along the row, `t` across it (facial positive).
#[derive(Debug, Clone)]
pub struct Gingiva {
    /// Per place along the arch: level, papilla height, half width of the row, all mm.
    along: Spline<3>,
    /// Nothing of the gum lies above this, mm.
    pub top_z: f64,
    /// Square of the steepest slope of a papilla along the arch, plus 1.
    pub steep2: f64,
}

/// One tooth's share in the gum.
pub struct Footing {
    pub s: f64,
    pub z: f64,
    pub half_length: f64,
    pub half_width: f64,
    /// Rise of the cervical line towards the next tooth before and after it along the arch.
    pub rises: [f64; 2],
    /// Whether the place is empty: the gum closes over it, without papillae.
    pub is_absent: bool,
}

impl Gingiva {
    /// The gum around these teeth, in order along the arch.
    pub fn new(footings: &[Footing]) -> Self {
        let gaps: Vec<(f64, f64)> = footings
            .windows(2)
            .map(|pair| {
                let (a, b) = (pair[0].s + pair[0].half_length, pair[1].s - pair[1].half_length);
                let rise = 0.5 * (pair[0].rises[1] + pair[1].rises[0]);
                let is_open = pair[0].is_absent || pair[1].is_absent;
                (0.5 * (a + b), if is_open { 0.0 } else { PAPILLA_MM.max(OF_CERVICAL_RISE * rise) })
            })
            .collect();
        let (first, last) = (footings[0].s - 14.0, footings[footings.len() - 1].s + 14.0);
        let step = 0.2;
        let node = |i: usize| {
            let s = first + step * i as f64;
            let weights: Vec<f64> =
                footings.iter().map(|f| (-((s - f.s) / 3.5).powi(2)).exp() + 1e-12).collect();
            let mean = |value: fn(&Footing) -> f64| {
                let sum: f64 = footings.iter().zip(&weights).map(|(f, w)| w * value(f)).sum();
                sum / weights.iter().sum::<f64>()
            };
            let papilla = |&(at, rise): &(f64, f64)| rise * (-((s - at) / PAPILLA_LENGTH_MM).powi(2)).exp();
            let papillae: f64 = gaps.iter().map(papilla).sum();
            [mean(|f| f.z) + GINGIVA_LEVEL_MM, papillae, mean(|f| f.half_width)]
        };
        let n = ((last - first) / step) as usize + 1;
        let highest = gaps.iter().map(|g| g.1).fold(PAPILLA_MM, f64::max);
        let top = footings.iter().map(|f| f.z).fold(f64::MIN, f64::max) + GINGIVA_LEVEL_MM + highest;
        // A bell of height h and half length l is steepest with 0.86 h/l.
        let steepest = 0.86 * highest / PAPILLA_LENGTH_MM;
        Self {
            along: Spline::clamped(first, step, (0..n).map(node).collect()),
            top_z: top + 0.1,
            steep2: (1.0 + steepest * steepest).max(1.5),
        }
    }

    /// Height of the gum and how steep it is across the arch.
    pub fn height(&self, s: f64, t: f64) -> (f64, f64) {
        let [level, papilla, half_width] = self.along.at(s);
        let across = (t / (half_width + 0.6)).powi(2);
        let ridge = papilla * (-across * across).exp();
        // A margin that rolls over about 1 mm from the tooth, then a straight outer side.
        let out = t.abs() - half_width - 0.9;
        let hook = (out * out + 0.8).sqrt();
        let fall = OUTER_SLOPE * 0.5 * (out + hook);
        let steep = OUTER_SLOPE * 0.5 * (1.0 + out / hook);
        (level + ridge - fall, steep)
    }

    /// Half width of the row of necks at a place along the arch, mm.
    pub fn half_width_at(&self, s: f64) -> f64 {
        self.along.at(s)[2]
    }
}
