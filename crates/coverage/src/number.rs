//! The few casts there are, each with why it holds.

/// An index that is kept in four bytes. What has more items than fit is refused before any is counted ([`crate::finding::TooMany`]).
pub(crate) fn index(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

/// A whole number out of one that is not less than nothing; too large a one is the largest, and what is no number is nothing.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates, which is what is wanted"
)]
pub(crate) const fn whole(value: f64) -> u32 {
    value as u32
}

/// The same, signed.
#[expect(clippy::cast_possible_truncation, reason = "the cast saturates, which is what is wanted")]
pub(crate) const fn signed(value: f64) -> i32 {
    value as i32
}

/// A count as a number to reckon with.
#[expect(clippy::cast_precision_loss, reason = "counts stay far under 2^53")]
pub(crate) const fn real(count: usize) -> f64 {
    count as f64
}

/// The nearest whole number, and of two as near the even one, of what is not over 2^51: by how a float's own sum is rounded, for `round` is a call.
pub(crate) fn nearest(value: f64) -> f64 {
    const NO_FRACTION: f64 = 6_755_399_441_055_744.0;
    (value + NO_FRACTION) - NO_FRACTION
}
