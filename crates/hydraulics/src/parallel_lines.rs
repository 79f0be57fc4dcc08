//! Unequal lines side by side: one loss for all of them, and what each carries.

use alloc::vec::Vec;

use thiserror::Error;

use crate::loss::{Hose, squared_psi};
use crate::quantity::PositiveFlow;

/// Lines that part and meet again, at a flow.
#[derive(Debug, Clone, PartialEq)]
pub struct SideBySide {
    /// All of them as one, psi/(100 gpm)².
    pub coefficient: f64,
    /// What each of them loses, psi.
    pub loss_psi: f64,
    /// What each carries, gpm, in their order.
    pub flows_gpm: Vec<f64>,
}

/// No line at all.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("there must be at least one line")]
pub struct NoLines;

/// The common loss of lines side by side, and the flow in each.
///
/// # Formula
/// `R = 1/(Σ 1/√Ri)²`, `p = R (Q/100)²`, `Qi = Q √(R/Ri)`, Ri each line's own loss at 100 gpm.
/// # Units
/// gpm; psi, gpm out.
/// # Range
/// Lines that part and meet again, level with each other, with losses that go with the square of the flow.
/// # Errors
/// No lines.
/// # Examples
/// ```
/// # use longlay_hydraulics::{loss::Hose, parallel_lines::side_by_side, quantity::{HoseCoefficient, Length, PositiveFlow}};
/// let line = |feet| -> Result<Hose, Box<dyn core::error::Error>> {
///     Ok(Hose::new(HoseCoefficient::from_psi_per_100gpm2_100ft(0.8)?, Length::from_ft(feet)?, 1)?)
/// };
/// let both = side_by_side(&[line(100.0)?, line(400.0)?], PositiveFlow::from_gpm(300.0)?)?;
/// assert!((both.flows_gpm[0] - 200.0).abs() < 1e-9 && (both.loss_psi - 3.2).abs() < 1e-9);
/// # Ok::<(), Box<dyn core::error::Error>>(())
/// ```
/// # Source
/// `derived`; the handbook's table of siamesed lines (`ifsta-tables`) equals it.
pub fn side_by_side(lines: &[Hose], total: PositiveFlow) -> Result<SideBySide, NoLines> {
    if lines.is_empty() {
        return Err(NoLines);
    }
    let coefficient = equivalent_squared(lines.iter().map(Hose::squared_coefficient));
    let carried = |line: &Hose| total.gpm() * libm::sqrt(coefficient / line.squared_coefficient());
    Ok(SideBySide {
        coefficient,
        loss_psi: squared_psi(coefficient, total.gpm()),
        flows_gpm: lines.iter().map(carried).collect(),
    })
}

/// Loss per (100 gpm)² of several squared branches together.
///
/// `1 / (sum 1/sqrt(r_i))²`: the equal-loss condition in closed form.
pub(crate) fn equivalent_squared(branches: impl Iterator<Item = f64>) -> f64 {
    let conductance: f64 = branches.map(|r| 1.0 / libm::sqrt(r)).sum();
    1.0 / (conductance * conductance)
}
