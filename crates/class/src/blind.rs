//! Blind grading: codes only, a random order for each examiner, some attempts twice and far apart.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::error::at_least;
use crate::stats::random::Random;
use crate::{Rating, Refusal};

/// Random orders tried before a plain one that surely fits.
const TRIES: u32 = 200;

/// What the grading should be like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Design {
    /// Attempts that each examiner sees twice.
    pub n_repeats: u32,
    /// Least number of places between the two sights of an attempt, 1 being next to each other.
    pub least_gap: u32,
    /// Where the random numbers begin; keep it from the examiners.
    pub seed: u64,
}

/// What an examiner sees: codes in the order to grade. Neither the attempt nor whether it comes again can be read from it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Sheet {
    /// Code of the examiner.
    pub examiner: String,
    /// Code of each thing to grade, a new one for the second sight of an attempt.
    pub codes: Vec<String>,
}

/// What stays with the person in charge.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Key {
    /// Code of the examiner.
    pub examiner: String,
    /// For each code of the sheet, in its order, the attempt and which sight of it: 0 the first, 1 the second.
    pub attempts: Vec<(String, String, u32)>,
}

/// Sheet and key of each examiner, in the order given. The attempts that come twice are the same for all, so that examiners can be
/// compared on them. Equal input gives equal sheets.
///
/// # Errors
/// [`Refusal::TooFew`] without attempts or with fewer than repeats, [`Refusal::OutOfRange`] for an attempt or an examiner named twice,
/// [`Refusal::NoRoom`] where repeats cannot be so far apart.
pub fn blind(
    attempts: &[String],
    examiners: &[String],
    design: &Design,
) -> Result<Vec<(Sheet, Key)>, Refusal> {
    at_least("attempts", attempts.len(), design.n_repeats.max(1))?;
    let distinct: BTreeSet<&String> = attempts.iter().collect();
    let graders: BTreeSet<&String> = examiners.iter().collect();
    if distinct.len() != attempts.len() || graders.len() != examiners.len() {
        return Err(Refusal::OutOfRange {
            value: (attempts.len() - distinct.len() + examiners.len() - graders.len()) as f64,
            expected: "0 codes named twice",
        });
    }
    // A repeat after all others is as many places away as there are attempts.
    if design.n_repeats > 0 && design.least_gap as usize > attempts.len() {
        return Err(Refusal::NoRoom { n: attempts.len() as u32, gap: design.least_gap });
    }
    // Sorted, so that the order of the roster leaves no trace.
    let mut pool: Vec<&String> = distinct.into_iter().collect();
    Random::new(design.seed).shuffle(&mut pool);
    Ok(examiners.iter().map(|examiner| sheet(&pool, examiner, design)).collect())
}

/// The ratings that an examiner may see while grading: none of the own ones, and of the others' none either.
///
/// For the time after grading, `done` names the examiners whose sheets are closed; theirs may be shown to each other.
pub fn visible<'a>(ratings: &'a [Rating], viewer: &str, done: &[String]) -> Vec<&'a Rating> {
    let closed = |examiner: &str| done.iter().any(|name| name == examiner);
    if !closed(viewer) {
        return Vec::new();
    }
    ratings.iter().filter(|rating| closed(&rating.examiner)).collect()
}

fn sheet(pool: &[&String], examiner: &str, design: &Design) -> (Sheet, Key) {
    let mut random = Random::new(design.seed ^ hash(examiner));
    let n_repeats = design.n_repeats as usize;
    let mut order = order(pool.len(), n_repeats, design.least_gap as usize, &mut random);
    let mut seen = BTreeSet::new();
    // Codes are drawn anew for each examiner: two of them cannot compare notes.
    let mut numbers: Vec<usize> = (1..=order.len()).collect();
    random.shuffle(&mut numbers);
    let codes: Vec<String> = numbers.iter().map(|number| format!("G{number:03}")).collect();
    let entry = |(code, index): (&String, usize)| {
        let sight = u32::from(!seen.insert(index));
        (code.clone(), pool[index].clone(), sight)
    };
    let attempts = codes.iter().zip(order.drain(..)).map(entry).collect();
    (Sheet { examiner: examiner.into(), codes }, Key { examiner: examiner.into(), attempts })
}

/// An order of 0 … `n` − 1 and once more 0 … `n_repeats` − 1, equal ones at least `gap` places apart.
fn order(n: usize, n_repeats: usize, gap: usize, random: &mut Random) -> Vec<usize> {
    let mut order: Vec<usize> = (0..n).chain(0..n_repeats).collect();
    for _ in 0..TRIES {
        random.shuffle(&mut order);
        if least_gap(&order, n) >= gap {
            return order;
        }
    }
    // The repeats first and, in the same order, last: n places apart.
    let mut first: Vec<usize> = (0..n_repeats).collect();
    let mut rest: Vec<usize> = (n_repeats..n).collect();
    random.shuffle(&mut first);
    random.shuffle(&mut rest);
    first.iter().chain(&rest).chain(&first).copied().collect()
}

