//! Bytes into records, or into every fault with its row.

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::io::{BufRead, Read};

use chrono::{DateTime, NaiveDate, Utc};
use longlay_records::shape::{Rings, Shape};
use uuid::Uuid;

use crate::column::Column;
use crate::fault::Faults;
use crate::feature::Sink;
use crate::fields::{Cell, Fields};
use crate::geojson;
use crate::geometry::{Geometry, Position};
use crate::header::{self, Header};
use crate::kind::Exchanged;
use crate::mark::unmarked;
use crate::rows::{Row, Rows};
use crate::unknown::Unknown;

/// Most records of one file, where its kind says no other number: they are held in memory until all are judged, and while they are written nothing else is.
pub const MOST_RECORDS: usize = 100_000;

/// The files that are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// Delimited values with a header.
    Csv,
    /// A feature collection, RFC 7946.
    GeoJson,
}

/// What comes first in a date with slashes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DateFormat {
    /// The month.
    MonthFirst,
    /// The day.
    DayFirst,
}

/// How whoever sends the file says what is wanted: for what a message tells him to say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spoken {
    /// In the query of an address.
    Query,
    /// On a command line.
    CommandLine,
}

impl Spoken {
    /// Something switched on.
    pub fn switch(self, name: &str) -> String {
        match self {
            Self::Query => format!("{name}=true"),
            Self::CommandLine => format!("--{}", name.replace('_', "-")),
        }
    }

    pub(crate) const fn date_format(self) -> &'static str {
        match self {
            Self::Query => "date_format=mdy or dmy",
            Self::CommandLine => "--date-format mdy or dmy",
        }
    }
}

/// How a file is read.
#[derive(Clone, Copy)]
pub struct Reading<'a> {
    /// What kind of file it is.
    pub source: Source,
    /// How its sender says what is wanted.
    pub spoken: Spoken,
    /// Columns that are none of ours are passed over.
    pub ignore_unknown_columns: bool,
    /// How dates with slashes are meant; without it they are refused.
    pub date_format: Option<DateFormat>,
    /// The time of recording of what has none in the file.
    pub now: DateTime<Utc>,
    /// The latest day that a test can be of.
    pub latest_day: NaiveDate,
    /// Makes the id of a test that has none in the file.
    pub new_id: &'a dyn Fn() -> Uuid,
}

impl std::fmt::Debug for Reading<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Reading").field("source", &self.source).finish_non_exhaustive()
    }
}

/// A record with where it stood.
#[derive(Debug, Clone, PartialEq)]
pub struct Item<T> {
    /// The row, as a spreadsheet shows it; of a map's file the feature, from 1.
    pub row: u64,
    /// Whether the file gave its id.
    pub is_named: bool,
    /// Whether the file gave an area, and the record's place is one inside it.
    pub is_of_area: bool,
    /// The record.
    pub record: T,
}

/// What a file holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Records<T> {
    /// Its records, in its order. A header with no rows under it holds none.
    pub items: Vec<Item<T>>,
    /// The columns that were passed over, by the names they have in the file.
    pub ignored_columns: Vec<String>,
}

/// The records of a file read from.
///
/// # Errors
/// Every fault of the file: its first hundred and their number.
pub fn records<T: Exchanged>(mut input: impl BufRead, reading: &Reading<'_>) -> Result<Records<T>, Faults> {
    let mut gathered = Gathered {
        items: Vec::new(),
        is_full: false,
        seen: HashMap::new(),
        faults: Faults::default(),
        ignored_columns: Vec::new(),
        reading,
    };
    let head = head(&mut input)?;
    let input = head.as_slice().chain(input);
    match reading.source {
        Source::Csv => gathered.csv(input, &head)?,
        Source::GeoJson => {
            let columns = T::COLUMNS.iter().filter(|column| !column.is_place()).collect();
            gathered.ignored_columns = geojson::read(input, &mut gathered, Unknown::new(columns, reading))?;
        }
    }
    if !gathered.faults.is_empty() {
        return Err(gathered.faults);
    }
    Ok(Records { items: gathered.items, ignored_columns: gathered.ignored_columns })
}

