//! A test of equipment as it comes over HTTP.

use chrono::{DateTime, NaiveDate, Utc};
use longlay_hydraulics::friction_test::{NoCoefficient, TwoGaugeReading};
use longlay_hydraulics::pump_test::{NoPumpCurve, PumpReading};
use longlay_hydraulics::quantity::{IntakePressure, Length, MeterUncertainty, PositiveFlow, Pressure, Rise};
use longlay_records::equipment_test::{EquipmentTest, Leg, MAX_TEST_READINGS, Measured, NoFigure, TwoGauges};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::day::Day;
use crate::faults::{Faults, MAX_NOTE_CHARS};
use crate::problem::Problem;

/// What says which equipment was tested.
const SUBJECTS: [&str; 4] = ["hose_type_id", "appliance_id", "hydrant_valve_id", "pumper_id"];

/// A way through a four-way hydrant valve.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum LegName {
    /// Hydrant to supply line, unboosted.
    Through,
    /// Hydrant to the pumper's intake.
    ToPump,
    /// Pumper's discharge to the supply line.
    FromPump,
}

impl From<LegName> for Leg {
    fn from(leg: LegName) -> Self {
        match leg {
            LegName::Through => Self::Through,
            LegName::ToPump => Self::ToPump,
            LegName::FromPump => Self::FromPump,
        }
    }
}

impl From<Leg> for LegName {
    fn from(leg: Leg) -> Self {
        match leg {
            Leg::Through => Self::Through,
            Leg::ToPump => Self::ToPump,
            Leg::FromPump => Self::FromPump,
        }
    }
}

/// Both gauges at one flow: `upstream_psi` and `downstream_psi`, of a pumper `intake_psi` and `discharge_psi`.
#[derive(Debug, Clone, Copy, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct EquipmentReading {
    /// The flow.
    #[schema(minimum = 1, maximum = 50_000)]
    flow_gpm: f64,
    /// The gauge that the water passes first.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 1000)]
    upstream_psi: Option<f64>,
    /// The gauge behind it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 1000)]
    downstream_psi: Option<f64>,
    /// The gauge at a pumper's intake; a vacuum is less than nothing: 1 inHg is -0.491.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(minimum = -15, maximum = 1000)]
    intake_psi: Option<f64>,
    /// The gauge at a pumper's discharge.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 1000)]
    discharge_psi: Option<f64>,
}

/// A test to record. Exactly one of `hose_type_id`, `appliance_id`, `hydrant_valve_id` and `pumper_id` says of what; shipped kinds may be tested too.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct EquipmentTestBody {
    /// The day of the test.
    #[schema(value_type = NaiveDate)]
    tested_on: Day,
    /// How it was done: gauges, meter, procedure.
    #[schema(min_length = 1, max_length = 2000)]
    method: String,
    /// A kind of hose: one line of it with a gauge at each end.
    hose_type_id: Option<String>,
    /// A kind of appliance, with a gauge on either side and no hose between.
    appliance_id: Option<String>,
    /// A kind of hydrant valve, one `leg` of it, as an appliance.
    hydrant_valve_id: Option<String>,
    /// The leg of the valve.
    leg: Option<LegName>,
    /// A pumper, each reading the most it adds at that flow.
    pumper_id: Option<String>,
    /// Hose between the gauges. Only of hose, and needed there.
    #[schema(minimum = 1, maximum = 100_000)]
    length_ft: Option<f64>,
    /// The downstream gauge above the upstream one. Default 0. Not of a pumper.
    #[schema(minimum = -5000, maximum = 5000)]
    rise_ft: Option<f64>,
    /// How far the flow meter may be off. Needed but of a pumper; it has no default.
    #[schema(minimum = 0.1, maximum = 50)]
    meter_uncertainty_percent: Option<f64>,
    /// What was read.
    #[schema(min_items = 1, max_items = 50)]
    #[serde(deserialize_with = "crate::object::many")]
    readings: Vec<EquipmentReading>,
    /// Anything else.
    #[schema(min_length = 1, max_length = 2000)]
    notes: Option<String>,
}

