//! Sorting by what is in the upper half of a key: in a few passes whatever it is, where comparing takes twenty.

/// Sorts by the upper half of each key. Keys of one upper half stay as they came.
pub(crate) fn by_upper_half(keys: &mut Vec<u64>) {
    const BITS: u32 = 11;
    let mut sorted = vec![0; keys.len()];
    for shift in [32, 32 + BITS, 32 + 2 * BITS] {
        let digit = |key: u64| (lower_half(key >> shift) & ((1 << BITS) - 1)) as usize;
        let mut next = [0_u32; 1 << BITS];
        for key in &*keys {
            next[digit(*key)] += 1;
        }
        let mut before = 0;
        for place in &mut next {
            before += std::mem::replace(place, before);
        }
        for key in &*keys {
            let place = &mut next[digit(*key)];
            sorted[*place as usize] = *key;
            *place += 1;
        }
        std::mem::swap(keys, &mut sorted);
    }
}

/// The lower half of a key.
#[expect(clippy::cast_possible_truncation, reason = "the lower half is what is wanted")]
pub(crate) const fn lower_half(key: u64) -> u32 {
    key as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_come_in_order_and_equal_ones_as_they_came() {
        let mut seed = 1_u64;
        let mut next = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            seed
        };
        for spread in [0, 1, 20, 31] {
            let keys: Vec<u64> = (0..5000).map(|i| (next() >> 32 >> (31 - spread)) << 32 | (5000 - i)).collect();
            let (mut ours, mut theirs) = (keys.clone(), keys);
            by_upper_half(&mut ours);
            theirs.sort_by_key(|key| key >> 32);
            assert_eq!(ours, theirs);
        }
    }
}
