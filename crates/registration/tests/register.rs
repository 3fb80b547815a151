//! Registration of arches of our own, whose true pose is known.

mod common;

use common::{Arch, Random, Scan, mirrored, surface};
use kerfwright_geometry::Surface;
use kerfwright_registration::{Options, Registration, RegistrationError, register};
use nalgebra::{Isometry3, Point3};

/// The contract: within 10 µm at the prepared tooth and 0.05°.
const TOLERANCE_MM: f64 = 0.010;
const TOLERANCE_DEG: f64 = 0.05;

struct Case {
    fixed: Surface,
    moving: Surface,
    /// The truth.
    fixed_from_moving: Isometry3<f64>,
    /// A place on the cut tooth, fixed frame.
    tooth: Point3<f64>,
}

impl Case {
    fn new(before: &Arch, before_scan: Scan, after: &Arch, after_scan: Scan, seed: u64) -> Self {
        let mut random = Random(seed);
        let (fixed_from_arch, moving_from_arch) = (random.pose(), random.pose());
        Self {
            fixed: surface(&before.scan(before_scan), &fixed_from_arch),
            moving: surface(&after.scan(after_scan), &moving_from_arch),
            fixed_from_moving: fixed_from_arch * moving_from_arch.inverse(),
            tooth: fixed_from_arch * before.place(before.teeth[1].along_mm, 0.0),
        }
    }

    fn register(&self) -> Result<Registration, RegistrationError> {
        register(&self.fixed, &self.moving, &Options::default())
    }

    /// Error at the tooth, mm, and of the turn, degrees.
    fn errors(&self, found: &Registration) -> (f64, f64) {
        let there = found.fixed_from_moving * (self.fixed_from_moving.inverse() * self.tooth);
        let turn = found.fixed_from_moving.rotation.angle_to(&self.fixed_from_moving.rotation);
        ((there - self.tooth).norm(), turn.to_degrees())
    }

    fn expect_right(&self, what: &str) -> Registration {
        let found = self.register().unwrap_or_else(|error| panic!("{what}: {error}"));
        let (place_mm, turn_deg) = self.errors(&found);
        assert!(place_mm < TOLERANCE_MM, "{what}: {place_mm} mm off at the tooth");
        assert!(turn_deg < TOLERANCE_DEG, "{what}: {turn_deg}° off");
        found
    }
}

fn scan(seed: u64) -> Scan {
    Scan { seed, ..Scan::default() }
}

#[test]
fn any_pose_is_found() {
    for seed in 1..=8 {
        let arch = Arch::new(seed);
        let case = Case::new(&arch, scan(1), &arch.clone().cut(1), scan(2), seed);
        let found = case.expect_right(&format!("seed {seed}"));
        assert!(60.0 < found.moving.explained_pct, "{:?}", found.moving);
    }
}

/// Where features lead nowhere, poses are tried all over; that must find what features find.
#[test]
fn any_pose_is_found_without_features() {
    let options = Options { ignore_features: true, ..Options::default() };
    for seed in 1..=3 {
        let arch = Arch::new(seed);
        let case = Case::new(&arch, scan(1), &arch.clone().cut(1), scan(2), seed);
        let found = register(&case.fixed, &case.moving, &options).unwrap();
        let (place_mm, turn_deg) = case.errors(&found);
        assert!(
            place_mm < TOLERANCE_MM && turn_deg < TOLERANCE_DEG,
            "seed {seed}: {place_mm} mm, {turn_deg}°"
        );
        // Another arch stays refused.
        let other = Case::new(&Arch::new(seed + 10), scan(1), &arch.cut(1), scan(2), seed);
        assert!(
            register(&other.fixed, &other.moving, &options).is_err(),
            "seed {seed}: another arch is found"
        );
    }
}

#[test]
fn a_scan_turned_right_round_is_found() {
    let arch = Arch::new(3);
    let mut case = Case::new(&arch, scan(1), &arch.clone().cut(1), scan(2), 5);
    let turn = Isometry3::rotation(nalgebra::Vector3::z() * std::f64::consts::PI);
    case.moving = Surface::new(case.moving.mesh.transformed(&turn));
    case.fixed_from_moving *= turn.inverse();
    case.expect_right("turned");
}

#[test]
fn part_of_an_arch_is_found_on_the_whole_and_the_whole_on_a_part() {
    for seed in 1..=4 {
        let arch = Arch::new(seed);
        let part = Scan { from_mm: -20.0, to_mm: 6.0, ..scan(2) };
        Case::new(&arch, scan(1), &arch.clone().cut(1), part, seed).expect_right("part on whole");
        Case::new(&arch, part, &arch.clone().cut(1), scan(1), seed).expect_right("whole on part");
        let other = Scan { from_mm: -15.0, to_mm: 20.0, ..scan(3) };
        Case::new(&arch, part, &arch.clone().cut(1), other, seed).expect_right("part on another part");
    }
}

#[test]
fn two_cut_teeth_of_four_do_not_pull_the_pose() {
    for seed in 1..=4 {
        let arch = Arch::new(seed);
        let case = Case::new(&arch, scan(1), &arch.clone().cut(1).cut(3), scan(2), seed);
        case.expect_right(&format!("seed {seed}"));
    }
}

#[test]
fn swollen_gingiva_does_not_pull_the_pose() {
    let before = Arch::new(2);
    let mut after = before.clone().cut(1);
    after.swelling_mm = 0.1;
    Case::new(&before, scan(1), &after, scan(2), 4).expect_right("swollen");
}

#[test]
fn a_mirrored_scan_is_called_mirrored() {
    for seed in 1..=3 {
        let arch = Arch::new(seed);
        let mut case = Case::new(&arch, scan(1), &arch.clone().cut(1), scan(2), seed);
        case.moving = Surface::new(mirrored(&case.moving.mesh));
        assert!(matches!(case.register(), Err(RegistrationError::Mirrored { .. })), "{:?}", case.register());
    }
}

