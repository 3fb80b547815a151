//! The form of each kind of crown, as fractions of its half widths: our own drawing, from no scan.

use crate::teeth::Fdi;

/// A crest from `from` to `to`, falling off to both sides by `slope` mm per mm.
///
/// `x` and `y` are fractions of the half widths (mesial, facial positive), `z` is mm from the highest cusp tip.
#[derive(Debug, Clone, Copy)]
pub struct Ridge {
    pub from: [f64; 3],
    pub to: [f64; 3],
    pub slope: f64,
}

/// Which customary point of the occlusal surface a cusp or fossa is (`mb`, `dl`, `mf` …) and where.
#[derive(Debug, Clone, Copy)]
pub struct Landmark {
    pub name: &'static str,
    pub x: f64,
    pub y: f64,
}

/// One side of a crown in profile.
#[derive(Debug, Clone, Copy)]
pub struct Side {
    /// Height of contour as a share of the crown's length.
    pub contour: f64,
    /// Half width at the cusp tips as a share of that at the height of contour.
    pub table: f64,
}

/// The form of one kind of crown.
#[derive(Debug, Clone)]
pub struct Anatomy {
    pub ridges: Vec<Ridge>,
    pub landmarks: Vec<Landmark>,
    /// Depth of the occlusal basin under the highest cusp tip, mm.
    pub basin_mm: f64,
    /// Mesial, facial, distal, lingual.
    pub sides: [Side; 4],
    /// 2 makes the cross-section an ellipse, 0 a squarish oval.
    pub roundness: f64,
    /// The groove line through the fossae, as a fraction of the faciolingual half width.
    pub groove: f64,
}

impl Anatomy {
    /// The form of this tooth.
    pub fn of(fdi: Fdi) -> Self {
        match (fdi.is_upper(), fdi.position()) {
            (true, 1) => front([side(0.82, 0.96), side(0.16, 0.3), side(0.74, 0.92), side(0.17, 0.3)]),
            (true, 2) => front([side(0.78, 0.94), side(0.16, 0.3), side(0.66, 0.86), side(0.17, 0.3)]),
            (false, 1) => front([side(0.88, 0.97), side(0.16, 0.3), side(0.88, 0.97), side(0.17, 0.3)]),
            (false, 2) => front([side(0.86, 0.97), side(0.16, 0.3), side(0.82, 0.93), side(0.17, 0.3)]),
            (true, 3) => front([side(0.70, 0.80), side(0.20, 0.3), side(0.58, 0.70), side(0.19, 0.3)]),
            (false, 3) => front([side(0.76, 0.90), side(0.18, 0.3), side(0.62, 0.74), side(0.18, 0.3)]),
            (true, 4 | 5) => upper_premolar(),
            (true, _) => upper_molar(),
            (false, 4) => lower_premolar(&[(0.05, -0.52, -1.9)]),
            (false, 5) => lower_premolar(&[(0.24, -0.47, -0.9), (-0.38, -0.45, -1.2)]),
            (false, 6) => lower_first_molar(),
            (false, _) => lower_molar(),
        }
    }
}

fn ridge(from: [f64; 3], to: [f64; 3], slope: f64) -> Ridge {
    Ridge { from, to, slope }
}

fn side(contour: f64, table: f64) -> Side {
    Side { contour, table }
}

fn landmark(name: &'static str, x: f64, y: f64) -> Landmark {
    Landmark { name, x, y }
}

fn upper_molar() -> Anatomy {
    let (mf, df) = ([0.44, 0.50, -0.1], [-0.40, 0.49, -0.3]);
    let (ml, dl) = ([0.34, -0.48, 0.0], [-0.52, -0.46, -0.9]);
    let (mesial_f, mesial_l) = ([0.80, 0.26, -1.0], [0.80, -0.30, -0.9]);
    let (distal_f, distal_l) = ([-0.82, 0.26, -1.1], [-0.82, -0.26, -1.2]);
    Anatomy {
        ridges: vec![
            ridge(mf, [0.16, 0.05, -2.3], 0.75),
            ridge(df, [-0.06, 0.04, -1.45], 0.75),
            ridge(ml, [0.02, -0.06, -1.45], 0.72),
            ridge(dl, [-0.34, -0.10, -2.3], 0.75),
            ridge(mf, mesial_f, 0.95),
            ridge(ml, mesial_l, 0.95),
            ridge(df, distal_f, 0.95),
            ridge(dl, distal_l, 0.95),
            ridge(mesial_f, mesial_l, 0.9),
            ridge(distal_f, distal_l, 0.9),
        ],
        landmarks: vec![
            landmark("mb", 0.44, 0.50),
            landmark("db", -0.40, 0.49),
            landmark("ml", 0.34, -0.48),
            landmark("dl", -0.52, -0.46),
            landmark("mf", 0.40, 0.0),
            landmark("df", -0.52, 0.05),
        ],
        basin_mm: 3.3,
        sides: [side(0.66, 0.80), side(0.30, 0.64), side(0.62, 0.80), side(0.42, 0.66)],
        roundness: 0.85,
        groove: 0.0,
    }
}