/// What the service adds to a test that is recorded.
#[derive(Debug, Clone, Copy)]
pub(super) struct TestRecording {
    pub(super) id: Uuid,
    pub(super) recorded_at: DateTime<Utc>,
    /// The latest day that a test can be of.
    pub(super) latest_day: NaiveDate,
}

impl EquipmentTestBody {
    /// The test as recorded, or every fault.
    pub(super) fn test(&self, recording: TestRecording) -> Result<EquipmentTest, Problem> {
        let mut faults = Faults::of_body();
        let test = self.converted(recording, &mut faults);
        faults.finish(test)
    }

    fn converted(&self, recording: TestRecording, faults: &mut Faults) -> Option<EquipmentTest> {
        let tested_on = faults.day("/tested_on", self.tested_on.0);
        if self.tested_on.0 > recording.latest_day {
            faults.note("/tested_on", "in_the_future", format!("must not be after {}", recording.latest_day));
        }
        let method = faults.text("/method", &self.method, MAX_NOTE_CHARS);
        let measured = self.measured(faults);
        let notes = faults.optional_text("/notes", self.notes.as_deref(), MAX_NOTE_CHARS);
        Some(EquipmentTest {
            id: recording.id,
            measured: measured.filter(|measured| gives_a_figure(measured, faults))?,
            tested_on: tested_on?,
            method: method?,
            notes: notes?,
            recorded_at: recording.recorded_at,
            voided: None,
        })
    }

    fn measured(&self, faults: &mut Faults) -> Option<Measured> {
        let subjects = [&self.hose_type_id, &self.appliance_id, &self.hydrant_valve_id, &self.pumper_id];
        if subjects.into_iter().flatten().count() == 1 {
            self.refuse_out_of_place(faults);
        }
        match (&self.hose_type_id, &self.appliance_id, &self.hydrant_valve_id, &self.pumper_id) {
            (Some(id), None, None, None) => {
                let id = faults.id("/hose_type_id", id);
                let length = faults.required("/length_ft", self.length_ft, Length::from_ft);
                let gauges = self.gauges(faults);
                Some(Measured::Hose { hose_type_id: id?, length: length?, gauges: gauges? })
            }
            (None, Some(id), None, None) => {
                let id = faults.id("/appliance_id", id);
                let gauges = self.gauges(faults);
                Some(Measured::Appliance { appliance_id: id?, gauges: gauges? })
            }
            (None, None, Some(id), None) => {
                let id = faults.id("/hydrant_valve_id", id);
                let leg = self.leg.or_else(|| faults.add("/leg", "required", "must be given with hydrant_valve_id"));
                let gauges = self.gauges(faults);
                Some(Measured::ValveLeg { hydrant_valve_id: id?, leg: leg?.into(), gauges: gauges? })
            }
            (None, None, None, Some(id)) => {
                let id = faults.id("/pumper_id", id);
                let readings = self.readings(faults, EquipmentReading::of_pump);
                Some(Measured::Pumper { pumper_id: id?, readings: readings? })
            }
            _ => faults.exactly_one_of("", &SUBJECTS),
        }
    }

    /// Members that say nothing of what was tested would be believed to count.
    fn refuse_out_of_place(&self, faults: &mut Faults) {
        let of_pumper = self.pumper_id.is_some();
        let out = [
            ("/leg", self.leg.is_some() && self.hydrant_valve_id.is_none(), "goes with hydrant_valve_id"),
            ("/length_ft", self.length_ft.is_some() && self.hose_type_id.is_none(), "goes with hose_type_id"),
            ("/rise_ft", self.rise_ft.is_some() && of_pumper, "does not go with pumper_id"),
            (
                "/meter_uncertainty_percent",
                self.meter_uncertainty_percent.is_some() && of_pumper,
                "does not go with pumper_id",
            ),
        ];
        for (pointer, _, detail) in out.into_iter().filter(|(_, given, _)| *given) {
            faults.note(pointer, "not_with", detail);
        }
    }

    fn gauges(&self, faults: &mut Faults) -> Option<TwoGauges> {
        let rise = faults.required("/rise_ft", self.rise_ft.or(Some(0.0)), Rise::from_ft);
        let meter = "/meter_uncertainty_percent";
        let meter = faults.required(meter, self.meter_uncertainty_percent, MeterUncertainty::from_percent);
        let readings = self.readings(faults, EquipmentReading::of_gauges);
        Some(TwoGauges { rise: rise?, meter: meter?, readings: readings? })
    }

