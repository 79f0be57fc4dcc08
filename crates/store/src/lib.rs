//! SQLite behind domain types: the only crate that knows SQL, and the only one that depends on sqlx.
//!
//! Each method of [`Store`] is one transaction; a [`Snapshot`] is one that is read bit by bit. What comes in was checked by its type; what comes out is checked again, and a
//! row that no longer fits is [`StoreError::Corrupt`], never a panic. Nothing is ever deleted: hydrants, equipment, demand points and
//! districts are retired, tests and drills are voided, keys are revoked. Streets and the grid of heights alone are replaced, and only as a whole.

mod appliances;
mod aside;
mod audit;
mod backup;
mod change;
mod coverage_outcomes;
mod coverage_runs;
mod demand_points;
mod demand_rows;
mod disk;
mod districts;
mod drill_rows;
mod drills;
mod elevation_grid;
mod equipment_test_rows;
mod equipment_tests;
mod error;
mod evidence;
mod flow_tests;
mod folder;
mod gauges;
mod ground;
mod hose_types;
mod hydrant_query;
mod hydrant_valves;
mod hydrants;
mod imports;
mod keys;
mod lay_inputs;
mod lay_profiles;
mod listed;
mod lock;
mod open;
mod partial;
mod pumpers;
mod references;
mod replay;
mod rows;
mod schema;
mod shapes;
mod snapshot;
mod soundness;
mod town;

pub use audit::AuditEntry;
pub use backup::{Copied, CopyError, back_up, restore};
pub use change::{Change, Condition, Put, Versioned};
pub use coverage_outcomes::{Delivered, NamedHydrant, OUTCOMES_AT_ONCE, OutcomeQuery, PointOutcome};
pub use coverage_runs::{CameTo, CoverageRun, MOST_COVERAGE_RUNS, RunAdded, RunDeleted, RunState};
pub use disk::Disk;
pub use drills::MOST_DRILLS_WORKED;
pub use elevation_grid::GridSummary;
pub use equipment_tests::EquipmentTestQuery;
pub use error::{OpenError, RecordKind, StoreError};
pub use flow_tests::VoidOutcome;
pub use gauges::{Use, Wait};
pub use ground::CoverageGround;
pub use hydrant_query::{Bbox, HydrantQuery};
pub use imports::{
    ArrivingTest, Batch, Import, ImportRecorded, Imported, Looked, NetworkLooked, NetworkRecorded, Notice, Progress,
    Refusal, StreetNetwork, Terms,
};
pub use keys::RevokeOutcome;
pub use lay_inputs::{LayInputs, LayRefs};
pub use listed::{Listed, Placed};
pub use lock::is_served;
pub use open::{OpenOptions, Store, sqlite_version};
pub use partial::Partial;
pub use replay::{Answer, Recorded, Replay};
pub use snapshot::Snapshot;
pub use soundness::{Sound, Unsound, inspect};
pub use town::{Supplied, Town};
