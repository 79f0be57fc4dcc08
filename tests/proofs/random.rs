//! Numbers that look random and are the same for the same seed: a failure is found again by its seed.

/// `SplitMix64`: enough for drawing tests, and a few lines.
#[derive(Debug, Clone)]
pub(crate) struct Random(u64);

impl Random {
    /// From a seed.
    pub(crate) const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next number.
    pub(crate) const fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mixed = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// One below `end`.
    pub(crate) const fn below(&mut self, end: u64) -> u64 {
        self.next() % end
    }

    /// True this many times in a hundred.
    pub(crate) const fn percent(&mut self, chance: u64) -> bool {
        self.below(100) < chance
    }

    /// One of them.
    pub(crate) fn pick<'a, T>(&mut self, items: &'a [T]) -> &'a T {
        let end = u64::try_from(items.len()).expect("a length");
        &items[usize::try_from(self.below(end)).expect("a place")]
    }
}