fn least_gap(order: &[usize], n: usize) -> usize {
    let mut last = vec![None; n];
    let mut least = usize::MAX;
    for (place, &index) in order.iter().enumerate() {
        if let Some(before) = last[index].replace(place) {
            least = least.min(place - before);
        }
    }
    least
}

/// FNV-1a: a fixed mixing of a code into a number, the same on every machine. `docs/sources.md#fnv`.
fn hash(text: &str) -> u64 {
    text.bytes()
        .fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x100_0000_01b3))
}

#[cfg(test)]
mod tests {
    use super::*;

    const DESIGN: Design = Design { n_repeats: 5, least_gap: 10, seed: 26 };

    fn codes(letter: &str, n: usize) -> Vec<String> {
        (1..=n).map(|index| format!("{letter}{index:02}")).collect()
    }

    #[test]
    fn everything_is_seen_once_and_the_repeats_twice_far_apart() {
        let sheets = blind(&codes("Q", 20), &codes("E", 3), &DESIGN).unwrap();
        let mut twice_seen = BTreeSet::new();
        for (sheet, key) in &sheets {
            assert_eq!((sheet.codes.len(), key.attempts.len()), (25, 25));
            let place =
                |attempt: &str, sight| key.attempts.iter().position(|a| a.1 == attempt && a.2 == sight);
            let twice: Vec<String> = codes("Q", 20).into_iter().filter(|q| place(q, 1).is_some()).collect();
            assert!(codes("Q", 20).iter().all(|attempt| place(attempt, 0).is_some()));
            for attempt in &twice {
                assert!(place(attempt, 1).unwrap() - place(attempt, 0).unwrap() >= 10, "{attempt}");
            }
            twice_seen.insert(twice);
        }
        assert_eq!(twice_seen.len(), 1, "the same attempts come twice for all");
        assert_eq!(twice_seen.first().unwrap().len(), 5);
    }

    #[test]
    fn a_sheet_tells_nothing_and_every_examiner_has_another() {
        let sheets = blind(&codes("Q", 20), &codes("E", 2), &DESIGN).unwrap();
        let written = serde_json::to_string(&sheets[0].0).unwrap();
        assert!(!written.contains('Q'), "{written}");
        let order = |key: &Key| key.attempts.iter().map(|a| a.1.clone()).collect::<Vec<String>>();
        assert_ne!(order(&sheets[0].1), order(&sheets[1].1));
        assert_ne!(sheets[0].0.codes, sheets[1].0.codes);
        let unique: BTreeSet<&String> = sheets[0].0.codes.iter().collect();
        assert_eq!(unique.len(), 25);
    }

    #[test]
    fn the_seed_decides_and_the_order_of_the_roster_does_not() {
        let mut reversed = codes("Q", 20);
        reversed.reverse();
        let of =
            |attempts: &[String], seed| blind(attempts, &codes("E", 1), &Design { seed, ..DESIGN }).unwrap();
        assert_eq!(of(&codes("Q", 20), 26), of(&reversed, 26));
        assert_ne!(of(&reversed, 26), of(&reversed, 27));
    }

    /// The widest gap that there is leaves one kind of order.
    #[test]
    fn the_widest_gap_is_reached_and_a_wider_one_refused() {
        let wide = |least_gap| Design { n_repeats: 6, least_gap, seed: 1 };
        let sheets = blind(&codes("Q", 6), &codes("E", 1), &wide(6)).unwrap();
        let key = &sheets[0].1.attempts;
        assert!((0..6).all(|place| key[place].1 == key[place + 6].1));
        assert_eq!(blind(&codes("Q", 6), &codes("E", 1), &wide(7)), Err(Refusal::NoRoom { n: 6, gap: 7 }));
    }

    #[test]
    fn own_and_foreign_grades_are_hidden_until_the_sheet_is_closed() {
        let rating = |examiner: &str| Rating {
            examiner: examiner.into(),
            attempt: "Q01".into(),
            criterion: "depth".into(),
            occasion: 0,
            value: 3.0,
        };
        let ratings = [rating("E01"), rating("E02"), rating("E03")];
        assert!(visible(&ratings, "E01", &codes("E", 0)).is_empty());
        assert!(visible(&ratings, "E01", &["E02".into()]).is_empty());
        let both = visible(&ratings, "E01", &["E01".into(), "E02".into()]);
        assert_eq!(both.iter().map(|rating| rating.examiner.as_str()).collect::<Vec<_>>(), ["E01", "E02"]);
    }
}
