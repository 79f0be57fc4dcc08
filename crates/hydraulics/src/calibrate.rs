//! Loss coefficients re-estimated from drills: what is held of them now, weighed against what the gauges read.

use alloc::vec;
use alloc::vec::Vec;

use crate::quantity::Bound;
use crate::spread::Spread;

/// Standard deviations on each side of the mean that hold 90 %.
pub const LEVEL_DEVIATIONS: f64 = 1.645;

/// A figure to be estimated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unknown {
    /// Its value as it stands now.
    pub value: f64,
    /// How far it may be off.
    pub spread: Spread,
    /// What values it can have.
    pub bound: Bound,
}

impl Unknown {
    /// Its standard deviation, by the wider side of its spread. A figure of nothing has none, and stays nothing.
    pub fn deviation(&self) -> f64 {
        self.value * self.spread.below().max(self.spread.above()) / LEVEL_DEVIATIONS
    }
}

/// A loss read, as the sum of figures times what each costs.
#[derive(Debug, Clone, PartialEq)]
pub struct LossReading {
    /// The loss, psi.
    pub loss_psi: f64,
    /// Its standard deviation, psi.
    pub deviation_psi: f64,
    /// Each figure's place among the unknowns, with its psi per unit.
    pub factors: Vec<(usize, f64)>,
}

/// What the readings make of a figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Its likeliest value.
    pub value: f64,
    /// Low end of the span that holds 90 %.
    pub low: f64,
    /// High end.
    pub high: f64,
    /// Its standard deviation.
    pub deviation: f64,
    /// How many readings bear on it.
    pub readings: usize,
}

/// Every unknown by what is held of it now and by all readings together.
///
/// # Formula
/// `c = c0 + S A' (A S A' + R)^-1 (p - A c0)`, in its equal form `(S^-1 + A' R^-1 A) d = A' R^-1 (p - A c0)`, `c = c0 + d`: S the variances held now,
/// R those of the readings, A the factors. Kept inside each figure's bounds.
/// # Units
/// psi, and each figure's own.
/// # Range
/// Readings that are off by chance and independently of one another: gauges or a meter that are always off alike are not found out by it. A reading
/// that is no number, or that is sure beyond measure, is left out.
/// # Examples
/// A hose of 0.08 that may be 0.0329 off; 1000 gpm through 100 ft of it lost 9 psi, give or take 1.645:
/// ```
/// # use longlay_hydraulics::{calibrate::{LossReading, Unknown, estimates}, quantity::HoseCoefficient, spread::Spread};
/// let hose = Unknown { value: 0.08, spread: Spread::even(0.41125), bound: HoseCoefficient::BOUND };
/// let reading = LossReading { loss_psi: 9.0, deviation_psi: 1.0, factors: vec![(0, 100.0)] };
/// // The deviations are 0.02 and 0.01: the reading weighs four times what was held, 0.08 + 4/5 x 0.01.
/// let found = estimates(&[hose], &[reading])[0];
/// assert!((found.value - 0.088).abs() < 1e-12 && found.readings == 1);
/// ```
/// # Source
/// `derived`.
pub fn estimates(unknowns: &[Unknown], readings: &[LossReading]) -> Vec<Estimate> {
    let mut normal = Normal::new(unknowns.len());
    for reading in readings {
        normal.add(unknowns, reading);
    }
    let (moved, variances) = normal.solved();
    let estimate = |(i, unknown): (usize, &Unknown)| {
        let Bound { min, max, .. } = unknown.bound;
        let deviation = unknown.deviation() * libm::sqrt(variances[i]);
        let value = (unknown.value + unknown.deviation() * moved[i]).clamp(min, max);
        let half = LEVEL_DEVIATIONS * deviation;
        let (low, high) = ((value - half).max(min), (value + half).min(max));
        Estimate { value, low, high, deviation, readings: normal.bearing[i] }
    };
    unknowns.iter().enumerate().map(estimate).collect()
}

/// Heaviest that a figure's own deviation may weigh against that of a reading: past it the sums would not be numbers any more.
const MOST_WEIGHT: f64 = 1e9;

/// The normal equations in units of each unknown's own deviation: one, and what the readings add.
struct Normal {
    n: usize,
    matrix: Vec<f64>,
    right: Vec<f64>,
    bearing: Vec<usize>,
}

impl Normal {
    fn new(n: usize) -> Self {
        let mut matrix = vec![0.0; n * n];
        matrix.iter_mut().step_by(n + 1).for_each(|cell| *cell = 1.0);
        Self { n, matrix, right: vec![0.0; n], bearing: vec![0; n] }
    }

    fn add(&mut self, unknowns: &[Unknown], reading: &LossReading) {
        let mut weights = vec![0.0; self.n];
        let mut missed = reading.loss_psi;
        for &(i, factor) in &reading.factors {
            let Some(unknown) = unknowns.get(i) else { return };
            weights[i] += factor * unknown.deviation() / reading.deviation_psi;
            missed -= factor * unknown.value;
        }
        let missed = missed / reading.deviation_psi;
        let sound = |x: f64| x.abs() <= MOST_WEIGHT;
        if reading.deviation_psi <= 0.0 || !sound(missed) || !weights.iter().all(|weight| sound(*weight)) {
            return;
        }
        for i in (0..self.n).filter(|i| weights[*i] != 0.0) {
            self.bearing[i] += 1;
            self.right[i] += weights[i] * missed;
            for j in 0..self.n {
                self.matrix[i * self.n + j] += weights[i] * weights[j];
            }
        }
    }

    /// How far each moves and what is left of its variance, in its own deviations.
    fn solved(&self) -> (Vec<f64>, Vec<f64>) {
        let lower = self.cholesky();
        let moved = self.solve(&lower, self.right.clone());
        let variance = |i: usize| {
            let mut unit = vec![0.0; self.n];
            unit[i] = 1.0;
            let left: f64 = self.solve(&lower, unit)[i];
            // Readings never make a figure less sure.
            if left.is_nan() { 1.0 } else { left.clamp(0.0, 1.0) }
        };
        let moved = moved.into_iter().map(|moved| if moved.is_finite() { moved } else { 0.0 }).collect();
        (moved, (0..self.n).map(variance).collect())
    }

    /// The factor L of `L L'`. Of one and a sum of squares every pivot is at least one, whatever rounding says.
    fn cholesky(&self) -> Vec<f64> {
        let n = self.n;
        let mut lower = vec![0.0; n * n];
        for i in 0..n {
            for j in 0..=i {
                let sum: f64 = (0..j).map(|k| lower[i * n + k] * lower[j * n + k]).sum();
                let left = self.matrix[i * n + j] - sum;
                lower[i * n + j] = if i == j { libm::sqrt(left.max(1.0)) } else { left / lower[j * n + j] };
            }
        }
        lower
    }

    fn solve(&self, lower: &[f64], mut right: Vec<f64>) -> Vec<f64> {
        let n = self.n;
        for i in 0..n {
            let sum: f64 = (0..i).map(|k| lower[i * n + k] * right[k]).sum();
            right[i] = (right[i] - sum) / lower[i * n + i];
        }
        for i in (0..n).rev() {
            let sum: f64 = (i + 1..n).map(|k| lower[k * n + i] * right[k]).sum();
            right[i] = (right[i] - sum) / lower[i * n + i];
        }
        right
    }
}
