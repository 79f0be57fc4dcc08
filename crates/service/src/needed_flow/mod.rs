//! A needed flow answered: by the method asked for, and perhaps against the lay that is to bring it.

mod build;
mod request;
mod response;

use longlay_hydraulics::quantity::PositiveFlow;

use crate::app::AppState;
use crate::faults::Faults;
use crate::lay::{LayCalculation, calculate};
use crate::problem::Problem;

pub(crate) use request::{BuildingTypeName, EditionName, NeededFlowAsk, SprinklersName};
pub(crate) use response::NeededFlowAnswer;

/// Answers the question.
pub(crate) async fn answer(state: &AppState, ask: &NeededFlowAsk) -> Result<NeededFlowAnswer, Problem> {
    let mut faults = Faults::of_body();
    let found = build::found(ask, &mut faults);
    let Some(lay) = &ask.lay else {
        return faults.finish(found).map(|found| NeededFlowAnswer::new(ask, found, None));
    };
    let need_gpm = found.as_ref().map(|found| found.gpm);
    let lay = wanting(lay, need_gpm, &mut faults);
    // The faults of the building are refused together with those of the lay.
    let lay = calculate(state, &lay, faults.inside("/lay")).await?;
    Faults::of_body().finish(found).map(|found| NeededFlowAnswer::new(ask, found, Some(lay)))
}

/// The lay with the needed flow as the flow wanted.
fn wanting(lay: &LayCalculation, need_gpm: Option<f64>, faults: &mut Faults) -> LayCalculation {
    let own = [("/lay/target_flow_gpm", lay.target_flow_gpm.is_some()), ("/lay/streams", lay.streams.is_some())];
    for (pointer, _) in own.into_iter().filter(|(_, given)| *given) {
        faults.note(pointer, "beside_needed_flow", "the flow wanted of this lay is the needed flow");
    }
    let need = need_gpm.and_then(|gpm| match PositiveFlow::from_gpm(gpm) {
        Ok(need) => Some(need.gpm()),
        Err(error) => {
            faults.add("/lay", "needed_flow_out_of_bounds", format!("no lay is asked for the needed flow: {error}"))
        }
    });
    LayCalculation { target_flow_gpm: need, streams: None, ..lay.clone() }
}
