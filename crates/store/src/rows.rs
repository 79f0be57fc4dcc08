//! Between stored values and domain types. A value that no longer fits is `Corrupt`, naming the table and the id.

use std::collections::BTreeSet;
use std::fmt::{Display, Write as _};

use chrono::{DateTime, NaiveDate, SecondsFormat, Utc};
use longlay_hydraulics::quantity::Length;
use longlay_records::equipment::{HoseLoad, Origin, Range};
use longlay_records::id::AssetId;
use sqlx::types::Json;
use uuid::Uuid;

use crate::error::StoreError;

/// The row being read, for the message when it does not fit.
#[derive(Clone, Copy)]
pub(crate) struct Row<'a> {
    table: &'static str,
    id: &'a str,
}

impl<'a> Row<'a> {
    pub(crate) const fn of(table: &'static str, id: &'a str) -> Self {
        Self { table, id }
    }

    pub(crate) fn corrupt(self, what: impl Display) -> StoreError {
        StoreError::Corrupt(format!("{} {}: {what}", self.table, self.id))
    }

    pub(crate) fn good<T, E: Display>(self, value: Result<T, E>) -> Result<T, StoreError> {
        value.map_err(|fault| self.corrupt(fault))
    }

    pub(crate) fn maybe<V, T, E: Display>(
        self,
        value: Option<V>,
        make: impl Fn(V) -> Result<T, E>,
    ) -> Result<Option<T>, StoreError> {
        value.map(|value| self.good(make(value))).transpose()
    }

    pub(crate) fn asset_id(self, id: &str) -> Result<AssetId, StoreError> {
        self.good(AssetId::new(id))
    }

    pub(crate) fn asset_ids(self, ids: &[String]) -> Result<Vec<AssetId>, StoreError> {
        ids.iter().map(|id| self.asset_id(id)).collect()
    }

    pub(crate) fn uuid(self, id: &str) -> Result<Uuid, StoreError> {
        self.good(Uuid::try_parse(id))
    }

    pub(crate) fn day(self, day: &str) -> Result<NaiveDate, StoreError> {
        self.good(day.parse())
    }

    pub(crate) fn time(self, time: &str) -> Result<DateTime<Utc>, StoreError> {
        self.good(time.parse())
    }

    pub(crate) fn count(self, number: i64) -> Result<u64, StoreError> {
        self.good(u64::try_from(number))
    }

    pub(crate) fn origin(self, origin: &str) -> Result<Origin, StoreError> {
        match origin {
            "library" => Ok(Origin::Library),
            "department" => Ok(Origin::Department),
            other => Err(self.corrupt(format_args!("{other} is no origin"))),
        }
    }

    pub(crate) fn range(self, low: Option<f64>, high: Option<f64>) -> Result<Option<Range>, StoreError> {
        match (low, high) {
            (None, None) => Ok(None),
            (Some(low), Some(high)) if low <= high => Ok(Some(Range { low, high })),
            (low, high) => Err(self.corrupt(format_args!("{low:?} to {high:?} is no range"))),
        }
    }

    pub(crate) fn hose_load(
        self,
        hose_type_id: Option<&str>,
        length_ft: Option<f64>,
    ) -> Result<Option<HoseLoad>, StoreError> {
        match (hose_type_id, length_ft) {
            (None, None) => Ok(None),
            (Some(id), Some(ft)) => {
                Ok(Some(HoseLoad { hose_type_id: self.asset_id(id)?, length: self.good(Length::from_ft(ft))? }))
            }
            _ => Err(self.corrupt("a hose without its length, or a length without its hose")),
        }
    }
}

/// Each record with its rows: joined to its parts, a record comes once for each part, and once where it has none.
pub(crate) fn by_record<R>(rows: &[R], id: impl Fn(&R) -> &str) -> impl Iterator<Item = (&R, &[R])> {
    rows.chunk_by(move |one, next| id(one) == id(next)).filter_map(|rows| Some((rows.first()?, rows)))
}

/// Ids for `json_each`, which lets one checked statement take a set.
pub(crate) fn id_list(ids: &BTreeSet<AssetId>) -> Json<Vec<&str>> {
    Json(ids.iter().map(AssetId::as_str).collect())
}

/// `2026-05-01`.
pub(crate) fn day_text(day: NaiveDate) -> String {
    day.format("%Y-%m-%d").to_string()
}

/// RFC 3339 in UTC with nine digits of the second: exact, and text sorts as time does.
pub(crate) fn time_text(time: DateTime<Utc>) -> String {
    time.to_rfc3339_opts(SecondsFormat::Nanos, true)
}

/// A digest in hexadecimal digits.
pub(crate) fn hex_text(digest: &[u8; 32]) -> String {
    digest.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// The place of a part within its record.
pub(crate) fn position(index: usize) -> Result<i64, StoreError> {
    i64::try_from(index).map_err(|_| StoreError::Other(format!("a list of {index} parts")))
}
