//! Demand points.

use longlay_hydraulics::needed_flow::{BuildingType, FireCode, FireCodeEdition, IsoEdition, Sprinklers};
use longlay_hydraulics::quantity::{Area, PositiveFlow, Separation};
use longlay_records::demand::{DemandPoint, Need};
use longlay_records::hydrant::{Elevation, Location};
use longlay_records::text::{MAX_NAME_CHARS, MAX_NOTE_CHARS};

use super::places::location;
use crate::column::{Column, Form};
use crate::fields::{Fields, Maybe};
use crate::kind::{Exchanged, Kind};
use crate::value::Value;

/// How a need is worked out.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Method {
    IsoDwelling,
    FireCode,
}

const METHODS: [(&str, Method); 2] = [("iso_dwelling", Method::IsoDwelling), ("ifc_b105", Method::FireCode)];
const ISO_EDITIONS: [(&str, IsoEdition); 2] =
    [("before_2012", IsoEdition::Before2012), ("from_2012", IsoEdition::From2012)];
const CODE_EDITIONS: [(&str, FireCodeEdition); 2] =
    [("before_2015", FireCodeEdition::Before2015), ("from_2015", FireCodeEdition::From2015)];
const BUILDING_TYPES: [(&str, BuildingType); 9] = [
    ("I-A", BuildingType::TypeIA),
    ("I-B", BuildingType::TypeIB),
    ("II-A", BuildingType::TypeIIA),
    ("II-B", BuildingType::TypeIIB),
    ("III-A", BuildingType::TypeIIIA),
    ("III-B", BuildingType::TypeIIIB),
    ("IV", BuildingType::TypeIV),
    ("V-A", BuildingType::TypeVA),
    ("V-B", BuildingType::TypeVB),
];
const SPRINKLERS: [(&str, Sprinklers); 3] =
    [("none", Sprinklers::None), ("full", Sprinklers::Full), ("residential", Sprinklers::Residential)];

/// What goes with the table for dwellings, and what with the fire code. `edition` goes with both.
const OF_DWELLINGS: [&str; 1] = ["separation_ft"];
const OF_FIRE_CODE: [&str; 4] = ["building_type", "area_sq_ft", "dwelling", "sprinklers"];

const COLUMNS: &[Column] = &[
    Column::needed("demand_point_id", Form::Text, "The department's id for it", "B-2041"),
    Column::needed("lon", Form::Number, "Degrees east, WGS 84", "-90.1034").inside("location/lon"),
    Column::needed("lat", Form::Number, "Degrees north, WGS 84", "40.2071").inside("location/lat"),
    Column::maybe("elevation_ft", Form::Number, "Height of the ground above the department's datum", "618"),
    Column::maybe("name", Form::Text, "What it is called", "Mill school"),
    Column::maybe("address", Form::Text, "Its address", "12 Quay Lane"),
    Column::maybe(
        "needed_flow_gpm",
        Form::Number,
        "What it asks for; beside a method what that says, or nothing",
        "1500",
    )
    .inside("need/needed_flow_gpm"),
    Column::maybe("need_source", Form::Text, "Where a number that was only said comes from", "survey of 2025")
        .inside("need/source"),
    Column::maybe(
        "need_method",
        Form::Text,
        "How it is worked out where it is not said: iso_dwelling or ifc_b105",
        "iso_dwelling",
    )
    .inside("need/method"),
    Column::maybe(
        "need_edition",
        Form::Text,
        "The method's edition, which has no default: before_2012 or from_2012; of ifc_b105 before_2015 or from_2015",
        "from_2012",
    )
    .inside("need/edition"),
    Column::maybe("separation_ft", Form::Number, "iso_dwelling: clear distance to the nearest dwelling", "25")
        .inside("need/separation_ft"),
    Column::maybe("building_type", Form::Text, "ifc_b105: type of construction, I-A to V-B", "V-B")
        .inside("need/building_type"),
    Column::maybe("area_sq_ft", Form::Number, "ifc_b105: area of all floors that count", "4200")
        .inside("need/area_sq_ft"),
    Column::maybe("dwelling", Form::Flag, "ifc_b105: whether it is a one- or two-family dwelling", "no")
        .inside("need/dwelling"),
    Column::maybe("sprinklers", Form::Text, "ifc_b105: none, full or residential", "none").inside("need/sprinklers"),
];

impl Exchanged for DemandPoint {
    const KIND: Kind = Kind::DemandPoints;
    const COLUMNS: &'static [Column] = COLUMNS;
    const MOST: usize = MOST_DEMAND_POINTS;
    const TAKES_AREAS: bool = true;

    fn values(&self) -> Vec<Value> {
        let text = |text: &Option<String>| Value::maybe(text.as_deref(), Value::text);
        let mut values = vec![
            Value::id(&self.id),
            Value::Number(self.location.lon()),
            Value::Number(self.location.lat()),
            Value::maybe(self.ground, |ground| Value::Number(ground.ft())),
            text(&self.name),
            text(&self.address),
        ];
        values.extend(need_values(self.need.as_ref()));
        values
    }

    fn read(fields: &mut Fields<'_>) -> Option<Self> {
        let id = fields.needed_id("demand_point_id");
        let location = location(fields);
        let ground = fields.number("elevation_ft", Elevation::from_ft);
        let name = fields.text("name", MAX_NAME_CHARS);
        let address = fields.text("address", MAX_NAME_CHARS);
        let need = need(fields);
        Some(Self { id: id?, location: location?, ground: ground?, name: name?, address: address?, need: need? })
    }

