//! What an import does that whoever sent the file may not mean: a row is the whole record, and a list that is older than what stands
//! here takes back what was learnt since.

use longlay_records::hydrant::{Hydrant, Status};
use longlay_records::surroundings::Misplaced;

use super::arriving::Standing;
use super::batch::{Judged, Refusal, Verdict};

/// What was said to be meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Terms {
    /// Hydrants that are out of service may be put back in service. A crew is told that such a hydrant works, so it has to be said.
    pub return_to_service: bool,
}

/// Something that should be known of what an import does to a record.
#[derive(Debug, Clone, PartialEq)]
pub enum Notice {
    /// A hydrant that was out of service, for this reason where it was said, may be counted on again.
    ReturnsToService(Option<String>),
    /// A hydrant that was retired comes back.
    ReturnsFromRetirement,
    /// A hydrant that could be counted on no longer can.
    LeavesService,
    /// A hydrant that is shut for part of the year is counted on all year: so it is read where a file has no such column.
    NoLongerSeasonal,
    /// A hydrant stands far from the others.
    FarFromOthers(Misplaced),
    /// These members had a value and have none any more.
    Empties(Vec<&'static str>),
}

/// Of a hydrant, against the one that stands there.
pub(super) fn of_hydrant(hydrant: &Hydrant, there: &Standing<Hydrant>) -> Vec<Notice> {
    let mut notices = Vec::new();
    if there.retired {
        notices.push(Notice::ReturnsFromRetirement);
    }
    match (&there.record.status, &hydrant.status) {
        (Status::OutOfService { reason }, Status::InService) => notices.push(Notice::ReturnsToService(reason.clone())),
        (Status::InService, Status::OutOfService { .. }) if !there.retired => notices.push(Notice::LeavesService),
        _ => {}
    }
    if there.record.seasonal && !hydrant.seasonal {
        notices.push(Notice::NoLongerSeasonal);
    }
    let emptied = emptied(&there.record, hydrant);
    if !emptied.is_empty() {
        notices.push(Notice::Empties(emptied));
    }
    notices
}

/// The members that have a value before and none after.
fn emptied(before: &Hydrant, after: &Hydrant) -> Vec<&'static str> {
    let had = |is_there: fn(&Hydrant) -> bool| is_there(before) && !is_there(after);
    // Why it was out of service goes with its being so.
    let reason = |hydrant: &Hydrant| matches!(&hydrant.status, Status::OutOfService { reason: Some(_) });
    let loses_reason = matches!(after.status, Status::OutOfService { .. }) && had(reason);
    let members = [
        ("elevation_ft", had(|hydrant| hydrant.elevation.is_some())),
        ("outlets", had(|hydrant| !hydrant.outlets.is_empty())),
        ("body_loss_coefficient", had(|hydrant| hydrant.body_loss.is_some())),
        ("main_id", had(|hydrant| hydrant.main_id.is_some())),
        ("main_diameter_in", had(|hydrant| hydrant.main_diameter.is_some())),
        ("pressure_zone", had(|hydrant| hydrant.pressure_zone.is_some())),
        ("out_of_service_reason", loses_reason),
        ("description", had(|hydrant| hydrant.description.is_some())),
    ];
    members.into_iter().filter(|(_, lost)| *lost).map(|(member, _)| member).collect()
}

/// Refuses what has to be said and was not.
pub(super) fn settle(judged: &mut Judged, hydrants: &[Hydrant], terms: Terms) {
    if terms.return_to_service {
        return;
    }
    for (index, notice) in &judged.notices {
        let Notice::ReturnsToService(reason) = notice else { continue };
        if let (Some(verdict), Some(hydrant)) = (judged.verdicts.get_mut(*index), hydrants.get(*index)) {
            *verdict = Verdict::Refuse(vec![Refusal::ReturnsToService(hydrant.id.clone(), reason.clone())]);
        }
    }
}
