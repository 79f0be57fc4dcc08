//! Flow tests.

use chrono::{DateTime, Utc};
use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading};
use longlay_hydraulics::quantity::{Diameter, OutletCoefficient, PitotPressure, PositiveFlow, Pressure};
use longlay_hydraulics::supply::NoCurve;
use longlay_records::flow_test::{FlowTest, MAX_FLOW_HYDRANTS, MAX_TEST_OUTLETS, SecondPoint, Voided};
use longlay_records::id::AssetId;
use longlay_records::test_slip::Slip;
use longlay_records::text::MAX_NOTE_CHARS;
use uuid::Uuid;

use crate::column::{Column, Form};
use crate::fault::Wrong;
use crate::fields::{Fields, Maybe, bounded};
use crate::kind::{Exchanged, Kind};
use crate::scalar::{asset_id, written_number};
use crate::value::Value;
use crate::write::cell;

const READING: [&str; 3] = ["diameter_in", "coefficient", "pitot_psi"];
/// The columns of each point: its residual, its readings, its metered flow.
const POINTS: [[&str; 3]; 2] =
    [["residual_psi", "outlets", "flow_gpm"], ["second_residual_psi", "second_outlets", "second_flow_gpm"]];

const COLUMNS: &[Column] = &[
    Column::maybe(
        "id",
        Form::Text,
        "The test's id as an export wrote it; empty for a test that is new",
        "019aa5f2-7c00-7a31-9c6e-2f1d5b8e4a10",
    ),
    Column::needed("hydrant_id", Form::Text, "The gauge hydrant, on which static and residual were read", "H-101"),
    Column::needed("tested_on", Form::Day, "The day of the test", "2026-05-01"),
    Column::needed("static_psi", Form::Number, "Pressure with nothing flowing", "62"),
    Column::needed("residual_psi", Form::Number, "Pressure while flowing", "48"),
    Column::maybe(
        "outlets",
        Form::Groups(&READING),
        "What was read by pitot at each open outlet: inside diameter in inches, coefficient, pitot pressure in psi",
        "2.5 0.9 14; 2.5 0.9 12",
    ),
    Column::maybe("flow_gpm", Form::Number, "What was measured by a meter, where no pitot was read", "940"),
    Column::maybe(
        "second_residual_psi",
        Form::Number,
        "Pressure while a second flow at the same static was taken",
        "31",
    )
    .inside("second_point/residual_psi"),
    Column::maybe("second_outlets", Form::Groups(&READING), "What was read by pitot then", "2.5 0.9 22; 2.5 0.9 20")
        .inside("second_point/outlets"),
    Column::maybe("second_flow_gpm", Form::Number, "What was measured by a meter then", "1310")
        .inside("second_point/flow_gpm"),
    Column::maybe(
        "flow_hydrant_ids",
        Form::Ids,
        "The hydrants that flowed; empty where nobody wrote it down",
        "H-102; H-103",
    ),
    Column::maybe("notes", Form::Text, "Anything else", "after the main was flushed"),
    Column::maybe("recorded_at", Form::Time, "When it was recorded, as an export wrote it", "2026-05-01T19:04:11Z"),
    Column::maybe("voided_at", Form::Time, "When it was voided", "2026-06-02T08:00:00Z").inside("voided/at"),
    Column::maybe("void_reason", Form::Text, "Why it was voided", "gauge out of order").inside("voided/reason"),
];

impl Exchanged for FlowTest {
    const KIND: Kind = Kind::FlowTests;
    const COLUMNS: &'static [Column] = COLUMNS;
    const KEYED_BY: &'static str = "test";

