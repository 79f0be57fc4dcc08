//! Flow tests: recorded once, voided with a reason.

use axum::extract::State;
use chrono::{DateTime, NaiveDate, Utc};
use longlay_hydraulics::band::flow_band;
use longlay_hydraulics::finding::{Finding, FindingCode};
use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading};
use longlay_hydraulics::quantity::{Diameter, OutletCoefficient, PitotPressure, PositiveFlow, Pressure};
use longlay_hydraulics::supply::{NoCurve, SupplyCurve};
use longlay_records::flow_test::{FlowTest, MAX_FLOW_HYDRANTS, MAX_TEST_OUTLETS, SecondPoint, TestCurve, Voided};
use longlay_records::id::AssetId;
use longlay_store::{Change, RecordKind, Recorded, StoreError, VoidOutcome};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;
use uuid::Uuid;

use crate::advice::{FindingNote, FlowBand};
use crate::app::AppState;
use crate::day::Day;
use crate::extract::{Json, Path, Query};
use crate::faults::{Faults, MAX_NOTE_CHARS};
use crate::idempotency::{PostHeaders, Posted, Reply};
use crate::page::{ListUrl, Page, PageQuery};
use crate::problem::{Problem, ProblemDocument, Slug};
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new()
        .routes(routes!(create_flow_test, list_flow_tests))
        .routes(routes!(get_flow_test))
        .routes(routes!(void_flow_test))
}

/// One pitot reading at one open outlet.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct OutletReading {
    /// Inside diameter of the outlet. From 3.5 in the pumper-outlet factor is applied.
    #[schema(minimum = 0.5, maximum = 24)]
    diameter_in: f64,
    /// Its coefficient of discharge: 0.9 smooth, 0.8 square, 0.7 projecting.
    #[schema(minimum = 0.3, maximum = 1)]
    coefficient: f64,
    /// The velocity pressure read.
    #[schema(minimum = 0.1, maximum = 200)]
    pitot_psi: f64,
}

/// A flow test to record. Exactly one of `outlets` and `flow_gpm` says what flowed.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct FlowTestBody {
    /// The day of the test.
    #[schema(value_type = NaiveDate)]
    tested_on: Day,
    /// Pressure at the gauge hydrant with nothing flowing.
    #[schema(minimum = 0, maximum = 1000)]
    static_psi: f64,
    /// Pressure at the gauge hydrant while flowing; not above `static_psi`.
    #[schema(minimum = 0, maximum = 1000)]
    residual_psi: f64,
    /// What was read by pitot at each open outlet.
    #[schema(min_items = 1, max_items = 24)]
    #[serde(default, deserialize_with = "crate::object::maybe_many")]
    outlets: Option<Vec<OutletReading>>,
    /// What was measured by a meter.
    #[schema(minimum = 1, maximum = 50_000)]
    flow_gpm: Option<f64>,
    /// Another flow at the same static. Two points show how this main answers a flow, where one has to take it for granted.
    #[serde(default, deserialize_with = "crate::object::maybe")]
    second_point: Option<SecondPointBody>,
    /// The hydrants that flowed, the gauge hydrant among them where it did. Left out where nobody wrote it down.
    #[schema(max_items = 12)]
    flow_hydrant_ids: Option<Vec<String>>,
    /// Anything else.
    #[schema(min_length = 1, max_length = 2000)]
    notes: Option<String>,
}

/// The second point of a flow test. Exactly one of `outlets` and `flow_gpm` says what flowed then.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SecondPointBody {
    /// Pressure at the gauge hydrant while it flowed; not above `static_psi`.
    #[schema(minimum = 0, maximum = 1000)]
    residual_psi: f64,
    /// What was read by pitot at each open outlet.
    #[schema(min_items = 1, max_items = 24)]
    #[serde(default, deserialize_with = "crate::object::maybe_many")]
    outlets: Option<Vec<OutletReading>>,
    /// What was measured by a meter.
    #[schema(minimum = 1, maximum = 50_000)]
    flow_gpm: Option<f64>,
}

/// Why a test or a drill no longer counts.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct VoidBody {
    /// The reason.
    #[schema(min_length = 1, max_length = 2000)]
    reason: String,
}

/// What the service adds to a test that is recorded.
#[derive(Debug, Clone)]
pub(crate) struct Recording {
    pub(crate) id: Uuid,
    pub(crate) gauge_hydrant_id: AssetId,
    pub(crate) recorded_at: DateTime<Utc>,
    /// The latest day that a test can be of.
    pub(crate) latest_day: NaiveDate,
}

