//! Groups of learners against each other: cohorts, sessions, instructors.

use serde::Serialize;

use crate::error::{at_least, finite};
use crate::stats::distribution::normal_below;
use crate::stats::median;
use crate::stats::random::Random;
use crate::stats::resample::bootstrap;
use crate::{Answer, Estimate, Refusal, Settings};

/// Learners in both groups together up to which the exact distribution is counted.
const MOST_EXACT: usize = 100;

/// Two groups.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(rename = "TwoGroups"))]
pub struct Comparison {
    /// Median of all differences first − second; `n` counts learners of both groups.
    pub shift: Estimate,
    /// Share of pairs in which the first is greater less the share in which it is smaller, −1 … 1.
    pub dominance: Estimate,
    /// Whether chance explains it.
    pub test: Answer<Test>,
    /// Learners of each group.
    pub n: [u32; 2],
}

/// More than two groups.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Groups {
    /// Median of each group, in the order given.
    pub medians: Vec<f64>,
    /// Learners of each group.
    pub n: Vec<u32>,
    /// Kruskal and Wallis' H/(n − 1): share of the ranks' spread that the groups explain, 0 … 1.
    pub explained: f64,
    /// Whether chance explains it.
    pub test: Test,
}

/// How often chance alone would part groups so far.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Test {
    /// Two-sided.
    pub p: f64,
    /// The statistic: U of the first group, or H.
    pub statistic: f64,
    /// How p was found.
    pub method: &'static str,
}

/// Compares two groups, one value a learner: several attempts of one learner hang together and have to be brought to one value first.
///
/// The test is that of Mann and Whitney, by the exact distribution of the ranks with their ties up to a hundred learners. It is
/// refused where even the most extreme order of so few would not pass the confidence asked for.
///
/// # Errors
/// [`Refusal::TooFew`] below two learners in a group, [`Refusal::NotFinite`].
///
/// # Source
/// `docs/sources.md#mann-and-whitney-1947`, `docs/sources.md#hodges-and-lehmann-1963`, `docs/sources.md#cliff-1993`.
pub fn compare(first: &[f64], second: &[f64], settings: &Settings) -> Result<Comparison, Refusal> {
    settings.check()?;
    for group in [first, second] {
        finite("a group's values", group)?;
        at_least("learners in a group", group.len(), 2)?;
    }
    let n = first.len() + second.len();
    let bounds = |statistic: &dyn Fn(&[f64], &[f64]) -> f64| {
        if first.len().min(second.len()) < crate::stats::resample::LEAST_UNITS {
            return Err("fewer than five learners in a group to resample");
        }
        bootstrap_two(first, second, settings, statistic)
    };
    Ok(Comparison {
        shift: Estimate::maybe(
            shift(first, second),
            bounds(&shift),
            n,
            "Hodges-Lehmann shift, first − second",
        ),
        dominance: Estimate::maybe(dominance(first, second), bounds(&dominance), n, "Cliff's delta"),
        test: mann_whitney(first, second, settings).into(),
        n: [first.len() as u32, second.len() as u32],
    })
}

/// Compares two groups or more by their ranks, one value a learner; p from random permutations of the learners.
///
/// # Errors
/// [`Refusal::TooFew`] below two groups, three learners in a group or a hundred draws, [`Refusal::NotFinite`],
/// [`Refusal::NoSpread`].
///
/// # Source
/// `docs/sources.md#kruskal-and-wallis-1952`.
pub fn compare_groups(groups: &[Vec<f64>], settings: &Settings) -> Result<Groups, Refusal> {
    settings.check()?;
    at_least("groups", groups.len(), 2)?;
    at_least("draws", settings.draws as usize, 100)?;
    for group in groups {
        finite("a group's values", group)?;
        at_least("learners in a group", group.len(), 3)?;
    }
    let sizes: Vec<usize> = groups.iter().map(Vec::len).collect();
    let mut ranks = doubled_ranks(&groups.concat());
    if ranks.iter().all(|&rank| rank == ranks[0]) {
        return Err(Refusal::NoSpread { of: "the values" });
    }
    let observed = kruskal(&ranks, &sizes);
    let mut random = Random::new(settings.seed);
    let mut as_far = 0_u32;
    for _ in 0..settings.draws {
        random.shuffle(&mut ranks);
        as_far += u32::from(kruskal(&ranks, &sizes) >= observed - 1e-9);
    }
    let p = f64::from(as_far + 1) / f64::from(settings.draws + 1);
    Ok(Groups {
        medians: groups.iter().map(|group| median(group)).collect(),
        explained: observed / (ranks.len() as f64 - 1.0),
        test: Test { p, statistic: observed, method: "Kruskal-Wallis, random permutations" },
        n: sizes.into_iter().map(|n| n as u32).collect(),
    })
}

