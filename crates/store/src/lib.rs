//! SQLite behind domain types: the only crate that knows SQL, and the only one that depends on sqlx.
//!
//! Each method of [`Store`] is one transaction; a [`Snapshot`] is one that is read bit by bit. What comes in was checked by its type; what comes out is checked again, and a
//! row that no longer fits is [`StoreError::Corrupt`], never a panic. Nothing is ever deleted: hydrants and equipment are
//! retired, tests and drills are voided.

mod appliances;
mod drill_rows;
mod drills;
mod equipment_test_rows;
mod equipment_tests;
mod error;
mod evidence;
mod flow_tests;
mod folder;
mod hose_types;
mod hydrant_query;
mod hydrant_valves;
mod hydrants;
mod lay_inputs;
mod lay_profiles;
mod listed;
mod open;
mod pumpers;
mod references;
mod rows;
mod snapshot;

pub use drills::MOST_DRILLS_WORKED;
pub use equipment_tests::EquipmentTestQuery;
pub use error::{OpenError, RecordKind, StoreError};
pub use flow_tests::VoidOutcome;
pub use hydrant_query::{Bbox, HydrantQuery};
pub use lay_inputs::{LayInputs, LayRefs};
pub use listed::{Listed, Placed};
pub use open::{OpenOptions, Put, Store};
pub use snapshot::Snapshot;
