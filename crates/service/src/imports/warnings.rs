//! What an import may do against the meaning of whoever sends it, and what is weak about the tests it brings: told, the weightiest first.

use std::collections::HashSet;

use longlay_hydraulics::finding::Severity;
use longlay_records::demand::DemandPoint;
use longlay_records::surroundings::Misplaced;
use longlay_store::{ArrivingTest, Batch, Imported, Notice};
use serde::Serialize;
use utoipa::ToSchema;

use super::arrived::Arrived;
use crate::advice::FindingNote;
use crate::routes::flow_test_record::findings;

/// How late it comes that a place is only inside an area.
const PLACED_INSIDE: u8 = 6;
/// Most warnings told; the others are counted.
const MOST_TOLD: usize = 20;

/// Something to be looked at in what an import did, or would do.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct ImportWarning {
    /// The row, as a spreadsheet shows it.
    pub(crate) row: u64,
    /// The hydrant, demand point or street; of a flow test the gauge hydrant.
    pub(crate) id: String,
    /// Stable code: `returns_to_service`, `returns_from_retirement`, `far_from_others`, `no_longer_seasonal`, `leaves_service` or `empties`, or
    /// of a flow test the code of its finding; `placed_inside` of a demand point that stands inside an area.
    pub(crate) code: &'static str,
    /// What it is.
    pub(crate) detail: String,
}

/// Those told, and how many there are.
pub(super) fn warnings(arrived: &Arrived, imported: &Imported) -> (Vec<ImportWarning>, usize) {
    let mut weighed = match &arrived.batch {
        Batch::Hydrants(hydrants) => {
            let about = imported.notices.iter().filter_map(|(index, notice)| {
                let (weight, code, detail) = told(notice);
                let id = hydrants.get(*index)?.id.to_string();
                Some((weight, ImportWarning { row: arrived.row(*index), id, code, detail }))
            });
            about.collect()
        }
        Batch::DemandPoints(points) => of_demand_points(arrived, imported, points),
        Batch::FlowTests(tests) => of_tests(arrived, imported, tests),
        _ => Vec::new(),
    };
    let count = weighed.len();
    weighed.sort_by_key(|(weight, warning)| (*weight, warning.row));
    (weighed.into_iter().take(MOST_TOLD).map(|(_, warning)| warning).collect(), count)
}

/// How early a notice comes, its code and its sentence.
fn told(notice: &Notice) -> (u8, &'static str, String) {
    match notice {
        Notice::ReturnsToService(reason) => {
            let reason = reason.as_deref().map(|reason| format!(" ({reason})")).unwrap_or_default();
            (0, "returns_to_service", format!("it was out of service{reason}, and crews are told that it works"))
        }
        Notice::ReturnsFromRetirement => (1, "returns_from_retirement", "it was retired, and comes back".to_owned()),
        Notice::FarFromOthers(Misplaced { miles, looks_exchanged }) => {
            let look = if *looks_exchanged { "lon and lat look exchanged" } else { "look at lon and lat" };
            (2, "far_from_others", format!("it stands {miles:.0} miles from the middle of the others: {look}"))
        }
        Notice::NoLongerSeasonal => {
            let detail =
                "it was shut for part of the year, and is counted on all year: a file without the column says no";
            (3, "no_longer_seasonal", detail.to_owned())
        }
        Notice::LeavesService => (4, "leaves_service", "it was in service, and is out of it".to_owned()),
        Notice::Empties(members) => {
            let detail = format!(
                "a row is the whole record, and this one leaves empty what had a value: {}",
                members.join(", ")
            );
            (5, "empties", detail)
        }
    }
}

/// Those of the store, and last the places that are only inside an area that the file gave.
fn of_demand_points(arrived: &Arrived, imported: &Imported, points: &[DemandPoint]) -> Vec<(u8, ImportWarning)> {
    let warning = |index: usize, weight, code, detail: String| {
        let id = points.get(index)?.id.to_string();
        Some((weight, ImportWarning { row: arrived.row(index), id, code, detail }))
    };
    let told = imported.notices.iter().filter_map(|(index, notice)| {
        let (weight, code, detail) = told(notice);
        warning(*index, weight, code, detail)
    });
    let inside = arrived.of_area.iter().filter_map(|index| {
        warning(
            *index,
            PLACED_INSIDE,
            "placed_inside",
            "the file gives an area: it stands at a place inside it".to_owned(),
        )
    });
    told.chain(inside).collect()
}

/// What is said against the tests that are recorded, as when each comes alone; what is only good to know is left to the test itself.
fn of_tests(arrived: &Arrived, imported: &Imported, tests: &[ArrivingTest]) -> Vec<(u8, ImportWarning)> {
    let skipped: HashSet<_> = imported.skipped.iter().collect();
    let mut weighed = Vec::new();
    for (index, ArrivingTest { test, .. }) in tests.iter().enumerate() {
        if skipped.contains(&index) || test.voided.is_some() {
            continue;
        }
        let found = test.curve().map(|of| findings(test, &of)).unwrap_or_default();
        for finding in found {
            let weight = match finding.code.severity() {
                Severity::Serious => 0,
                Severity::Weak => 1,
                Severity::Note => continue,
            };
            let FindingNote { code, message, .. } = FindingNote::from(&finding);
            let id = test.gauge_hydrant_id.to_string();
            weighed.push((weight, ImportWarning { row: arrived.row(index), id, code, detail: message }));
        }
    }
    weighed
}
