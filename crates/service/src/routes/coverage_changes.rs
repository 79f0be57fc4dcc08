//! Two coverage runs side by side: which demand points changed, and whether it was the data or what was asked.

use std::collections::BTreeMap;

use axum::extract::State;
use longlay_coverage::cause::CauseCode;
use longlay_records::id::AssetId;
use longlay_store::{CoverageRun, OutcomeQuery, PointOutcome, StoreError};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;
use uuid::Uuid;

use crate::app::AppState;
use crate::coverage::causes::CauseName;
use crate::coverage::fingerprint::Fingerprint;
use crate::coverage::settings::CoverageSettings;
use crate::extract::{Json, Path, Query};
use crate::problem::{Problem, ProblemDocument};
use crate::routes::coverage_gaps::done;
use crate::routes::coverage_run_record::kept;

/// Outcomes of each run read at a time.
const AT_ONCE: u32 = 5000;
/// Most demand points told one by one.
const MOST_TOLD: usize = 1000;

/// With which run to compare.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct CoverageChangesQuery {
    /// The earlier run.
    since: Uuid,
}

/// What changed from one run to another.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CoverageChanges {
    /// The earlier run.
    since: Uuid,
    /// The later one.
    until: Uuid,
    /// Members of the settings that were asked otherwise, but for how many remedies; empty where the same was asked.
    settings_changed: Vec<String>,
    /// Kinds of data that changed: `streets`, `demand_points`, `hydrants`, `districts`, `equipment`; empty where none did.
    data_changed: Vec<&'static str>,
    /// What stands behind every change: `nothing`, `data`, `settings`, or `both`, which cannot be told apart point by point.
    because_of: ChangedBy,
    /// How many demand points went from each cause to each other.
    moves: Vec<CauseMove>,
    /// Demand points that only the earlier run has.
    gone_count: u64,
    /// Demand points that only the later run has.
    new_count: u64,
    /// The demand points whose cause changed, by ascending id, at most 1000.
    points: Vec<ChangedPoint>,
}

/// What changed between two runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum ChangedBy {
    /// The same was asked of the same data.
    Nothing,
    /// The records.
    Data,
    /// What was asked.
    Settings,
    /// Both.
    Both,
}

/// Demand points that went from one cause to another.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CauseMove {
    /// What it was.
    from: CauseName,
    /// What it is.
    to: CauseName,
    /// How many went so.
    count: u64,
}

/// A demand point whose cause changed.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ChangedPoint {
    /// Which.
    demand_point_id: String,
    /// What it was.
    from: CauseName,
    /// What it is.
    to: CauseName,
    /// What was missing; null without a need.
    #[schema(required = true)]
    shortfall_before_gpm: Option<f64>,
    /// What is missing; null without a need.
    #[schema(required = true)]
    shortfall_gpm: Option<f64>,
}

/// Compare two coverage runs
///
/// Which demand points changed their cause since an earlier run, and whether data or settings did it: make a run with the old settings on the new data to
/// tell the two apart where both changed.
#[utoipa::path(get, path = "/v1/coverage-runs/{coverage_run_id}/changes", tag = "coverage",
    params(("coverage_run_id" = Uuid, Path, description = "The later run"), CoverageChangesQuery),
    responses(
        (status = 200, description = "What changed", body = CoverageChanges),
        (status = 409, description = "One of the runs has not come to its end (`coverage-run-not-done`)", body = ProblemDocument,
            content_type = "application/problem+json")
    ))]
