//! A test of equipment as it goes out over HTTP, with what follows from it.

use std::collections::BTreeSet;
use std::sync::Arc;

use chrono::{DateTime, NaiveDate, Utc};
use longlay_records::equipment_test::{EquipmentTest, Figure, Measured, Subject, TwoGauges};
use longlay_store::{LayInputs, LayRefs, StoreError};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::advice::FindingNote;
use crate::app::AppState;
use crate::lay::figures::Figures;
use crate::problem::Problem;
use crate::routes::equipment_test_body::{EquipmentReading, LegName};
use crate::routes::figure::{FigureValue, StoredFigure, uncertainty_percent};
use crate::routes::voiding::VoidedRecord;

/// What a test gives.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct TestedFigure {
    #[serde(flatten)]
    value: FigureValue,
    /// How far the figure may be off, in percent of it: a psi on each gauge and the meter. Absent for a curve.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    uncertainty_percent: Option<f64>,
    /// What each reading would give by itself, in their order; absent for a curve.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    each: Option<Vec<f64>>,
}

impl From<&Figure> for TestedFigure {
    fn from(figure: &Figure) -> Self {
        let each = match figure {
            Figure::Hose(tested) => Some(tested.each.clone()),
            Figure::Loss(tested) => Some(tested.each.clone()),
            Figure::Curve(_) => None,
        };
        Self { value: FigureValue::of_test(figure), uncertainty_percent: uncertainty_percent(figure), each }
    }
}

/// A test of equipment as recorded, with what follows from it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct EquipmentTestRecord {
    /// Its id.
    id: Uuid,
    /// The kind of hose tested.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    hose_type_id: Option<String>,
    /// The kind of appliance tested.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    appliance_id: Option<String>,
    /// The kind of hydrant valve tested.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    hydrant_valve_id: Option<String>,
    /// The leg of the valve.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    leg: Option<LegName>,
    /// The pumper tested.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pumper_id: Option<String>,
    /// The day of the test.
    tested_on: NaiveDate,
    /// How it was done.
    method: String,
    /// Hose between the gauges.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    length_ft: Option<f64>,
    /// The downstream gauge above the upstream one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    rise_ft: Option<f64>,
    /// How far the flow meter may be off.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    meter_uncertainty_percent: Option<f64>,
    /// What was read.
    readings: Vec<EquipmentReading>,
    /// What it gives.
    figure: TestedFigure,
    /// The figure stored, which a test stands in place of. Absent where the equipment was retired.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    replaces: Option<StoredFigure>,
    /// Whether answers are worked with it: it is the newest that was not voided.
    in_use: bool,
    /// What is weak about it.
    findings: Vec<FindingNote>,
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

/// The tests with what is known of the equipment they are of.
pub(super) async fn records(app: &AppState, tests: Vec<EquipmentTest>) -> Result<Vec<EquipmentTestRecord>, Problem> {
    let inputs = app.store.lay_inputs(&refs_of(&tests), app.clock.today()).await?;
    tests.into_iter().map(|test| EquipmentTestRecord::new(test, &inputs)).collect()
}

/// A test as it will stand once it is recorded or voided, among the others of the same thing.
pub(super) async fn record_to_be(app: &AppState, test: EquipmentTest) -> Result<EquipmentTestRecord, Problem> {
    let mut inputs = app.store.lay_inputs(&refs_of(std::slice::from_ref(&test)), app.clock.today()).await?;
    let others = Arc::make_mut(inputs.equipment_tests.entry(test.measured.subject()).or_default());
    others.retain(|other| other.id != test.id);
    let place = others.partition_point(|other| other.id < test.id);
    others.insert(place, test.clone());
    EquipmentTestRecord::new(test, &inputs)
}

