//! No reading may fall behind what it did when the kept table was accepted.
//!
//! Source of the truth: the phantoms' exact surfaces. The whole trial, 300 sets of scans: `cargo xtask accuracy`.

use kerfwright_trial::batch::FEW;
use kerfwright_trial::kept::{KEPT, not_held, parse, worse};

#[test]
fn no_reading_got_worse() {
    let trials = FEW.run(|_| ());
    let kept = parse(KEPT).unwrap();
    assert!(kept.len() > 30, "the kept table holds only {} readings", kept.len());
    let not_held = not_held(&kept, &trials);
    if !not_held.is_empty() {
        println!("not held yet (cargo xtask accuracy --keep): {}", not_held.join(", "));
    }
    let worse = worse(&kept, &trials);
    assert!(worse.is_empty(), "{}", worse.join("\n"));
}
