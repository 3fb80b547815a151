//! A small generator with a fixed seed, so that the same scans always give the same draws.

/// SplitMix64 (Steele, Lea & Flood 2014): one add and three mixes a number, any seed is good.
#[derive(Debug, Clone)]
pub(crate) struct Random(u64);

impl Random {
    /// A stream of its own for each `stream`, so that parallel chunks draw independently of the threads.
    pub(crate) fn new(seed: u64, stream: u64) -> Self {
        let mut random = Self(seed ^ stream.wrapping_mul(0xA076_1D64_78BD_642F));
        random.next();
        random
    }

    /// Uniform in `0..below`; `below` must not be 0. The bias is below 2⁻³² and does not matter here.
    pub(crate) fn index(&mut self, below: usize) -> usize {
        (((self.next() >> 32) * below as u64) >> 32) as usize
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
}
