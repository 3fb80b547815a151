//! The head of an instrument: a solid of revolution, from the few numbers that describe it.

use crate::kind::HeadKind;
use crate::wear::Measured;

/// Half-angles that differ by no more than this agree: kits give them to a tenth of a degree, and lengths rounded to
/// 0.01 mm move the half-angle of an 8 mm head by 0.07°.
const SAME_ANGLE_DEG: f64 = 0.1;
/// Diameters and lengths that differ by no more than this agree (half of the last digit that is usual, 0.01 mm).
const SAME_LENGTH_MM: f64 = 0.005;

/// Where a head cuts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Cuts {
    /// Everywhere.
    #[default]
    All,
    /// With its end alone: its sides are smooth.
    End,
    /// With its sides alone: its end is smooth.
    Side,
}

/// What somebody says of a head. `diameter_mm` is the largest one; what follows from the rest may be left out.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Dimensions {
    /// Largest diameter.
    pub diameter_mm: f64,
    /// Length of the working part (a wheel's thickness); a ball's is its diameter.
    pub length_mm: Option<f64>,
    /// Diameter of the end: of the flat end with its corner taken for sharp, of the ball of a round end, of a torpedo's body
    /// where its nose begins.
    pub tip_diameter_mm: Option<f64>,
    /// Angle of one side to the instrument's axis.
    pub half_angle_deg: Option<f64>,
    /// Radius of the rounded corner of a flat end, or of a wheel's rim.
    pub corner_radius_mm: Option<f64>,
    /// Distance from the tip to where the nose ends: at the largest diameter of a flame, at the body of a torpedo.
    pub nose_mm: Option<f64>,
    /// Diameter of a pear where its head ends.
    pub neck_diameter_mm: Option<f64>,
    /// Where it cuts.
    pub cuts: Cuts,
}

/// A head whose numbers agree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Head {
    pub(crate) kind: HeadKind,
    pub(crate) diameter_mm: f64,
    pub(crate) length_mm: f64,
    pub(crate) tip_diameter_mm: f64,
    pub(crate) half_angle_rad: f64,
    pub(crate) corner_radius_mm: f64,
    pub(crate) nose_mm: f64,
    pub(crate) neck_diameter_mm: f64,
    pub(crate) cuts: Cuts,
}

/// What is wrong with the numbers of a head: the key that it shows at, and why.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{key}: {message}")]
pub struct HeadFault {
    /// A key of the head.
    pub key: &'static str,
    /// What is wrong, with the numbers and the next step.
    pub message: String,
}

fn fault(key: &'static str, message: String) -> HeadFault {
    HeadFault { key, message }
}

impl Head {
    /// A head of a kind, from its dimensions in mm and degrees.
    ///
    /// Cones and tapering torpedoes need the tip's diameter or the half-angle; the other follows. If both are given they
    /// must agree within 0.1°. With *R* half the largest diameter, *r* half the tip's, *L* the length, α the half-angle:
    /// flat end *R* = *r* + *L* tan α; round end (the sides touch the ball of radius *r*) *R* = *r*/cos α + (*L* − *r*) tan α;
    /// torpedo with a nose of length *t* *R* = *r* + (*L* − *t*) tan α. **derived**.
    ///
    /// # Errors
    /// [`HeadFault`] with the key at fault: a number missing, not positive, not one of this kind, or impossible beside the others.
    pub fn new(kind: HeadKind, given: &Dimensions) -> Result<Self, HeadFault> {
        check_keys(kind, given)?;
        let radius_mm = 0.5 * given.diameter_mm;
        let length_mm = match kind {
            HeadKind::Ball => given.diameter_mm,
            _ => given.length_mm.ok_or_else(|| missing(kind, "length_mm"))?,
        };
        let mut head = Self {
            kind,
            diameter_mm: given.diameter_mm,
            length_mm,
            tip_diameter_mm: 0.0,
            half_angle_rad: 0.0,
            corner_radius_mm: given.corner_radius_mm.unwrap_or(0.0),
            nose_mm: 0.0,
            neck_diameter_mm: 0.0,
            cuts: given.cuts,
        };
        match kind {
            HeadKind::Ball | HeadKind::Football | HeadKind::Wheel => {}
            HeadKind::FlatCylinder | HeadKind::RoundCylinder => head.tip_diameter_mm = given.diameter_mm,
            HeadKind::FlatCone | HeadKind::RoundCone | HeadKind::PointedCone => head.set_taper(given, 0.0)?,
            HeadKind::Pear => {
                head.neck_diameter_mm =
                    given.neck_diameter_mm.ok_or_else(|| missing(kind, "neck_diameter_mm"))?;
                head.tip_diameter_mm = given.diameter_mm;
            }
            HeadKind::Flame => head.nose_mm = given.nose_mm.unwrap_or(0.5 * length_mm),
            HeadKind::Torpedo => {
                head.nose_mm = given.nose_mm.ok_or_else(|| missing(kind, "nose_mm"))?;
                if head.nose_mm >= length_mm {
                    return Err(fault(
                        "nose_mm",
                        format!("{} mm is no less than the length, {length_mm} mm", head.nose_mm),
                    ));
                }
                if given.tip_diameter_mm.is_none() && given.half_angle_deg.is_none() {
                    head.tip_diameter_mm = given.diameter_mm;
                } else {
                    head.set_taper(given, head.nose_mm)?;
                }
            }
        }
        head.check_form(radius_mm)?;
        Ok(head)
    }

