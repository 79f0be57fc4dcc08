//! Streets out of a map's file. A network means something only as a whole: a file is one, and stands in place of the one before.

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::io::{BufRead, Read as _};

use longlay_records::hydrant::Location;
use longlay_records::street::{self, Barrier, MAX_STREET_ID_CHARS, MAX_STREET_PLACES, Street};
use longlay_records::text::MAX_NAME_CHARS;

use crate::column::{Column, Form};
use crate::fault::Faults;
use crate::feature::Sink;
use crate::fields::{Cell, Fields};
use crate::geojson;
use crate::geometry::{Geometry, Position};
use crate::read::{self, Reading};
use crate::unknown::Unknown;

/// Most streets of a file.
pub const MOST_STREETS: usize = 1_000_000;
/// Most places of all their lines together.
pub const MOST_PLACES: usize = 8_000_000;

/// The properties that are read; all others are passed over.
pub const COLUMNS: &[Column] = &[
    Column::maybe("street_id", Form::Text, "The street's id, once in the file; or the next two", "S-12"),
    Column::maybe(
        "RCL_NGUID",
        Form::Text,
        "The id of a road centerline by the NENA data model, older name (from memory)",
        "urn:example:rcl:12",
    ),
    Column::maybe(
        "NGUID",
        Form::Text,
        "The id of a road centerline by the NENA data model, newer name (from memory)",
        "urn:example:rcl:12",
    ),
    Column::maybe("name", Form::Text, "What it is called; or the next four together", "Quay Lane"),
    Column::maybe("St_PreDir", Form::Text, "Direction before the name, as of NENA (from memory)", "North"),
    Column::maybe("St_Name", Form::Text, "The name alone, as of NENA (from memory)", "Quay"),
    Column::maybe("St_PosTyp", Form::Text, "Street type behind the name, as of NENA (from memory)", "Lane"),
    Column::maybe("St_PosDir", Form::Text, "Direction behind the name, as of NENA (from memory)", "East"),
    Column::maybe("StreetName", Form::Text, "What it is called, where neither name nor St_Name says it", "Quay Lane"),
    Column::maybe(
        "from_level",
        Form::Number,
        "Level of its first place: 0 the ground, 1 a bridge over it; 0 where it is empty",
        "0",
    ),
    Column::maybe("to_level", Form::Number, "Level of its last place; 0 where it is empty", "1"),
    Column::maybe(
        "barrier",
        Form::Text,
        "What keeps hose from crossing it: railway, limited_access, median or wall; none where nothing does, whatever RoadClass says",
        "railway",
    ),
    Column::maybe(
        "RoadClass",
        Form::Text,
        "Primary, Ramp (as of NENA, from memory) and limited_access make it a limited_access barrier where barrier is empty; other classes say nothing",
        "Local",
    ),
];

const BARRIERS: [(&str, Option<Barrier>); 5] = [
    ("railway", Some(Barrier::Railway)),
    ("limited_access", Some(Barrier::LimitedAccess)),
    ("median", Some(Barrier::Median)),
    ("wall", Some(Barrier::Wall)),
    ("none", None),
];
/// Classes of road that nobody lays hose along or across.
const LIMITED_ACCESS: [&str; 3] = ["primary", "ramp", "limited_access"];

/// The streets of a file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Streets {
    /// In the order of the file.
    pub streets: Vec<Street>,
    /// The feature of each, from 1.
    pub rows: Vec<u64>,
    /// How many are of limited access by their class alone.
    pub limited_by_class: usize,
    /// The properties that were passed over, the first hundred.
    pub ignored_columns: Vec<String>,
}

/// The streets of a feature collection of lines. A line of several parts is a street for each, of which the second has the id of the first with ` #2`
/// behind it; parts that follow on each other are one.
///
/// # Errors
/// Every fault of the file: its first hundred and their number.
pub fn read(mut input: impl BufRead, reading: &Reading<'_>) -> Result<Streets, Faults> {
    let head = read::head(&mut input)?;
    let mut gathered = Gathered {
        found: Streets::default(),
        places: 0,
        is_full: false,
        seen: HashMap::new(),
        faults: Faults::default(),
        reading,
    };
    let unknown = Unknown::passing_over(COLUMNS.iter().collect(), reading);
    gathered.found.ignored_columns = geojson::read(head.as_slice().chain(input), &mut gathered, unknown)?;
    if gathered.found.streets.is_empty() && gathered.faults.is_empty() {
        gathered.faults.note(0, None, "no_rows", "no street stands in the file, and it would replace all there are");
    }
    if gathered.faults.is_empty() { Ok(gathered.found) } else { Err(gathered.faults) }
}

struct Gathered<'r> {
    found: Streets,
    places: usize,
    is_full: bool,
    /// The feature of each id.
    seen: HashMap<String, u64>,
    faults: Faults,
    reading: &'r Reading<'r>,
}

/// What the properties say.
struct Said {
    id: String,
    name: Option<String>,
    levels: (i16, i16),
    barrier: Option<Barrier>,
    is_limited_by_class: bool,
}

