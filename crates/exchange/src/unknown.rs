//! Names that are none of our columns': each is judged once, and past so many the file is of another kind than it is said to be.

use std::collections::HashMap;
use std::fmt::Write as _;

use crate::column::Column;
use crate::fault::{Faults, shortened};
use crate::header::{self, normal};
use crate::read::Reading;

/// Most different names that are none of ours; where there are more, reading stops.
pub(crate) const MOST_UNKNOWN: usize = 100;

/// The names that were met.
pub(crate) struct Unknown<'r> {
    /// Ours.
    columns: Vec<&'static Column>,
    reading: &'r Reading<'r>,
    /// For each what is wrong with it; none where it is passed over.
    met: HashMap<String, Option<(&'static str, String)>>,
    /// Those passed over.
    pub(crate) ignored: Vec<String>,
    /// Whether our own names were told: once is enough.
    are_told: bool,
    /// Whether all others are passed over, however many there are.
    is_lenient: bool,
}

impl<'r> Unknown<'r> {
    pub(crate) fn new(columns: Vec<&'static Column>, reading: &'r Reading<'r>) -> Self {
        Self { columns, reading, met: HashMap::new(), ignored: Vec::new(), are_told: false, is_lenient: false }
    }

    /// Where files have many names that nobody asks for: all are passed over, and the first of them told.
    pub(crate) fn passing_over(columns: Vec<&'static Column>, reading: &'r Reading<'r>) -> Self {
        Self { is_lenient: true, ..Self::new(columns, reading) }
    }

    /// Notes what is wrong with a name; false where it is one too many. `is_free` tells whether one of ours is not in the file, as far as that is known.
    pub(crate) fn note(
        &mut self,
        faults: &mut Faults,
        row: u64,
        name: &str,
        is_free: impl Fn(&Column) -> bool,
    ) -> bool {
        if !self.met.contains_key(name) {
            if self.met.len() >= MOST_UNKNOWN && self.is_lenient {
                return true;
            }
            if self.met.len() >= MOST_UNKNOWN {
                let detail = format!("over {MOST_UNKNOWN} names are none of ours, and nothing behind them was read");
                faults.note(row, None, "too_many_columns", detail);
                return false;
            }
            let fault = self.judge(name, is_free);
            self.met.insert(name.to_owned(), fault);
        }
        if let Some(Some((code, detail))) = self.met.get(name) {
            faults.note(row, Some(name.trim()), code, detail.as_str());
        }
        true
    }

    fn judge(&mut self, name: &str, is_free: impl Fn(&Column) -> bool) -> Option<(&'static str, String)> {
        if self.is_lenient {
            self.ignored.push(shortened(name.trim()));
            return None;
        }
        let (code, mut detail) = header::no_column(&self.columns, name);
        // A name in another unit may not be passed over: it is meant for one of ours.
        if code != "unknown_column" {
            return Some((code, detail));
        }
        if self.reading.ignore_unknown_columns {
            self.ignored.push(shortened(name.trim()));
            return None;
        }
        if let Some(near) = near(&self.columns, name).filter(|column| is_free(column)) {
            let _ = write!(detail, "; is `{}` meant?", near.name);
        }
        if !std::mem::replace(&mut self.are_told, true) {
            let known: Vec<_> = self.columns.iter().map(|column| column.name).collect();
            let (pass_over, known) = (self.reading.spoken.switch("ignore_unknown_columns"), known.join(", "));
            let _ = write!(detail, ". Say {pass_over} to pass over what is none of ours: {known}");
        }
        Some((code, detail))
    }
}

/// The column of which a name is the beginning, or that is the beginning of it: `lat` for Latitude.
fn near(columns: &[&'static Column], name: &str) -> Option<&'static Column> {
    let normal = normal(name);
    let is_near = |column: &&&Column| {
        let (ours, theirs) = (column.name, normal.as_str());
        ours.len().min(theirs.len()) >= 3 && (ours.starts_with(theirs) || theirs.starts_with(ours))
    };
    columns.iter().find(is_near).copied()
}
