//! Standard lays.

use longlay_hydraulics::loss::MAX_LINES;
use longlay_hydraulics::quantity::{Length, Pressure};
use longlay_records::equipment::{LayProfile, MAX_LIST};
use longlay_records::text::MAX_NAME_CHARS;

use crate::column::{Column, Form};
use crate::fields::Fields;
use crate::kind::{Exchanged, Kind};
use crate::scalar::asset_id;
use crate::value::Value;

const COLUMNS: &[Column] = &[
    Column::needed("id", Form::Text, "The department's id for it", "forward-lay"),
    Column::needed("name", Form::Text, "What the department calls it", "Forward lay"),
    Column::maybe("hydrant_valve_id", Form::Text, "The valve left on the hydrant, if one is", "four-way-a"),
    Column::needed("hose_type_id", Form::Text, "The supply hose", "ldh-5"),
    Column::needed("lines", Form::Number, "Equal lines side by side, 1 to 8", "1"),
    Column::needed(
        "carried_ft",
        Form::Number,
        "Hose carried for it: the length of the lay where no other is given",
        "1000",
    ),
    Column::maybe("scene_appliance_ids", Form::Ids, "Appliances at the scene end, in order", "wye-a"),
    Column::maybe(
        "scene_floor_psi",
        Form::Number,
        "Least pressure wanted at the scene intake; 20 where it is empty",
        "20",
    ),
    Column::maybe("main_floor_psi", Form::Number, "Least pressure left in the main; 20 where it is empty", "20"),
];

impl Exchanged for LayProfile {
    const KIND: Kind = Kind::LayProfiles;
    const COLUMNS: &'static [Column] = COLUMNS;

    fn values(&self) -> Vec<Value> {
        vec![
            Value::id(&self.id),
            Value::text(&self.name),
            Value::maybe(self.hydrant_valve_id.as_ref(), Value::id),
            Value::id(&self.hose_type_id),
            Value::Number(f64::from(self.lines)),
            Value::Number(self.carried.ft()),
            Value::ids(&self.scene_appliance_ids),
            Value::maybe(self.scene_floor, |floor| Value::Number(floor.psi())),
            Value::maybe(self.main_floor, |floor| Value::Number(floor.psi())),
        ]
    }

    fn read(fields: &mut Fields<'_>) -> Option<Self> {
        let id = fields.needed_id("id");
        let name = fields.needed_text("name", MAX_NAME_CHARS);
        let hydrant_valve_id = fields.id("hydrant_valve_id");
        let hose_type_id = fields.needed_id("hose_type_id");
        let lines = fields.needed_number("lines", lines);
        let carried = fields.needed_number("carried_ft", Length::from_ft);
        let scene_appliance_ids = fields.list("scene_appliance_ids", &["id"], MAX_LIST, |[id]| asset_id(id));
        let scene_floor = fields.number("scene_floor_psi", Pressure::from_psi);
        let main_floor = fields.number("main_floor_psi", Pressure::from_psi);
        Some(Self {
            id: id?,
            name: name?,
            hydrant_valve_id: hydrant_valve_id?,
            hose_type_id: hose_type_id?,
            lines: lines?,
            carried: carried?,
            scene_appliance_ids: scene_appliance_ids?,
            scene_floor: scene_floor?,
            main_floor: main_floor?,
        })
    }

    fn key(&self, _is_named: bool) -> String {
        self.id.to_string()
    }
}

fn lines(number: f64) -> Result<u8, String> {
    let whole = (1..=MAX_LINES).find(|lines| f64::from(*lines) == number);
    whole.ok_or_else(|| format!("lines must be a whole number from 1 to {MAX_LINES}, not {number}"))
}