fn lower_first_molar() -> Anatomy {
    let (mf, mid, distal) = ([0.52, 0.44, -0.3], [-0.08, 0.48, -0.4], [-0.62, 0.30, -0.8]);
    let (ml, dl) = ([0.46, -0.52, 0.0], [-0.40, -0.52, -0.1]);
    let (mesial_f, mesial_l) = ([0.82, 0.20, -1.3], [0.82, -0.28, -1.2]);
    let (distal_f, distal_l) = ([-0.84, 0.10, -1.5], [-0.82, -0.28, -1.4]);
    Anatomy {
        ridges: vec![
            ridge(mf, [0.24, 0.02, -2.0], 0.78),
            ridge(mid, [-0.08, 0.03, -2.0], 0.85),
            ridge(distal, [-0.38, 0.02, -2.0], 0.85),
            ridge(ml, [0.18, -0.06, -2.0], 0.74),
            ridge(dl, [-0.22, -0.06, -2.0], 0.74),
            ridge(mf, mesial_f, 0.95),
            ridge(ml, mesial_l, 0.95),
            ridge(distal, distal_f, 0.95),
            ridge(dl, distal_l, 0.95),
            ridge(mesial_f, mesial_l, 0.9),
            ridge(distal_f, distal_l, 0.9),
        ],
        landmarks: vec![
            landmark("mb", 0.52, 0.44),
            landmark("db", -0.08, 0.48),
            landmark("ml", 0.46, -0.52),
            landmark("dl", -0.40, -0.52),
            landmark("mf", 0.46, -0.03),
            landmark("df", -0.56, -0.03),
        ],
        basin_mm: 3.2,
        sides: [side(0.66, 0.84), side(0.32, 0.58), side(0.62, 0.80), side(0.48, 0.76)],
        roundness: 0.8,
        groove: -0.02,
    }
}

fn lower_molar() -> Anatomy {
    let (mf, df) = ([0.46, 0.45, -0.2], [-0.42, 0.45, -0.3]);
    let (ml, dl) = ([0.46, -0.52, 0.0], [-0.42, -0.52, -0.1]);
    let (mesial_f, mesial_l) = ([0.82, 0.22, -1.3], [0.82, -0.28, -1.2]);
    let (distal_f, distal_l) = ([-0.82, 0.22, -1.4], [-0.82, -0.28, -1.4]);
    Anatomy {
        ridges: vec![
            ridge(mf, [0.14, 0.02, -2.0], 0.76),
            ridge(df, [-0.14, 0.02, -2.0], 0.76),
            ridge(ml, [0.14, -0.06, -2.0], 0.74),
            ridge(dl, [-0.14, -0.06, -2.0], 0.74),
            ridge(mf, mesial_f, 0.95),
            ridge(ml, mesial_l, 0.95),
            ridge(df, distal_f, 0.95),
            ridge(dl, distal_l, 0.95),
            ridge(mesial_f, mesial_l, 0.9),
            ridge(distal_f, distal_l, 0.9),
        ],
        landmarks: vec![
            landmark("mb", 0.46, 0.45),
            landmark("db", -0.42, 0.45),
            landmark("ml", 0.46, -0.52),
            landmark("dl", -0.42, -0.52),
            landmark("mf", 0.46, -0.03),
            landmark("df", -0.46, -0.03),
        ],
        basin_mm: 3.2,
        sides: [side(0.66, 0.82), side(0.32, 0.60), side(0.62, 0.80), side(0.48, 0.76)],
        roundness: 0.7,
        groove: -0.02,
    }
}

fn upper_premolar() -> Anatomy {
    let (facial, lingual) = ([0.04, 0.48, 0.0], [0.10, -0.48, -0.4]);
    premolar(
        facial,
        &[lingual],
        0.0,
        [side(0.61, 0.80), side(0.32, 0.60), side(0.59, 0.78), side(0.46, 0.62)],
    )
}

fn lower_premolar(lingual: &[(f64, f64, f64)]) -> Anatomy {
    let lingual: Vec<_> = lingual.iter().map(|&(x, y, z)| [x, y, z]).collect();
    let sides = [side(0.60, 0.82), side(0.33, 0.52), side(0.58, 0.80), side(0.50, 0.74)];
    premolar([0.04, 0.30, 0.0], &lingual, -0.12, sides)
}

