//! One feature of a map: of its properties those that are columns, of its geometry the point, and of all else nothing.

use serde::de::{Error as _, IgnoredAny, MapAccess};

use crate::column::Column;
use crate::fault::{Faults, quoted};
use crate::fields::Cell;
use crate::geometry::Geometry;
use crate::header;
use crate::loose::{self, Loose, MOST_TEXT_BYTES, Scalar};
use crate::unknown::Unknown;

/// Takes features in.
pub(crate) trait Sink {
    /// What of their properties is read.
    const COLUMNS: &'static [Column];
    /// Most positions of a geometry.
    const MOST_POSITIONS: usize;

    fn faults(&mut self) -> &mut Faults;

    /// Takes in a feature whose cells stand in the order of the columns, or notes what is wrong with it.
    fn feature(&mut self, row: u64, cells: Vec<Option<Cell<'_>>>, geometry: &Geometry);
}

/// A feature being read.
pub(crate) struct Feature<'u, 'r> {
    says_so: bool,
    most_positions: usize,
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

impl<'u, 'r> Feature<'u, 'r> {
    pub(crate) fn new<S: Sink>(unknown: &'u mut Unknown<'r>, row: u64) -> Self {
        let (columns, faults) = (S::COLUMNS, Faults::default());
        let cells = vec![None; columns.len()];
        let properties = Properties { columns, unknown, row, cells, faults, is_stopped: false };
        let most_positions = S::MOST_POSITIONS;
        Self { says_so: false, most_positions, properties, geometry: Geometry::at_most(most_positions) }
    }

    /// Whether it has names that are too many to read on.
    pub(crate) fn is_stopped(&self) -> bool {
        self.properties.is_stopped
    }

    /// Hands over what it is, or notes what is wrong with it.
    pub(crate) fn take<S: Sink>(self, sink: &mut S) {
        let Properties { row, cells, faults, is_stopped, .. } = self.properties;
        if !self.says_so && !is_stopped {
            sink.faults().note(row, None, "not_geojson", "it is no Feature");
            return;
        }
        let is_sound = faults.is_empty();
        sink.faults().append(faults);
        // One whose properties are at fault is looked at too, so that what is wrong with its place is told with them.
        if !is_stopped {
            let cells = cells.iter().map(|value| value.as_ref().and_then(cell)).collect();
            sink.feature(row, if is_sound { cells } else { Vec::new() }, &self.geometry);
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

impl Loose for Feature<'_, '_> {
    fn member<'de, A: MapAccess<'de>>(&mut self, name: &str, members: &mut A) -> Result<(), A::Error> {
        match name {
            "type" => self.says_so = members.next_value::<Scalar>()?.is("Feature"),
            "properties" => members.next_value_seed(loose::Into(&mut self.properties))?,
            "geometry" => {
                self.geometry = Geometry::at_most(self.most_positions);
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
        let Some(at) = self.columns.iter().position(|column| column.is_named(&normal) && !column.is_place()) else {
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