/// The beginning of the file without its byte order mark, after a look at whether it is text at all.
pub(crate) fn head(input: &mut impl Read) -> Result<Vec<u8>, Faults> {
    const HEAD_BYTES: u64 = 8 * 1024;
    let refuse = |detail: &str| Err(Faults::of_file(0, "not_utf8", detail));
    let mut head = Vec::new();
    if let Err(error) = input.take(HEAD_BYTES).read_to_end(&mut head) {
        return Err(Faults::of_file(0, "unreadable", error.to_string()));
    }
    if head.starts_with(&[0xff, 0xfe]) || head.starts_with(&[0xfe, 0xff]) {
        return refuse("the file is UTF-16: save it as CSV UTF-8");
    }
    if head.starts_with(b"PK") {
        return refuse("the file is a workbook or an archive: save the sheet as CSV UTF-8");
    }
    if head.contains(&0) {
        return refuse("the file is not text in UTF-8: save it as CSV UTF-8");
    }
    if head.starts_with(&[0xef, 0xbb, 0xbf]) {
        head.drain(..3);
    }
    Ok(head)
}

/// The delimiter that parts the header most often; a comma where none does.
fn delimiter(head: &[u8]) -> char {
    let line = head.split(|b| *b == b'\n' || *b == b'\r').find(|line| !line.is_empty()).unwrap_or_default();
    let count = |delimiter: u8| {
        let mut is_quoted = false;
        line.iter()
            .filter(|b| {
                is_quoted ^= **b == b'"';
                !is_quoted && **b == delimiter
            })
            .count()
    };
    // The last of equals wins.
    [b'\t', b';', b','].into_iter().max_by_key(|delimiter| count(*delimiter)).map_or(',', char::from)
}

/// What was read so far.
pub(crate) struct Gathered<'a, T> {
    items: Vec<Item<T>>,
    is_full: bool,
    /// The row in which each key stood.
    seen: HashMap<String, u64>,
    pub(crate) faults: Faults,
    pub(crate) ignored_columns: Vec<String>,
    pub(crate) reading: &'a Reading<'a>,
}

impl<T: Exchanged> Gathered<'_, T> {
    fn csv(&mut self, input: impl BufRead, head: &[u8]) -> Result<(), Faults> {
        let mut rows = Rows::new(input, delimiter(head));
        let mut row = Row::default();
        let mut header = None;
        while rows.next(&mut row)? {
            if row.is_blank() {
                continue;
            }
            if let Some(header) = &header {
                self.csv_row(header, &row);
                continue;
            }
            let names: Vec<_> = row.cells().collect();
            let read = header::read(T::KIND, &names, self.reading, row.number, &mut self.faults);
            self.ignored_columns.clone_from(&read.ignored);
            header = Some(read);
            if !self.faults.is_empty() {
                // Rows under a wrong header would only repeat what is wrong with it.
                return Ok(());
            }
        }
        if header.is_none() {
            return Err(Faults::of_file(0, "no_rows", "the file is empty: not even a header stands in it"));
        }
        Ok(())
    }

    fn csv_row(&mut self, header: &Header, row: &Row) {
        if (header.width..row.len()).any(|at| row.cell(at).is_some_and(|cell| !cell.trim().is_empty())) {
            let detail = format!(
                "the row has {} cells under {} names: is a delimiter inside a cell not quoted?",
                row.len(),
                header.width
            );
            self.faults.note(row.number, None, "row_too_wide", detail);
            return;
        }
        let cell = |place: &Option<usize>| {
            let text = unmarked(row.cell((*place)?)?);
            (!text.is_empty()).then_some(Cell::Text(text))
        };
        let cells: Vec<_> = header.places.iter().map(cell).collect();
        self.take(row.number, &cells, false);
    }

    /// Reads the record of a row whose cells stand in the order of our columns.
    fn take(&mut self, row: u64, cells: &[Option<Cell<'_>>], is_of_area: bool) {
        if self.items.len() >= T::MOST {
            if !self.is_full {
                let detail = format!("a file holds at most {} records: split it", T::MOST);
                self.faults.note(row, None, "too_many_rows", detail);
            }
            self.is_full = true;
            return;
        }
        let Self { faults, reading, .. } = self;
        let mut fields = Fields { columns: T::COLUMNS, cells, row, reading, faults, is_named: true };
        let record = T::read(&mut fields);
        let is_named = fields.is_named;
        let Some(record) = record else { return };
        match self.seen.entry(record.key(is_named)) {
            Entry::Vacant(free) => {
                free.insert(row);
                self.items.push(Item { row, is_named, is_of_area, record });
            }
            Entry::Occupied(first) => {
                let detail = format!("rows {} and {row} hold the same {}", first.get(), T::KEYED_BY);
                self.faults.note(row, None, "given_twice", detail);
            }
        }
    }
}

