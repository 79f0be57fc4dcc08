//! The flow wanted at the scene: a number, or what streams flow together.

use longlay_hydraulics::quantity::PositiveFlow;

use crate::faults::Faults;
use crate::lay::request::LayCalculation;
use crate::streams::{StreamTotals, together};

/// What is wanted; nothing where nothing is, or where it is at fault, which is noted.
#[derive(Debug, Default)]
pub(super) struct Target {
    pub(super) flow: Option<PositiveFlow>,
    pub(super) streams: Option<StreamTotals>,
}

/// What the question wants.
pub(super) fn target(ask: &LayCalculation, faults: &mut Faults) -> Target {
    match (ask.target_flow_gpm, &ask.streams) {
        (Some(_), Some(_)) => {
            faults.note("/streams", "exactly_one_of", "give target_flow_gpm or streams, not both");
            Target::default()
        }
        (gpm, None) => {
            let flow = faults.optional("/target_flow_gpm", gpm, PositiveFlow::from_gpm).flatten();
            Target { flow, streams: None }
        }
        (None, Some(asked)) => {
            let (flow, streams) = together("/streams", asked, faults).unzip();
            Target { flow, streams }
        }
    }
}
