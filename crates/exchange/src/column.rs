//! What a column is: its name, what may stand in it, and how that is told to whoever fills it in.

use std::fmt::Write as _;

use crate::kind::Kind;

/// What stands in the cells of a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Words, or an id.
    Text,
    /// A number, in the unit its name says.
    Number,
    /// Yes or no.
    Flag,
    /// A day.
    Day,
    /// A time.
    Time,
    /// One group of values, which JSON knows by these names.
    Group(&'static [&'static str]),
    /// Such groups behind each other.
    Groups(&'static [&'static str]),
    /// Ids behind each other.
    Ids,
}

/// One column of a kind of record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Its name in a header: the API's own, with the unit.
    pub name: &'static str,
    /// Where it stands in the API's JSON, members parted by slashes.
    pub member: &'static str,
    /// What may stand in it.
    pub form: Form,
    /// Whether every row needs it.
    pub needed: bool,
    /// What it means.
    pub meaning: &'static str,
    /// A cell as it is typed.
    pub example: &'static str,
}

impl Column {
    pub(crate) const fn needed(name: &'static str, form: Form, meaning: &'static str, example: &'static str) -> Self {
        Self { name, member: name, form, needed: true, meaning, example }
    }

    pub(crate) const fn maybe(name: &'static str, form: Form, meaning: &'static str, example: &'static str) -> Self {
        Self { needed: false, ..Self::needed(name, form, meaning, example) }
    }

    /// Whether it is a coordinate, which a map knows without its table.
    pub(crate) fn is_place(&self) -> bool {
        self.member.starts_with("location/")
    }

    /// Whether a name, as ours are written, is its own. Those of other people's files have capitals.
    pub(crate) fn is_named(&self, normal: &str) -> bool {
        self.name.eq_ignore_ascii_case(normal)
    }

    pub(crate) const fn inside(self, member: &'static str) -> Self {
        Self { member, ..self }
    }
}

/// The columns of a kind as a Markdown table, for a handbook and for the command line.
pub fn table(kind: Kind) -> String {
    table_of(kind.columns())
}

/// The same of these columns.
pub fn table_of(columns: &[Column]) -> String {
    let mut table = String::from("| column | needed | example | meaning |\n|---|---|---|---|\n");
    for column in columns {
        let needed = if column.needed { "yes" } else { "" };
        let (name, example, meaning) = (column.name, column.example, column.meaning);
        // Writing to a string cannot fail.
        let _ = writeln!(table, "| `{name}` | {needed} | `{example}` | {meaning} |");
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_named_once_and_told_on_one_line() {
        for kind in Kind::ALL {
            assert_eq!(Kind::of_slug(kind.slug()), Some(kind));
            for (i, column) in kind.columns().iter().enumerate() {
                assert!(kind.columns()[..i].iter().all(|earlier| earlier.name != column.name), "{}", column.name);
                let told = format!("{}{}", column.meaning, column.example);
                assert!(!column.meaning.is_empty() && !column.example.is_empty(), "{}", column.name);
                assert!(!told.contains(['|', '\n', '`']), "{}", column.name);
            }
        }
    }
}
