//! A drill as it comes over HTTP, and its conversion.

use longlay_hydraulics::lay::{Gauge, Lay, Station};
use longlay_hydraulics::quantity::{MeterUncertainty, PositiveFlow, Pressure};
use longlay_records::drill::{Drill, DrillGauge};
use longlay_store::LayInputs;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::app::AppState;
use crate::day::Day;
use crate::faults::{Faults, MAX_NOTE_CHARS};
use crate::lay::{LayCalculation, as_laid, posed, refuse_out_of_service, uses, write_lay};
use crate::problem::Problem;

/// Most gauges read in a drill.
pub(crate) const MAX_READINGS: usize = 50;

/// A drill to record: the lay as it lay, the flow measured, and what the gauges read while it flowed.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct DrillBody {
    /// The day of the drill.
    #[schema(value_type = NaiveDate)]
    drilled_on: Day,
    /// The lay, as a lay calculation takes it, without `target_flow_gpm`, `streams`, `fill_flow_gpm` and `tank`. With `boost` or a pumper among its parts the drill was
    /// pumped, else the hydrant alone supplied it.
    #[serde(deserialize_with = "crate::object::one")]
    pub(crate) lay: LayCalculation,
    /// The flow measured.
    #[schema(minimum = 1, maximum = 50_000)]
    flow_gpm: f64,
    /// How far it may be off, 90 times of 100, as a percentage of it.
    #[schema(minimum = 0.1, maximum = 50)]
    flow_uncertainty_percent: f64,
    /// What the gauges read, each once.
    #[serde(deserialize_with = "crate::object::many")]
    #[schema(min_items = 1, max_items = 50)]
    readings: Vec<DrillReading>,
    /// Anything else.
    #[schema(min_length = 1, max_length = 2000)]
    notes: Option<String>,
}

/// What a gauge read.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct DrillReading {
    /// Where: `main`, `hydrant`, `pumper_1_intake`, `pumper_1_discharge`, ..., `scene`.
    station: String,
    /// What it read. At 0 a gauge stands on its peg: it is kept, and held against nothing.
    #[schema(minimum = 0, maximum = 1000)]
    pressure_psi: f64,
}

impl DrillBody {
    /// The drill as recorded, or every fault.
    pub(crate) fn drill(&self, app: &AppState, inputs: &LayInputs) -> Result<Drill, Problem> {
        let mut faults = Faults::of_body();
        let mut of_lay = Faults::of_body();
        self.refuse_wishes(&mut of_lay);
        let lay = posed(&self.lay, inputs, None, &mut of_lay).map(|posed| posed.lay);
        faults.within("/lay", of_lay);
        let built = lay.as_ref().ok().and_then(Option::as_ref);
        let drill = self.converted(app, inputs, built, &mut faults);
        if !faults.is_empty() {
            return faults.finish(None);
        }
        // Only now: what is wrong with the question comes before what the records lack.
        lay?;
        if let Some(supplied) = &inputs.supplied {
            refuse_out_of_service(&supplied.hydrant, self.lay.allow_out_of_service.unwrap_or(false))?;
        }
        let drill = faults.finish(drill)?;
        Ok(Drill { lay: write_lay(&as_laid(&self.lay, inputs))?, ..drill })
    }

    /// What is asked of a lay and not laid.
    fn refuse_wishes(&self, faults: &mut Faults) {
        let wishes = [
            ("/target_flow_gpm", self.lay.target_flow_gpm.is_some()),
            ("/streams", self.lay.streams.is_some()),
            ("/fill_flow_gpm", self.lay.fill_flow_gpm.is_some()),
            ("/tank", self.lay.tank.is_some()),
        ];
        for (pointer, _) in wishes.into_iter().filter(|(_, given)| *given) {
            faults.note(pointer, "not_in_a_drill", "is asked of a lay, and is no part of one that was laid");
        }
    }

