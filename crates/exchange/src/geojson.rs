//! A feature collection read a feature at a time: its properties are the columns, its point the place.

use std::fmt;
use std::io::Read;

use serde::de::{self, DeserializeSeed, Deserializer as _, IgnoredAny, MapAccess, SeqAccess, Visitor};
use serde_json::Value as Json;

use crate::fault::{Faults, quoted};
use crate::fields::Cell;
use crate::header;
use crate::kind::Exchanged;
use crate::read::Gathered;

/// Names under which a collection may say that it is in WGS 84; RFC 7946 allows no other.
const WGS_84: [&str; 3] = ["urn:ogc:def:crs:OGC:1.3:CRS84", "urn:ogc:def:crs:OGC::CRS84", "EPSG:4326"];

pub(crate) fn read<T: Exchanged>(input: impl Read, gathered: &mut Gathered<'_, T>) -> Result<(), Faults> {
    let mut json = serde_json::Deserializer::from_reader(input);
    let mut collection = Collection { gathered, features: 0, says_so: false };
    let read = json.deserialize_map(&mut collection).and_then(|()| json.end());
    let (row, is_collection) = (collection.features, collection.says_so);
    match read {
        Err(error) if error.is_data() => Err(Faults::of_file(row, "not_geojson", error.to_string())),
        Err(error) => Err(Faults::of_file(row, "not_json", error.to_string())),
        Ok(()) if !is_collection => Err(Faults::of_file(0, "not_geojson", "it is no FeatureCollection")),
        Ok(()) => Ok(()),
    }
}

struct Collection<'c, 'g, T> {
    gathered: &'c mut Gathered<'g, T>,
    features: u64,
    says_so: bool,
}

impl<'de, T: Exchanged> Visitor<'de> for &mut Collection<'_, '_, T> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a FeatureCollection")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<(), A::Error> {
        while let Some(name) = members.next_key::<String>()? {
            match name.as_str() {
                "type" => self.says_so = members.next_value::<Json>()? == "FeatureCollection",
                "features" => members.next_value_seed(Features(&mut *self))?,
                "crs" => check_crs::<A::Error>(&members.next_value()?)?,
                _ => {
                    members.next_value::<IgnoredAny>()?;
                }
            }
        }
        Ok(())
    }
}

/// Coordinates of another system would put hydrants elsewhere.
fn check_crs<E: de::Error>(crs: &Json) -> Result<(), E> {
    let name = crs.pointer("/properties/name").and_then(Json::as_str).unwrap_or_default();
    if crs.is_null() || WGS_84.contains(&name) {
        return Ok(());
    }
    Err(E::custom("its coordinates are not said to be longitude and latitude of WGS 84: export it in that system"))
}

struct Features<'f, 'c, 'g, T>(&'f mut Collection<'c, 'g, T>);

impl<'de, T: Exchanged> DeserializeSeed<'de> for Features<'_, '_, '_, T> {
    type Value = ();

    fn deserialize<D: de::Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_seq(self)
    }
}

impl<'de, T: Exchanged> Visitor<'de> for Features<'_, '_, '_, T> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list of features")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut features: A) -> Result<(), A::Error> {
        while let Some(feature) = features.next_element::<Json>()? {
            self.0.features += 1;
            take_feature(self.0.gathered, self.0.features, &feature);
        }
        Ok(())
    }
}

fn take_feature<T: Exchanged>(gathered: &mut Gathered<'_, T>, row: u64, feature: &Json) {
    if feature["type"] != "Feature" {
        gathered.faults.note(row, None, "not_geojson", "it is no Feature");
        return;
    }
    let mut cells = vec![None; T::COLUMNS.len()];
    let before = gathered.faults.count();
    let ours: Vec<_> = T::COLUMNS.iter().filter(|column| !column.is_place()).collect();
    let properties = feature["properties"].as_object();
    for (name, value) in properties.into_iter().flatten() {
        let normal = header::normal(name);
        let place = T::COLUMNS.iter().position(|column| column.name == normal && !column.is_place());
        match place {
            Some(at) if cells[at].is_none() => cells[at] = cell(gathered, row, name, value),
            Some(_) => {
                gathered.faults.note(row, Some(&normal), "given_twice", format!("{} is given twice", quoted(name)));
            }
            None => {
                let present = properties.iter().flat_map(|properties| properties.keys()).map(String::as_str);
                let Gathered { faults, unknown, reading, .. } = &mut *gathered;
                unknown.note((row, name), &ours, &present, reading, faults);
            }
        }
    }
    place::<T>(gathered, row, &feature["geometry"], &mut cells);
    if gathered.faults.count() == before {
        gathered.take(row, &cells);
    }
}

fn cell<'a, T>(gathered: &mut Gathered<'_, T>, row: u64, name: &str, value: &'a Json) -> Option<Cell<'a>> {
    match value {
        Json::Null => None,
        Json::Bool(flag) => Some(Cell::Flag(*flag)),
        Json::Number(number) => number.as_f64().map(Cell::Number),
        Json::String(text) => (!text.trim().is_empty()).then_some(Cell::Text(text)),
        Json::Array(_) | Json::Object(_) => {
            gathered.faults.note(
                row,
                Some(name),
                "not_text",
                "lists stand in a property as they do in a cell, as text",
            );
            None
        }
    }
}

/// The point of a kind that has its place in columns. Height above it is left out: nobody says above which datum.
fn place<T: Exchanged>(gathered: &mut Gathered<'_, T>, row: u64, geometry: &Json, cells: &mut [Option<Cell<'_>>]) {
    let mut columns = T::COLUMNS.iter().enumerate().filter(|(_, column)| column.is_place());
    let (Some((lon, _)), Some((lat, _))) = (columns.next(), columns.next()) else { return };
    let coordinate = |at: usize| geometry["coordinates"].get(at).and_then(Json::as_f64);
    match (geometry["type"] == "Point", coordinate(0), coordinate(1)) {
        (true, Some(east), Some(north)) => {
            cells[lon] = Some(Cell::Number(east));
            cells[lat] = Some(Cell::Number(north));
        }
        _ => gathered.faults.note(row, Some("geometry"), "not_a_point", "its geometry must be a Point"),
    }
}
