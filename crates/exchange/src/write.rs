//! Records into bytes. The same records give the same bytes, and numbers stand in the shortest form that reads back the same.

use std::io::Write as _;
use std::marker::PhantomData;

use longlay_records::hydrant::Location;
use serde_json::{Map, Value as Json, json};

use crate::column::{Column, Form};
use crate::kind::Exchanged;
use crate::lists;
use crate::mark::marked;
use crate::value::Value;

/// The files that are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Comma-separated values, UTF-8, a header first.
    Csv,
    /// A feature collection, RFC 7946.
    GeoJson,
    /// One record of the API a line.
    NdJson,
}

impl Format {
    /// Its media type.
    pub const fn media_type(self) -> &'static str {
        match self {
            Self::Csv => "text/csv; charset=utf-8",
            Self::GeoJson => "application/geo+json",
            Self::NdJson => "application/x-ndjson",
        }
    }

    /// How it is asked for, and the ending of its files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::GeoJson => "geojson",
            Self::NdJson => "ndjson",
        }
    }
}

/// Writes records of one kind, a piece at a time: [`Self::begin`], [`Self::record`] for each, [`Self::end`].
#[derive(Debug)]
pub struct Writer<T> {
    format: Format,
    is_first: bool,
    kind: PhantomData<fn(&T)>,
}

impl<T: Exchanged> Writer<T> {
    /// Nothing written yet.
    pub const fn new(format: Format) -> Self {
        Self { format, is_first: true, kind: PhantomData }
    }

    /// Writes what stands before the first record.
    pub fn begin(&self, out: &mut Vec<u8>) {
        match self.format {
            Format::Csv => row(out, T::COLUMNS.iter().map(|column| column.name)),
            Format::GeoJson => out.extend_from_slice(b"{\"type\":\"FeatureCollection\",\"features\":["),
            Format::NdJson => {}
        }
    }

    /// Writes a record, at its own place on the map.
    pub fn record(&mut self, record: &T, out: &mut Vec<u8>) {
        self.record_at(record, record.place(), out);
    }

    /// Writes a record that stands at a place it does not know itself: a flow test stands at its gauge hydrant.
    pub fn record_at(&mut self, record: &T, place: Option<Location>, out: &mut Vec<u8>) {
        let values = record.values();
        match self.format {
            Format::Csv => row(out, values.iter().map(cell)),
            Format::GeoJson => {
                out.extend_from_slice(if self.is_first { b"\n" } else { b",\n" });
                json_line(out, &feature::<T>(&values, place));
            }
            Format::NdJson => {
                json_line(out, &nested(T::COLUMNS, &values));
                out.push(b'\n');
            }
        }
        self.is_first = false;
    }

    /// Writes what stands behind the last record.
    pub fn end(&self, out: &mut Vec<u8>) {
        if self.format == Format::GeoJson {
            out.extend_from_slice(b"\n]}\n");
        }
    }
}

fn json_line(out: &mut Vec<u8>, json: &Json) {
    // Writing to memory cannot fail, and no map here has a key that is not text.
    let _ = serde_json::to_writer(out, json);
}

fn row<C: AsRef<str>>(out: &mut Vec<u8>, cells: impl Iterator<Item = C>) {
    for (i, cell) in cells.enumerate() {
        if i > 0 {
            out.push(b',');
        }
        let cell = cell.as_ref();
        if cell.contains([',', ';', '"', '\n', '\r', '\t']) {
            let _ = write!(out, "\"{}\"", cell.replace('"', "\"\""));
        } else {
            out.extend_from_slice(cell.as_bytes());
        }
    }
    out.push(b'\n');
}

/// A value as it stands in a cell.
pub(crate) fn cell(value: &Value) -> String {
    match value {
        Value::Empty => String::new(),
        Value::Text(text) => marked(text).into_owned(),
        Value::Number(number) => number.to_string(),
        Value::Flag(flag) => yes_or_no(*flag).to_owned(),
        Value::Groups(groups) => marked(&lists::written(groups)).into_owned(),
    }
}

const fn yes_or_no(flag: bool) -> &'static str {
    if flag { "yes" } else { "no" }
}

/// A feature: its properties are the columns, those of its place left out, and lists stand in them as they do in a cell, because a
/// map's table holds no lists.
fn feature<T: Exchanged>(values: &[Value], place: Option<Location>) -> Json {
    let mut properties = Map::new();
    let known = T::COLUMNS.iter().zip(values).filter(|(column, value)| !column.is_place() && **value != Value::Empty);
    for (column, value) in known {
        let json = match value {
            Value::Groups(groups) => Json::from(lists::written(groups)),
            other => plain(other),
        };
        properties.insert(column.name.to_owned(), json);
    }
    let geometry = place.map(|at| json!({"type": "Point", "coordinates": [at.lon(), at.lat()]}));
    json!({"type": "Feature", "geometry": geometry, "properties": properties})
}

/// The record as the API tells it.
fn nested(columns: &[Column], values: &[Value]) -> Json {
    let mut whole = Map::new();
    for (column, value) in columns.iter().zip(values).filter(|(_, value)| **value != Value::Empty) {
        let json = match (value, column.form) {
            (Value::Groups(groups), Form::Groups(names)) => groups.iter().map(|group| object(names, group)).collect(),
            (Value::Groups(groups), Form::Group(names)) => {
                groups.first().map_or(Json::Null, |group| object(names, group))
            }
            (Value::Groups(groups), _) => groups.iter().flatten().map(plain).collect(),
            (other, _) => plain(other),
        };
        match column.member.split_once('/') {
            None => {
                whole.insert(column.member.to_owned(), json);
            }
            Some((outer, inner)) => {
                let object = whole.entry(outer).or_insert_with(|| Json::Object(Map::new()));
                if let Json::Object(members) = object {
                    members.insert(inner.to_owned(), json);
                }
            }
        }
    }
    Json::Object(whole)
}

fn object(names: &[&str], group: &[Value]) -> Json {
    Json::Object(names.iter().zip(group).map(|(name, value)| ((*name).to_owned(), plain(value))).collect())
}

fn plain(value: &Value) -> Json {
    match value {
        Value::Empty | Value::Groups(_) => Json::Null,
        Value::Text(text) => Json::from(text.as_str()),
        Value::Number(number) => Json::from(*number),
        Value::Flag(flag) => Json::from(*flag),
    }
}