impl Recording {
    /// Now, with a new id.
    pub(crate) fn new(app: &AppState, gauge_hydrant_id: AssetId) -> Self {
        let now = app.clock.now();
        Self { id: app.ids.next(now), gauge_hydrant_id, recorded_at: now, latest_day: app.clock.latest_today() }
    }
}

impl FlowTestBody {
    /// The test as recorded, or every fault.
    pub(crate) fn flow_test(&self, recording: Recording) -> Result<FlowTest, Problem> {
        let mut faults = Faults::of_body();
        let test = self.converted(recording, &mut faults);
        faults.finish(test)
    }

    fn converted(&self, recording: Recording, faults: &mut Faults) -> Option<FlowTest> {
        let tested_on = faults.day("/tested_on", self.tested_on.0);
        if self.tested_on.0 > recording.latest_day {
            faults.note("/tested_on", "in_the_future", format!("must not be after {}", recording.latest_day));
        }
        let static_pressure = faults.good("/static_psi", Pressure::from_psi(self.static_psi));
        let residual_pressure = faults.good("/residual_psi", Pressure::from_psi(self.residual_psi));
        let flow = flow("", self.outlets.as_deref(), self.flow_gpm, faults);
        let second_point = self.second_point.as_ref().map_or(Some(None), |second| second.converted(faults).map(Some));
        let hydrants = self.flow_hydrant_ids.as_deref().unwrap_or_default();
        let flow_hydrant_ids = faults.list("/flow_hydrant_ids", hydrants, MAX_FLOW_HYDRANTS, |faults, at, id| {
            if hydrants.iter().filter(|other| *other == id).count() > 1 {
                return faults.add(at, "given_twice", format!("{id} is given twice"));
            }
            faults.id(at, id)
        });
        let notes = faults.optional_text("/notes", self.notes.as_deref(), MAX_NOTE_CHARS);
        let test = FlowTest {
            id: recording.id,
            gauge_hydrant_id: recording.gauge_hydrant_id,
            tested_on: tested_on?,
            static_pressure: static_pressure?,
            residual_pressure: residual_pressure?,
            flow: flow?,
            second_point: second_point?,
            flow_hydrant_ids: flow_hydrant_ids?,
            notes: notes?,
            recorded_at: recording.recorded_at,
            voided: None,
        };
        let still = test.static_pressure;
        refuse_pitot_above_static("", self.outlets.as_deref(), still, faults);
        let first = refuse_no_curve("", still, test.residual_pressure, &test.flow, faults);
        if let Some((second, body)) = test.second_point.as_ref().zip(self.second_point.as_ref()) {
            refuse_pitot_above_static("/second_point", body.outlets.as_deref(), still, faults);
            refuse_no_curve("/second_point", still, second.residual_pressure, &second.flow, faults)?;
        }
        first.map(|()| test)
    }
}

impl SecondPointBody {
    fn converted(&self, faults: &mut Faults) -> Option<SecondPoint> {
        let at = "/second_point";
        let residual = faults.good(&format!("{at}/residual_psi"), Pressure::from_psi(self.residual_psi));
        let flow = flow(at, self.outlets.as_deref(), self.flow_gpm, faults);
        Some(SecondPoint { residual_pressure: residual?, flow: flow? })
    }
}

/// Refuses readings through which no curve goes.
fn refuse_no_curve(
    at: &str,
    still: Pressure,
    residual: Pressure,
    flow: &MeasuredFlow,
    faults: &mut Faults,
) -> Option<()> {
    let total = faults.good(&format!("{at}/outlets"), flow.total())?;
    match SupplyCurve::new(still, residual, total) {
        Ok(_) => Some(()),
        Err(error @ NoCurve::NoStatic) => faults.add("/static_psi", "no_static", error.to_string()),
        Err(error @ NoCurve::ResidualAboveStatic { .. }) => {
            faults.add(&format!("{at}/residual_psi"), "residual_above_static", error.to_string())
        }
    }
}

/// No stream leaves an open outlet with more velocity pressure than the main holds at rest: such a reading is a slip of the pen.
fn refuse_pitot_above_static(at: &str, outlets: Option<&[OutletReading]>, still: Pressure, faults: &mut Faults) {
    for (i, outlet) in outlets.into_iter().flatten().enumerate() {
        if outlet.pitot_psi > still.psi() {
            let detail = format!("a pitot of {} psi is above the static of {} psi", outlet.pitot_psi, still.psi());
            faults.note(&format!("{at}/outlets/{i}/pitot_psi"), "pitot_above_static", detail);
        }
    }
}

