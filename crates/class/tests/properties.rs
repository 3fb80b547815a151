//! Laws that hold for any ratings.

use kerfwright_class::agreement::{
    CrossTable, Model, Scale, Unit, Weights, Width, alpha, bland_altman, icc, kappa, repeatability,
};
use kerfwright_class::cohort::compare;
use kerfwright_class::items::{Item, items};
use kerfwright_class::learner::theil_sen;
use kerfwright_class::{Refusal, Settings, wilson};
use proptest::prelude::*;

const SETTINGS: Settings = Settings { confidence: 0.95, draws: 100, seed: 3 };

const MODELS: [Model; 3] = [Model::OneWay, Model::TwoWayRandom, Model::TwoWayMixed];

fn level() -> impl Strategy<Value = f64> {
    (0_u8..5).prop_map(f64::from)
}

/// Attempts × examiners.
fn table() -> impl Strategy<Value = Vec<Vec<f64>>> {
    (6_usize..15, 2_usize..5)
        .prop_flat_map(|(n, k)| prop::collection::vec(prop::collection::vec(level(), k), n))
}

fn some(rows: &[Vec<f64>]) -> Vec<Vec<Option<f64>>> {
    rows.iter().map(|row| row.iter().copied().map(Some).collect()).collect()
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * (1.0 + a.abs().max(b.abs()))
}

/// Equal values, or both refused.
fn same<T, E>(a: &Result<T, E>, b: &Result<T, E>, value: impl Fn(&T) -> f64) -> bool {
    match (a, b) {
        (Ok(a), Ok(b)) => close(value(a), value(b)),
        (a, b) => a.is_err() && b.is_err(),
    }
}