fn premolar(facial: [f64; 3], lingual: &[[f64; 3]], groove: f64, sides: [Side; 4]) -> Anatomy {
    let marginal = |x: f64, low: f64| ([x, 0.24, low], [x, -0.28, low - 0.1]);
    let ((mesial_f, mesial_l), (distal_f, distal_l)) = (marginal(0.76, -1.7), marginal(-0.77, -1.9));
    let mut ridges = vec![
        ridge(facial, [0.02, groove + 0.02, -2.3], 0.8),
        ridge(facial, mesial_f, 1.0),
        ridge(facial, distal_f, 1.0),
        ridge(mesial_f, mesial_l, 0.9),
        ridge(distal_f, distal_l, 0.9),
        ridge(lingual[0], mesial_l, 1.0),
        ridge(lingual[lingual.len() - 1], distal_l, 1.0),
    ];
    ridges.extend(lingual.iter().map(|&[x, y, z]| ridge([x, y, z], [0.4 * x, groove - 0.02, -2.4], 0.8)));
    let mut landmarks = vec![landmark("b", facial[0], facial[1])];
    let names = if lingual.len() == 1 { &["l"][..] } else { &["ml", "dl"] };
    landmarks.extend(names.iter().zip(lingual).map(|(name, at)| landmark(name, at[0], at[1])));
    landmarks.extend([landmark("mf", 0.46, groove), landmark("df", -0.46, groove)]);
    Anatomy { ridges, landmarks, basin_mm: 3.4, sides, roundness: 1.2, groove }
}

/// Incisors and canines have no occlusal surface: only their proximal profiles count here.
fn front(sides: [Side; 4]) -> Anatomy {
    Anatomy { ridges: Vec::new(), landmarks: Vec::new(), basin_mm: 7.0, sides, roundness: 1.5, groove: -0.3 }
}

/// What makes an incisor or canine, beside its size and its proximal profiles.
#[derive(Debug, Clone, Copy)]
pub struct FrontAnatomy {
    /// Thickness at the incisal edge, mm.
    pub edge_mm: f64,
    /// How far facially of the axis the edge lies, mm.
    pub edge_y_mm: f64,
    /// Rise of the edge towards the facial, mm per mm.
    pub edge_slope: f64,
    /// Where along the edge its highest point lies, as a fraction of the mesial half width.
    pub tip_x: f64,
    /// How blunt that point is, mm: large for an edge, small for a cusp.
    pub tip_mm: f64,
    /// Fall of the edge from there to its mesial and distal corner, mm.
    pub fall: [f64; 2],
    /// Where the lingual outline bends most, as a share of the way from cingulum to edge.
    pub fossa_bend: f64,
    /// Rise of the marginal ridges over the fossa, mm.
    pub hollow_mm: f64,
    /// Height of the ridge in the middle of the fossa, mm.
    pub lingual_ridge_mm: f64,
    /// Roundness of the cross-section at the edge; see [`Anatomy::roundness`].
    pub roundness: f64,
}

impl FrontAnatomy {
    /// The form of this tooth; `None` for premolars and molars.
    pub fn of(fdi: Fdi) -> Option<Self> {
        let upper_central = Self {
            edge_mm: 1.7,
            edge_y_mm: 0.35,
            edge_slope: 0.12,
            tip_x: 0.35,
            tip_mm: 4.0,
            fall: [0.1, 0.9],
            fossa_bend: 0.36,
            hollow_mm: 1.1,
            lingual_ridge_mm: 0.0,
            roundness: 0.1,
        };
        let lower_incisor = Self {
            edge_mm: 1.5,
            edge_y_mm: -0.15,
            edge_slope: -0.15,
            tip_x: 0.0,
            fall: [0.05, 0.12],
            fossa_bend: 0.42,
            hollow_mm: 0.5,
            ..upper_central
        };
        let canine = Self {
            edge_mm: 2.5,
            edge_slope: 0.0,
            tip_x: 0.08,
            tip_mm: 0.7,
            fall: [1.7, 2.4],
            fossa_bend: 0.42,
            hollow_mm: 0.7,
            lingual_ridge_mm: 0.45,
            roundness: 1.5,
            ..upper_central
        };
        Some(match (fdi.is_upper(), fdi.position()) {
            (true, 1) => upper_central,
            (true, 2) => {
                Self { edge_mm: 1.6, edge_y_mm: 0.3, fall: [0.2, 1.2], roundness: 0.4, ..upper_central }
            }
            (false, 1) => lower_incisor,
            (false, 2) => Self { fall: [0.05, 0.35], ..lower_incisor },
            (true, 3) => canine,
            (false, 3) => Self {
                edge_mm: 2.2,
                edge_y_mm: 0.1,
                fall: [1.2, 2.2],
                hollow_mm: 0.5,
                lingual_ridge_mm: 0.3,
                ..canine
            },
            _ => return None,
        })
    }
}