    fn converted(&self, app: &AppState, inputs: &LayInputs, lay: Option<&Lay>, faults: &mut Faults) -> Option<Drill> {
        let now = app.clock.now();
        let drilled_on = faults.day("/drilled_on", self.drilled_on.0);
        if self.drilled_on.0 > app.clock.latest_today() {
            let detail = format!("must not be after {}", app.clock.latest_today());
            faults.note("/drilled_on", "in_the_future", detail);
        }
        let flow = faults.good("/flow_gpm", PositiveFlow::from_gpm(self.flow_gpm));
        let uncertainty = MeterUncertainty::from_percent(self.flow_uncertainty_percent);
        let uncertainty = faults.good("/flow_uncertainty_percent", uncertainty);
        let readings = self.readings(faults);
        let notes = faults.optional_text("/notes", self.notes.as_deref(), MAX_NOTE_CHARS);
        let (lay, flow, readings) = (lay?, flow?, readings?);
        let gauges = gauges(lay, flow, &readings, faults)?;
        let drill = Drill {
            id: app.ids.next(now),
            drilled_on: drilled_on?,
            lay: String::new(),
            uses: uses(&as_laid(&self.lay, inputs), inputs),
            flow,
            flow_uncertainty: uncertainty?,
            pumped: lay.pumpers() > 0,
            gauges,
            notes: notes?,
            recorded_at: now,
            voided: None,
        };
        if drill.miss().is_none() && drill.losses().is_empty() {
            let detail = "nothing read can be held against a prediction: read a gauge that is no discharge and not on its peg, and the discharge of the pumper before it";
            return faults.add("/readings", "nothing_to_compare", detail);
        }
        Some(drill)
    }

    /// Each reading at its station; none where one is at fault.
    fn readings(&self, faults: &mut Faults) -> Option<Vec<(Station, Pressure)>> {
        if self.readings.is_empty() {
            return faults.add("/readings", "out_of_bounds", "must hold at least one reading");
        }
        faults.list("/readings", &self.readings, MAX_READINGS, |faults, at, reading| {
            let pressure = Pressure::from_psi(reading.pressure_psi);
            let pressure = faults.good(&format!("{at}/pressure_psi"), pressure);
            let at = format!("{at}/station");
            if self.readings.iter().filter(|other| other.station == reading.station).count() > 1 {
                return faults.add(&at, "given_twice", format!("{} is given twice", reading.station));
            }
            let station = reading.station.parse::<Station>();
            let station = station.map_err(|error| faults.note(&at, "no_such_station", error.to_string())).ok();
            Some((station?, pressure?))
        })
    }
}

/// Every gauge of the lay, with what was read; faults for what was read where the lay has no gauge.
fn gauges(
    lay: &Lay,
    flow: PositiveFlow,
    readings: &[(Station, Pressure)],
    faults: &mut Faults,
) -> Option<Vec<DrillGauge>> {
    let read = |station| readings.iter().find(|(at, _)| *at == station).map(|(_, pressure)| *pressure);
    let discharges: Vec<_> = (1..=lay.pumpers()).map(|n| read(Station::PumperDischarge(n))).collect();
    let predicted = lay.predicted_gauges(flow, &discharges);
    let mut sound = true;
    for (i, (station, _)) in readings.iter().enumerate() {
        if !predicted.iter().any(|gauge| gauge.station == *station) {
            let there: Vec<_> = predicted.iter().map(|gauge| gauge.station.to_string()).collect();
            let detail = format!("the lay has no gauge {station}: it has {}", there.join(", "));
            faults.note(&format!("/readings/{i}/station"), "no_such_station", detail);
            sound = false;
        }
    }
    let gauge = |gauge: &Gauge| DrillGauge {
        station: gauge.station,
        elevation_ft: gauge.elevation_ft,
        predicted_psi: gauge.pressure_psi,
        read: read(gauge.station),
    };
    sound.then(|| predicted.iter().map(gauge).collect())
}
