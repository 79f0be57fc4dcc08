//! A lay question answered: load what it names, build the problem, solve it, add what the records know.

pub(crate) mod build;
mod coefficients;
mod drilled;
pub(crate) mod figures;
mod line;
mod readings;
pub(crate) mod refs;
mod request;
mod response;
mod target;
mod track_record;

use std::sync::Arc;

use chrono::NaiveDate;
use longlay_hydraulics::caution::Caution;
use longlay_hydraulics::finding::{Finding, FindingCode};
use longlay_hydraulics::lay::{Lay, LayError};
use longlay_hydraulics::quantity::PositiveFlow;
use longlay_records::hydrant::{Hydrant, Owner, Status};
use longlay_records::supply::Supply;
use longlay_store::{LayInputs, RecordKind, Town};

use crate::advice::{BasisFormula, CautionNote, FindingNote, TestRef};
use crate::app::AppState;
use crate::faults::Faults;
use crate::problem::{Problem, Slug};
use crate::streams;

pub(crate) use build::{branch, curve};
pub(crate) use drilled::{Asset, as_laid, asset_of, read_lay, uses, write_lay};
pub(crate) use line::{Diagnosis, LimitName};
pub(crate) use readings::{Gauge, PumperReading};
pub(crate) use refs::collect;
pub(crate) use refs::refs;
pub(crate) use request::{LayCalculation, LayPart, LayPumper, LaySource};
pub(crate) use response::LayAnswer;

/// Answers the question. `faults` knows whether it came in a body or in a query.
pub(crate) async fn calculate(state: &AppState, ask: &LayCalculation, faults: Faults) -> Result<LayAnswer, Problem> {
    worked(&*state.store.town().await?, state.clock.today(), ask, faults)
}

/// The same out of a state of the town, on a day: it follows from these and the question, and from nothing else.
pub(crate) fn worked(
    town: &Town,
    today: NaiveDate,
    ask: &LayCalculation,
    mut faults: Faults,
) -> Result<LayAnswer, Problem> {
    let inputs = town.lay_inputs(&refs::refs(ask), today)?;
    let target = target::target(ask, &mut faults);
    let Posed { lay, supply } = posed(ask, &inputs, target.flow, &mut faults)?;
    let lay = faults.finish(lay)?;
    let supply = supply.as_deref();
    let hydrant = inputs.supplied.as_ref().map(|supplied| &*supplied.hydrant);
    if let Some(hydrant) = hydrant {
        refuse_out_of_service(hydrant, ask.allow_out_of_service.unwrap_or(false))?;
    }
    let mut answer = LayAnswer::from(lay.answer());
    let known: Vec<_> = answer.findings.iter().map(|finding| finding.code).collect();
    let more = supply.map_or_else(|| no_body_loss(&lay), |supply| supply.findings.clone());
    let used = coefficients::used(ask, &inputs, lay.problem());
    let more = more
        .iter()
        .chain(&used.findings)
        .chain(&beyond_carried(ask, &inputs))
        .map(FindingNote::from)
        .collect::<Vec<_>>();
    // What the curve says of itself is in the answer already.
    answer.findings.extend(more.into_iter().filter(|finding| !known.contains(&finding.code)));
    let of_record = hydrant.into_iter().flat_map(record_cautions).map(CautionNote::from);
    answer.cautions.splice(..0, of_record);
    answer.flow_test = supply.map(TestRef::from);
    track_record::add(&mut answer, &inputs.drill_misses);
    if let Some(streams) = target.streams {
        answer.basis.extend(streams::BASIS.into_iter().map(BasisFormula::from));
        answer.streams = Some(streams);
    }
    answer.coefficients = used.coefficients;
    answer.basis.extend(used.formulas.into_iter().map(BasisFormula::from));
    Ok(answer)
}

/// A question ready to be solved.
pub(crate) struct Posed {
    /// The lay; none where a fault is noted.
    pub(crate) lay: Option<Lay>,
    /// The stored hydrant's supply, where the source is one and its tests give it.
    pub(crate) supply: Option<Arc<Supply>>,
}