impl<T: Exchanged> Sink for Gathered<'_, T> {
    const COLUMNS: &'static [Column] = T::COLUMNS;
    const MOST_POSITIONS: usize = if T::TAKES_AREAS { MOST_AREA_POSITIONS } else { 1 };

    fn faults(&mut self) -> &mut Faults {
        &mut self.faults
    }

    fn feature(&mut self, row: u64, mut cells: Vec<Option<Cell<'_>>>, geometry: &Geometry) {
        let mut columns = T::COLUMNS.iter().enumerate().filter(|(_, column)| column.is_place());
        let is_sound = !cells.is_empty();
        let (Some((lon, _)), Some((lat, _))) = (columns.next(), columns.next()) else {
            if is_sound {
                self.take(row, &cells, false);
            }
            return;
        };
        let inside = if T::TAKES_AREAS { geometry.polygons() } else { None };
        let is_of_area = inside.is_some();
        let found = match inside {
            None => geometry.point().ok_or(not_a_point(T::TAKES_AREAS)),
            Some(_) if geometry.is_too_long() => Err(("too_many_positions", TOO_MANY_POSITIONS)),
            Some(polygons) => inside_of(polygons).ok_or(("no_area", "no place lies inside its polygon")),
        };
        match found {
            Ok((east, north)) if is_sound => {
                cells[lon] = Some(Cell::Number(east));
                cells[lat] = Some(Cell::Number(north));
                self.take(row, &cells, is_of_area);
            }
            Ok(_) => {}
            Err((code, detail)) => self.faults.note(row, Some("geometry"), code, detail),
        }
    }
}

/// Most positions of an area of which one is to lie inside.
const MOST_AREA_POSITIONS: usize = 100_000;
const TOO_MANY_POSITIONS: &str = "a polygon is at most 100000 positions";

const fn not_a_point(takes_areas: bool) -> (&'static str, &'static str) {
    let detail =
        if takes_areas { "its geometry must be a Point, or a Polygon" } else { "its geometry must be a Point" };
    ("not_a_point", detail)
}

fn inside_of(polygons: Vec<Rings>) -> Option<Position> {
    let place = Shape::new(polygons).ok()?.place_inside()?;
    Some((place.lon(), place.lat()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_delimiter_is_the_one_of_the_header() {
        assert_eq!(delimiter(b"a;b;\"c,d,e,f\"\n1,2,3;4"), ';');
        assert_eq!(delimiter(b"a\tb\n"), '\t');
        assert_eq!(delimiter(b"only\n"), ',');
    }

    #[test]
    fn what_is_no_text_is_refused_in_a_clear_word() {
        for (bytes, word) in [(&b"\xff\xfea\0"[..], "UTF-16"), (b"PK\x03\x04", "workbook"), (b"a\0b\0", "not text")] {
            let faults = head(&mut &bytes[..]).unwrap_err();
            assert!(faults.kept()[0].detail.contains(word), "{faults:?}");
        }
        assert_eq!(head(&mut &b"\xef\xbb\xbfid"[..]).unwrap(), b"id");
    }
}
