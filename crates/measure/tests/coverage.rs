//! The stated uncertainties against simulated rescans: a value lies within its u95 of the truth about 95 times of 100.
//!
//! Source of the truth: the phantom's exact surfaces (see `truth.rs` of `kerfwright-trial`). A longer run of the same, with the whole
//! table: `cargo run --release -p kerfwright-trial --example coverage -- 60`.

use kerfwright_trial::common::phantoms;
use kerfwright_trial::common::rescan::Rescans;

/// Sets of scans. Each after scan but the first is measured against two before scans: 23 measurements.
const N_SCANS: u64 = 12;

#[test]
fn u95_covers_the_truth_over_rescans() {
    let rescans = Rescans::of(&phantoms::short_arch_26(), N_SCANS, 1, true);
    println!("{}", rescans.table());
    assert!(rescans.failed.is_empty(), "{}", rescans.failed.join("\n"));
    for (id, repeated) in rescans.uncertain().filter(|(_, repeated)| repeated.coverage() < 0.8) {
        println!("too sure of itself: {id} holds {:.2} of its values within u95", repeated.coverage());
    }
    // Readings that come and go from scan to scan would make the share look better than it is.
    assert!(rescans.uncertain().all(|(_, repeated)| repeated.values.len() == rescans.n_measured));
    assert!(rescans.uncertain().count() > 50, "only {} readings state a u95", rescans.uncertain().count());
    let coverage = rescans.coverage();
    assert!(coverage >= 0.90, "only {coverage:.3} of all readings lie within their u95");
}