#[test]
fn another_arch_is_refused() {
    for seed in 1..=3 {
        let case = Case::new(&Arch::new(seed), scan(1), &Arch::new(seed + 50), scan(2), seed);
        assert!(
            matches!(case.register(), Err(RegistrationError::NotTheSame { .. })),
            "{:?}",
            case.register()
        );
    }
}

#[test]
fn a_row_of_like_teeth_is_ambiguous_and_said_to_be() {
    let mut row = Arch::new(4);
    (row.radius_mm, row.waves_mm) = (1e5, 0.0);
    let model = row.teeth[0].clone();
    let pitch = 2.0 * model.half_mm[0] + 0.3;
    row.teeth =
        (0..5).map(|k| common::Tooth { along_mm: (k as f64 - 2.0) * pitch, ..model.clone() }).collect();
    let whole = Scan { from_mm: -2.5 * pitch, to_mm: 2.5 * pitch, ..scan(1) };
    let part = Scan { from_mm: -1.5 * pitch, to_mm: 1.5 * pitch, ..scan(2) };
    let case = Case::new(&row, whole, &row, part, 6);
    assert!(matches!(case.register(), Err(RegistrationError::Ambiguous { .. })), "{:?}", case.register());
}

#[test]
fn scans_that_share_half_a_tooth_are_refused() {
    let arch = Arch::new(5);
    let left = Scan { to_mm: -3.0, ..scan(1) };
    let right = Scan { from_mm: -7.0, ..scan(2) };
    let found = Case::new(&arch, left, &arch, right, 3).register();
    assert!(
        matches!(
            found,
            Err(RegistrationError::TooLittleOverlap { .. } | RegistrationError::NotTheSame { .. })
        ),
        "{found:?}"
    );
}

#[test]
fn exchanging_the_scans_inverts_the_pose() {
    let arch = Arch::new(6);
    let case = Case::new(&arch, scan(1), &arch.clone().cut(1), scan(2), 2);
    let forth = case.register().unwrap();
    let back = register(&case.moving, &case.fixed, &Options::default()).unwrap();
    let both = forth.fixed_from_moving * back.fixed_from_moving;
    assert!((both * case.tooth - case.tooth).norm() < 1e-9);
    let in_moving = forth.fixed_from_moving.inverse() * case.tooth;
    let (here_mm, there_mm) = (forth.uncertainty.at_mm(&case.tooth), back.uncertainty.at_mm(&in_moving));
    assert!((here_mm - there_mm).abs() < 1e-9, "{here_mm} {there_mm}");
}

#[test]
fn the_number_of_threads_changes_no_bit() {
    let arch = Arch::new(7);
    let case = Case::new(&arch, scan(1), &arch.clone().cut(1), scan(2), 2);
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| case.register().unwrap())
    };
    let one = with(1);
    assert_eq!(one, with(2));
    assert_eq!(one, with(7));
}

#[test]
fn the_residual_is_the_noise_of_both_scans() {
    let arch = Arch::new(8);
    for noise_mm in [0.005, 0.020] {
        let noisy = |seed| Scan { noise_mm, ..scan(seed) };
        let found = Case::new(&arch, noisy(1), &arch.clone().cut(1), noisy(2), 2).expect_right("noisy");
        // One vertex against a plane through three: its own noise, and of the triangle's at least a third.
        let (least, most) = (noise_mm * 1e3, noise_mm * 1e3 * 2f64.sqrt() * 1.25);
        assert!((least..most).contains(&found.residual_um), "{} of {noise_mm}", found.residual_um);
    }
}

#[test]
fn the_stated_uncertainty_is_what_repeated_scans_scatter() {
    let arch = Arch::new(9);
    let (mut place, mut turn, mut count) = (0.0, 0.0, 0.0);
    let fine = |seed| Scan { edge_mm: 0.15, to_mm: 2.0, ..scan(seed) };
    for seed in 1..=16 {
        let case = Case::new(&arch, fine(2 * seed), &arch.clone().cut(1), fine(2 * seed + 1), seed);
        let found = case.register().unwrap();
        let (place_mm, turn_deg) = case.errors(&found);
        place += (place_mm / found.uncertainty.at_mm(&case.tooth)).powi(2);
        turn += (turn_deg / found.uncertainty.turn_deg()).powi(2);
        count += 1.0;
    }
    // The mean square of error over uncertainty is 1; with about 3 degrees of freedom in each of 16 repeats its
    // standard deviation is 0.2. The lower bound lets the uncertainty be too careful by what faceting leaves.
    let (place, turn) = (place / count, turn / count);
    assert!((0.35..1.6).contains(&place), "place {place}");
    assert!((0.35..1.6).contains(&turn), "turn {turn}");
}

#[test]
fn weights_that_do_not_fit_are_refused() {
    let arch = Arch::new(1);
    let case = Case::new(&arch, scan(1), &arch, scan(2), 1);
    let options = Options { moving_weights: Some(vec![1.0; 3]), ..Options::default() };
    let found = register(&case.fixed, &case.moving, &options);
    assert!(matches!(found, Err(RegistrationError::Weights { which: "moving", given: 3, .. })), "{found:?}");
}

#[test]
fn an_empty_scan_is_refused() {
    let arch = Arch::new(1);
    let case = Case::new(&arch, scan(1), &arch, scan(2), 1);
    let empty = Surface::new(kerfwright_mesh::Mesh::default());
    let found = register(&case.fixed, &empty, &Options::default());
    assert!(matches!(found, Err(RegistrationError::TooSmall { which: "moving", .. })), "{found:?}");
}
