//! Worked examples as published, to their printed digits. Each names its source in `docs/sources.md`.

use kerfwright_class::agreement::{
    CrossTable, MeanSquares, Model, Scale, Unit, Weights, Width, alpha, bland_altman, fleiss_kappa, icc,
    kappa, repeatability,
};
use kerfwright_class::{Settings, wilson};

/// Six targets, four judges (`docs/sources.md#shrout-and-fleiss-1979`).
const TARGETS: [[f64; 4]; 6] = [
    [9.0, 2.0, 5.0, 8.0],
    [6.0, 1.0, 3.0, 2.0],
    [8.0, 4.0, 6.0, 8.0],
    [7.0, 1.0, 2.0, 6.0],
    [10.0, 5.0, 6.0, 9.0],
    [6.0, 2.0, 4.0, 7.0],
];

/// Peak flow of 17 persons, twice by either of two meters (`docs/sources.md#bland-and-altman-1986`).
const WRIGHT: [[f64; 17]; 2] = [
    [
        494.0, 395.0, 516.0, 434.0, 476.0, 557.0, 413.0, 442.0, 650.0, 433.0, 417.0, 656.0, 267.0, 478.0,
        178.0, 423.0, 427.0,
    ],
    [
        490.0, 397.0, 512.0, 401.0, 470.0, 611.0, 415.0, 431.0, 638.0, 429.0, 420.0, 633.0, 275.0, 492.0,
        165.0, 372.0, 421.0,
    ],
];
const MINI: [[f64; 17]; 2] = [
    [
        512.0, 430.0, 520.0, 428.0, 500.0, 600.0, 364.0, 380.0, 658.0, 445.0, 432.0, 626.0, 260.0, 477.0,
        259.0, 350.0, 451.0,
    ],
    [
        525.0, 415.0, 508.0, 444.0, 500.0, 625.0, 460.0, 390.0, 642.0, 432.0, 420.0, 605.0, 227.0, 467.0,
        268.0, 370.0, 443.0,
    ],
];

/// Half of the last printed digit.
fn assert_printed(value: f64, printed: f64, digits: i32, what: &str) {
    let half = 0.5 * 10.0_f64.powi(-digits) * (1.0 + 1e-9);
    assert!((value - printed).abs() <= half, "{what}: {value}, printed {printed}");
}

fn rows(values: &[[f64; 4]]) -> Vec<Vec<f64>> {
    values.iter().map(|row| row.to_vec()).collect()
}

fn table(counts: [[u32; 3]; 3]) -> CrossTable {
    CrossTable::from_counts(counts.iter().map(|row| row.to_vec()).collect()).unwrap()
}

fn weights(values: [[f64; 3]; 3]) -> Vec<Vec<f64>> {
    values.iter().map(|row| row.to_vec()).collect()
}

/// `docs/sources.md#shrout-and-fleiss-1979`: two digits printed, five derived from the formulas.
#[test]
fn shrout_and_fleiss_1979() {
    let rows = rows(&TARGETS);
    let squares = MeanSquares::of(&rows).unwrap();
    assert_printed(squares.between, 11.24167, 5, "between targets");
    assert_printed(squares.within, 6.26389, 5, "within targets");
    assert_printed(squares.judges, 32.48611, 5, "between judges");
    assert_printed(squares.error, 1.01944, 5, "residual");
    for (model, unit, printed, derived) in [
        (Model::OneWay, Unit::Single, 0.17, 0.16574),
        (Model::TwoWayRandom, Unit::Single, 0.29, 0.28976),
        (Model::TwoWayMixed, Unit::Single, 0.71, 0.71484),
        (Model::OneWay, Unit::Average, 0.44, 0.44280),
        (Model::TwoWayRandom, Unit::Average, 0.62, 0.62005),
        (Model::TwoWayMixed, Unit::Average, 0.91, 0.90932),
    ] {
        let estimate = icc(&rows, model, unit, &Settings::default()).unwrap();
        assert_printed(estimate.value, printed, 2, estimate.method);
        assert_printed(estimate.value, derived, 5, estimate.method);
        assert_eq!(estimate.n, 6);
    }
}

/// `docs/sources.md#cohen-1968`: three digits printed, four derived.
#[test]
fn cohen_1968() {
    let table = table([[88, 14, 18], [10, 40, 10], [2, 6, 12]]);
    let of = |weights: Weights| kappa(&table, &weights, &Settings::default()).unwrap().kappa.value;
    let symmetric = weights([[0.0, 1.0, 3.0], [1.0, 0.0, 6.0], [3.0, 6.0, 0.0]]);
    let skew = weights([[0.0, 1.0, 4.0], [1.0, 0.0, 6.0], [2.0, 2.0, 0.0]]);
    assert_printed(of(Weights::Nominal), 0.492, 3, "plain");
    assert_printed(of(Weights::Nominal), 0.4915, 4, "plain");
    assert_printed(of(Weights::Disagreement(symmetric.clone())), 0.348, 3, "weighted");
    assert_printed(of(Weights::Disagreement(symmetric)), 0.3478, 4, "weighted");
    assert_printed(of(Weights::Disagreement(skew.clone())), 0.353, 3, "weights without symmetry");
    assert_printed(of(Weights::Disagreement(skew)), 0.3534, 4, "weights without symmetry");
    assert_printed(of(Weights::Linear), 0.4737, 4, "linear");
    assert_printed(of(Weights::Quadratic), 0.4545, 4, "quadratic");
}