    /// The same head as worn, from its diameters at one place or two. **derived**
    ///
    /// Measured at one place it is taken to have lost as much all along, so that half-angle, length, corner and nose stay: an
    /// assumption, told by [`Measured::assumed`]. Measured at its largest and at its tip it keeps its length, and the half-angle follows.
    ///
    /// # Errors
    /// [`HeadFault`] where no such head is left, or a tip was measured of a head that has none.
    pub fn worn_to(&self, measured: &Measured) -> Result<Self, HeadFault> {
        let kind = self.kind;
        let has = |key: &str| kind.keys().contains(&key);
        if measured.tip_diameter_mm.is_some() && !has("tip_diameter_mm") {
            let message = format!("a {} has no tip diameter to measure", kind.title());
            return Err(fault("tip_diameter_mm", message));
        }
        let diameter_mm = match (measured.diameter_mm, measured.tip_diameter_mm) {
            (Some(diameter_mm), _) => diameter_mm,
            (None, Some(tip_mm)) => self.diameter_mm - (self.tip_diameter_mm - tip_mm),
            (None, None) => self.diameter_mm,
        };
        let tapers = self.half_angle_rad > 0.0;
        let lost_mm = self.diameter_mm - diameter_mm;
        let is_parallel =
            !tapers && matches!(kind, HeadKind::FlatCone | HeadKind::RoundCone | HeadKind::PointedCone);
        let both = measured.diameter_mm.and(measured.tip_diameter_mm);
        let given = Dimensions {
            diameter_mm,
            length_mm: has("length_mm").then_some(self.length_mm),
            tip_diameter_mm: both.or(is_parallel.then_some(diameter_mm)),
            half_angle_deg: (has("half_angle_deg") && tapers && both.is_none())
                .then(|| self.half_angle_deg()),
            corner_radius_mm: (has("corner_radius_mm") && self.corner_radius_mm > 0.0)
                .then_some(self.corner_radius_mm),
            nose_mm: has("nose_mm").then_some(self.nose_mm),
            neck_diameter_mm: has("neck_diameter_mm").then_some(self.neck_diameter_mm - lost_mm),
            cuts: self.cuts,
        };
        Self::new(kind, &given)
    }

