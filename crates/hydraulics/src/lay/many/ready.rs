//! All that is a matter of a hydrant, worked once.

use crate::band::flow_band;
use crate::lay::many::{Arrives, ManyLays};
use crate::lay::parts::Source;

/// A hydrant, ready to be asked for many lays of one template.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ready {
    pub(super) main: Arrives,
    pub(super) source: Source,
}

impl Ready {
    pub(super) fn new(many: &ManyLays, source: &Source) -> Self {
        let band = flow_band(&source.curve, &source.spread, many.problem.main_floor.psi());
        let gpm = source.curve.flow_gpm(many.problem.main_floor.psi());
        Self { main: Arrives { gpm, low_gpm: band.low }, source: *source }
    }
}
