//! What shipped rows say of themselves beside a department's own.

use longlay_records::equipment::{Origin, Range};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::faults::Faults;

/// Where a row comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum OriginName {
    /// Shipped with the program, read-only: a handbook figure, on which sources disagree.
    Library,
    /// The department's own.
    Department,
}

impl From<Origin> for OriginName {
    fn from(origin: Origin) -> Self {
        match origin {
            Origin::Library => Self::Library,
            Origin::Department => Self::Department,
        }
    }
}

/// What a department records is its own.
pub(super) fn own(said: Option<OriginName>, faults: &mut Faults) {
    if said == Some(OriginName::Library) {
        faults.note("/origin", "not_library", "what is recorded here is the department's own: `department`");
    }
}

/// The span that sources or samples give for a figure, in its unit.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
pub(crate) struct FigureRange {
    /// Low end.
    low: f64,
    /// High end.
    high: f64,
}

impl From<Range> for FigureRange {
    fn from(range: Range) -> Self {
        Self { low: range.low, high: range.high }
    }
}