    /// Half-angle and tip diameter from each other; `start_mm` is where the straight sides begin.
    fn set_taper(&mut self, given: &Dimensions, start_mm: f64) -> Result<(), HeadFault> {
        let is_round = matches!(self.kind, HeadKind::RoundCone | HeadKind::PointedCone);
        let (radius_mm, run_mm) = (0.5 * self.diameter_mm, self.length_mm - start_mm);
        if let Some(tip_mm) = given.tip_diameter_mm.filter(|tip_mm| *tip_mm > self.diameter_mm) {
            let message =
                format!("a tip of {tip_mm} mm is larger than the largest diameter, {} mm", self.diameter_mm);
            return Err(fault("tip_diameter_mm", message));
        }
        let tip_radius_mm = match (given.tip_diameter_mm, given.half_angle_deg) {
            (Some(tip_mm), _) => 0.5 * tip_mm,
            (None, Some(half_angle_deg)) => {
                let (sin, cos) = half_angle_deg.to_radians().sin_cos();
                let rise_mm = run_mm * sin / cos;
                if is_round { (radius_mm - rise_mm) * cos / (1.0 - sin) } else { radius_mm - rise_mm }
            }
            (None, None) => return Err(missing(self.kind, "tip_diameter_mm")),
        };
        if tip_radius_mm < -0.5 * SAME_LENGTH_MM {
            let message = format!(
                "sides of {}° over {run_mm} mm meet before the tip: at a diameter of {} mm the half-angle is {:.2}° at most",
                given.half_angle_deg.unwrap_or(0.0),
                self.diameter_mm,
                (radius_mm / run_mm).atan().to_degrees()
            );
            return Err(fault("half_angle_deg", message));
        }
        let tip_radius_mm = tip_radius_mm.max(0.0);
        self.tip_diameter_mm = 2.0 * tip_radius_mm;
        self.half_angle_rad = if is_round {
            let reach_mm = (run_mm - tip_radius_mm).max(0.0);
            radius_mm.atan2(reach_mm) - (tip_radius_mm / radius_mm.hypot(reach_mm)).min(1.0).asin()
        } else {
            ((radius_mm - tip_radius_mm) / run_mm).atan()
        };
        self.agrees(given)
    }

    fn agrees(&self, given: &Dimensions) -> Result<(), HeadFault> {
        match given.half_angle_deg {
            Some(half_angle_deg) if (half_angle_deg - self.half_angle_deg()).abs() > SAME_ANGLE_DEG => {
                Err(fault(
                    "half_angle_deg",
                    format!(
                        "{half_angle_deg}° contradicts the rest: tip {:.2}, largest diameter {:.2} and length {:.2} mm make it \
                     {:.2}°; leave one of them out or mend it",
                        self.tip_diameter_mm,
                        self.diameter_mm,
                        self.length_mm,
                        self.half_angle_deg()
                    ),
                ))
            }
            _ => Ok(()),
        }
    }

    /// What no solid of this kind can have.
    fn check_form(&self, radius_mm: f64) -> Result<(), HeadFault> {
        let (corner_mm, length_mm) = (self.corner_radius_mm, self.length_mm);
        let too_short = |least_mm: f64, why: &str| {
            Err(fault(
                "length_mm",
                format!("{length_mm} mm is too short: {why} alone takes {least_mm:.2} mm"),
            ))
        };
        match self.kind {
            HeadKind::RoundCylinder if length_mm < radius_mm => too_short(radius_mm, "the round end"),
            HeadKind::RoundCone if self.tip_diameter_mm <= 0.0 => Err(fault(
                "tip_diameter_mm",
                "a round end needs a ball to end in; a taper that ends in a point is a pointed_cone".into(),
            )),
            HeadKind::RoundCone | HeadKind::PointedCone if length_mm < self.tip_diameter_mm => {
                too_short(self.tip_diameter_mm, "the ball at its end")
            }
            HeadKind::Wheel if 2.0 * corner_mm > length_mm.min(self.diameter_mm) + SAME_LENGTH_MM => {
                Err(fault(
                    "corner_radius_mm",
                    format!(
                        "{corner_mm} mm does not fit a rim {length_mm} mm thick: at most {:.2} mm",
                        0.5 * length_mm
                    ),
                ))
            }
            HeadKind::FlatCylinder | HeadKind::FlatCone => {
                let most_mm = 0.5 * self.tip_diameter_mm / Self::corner_inset(self.half_angle_rad);
                if corner_mm > most_mm.min(length_mm) + 0.5 * SAME_LENGTH_MM {
                    let message = format!(
                        "{corner_mm} mm does not fit a flat end of {:.2} mm: at most {:.2} mm, which is a round end",
                        self.tip_diameter_mm, most_mm
                    );
                    return Err(fault("corner_radius_mm", message));
                }
                Ok(())
            }
            HeadKind::Torpedo if self.nose_mm < 0.5 * self.tip_diameter_mm => Err(fault(
                "nose_mm",
                format!(
                    "{} mm is shorter than a round end of the same body, {:.2} mm: then it is no torpedo",
                    self.nose_mm,
                    0.5 * self.tip_diameter_mm
                ),
            )),
            HeadKind::Pear if length_mm <= self.diameter_mm => {
                too_short(self.diameter_mm, "the ball at its end")
            }
            HeadKind::Pear if self.neck_diameter_mm >= self.diameter_mm => Err(fault(
                "neck_diameter_mm",
                format!(
                    "{} mm is not smaller than the largest diameter, {} mm",
                    self.neck_diameter_mm, self.diameter_mm
                ),
            )),
            HeadKind::Torpedo if self.nose_mm * self.half_angle_rad.tan() >= 0.5 * self.tip_diameter_mm => {
                Err(fault(
                    "nose_mm",
                    format!(
                        "{} mm is too long: sides of {:.1}° would meet within it",
                        self.nose_mm,
                        self.half_angle_deg()
                    ),
                ))
            }
            HeadKind::Flame if self.nose_mm > length_mm => {
                Err(fault("nose_mm", format!("{} mm is more than the length, {length_mm} mm", self.nose_mm)))
            }
            HeadKind::Flame
                if self.nose_mm < radius_mm || 2.0 * self.nose_mm < length_mm - SAME_LENGTH_MM =>
            {
                Err(fault(
                    "nose_mm",
                    format!(
                        "{} mm: a flame is largest at half its length or above, and at least half its diameter from the tip",
                        self.nose_mm
                    ),
                ))
            }
            _ => Ok(()),
        }
    }

