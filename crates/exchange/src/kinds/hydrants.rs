//! Hydrants.

use longlay_hydraulics::quantity::{ApplianceCoefficient, Diameter, OutletCoefficient};
use longlay_records::hydrant::{Elevation, Hydrant, HydrantOutlet, Location, MAX_OUTLETS, OutletKind, Owner, Status};
use longlay_records::text::{MAX_NAME_CHARS, MAX_NOTE_CHARS};

use super::places::location;
use crate::column::{Column, Form};
use crate::fault::Wrong;
use crate::fields::{Fields, bounded};
use crate::kind::{Exchanged, Kind};
use crate::scalar::{one_of, written_number};
use crate::value::Value;

const OUTLET: [&str; 3] = ["kind", "diameter_in", "coefficient"];
const OUTLET_KINDS: [(&str, OutletKind); 2] = [("hose", OutletKind::Hose), ("pumper", OutletKind::Pumper)];
const OWNERS: [(&str, Owner); 2] = [("public", Owner::Public), ("private", Owner::Private)];

const COLUMNS: &[Column] = &[
    Column::needed("hydrant_id", Form::Text, "The department's number", "H-101"),
    Column::needed("lon", Form::Number, "Degrees east, WGS 84", "-90.1034").inside("location/lon"),
    Column::needed("lat", Form::Number, "Degrees north, WGS 84", "40.2071").inside("location/lat"),
    Column::maybe("elevation_ft", Form::Number, "Height of the ground above the department's datum", "612"),
    Column::maybe(
        "outlets",
        Form::Groups(&OUTLET),
        "Each outlet as hose or pumper, inside diameter in inches, coefficient of discharge",
        "hose 2.5 0.9; pumper 4.5 0.8",
    ),
    Column::maybe(
        "body_loss_coefficient",
        Form::Number,
        "Loss of its own body and outlet where it was tested, psi per (100 gpm)²",
        "0.05",
    ),
    Column::maybe(
        "main_id",
        Form::Text,
        "The main it stands on; a hydrant without a test borrows one from its main",
        "M-12",
    ),
    Column::maybe("main_diameter_in", Form::Number, "Inside diameter of that main", "8"),
    Column::maybe("pressure_zone", Form::Text, "The pressure zone it belongs to", "High"),
    Column::needed("owner", Form::Text, "public or private", "public"),
    Column::needed("potable", Form::Flag, "Whether its water is fit to drink", "yes"),
    Column::maybe("seasonal", Form::Flag, "Whether it is shut for part of the year; no where it is empty", "no"),
    Column::needed("in_service", Form::Flag, "Whether it may be counted on", "yes"),
    Column::maybe("out_of_service_reason", Form::Text, "Why not, where it is out of service", "stem broken"),
    Column::maybe("description", Form::Text, "Anything else", "behind the school"),
];

impl Exchanged for Hydrant {
    const KIND: Kind = Kind::Hydrants;
    const COLUMNS: &'static [Column] = COLUMNS;

    fn values(&self) -> Vec<Value> {
        let (in_service, reason) = match &self.status {
            Status::InService => (true, None),
            Status::OutOfService { reason } => (false, reason.as_deref()),
        };
        let owner = match self.owner {
            Owner::Public => "public",
            Owner::Private => "private",
        };
        let text = |text: &Option<String>| Value::maybe(text.as_deref(), Value::text);
        vec![
            Value::id(&self.id),
            Value::Number(self.location.lon()),
            Value::Number(self.location.lat()),
            Value::maybe(self.elevation, |height| Value::Number(height.ft())),
            Value::Groups(self.outlets.iter().map(outlet_values).collect()),
            Value::maybe(self.body_loss, |loss| Value::Number(loss.psi_per_100gpm2())),
            text(&self.main_id),
            Value::maybe(self.main_diameter, |diameter| Value::Number(diameter.inches())),
            text(&self.pressure_zone),
            Value::text(owner),
            Value::Flag(self.potable),
            Value::Flag(self.seasonal),
            Value::Flag(in_service),
            Value::maybe(reason, Value::text),
            text(&self.description),
        ]
    }

    fn read(fields: &mut Fields<'_>) -> Option<Self> {
        let id = fields.needed_id("hydrant_id");
        let location = location(fields);
        let elevation = fields.number("elevation_ft", Elevation::from_ft);
        let outlets = fields.list("outlets", &OUTLET, MAX_OUTLETS, outlet);
        let body_loss = fields.number("body_loss_coefficient", ApplianceCoefficient::from_psi_per_100gpm2);
        let main_id = fields.text("main_id", MAX_NAME_CHARS);
        let main_diameter = fields.number("main_diameter_in", Diameter::from_in);
        let pressure_zone = fields.text("pressure_zone", MAX_NAME_CHARS);
        let owner = fields.one_of("owner", &OWNERS);
        let owner = fields.given("owner", owner);
        let potable = fields.needed_flag("potable");
        let seasonal = fields.flag("seasonal");
        let status = status(fields);
        let description = fields.text("description", MAX_NOTE_CHARS);
        Some(Self {
            id: id?,
            location: location?,
            elevation: elevation?,
            outlets: outlets?,
            body_loss: body_loss?,
            main_id: main_id?,
            main_diameter: main_diameter?,
            pressure_zone: pressure_zone?,
            owner: owner?,
            potable: potable?,
            seasonal: seasonal?.unwrap_or(false),
            status: status?,
            description: description?,
        })
    }

    fn key(&self, _is_named: bool) -> String {
        self.id.to_string()
    }

    fn place(&self) -> Option<Location> {
        Some(self.location)
    }
}

fn status(fields: &mut Fields<'_>) -> Option<Status> {
    let in_service = fields.needed_flag("in_service");
    let column = "out_of_service_reason";
    let reason = fields.text(column, MAX_NOTE_CHARS)?;
    match (in_service?, reason) {
        (true, None) => Some(Status::InService),
        (true, Some(_)) => fields.refuse(column, "not_with", "goes with in_service no only"),
        (false, reason) => Some(Status::OutOfService { reason }),
    }
}

fn outlet([kind, inches, number]: [&str; 3]) -> Result<HydrantOutlet, Wrong> {
    Ok(HydrantOutlet {
        kind: one_of(kind, &OUTLET_KINDS)?,
        diameter: bounded(written_number(inches)?, Diameter::from_in)?,
        coefficient: bounded(written_number(number)?, OutletCoefficient::from_number)?,
    })
}

fn outlet_values(outlet: &HydrantOutlet) -> Vec<Value> {
    let kind = match outlet.kind {
        OutletKind::Hose => "hose",
        OutletKind::Pumper => "pumper",
    };
    vec![Value::text(kind), Value::Number(outlet.diameter.inches()), Value::Number(outlet.coefficient.number())]
}
