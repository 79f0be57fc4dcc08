//! The running bias: by how much drills read more or less than was predicted, and whether that is more than chance.

use crate::finding::{Finding, FindingCode};

/// Least drills that tell a bias from chance. A judgement of ours.
pub const LEAST_DRILLS: usize = 3;
/// Mean miss from which a bias matters, psi: what two gauges may be off together twice over. A judgement of ours.
pub const LEAST_BIAS_PSI: f64 = 3.0;
/// Standard errors from nothing at which a mean miss is no chance. A judgement of ours.
pub const STANDARD_ERRORS: f64 = 2.0;

/// What the misses of several drills say together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bias {
    /// How many drills.
    pub drills: usize,
    /// Mean miss, psi: read less predicted, so that less than nothing was promised too much.
    pub mean_psi: f64,
    /// Standard error of the mean, psi; none of one drill.
    pub standard_error_psi: Option<f64>,
    /// The lowest miss, psi.
    pub worst_psi: f64,
}

impl Bias {
    /// Of the misses of drills, psi; none of none.
    ///
    /// # Formula
    /// `m = Σ miss/n`, standard error `√(Σ (miss - m)²/(n - 1)/n)`.
    /// # Units
    /// psi.
    /// # Range
    /// Drills that are independent of one another.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::drill_bias::Bias;
    /// let bias = Bias::of(&[-4.0, -5.0, -6.0]).unwrap();
    /// assert_eq!((bias.mean_psi, bias.worst_psi), (-5.0, -6.0));
    /// // √(2/2/3)
    /// assert!((bias.standard_error_psi.unwrap() - 0.577_350).abs() < 1e-6);
    /// ```
    /// # Source
    /// `derived`.
    pub fn of(misses: &[f64]) -> Option<Self> {
        let worst_psi = misses.iter().copied().reduce(f64::min)?;
        let n = misses.iter().map(|_| 1.0).sum::<f64>();
        let mean_psi = misses.iter().sum::<f64>() / n;
        let squares: f64 = misses.iter().map(|miss| (miss - mean_psi) * (miss - mean_psi)).sum();
        let standard_error_psi = (misses.len() > 1).then(|| libm::sqrt(squares / (n - 1.0) / n));
        Some(Self { drills: misses.len(), mean_psi, standard_error_psi, worst_psi })
    }

    /// The finding, where the bias is more than chance and more than the gauges may be off.
    pub fn finding(&self) -> Option<Finding> {
        let beyond_chance = self.mean_psi.abs() > STANDARD_ERRORS * self.standard_error_psi?;
        let told = self.drills >= LEAST_DRILLS && self.mean_psi.abs() > LEAST_BIAS_PSI && beyond_chance;
        told.then(|| Finding::new(FindingCode::DrillBias, self.mean_psi))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(misses: &[f64]) -> bool {
        Bias::of(misses).unwrap().finding().is_some()
    }

    #[test]
    fn a_bias_is_told_from_three_drills_beyond_three_psi_and_two_standard_errors() {
        assert!(told(&[-5.0, -5.0, -5.0]) && told(&[4.0, 5.0, 6.0]));
        assert!(!told(&[-5.0, -5.0]), "two drills");
        assert!(!told(&[-3.0, -3.0, -3.0]), "not beyond 3 psi");
        // Mean -4, standard error √(2 x 64/2/3) = 4.6.
        assert!(!told(&[-12.0, -4.0, 4.0]), "within chance");
    }

    #[test]
    fn no_drill_is_no_bias() {
        assert_eq!(Bias::of(&[]), None);
        assert_eq!(Bias::of(&[-9.0]).unwrap().finding(), None);
    }
}
