//! Which column of a file is which of ours: by name, in any order, however it is spaced; never by a guess at a unit.

use std::fmt::Write as _;

use crate::column::Column;
use crate::fault::{Faults, quoted, shortened};
use crate::kind::Kind;
use crate::read::{MOST_IGNORED, Reading};

/// Units that our names end in. Longer ones first.
const UNITS: [&str; 10] = ["kpa", "bar", "psi", "gpm", "lpm", "in", "mm", "ft", "gal", "m"];

/// For each of our columns, where it stands in the file.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Header {
    pub(crate) places: Vec<Option<usize>>,
    pub(crate) width: usize,
}

/// A name as ours are written: `Static (psi)` is `static_psi`.
pub(crate) fn normal(name: &str) -> String {
    let mut normal = String::new();
    for c in name.trim().chars() {
        if c.is_alphanumeric() {
            normal.extend(c.to_lowercase());
        } else if !normal.is_empty() && !normal.ends_with('_') {
            normal.push('_');
        }
    }
    normal.truncate(normal.trim_end_matches('_').len());
    normal
}

/// Why a name is none of ours: another unit, no unit, or unknown.
fn no_column(columns: &[&Column], name: &str) -> (&'static str, String) {
    let normal = normal(name);
    let unit_of = |name: &'static str| UNITS.into_iter().find(|unit| name.ends_with(&format!("_{unit}")));
    for column in columns {
        let Some(unit) = unit_of(column.name) else { continue };
        let stem = column.name.trim_end_matches(unit).trim_end_matches('_');
        if normal == stem {
            return ("unit_missing", format!("{} names no unit: `{}` is wanted, in {unit}", quoted(name), column.name));
        }
        let other = normal.strip_prefix(stem).and_then(|rest| rest.strip_prefix('_'));
        if other.is_some_and(|other| !columns.iter().any(|known| known.name == normal) && is_unit(other)) {
            let (named, ours) = (quoted(name), column.name);
            return (
                "wrong_unit",
                format!("{named} is in another unit: convert the numbers to {unit}, then name the column `{ours}`"),
            );
        }
    }
    ("unknown_column", format!("{} is no column of ours", quoted(name)))
}

/// The names that are none of ours, as they come up.
#[derive(Debug, Default)]
pub(crate) struct Unknown {
    /// Those passed over.
    pub(crate) ignored: Vec<String>,
    /// Whether our own names were told: once is enough.
    are_told: bool,
}

impl Unknown {
    /// Notes a name as what it is: passed over where that was said and may be, or else a fault. `present` are the file's names.
    pub(crate) fn note<'n>(
        &mut self,
        (row, name): (u64, &str),
        columns: &[&Column],
        present: &(impl Iterator<Item = &'n str> + Clone),
        reading: &Reading<'_>,
        faults: &mut Faults,
    ) {
        let (code, mut detail) = no_column(columns, name);
        // A name in another unit may not be passed over: it is meant for one of ours.
        if code == "unknown_column" {
            if reading.ignore_unknown_columns {
                let name = shortened(name.trim());
                if self.ignored.len() < MOST_IGNORED && !self.ignored.contains(&name) {
                    self.ignored.push(name);
                }
                return;
            }
            let is_free = |column: &Column| present.clone().all(|name| normal(name) != column.name);
            if let Some(near) = near(columns, name).filter(|column| is_free(column)) {
                let _ = write!(detail, "; is `{}` meant?", near.name);
            }
            if !std::mem::replace(&mut self.are_told, true) {
                let known: Vec<_> = columns.iter().map(|column| column.name).collect();
                let (pass_over, known) = (reading.spoken.switch("ignore_unknown_columns"), known.join(", "));
                let _ = write!(detail, ". Say {pass_over} to pass over what is none of ours: {known}");
            }
        }
        faults.note(row, Some(name.trim()), code, detail);
    }
}