    /// How far inside the sides, per unit of corner radius, a corner meets the end: tan(45° − α/2), written so that it is 1
    /// without rounding at α = 0.
    pub(crate) fn corner_inset(half_angle_rad: f64) -> f64 {
        half_angle_rad.cos() / (1.0 + half_angle_rad.sin())
    }

    /// Its shape.
    pub fn kind(&self) -> HeadKind {
        self.kind
    }

    /// Its largest diameter.
    pub fn diameter_mm(&self) -> f64 {
        self.diameter_mm
    }

    /// Its length, from the tip to where the neck begins.
    pub fn length_mm(&self) -> f64 {
        self.length_mm
    }

    /// The diameter of its end, see [`Dimensions::tip_diameter_mm`]; 0 for shapes that have none.
    pub fn tip_diameter_mm(&self) -> f64 {
        self.tip_diameter_mm
    }

    /// The angle of a side to the axis; 0 for parallel sides and for shapes without straight sides.
    pub fn half_angle_deg(&self) -> f64 {
        self.half_angle_rad.to_degrees()
    }

    /// The radius of its corner, 0 if sharp or if there is no corner.
    pub fn corner_radius_mm(&self) -> f64 {
        self.corner_radius_mm
    }

    /// Where its nose ends, 0 if it has none.
    pub fn nose_mm(&self) -> f64 {
        self.nose_mm
    }

    /// The diameter of a pear's neck, 0 for other shapes.
    pub fn neck_diameter_mm(&self) -> f64 {
        self.neck_diameter_mm
    }

    /// Where it cuts.
    pub fn cuts(&self) -> Cuts {
        self.cuts
    }
}

fn missing(kind: HeadKind, key: &'static str) -> HeadFault {
    let or = if key == "tip_diameter_mm" { " or half_angle_deg" } else { "" };
    fault(key, format!("missing: a {} needs {key}{or}", kind.key()))
}