    fn readings<T>(
        &self,
        faults: &mut Faults,
        convert: impl FnMut(&mut Faults, &str, &EquipmentReading) -> Option<T>,
    ) -> Option<Vec<T>> {
        if self.readings.is_empty() {
            return faults.add("/readings", "out_of_bounds", "must hold at least one reading");
        }
        faults.list("/readings", &self.readings, MAX_TEST_READINGS, convert)
    }
}

impl EquipmentReading {
    fn of_gauges(faults: &mut Faults, at: &str, reading: &Self) -> Option<TwoGaugeReading> {
        let others = [("intake_psi", reading.intake_psi), ("discharge_psi", reading.discharge_psi)];
        refuse(faults, at, others, "goes with pumper_id");
        let flow = faults.good(&format!("{at}/flow_gpm"), PositiveFlow::from_gpm(reading.flow_gpm));
        let upstream = faults.required(&format!("{at}/upstream_psi"), reading.upstream_psi, Pressure::from_psi);
        let downstream = faults.required(&format!("{at}/downstream_psi"), reading.downstream_psi, Pressure::from_psi);
        Some(TwoGaugeReading { flow: flow?, upstream: upstream?, downstream: downstream? })
    }

    fn of_pump(faults: &mut Faults, at: &str, reading: &Self) -> Option<PumpReading> {
        let others = [("upstream_psi", reading.upstream_psi), ("downstream_psi", reading.downstream_psi)];
        refuse(faults, at, others, "does not go with pumper_id");
        let flow = faults.good(&format!("{at}/flow_gpm"), PositiveFlow::from_gpm(reading.flow_gpm));
        let intake = faults.required(&format!("{at}/intake_psi"), reading.intake_psi, IntakePressure::from_psi);
        let discharge = faults.required(&format!("{at}/discharge_psi"), reading.discharge_psi, Pressure::from_psi);
        Some(PumpReading { flow: flow?, intake: intake?, discharge: discharge? })
    }
}

fn refuse(faults: &mut Faults, at: &str, others: [(&str, Option<f64>); 2], detail: &str) {
    for (name, _) in others.into_iter().filter(|(_, value)| value.is_some()) {
        faults.note(&format!("{at}/{name}"), "not_with", detail);
    }
}

/// What gives no figure is not recorded.
fn gives_a_figure(measured: &Measured, faults: &mut Faults) -> bool {
    let Err(error) = measured.figure() else { return true };
    let (pointer, code) = match error {
        NoFigure::Coefficient(NoCoefficient::NoLoss { index, .. }) => (format!("/readings/{index}"), "no_loss"),
        NoFigure::Curve(NoPumpCurve::NoNet { index, .. }) => (format!("/readings/{index}"), "no_net"),
        NoFigure::Curve(NoPumpCurve::SameFlow { index }) => (format!("/readings/{index}/flow_gpm"), "given_twice"),
        NoFigure::Curve(NoPumpCurve::NetRising { index }) => (format!("/readings/{index}"), "rising"),
        NoFigure::Coefficient(_) | NoFigure::Curve(NoPumpCurve::NoReadings) => {
            ("/readings".to_owned(), "out_of_bounds")
        }
    };
    faults.note(&pointer, code, error.to_string());
    false
}

impl From<&TwoGaugeReading> for EquipmentReading {
    fn from(reading: &TwoGaugeReading) -> Self {
        let (upstream_psi, downstream_psi) = (Some(reading.upstream.psi()), Some(reading.downstream.psi()));
        Self { flow_gpm: reading.flow.gpm(), upstream_psi, downstream_psi, ..Self::default() }
    }
}

impl From<&PumpReading> for EquipmentReading {
    fn from(reading: &PumpReading) -> Self {
        let (intake_psi, discharge_psi) = (Some(reading.intake.psi()), Some(reading.discharge.psi()));
        Self { flow_gpm: reading.flow.gpm(), intake_psi, discharge_psi, ..Self::default() }
    }
}