fn shift(first: &[f64], second: &[f64]) -> f64 {
    let differences: Vec<f64> = first.iter().flat_map(|a| second.iter().map(move |b| a - b)).collect();
    median(&differences)
}

fn dominance(first: &[f64], second: &[f64]) -> f64 {
    let mut sum = 0.0;
    for a in first {
        for b in second {
            sum += f64::from(a > b) - f64::from(a < b);
        }
    }
    sum / (first.len() * second.len()) as f64
}

/// Resamples either group for itself.
fn bootstrap_two(
    first: &[f64],
    second: &[f64],
    settings: &Settings,
    statistic: &dyn Fn(&[f64], &[f64]) -> f64,
) -> Result<crate::Interval, &'static str> {
    // The second group draws from its own generator, a fixed step away from the first one's.
    let mut other = Random::new(settings.seed ^ 0x5bd1_e995);
    bootstrap(first.len(), settings, |drawn| {
        let a: Vec<f64> = drawn.iter().map(|&index| first[index]).collect();
        let b: Vec<f64> = (0..second.len()).map(|_| second[other.below(second.len())]).collect();
        Some(statistic(&a, &b))
    })
}

/// Twice the mean ranks, which are whole numbers with ties too.
fn doubled_ranks(values: &[f64]) -> Vec<usize> {
    let ascending = crate::stats::sorted(values);
    let rank = |value: &f64| {
        let below = ascending.partition_point(|other| other < value);
        let up_to = ascending.partition_point(|other| other <= value);
        below + up_to + 1
    };
    values.iter().map(rank).collect()
}

fn mann_whitney(first: &[f64], second: &[f64], settings: &Settings) -> Result<Test, Refusal> {
    let n = first.len() + second.len();
    let ranks = doubled_ranks(&[first, second].concat());
    if ranks.iter().all(|&rank| rank == ranks[0]) {
        return Err(Refusal::NoSpread { of: "the values" });
    }
    let least = least_total(first.len(), second.len(), 1.0 - settings.confidence);
    at_least("learners in both groups", n, least)?;
    let sum: usize = ranks[..first.len()].iter().sum();
    let smallest = first.len() * (first.len() + 1);
    let statistic = (sum - smallest) as f64 / 2.0;
    if n <= MOST_EXACT {
        let p = exact(&ranks, first.len(), sum);
        return Ok(Test { p, statistic, method: "Mann-Whitney, exact" });
    }
    let p = by_normal(&ranks, first.len(), sum);
    Ok(Test { p, statistic, method: "Mann-Whitney, normal approximation" })
}

/// Learners needed, the smaller group staying as it is or growing with the larger one, before the most extreme order is rarer
/// than `rare`.
fn least_total(first: usize, second: usize, rare: f64) -> u32 {
    let orders = |a: usize, b: usize| (1..=a.min(b)).fold(1.0, |c, i| c * (a.max(b) + i) as f64 / i as f64);
    let (mut a, mut b) = (first, second);
    while 2.0 / orders(a, b) > rare && a + b < 10_000 {
        if a <= b { a += 1 } else { b += 1 }
    }
    (a + b) as u32
}

/// Share of all ways to choose `size` of the ranks whose sum lies as far from its middle as `sum`.
fn exact(ranks: &[usize], size: usize, sum: usize) -> f64 {
    let most: usize = ranks.iter().sum();
    // ways[k][s]: choices of k ranks with the sum s.
    let mut ways = vec![vec![0.0_f64; most + 1]; size + 1];
    ways[0][0] = 1.0;
    let mut reached = 0;
    for &rank in ranks {
        reached += rank;
        for chosen in (1..=size).rev() {
            let (fewer, more) = ways.split_at_mut(chosen);
            for total in rank..=reached {
                more[0][total] += fewer[chosen - 1][total - rank];
            }
        }
    }
    let middle = size * (ranks.len() + 1);
    let far = sum.abs_diff(middle);
    let all: f64 = ways[size].iter().sum();
    let as_far = ways[size].iter().enumerate().filter(|(total, _)| total.abs_diff(middle) >= far);
    as_far.map(|(_, ways)| ways).sum::<f64>() / all
}

/// The same by the normal distribution, with ties and half a step of continuity.
fn by_normal(ranks: &[usize], size: usize, sum: usize) -> f64 {
    let (n, m) = (ranks.len() as f64, size as f64);
    let values: Vec<f64> = ranks.iter().map(|&rank| rank as f64 / 2.0).collect();
    let variance = m * (n - m) / (n * (n - 1.0)) * crate::stats::squares(&values);
    let far = ((sum as f64 / 2.0 - m * (n + 1.0) / 2.0).abs() - 0.5).max(0.0);
    2.0 * normal_below(-far / variance.sqrt())
}