fn flow(
    at: &str,
    outlets: Option<&[OutletReading]>,
    flow_gpm: Option<f64>,
    faults: &mut Faults,
) -> Option<MeasuredFlow> {
    let pointer = format!("{at}/outlets");
    match (outlets, flow_gpm) {
        (Some([]), None) => faults.add(&pointer, "out_of_bounds", "must hold at least one outlet"),
        (Some(outlets), None) => {
            faults.list(&pointer, outlets, MAX_TEST_OUTLETS, OutletReading::reading).map(MeasuredFlow::Pitot)
        }
        (None, Some(gpm)) => {
            faults.good(&format!("{at}/flow_gpm"), PositiveFlow::from_gpm(gpm)).map(MeasuredFlow::Metered)
        }
        _ => faults.exactly_one_of(at, &["outlets", "flow_gpm"]),
    }
}

impl OutletReading {
    fn reading(faults: &mut Faults, at: &str, outlet: &Self) -> Option<PitotReading> {
        let diameter = faults.good(&format!("{at}/diameter_in"), Diameter::from_in(outlet.diameter_in));
        let coefficient = OutletCoefficient::from_number(outlet.coefficient);
        let coefficient = faults.good(&format!("{at}/coefficient"), coefficient);
        let pitot = faults.good(&format!("{at}/pitot_psi"), PitotPressure::from_psi(outlet.pitot_psi));
        Some(PitotReading { diameter: diameter?, coefficient: coefficient?, pitot: pitot? })
    }
}

impl VoidBody {
    pub(crate) fn voided(&self, at: DateTime<Utc>) -> Result<Voided, Problem> {
        let mut faults = Faults::of_body();
        let reason = faults.text("/reason", &self.reason, MAX_NOTE_CHARS);
        faults.finish(reason.map(|reason| Voided { reason, at }))
    }
}

/// Why and when a test or a drill was voided.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct VoidedRecord {
    /// The reason.
    reason: String,
    /// When.
    at: DateTime<Utc>,
}

impl From<Voided> for VoidedRecord {
    fn from(voided: Voided) -> Self {
        Self { reason: voided.reason, at: voided.at }
    }
}

/// A flow test as recorded, with what follows from it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FlowTestRecord {
    /// Its id.
    id: Uuid,
    /// The gauge hydrant.
    hydrant_id: String,
    /// The day of the test.
    tested_on: NaiveDate,
    /// Pressure with nothing flowing.
    static_psi: f64,
    /// Pressure while flowing.
    residual_psi: f64,
    /// What was read by pitot; absent where the flow was metered.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    outlets: Option<Vec<OutletReading>>,
    /// What flowed: metered, or worked out of the pitot readings.
    flow_gpm: f64,
    /// Another flow at the same static.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    second_point: Option<SecondPointRecord>,
    /// Flow at `rated_at_psi`; null where the test showed no drop, and so proves no more than `flow_gpm`.
    #[schema(required = true)]
    rated_flow_gpm: Option<f64>,
    /// How far the rated flow may be off; around the proved flow where the test showed no drop.
    rated_flow_band_gpm: FlowBand,
    /// The pressure it is rated at: 20, or half of a static under 40.
    rated_at_psi: f64,
    /// What is weak about it.
    findings: Vec<FindingNote>,
    /// The hydrants that flowed; empty where nobody wrote it down.
    flow_hydrant_ids: Vec<String>,
    /// Anything else.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    notes: Option<String>,
    /// When it was recorded.
    recorded_at: DateTime<Utc>,
    /// Set where it no longer counts.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    voided: Option<VoidedRecord>,
}

/// The second point of a flow test as recorded.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SecondPointRecord {
    /// Pressure while it flowed.
    residual_psi: f64,
    /// What was read by pitot; absent where the flow was metered.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    outlets: Option<Vec<OutletReading>>,
    /// What flowed: metered, or worked out of the pitot readings.
    flow_gpm: f64,
}

/// A flow as it goes out: its pitot readings, and what they come to.
fn flowed(test: &FlowTest, flow: &MeasuredFlow) -> Result<(Option<Vec<OutletReading>>, f64), Problem> {
    let outlets = match flow {
        MeasuredFlow::Pitot(readings) => Some(readings.iter().map(OutletReading::from).collect()),
        MeasuredFlow::Metered(_) => None,
    };
    Ok((outlets, flow.total().map_err(|_| no_curve(test))?.gpm()))
}

