//! From every place that may burn: which hydrants serve it along the streets with the hose carried, what would arrive, and, where that is not enough, why
//! not and what would change it.
//!
//! Pure computation over slices, in feet of a plane: no I/O, no clock. The same input gives the same answer on any number of threads.

mod barrier;
pub mod cause;
pub mod finding;
mod flows;
mod grid;
mod joints;
mod judge;
mod most;
mod nodes;
mod number;
pub mod one_place;
mod order;
pub mod outcome;
mod pieces;
mod reach;
pub mod records;
pub mod remedies;
pub mod rule;
pub mod run;
mod search;
mod seats;
mod snap;
pub mod streets;
pub mod summary;
pub mod threads;
mod ways;
mod why;

pub use joints::JOINT_FT;
pub use snap::Foot;
pub use ways::Lay;
