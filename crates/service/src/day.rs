//! A calendar day as it comes over HTTP: ISO 8601, year-month-day, and no other way to write it.

use chrono::NaiveDate;
use serde::de::{self, Deserialize, Deserializer};

/// A day written as `2026-05-01`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Day(pub(crate) NaiveDate);

impl<'de> Deserialize<'de> for Day {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        // Chrono reads `2025-1-1` and `+2025-01-01` too; what it writes back is the one form.
        let day = text.parse::<NaiveDate>().ok().filter(|day| day.format("%Y-%m-%d").to_string() == text);
        day.map(Self).ok_or_else(|| de::Error::custom("must be a date like 2026-05-01"))
    }
}
