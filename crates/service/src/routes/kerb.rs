//! What a test just read is worth, as it goes out on the kerb.

use std::collections::BTreeSet;

use longlay_hydraulics::caution::Caution;
use longlay_records::flow_test::FlowTest;
use longlay_records::id::AssetId;
use longlay_records::kerb::{self, OpenNext};
use longlay_store::{RecordKind, StoreError};
use serde::Serialize;
use utoipa::ToSchema;

use crate::advice::{CautionNote, FindingNote, FlowBand};
use crate::app::AppState;
use crate::lay::record_cautions;
use crate::problem::Problem;
use crate::routes::flow_test_record::{FlowTestRecord, gauged_at, no_curve};
use crate::routes::flow_tests::refused;
use crate::routes::hydrants::Outlet;

/// A flow test as it would be recorded, and what to do on the kerb. Nothing is stored: its id names no test.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FlowTestDryRun {
    /// The test.
    #[serde(flatten)]
    test: FlowTestRecord,
    /// What it is worth, and what to open next.
    kerb: KerbNote,
}

/// What a test just read is worth, and what to do before the hydrants are shut.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct KerbNote {
    /// How far the gauge fell at the most that flowed.
    drop_psi: f64,
    /// The same, of the static.
    drop_percent: f64,
    /// Whether it fell by a tenth of the static, under which a test is worth next to nothing.
    enough: bool,
    /// Whether it fell by a quarter, which is better.
    good: bool,
    /// What to do.
    advice: KerbAdvice,
    /// Close before the gauge falls under this.
    stop_at_psi: f64,
    /// How far the rated flow may be off now; around the proved flow where the gauge has not moved.
    rated_flow_band_gpm: FlowBand,
    /// What would have to flow for a drop of a quarter, or down to `stop_at_psi` where that comes first; null where the gauge has not moved.
    #[schema(required = true)]
    wanted_flow_gpm: Option<f64>,
    /// How much more that is.
    #[schema(required = true)]
    more_flow_gpm: Option<f64>,
    /// What to open next; null where nothing is to be opened, or nothing is known that could be.
    #[schema(required = true)]
    open_next: Option<OpenNextNote>,
    /// What the people must know.
    cautions: Vec<CautionNote>,
}

/// What to do.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct KerbAdvice {
    /// Stable code: `stop`, `near_floor`, `record`, `open_next`, `would_reach_floor`, `flow_more`.
    code: &'static str,
    /// The same in words, after what of the readings is to be looked at first.
    message: String,
}

/// An outlet to open, and what to expect of it: that it flows as those that flow already do on the mean. A large outlet flows less.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct OpenNextNote {
    /// The hydrant it is on.
    hydrant_id: String,
    /// The outlet.
    outlet: Outlet,
    /// What then flows in all.
    expected_flow_gpm: f64,
    /// What the gauge then reads; null where it has not moved yet.
    #[schema(required = true)]
    expected_residual_psi: Option<f64>,
    /// What it reads at the least: with the largest pitot read, or all the gauge shows where none is read beside it, and the gauge off by its span.
    expected_residual_low_psi: f64,
    /// How far the rated flow may be off then; null where the gauge has not moved yet.
    #[schema(required = true)]
    expected_rated_flow_band_gpm: Option<FlowBand>,
}

/// What recording the test would answer, and the advice.
pub(crate) async fn dry_run(app: &AppState, test: FlowTest) -> Result<FlowTestDryRun, Problem> {
    let asked: BTreeSet<AssetId> = test.flow_hydrant_ids.iter().chain([&test.gauge_hydrant_id]).cloned().collect();
    let mut found = app.store.hydrants_of(&asked).await?;
    let missing: Vec<_> = asked.iter().filter(|id| !found.contains_key(id)).collect();
    if !missing.is_empty() {
        let missing = missing.into_iter().map(|id| (RecordKind::Hydrant, id.to_string())).collect();
        return Err(refused(StoreError::UnknownReferences(missing), &test));
    }
    let flowed: Vec<_> = test.flow_hydrant_ids.iter().filter_map(|id| found.get(id)).cloned().collect();
    let of_record = found.remove(&test.gauge_hydrant_id).as_ref().map_or_else(Vec::new, record_cautions);
    let others = gauged_at(app, &test.gauge_hydrant_id).await?;
    let said = kerb::kerb(&test, &flowed, &others).ok_or_else(|| no_curve(&test))?;
    let cautions = [Caution::MainFloor, Caution::OpenSlowly, Caution::LocalProcedures].into_iter().chain(of_record);
    let next = said.open_next.as_ref();
    let checks: Vec<_> = said.checks.iter().map(|check| FindingNote::from(check).message).collect();
    let advice = format!("{}{}", said.advice.text(), next.map_or_else(String::new, in_words));
    let kerb = KerbNote {
        drop_psi: said.drop_psi,
        drop_percent: said.drop_percent,
        enough: said.enough,
        good: said.good,
        advice: KerbAdvice {
            code: said.advice.code(),
            message: checks.into_iter().chain([advice]).collect::<Vec<_>>().join(" "),
        },
        stop_at_psi: kerb::FLOOR_PSI,
        rated_flow_band_gpm: (&said.band).into(),
        wanted_flow_gpm: said.wanted_gpm,
        more_flow_gpm: said.more_gpm,
        open_next: next.map(OpenNextNote::from),
        cautions: cautions.map(CautionNote::from).collect(),
    };
    Ok(FlowTestDryRun { test: FlowTestRecord::among(test, &others)?, kerb })
}

impl From<&OpenNext> for OpenNextNote {
    fn from(next: &OpenNext) -> Self {
        Self {
            hydrant_id: next.hydrant_id.to_string(),
            outlet: (&next.outlet).into(),
            expected_flow_gpm: next.flow_gpm,
            expected_residual_psi: next.residual_psi,
            expected_residual_low_psi: next.residual_low_psi,
            expected_rated_flow_band_gpm: next.band.as_ref().map(FlowBand::from),
        }
    }
}

/// Which outlet, and what the gauge will read; pressures rounded down.
fn in_words(next: &OpenNext) -> String {
    let (inches, hydrant, low) = (next.outlet.diameter.inches(), &next.hydrant_id, next.residual_low_psi.floor());
    match next.residual_psi {
        Some(psi) => format!(
            " Next: the {inches} in outlet of {hydrant}. Expect about {:.0} psi on the gauge, and seldom less than {low:.0}.",
            psi.floor()
        ),
        None => {
            format!(" Next: the {inches} in outlet of {hydrant}. Expect seldom less than {low:.0} psi on the gauge.")
        }
    }
}