    fn values(&self) -> Vec<Value> {
        let [outlets, gpm] = flow_values(Some(&self.flow));
        let [second_outlets, second_gpm] = flow_values(self.second_point.as_ref().map(|second| &second.flow));
        vec![
            Value::Text(self.id.to_string()),
            Value::id(&self.gauge_hydrant_id),
            Value::day(self.tested_on),
            Value::Number(self.static_pressure.psi()),
            Value::Number(self.residual_pressure.psi()),
            outlets,
            gpm,
            Value::maybe(self.second_point.as_ref(), |second| Value::Number(second.residual_pressure.psi())),
            second_outlets,
            second_gpm,
            Value::ids(&self.flow_hydrant_ids),
            Value::maybe(self.notes.as_deref(), Value::text),
            Value::time(self.recorded_at),
            Value::maybe(self.voided.as_ref(), |voided| Value::time(voided.at)),
            Value::maybe(self.voided.as_ref(), |voided| Value::text(&voided.reason)),
        ]
    }

    fn read(fields: &mut Fields<'_>) -> Option<Self> {
        let recorded = recorded(fields);
        let gauge = fields.needed_id("hydrant_id");
        let tested_on = fields.day("tested_on");
        let tested_on = fields.given("tested_on", tested_on);
        let latest = fields.reading.latest_day;
        let tested_on = match tested_on {
            Some(day) if day > latest => {
                fields.refuse("tested_on", "in_the_future", format!("must not be after {latest}"))
            }
            day => day,
        };
        let still = fields.needed_number("static_psi", Pressure::from_psi);
        let first = point(fields, POINTS[0]);
        let first = fields.given("residual_psi", first);
        let second = point(fields, POINTS[1]);
        let flow_hydrant_ids = flow_hydrants(fields);
        let notes = fields.text("notes", MAX_NOTE_CHARS);
        let voided = voided(fields);
        let ((id, recorded_at), first) = (recorded?, first?);
        let test = Self {
            id,
            gauge_hydrant_id: gauge?,
            tested_on: tested_on?,
            static_pressure: still?,
            residual_pressure: first.residual_pressure,
            flow: first.flow,
            second_point: second?,
            flow_hydrant_ids: flow_hydrant_ids?,
            notes: notes?,
            recorded_at,
            voided: voided?,
        };
        let slips = test.slips();
        for slip in &slips {
            let (column, code) = slipped(slip);
            fields.faults.note(fields.row, Some(column), code, slip.to_string());
        }
        slips.is_empty().then_some(test)
    }

    fn key(&self, is_named: bool) -> String {
        if is_named {
            return self.id.to_string();
        }
        let (gauge, day) = (&self.gauge_hydrant_id, self.tested_on);
        let point = |residual: Pressure, flow: &MeasuredFlow| {
            let [outlets, gpm] = flow_values(Some(flow)).map(|value| cell(&value));
            format!("{} {outlets} {gpm}", residual.psi())
        };
        let second = self.second_point.as_ref().map(|second| point(second.residual_pressure, &second.flow));
        let first = point(self.residual_pressure, &self.flow);
        format!("{gauge} {day} {} {first} {}", self.static_pressure.psi(), second.unwrap_or_default())
    }
}

/// Where a slip stands, and the code the API has for it.
fn slipped(slip: &Slip) -> (&'static str, &'static str) {
    match slip {
        Slip::NoFlow { point, .. } => (POINTS[*point][1], "out_of_bounds"),
        Slip::NoCurve { error: NoCurve::NoStatic, .. } => ("static_psi", "no_static"),
        Slip::NoCurve { point, error: NoCurve::ResidualAboveStatic { .. } } => {
            (POINTS[*point][0], "residual_above_static")
        }
        Slip::PitotAboveStatic { point, .. } => (POINTS[*point][1], "pitot_above_static"),
    }
}

/// The id and the time of recording: both as an export wrote them, or both new.
fn recorded(fields: &mut Fields<'_>) -> Option<(Uuid, DateTime<Utc>)> {
    let (id, at) = (fields.test_id("id"), fields.time("recorded_at"));
    let now = fields.reading.now;
    match (id?, at?) {
        (Some(_), Some(at)) if at > now => {
            fields.refuse("recorded_at", "in_the_future", format!("must not be after {now}"))
        }
        (Some(id), Some(at)) => Some((id, at)),
        (None, None) => {
            fields.is_named = false;
            Some(((fields.reading.new_id)(), now))
        }
        (Some(_), None) => fields.refuse("recorded_at", "required", "goes with id: leave both empty for a new test"),
        (None, Some(_)) => fields.refuse("id", "required", "goes with recorded_at: leave both empty for a new test"),
    }
}

