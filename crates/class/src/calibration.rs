//! Which attempts to calibrate examiners with: those of which it is known what they deserve, spread over all levels.

use std::collections::{BTreeMap, BTreeSet};

use crate::error::at_least;
use crate::stats::random::Random;
use crate::{Measured, Refusal};

/// Proposes `n` of the attempts in `known`, in random order, so that every level of every criterion occurs about equally often.
///
/// One attempt is taken after the other: the one whose known levels are so far the rarest among those taken, each level of each criterion
/// counting 1 / (1 + times taken); of equal ones that which comes first in a random order. Values between two levels count as the nearer. An
/// attempt of which more criteria are known goes before one of which less is known. Equal input gives equal proposals. No source; a choice of
/// engineering.
///
/// # Errors
/// [`Refusal::TooFew`] if fewer than `n` attempts are known, or `n` is 0.
pub fn propose(known: &[Measured], n: u32, seed: u64) -> Result<Vec<String>, Refusal> {
    let mut attempts: BTreeMap<&str, BTreeSet<(&str, i64)>> = BTreeMap::new();
    for one in known {
        attempts.entry(&one.attempt).or_default().insert((&one.criterion, one.value.round() as i64));
    }
    at_least("attempts whose readings are known", attempts.len(), n.max(1))?;
    let mut left: Vec<(&str, BTreeSet<(&str, i64)>)> = attempts.into_iter().collect();
    Random::new(seed).shuffle(&mut left);
    let mut taken: BTreeMap<(&str, i64), u32> = BTreeMap::new();
    let mut chosen = Vec::new();
    while chosen.len() < n as usize {
        let gain = |levels: &BTreeSet<(&str, i64)>| -> f64 {
            levels.iter().map(|level| 1.0 / (1.0 + f64::from(taken.get(level).copied().unwrap_or(0)))).sum()
        };
        let gains: Vec<f64> = left.iter().map(|(_, levels)| gain(levels)).collect();
        let best =
            (1..left.len()).fold(0, |best, place| if gains[best] < gains[place] { place } else { best });
        let (attempt, levels) = left.remove(best);
        for level in levels {
            *taken.entry(level).or_default() += 1;
        }
        chosen.push(attempt.to_owned());
    }
    Ok(chosen)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Thirty attempts on two criteria: level 2 nearly everywhere, as in a class that has learnt it.
    fn known() -> Vec<Measured> {
        let one = |attempt: usize, criterion: &str, value| Measured {
            attempt: format!("Q{attempt:02}"),
            criterion: criterion.into(),
            value,
        };
        let mut known = Vec::new();
        for attempt in 0..30 {
            known.push(one(attempt, "taper", [0.0, 0.0, 1.0, 1.0].get(attempt).copied().unwrap_or(2.0)));
            if attempt != 9 {
                known.push(one(attempt, "finish", if (20..23).contains(&attempt) { 0.0 } else { 2.0 }));
            }
        }
        known
    }

    #[test]
    fn rare_levels_are_all_there_and_common_ones_not_more_than_needed() {
        let chosen = propose(&known(), 8, 1).unwrap();
        assert_eq!(chosen.len(), 8);
        assert_eq!(chosen.iter().collect::<BTreeSet<_>>().len(), 8);
        for rare in ["Q00", "Q01", "Q02", "Q03", "Q20", "Q21", "Q22"] {
            assert!(chosen.iter().any(|attempt| attempt == rare), "{rare} not in {chosen:?}");
        }
        assert!(!chosen.contains(&"Q09".to_owned()), "less is known of it than of others that are alike");
    }

    #[test]
    fn the_seed_decides_between_equals_and_the_order_of_what_is_known_does_not() {
        let mut reversed = known();
        reversed.reverse();
        assert_eq!(propose(&known(), 12, 7), propose(&reversed, 12, 7));
        assert_ne!(propose(&known(), 12, 7), propose(&known(), 12, 8));
    }

    #[test]
    fn more_than_are_known_are_not_proposed() {
        let refused = |n, of| Err(Refusal::TooFew { of: "attempts whose readings are known", n, least: of });
        assert_eq!(propose(&known(), 31, 1), refused(30, 31));
        assert_eq!(propose(&[], 0, 1), refused(0, 1));
    }
}