/// Keys that this kind has not, and numbers that no length or angle has.
fn check_keys(kind: HeadKind, given: &Dimensions) -> Result<(), HeadFault> {
    let optional = [
        ("length_mm", given.length_mm),
        ("tip_diameter_mm", given.tip_diameter_mm),
        ("half_angle_deg", given.half_angle_deg),
        ("corner_radius_mm", given.corner_radius_mm),
        ("nose_mm", given.nose_mm),
        ("neck_diameter_mm", given.neck_diameter_mm),
    ];
    if !(given.diameter_mm > 0.0 && given.diameter_mm <= 20.0) {
        return Err(fault(
            "diameter_mm",
            format!("{} is no diameter: give mm, above 0 and up to 20", given.diameter_mm),
        ));
    }
    for (key, value) in optional.into_iter().filter_map(|(key, value)| Some((key, value?))) {
        if !kind.keys().contains(&key) {
            return Err(fault(key, format!("a {} has no {key}: leave it out", kind.key())));
        }
        let most = if key == "half_angle_deg" { 45.0 } else { 20.0 };
        let may_be_zero =
            key == "corner_radius_mm" || key == "half_angle_deg" || kind == HeadKind::PointedCone;
        if !(0.0..=most).contains(&value) || (value == 0.0 && !may_be_zero) {
            return Err(fault(key, format!("{value} is out of range: give more than 0 and up to {most}")));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn given(diameter_mm: f64, length_mm: f64) -> Dimensions {
        Dimensions { diameter_mm, length_mm: Some(length_mm), ..Dimensions::default() }
    }

    /// Angle and tip determine each other, and the outline has the largest diameter at its length.
    #[test]
    fn tip_and_half_angle_follow_from_each_other() {
        for kind in [HeadKind::FlatCone, HeadKind::RoundCone, HeadKind::Torpedo] {
            let nose_mm = (kind == HeadKind::Torpedo).then_some(1.2);
            let by_angle =
                Head::new(kind, &Dimensions { half_angle_deg: Some(2.5), nose_mm, ..given(1.6, 8.0) })
                    .unwrap();
            let tip_diameter_mm = Some(by_angle.tip_diameter_mm());
            let by_tip =
                Head::new(kind, &Dimensions { tip_diameter_mm, nose_mm, ..given(1.6, 8.0) }).unwrap();
            assert!((by_tip.half_angle_deg() - 2.5).abs() < 1e-9, "{kind:?}: {by_tip:?}");
            assert!((by_tip.radius_at_mm(8.0) - 0.8).abs() < 1e-12, "{kind:?}");
        }
        // A flat end by hand: 0.8 − 8 tan 2.5° = 0.450712 is half the tip.
        let flat =
            Head::new(HeadKind::FlatCone, &Dimensions { half_angle_deg: Some(2.5), ..given(1.6, 8.0) })
                .unwrap();
        assert!((flat.tip_diameter_mm() - 0.901425).abs() < 5e-7, "{flat:?}");
    }

    #[test]
    fn impossible_heads_are_told_with_their_key() {
        let angle = |half_angle_deg| Dimensions { half_angle_deg: Some(half_angle_deg), ..given(1.6, 8.0) };
        let tip = |tip_diameter_mm| Dimensions { tip_diameter_mm: Some(tip_diameter_mm), ..given(1.6, 8.0) };
        let cases = [
            (HeadKind::FlatCone, tip(1.8), "tip_diameter_mm"),
            (HeadKind::RoundCone, tip(1.8), "tip_diameter_mm"),
            (HeadKind::RoundCone, given(1.6, 8.0), "tip_diameter_mm"),
            (HeadKind::FlatCone, angle(9.0), "half_angle_deg"),
            (HeadKind::RoundCone, Dimensions { half_angle_deg: Some(3.0), ..tip(1.2) }, "half_angle_deg"),
            (HeadKind::FlatCone, Dimensions { corner_radius_mm: Some(0.6), ..tip(1.0) }, "corner_radius_mm"),
            (HeadKind::RoundCylinder, given(1.6, 0.5), "length_mm"),
            (HeadKind::RoundCylinder, angle(3.0), "half_angle_deg"),
            (HeadKind::RoundCylinder, given(-1.0, 5.0), "diameter_mm"),
            (HeadKind::RoundCylinder, given(f64::NAN, 5.0), "diameter_mm"),
            (HeadKind::RoundCylinder, given(1.0, f64::NAN), "length_mm"),
            (HeadKind::Torpedo, given(1.6, 8.0), "nose_mm"),
            (HeadKind::Torpedo, Dimensions { nose_mm: Some(0.4), ..given(1.6, 8.0) }, "nose_mm"),
            (HeadKind::Torpedo, Dimensions { nose_mm: Some(9.0), ..given(1.6, 8.0) }, "nose_mm"),
            (HeadKind::Flame, Dimensions { nose_mm: Some(1.0), ..given(1.4, 5.0) }, "nose_mm"),
            (
                HeadKind::Wheel,
                Dimensions { corner_radius_mm: Some(1.0), ..given(3.5, 1.5) },
                "corner_radius_mm",
            ),
            (
                HeadKind::Pear,
                Dimensions { neck_diameter_mm: Some(1.4), ..given(1.2, 3.0) },
                "neck_diameter_mm",
            ),
        ];
        for (kind, dimensions, key) in cases {
            let error = Head::new(kind, &dimensions).unwrap_err();
            assert_eq!(error.key, key, "{kind:?} {dimensions:?}: {error}");
        }
        // What is only rounded is taken: 2.29° by tip and length.
        assert!(
            Head::new(HeadKind::RoundCone, &Dimensions { half_angle_deg: Some(2.3), ..tip(1.0) }).is_ok()
        );
    }
}