/// H with its correction for ties: (n − 1) · spread between groups/whole spread of the ranks.
fn kruskal(ranks: &[usize], sizes: &[usize]) -> f64 {
    let n = ranks.len() as f64;
    let middle = n + 1.0;
    let whole: f64 = ranks.iter().map(|&rank| (rank as f64 - middle).powi(2)).sum();
    let mut start = 0;
    let mut between = 0.0;
    for &size in sizes {
        let sum: usize = ranks[start..start + size].iter().sum();
        between += (sum as f64 - size as f64 * middle).powi(2) / size as f64;
        start += size;
    }
    (n - 1.0) * between / whole
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings() -> Settings {
        Settings::default()
    }

    /// Of scipy, see `tests/reference`.
    #[test]
    fn the_exact_test_of_a_reference_library() {
        let reference: serde_json::Value =
            serde_json::from_str(include_str!("../../tests/reference/reference.json")).unwrap();
        for case in reference["two_groups"].as_array().unwrap() {
            let group = |name: &str| -> Vec<f64> { serde_json::from_value(case[name].clone()).unwrap() };
            let test = mann_whitney(&group("first"), &group("second"), &settings()).unwrap();
            assert_eq!(test.statistic, case["u"].as_f64().unwrap());
            assert!((test.p - case["p"].as_f64().unwrap()).abs() < 1e-10, "{test:?}");
        }
        let groups: Vec<Vec<f64>> = serde_json::from_value(reference["groups"]["groups"].clone()).unwrap();
        let result = compare_groups(&groups, &settings()).unwrap();
        assert!((result.test.statistic - reference["groups"]["h"].as_f64().unwrap()).abs() < 1e-9);
        assert!(result.test.p < 0.05);
    }

    /// With ties, by going through all choices.
    #[test]
    fn ties_are_counted_exactly() {
        let (first, second) = ([1.0, 2.0, 2.0, 5.0], [2.0, 3.0, 3.0, 5.0, 6.0]);
        let ranks = doubled_ranks(&[&first[..], &second[..]].concat());
        let sum: usize = ranks[..4].iter().sum();
        let (mut all, mut far) = (0, 0);
        for choice in 0_u32..1 << 9 {
            if choice.count_ones() == 4 {
                let total: usize = (0..9).filter(|i| choice >> i & 1 == 1).map(|i| ranks[i]).sum();
                all += 1;
                far += u32::from(total.abs_diff(40) >= sum.abs_diff(40));
            }
        }
        assert_eq!(all, 126);
        assert!((exact(&ranks, 4, sum) - f64::from(far) / 126.0).abs() < 1e-12);
    }

    #[test]
    fn the_normal_approximation_meets_the_exact_distribution() {
        let first: Vec<f64> = (0..40).map(|i| f64::from(i * 7 % 23)).collect();
        let second: Vec<f64> = (0..45).map(|i| f64::from(i * 5 % 23) + 2.0).collect();
        let ranks = doubled_ranks(&[first.clone(), second].concat());
        let sum = ranks[..40].iter().sum();
        let (by_counting, by_normal) = (exact(&ranks, 40, sum), by_normal(&ranks, 40, sum));
        assert!((by_counting - by_normal).abs() < 0.003, "{by_counting} {by_normal}");
    }

    /// Three against three have 20 orders: the rarest two-sided result has p = 0.1.
    #[test]
    fn too_few_for_any_result_are_not_tested() {
        let result = compare(&[1.0, 2.0, 3.0], &[7.0, 8.0, 9.0], &settings()).unwrap();
        assert!(
            matches!(result.test, Answer::Refused(Refusal::TooFew { n: 6, least: 8, .. })),
            "{:?}",
            result.test
        );
        assert_eq!((result.shift.value, result.dominance.value), (-6.0, -1.0));
        assert!(result.shift.interval.is_none());
        let enough = compare(&[1.0, 2.0, 3.0, 4.0], &[7.0, 8.0, 9.0], &settings()).unwrap();
        // 2 of 35 orders: 0.057; four against four are needed.
        assert!(enough.test.given().is_none());
        let four = compare(&[1.0, 2.0, 3.0, 4.0], &[7.0, 8.0, 9.0, 10.0], &settings()).unwrap();
        assert!((four.test.given().unwrap().p - 2.0 / 70.0).abs() < 1e-12);
    }

    #[test]
    fn equal_groups_are_not_parted() {
        let same = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
        let result = compare(&same, &same, &settings()).unwrap();
        assert_eq!((result.shift.value, result.dominance.value), (0.0, 0.0));
        assert_eq!(result.test.given().unwrap().p, 1.0);
        assert!(matches!(
            compare(&[2.0; 5], &[2.0; 5], &settings()).unwrap().test,
            Answer::Refused(Refusal::NoSpread { .. })
        ));
    }
}
