//! A relay question answered: load what it names, build the problem, place the pumpers, add what the records know.

pub(crate) mod build;
mod request;
mod response;

use longlay_hydraulics::finding::{Finding, FindingCode};
use longlay_hydraulics::relay::RelaySource;
use longlay_records::supply::Supply;
use longlay_store::{LayRefs, RecordKind};

use crate::advice::{CautionNote, FindingNote, TestRef};
use crate::app::AppState;
use crate::faults::Faults;
use crate::lay::{record_cautions, refs, refuse_out_of_service};
use crate::problem::{Problem, Slug};

pub(crate) use request::{DraftPlace, RelayQuestion};
pub(crate) use response::RelayAnswer;

/// Answers the question.
pub(crate) async fn calculate(state: &AppState, ask: &RelayQuestion) -> Result<RelayAnswer, Problem> {
    let mut faults = Faults::of_body();
    let inputs = state.store.lay_inputs(&named(ask), state.clock.today()).await?;
    if let (Some(id), None) = (&ask.source.hydrant_id, &inputs.supplied) {
        let detail = format!("there is no {} {id}", RecordKind::Hydrant);
        faults.note("/source/hydrant_id", "unknown_reference", detail);
    }
    let hydrant = inputs.supplied.as_ref().map(|supplied| &*supplied.hydrant);
    let found = inputs.supplied.as_ref().map(|supplied| &supplied.supply);
    let supply = found.and_then(|found| found.as_deref().ok());
    let asked = build::asked(ask, &inputs, supply, &mut faults);
    // Nothing is wrong with the question where the answer is that there is no data.
    if let (None, Some(Err(none)), true) = (&asked, found, faults.is_empty()) {
        return Err(Problem::new(Slug::NoFlowTest, none.to_string()));
    }
    let solved = asked.and_then(|asked| {
        let answer = match asked.constant {
            Some(discharge) => asked.problem.constant_pressure(discharge),
            None => asked.problem.maximum_distance(),
        };
        faults.good("", answer).map(|answer| (asked, answer))
    });
    let (asked, answer) = faults.finish(solved)?;
    if let Some(hydrant) = hydrant {
        refuse_out_of_service(hydrant, ask.allow_out_of_service.unwrap_or(false))?;
    }
    let known: Vec<_> = answer.findings.iter().map(|finding| finding.code).collect();
    let mut shaped = RelayAnswer::of(&asked.problem, &answer);
    let more = of_source(ask, &asked.problem.source, supply);
    shaped.findings.extend(more.iter().filter(|finding| !known.contains(&finding.code)).map(FindingNote::from));
    shaped.cautions.splice(..0, hydrant.into_iter().flat_map(record_cautions).map(CautionNote::from));
    shaped.flow_test = supply.map(TestRef::from);
    Ok(shaped)
}

/// Everything named, to be loaded at once.
fn named(ask: &RelayQuestion) -> LayRefs {
    let mut named = LayRefs { hydrant_id: refs::id(ask.source.hydrant_id.as_deref()), ..LayRefs::default() };
    refs::add(&mut named.hose_type_ids, ask.hose.hose_type_id.as_deref());
    for pumper in ask.pumpers.iter().flatten().chain(&ask.typical_pumper) {
        refs::add(&mut named.pumper_ids, pumper.pumper_id.as_deref());
    }
    named
}

/// What is weak about the water.
fn of_source(ask: &RelayQuestion, source: &RelaySource, supply: Option<&Supply>) -> Vec<Finding> {
    match (source, &ask.source.draft, supply) {
        (RelaySource::Draft(draft), Some(place), _) => build::draft_findings(place, draft),
        (_, _, Some(supply)) => supply.findings.clone(),
        (RelaySource::Hydrant { source, .. }, ..) if source.body_loss.is_none() => {
            vec![Finding::plain(FindingCode::NoBodyLoss)]
        }
        _ => Vec::new(),
    }
}
