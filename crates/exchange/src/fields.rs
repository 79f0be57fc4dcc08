//! One row by the names of its columns: whatever cannot be is noted with its row and column, and reading goes on.

use std::fmt::Display;

use chrono::{DateTime, NaiveDate, Utc};
use longlay_records::id::AssetId;
use uuid::Uuid;

use crate::column::Column;
use crate::fault::{Faults, Wrong};
use crate::read::Reading;
use crate::{lists, scalar};

/// What stands in a cell. A spreadsheet's are text throughout; a map's know numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Cell<'a> {
    Text(&'a str),
    Number(f64),
    Flag(bool),
}

/// A row being read.
#[derive(Debug)]
pub struct Fields<'a> {
    pub(crate) columns: &'static [Column],
    /// For each column its cell; none where it is empty or not there.
    pub(crate) cells: &'a [Option<Cell<'a>>],
    pub(crate) row: u64,
    pub(crate) reading: &'a Reading<'a>,
    pub(crate) faults: &'a mut Faults,
    /// Whether the file gave the record its id.
    pub(crate) is_named: bool,
}

/// What reading an optional cell gives: the outer none is a fault noted, the inner one an empty cell.
pub(crate) type Maybe<T> = Option<Option<T>>;

impl<'a> Fields<'a> {
    /// Notes a fault in place of a value.
    pub(crate) fn refuse<T>(&mut self, column: &str, code: &'static str, detail: impl Into<String>) -> Option<T> {
        self.faults.note(self.row, Some(column), code, detail);
        None
    }

    pub(crate) fn cell(&self, column: &str) -> Option<Cell<'a>> {
        let at = self.columns.iter().position(|known| known.name == column)?;
        self.cells.get(at).copied().flatten()
    }

    /// A value that must be there.
    pub(crate) fn given<T>(&mut self, column: &str, value: Maybe<T>) -> Option<T> {
        value?.or_else(|| self.refuse(column, "required", "must be given"))
    }

    fn maybe<T>(&mut self, column: &str, read: impl FnOnce(&Cell<'a>) -> Result<T, Wrong>) -> Maybe<T> {
        let Some(cell) = self.cell(column) else { return Some(None) };
        match read(&cell) {
            Ok(value) => Some(Some(value)),
            Err(wrong) => self.refuse(column, wrong.code, wrong.detail),
        }
    }

    fn maybe_text<T>(&mut self, column: &str, read: impl FnOnce(&'a str) -> Result<T, Wrong>) -> Maybe<T> {
        self.maybe(column, |cell| match *cell {
            Cell::Text(text) => read(text),
            Cell::Number(_) | Cell::Flag(_) => Err(Wrong::new("not_text", "must be text")),
        })
    }

    pub(crate) fn number<T, E: Display>(&mut self, column: &str, make: impl FnOnce(f64) -> Result<T, E>) -> Maybe<T> {
        self.maybe(column, |cell| bounded(scalar::number(cell)?, make))
    }

    pub(crate) fn flag(&mut self, column: &str) -> Maybe<bool> {
        self.maybe(column, scalar::flag)
    }

    pub(crate) fn text(&mut self, column: &str, most: usize) -> Maybe<String> {
        self.maybe(column, |cell| scalar::words(&worded(cell)?, most))
    }

    /// An id. Maps keep the numbers of hydrants as numbers.
    pub(crate) fn id(&mut self, column: &str) -> Maybe<AssetId> {
        self.maybe(column, |cell| scalar::asset_id(&worded(cell)?))
    }

    pub(crate) fn test_id(&mut self, column: &str) -> Maybe<Uuid> {
        self.maybe_text(column, scalar::test_id)
    }

    pub(crate) fn one_of<T: Copy>(&mut self, column: &str, choices: &[(&str, T)]) -> Maybe<T> {
        self.maybe_text(column, |text| scalar::one_of(text, choices))
    }

    pub(crate) fn day(&mut self, column: &str) -> Maybe<NaiveDate> {
        let (format, spoken) = (self.reading.date_format, self.reading.spoken);
        self.maybe_text(column, |text| scalar::day(text, format, spoken))
    }

    pub(crate) fn time(&mut self, column: &str) -> Maybe<DateTime<Utc>> {
        self.maybe_text(column, scalar::time)
    }

    pub(crate) fn needed_id(&mut self, column: &str) -> Option<AssetId> {
        let id = self.id(column);
        self.given(column, id)
    }

    pub(crate) fn needed_text(&mut self, column: &str, most: usize) -> Option<String> {
        let text = self.text(column, most);
        self.given(column, text)
    }

    pub(crate) fn needed_number<T, E: Display>(
        &mut self,
        column: &str,
        make: impl FnOnce(f64) -> Result<T, E>,
    ) -> Option<T> {
        let number = self.number(column, make);
        self.given(column, number)
    }

    pub(crate) fn needed_flag(&mut self, column: &str) -> Option<bool> {
        let flag = self.flag(column);
        self.given(column, flag)
    }

    /// A list of at most `most` groups; an empty cell is an empty list.
    pub(crate) fn list<T, const N: usize>(
        &mut self,
        column: &str,
        names: &[&str; N],
        most: usize,
        mut make: impl FnMut([&str; N]) -> Result<T, Wrong>,
    ) -> Option<Vec<T>> {
        let read = self.maybe(column, |cell| {
            let text = worded(cell)?;
            let groups = lists::groups(&text, names)?;
            if groups.len() > most {
                return Err(Wrong::new("out_of_bounds", format!("must hold at most {most}, not {}", groups.len())));
            }
            groups.into_iter().map(&mut make).collect::<Result<Vec<_>, _>>()
        });
        read.map(Option::unwrap_or_default)
    }
}

/// A number inside the bounds of what it is.
pub(crate) fn bounded<T, E: Display>(number: f64, make: impl FnOnce(f64) -> Result<T, E>) -> Result<T, Wrong> {
    make(number).map_err(|error| Wrong::new("out_of_bounds", error.to_string()))
}

/// Words; a whole number counts as its digits.
fn worded(cell: &Cell<'_>) -> Result<String, Wrong> {
    match cell {
        Cell::Text(text) => Ok((*text).to_owned()),
        Cell::Number(number) if number.fract() == 0.0 && number.abs() < 1e15 => Ok(number.to_string()),
        Cell::Number(_) | Cell::Flag(_) => Err(Wrong::new("not_text", "must be text")),
    }
}
