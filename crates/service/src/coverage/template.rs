//! The lay of a run, with what the records say of its hose, valve and pumper.

use longlay_hydraulics::lay::LayProblem;
use longlay_store::LayInputs;

use crate::faults::Faults;
use crate::lay::{LayCalculation, LayPumper, LaySource, posed};
use crate::problem::Problem;

/// The lay over all the hose that its profile carries, boosted where there is a pumper. Its source is a placeholder: each hydrant takes its place.
pub(crate) fn template(
    lay_profile_id: &str,
    boost_pumper_id: Option<&str>,
    inputs: &LayInputs,
    mut faults: Faults,
) -> Result<LayProblem, Problem> {
    let pumper = |id: &str| LayPumper { pumper_id: Some(id.to_owned()), ..LayPumper::default() };
    let ask = LayCalculation {
        source: LaySource {
            static_psi: Some(60.0),
            residual_psi: Some(40.0),
            flow_gpm: Some(500.0),
            ..LaySource::default()
        },
        lay_profile_id: Some(lay_profile_id.to_owned()),
        boost: boost_pumper_id.map(pumper),
        ..LayCalculation::default()
    };
    let posed = posed(&ask, inputs, None, &mut faults)?;
    let lay = faults.finish(posed.lay)?;
    Ok(lay.problem().clone())
}
