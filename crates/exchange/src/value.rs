//! What stands in one place of a record, whatever the file looks like.

use chrono::{DateTime, NaiveDate, SecondsFormat, Utc};
use longlay_records::id::AssetId;

/// A value on its way out.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// Nothing is known.
    Empty,
    /// Words, an id, a day or a time.
    Text(String),
    /// A number; finite.
    Number(f64),
    /// Yes or no.
    Flag(bool),
    /// Groups, each as long as its column says.
    Groups(Vec<Vec<Value>>),
}

impl Value {
    pub(crate) fn id(id: &AssetId) -> Self {
        Self::Text(id.to_string())
    }

    pub(crate) fn ids(ids: &[AssetId]) -> Self {
        Self::Groups(ids.iter().map(|id| vec![Self::id(id)]).collect())
    }

    pub(crate) fn text(text: &str) -> Self {
        Self::Text(text.to_owned())
    }

    pub(crate) fn day(day: NaiveDate) -> Self {
        Self::Text(day.format("%Y-%m-%d").to_string())
    }

    pub(crate) fn time(time: DateTime<Utc>) -> Self {
        Self::Text(time.to_rfc3339_opts(SecondsFormat::AutoSi, true))
    }

    /// The value of what may be unknown.
    pub(crate) fn maybe<T>(known: Option<T>, value: impl FnOnce(T) -> Self) -> Self {
        known.map_or(Self::Empty, value)
    }
}
