//! Random numbers that stay the same for ever.

/// SplitMix64 (Steele, Lea, Flood: Fast splittable pseudorandom number generators, 2014).
#[derive(Debug, Clone)]
pub struct Random(u64);

impl Random {
    /// The stream of a seed.
    pub fn from_seed(seed: u64) -> Self {
        Self(seed)
    }

    /// The next number.
    #[allow(clippy::should_implement_trait, reason = "a stream without an end is no iterator to be used up")]
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Whether something happens that happens `in_hundred` times in a hundred.
    pub fn happens(&mut self, in_hundred: u64) -> bool {
        self.next() % 100 < in_hundred
    }

    /// One of a list; `None` of an empty one.
    pub fn pick<'a, T>(&mut self, all: &'a [T]) -> Option<&'a T> {
        let length = u64::try_from(all.len()).ok().filter(|&length| length > 0)?;
        usize::try_from(self.next() % length).ok().and_then(|at| all.get(at))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the first five values for the seed 1234567 as published at Rosetta Code, task
    /// "Pseudo-random numbers/Splitmix64".
    #[test]
    fn the_stream_is_the_published_one() {
        let mut random = Random::from_seed(1_234_567);
        let first: Vec<u64> = (0..5).map(|_| random.next()).collect();
        assert_eq!(
            first,
            [
                6_457_827_717_110_365_317,
                3_203_168_211_198_807_973,
                9_817_491_932_198_370_423,
                4_593_380_528_125_082_431,
                16_408_922_859_458_223_821
            ]
        );
    }
}