fn point(fields: &mut Fields<'_>, [residual, outlets, gpm]: [&str; 3]) -> Maybe<SecondPoint> {
    let residual_pressure = fields.number(residual, Pressure::from_psi);
    let readings = fields.list(outlets, &READING, MAX_TEST_OUTLETS, reading);
    let metered = fields.number(gpm, PositiveFlow::from_gpm);
    let (residual_pressure, readings, metered) = (residual_pressure?, readings?, metered?);
    let flow = match (readings.is_empty(), metered) {
        (false, None) => Some(MeasuredFlow::Pitot(readings)),
        (true, Some(metered)) => Some(MeasuredFlow::Metered(metered)),
        (true, None) => None,
        (false, Some(_)) => {
            return fields.refuse(gpm, "exactly_one_of", format!("give exactly one of {outlets}, {gpm}"));
        }
    };
    match (residual_pressure, flow) {
        (Some(residual_pressure), Some(flow)) => Some(Some(SecondPoint { residual_pressure, flow })),
        (None, None) => Some(None),
        (Some(_), None) => fields.refuse(outlets, "exactly_one_of", format!("give exactly one of {outlets}, {gpm}")),
        (None, Some(_)) => fields.refuse(residual, "required", "must be given with what flowed"),
    }
}

fn reading([inches, number, psi]: [&str; 3]) -> Result<PitotReading, Wrong> {
    Ok(PitotReading {
        diameter: bounded(written_number(inches)?, Diameter::from_in)?,
        coefficient: bounded(written_number(number)?, OutletCoefficient::from_number)?,
        pitot: bounded(written_number(psi)?, PitotPressure::from_psi)?,
    })
}

fn flow_hydrants(fields: &mut Fields<'_>) -> Option<Vec<AssetId>> {
    let column = "flow_hydrant_ids";
    let ids = fields.list(column, &["hydrant_id"], MAX_FLOW_HYDRANTS, |[id]| asset_id(id))?;
    match ids.iter().enumerate().find(|(i, id)| ids[..*i].contains(id)) {
        Some((_, id)) => fields.refuse(column, "given_twice", format!("{id} is given twice")),
        None => Some(ids),
    }
}

fn voided(fields: &mut Fields<'_>) -> Maybe<Voided> {
    let (at, reason) = (fields.time("voided_at"), fields.text("void_reason", MAX_NOTE_CHARS));
    let now = fields.reading.now;
    match (at?, reason?) {
        (None, None) => Some(None),
        (Some(at), Some(_)) if at > now => {
            fields.refuse("voided_at", "in_the_future", format!("must not be after {now}"))
        }
        (Some(at), Some(reason)) => Some(Some(Voided { reason, at })),
        (Some(_), None) => fields.refuse("void_reason", "required", "goes with voided_at"),
        (None, Some(_)) => fields.refuse("voided_at", "required", "goes with void_reason"),
    }
}

/// A flow as its readings, or as metered.
fn flow_values(flow: Option<&MeasuredFlow>) -> [Value; 2] {
    match flow {
        None => [Value::Empty, Value::Empty],
        Some(MeasuredFlow::Metered(gpm)) => [Value::Empty, Value::Number(gpm.gpm())],
        Some(MeasuredFlow::Pitot(readings)) => {
            let group = |reading: &PitotReading| {
                let (number, psi) = (reading.coefficient.number(), reading.pitot.psi());
                vec![Value::Number(reading.diameter.inches()), Value::Number(number), Value::Number(psi)]
            };
            [Value::Groups(readings.iter().map(group).collect()), Value::Empty]
        }
    }
}
