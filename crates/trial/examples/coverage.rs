//! The longer run behind `tests/coverage.rs`, as a table for whoever calibrates the uncertainties:
//!
//!     cargo run --release -p kerfwright-trial --example coverage -- 60

use kerfwright_trial::phantoms;
use kerfwright_trial::rescan::Rescans;

fn main() {
    let n = std::env::args().nth(1).and_then(|text| text.parse().ok()).unwrap_or(60);
    for (name, phantom) in [("26 chamfer", phantoms::chamfer_26()), ("35 shoulder", phantoms::shoulder_35())]
    {
        println!("{name}, {n} rescans\n{}", Rescans::of(&phantom, n, 1000, false).table());
    }
}
