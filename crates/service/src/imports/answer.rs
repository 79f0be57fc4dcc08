//! What came of an import.

use std::fmt::Write as _;

use longlay_exchange::fault::MOST_KEPT;
use longlay_store::Imported;
use serde::Serialize;
use utoipa::ToSchema;

use super::arrived::Arrived;
use super::warnings::{ImportWarning, warnings};
use crate::problem::FieldError;

/// What an import did, or would do.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct ImportAnswer {
    /// The kind of record.
    pub(crate) kind: &'static str,
    /// Whether it was only a look at what the file would do.
    pub(crate) dry_run: bool,
    /// Rows that hold a record.
    pub(crate) rows: usize,
    /// Records that are new, or were retired and came back.
    pub(crate) created: u64,
    /// Records that stand in place of another.
    pub(crate) replaced: u64,
    /// Records that stood already as they are in the file.
    pub(crate) unchanged: u64,
    /// How many rows were passed over.
    pub(crate) skipped_count: usize,
    /// The rows passed over, the first hundred.
    pub(crate) skipped: Vec<SkippedRow>,
    /// Columns that are none of the kind's own and were passed over, by the names they have in the file: the first hundred.
    pub(crate) ignored_columns: Vec<String>,
    /// How many warnings there are.
    pub(crate) warning_count: usize,
    /// What may not be meant so: the first twenty, the weightiest first.
    pub(crate) warnings: Vec<ImportWarning>,
    /// Faults of the file: none where it was brought in.
    pub(crate) errors: Vec<FieldError>,
    /// Whether it is kept.
    pub(crate) committed: bool,
    /// SHA-256 of the file, as the audit keeps it.
    #[schema(min_length = 64, max_length = 64)]
    pub(crate) sha256: String,
}

/// A row passed over.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct SkippedRow {
    /// The row, as a spreadsheet shows it.
    pub(crate) row: u64,
    /// Stable code of why.
    pub(crate) code: &'static str,
    /// Why.
    pub(crate) detail: &'static str,
}

impl ImportAnswer {
    /// Of a file without faults.
    pub(crate) fn new(kind: &'static str, dry_run: bool, arrived: &Arrived, imported: &Imported) -> Self {
        let skipped = |index: &usize| SkippedRow {
            row: arrived.row(*index),
            code: "already_recorded",
            detail: "this test was recorded before",
        };
        let (warnings, warning_count) = warnings(arrived, imported);
        Self {
            kind,
            dry_run,
            rows: arrived.rows.len(),
            created: imported.created,
            replaced: imported.replaced,
            unchanged: imported.unchanged,
            skipped_count: imported.skipped.len(),
            skipped: imported.skipped.iter().take(MOST_KEPT).map(skipped).collect(),
            ignored_columns: arrived.ignored_columns.clone(),
            warning_count,
            warnings,
            errors: Vec::new(),
            committed: !dry_run,
            sha256: hex(&arrived.sha256),
        }
    }
}

pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}
