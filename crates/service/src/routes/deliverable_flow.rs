//! What a hydrant delivers over a standard lay, asked in one line.

use axum::extract::{RawQuery, State};
use chrono::NaiveDate;
use longlay_records::id::AssetId;
use longlay_store::{RecordKind, Town};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::answers::Ground;
use crate::app::AppState;
use crate::extract::{Path, Query};
use crate::faults::Faults;
use crate::lay::{LayAnswer, LayCalculation, LayPart, LayPumper, LaySource, worked};
use crate::problem::{Problem, ProblemDocument};
use crate::reply::Written;

/// The lay: a stored profile, or one kind of hose and its length.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query, style = Form)]
pub(crate) struct DeliverableFlowQuery {
    /// A stored lay. Exactly one of this and `hose_type_id`.
    lay_profile_id: Option<String>,
    /// A stored hose type, laid from the hydrant to the scene and nothing else. Needs `length_ft`.
    hose_type_id: Option<String>,
    /// Hose laid. Default with a profile: all it carries.
    #[param(minimum = 1, maximum = 100_000)]
    length_ft: Option<f64>,
    /// Equal lines side by side, with `hose_type_id`. Default 1.
    #[param(minimum = 1, maximum = 8)]
    lines: Option<u8>,
    /// Ground at the scene above ground at the hydrant; a fall is negative.
    #[param(minimum = -5000, maximum = 5000)]
    rise_ft: Option<f64>,
    /// A stored pumper that boosts, at the profile's hydrant valve or at the hydrant.
    boost_pumper_id: Option<String>,
    /// Least pressure left in the main. Default the profile's, else 20.
    #[param(minimum = 0, maximum = 1000)]
    main_floor_psi: Option<f64>,
    /// Least pressure wanted at the scene intake. Default the profile's, else 20.
    #[param(minimum = 0, maximum = 1000)]
    scene_floor_psi: Option<f64>,
    /// The flow wanted at the scene.
    #[param(minimum = 1, maximum = 50_000)]
    target_flow_gpm: Option<f64>,
    /// Flow at which the dry line is filled. Default what the hydrant alone delivers.
    #[param(minimum = 1, maximum = 50_000)]
    fill_flow_gpm: Option<f64>,
    /// Answer for a hydrant that is out of service. Default false: it is refused.
    allow_out_of_service: Option<bool>,
}

/// What a hydrant delivers over a lay, alone and boosted.
///
/// The lay is a stored profile, or one kind of hose and its length. Nothing is stored.
#[utoipa::path(get, path = "/v1/hydrants/{hydrant_id}/deliverable-flow", tag = "lays",
    params(("hydrant_id" = String, Path, description = "The department's number of the hydrant"), DeliverableFlowQuery),
    responses(
        (status = 200, description = "The answer", body = LayAnswer),
        (status = 409, description = "`no-flow-test`, `hydrant-out-of-service`", body = ProblemDocument,
            content_type = "application/problem+json")
    ))]
pub(crate) async fn get_deliverable_flow(
    State(state): State<AppState>,
    Path(hydrant_id): Path<AssetId>,
    RawQuery(asked): RawQuery,
    Query(query): Query<DeliverableFlowQuery>,
) -> Result<Written, Problem> {
    let (town, today) = (state.store.town().await?, state.clock.today());
    let question = format!("{hydrant_id}?{}", asked.unwrap_or_default());
    let ground = Ground { version: town.version(), day: today };
    if let Some(answer) = state.answers.given(ground, &question) {
        return Ok(Written(answer));
    }
    let answer = Written::of(&query.answer(&hydrant_id, &town, today)?)?;
    state.answers.keep(ground, question, &answer.0);
    Ok(answer)
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(get_deliverable_flow))
}

impl DeliverableFlowQuery {
    fn answer(self, hydrant_id: &AssetId, town: &Town, today: NaiveDate) -> Result<LayAnswer, Problem> {
        let mut faults = Faults::of_query();
        let Some(ask) = self.ask(hydrant_id, &mut faults) else { return faults.finish(None) };
        match worked(town, today, &ask, faults) {
            // The hydrant stands in the path, so that an unknown one is a path that names nothing.
            Err(problem) if problem.names("hydrant_id") => Err(Problem::no_such(RecordKind::Hydrant, hydrant_id)),
            answer => answer,
        }
    }

    /// The question; faults of form are noted. None where it does not say which lay.
    fn ask(self, hydrant_id: &AssetId, faults: &mut Faults) -> Option<LayCalculation> {
        let by_profile = self.lay_profile_id.is_some();
        if by_profile == self.hose_type_id.is_some() {
            return faults.exactly_one_of("/lay_profile_id", &["lay_profile_id", "hose_type_id"]);
        }
        if by_profile && self.lines.is_some() {
            faults.note("/lines", "not_with", "a profile has its own lines: lines goes with hose_type_id");
        }
        let hose = |id| LayPart::hose(id, self.length_ft, self.lines);
        Some(LayCalculation {
            source: LaySource { hydrant_id: Some(hydrant_id.to_string()), ..LaySource::default() },
            parts: self.hose_type_id.map(|id| vec![hose(id)]),
            length_ft: self.length_ft.filter(|_| by_profile),
            lay_profile_id: self.lay_profile_id,
            rise_ft: self.rise_ft,
            boost: self.boost_pumper_id.map(|id| LayPumper { pumper_id: Some(id), ..LayPumper::default() }),
            main_floor_psi: self.main_floor_psi,
            scene_floor_psi: self.scene_floor_psi,
            target_flow_gpm: self.target_flow_gpm,
            streams: None,
            fill_flow_gpm: self.fill_flow_gpm,
            tank: None,
            allow_out_of_service: self.allow_out_of_service,
        })
    }
}
