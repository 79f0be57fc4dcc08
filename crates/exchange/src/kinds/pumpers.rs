//! Pumpers and the hose they carry.

use longlay_hydraulics::pumper::{PumpCurve, PumpCurveError, PumpPoint};
use longlay_hydraulics::quantity::{PositiveFlow, Pressure, Volume};
use longlay_records::equipment::{MAX_LIST, Pumper};
use longlay_records::text::MAX_NAME_CHARS;

use super::loads::{LOAD, load, load_values};
use crate::column::{Column, Form};
use crate::fault::Wrong;
use crate::fields::{Fields, bounded};
use crate::kind::{Exchanged, Kind};
use crate::scalar::written_number;
use crate::value::Value;

const POINT: [&str; 2] = ["flow_gpm", "net_psi"];

const COLUMNS: &[Column] = &[
    Column::needed("id", Form::Text, "The department's id for it", "engine-1"),
    Column::needed("name", Form::Text, "What the department calls it", "Engine 1"),
    Column::needed("rated_flow_gpm", Form::Number, "Rated flow", "1500"),
    Column::maybe("intake_floor_psi", Form::Number, "Its intake is kept at or above this; 20 where it is empty", "20"),
    Column::maybe("max_discharge_psi", Form::Number, "The department's own ceiling on its discharge", "200"),
    Column::maybe(
        "points",
        Form::Groups(&POINT),
        "Its own test points: flow in gpm, net pump pressure in psi; flow rising and pressure not. Empty for those of its rating",
        "750 250; 1050 200; 1500 150",
    ),
    Column::maybe("tank_gal", Form::Number, "Its tank", "750"),
    Column::maybe(
        "hose",
        Form::Groups(&LOAD),
        "The supply hose it carries: its kind, its length in ft",
        "ldh-5 1000; std-3in 400",
    ),
];

impl Exchanged for Pumper {
    const KIND: Kind = Kind::Pumpers;
    const COLUMNS: &'static [Column] = COLUMNS;

    fn values(&self) -> Vec<Value> {
        let point = |point: &PumpPoint| vec![Value::Number(point.flow.gpm()), Value::Number(point.net.psi())];
        vec![
            Value::id(&self.id),
            Value::text(&self.name),
            Value::Number(self.rated_flow.gpm()),
            Value::maybe(self.intake_floor, |floor| Value::Number(floor.psi())),
            Value::maybe(self.max_discharge, |most| Value::Number(most.psi())),
            Value::Groups(self.points.iter().map(point).collect()),
            Value::maybe(self.tank, |tank| Value::Number(tank.gal())),
            Value::Groups(self.hose.iter().map(load_values).collect()),
        ]
    }

    fn read(fields: &mut Fields<'_>) -> Option<Self> {
        let id = fields.needed_id("id");
        let name = fields.needed_text("name", MAX_NAME_CHARS);
        let rated_flow = fields.needed_number("rated_flow_gpm", PositiveFlow::from_gpm);
        let intake_floor = fields.number("intake_floor_psi", Pressure::from_psi);
        let max_discharge = fields.number("max_discharge_psi", Pressure::from_psi);
        let points = points(fields);
        let tank = fields.number("tank_gal", Volume::from_gal);
        let hose = fields.list("hose", &LOAD, MAX_LIST, load);
        Some(Self {
            id: id?,
            name: name?,
            rated_flow: rated_flow?,
            intake_floor: intake_floor?,
            max_discharge: max_discharge?,
            points: points?,
            tank: tank?,
            hose: hose?,
        })
    }

    fn key(&self, _is_named: bool) -> String {
        self.id.to_string()
    }
}

fn points(fields: &mut Fields<'_>) -> Option<Vec<PumpPoint>> {
    let points = fields.list("points", &POINT, MAX_LIST, |[gpm, psi]| -> Result<PumpPoint, Wrong> {
        Ok(PumpPoint {
            flow: bounded(written_number(gpm)?, PositiveFlow::from_gpm)?,
            net: bounded(written_number(psi)?, Pressure::from_psi)?,
        })
    })?;
    match PumpCurve::from_points(points.clone()) {
        Ok(_) | Err(PumpCurveError::NoPoints) => Some(points),
        Err(error @ PumpCurveError::FlowNotRising(_)) => fields.refuse("points", "not_rising", error.to_string()),
        Err(error @ PumpCurveError::NetRising(_)) => fields.refuse("points", "rising", error.to_string()),
    }
}