/// What the tests are of.
fn refs_of(tests: &[EquipmentTest]) -> LayRefs {
    let mut refs = LayRefs::default();
    for test in tests {
        let (ids, id): (&mut BTreeSet<_>, _) = match test.measured.subject() {
            Subject::Hose(id) => (&mut refs.hose_type_ids, id),
            Subject::Appliance(id) => (&mut refs.appliance_ids, id),
            Subject::ValveLeg(id, _) => (&mut refs.hydrant_valve_ids, id),
            Subject::Pumper(id) => (&mut refs.pumper_ids, id),
        };
        ids.insert(id);
    }
    refs
}

impl EquipmentTestRecord {
    /// Its id.
    pub(super) const fn id(&self) -> Uuid {
        self.id
    }

    fn new(test: EquipmentTest, inputs: &LayInputs) -> Result<Self, Problem> {
        let figure = test.measured.figure().map_err(|none| {
            Problem::from(StoreError::Corrupt(format!(
                "equipment test {}: its readings give no figure: {none}",
                test.id
            )))
        })?;
        let subject = test.measured.subject();
        let rated = match &subject {
            Subject::Pumper(id) => inputs.pumpers.get(id).map(|pumper| pumper.rated_flow),
            _ => None,
        };
        let (length_ft, gauges) = match &test.measured {
            Measured::Hose { length, gauges, .. } => (Some(length.ft()), Some(gauges)),
            Measured::Appliance { gauges, .. } | Measured::ValveLeg { gauges, .. } => (None, Some(gauges)),
            Measured::Pumper { .. } => (None, None),
        };
        let (hose_type_id, appliance_id, hydrant_valve_id, leg, pumper_id) = named(&subject);
        Ok(Self {
            id: test.id,
            hose_type_id,
            appliance_id,
            hydrant_valve_id,
            leg,
            pumper_id,
            tested_on: test.tested_on,
            length_ft,
            rise_ft: gauges.map(|gauges| gauges.rise.ft()),
            meter_uncertainty_percent: gauges.map(|gauges| gauges.meter.percent()),
            readings: readings(&test.measured, gauges),
            figure: (&figure).into(),
            replaces: replaces(&subject, inputs),
            in_use: Figures::of(inputs).own(&subject, rated).is_some_and(|own| own.test.id == test.id),
            findings: figure.finding(rated).iter().map(FindingNote::from).collect(),
            method: test.method,
            notes: test.notes,
            recorded_at: test.recorded_at,
            voided: test.voided.map(VoidedRecord::from),
        })
    }
}

/// The members that say what was tested.
type Named = (Option<String>, Option<String>, Option<String>, Option<LegName>, Option<String>);

fn named(subject: &Subject) -> Named {
    match subject {
        Subject::Hose(id) => (Some(id.to_string()), None, None, None, None),
        Subject::Appliance(id) => (None, Some(id.to_string()), None, None, None),
        Subject::ValveLeg(id, leg) => (None, None, Some(id.to_string()), Some((*leg).into()), None),
        Subject::Pumper(id) => (None, None, None, None, Some(id.to_string())),
    }
}

fn readings(measured: &Measured, gauges: Option<&TwoGauges>) -> Vec<EquipmentReading> {
    match (measured, gauges) {
        (Measured::Pumper { readings, .. }, _) => readings.iter().map(EquipmentReading::from).collect(),
        (_, gauges) => gauges.into_iter().flat_map(|gauges| &gauges.readings).map(EquipmentReading::from).collect(),
    }
}

fn replaces(subject: &Subject, inputs: &LayInputs) -> Option<StoredFigure> {
    let stored = Figures::untested();
    match subject {
        Subject::Hose(id) => inputs.hose_types.get(id).map(|kind| stored.hose(kind).into()),
        Subject::Appliance(id) => inputs.appliances.get(id).map(|kind| stored.appliance(kind).into()),
        Subject::ValveLeg(id, leg) => inputs.hydrant_valves.get(id).map(|kind| stored.leg(kind, *leg).into()),
        Subject::Pumper(id) => inputs.pumpers.get(id).and_then(|kept| stored.pumper(kept)).map(StoredFigure::from),
    }
}