    fn key(&self, _is_named: bool) -> String {
        self.id.to_string()
    }

    fn place(&self) -> Option<Location> {
        Some(self.location)
    }
}

/// Most demand points of one file: a large city's come in several, which is no loss, as each row is a record of its own.
pub(crate) const MOST_DEMAND_POINTS: usize = 250_000;

fn need(fields: &mut Fields<'_>) -> Maybe<Need> {
    let method = fields.one_of("need_method", &METHODS)?;
    let (of_dwellings, of_fire_code) = (method == Some(Method::IsoDwelling), method == Some(Method::FireCode));
    let mut is_sound = method.is_some() || refuse_with(fields, &["need_edition"], "goes with need_method");
    is_sound &= of_dwellings || refuse_with(fields, &OF_DWELLINGS, "goes with need_method iso_dwelling");
    is_sound &= of_fire_code || refuse_with(fields, &OF_FIRE_CODE, "goes with need_method ifc_b105");
    is_sound &= method.is_none() || refuse_with(fields, &["need_source"], "goes with a number that was only said");
    let said = fields.number("needed_flow_gpm", PositiveFlow::from_gpm);
    let need = match method {
        None => given(fields, said?),
        Some(Method::IsoDwelling) => dwelling(fields).map(Some),
        Some(Method::FireCode) => fire_code(fields).map(Some),
    };
    let need = if is_sound { need? } else { return None };
    worked_out(fields, need, said?)
}

/// Notes each of these columns that is not empty; true where all are.
fn refuse_with(fields: &mut Fields<'_>, columns: &[&str], detail: &str) -> bool {
    let mut is_sound = true;
    for column in columns.iter().filter(|column| fields.cell(column).is_some()).collect::<Vec<_>>() {
        fields.refuse::<()>(column, "not_with", detail);
        is_sound = false;
    }
    is_sound
}

fn given(fields: &mut Fields<'_>, said: Option<PositiveFlow>) -> Maybe<Need> {
    let source = fields.text("need_source", MAX_NOTE_CHARS)?;
    match (said, source) {
        (Some(flow), source) => Some(Some(Need::Given { flow, source })),
        (None, None) => Some(None),
        (None, Some(_)) => fields.refuse("need_source", "not_with", "goes with needed_flow_gpm"),
    }
}

fn dwelling(fields: &mut Fields<'_>) -> Option<Need> {
    let edition = fields.one_of("need_edition", &ISO_EDITIONS);
    let edition = fields.given("need_edition", edition);
    let separation = fields.needed_number("separation_ft", Separation::from_ft);
    Some(Need::IsoDwelling { edition: edition?, separation: separation? })
}

fn fire_code(fields: &mut Fields<'_>) -> Option<Need> {
    let edition = fields.one_of("need_edition", &CODE_EDITIONS);
    let edition = fields.given("need_edition", edition);
    let building_type = fields.one_of("building_type", &BUILDING_TYPES);
    let building_type = fields.given("building_type", building_type);
    let area = fields.needed_number("area_sq_ft", Area::from_sq_ft);
    let dwelling = fields.needed_flag("dwelling");
    let sprinklers = fields.one_of("sprinklers", &SPRINKLERS);
    let sprinklers = fields.given("sprinklers", sprinklers);
    Some(Need::FireCode(FireCode {
        edition: edition?,
        building_type: building_type?,
        area: area?,
        dwelling: dwelling?,
        sprinklers: sprinklers?,
    }))
}

/// A need whose method has a number, and none other than was written beside it.
fn worked_out(fields: &mut Fields<'_>, need: Option<Need>, said: Option<PositiveFlow>) -> Maybe<Need> {
    let Some(need) = need else { return Some(None) };
    match (need.gpm(), said) {
        (Err(error), _) => fields.refuse("building_type", "no_known_row", error.to_string()),
        (Ok(gpm), Some(said)) if said.gpm() != gpm => {
            let detail = format!("the method says {gpm}: leave one of the two out");
            fields.refuse("needed_flow_gpm", "differs_from_method", detail)
        }
        _ => Some(Some(need)),
    }
}

fn need_values(need: Option<&Need>) -> [Value; 9] {
    let gpm = Value::maybe(need.and_then(|need| need.gpm().ok()), Value::Number);
    let mut values = [const { Value::Empty }; 9];
    values[0] = gpm;
    match need {
        None => {}
        Some(Need::Given { source, .. }) => values[1] = Value::maybe(source.as_deref(), Value::text),
        Some(Need::IsoDwelling { edition, separation }) => {
            values[2] = word(&Method::IsoDwelling, &METHODS);
            values[3] = word(edition, &ISO_EDITIONS);
            values[4] = Value::Number(separation.ft());
        }
        Some(Need::FireCode(building)) => {
            values[2] = word(&Method::FireCode, &METHODS);
            values[3] = word(&building.edition, &CODE_EDITIONS);
            values[5] = word(&building.building_type, &BUILDING_TYPES);
            values[6] = Value::Number(building.area.sq_ft());
            values[7] = Value::Flag(building.dwelling);
            values[8] = word(&building.sprinklers, &SPRINKLERS);
        }
    }
    values
}

fn word<T: PartialEq>(meant: &T, words: &[(&str, T)]) -> Value {
    Value::maybe(words.iter().find(|(_, known)| known == meant), |(word, _)| Value::text(word))
}