/// The lay to work with, towards a flow wanted.
///
/// An error where nothing is wrong with the question and the answer is that there is no data.
pub(crate) fn posed(
    ask: &LayCalculation,
    inputs: &LayInputs,
    target: Option<PositiveFlow>,
    faults: &mut Faults,
) -> Result<Posed, Problem> {
    name_missing(ask, inputs, faults);
    let (supply, none) = match inputs.supplied.as_ref().map(|supplied| &supplied.supply) {
        Some(Ok(supply)) => (Some(Arc::clone(supply)), None),
        Some(Err(none)) => (None, Some(none)),
        None => (None, None),
    };
    let problem = build::problem(ask, inputs, supply.as_deref(), target, faults);
    if let (None, Some(none), true) = (&problem, none, faults.is_empty()) {
        return Err(Problem::new(Slug::NoFlowTest, none.to_string()));
    }
    let lay = problem.and_then(|problem| Lay::new(problem).map_err(|error| note_lay(error, faults)).ok());
    Ok(Posed { lay, supply })
}

/// What the question names at its top and the store does not have.
fn name_missing(ask: &LayCalculation, inputs: &LayInputs, faults: &mut Faults) {
    let named = [
        ("/source/hydrant_id", RecordKind::Hydrant, &ask.source.hydrant_id, inputs.supplied.is_some()),
        ("/lay_profile_id", RecordKind::LayProfile, &ask.lay_profile_id, inputs.lay_profile.is_some()),
    ];
    for (pointer, kind, id, found) in named {
        if let (Some(id), false) = (id, found) {
            faults.note(pointer, "unknown_reference", format!("there is no {kind} {id}"));
        }
    }
}

fn note_lay(error: LayError, faults: &mut Faults) {
    let (pointer, code) = match error {
        LayError::Empty => ("/parts".to_owned(), "empty_lay"),
        LayError::TooManyParts => ("/parts".to_owned(), "too_many"),
        LayError::SecondValve(part) => (format!("/parts/{part}"), "second_hydrant_valve"),
        LayError::RiseBesideRisePart(_) => ("/rise_ft".to_owned(), "beside_rise_part"),
        LayError::BoostBesidePumper(_) => ("/boost".to_owned(), "beside_pumper_part"),
        LayError::BranchCount(part) => (format!("/parts/{part}/branches"), "branch_count"),
        LayError::TooManyBranchParts(part) => (format!("/parts/{part}/branches"), "too_many"),
        LayError::NothingToStretch => ("/parts".to_owned(), "nothing_to_stretch"),
        LayError::SecondToStretch(part) => (format!("/parts/{part}"), "second_to_stretch"),
        LayError::BranchWithoutHose { part, branch } => {
            (format!("/parts/{part}/branches/{branch}/parts"), "branch_without_hose")
        }
    };
    faults.note(&pointer, code, error.to_string());
}

/// A hydrant out of service answers only where that was asked for.
pub(crate) fn refuse_out_of_service(hydrant: &Hydrant, allowed: bool) -> Result<(), Problem> {
    match &hydrant.status {
        Status::OutOfService { reason } if !allowed => {
            let why = reason.as_ref().map_or_else(String::new, |reason| format!(": {reason}"));
            Err(Problem::new(Slug::HydrantOutOfService, format!("hydrant {} is out of service{why}", hydrant.id)))
        }
        _ => Ok(()),
    }
}

/// What a hydrant's record adds to the cautions.
pub(crate) fn record_cautions(hydrant: &Hydrant) -> Vec<Caution> {
    let when = [
        (Caution::OutOfService, matches!(hydrant.status, Status::OutOfService { .. })),
        (Caution::NonPotable, !hydrant.potable),
        (Caution::Private, hydrant.owner == Owner::Private),
        (Caution::Seasonal, hydrant.seasonal),
    ];
    when.into_iter().filter_map(|(caution, applies)| applies.then_some(caution)).collect()
}

/// A source given as numbers has no loss of the hydrant's body unless it is given too.
fn no_body_loss(lay: &Lay) -> Vec<Finding> {
    let given = lay.problem().source.body_loss.is_some();
    if given { Vec::new() } else { vec![Finding::plain(FindingCode::NoBodyLoss)] }
}

fn beyond_carried(ask: &LayCalculation, inputs: &LayInputs) -> Option<Finding> {
    let over = ask.length_ft? - inputs.lay_profile.as_ref()?.carried.ft();
    (over > 0.0).then(|| Finding::new(FindingCode::BeyondCarriedHose, over))
}
