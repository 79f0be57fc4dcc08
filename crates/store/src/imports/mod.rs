//! Many records at once, in one transaction: all of them, or none.

mod arriving;
mod batch;
mod bulk;
mod demand_points;
mod flow_tests;
mod hydrants;
mod notices;
mod places;
mod run;
mod streets;

pub use batch::{ArrivingTest, Batch, Import, ImportRecorded, Imported, Looked, Refusal};
pub use notices::{Notice, Terms};
pub use run::Progress;
pub(crate) use streets::standing;
pub use streets::{NetworkLooked, NetworkRecorded, StreetNetwork};
