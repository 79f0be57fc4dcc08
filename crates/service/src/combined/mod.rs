//! Several lines to one scene answered: each line as a lay by itself, then all of them together.

mod request;
mod response;

use longlay_hydraulics::lay::combined::{
    Combined, CombinedError, CombinedProblem, MAX_SUPPLY_LINES, Mains, SupplyLine,
};
use longlay_hydraulics::quantity::PositiveFlow;
use longlay_records::hydrant::Hydrant;
use longlay_store::LayInputs;

use crate::app::AppState;
use crate::faults::Faults;
use crate::lay::{Posed, posed, refs, refuse_out_of_service};
use crate::pools::off_thread;
use crate::problem::Problem;

pub(crate) use request::CombinedAsk;
use request::{CombinedLine, MainsName};
pub(crate) use response::CombinedSupply;
use response::{MainsFrom, RecordedLine};

/// Answers the question.
pub(crate) async fn answer(state: &AppState, ask: &CombinedAsk) -> Result<CombinedSupply, Problem> {
    if ask.lines.len() > MAX_SUPPLY_LINES {
        let mut faults = Faults::of_body();
        note(CombinedError::LineCount, &mut faults);
        // Before anything is loaded for them: a body has room for thousands.
        return faults.finish(None);
    }
    let named: Vec<_> = ask.lines.iter().map(|line| refs(&line.lay)).collect();
    let town = state.store.town().await?;
    let today = state.clock.today();
    let inputs = named.iter().map(|refs| town.lay_inputs(refs, today)).collect::<Result<Vec<_>, _>>()?;
    let mut faults = Faults::of_body();
    let target = faults.optional("/target_flow_gpm", ask.target_flow_gpm, PositiveFlow::from_gpm);
    let (lines, recorded) = lines(ask, &inputs, &mut faults)?;
    let (mains, from) = mains(ask, &inputs);
    let problem = lines.zip(target).map(|(lines, target)| CombinedProblem { lines, mains, target });
    let combined = problem.and_then(|problem| Combined::new(problem).map_err(|error| note(error, &mut faults)).ok());
    let combined = faults.finish(combined)?;
    for (line, inputs) in ask.lines.iter().zip(&inputs) {
        if let Some(hydrant) = hydrant(inputs) {
            refuse_out_of_service(hydrant, line.lay.allow_out_of_service.unwrap_or(false))?;
        }
    }
    // Many lines with many steps are work for more than a moment: no other request waits for it.
    let solved = off_thread(move || combined.answer()).await?;
    Ok(CombinedSupply::new(&solved, &recorded, (mains, from)))
}

/// Each line as a lay by itself, or none with every fault noted at its line; and what the records say of its hydrant.
fn lines(
    ask: &CombinedAsk,
    inputs: &[LayInputs],
    faults: &mut Faults,
) -> Result<(Option<Vec<SupplyLine>>, Vec<RecordedLine>), Problem> {
    let (mut found, mut recorded) = (Vec::with_capacity(ask.lines.len()), Vec::with_capacity(ask.lines.len()));
    for (i, (line, inputs)) in ask.lines.iter().zip(inputs).enumerate() {
        let mut own = Faults::of_body();
        let hydrant = hydrant_of(&ask.lines, i, &mut own);
        line.refuse_wishes(&mut own);
        let mut of_lay = Faults::of_body();
        let Posed { lay, supply } = posed(&line.lay, inputs, None, &mut of_lay)?;
        own.within("/lay", of_lay);
        faults.within(&format!("/lines/{i}"), own);
        found.push(lay.zip(hydrant).map(|(lay, hydrant)| SupplyLine { hydrant, problem: lay.problem().clone() }));
        let no_body_loss = supply.is_none() && line.lay.source.body_loss_coefficient.is_none();
        recorded.push(RecordedLine { hydrant: self::hydrant(inputs).cloned(), supply, no_body_loss });
    }
    Ok((found.into_iter().collect(), recorded))
}

/// The first line of the hydrant that a line leaves.
fn hydrant_of(lines: &[CombinedLine], i: usize, faults: &mut Faults) -> Option<usize> {
    if let Some(other) = lines[i].same_hydrant_as {
        if other >= i {
            return faults.add("/same_hydrant_as", "out_of_bounds", "names a line before this one, counted from 0");
        }
        return hydrant_of(lines, other, &mut Faults::of_body());
    }
    let id = &lines[i].lay.source.hydrant_id;
    let same = lines[..i].iter().position(|before| id.is_some() && before.lay.source.hydrant_id == *id);
    Some(same.unwrap_or(i))
}

/// What was said of the mains, else what the records say, else that they are not known.
fn mains(ask: &CombinedAsk, inputs: &[LayInputs]) -> (Mains, MainsFrom) {
    match ask.mains {
        Some(MainsName::Shared) => return (Mains::Shared, MainsFrom::Given),
        Some(MainsName::Separate) => return (Mains::Separate, MainsFrom::Given),
        Some(MainsName::Unknown) => return (Mains::Unknown, MainsFrom::Given),
        None => {}
    }
    let hydrants: Option<Vec<&Hydrant>> = inputs.iter().map(hydrant).collect();
    let Some(hydrants) = hydrants else { return (Mains::Unknown, MainsFrom::NotKnown) };
    let pairs = || hydrants.iter().enumerate().flat_map(|(i, a)| hydrants[..i].iter().map(move |b| (*a, *b)));
    if pairs().all(|(a, b)| a.id == b.id || a.main_id.is_some() && a.main_id == b.main_id) {
        return (Mains::Shared, MainsFrom::Record);
    }
    // Two mains of one zone are fed alike and may be one system: only another zone is another source.
    let apart = |(a, b): (&Hydrant, &Hydrant)| {
        let zones = a.pressure_zone.as_ref().zip(b.pressure_zone.as_ref()).is_some_and(|(a, b)| a != b);
        let mains = a.main_id.as_ref().zip(b.main_id.as_ref()).is_some_and(|(a, b)| a != b);
        zones && mains
    };
    if pairs().filter(|(a, b)| a.id != b.id).all(apart) {
        return (Mains::Separate, MainsFrom::Record);
    }
    (Mains::Unknown, MainsFrom::NotKnown)
}

fn hydrant(inputs: &LayInputs) -> Option<&Hydrant> {
    inputs.supplied.as_ref().map(|supplied| &*supplied.hydrant)
}

fn note(error: CombinedError, faults: &mut Faults) {
    let (pointer, code) = match error {
        CombinedError::LineCount => ("/lines".to_owned(), "out_of_bounds"),
        CombinedError::SourceDiffers(line) => (format!("/lines/{line}/lay/source"), "source_differs"),
        // Each line was a lay by itself before.
        CombinedError::Lay { line, .. } => (format!("/lines/{line}"), "no_lay"),
    };
    faults.note(&pointer, code, error.to_string());
}
