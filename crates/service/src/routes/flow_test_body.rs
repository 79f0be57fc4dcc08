//! A flow test as it is sent, and the test that it comes to.

use chrono::{DateTime, NaiveDate, Utc};
use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading};
use longlay_hydraulics::quantity::{Diameter, OutletCoefficient, PitotPressure, PositiveFlow, Pressure};
use longlay_hydraulics::supply::NoCurve;
use longlay_records::flow_test::{FlowTest, MAX_FLOW_HYDRANTS, MAX_TEST_OUTLETS, SecondPoint};
use longlay_records::id::AssetId;
use longlay_records::test_slip::Slip;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::app::AppState;
use crate::day::Day;
use crate::faults::{Faults, MAX_NOTE_CHARS};
use crate::problem::Problem;

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
        let slips = test.slips();
        for slip in &slips {
            let (pointer, code) = slipped(slip);
            faults.note(&pointer, code, slip.to_string());
        }
        slips.is_empty().then_some(test)
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

/// Where in the body a slip stands, and its code.
fn slipped(slip: &Slip) -> (String, &'static str) {
    let at = |point: usize| if point == 0 { "" } else { "/second_point" };
    match slip {
        Slip::NoFlow { point, .. } => (format!("{}/outlets", at(*point)), "out_of_bounds"),
        Slip::NoCurve { error: NoCurve::NoStatic, .. } => ("/static_psi".to_owned(), "no_static"),
        Slip::NoCurve { point, error: NoCurve::ResidualAboveStatic { .. } } => {
            (format!("{}/residual_psi", at(*point)), "residual_above_static")
        }
        Slip::PitotAboveStatic { point, outlet, .. } => {
            (format!("{}/outlets/{outlet}/pitot_psi", at(*point)), "pitot_above_static")
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

impl From<&PitotReading> for OutletReading {
    fn from(reading: &PitotReading) -> Self {
        Self {
            diameter_in: reading.diameter.inches(),
            coefficient: reading.coefficient.number(),
            pitot_psi: reading.pitot.psi(),
        }
    }
}
