//! Resistance and axial area of whole measurements on scanned round dies, against their closed forms.
//!
//! Sources: `docs/sources.md#resistance-in-a-section` (derived) for resistance, `docs/sources.md#frustum` (derived) for areas.

mod die;

use die::{Die, Floor};
use kerfwright_measure::document::Value;
use kerfwright_measure::frame::Aspect;
use kerfwright_measure::sheet::Sheet;

/// Tolerances of the contract.
const TAPER_DEG: f64 = 0.5;
const SHARE_PCT: f64 = 2.0;
const AREA_PCT: f64 = 2.0;
/// Radius of the finish line of every die.
const LINE_MM: f64 = 5.0;

/// Width of the floor, taper and height.
const DIES: [(f64, f64, f64); 5] =
    [(1.0, 6.0, 4.5), (1.0, 9.0, 4.0), (0.7, 5.0, 5.0), (0.7, 12.0, 4.5), (1.2, 8.0, 3.5)];

fn measured(width_mm: f64, taper_deg: f64, height_mm: f64, seed: u64) -> Sheet {
    let floor = |_| Floor::Flat { internal_radius_mm: 0.0 };
    Die { width_mm, taper_deg, height_mm, floor, edge_radius_mm: |_| 0.0, ..Die::default() }.measured(seed)
}

fn number(sheet: &Sheet, id: &str, extra: Option<&str>) -> f64 {
    let reading = sheet.readings.get(id).unwrap_or_else(|| panic!("{id}: {:?}", sheet.refused.get(id)));
    let value = extra.map_or(&reading.value, |extra| &reading.extras[extra]);
    match value {
        Value::Number(number) => *number,
        Value::Text(text) => panic!("{id} says {text}"),
    }
}

/// The axis lies on the finish line, the wall opposite stands on the floor's inner end.
#[test]
fn a_measured_die_resists_as_the_closed_form_says() {
    for (k, (width_mm, taper_deg, height_mm)) in DIES.into_iter().enumerate() {
        let base_mm = 2.0 * LINE_MM - width_mm;
        let (sine, cosine) = f64::to_radians(taper_deg).sin_cos();
        let share_pct = 100.0 * (1.0 - base_mm * sine * cosine / height_mm);
        let limit_deg = 0.5 * (height_mm / base_mm).asin().to_degrees();
        for seed in [10 * k as u64 + 1, 10 * k as u64 + 2] {
            let sheet = measured(width_mm, taper_deg, height_mm, seed);
            let least_deg = number(&sheet, "resistance.limiting_taper_deg", None);
            println!("{width_mm} {taper_deg} {height_mm}: least {least_deg:.2} of {limit_deg:.2}");
            for aspect in Aspect::ALL {
                let id = format!("resistance.resisting_pct.{}", aspect.id());
                let own_pct = number(&sheet, &id, None);
                let own_deg = number(&sheet, &id, Some("limiting_taper_deg"));
                println!("   {id} {own_pct:.2} of {share_pct:.2}, {own_deg:.2} of {limit_deg:.2}");
                assert!((own_pct - share_pct).abs() < SHARE_PCT, "{id} {own_pct} of {share_pct}");
                assert!((own_deg - limit_deg).abs() < TAPER_DEG, "{id} {own_deg} of {limit_deg}");
            }
            assert!((least_deg - limit_deg).abs() < TAPER_DEG, "{least_deg} of {limit_deg}");
        }
    }
}

#[test]
fn a_measured_die_has_the_lateral_area_of_its_cone() {
    for (k, (width_mm, taper_deg, height_mm)) in DIES.into_iter().enumerate() {
        let taper = f64::to_radians(taper_deg);
        let (foot_mm, top_mm) = (LINE_MM - width_mm, LINE_MM - width_mm - height_mm * taper.tan());
        let area_mm2 = std::f64::consts::PI * (foot_mm + top_mm) * height_mm / taper.cos();
        let sheet = measured(width_mm, taper_deg, height_mm, 10 * k as u64 + 1);
        let own_mm2 = number(&sheet, "retention.axial_area_mm2", None);
        println!("{width_mm} {taper_deg} {height_mm}: {own_mm2:.2} of {area_mm2:.2} mm2");
        assert!((own_mm2 / area_mm2 - 1.0).abs() < 0.01 * AREA_PCT, "{own_mm2} of {area_mm2} mm²");
    }
}