/// `docs/sources.md#fleiss-cohen-and-everitt-1969`.
#[test]
fn fleiss_cohen_and_everitt_1969() {
    let table = table([[106, 10, 4], [22, 28, 10], [2, 12, 6]]);
    let similarity = weights([[1.0, 0.0, 0.4444], [0.0, 1.0, 0.6667], [0.4444, 0.6667, 1.0]]);
    let of = |weights: Weights| kappa(&table, &weights, &Settings::default()).unwrap().kappa.value;
    assert_printed(of(Weights::Nominal), 0.4286, 4, "plain");
    assert_printed(of(Weights::Similarity(similarity)), 0.5071, 4, "weighted");
}

/// `docs/sources.md#fleiss-kappa-example`.
#[test]
fn fleiss_kappa_of_fourteen_raters() {
    let counts = [
        [0, 0, 0, 0, 14],
        [0, 2, 6, 4, 2],
        [0, 0, 3, 5, 6],
        [0, 3, 9, 2, 0],
        [2, 2, 8, 1, 1],
        [7, 7, 0, 0, 0],
        [3, 2, 6, 3, 0],
        [2, 5, 3, 2, 2],
        [6, 5, 2, 1, 0],
        [0, 2, 2, 3, 7],
    ];
    let counts: Vec<Vec<u32>> = counts.iter().map(|row| row.to_vec()).collect();
    let result = fleiss_kappa(&counts, &Settings::default()).unwrap();
    assert_printed(result.observed, 0.3780, 4, "observed");
    assert_printed(result.expected, 0.2128, 4, "expected");
    assert_printed(result.kappa.value, 0.2099, 4, "kappa");
    assert_eq!((result.raters, result.kappa.n), (14, 10));
    let interval = result.kappa.interval.unwrap();
    assert!(interval.low < result.kappa.value && result.kappa.value < interval.high);
}

/// `docs/sources.md#krippendorff-2011`: three digits printed, four derived.
#[test]
fn krippendorff_2011() {
    let observers = [
        "1 2 3 3 2 1 4 1 2 . . .",
        "1 2 3 3 2 2 4 1 2 5 . 3",
        ". 3 3 3 2 3 4 2 2 5 1 .",
        "1 2 3 3 2 4 4 1 2 5 1 .",
    ]
    .map(|line| line.split(' ').map(|word| word.parse::<f64>().ok()).collect::<Vec<Option<f64>>>());
    let rows: Vec<Vec<Option<f64>>> =
        (0..12).map(|unit| observers.iter().map(|observer| observer[unit]).collect()).collect();
    for (scale, printed, derived) in [
        (Scale::Nominal, 0.743, 0.7434),
        (Scale::Ordinal, 0.815, 0.8154),
        (Scale::Interval, 0.849, 0.8491),
        (Scale::Ratio, 0.797, 0.7974),
    ] {
        let estimate = alpha(&rows, scale, &Settings::default()).unwrap();
        assert_printed(estimate.value, printed, 3, estimate.method);
        assert_printed(estimate.value, derived, 4, estimate.method);
        assert_eq!(estimate.n, 11, "the unit that one observer rated says nothing");
    }
}

/// `docs/sources.md#bland-and-altman-1986`.
#[test]
fn bland_and_altman_1986() {
    let with = |width| bland_altman(&WRIGHT[0], &MINI[0], width, &Settings::default()).unwrap();
    let two = with(Width::Two);
    assert_printed(two.bias.value, -2.1176, 4, "bias");
    assert_printed(two.deviation, 38.7651, 4, "standard deviation");
    assert_printed(two.lower_limit.value, -79.65, 2, "lower limit");
    assert_printed(two.upper_limit.value, 75.41, 2, "upper limit");
    assert_printed(two.bias_error, 9.402, 3, "error of the bias");
    assert_printed(two.limit_error, 16.285, 3, "error of a limit");
    assert_printed(two.correlation.unwrap(), 0.9433, 4, "correlation");
    let normal = with(Width::Normal);
    assert_printed(normal.lower_limit.value, -78.10, 2, "lower limit");
    assert_printed(normal.upper_limit.value, 73.86, 2, "upper limit");
}

/// `docs/sources.md#bland-and-altman-1986`, the repeats of either meter.
#[test]
fn bland_and_altman_1986_repeats() {
    for (meter, within, coefficient) in [(WRIGHT, 15.307, 43.29), (MINI, 19.911, 56.32)] {
        let repeats: Vec<Vec<f64>> = (0..17).map(|person| vec![meter[0][person], meter[1][person]]).collect();
        let result = repeatability(&repeats, &Settings::default()).unwrap();
        assert_printed(result.within.value, within, 3, "within");
        assert_printed(result.repeatability_1986, coefficient, 2, "twice the root mean square");
        assert_eq!(result.freedom, 17);
    }
}

/// `docs/sources.md#newcombe-1998`: four digits, which a reference library gives likewise.
#[test]
fn newcombe_1998() {
    for (hits, n, low, high) in
        [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)]
    {
        let interval = wilson(hits, n, &Settings::default()).unwrap().interval.unwrap();
        assert_printed(interval.low, low, 4, "low");
        assert_printed(interval.high, high, 4, "high");
    }
}
