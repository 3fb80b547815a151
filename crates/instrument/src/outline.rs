//! The outline of any head: how thick it is at a height above its tip.

use crate::head::Head;
use crate::kind::HeadKind;
use crate::profile::Stem;

impl Head {
    /// The half-diameter at a height above the tip, in mm; 0 outside the head.
    pub fn radius_at_mm(&self, height_mm: f64) -> f64 {
        if !(0.0..=self.length_mm).contains(&height_mm) {
            return 0.0;
        }
        let radius_mm = 0.5 * self.diameter_mm;
        match self.kind {
            HeadKind::Ball | HeadKind::Football => {
                let half_mm = 0.5 * self.length_mm;
                radius_mm * (1.0 - ((height_mm - half_mm) / half_mm).powi(2)).max(0.0).sqrt()
            }
            HeadKind::Wheel => {
                let corner_mm = self.corner_radius_mm;
                let into_mm = (corner_mm - height_mm.min(self.length_mm - height_mm)).max(0.0);
                radius_mm - corner_mm + (corner_mm * corner_mm - into_mm * into_mm).max(0.0).sqrt()
            }
            HeadKind::Pear => self.pear_radius_at_mm(height_mm),
            HeadKind::Flame => {
                let arch_mm = (radius_mm * radius_mm + self.nose_mm * self.nose_mm) / (2.0 * radius_mm);
                let away_mm = height_mm - self.nose_mm;
                radius_mm - arch_mm + (arch_mm * arch_mm - away_mm * away_mm).max(0.0).sqrt()
            }
            _ => Stem::of(self).map_or(0.0, |stem| stem.radius_at_mm(height_mm)),
        }
    }

    /// A ball of radius *R* at the tip and, from where it touches it, the line to the neck of radius *n* at the length *L*. With the
    /// line leaning inwards by β it is *R*/cos β − (*h* − *R*) tan β, so (*L* − *R*) sin β + *n* cos β = *R*.
    fn pear_radius_at_mm(&self, height_mm: f64) -> f64 {
        let (radius_mm, neck_mm) = (0.5 * self.diameter_mm, 0.5 * self.neck_diameter_mm);
        let run_mm = self.length_mm - radius_mm;
        let lean_rad = (radius_mm / run_mm.hypot(neck_mm)).min(1.0).asin() - neck_mm.atan2(run_mm);
        let over_mm = height_mm - radius_mm;
        if over_mm > radius_mm * lean_rad.sin() {
            radius_mm / lean_rad.cos() - over_mm * lean_rad.tan()
        } else {
            (radius_mm * radius_mm - over_mm * over_mm).max(0.0).sqrt()
        }
    }

    /// The largest half-diameter from the tip up to a height: what has to pass for the tip to reach that deep.
    pub fn widest_up_to_mm(&self, height_mm: f64) -> f64 {
        let widest_at_mm = match self.kind {
            HeadKind::Ball | HeadKind::Football | HeadKind::Wheel => 0.5 * self.length_mm,
            HeadKind::Flame => self.nose_mm,
            HeadKind::Pear => 0.5 * self.diameter_mm,
            _ => self.length_mm,
        };
        self.radius_at_mm(height_mm.clamp(0.0, widest_at_mm))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::head::Dimensions;

    fn given(diameter_mm: f64, length_mm: f64) -> Dimensions {
        Dimensions { diameter_mm, length_mm: Some(length_mm), ..Dimensions::default() }
    }

    #[test]
    fn outlines_have_no_step() {
        let heads = [
            Head::new(HeadKind::Ball, &Dimensions { diameter_mm: 1.0, ..Dimensions::default() }),
            Head::new(HeadKind::Wheel, &Dimensions { corner_radius_mm: Some(0.4), ..given(3.5, 1.5) }),
            Head::new(HeadKind::RoundCylinder, &given(1.2, 8.0)),
            Head::new(
                HeadKind::FlatCone,
                &Dimensions { corner_radius_mm: Some(0.3), tip_diameter_mm: Some(1.0), ..given(1.6, 8.0) },
            ),
            Head::new(HeadKind::RoundCone, &Dimensions { tip_diameter_mm: Some(1.0), ..given(1.6, 8.0) }),
            Head::new(HeadKind::PointedCone, &Dimensions { tip_diameter_mm: Some(0.0), ..given(1.0, 8.0) }),
            Head::new(HeadKind::Torpedo, &Dimensions { nose_mm: Some(1.5), ..given(1.2, 8.0) }),
            Head::new(HeadKind::Flame, &given(1.4, 5.0)),
            Head::new(HeadKind::Football, &given(2.3, 4.0)),
            Head::new(HeadKind::Pear, &Dimensions { neck_diameter_mm: Some(0.8), ..given(1.2, 3.0) }),
        ];
        for head in heads {
            let head = head.unwrap();
            let n_steps = 20_000;
            let at_mm = |k: u32| head.radius_at_mm(head.length_mm() * f64::from(k) / f64::from(n_steps));
            let mut greatest_mm: f64 = at_mm(0);
            for k in 1..=n_steps {
                greatest_mm = greatest_mm.max(at_mm(k));
                // The steepest place is the tip of a ball: √(2 R h) over the first step.
                let most_mm = (2.0 * head.diameter_mm() * head.length_mm() / f64::from(n_steps)).sqrt() * 2.5;
                assert!((at_mm(k) - at_mm(k - 1)).abs() < most_mm, "{head:?} at {k}");
            }
            assert!((2.0 * greatest_mm - head.diameter_mm()).abs() < 1e-6, "{head:?}: {greatest_mm}");
            assert!((head.widest_up_to_mm(head.length_mm()) - greatest_mm).abs() < 1e-6, "{head:?}");
        }
    }
}