pub(crate) async fn get_coverage_changes(
    State(app): State<AppState>,
    Path(id): Path<Uuid>,
    Query(query): Query<CoverageChangesQuery>,
) -> Result<Json<CoverageChanges>, Problem> {
    let (before, after) = (done(&app, query.since).await?, done(&app, id).await?);
    let (settings_changed, mut data_changed) = (settings_changed(&before, &after)?, data_changed(&before, &after)?);
    if settings_changed.iter().any(|name| name == "lay_profile_id" || name == "boost_pumper_id") {
        // Another lay has other figures: that is what was asked, and no change of the records.
        data_changed.retain(|kind| *kind != "equipment");
    }
    let because_of = match (data_changed.is_empty(), settings_changed.is_empty()) {
        (true, true) => ChangedBy::Nothing,
        (false, true) => ChangedBy::Data,
        (true, false) => ChangedBy::Settings,
        (false, false) => ChangedBy::Both,
    };
    let mut counted = Counted::default();
    let (mut old, mut new) = (Walk::new(&app, query.since), Walk::new(&app, id));
    let (mut one, mut other) = (old.next().await?, new.next().await?);
    loop {
        match (&one, &other) {
            (None, None) => break,
            (Some(was), Some(is)) if was.demand_point_id == is.demand_point_id => {
                counted.both(was, is);
                (one, other) = (old.next().await?, new.next().await?);
            }
            (Some(was), is) if is.as_ref().is_none_or(|is| was.demand_point_id < is.demand_point_id) => {
                counted.gone += 1;
                one = old.next().await?;
            }
            _ => {
                counted.new += 1;
                other = new.next().await?;
            }
        }
    }
    let moved =
        |((from, to), count): ((CauseCode, CauseCode), u64)| CauseMove { from: from.into(), to: to.into(), count };
    Ok(Json(CoverageChanges {
        since: query.since,
        until: id,
        settings_changed,
        data_changed,
        because_of,
        moves: counted.moves.into_iter().map(moved).collect(),
        gone_count: counted.gone,
        new_count: counted.new,
        points: counted.points,
    }))
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(get_coverage_changes))
}

#[derive(Default)]
struct Counted {
    moves: BTreeMap<(CauseCode, CauseCode), u64>,
    points: Vec<ChangedPoint>,
    gone: u64,
    new: u64,
}

impl Counted {
    fn both(&mut self, was: &PointOutcome, is: &PointOutcome) {
        if was.cause == is.cause {
            return;
        }
        *self.moves.entry((was.cause, is.cause)).or_default() += 1;
        if self.points.len() < MOST_TOLD {
            self.points.push(ChangedPoint {
                demand_point_id: is.demand_point_id.to_string(),
                from: was.cause.into(),
                to: is.cause.into(),
                shortfall_before_gpm: was.shortfall_gpm,
                shortfall_gpm: is.shortfall_gpm,
            });
        }
    }
}

/// The outcomes of a run by ascending id.
struct Walk<'a> {
    app: &'a AppState,
    run_id: Uuid,
    after: Option<AssetId>,
    read: std::vec::IntoIter<PointOutcome>,
}

impl<'a> Walk<'a> {
    fn new(app: &'a AppState, run_id: Uuid) -> Self {
        Self { app, run_id, after: None, read: Vec::new().into_iter() }
    }

    async fn next(&mut self) -> Result<Option<PointOutcome>, StoreError> {
        if let Some(next) = self.read.next() {
            return Ok(Some(next));
        }
        let every = OutcomeQuery::default();
        let found = self.app.store.coverage_outcomes(self.run_id, &every, self.after.as_ref(), AT_ONCE).await?;
        if let Some(last) = found.last() {
            self.after = Some(last.demand_point_id.clone());
        }
        self.read = found.into_iter();
        Ok(self.read.next())
    }
}

fn settings_changed(before: &CoverageRun, after: &CoverageRun) -> Result<Vec<String>, Problem> {
    // Read as settings first: what else may have crept in is none.
    let members = |run: &CoverageRun| -> Result<Value, Problem> {
        let settings: CoverageSettings = kept(run.id, &run.settings)?;
        Ok(serde_json::to_value(settings).unwrap_or_default())
    };
    let (before, after) = (members(before)?, members(after)?);
    // How many remedies were asked for moves no cause.
    let asked = after.as_object().into_iter().flatten().filter(|(name, _)| *name != "remedies");
    let changed = asked.filter(|(name, value)| before.get(name) != Some(value));
    Ok(changed.map(|(name, _)| name.clone()).collect())
}

fn data_changed(before: &CoverageRun, after: &CoverageRun) -> Result<Vec<&'static str>, Problem> {
    let print = |run: &CoverageRun| -> Result<Option<Fingerprint>, Problem> {
        run.fingerprint.as_ref().map(|text| kept(run.id, text)).transpose()
    };
    let (before, after) = (print(before)?, print(after)?);
    Ok(before.zip(after).map(|(before, after)| after.differing(&before)).unwrap_or_default())
}
