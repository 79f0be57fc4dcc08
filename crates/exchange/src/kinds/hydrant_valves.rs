//! Kinds of four-way hydrant valve: the department's own.

use longlay_hydraulics::quantity::ApplianceCoefficient;
use longlay_records::equipment::{HoseLoad, HydrantValveType, Origin};
use longlay_records::text::{MAX_NAME_CHARS, MAX_NOTE_CHARS};

use super::loads::{LOAD, load, load_values};
use crate::column::{Column, Form};
use crate::fields::{Fields, Maybe};
use crate::kind::{Exchanged, Kind};
use crate::value::Value;

const COLUMNS: &[Column] = &[
    Column::needed("id", Form::Text, "The department's id for it", "four-way-a"),
    Column::needed("name", Form::Text, "What the department calls it", "Four-way valve"),
    Column::needed(
        "through_coefficient",
        Form::Number,
        "Hydrant to supply line, unboosted, psi per (100 gpm)²",
        "0.22",
    ),
    Column::needed("to_pump_coefficient", Form::Number, "Hydrant to the pumper's intake, psi per (100 gpm)²", "0.1"),
    Column::needed(
        "from_pump_coefficient",
        Form::Number,
        "Pumper's discharge to supply line, psi per (100 gpm)²",
        "0.05",
    ),
    Column::maybe(
        "to_pump_hose",
        Form::Group(&LOAD),
        "The hose kept with it from valve to pumper: its kind, its length in ft",
        "ldh-5 25",
    ),
    Column::maybe("from_pump_hose", Form::Group(&LOAD), "The hose kept with it from pumper to valve", "ldh-5 25"),
    Column::needed("source", Form::Text, "Where the coefficients come from", "our test of 2026"),
];

impl Exchanged for HydrantValveType {
    const KIND: Kind = Kind::HydrantValves;
    const COLUMNS: &'static [Column] = COLUMNS;

    fn values(&self) -> Vec<Value> {
        let leg = |coefficient: ApplianceCoefficient| Value::Number(coefficient.psi_per_100gpm2());
        let hose = |hose: &Option<HoseLoad>| Value::maybe(hose.as_ref(), |hose| Value::Groups(vec![load_values(hose)]));
        vec![
            Value::id(&self.id),
            Value::text(&self.name),
            leg(self.through),
            leg(self.to_pump),
            leg(self.from_pump),
            hose(&self.to_pump_hose),
            hose(&self.from_pump_hose),
            Value::text(&self.source),
        ]
    }

    fn read(fields: &mut Fields<'_>) -> Option<Self> {
        let id = fields.needed_id("id");
        let name = fields.needed_text("name", MAX_NAME_CHARS);
        let mut leg = |column| fields.needed_number(column, ApplianceCoefficient::from_psi_per_100gpm2);
        let through = leg("through_coefficient");
        let to_pump = leg("to_pump_coefficient");
        let from_pump = leg("from_pump_coefficient");
        let to_pump_hose = hose(fields, "to_pump_hose");
        let from_pump_hose = hose(fields, "from_pump_hose");
        let source = fields.needed_text("source", MAX_NOTE_CHARS);
        Some(Self {
            id: id?,
            name: name?,
            through: through?,
            through_range: None,
            to_pump: to_pump?,
            from_pump: from_pump?,
            to_pump_hose: to_pump_hose?,
            from_pump_hose: from_pump_hose?,
            source: source?,
            origin: Origin::Department,
        })
    }

    fn key(&self, _is_named: bool) -> String {
        self.id.to_string()
    }
}

fn hose(fields: &mut Fields<'_>, column: &str) -> Maybe<HoseLoad> {
    fields.list(column, &LOAD, 1, load).map(|loads| loads.into_iter().next())
}
