//! Pipes one after another: what they lose at a flow, and what they flow under a head.

use alloc::vec::Vec;

use thiserror::Error;

use crate::darcy::{Pipe, PipeLoss};
use crate::loss::PSI_PER_FOOT;
use crate::quantity::{Flow, Head, PositiveFlow, Viscosity};
use crate::root::largest_holding;

/// A run without a pipe.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("there must be at least one pipe")]
pub struct NoPipes;

/// Pipes in a row, all carrying the same flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PipeSystem<'a> {
    pipes: &'a [Pipe],
    viscosity: Viscosity,
}

/// What a row of pipes takes at a flow.
#[derive(Debug, Clone, PartialEq)]
pub struct SystemLoss {
    /// All of it, ft of water.
    pub loss_ft: f64,
    /// The same, psi.
    pub loss_psi: f64,
    /// Each pipe's own, in their order.
    pub each: Vec<PipeLoss>,
}

impl<'a> PipeSystem<'a> {
    /// Pipes in the order water passes them.
    ///
    /// # Errors
    /// No pipe.
    pub fn new(pipes: &'a [Pipe], viscosity: Viscosity) -> Result<Self, NoPipes> {
        if pipes.is_empty() { Err(NoPipes) } else { Ok(Self { pipes, viscosity }) }
    }

    /// What they lose at a flow.
    ///
    /// # Formula
    /// `h = Σ (f L/D + K) V²/2g`.
    /// # Units
    /// gpm; ft, psi out.
    /// # Range
    /// As [`Pipe::loss`]; each K counts by the velocity in its own pipe. What rises on the way is taken beside it.
    /// # Source
    /// `tp-410`.
    pub fn loss(&self, flow: PositiveFlow) -> SystemLoss {
        let each: Vec<_> = self.pipes.iter().map(|pipe| pipe.loss(flow, self.viscosity)).collect();
        let loss_ft = each.iter().map(|pipe| pipe.loss_ft).sum();
        SystemLoss { loss_ft, loss_psi: PSI_PER_FOOT * loss_ft, each }
    }

    /// What flows under a head, gpm: never more than [`Flow::BOUND`]'s most.
    ///
    /// # Formula
    /// The Q at which `Σ (f L/D + K) V²/2g` is the head.
    /// # Units
    /// ft; gpm out.
    /// # Range
    /// As [`Self::loss`]. The head is that of the water's surface over the outlet, or over the surface that the pipe ends under; the K of the exit is among
    /// the fittings.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::{darcy::{Pipe, Wall}, pipe_system::PipeSystem};
    /// # use longlay_hydraulics::quantity::{Diameter, FittingLoss, FrictionFactor, Head, Length, Viscosity};
    /// let stated = Wall::Stated(FrictionFactor::from_number(0.02)?);
    /// let pipe = Pipe::new(Diameter::from_in(6.0)?, Length::from_ft(100.0)?, stated, FittingLoss::from_number(1.0)?)?;
    /// // Five velocity heads of 5 ft: √(64.348) = 8.0217 ft/s in 0.19635 ft², 1.5751 ft³/s.
    /// let pipes = [pipe];
    /// let flow = PipeSystem::new(&pipes, Viscosity::from_cst(1.13)?)?.flow_under(Head::from_ft(5.0)?);
    /// assert!((flow.gpm() - 706.94).abs() < 0.05);
    /// # Ok::<(), Box<dyn core::error::Error>>(())
    /// ```
    /// # Source
    /// `tp-410`.
    pub fn flow_under(&self, head: Head) -> Flow {
        let spare = |gpm: f64| {
            if gpm <= 0.0 {
                return (head.ft(), 0.0);
            }
            let loss: f64 = self.pipes.iter().map(|pipe| pipe.loss_at(gpm, self.viscosity).loss_ft).sum();
            // The slope of a squared loss: near enough for every step, and the bracket is there for the rest.
            (head.ft() - loss, -2.0 * loss / gpm)
        };
        Flow::within(largest_holding(0.0, Flow::BOUND.max, spare))
    }
}