/// A recorded test has a curve: none was let in without.
fn no_curve(test: &FlowTest) -> Problem {
    StoreError::Corrupt(format!("flow test {}: its readings give no curve", test.id)).into()
}

impl FlowTestRecord {
    fn new(test: FlowTest) -> Result<Self, Problem> {
        // Age and borrowing are for the answers that use the test.
        let TestCurve { curve, spread, mut findings } = test.curve().ok_or_else(|| no_curve(&test))?;
        findings.extend(test.is_single_hydrant().then(|| Finding::plain(FindingCode::SingleHydrantTest)));
        let (outlets, flow_gpm) = flowed(&test, &test.flow)?;
        let second = test.second_point.as_ref().map(|second| {
            let (outlets, flow_gpm) = flowed(&test, &second.flow)?;
            Ok::<_, Problem>(SecondPointRecord { residual_psi: second.residual_pressure.psi(), outlets, flow_gpm })
        });
        Ok(Self {
            findings: findings.iter().map(FindingNote::from).collect(),
            id: test.id,
            hydrant_id: test.gauge_hydrant_id.to_string(),
            tested_on: test.tested_on,
            static_psi: test.static_pressure.psi(),
            residual_psi: test.residual_pressure.psi(),
            outlets,
            flow_gpm,
            second_point: second.transpose()?,
            rated_flow_band_gpm: (&flow_band(&curve, &spread, curve.rating_pressure_psi())).into(),
            rated_flow_gpm: curve.rated_flow_gpm(),
            rated_at_psi: curve.rating_pressure_psi(),
            flow_hydrant_ids: test.flow_hydrant_ids.iter().map(ToString::to_string).collect(),
            notes: test.notes,
            recorded_at: test.recorded_at,
            voided: test.voided.map(VoidedRecord::from),
        })
    }
}

impl From<&PitotReading> for OutletReading {
    fn from(reading: &PitotReading) -> Self {
        Self {
            diameter_in: reading.diameter.inches(),
            coefficient: reading.coefficient.number(),
            pitot_psi: reading.pitot.psi(),
        }
    }
}

/// Records a test. The gauge hydrant stands in the path, flow hydrants in the body.
pub(crate) async fn record(app: &AppState, test: &FlowTest, change: &Change) -> Result<Recorded, Problem> {
    app.store.add_flow_test(test, change).await.map_err(|error| match &error {
        StoreError::UnknownReferences(missing)
            if missing.iter().any(|(_, id)| *id == test.gauge_hydrant_id.as_str()) =>
        {
            Problem::no_such(RecordKind::Hydrant, &test.gauge_hydrant_id)
        }
        _ => Problem::refused(error, |_, id| {
            let flowed = test.flow_hydrant_ids.iter().enumerate().filter(|(_, flowed)| flowed.as_str() == id);
            flowed.map(|(i, _)| format!("/flow_hydrant_ids/{i}")).collect()
        }),
    })
}

/// Record a flow test
///
/// The hydrant in the path carried the gauge. A test is never edited: void it and record another.
#[utoipa::path(
    post, path = "/v1/hydrants/{hydrant_id}/flow-tests", tag = "flow-tests",
    params(("hydrant_id" = String, Path, description = "The gauge hydrant's number"), PostHeaders),
    request_body(content = FlowTestBody, description = "The readings"),
    responses((status = 201, description = "Recorded", body = FlowTestRecord,
        headers(("Location" = String, description = "Address of the test"))))
)]
pub(crate) async fn create_flow_test(
    State(app): State<AppState>,
    Path(hydrant_id): Path<AssetId>,
    writer: Writer,
    Posted { body, once }: Posted<FlowTestBody>,
) -> Result<Reply, Problem> {
    if let Some(first) = once.answered(&app, &writer).await? {
        return Ok(first);
    }
    let test = body.flow_test(Recording::new(&app, hydrant_id))?;
    let location = format!("{}/v1/hydrants/{}/flow-tests/{}", app.public_url, test.gauge_hydrant_id, test.id);
    let reply = Reply::created(location, &FlowTestRecord::new(test.clone())?)?;
    let recorded = record(&app, &test, &once.change(&app, &writer, &reply)).await?;
    Ok(reply.or_first(recorded))
}