impl Sink for Gathered<'_> {
    const COLUMNS: &'static [Column] = COLUMNS;
    const MOST_POSITIONS: usize = MAX_STREET_PLACES;

    fn faults(&mut self) -> &mut Faults {
        &mut self.faults
    }

    fn feature(&mut self, row: u64, cells: Vec<Option<Cell<'_>>>, geometry: &Geometry) {
        if self.is_full {
            return;
        }
        let lines = lines(&mut self.faults, row, geometry);
        if cells.is_empty() {
            return;
        }
        let (faults, reading) = (&mut self.faults, self.reading);
        let mut fields = Fields { columns: COLUMNS, cells: &cells, row, reading, faults, is_named: true };
        let Some((said, lines)) = said(&mut fields).zip(lines) else { return };
        let (from_level, to_level) = said.levels;
        if lines.len() > 1 && from_level != to_level {
            let detail =
                "its line has gaps, so that nobody can say where it changes level: give each part a feature of its own";
            self.faults.note(row, Some("to_level"), "levels_unclear", detail);
            return;
        }
        self.found.limited_by_class += usize::from(said.is_limited_by_class);
        for (at, line) in lines.into_iter().enumerate() {
            let id = if at == 0 { said.id.clone() } else { format!("{} #{}", said.id, at + 1) };
            let street = Street { id, name: said.name.clone(), line, from_level, to_level, barrier: said.barrier };
            self.take(row, street);
        }
    }
}

impl Gathered<'_> {
    fn take(&mut self, row: u64, street: Street) {
        self.places += street.line.len();
        if self.found.streets.len() >= MOST_STREETS || self.places > MOST_PLACES {
            if !self.is_full {
                let detail = format!("a network is at most {MOST_STREETS} streets of {MOST_PLACES} places together");
                self.faults.note(row, None, "too_many_rows", detail);
            }
            self.is_full = true;
            return;
        }
        match self.seen.entry(street.id.clone()) {
            Entry::Vacant(free) => {
                free.insert(row);
                self.found.streets.push(street);
                self.found.rows.push(row);
            }
            Entry::Occupied(first) => {
                let detail = format!("features {} and {row} hold the same id", first.get());
                self.faults.note(row, None, "given_twice", detail);
            }
        }
    }
}

fn said(fields: &mut Fields<'_>) -> Option<Said> {
    let id = first_text(fields, &["street_id", "RCL_NGUID", "NGUID"], MAX_STREET_ID_CHARS);
    let id = fields.given("street_id", id);
    let name = name(fields);
    let mut level = |column| fields.number(column, whole_level).map(Option::unwrap_or_default);
    let (from_level, to_level) = (level("from_level"), level("to_level"));
    let barrier = fields.one_of("barrier", &BARRIERS);
    let class = fields.text("RoadClass", MAX_NAME_CHARS)?;
    let is_limited = class.is_some_and(|class| LIMITED_ACCESS.contains(&class.trim().to_ascii_lowercase().as_str()));
    let barrier = barrier?;
    Some(Said {
        id: id?,
        name: name?,
        levels: (from_level?, to_level?),
        barrier: barrier.unwrap_or(is_limited.then_some(Barrier::LimitedAccess)),
        is_limited_by_class: barrier.is_none() && is_limited,
    })
}

/// The text of the first of these columns that has one.
#[expect(clippy::option_option, reason = "the outer one is a fault noted, the inner one an empty cell")]
fn first_text(fields: &mut Fields<'_>, columns: &[&str], most: usize) -> Option<Option<String>> {
    match columns.iter().find(|column| fields.cell(column).is_some()) {
        Some(column) => fields.text(column, most),
        None => Some(None),
    }
}

#[expect(clippy::option_option, reason = "the outer one is a fault noted, the inner one an empty cell")]
fn name(fields: &mut Fields<'_>) -> Option<Option<String>> {
    if fields.cell("name").is_some() || fields.cell("St_Name").is_none() {
        return first_text(fields, &["name", "StreetName"], MAX_NAME_CHARS);
    }
    let mut words = Vec::new();
    for column in ["St_PreDir", "St_Name", "St_PosTyp", "St_PosDir"] {
        words.extend(fields.text(column, MAX_NAME_CHARS)?.map(|word| word.trim().to_owned()));
    }
    Some(Some(words.join(" ").chars().take(MAX_NAME_CHARS).collect()))
}

fn whole_level(level: f64) -> Result<i16, String> {
    let whole = (-99..=99_i16).find(|whole| f64::from(*whole) == level);
    whole.ok_or_else(|| format!("a level is a whole number from -99 to 99, not {level}"))
}

/// The lines of a geometry, those that follow on each other as one; none where a fault was noted.
fn lines(faults: &mut Faults, row: u64, geometry: &Geometry) -> Option<Vec<Vec<Location>>> {
    let mut refuse = |code, detail: String| {
        faults.note(row, Some("geometry"), code, detail);
        None
    };
    if geometry.is_too_long() {
        return refuse("too_many_positions", format!("a street is at most {MAX_STREET_PLACES} positions: split it"));
    }
    let Some(parts) = geometry.lines() else {
        return refuse("not_a_line", "its geometry must be a LineString or a MultiLineString".to_owned());
    };
    let mut lines: Vec<Vec<Location>> = Vec::new();
    for part in parts {
        let places = match part.iter().map(place).collect::<Result<Vec<_>, _>>() {
            Ok(places) => places,
            Err((code, detail)) => return refuse(code, detail),
        };
        match lines.last_mut() {
            Some(before) if before.last() == places.first() => before.extend(places),
            _ => lines.push(places),
        }
    }
    let lines: Option<Vec<_>> = lines.into_iter().map(street::line).collect();
    let is_there = |lines: &Vec<_>| !lines.is_empty();
    lines.filter(is_there).or_else(|| refuse("no_length", "a line needs two places that are not the same".to_owned()))
}

fn place((lon, lat): &Position) -> Result<Location, (&'static str, String)> {
    if *lon == 0.0 && *lat == 0.0 {
        return Err(("no_place", "lon 0 and lat 0 are no place of a street".to_owned()));
    }
    Location::new(*lon, *lat).map_err(|faults| {
        let detail: Vec<_> = faults.iter().map(ToString::to_string).collect();
        ("out_of_bounds", format!("{}: are they longitude and latitude, in this order?", detail.join(", ")))
    })
}
