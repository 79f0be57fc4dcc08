//! A street network out of a file, from look to kept.

use std::fs::File;
use std::io::BufReader;

use chrono::{DateTime, Utc};
use longlay_exchange::fault::Faults;
use longlay_exchange::read::Reading;
use longlay_exchange::streets::{self, Streets};
use longlay_records::surroundings::Misplaced;
use longlay_store::{Answer, Bbox, Change, NetworkLooked, NetworkRecorded, Store, StoreError, StreetNetwork};
use serde::Serialize;
use utoipa::ToSchema;

use super::answer::hex;

/// Most warnings told; the others are counted.
const MOST_TOLD: usize = 20;

/// What streets are together.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct StreetSummary {
    /// How many streets, lines that hose does not cross among them.
    streets: u64,
    /// Places of their lines.
    places: u64,
    /// Where they lie: west, south, east, north in degrees.
    #[schema(min_items = 4, max_items = 4)]
    bbox: [f64; 4],
    /// Those that hose does not cross.
    barriers: BarrierCounts,
    /// Those of which an end lies over or under the ground.
    off_ground: u64,
    /// When they came in.
    imported_at: DateTime<Utc>,
    /// SHA-256 of the file they came in.
    #[schema(min_length = 64, max_length = 64)]
    sha256: String,
}

/// How many lines hose does not cross, by what keeps it from that.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct BarrierCounts {
    /// Railways.
    railway: u64,
    /// Roads of limited access.
    limited_access: u64,
    /// Medians.
    median: u64,
    /// Walls and fences.
    wall: u64,
}

impl From<&StreetNetwork> for StreetSummary {
    fn from(network: &StreetNetwork) -> Self {
        let Bbox { west, south, east, north } = network.bbox;
        let [(_, railway), (_, limited_access), (_, median), (_, wall)] = network.barriers;
        Self {
            streets: network.streets,
            places: network.places,
            bbox: [west, south, east, north],
            barriers: BarrierCounts { railway, limited_access, median, wall },
            off_ground: network.off_ground,
            imported_at: network.imported_at,
            sha256: hex(&network.sha256),
        }
    }
}

/// Something to be looked at in a file of streets.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct StreetWarning {
    /// The feature, from 1.
    row: u64,
    /// The street.
    id: String,
    /// Stable code: `far_from_others`.
    code: &'static str,
    /// What it is.
    detail: String,
}

/// What an import of streets did, or would do.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct StreetImportAnswer {
    /// Whether it was only a look at what the file would do.
    pub(crate) dry_run: bool,
    /// The streets of the file: all there are from now on.
    pub(crate) network: StreetSummary,
    /// How many streets were there before, and are not any more.
    pub(crate) replaced: u64,
    /// How many are barriers by their road class alone.
    pub(crate) limited_access_by_class: usize,
    /// Properties that were passed over, by the names they have in the file: the first hundred.
    pub(crate) ignored_columns: Vec<String>,
    /// How many warnings there are.
    pub(crate) warning_count: usize,
    /// What may not be meant so: the first twenty.
    pub(crate) warnings: Vec<StreetWarning>,
    /// Whether it is kept.
    pub(crate) committed: bool,
}

impl StreetWarning {
    /// As a line for standard error.
    pub(crate) fn line(&self) -> String {
        format!("warning: feature {}, {}: {} ({})", self.row, self.id, self.detail, self.code)
    }
}

/// A network that arrived.
#[derive(Debug)]
pub(crate) struct ArrivedStreets {
    pub(crate) read: Streets,
    pub(crate) sha256: [u8; 32],
}

impl ArrivedStreets {
    /// Reads a file from where it stands. Takes as long as the file is large: not for a thread that answers others.
    pub(crate) fn read(file: File, sha256: [u8; 32], reading: &Reading<'_>) -> Result<Self, Faults> {
        streets::read(BufReader::new(file), reading).map(|read| Self { read, sha256 })
    }

    fn answer(&self, looked: &NetworkLooked, replaced: Option<&StreetNetwork>, committed: bool) -> StreetImportAnswer {
        let warning = |(index, misplaced): &(usize, Misplaced)| {
            let look = if misplaced.looks_exchanged { "lon and lat look exchanged" } else { "look at its coordinates" };
            let detail = format!("it reaches {:.0} miles from the middle of the hydrants: {look}", misplaced.miles);
            let row = self.read.rows.get(*index).copied().unwrap_or_default();
            let id = self.read.streets.get(*index).map(|street| street.id.clone()).unwrap_or_default();
            StreetWarning { row, id, code: "far_from_others", detail }
        };
        StreetImportAnswer {
            dry_run: !committed,
            network: (&looked.network).into(),
            replaced: replaced.map_or(0, |replaced| replaced.streets),
            limited_access_by_class: self.read.limited_by_class,
            ignored_columns: self.read.ignored_columns.clone(),
            warning_count: looked.far.len(),
            warnings: looked.far.iter().take(MOST_TOLD).map(warning).collect(),
            committed,
        }
    }
}

/// What came of it.
#[derive(Debug)]
pub(crate) enum StreetOutcome {
    /// It was brought in, or looked at.
    Done(StreetImportAnswer),
    /// The same request was answered before: nothing was done.
    Before(Answer),
}

/// Looks at what a network would do and, where there is a change to put it down to, puts it in place.
pub(crate) async fn carry_out(
    store: &Store,
    arrived: &ArrivedStreets,
    now: DateTime<Utc>,
    change: Option<&Change>,
) -> Result<StreetOutcome, StoreError> {
    let streets = &arrived.read.streets;
    // A file without streets was refused when it was read.
    let Some(looked) = store.look_at_streets(streets, arrived.sha256, now).await? else {
        return Err(StoreError::Other("a network of no streets".to_owned()));
    };
    let Some(change) = change else {
        return Ok(StreetOutcome::Done(arrived.answer(&looked, looked.replaced.as_ref(), false)));
    };
    // An answer made of numbers and text is always JSON.
    let body = |replaced: Option<&StreetNetwork>| {
        serde_json::to_vec(&arrived.answer(&looked, replaced, true)).unwrap_or_default()
    };
    Ok(match store.replace_streets(streets, &looked.network, change, &body).await? {
        NetworkRecorded::Before(answer) => StreetOutcome::Before(answer),
        NetworkRecorded::Now(replaced) => StreetOutcome::Done(arrived.answer(&looked, replaced.as_ref(), true)),
    })
}
