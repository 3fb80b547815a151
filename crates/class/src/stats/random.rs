//! A small seeded generator, so that every interval and every order can be made again.

/// SplitMix64 (`docs/sources.md#steele-2014`): a counter and a mixer; ample for resampling, useless for secrets.
#[derive(Debug, Clone)]
pub(crate) struct Random(u64);

impl Random {
    /// A generator for `seed`.
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// Evenly one of 0 … `n` − 1; draws that would favour small numbers are thrown away.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        let n = n as u64;
        let usable = u64::MAX - u64::MAX % n;
        loop {
            let drawn = self.next();
            if drawn < usable {
                return (drawn % n) as usize;
            }
        }
    }

    /// Brings a list into random order, each equally likely (Fisher and Yates).
    pub(crate) fn shuffle<T>(&mut self, list: &mut [T]) {
        for last in (1..list.len()).rev() {
            list.swap(last, self.below(last + 1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First outputs for the seed 1234567, as the generator's public test vectors have them.
    #[test]
    fn gives_the_known_sequence() {
        let mut random = Random::new(1_234_567);
        assert_eq!(
            [random.next(), random.next(), random.next()],
            [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]
        );
    }

    #[test]
    fn orders_are_evenly_likely() {
        let mut random = Random::new(7);
        let mut counts = std::collections::BTreeMap::new();
        for _ in 0..6000 {
            let mut list = [1, 2, 3];
            random.shuffle(&mut list);
            *counts.entry(list).or_insert(0_u32) += 1;
        }
        assert_eq!(counts.len(), 6);
        // Six standard deviations of a binomial around 1000.
        assert!(counts.values().all(|count| count.abs_diff(1000) < 174), "{counts:?}");
    }
}
