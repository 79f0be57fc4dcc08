//! Names that are none of our columns': each is judged once, and past so many the file is of another kind than it is said to be.

use std::collections::HashMap;

use crate::column::Column;
use crate::fault::Faults;
use crate::header;

/// Most different names that are none of ours; where there are more, reading stops.
pub(crate) const MOST_UNKNOWN: usize = 100;

/// The names that were met.
pub(crate) struct Unknown {
    columns: &'static [Column],
    is_ignoring: bool,
    /// For each what is wrong with it; none where it is passed over.
    met: HashMap<String, Option<(&'static str, String)>>,
}

impl Unknown {
    pub(crate) fn new(columns: &'static [Column], is_ignoring: bool) -> Self {
        Self { columns, is_ignoring, met: HashMap::new() }
    }

    /// Notes what is wrong with a name; false where it is one too many.
    pub(crate) fn note(&mut self, faults: &mut Faults, row: u64, name: &str) -> bool {
        if !self.met.contains_key(name) {
            if self.met.len() >= MOST_UNKNOWN {
                let detail = format!("over {MOST_UNKNOWN} names are none of ours, and nothing behind them was read");
                faults.note(row, None, "too_many_columns", detail);
                return false;
            }
            let (code, detail) = header::no_column(self.columns, name);
            let is_passed = self.is_ignoring && header::may_be_ignored(code);
            self.met.insert(name.to_owned(), (!is_passed).then_some((code, detail)));
        }
        if let Some(Some((code, detail))) = self.met.get(name) {
            faults.note(row, Some(name.trim()), code, detail.as_str());
        }
        true
    }
}
