//! Tables in place of `pow`, for work on very many mains and lays.
//!
//! Every table errs to one side, by no more than the share that stands with it: what is read off it never promises more water than the formula.

use alloc::boxed::Box;

use crate::root::largest_holding;
use crate::supply::DROP_EXPONENT;

/// Bits of the mantissa of an `f64`.
const MANTISSA_BITS: u32 = 52;
const ONE: u64 = 1.0_f64.to_bits();
const MANTISSA: u64 = (1 << MANTISSA_BITS) - 1;

const fn power_of_half(octaves: u32) -> f64 {
    f64::from_bits(ONE - ((octaves as u64) << MANTISSA_BITS))
}

/// Place and way between two places of a number, `2^bits` places to an octave, counted from the place of `from`: the logarithm that a float is already.
fn place(x: f64, from: f64, bits: u32) -> (usize, f64) {
    let steps = (x.to_bits() >> (MANTISSA_BITS - bits)).wrapping_sub(from.to_bits() >> (MANTISSA_BITS - bits));
    let way = f64::from_bits(ONE | (x.to_bits() << bits) & MANTISSA) - 1.0;
    (usize::try_from(steps).unwrap_or(usize::MAX), way)
}

/// Straight between the places. Past the last it is the last.
fn between(table: &[f64], at: usize, way: f64) -> f64 {
    let at = at.min(table.len().saturating_sub(2));
    match table.get(at..at + 2) {
        Some([low, high]) => low + way * (high - low),
        _ => 0.0,
    }
}

/// The numbers at each place of [`place`].
fn places(from: f64, octaves: u32, bits: u32) -> impl Iterator<Item = f64> {
    let first = from.to_bits() >> (MANTISSA_BITS - bits);
    (0..=u64::from(octaves) << bits).map(move |step| f64::from_bits((first + step) << (MANTISSA_BITS - bits)))
}

/// What a main and a lay let through together, over what they would by the sum of their squares.
///
/// # Formula
/// With `a Q^n + b Q² = h`, put `A = h / Qm²` for the flow `Qm` at which the main alone takes the head and `b` for the lay: then
/// `Q = g(u) √(h / (A + b))`, `u = A / (A + b)`, and g is one curve for all mains and all lays, since `y^n + s y² = 1` is
/// (`y = Q / Qm`, `s = b / A`, `g = y √(1 + s)`). As n is nearly 2, g is nearly 1.
/// # Units
/// gpm and psi in, a share out: the curve itself has none.
/// # Range
/// Squared losses and a main of the usual exponent.
/// # Source
/// `derived`: the balance of a lay without its dimensions.
#[derive(Debug, Clone)]
pub(crate) struct Shape {
    g: Box<[f64]>,
}

impl Shape {
    /// How far under the formula it may be, as a share; never over.
    pub(crate) const UNDER: f64 = 4e-7;
    const OCTAVES: u32 = 24;
    const LEAST: f64 = power_of_half(Self::OCTAVES);
    const BITS: u32 = 7;

    pub(crate) fn new() -> Self {
        // g bends upwards where the lay rules, so that a chord lies over it, and downwards where the main does: half of what it may err covers the former.
        let g = places(Self::LEAST, Self::OCTAVES, Self::BITS).map(|u| g(u) * (1.0 - Self::UNDER / 2.0));
        // The main by itself, once more: the last place has one after it too.
        Self { g: g.chain([1.0 - Self::UNDER / 2.0]).collect() }
    }

    /// g at a share of the main in the whole, which is from 0 to 1.
    pub(crate) fn at(&self, share: f64) -> f64 {
        let (at, way) = place(share.max(Self::LEAST), Self::LEAST, Self::BITS);
        between(&self.g, at, way)
    }
}

fn g(u: f64) -> f64 {
    let s = (1.0 - u) / u;
    // The main alone, or the lay alone, would have used up the head here.
    let y = largest_holding(0.0, 1.0_f64.min(1.0 / libm::sqrt(s)), |y| {
        let power = libm::pow(y, DROP_EXPONENT);
        (1.0 - power - s * y * y, -DROP_EXPONENT * power / y - 2.0 * s * y)
    });
    y * libm::sqrt(1.0 + s)
}

/// A power of a positive number, by its octave and its place in it: never under the power, and over it by a share of 4e-7 at most, for no exponent from 0 to 1.
#[derive(Debug, Clone)]
pub(crate) struct Powers {
    octaves: Box<[f64]>,
    mantissas: Box<[f64]>,
}

impl Powers {
    const BITS: u32 = 10;
    /// The least number that it knows; lesser ones count as this.
    pub(crate) const LEAST: f64 = power_of_half(40);
    const OCTAVES: u32 = 60;

    /// Of this exponent.
    pub(crate) fn of(exponent: f64) -> Self {
        // Powers bend upwards, so that a chord lies over them; a hair more for the rounding.
        let hair = 1.0 + 8.0 * f64::EPSILON;
        Self {
            octaves: places(Self::LEAST, Self::OCTAVES, 0).map(|x| libm::pow(x, exponent) * hair).collect(),
            mantissas: places(1.0, 1, Self::BITS).map(|x| libm::pow(x, exponent) * hair).collect(),
        }
    }

    /// The power of a number; one under [`Self::LEAST`] counts as that.
    pub(crate) fn at(&self, x: f64) -> f64 {
        let x = x.max(Self::LEAST);
        let (octave, _) = place(x, Self::LEAST, 0);
        let mantissa = f64::from_bits(ONE | x.to_bits() & MANTISSA);
        let (at, way) = place(mantissa, 1.0, Self::BITS);
        let octave = self.octaves.get(octave.min(self.octaves.len() - 1)).copied().unwrap_or_default();
        octave * between(&self.mantissas, at, way)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Many numbers over these octaves, even in the logarithm and off the places of a table.
    fn numbers(from: f64, to: f64) -> impl Iterator<Item = f64> {
        let steps = 400_000;
        let step = libm::log(to / from) / f64::from(steps);
        (0..=steps).map(move |i| (from * libm::exp(step * f64::from(i))).clamp(from, to))
    }

    #[test]
    fn the_shape_is_never_over_and_hardly_under() {
        let shape = Shape::new();
        for u in numbers(1e-9, 1.0) {
            let (exact, read) = (g(u), shape.at(u));
            assert!(read <= exact && read >= exact * (1.0 - Shape::UNDER), "{read} for {exact} at {u}");
        }
    }

    #[test]
    fn powers_are_never_under_and_hardly_over() {
        for exponent in [DROP_EXPONENT, 1.0 - 2.0 / DROP_EXPONENT] {
            let powers = Powers::of(exponent);
            for x in numbers(Powers::LEAST, 1_000_000.0) {
                let (exact, read) = (libm::pow(x, exponent), powers.at(x));
                assert!(read >= exact && read <= exact * (1.0 + 4e-7), "{read} for {exact} at {x}");
            }
        }
    }

    #[test]
    fn without_a_main_s_loss_the_lay_alone_is_left() {
        let shape = Shape::new();
        assert!((shape.at(0.0) - 1.0).abs() < 1e-6 && (shape.at(f64::NAN) - 1.0).abs() < 1e-6);
        assert!((shape.at(1.0) - 1.0).abs() < 1e-6);
    }
}