/// List a hydrant's flow tests
///
/// Those gauged at it, in the order of their recording; voided ones too, with their reason.
#[utoipa::path(
    get, path = "/v1/hydrants/{hydrant_id}/flow-tests", tag = "flow-tests",
    params(("hydrant_id" = String, Path, description = "The gauge hydrant's number"), PageQuery),
    responses((status = 200, description = "A page of flow tests", body = Page<FlowTestRecord>))
)]
pub(crate) async fn list_flow_tests(
    State(app): State<AppState>,
    Path(hydrant_id): Path<AssetId>,
    url: ListUrl,
    Query(query): Query<PageQuery>,
) -> Result<Page<FlowTestRecord>, Problem> {
    let start = query.start::<Uuid>()?;
    let hydrant = app.store.hydrant(&hydrant_id).await?;
    hydrant.ok_or_else(|| Problem::no_such(RecordKind::Hydrant, &hydrant_id))?;
    let tests = app.store.flow_tests(&hydrant_id, start.after, start.probe()).await?;
    let tests = tests.into_iter().map(FlowTestRecord::new).collect::<Result<_, _>>()?;
    Ok(url.page(tests, start.limit, |test: &FlowTestRecord| test.id.to_string(), |test| test))
}

/// Look up a flow test
///
/// Of a retired hydrant too: answers that rest on it name it.
#[utoipa::path(
    get, path = "/v1/hydrants/{hydrant_id}/flow-tests/{flow_test_id}", tag = "flow-tests",
    params(
        ("hydrant_id" = String, Path, description = "The gauge hydrant's number"),
        ("flow_test_id" = Uuid, Path, description = "The test's id"),
    ),
    responses((status = 200, description = "The flow test", body = FlowTestRecord))
)]
pub(crate) async fn get_flow_test(
    State(app): State<AppState>,
    Path((hydrant_id, id)): Path<(AssetId, Uuid)>,
) -> Result<Json<FlowTestRecord>, Problem> {
    let test = app.store.flow_test(&hydrant_id, id).await?;
    let test = test.ok_or_else(|| Problem::no_such(RecordKind::FlowTest, id))?;
    FlowTestRecord::new(test).map(Json)
}

/// Void a flow test
///
/// It is kept, and no longer counts. This cannot be taken back.
#[utoipa::path(
    post, path = "/v1/hydrants/{hydrant_id}/flow-tests/{flow_test_id}/void", tag = "flow-tests",
    params(
        ("hydrant_id" = String, Path, description = "The gauge hydrant's number"),
        ("flow_test_id" = Uuid, Path, description = "The test's id"),
        PostHeaders,
    ),
    request_body(content = VoidBody, description = "The reason"),
    responses(
        (status = 200, description = "Voided", body = FlowTestRecord),
        (status = 409, description = "It was voided before (`already-voided`)", body = ProblemDocument,
            content_type = "application/problem+json"),
        (status = 507, description = "The disk is full (`storage-full`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn void_flow_test(
    State(app): State<AppState>,
    Path((hydrant_id, id)): Path<(AssetId, Uuid)>,
    writer: Writer,
    Posted { body, once }: Posted<VoidBody>,
) -> Result<Reply, Problem> {
    if let Some(first) = once.answered(&app, &writer).await? {
        return Ok(first);
    }
    let voided = body.voided(app.clock.now())?;
    let test = app.store.flow_test(&hydrant_id, id).await?;
    let test = test.ok_or_else(|| Problem::no_such(RecordKind::FlowTest, id))?;
    let reply = Reply::ok(&FlowTestRecord::new(FlowTest { voided: Some(voided.clone()), ..test })?)?;
    let change = once.change(&app, &writer, &reply);
    voided_once(app.store.void_flow_test(&hydrant_id, id, &voided, &change).await?, reply, RecordKind::FlowTest, id)
}

/// What goes out once something was to be voided.
pub(crate) fn voided_once(outcome: VoidOutcome, reply: Reply, kind: RecordKind, id: Uuid) -> Result<Reply, Problem> {
    match outcome {
        VoidOutcome::Voided => Ok(reply),
        VoidOutcome::Before(first) => Ok(Reply::again(first)),
        VoidOutcome::AlreadyVoided => {
            Err(Problem::new(Slug::AlreadyVoided, format!("{kind} {id} was voided before; the first reason stands")))
        }
        VoidOutcome::NotFound => Err(Problem::no_such(kind, id)),
    }
}
