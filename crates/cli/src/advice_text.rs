//! Advice for the terminal: numbered sentences under headings of urgency.

use std::fmt::Write;

use kerfwright_advice::{Advice, Language};

/// All of it, in the order in which it came.
pub fn render(advice: &[Advice], language: Language) -> String {
    if advice.is_empty() {
        return format!("\n{}\n", language.nothing_to_do());
    }
    let mut out = String::new();
    let mut urgency = None;
    for (place, one) in advice.iter().enumerate() {
        if urgency != Some(one.urgency) {
            // Writing to a string cannot fail.
            let _ = writeln!(out, "\n{}:", language.heading(one.urgency));
            urgency = Some(one.urgency);
        }
        let _ = writeln!(out, "{:>3}. {}", place + 1, one.sentence);
    }
    out
}