/// The column of which a name is the beginning, or that is the beginning of it: `lat` for Latitude.
fn near<'c>(columns: &[&'c Column], name: &str) -> Option<&'c Column> {
    let normal = normal(name);
    let is_near = |column: &&&Column| {
        let (ours, theirs) = (column.name, normal.as_str());
        ours.len().min(theirs.len()) >= 3 && (ours.starts_with(theirs) || theirs.starts_with(ours))
    };
    columns.iter().find(is_near).copied()
}

pub(crate) fn is_unit(word: &str) -> bool {
    const OTHERS: [&str; 16] = [
        "l", "litres", "liters", "metres", "meters", "feet", "inches", "cm", "pa", "mpa", "lps", "l_s", "l_min",
        "m3_h", "gallons", "hpa",
    ];
    UNITS.contains(&word) || OTHERS.contains(&word)
}

/// Reads the header, noting what is wrong with it.
pub(crate) fn read(
    kind: Kind,
    names: &[&str],
    reading: &Reading<'_>,
    row: u64,
    faults: &mut Faults,
    unknown: &mut Unknown,
) -> Header {
    let columns = kind.columns();
    let ours: Vec<&Column> = columns.iter().collect();
    let mut places = vec![None; columns.len()];
    for (at, name) in names.iter().enumerate().filter(|(_, name)| !name.trim().is_empty()) {
        let normal = normal(name);
        let Some(place) = columns.iter().position(|column| column.name == normal) else {
            unknown.note((row, name), &ours, &names.iter().copied(), reading, faults);
            continue;
        };
        match places[place] {
            None => places[place] = Some(at),
            Some(_) => {
                faults.note(row, Some(&normal), "given_twice", format!("{} stands in the header twice", quoted(name)));
            }
        }
    }
    for (column, _) in columns.iter().zip(&places).filter(|(column, place)| column.needed && place.is_none()) {
        faults.note(
            row,
            Some(column.name),
            "column_missing",
            format!("the column `{}` is needed: {}", column.name, column.meaning),
        );
    }
    Header { places, width: names.len() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::{Source, Spoken};

    fn codes(kind: Kind, names: &[&str], ignore: bool) -> Vec<(String, &'static str)> {
        let mut faults = Faults::default();
        let reading = Reading {
            source: Source::Csv,
            spoken: Spoken::Query,
            ignore_unknown_columns: ignore,
            date_format: None,
            now: chrono::DateTime::UNIX_EPOCH,
            latest_day: chrono::NaiveDate::MIN,
            new_id: &uuid::Uuid::nil,
        };
        read(kind, names, &reading, 1, &mut faults, &mut Unknown::default());
        faults.kept().iter().map(|fault| (fault.column.clone().unwrap_or_default(), fault.code)).collect()
    }

    #[test]
    fn names_are_found_however_they_are_spaced() {
        for name in ["Hydrant ID", " hydrant-id", "HYDRANT_ID", "hydrant  id "] {
            assert_eq!(normal(name), "hydrant_id", "{name}");
        }
        assert_eq!(normal("Static (psi)"), "static_psi");
        assert!(
            codes(Kind::FlowTests, &["Static (psi)", "tested on", "Residual-PSI", "Hydrant ID", ""], false).is_empty()
        );
    }

    #[test]
    fn another_unit_is_refused_with_the_one_wanted_even_where_unknown_columns_are_ignored() {
        let names = ["static_kpa", "residual", "tested_on", "hydrant_id", "crew"];
        let found = codes(Kind::FlowTests, &names, true);
        let expected = [
            ("static_kpa", "wrong_unit"),
            ("residual", "unit_missing"),
            ("static_psi", "column_missing"),
            ("residual_psi", "column_missing"),
        ];
        assert_eq!(found, expected.map(|(column, code)| (column.to_owned(), code)));
    }

    #[test]
    fn unknown_and_doubled_names_are_refused() {
        let names = ["hydrant_id", "Hydrant ID", "static_psi", "residual_psi", "tested_on", "crew"];
        let found = codes(Kind::FlowTests, &names, false);
        assert_eq!(found, [("hydrant_id".to_owned(), "given_twice"), ("crew".to_owned(), "unknown_column")]);
    }
}