proptest! {
    // No file of failures: a case that failed becomes a test of its own.
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn kappa_does_not_know_who_is_first(pairs in prop::collection::vec((level(), level()), 5..40)) {
        let (first, second): (Vec<f64>, Vec<f64>) = pairs.into_iter().unzip();
        let one = CrossTable::of(&first, &second).unwrap();
        let other = CrossTable::of(&second, &first).unwrap();
        for weights in [Weights::Nominal, Weights::Linear, Weights::Quadratic] {
            let (one, other) = (kappa(&one, &weights, &SETTINGS), kappa(&other, &weights, &SETTINGS));
            prop_assert!(same(&one, &other, |kappa| kappa.kappa.value));
            prop_assert!(same(&one, &other, |kappa| kappa.standard_error.unwrap_or(-1.0)));
            if let Ok(kappa) = one {
                prop_assert!((-1.0..=1.0 + 1e-12).contains(&kappa.kappa.value));
            }
        }
    }

    #[test]
    fn two_levels_need_no_weights(pairs in prop::collection::vec((0_u8..2, 0_u8..2), 5..40)) {
        let (first, second): (Vec<f64>, Vec<f64>) =
            pairs.into_iter().map(|(a, b)| (f64::from(a), f64::from(b))).unzip();
        let table = CrossTable::of(&first, &second).unwrap();
        let of = |weights| kappa(&table, &weights, &SETTINGS);
        prop_assert!(same(&of(Weights::Nominal), &of(Weights::Linear), |kappa| kappa.kappa.value));
        prop_assert!(same(&of(Weights::Nominal), &of(Weights::Quadratic), |kappa| kappa.kappa.value));
    }

    #[test]
    fn full_agreement_is_one(values in prop::collection::vec(level(), 6..20), k in 2_usize..5) {
        prop_assume!(values.iter().any(|&value| value != values[0]));
        let rows: Vec<Vec<f64>> = values.iter().map(|&value| vec![value; k]).collect();
        for scale in [Scale::Nominal, Scale::Ordinal, Scale::Interval, Scale::Ratio] {
            let alpha = alpha(&some(&rows), scale, &SETTINGS).unwrap();
            prop_assert!(close(alpha.value, 1.0) && alpha.interval.is_none());
        }
        for model in MODELS {
            prop_assert!(close(icc(&rows, model, Unit::Single, &SETTINGS).unwrap().value, 1.0));
        }
        let table = CrossTable::of(&values, &values).unwrap();
        prop_assert!(close(kappa(&table, &Weights::Linear, &SETTINGS).unwrap().kappa.value, 1.0));
    }

    #[test]
    fn alpha_does_not_know_who_rated(rows in table(), turn in 1_usize..4) {
        let turned: Vec<Vec<f64>> = rows.iter().enumerate().map(|(index, row)| {
            let mut row = row.clone();
            let n = row.len();
            row.rotate_left((turn + index) % n);
            row
        }).collect();
        for scale in [Scale::Nominal, Scale::Ordinal, Scale::Interval, Scale::Ratio] {
            let (one, other) = (alpha(&some(&rows), scale, &SETTINGS), alpha(&some(&turned), scale, &SETTINGS));
            prop_assert!(same(&one, &other, |alpha| alpha.value));
        }
    }

    /// Names may be anything, ranks any rising numbers, intervals any unit and zero, ratios any unit.
    #[test]
    fn alpha_keeps_what_its_scale_allows(rows in table(), unit in 0.1_f64..10.0, zero in 0.0_f64..5.0) {
        let under = |change: &dyn Fn(f64) -> f64| -> Vec<Vec<Option<f64>>> {
            some(&rows.iter().map(|row| row.iter().map(|&value| change(value)).collect()).collect::<Vec<Vec<f64>>>())
        };
        for (scale, changed) in [
            (Scale::Nominal, under(&|value| (value * 7.0) % 5.0)),
            (Scale::Ordinal, under(&|value| value.exp())),
            (Scale::Interval, under(&|value| value * unit + zero)),
            (Scale::Ratio, under(&|value| value * unit)),
        ] {
            let (one, other) = (alpha(&some(&rows), scale, &SETTINGS), alpha(&changed, scale, &SETTINGS));
            prop_assert!(same(&one, &other, |alpha| alpha.value), "{scale:?}");
        }
    }

    /// Consistency does not mind that one examiner is severe; no model minds another unit or zero for all.
    #[test]
    fn correlations_keep_what_their_model_allows(
        rows in table(), severe in -3.0_f64..3.0, unit in 0.1_f64..10.0, zero in -5.0_f64..5.0,
    ) {
        let mut shifted = rows.clone();
        shifted.iter_mut().for_each(|row| row[0] += severe);
        let rescaled: Vec<Vec<f64>> =
            rows.iter().map(|row| row.iter().map(|value| value * unit + zero).collect()).collect();
        for each in [Unit::Single, Unit::Average] {
            let of = |rows: &[Vec<f64>], model| icc(rows, model, each, &SETTINGS);
            if let Ok(mixed) = of(&rows, Model::TwoWayMixed) {
                // Where attempts barely differ the mean's correlation runs to minus infinity, and rounding with it.
                prop_assume!(mixed.value > -20.0);
                prop_assert!((of(&shifted, Model::TwoWayMixed).unwrap().value - mixed.value).abs() < 1e-6);
            }
            for model in MODELS {
                if let (Ok(one), Ok(other)) = (of(&rows, model), of(&rescaled, model)) {
                    prop_assume!(one.value > -20.0);
                    prop_assert!((one.value - other.value).abs() < 1e-6, "{model:?}");
                }
            }
        }
    }

    #[test]
    fn the_interval_holds_its_estimate(rows in table()) {
        for model in MODELS {
            for unit in [Unit::Single, Unit::Average] {
                if let Ok(estimate) = icc(&rows, model, unit, &SETTINGS)
                    && let Some(interval) = estimate.interval
                {
                    prop_assert!(estimate.value <= 1.0 + 1e-12 && interval.high <= 1.0 + 1e-12, "{estimate:?}");
                    prop_assert!(interval.low <= estimate.value && estimate.value <= interval.high, "{estimate:?}");
                }
            }
        }
    }

    /// The two are one formula.
    #[test]
    fn cronbachs_alpha_is_the_mixed_correlation_of_means(rows in table()) {
        let names: Vec<Item> = (0..rows[0].len()).map(|i| Item { name: format!("C{i}"), most: 4.0 }).collect();
        let report = items(&some(&rows), &names, &SETTINGS).unwrap();
        let mixed = icc(&rows, Model::TwoWayMixed, Unit::Average, &SETTINGS);
        if let (Some(alpha), Ok(mixed)) = (report.reliability.given(), mixed) {
            prop_assert!(close(alpha.value, mixed.value), "{} {}", alpha.value, mixed.value);
            if let (Some(a), Some(b)) = (alpha.interval, mixed.interval) {
                prop_assert!((a.low - b.low).abs() < 1e-6 * (1.0 + a.low.abs()) && (a.high - b.high).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn exchanging_two_methods_turns_the_bias_round(
        pairs in prop::collection::vec((0.0_f64..3.0, 0.0_f64..3.0), 3..30), shift in -2.0_f64..2.0,
    ) {
        let (first, second): (Vec<f64>, Vec<f64>) = pairs.into_iter().unzip();
        let one = bland_altman(&first, &second, Width::Normal, &SETTINGS).unwrap();
        let other = bland_altman(&second, &first, Width::Normal, &SETTINGS).unwrap();
        prop_assert!(close(one.bias.value, -other.bias.value));
        prop_assert!(close(one.lower_limit.value, -other.upper_limit.value));
        let moved: Vec<f64> = first.iter().map(|value| value + shift).collect();
        let moved = bland_altman(&moved, &second, Width::Normal, &SETTINGS).unwrap();
        prop_assert!(close(moved.bias.value, one.bias.value + shift) && close(moved.deviation, one.deviation));
    }

    #[test]
    fn repeats_do_not_know_what_was_measured(
        repeats in prop::collection::vec(prop::collection::vec(0.0_f64..3.0, 2..4), 3..10), shift in -5.0_f64..5.0,
    ) {
        let moved: Vec<Vec<f64>> = repeats.iter().enumerate()
            .map(|(index, values)| values.iter().map(|value| value + shift * index as f64).collect()).collect();
        let (one, other) = (repeatability(&repeats, &SETTINGS).unwrap(), repeatability(&moved, &SETTINGS).unwrap());
        prop_assert!((one.within.value - other.within.value).abs() < 1e-9);
    }

    #[test]
    fn a_share_lies_in_its_interval(n in 1_u32..200, part in 0.0_f64..=1.0) {
        let hits = (f64::from(n) * part) as u32;
        let share = wilson(hits, n, &SETTINGS).unwrap();
        let interval = share.interval.unwrap();
        prop_assert!(0.0 <= interval.low && interval.low <= share.value + 1e-12);
        prop_assert!(share.value <= interval.high + 1e-12 && interval.high <= 1.0);
        let rest = wilson(n - hits, n, &SETTINGS).unwrap().interval.unwrap();
        prop_assert!(close(rest.low, 1.0 - interval.high));
    }

    #[test]
    fn exchanging_groups_turns_the_difference_round(
        first in prop::collection::vec(level(), 4..12), second in prop::collection::vec(level(), 4..12),
    ) {
        let (one, other) = (compare(&first, &second, &SETTINGS).unwrap(), compare(&second, &first, &SETTINGS).unwrap());
        prop_assert!(close(one.shift.value, -other.shift.value) && close(one.dominance.value, -other.dominance.value));
        match (one.test.given(), other.test.given()) {
            (Some(a), Some(b)) => prop_assert!(close(a.p, b.p) && a.p > 0.0 && a.p <= 1.0 + 1e-12),
            (a, b) => prop_assert!(a.is_none() && b.is_none()),
        }
    }

    #[test]
    fn a_slope_is_that_of_the_line_added(
        y in prop::collection::vec(0.0_f64..3.0, 3..20), slope in -2.0_f64..2.0,
    ) {
        let x: Vec<f64> = (0..y.len()).map(|index| index as f64).collect();
        let tilted: Vec<f64> = x.iter().zip(&y).map(|(x, y)| y + slope * x).collect();
        let (one, other) = (theil_sen(&x, &y, &SETTINGS).unwrap(), theil_sen(&x, &tilted, &SETTINGS).unwrap());
        prop_assert!((other.value - one.value - slope).abs() < 1e-9);
        if let (Some(one), Some(other)) = (one.interval, other.interval) {
            prop_assert!((other.low - one.low - slope).abs() < 1e-9 && (other.high - one.high - slope).abs() < 1e-9);
        }
    }
}

/// Examiners who differ less than their noise would make them, on attempts that do not differ: the mean's correlation by the
/// formula is 39.3, which is none.
#[test]
fn a_correlation_beyond_one_is_refused() {
    let rows = [[2.0, 1.0], [0.0, 4.0], [0.0, 3.0], [4.0, 0.0], [0.0, 2.0], [1.0, 1.0]];
    let rows: Vec<Vec<f64>> = rows.iter().map(|row| row.to_vec()).collect();
    let result = icc(&rows, Model::TwoWayRandom, Unit::Average, &SETTINGS);
    assert!(matches!(result, Err(Refusal::NoSpread { .. })), "{result:?}");
}
