//! One feature of a map: of its properties those that are columns, of its geometry the point, and of all else nothing.

use serde::de::{Error as _, IgnoredAny, MapAccess, SeqAccess};

use crate::column::Column;
use crate::fault::{Faults, quoted};
use crate::fields::Cell;
use crate::header;
use crate::kind::Exchanged;
use crate::loose::{self, Loose, MOST_TEXT_BYTES, Scalar};
use crate::read::Gathered;
use crate::unknown::Unknown;

/// A feature being read.
pub(crate) struct Feature<'u, 'r> {
    says_so: bool,
    properties: Properties<'u, 'r>,
    geometry: Geometry,
}

/// Its properties. What is wrong with them is told only of what turns out to be a feature.
struct Properties<'u, 'r> {
    columns: &'static [Column],
    unknown: &'u mut Unknown<'r>,
    row: u64,
    cells: Vec<Option<Scalar>>,
    faults: Faults,
    is_stopped: bool,
}

#[derive(Default)]
struct Geometry {
    is_point: bool,
    coordinates: Coordinates,
}

#[derive(Default)]
struct Coordinates(Option<(f64, f64)>);

impl<'u, 'r> Feature<'u, 'r> {
    pub(crate) fn new(columns: &'static [Column], unknown: &'u mut Unknown<'r>, row: u64) -> Self {
        let (cells, faults) = (vec![None; columns.len()], Faults::default());
        let properties = Properties { columns, unknown, row, cells, faults, is_stopped: false };
        Self { says_so: false, properties, geometry: Geometry::default() }
    }

    /// Whether it has names that are too many to read on.
    pub(crate) fn is_stopped(&self) -> bool {
        self.properties.is_stopped
    }

    /// Takes in the record it is, or notes what is wrong with it.
    pub(crate) fn take<T: Exchanged>(self, gathered: &mut Gathered<'_, T>) {
        let Properties { row, cells, faults, is_stopped, .. } = self.properties;
        if !self.says_so && !is_stopped {
            gathered.faults.note(row, None, "not_geojson", "it is no Feature");
            return;
        }
        let before = gathered.faults.count();
        gathered.faults.append(faults);
        if is_stopped {
            return;
        }
        let mut cells: Vec<_> = cells.iter().map(|value| value.as_ref().and_then(cell)).collect();
        place::<T>(&mut gathered.faults, row, &self.geometry, &mut cells);
        if gathered.faults.count() == before {
            gathered.take(row, &cells);
        }
    }
}

fn cell(value: &Scalar) -> Option<Cell<'_>> {
    match value {
        Scalar::Flag(flag) => Some(Cell::Flag(*flag)),
        Scalar::Number(number) => Some(Cell::Number(*number)),
        Scalar::Text(text) => (!text.trim().is_empty()).then_some(Cell::Text(text)),
        Scalar::Null | Scalar::TooLong | Scalar::Nested => None,
    }
}

/// The point of a kind that has its place in columns. Height above it is left out: nobody says above which datum.
fn place<T: Exchanged>(faults: &mut Faults, row: u64, geometry: &Geometry, cells: &mut [Option<Cell<'_>>]) {
    let mut columns = T::COLUMNS.iter().enumerate().filter(|(_, column)| column.is_place());
    let (Some((lon, _)), Some((lat, _))) = (columns.next(), columns.next()) else { return };
    match geometry.coordinates.0.filter(|_| geometry.is_point) {
        Some((east, north)) => {
            cells[lon] = Some(Cell::Number(east));
            cells[lat] = Some(Cell::Number(north));
        }
        None => faults.note(row, Some("geometry"), "not_a_point", "its geometry must be a Point"),
    }
}

impl Loose for Feature<'_, '_> {
    fn member<'de, A: MapAccess<'de>>(&mut self, name: &str, members: &mut A) -> Result<(), A::Error> {
        match name {
            "type" => self.says_so = members.next_value::<Scalar>()?.is("Feature"),
            "properties" => members.next_value_seed(loose::Into(&mut self.properties))?,
            "geometry" => {
                self.geometry = Geometry::default();
                members.next_value_seed(loose::Into(&mut self.geometry))?;
            }
            _ => {
                members.next_value::<IgnoredAny>()?;
            }
        }
        Ok(())
    }
}

impl Loose for Properties<'_, '_> {
    fn member<'de, A: MapAccess<'de>>(&mut self, name: &str, members: &mut A) -> Result<(), A::Error> {
        let normal = header::normal(name);
        let Some(at) = self.columns.iter().position(|column| column.name == normal && !column.is_place()) else {
            self.is_stopped = !self.unknown.note(&mut self.faults, self.row, name, |_| true);
            if self.is_stopped {
                return Err(A::Error::custom("too many names"));
            }
            return members.next_value::<IgnoredAny>().map(|_| ());
        };
        let value = members.next_value::<Scalar>()?;
        let wrong = match value {
            _ if self.cells[at].as_ref().is_some_and(|first| cell(first).is_some()) => {
                Some(("given_twice", format!("{} is given twice", quoted(name))))
            }
            Scalar::TooLong => Some(("out_of_bounds", format!("a text is at most {MOST_TEXT_BYTES} bytes"))),
            Scalar::Nested => Some(("not_text", "lists stand in a property as they do in a cell, as text".to_owned())),
            _ => None,
        };
        match wrong {
            Some((code, detail)) => self.faults.note(self.row, Some(name), code, detail),
            None => self.cells[at] = Some(value),
        }
        Ok(())
    }
}

impl Loose for Geometry {
    fn member<'de, A: MapAccess<'de>>(&mut self, name: &str, members: &mut A) -> Result<(), A::Error> {
        match name {
            "type" => self.is_point = members.next_value::<Scalar>()?.is("Point"),
            "coordinates" => {
                self.coordinates = Coordinates::default();
                members.next_value_seed(loose::Into(&mut self.coordinates))?;
            }
            _ => {
                members.next_value::<IgnoredAny>()?;
            }
        }
        Ok(())
    }
}

impl Loose for Coordinates {
    fn elements<'de, A: SeqAccess<'de>>(&mut self, elements: &mut A) -> Result<(), A::Error> {
        let first = [elements.next_element()?, elements.next_element()?];
        if let [Some(Scalar::Number(east)), Some(Scalar::Number(north))] = first {
            self.0 = Some((east, north));
        }
        Ok(())
    }
}
