//! Kinds of hose: the department's own. Shipped rows come with the program and are neither written nor read.

use longlay_hydraulics::quantity::{Diameter, HoseCoefficient, Pressure};
use longlay_records::equipment::{HoseType, Origin};
use longlay_records::text::{MAX_NAME_CHARS, MAX_NOTE_CHARS};

use crate::column::{Column, Form};
use crate::fields::Fields;
use crate::kind::{Exchanged, Kind};
use crate::value::Value;

const COLUMNS: &[Column] = &[
    Column::needed("id", Form::Text, "The department's id for it", "ldh-5"),
    Column::needed("name", Form::Text, "What the department calls it", "5 in supply hose"),
    Column::needed("diameter_in", Form::Number, "Nominal inside diameter", "5"),
    Column::needed(
        "loss_coefficient",
        Form::Number,
        "C of the friction formula, psi per (100 gpm)² per 100 ft",
        "0.08",
    ),
    Column::maybe("max_operating_psi", Form::Number, "Marked operating pressure", "300"),
    Column::maybe("service_test_psi", Form::Number, "Service-test pressure", "400"),
    Column::needed("source", Form::Text, "Where the coefficient comes from", "our test of 2026"),
];

impl Exchanged for HoseType {
    const KIND: Kind = Kind::HoseTypes;
    const COLUMNS: &'static [Column] = COLUMNS;

    fn values(&self) -> Vec<Value> {
        vec![
            Value::id(&self.id),
            Value::text(&self.name),
            Value::Number(self.diameter.inches()),
            Value::Number(self.coefficient.psi_per_100gpm2_100ft()),
            Value::maybe(self.max_operating, |most| Value::Number(most.psi())),
            Value::maybe(self.service_test, |test| Value::Number(test.psi())),
            Value::text(&self.source),
        ]
    }

    fn read(fields: &mut Fields<'_>) -> Option<Self> {
        let id = fields.needed_id("id");
        let name = fields.needed_text("name", MAX_NAME_CHARS);
        let diameter = fields.needed_number("diameter_in", Diameter::from_in);
        let coefficient = fields.needed_number("loss_coefficient", HoseCoefficient::from_psi_per_100gpm2_100ft);
        let max_operating = fields.number("max_operating_psi", Pressure::from_psi);
        let service_test = fields.number("service_test_psi", Pressure::from_psi);
        let source = fields.needed_text("source", MAX_NOTE_CHARS);
        Some(Self {
            id: id?,
            name: name?,
            diameter: diameter?,
            coefficient: coefficient?,
            coefficient_range: None,
            max_operating: max_operating?,
            service_test: service_test?,
            source: source?,
            origin: Origin::Department,
        })
    }

    fn key(&self, _is_named: bool) -> String {
        self.id.to_string()
    }
}
