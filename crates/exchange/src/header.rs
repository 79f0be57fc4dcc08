//! Which column of a file is which of ours: by name, in any order, however it is spaced; never by a guess at a unit.

use crate::column::Column;
use crate::fault::{Faults, quoted};
use crate::kind::Kind;
use crate::read::Reading;
use crate::unknown::Unknown;

/// Units that our names end in. Longer ones first.
const UNITS: [&str; 10] = ["kpa", "bar", "psi", "gpm", "lpm", "in", "mm", "ft", "gal", "m"];

/// For each of our columns, where it stands in the file.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Header {
    pub(crate) places: Vec<Option<usize>>,
    pub(crate) width: usize,
    /// The names that were passed over.
    pub(crate) ignored: Vec<String>,
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
pub(crate) fn no_column(columns: &[&Column], name: &str) -> (&'static str, String) {
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

pub(crate) fn is_unit(word: &str) -> bool {
    const OTHERS: [&str; 16] = [
        "l", "litres", "liters", "metres", "meters", "feet", "inches", "cm", "pa", "mpa", "lps", "l_s", "l_min",
        "m3_h", "gallons", "hpa",
    ];
    UNITS.contains(&word) || OTHERS.contains(&word)
}

/// Reads the header, noting what is wrong with it.
pub(crate) fn read(kind: Kind, names: &[&str], reading: &Reading<'_>, row: u64, faults: &mut Faults) -> Header {
    let columns = kind.columns();
    let mut places = vec![None; columns.len()];
    let mut unknown = Unknown::new(columns.iter().collect(), reading);
    let is_free = |column: &Column| names.iter().all(|name| normal(name) != column.name);
    for (at, name) in names.iter().enumerate().filter(|(_, name)| !name.trim().is_empty()) {
        let normal = normal(name);
        let Some(place) = columns.iter().position(|column| column.name == normal) else {
            if unknown.note(faults, row, name, is_free) {
                continue;
            }
            return Header { places, width: names.len(), ignored: unknown.ignored };
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
    Header { places, width: names.len(), ignored: unknown.ignored }
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
        read(kind, names, &reading, 1, &mut faults);
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
