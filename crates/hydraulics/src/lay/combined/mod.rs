//! More than one hydrant, or more than one line from a hydrant, for one scene: what all of them bring together.
//!
//! [`CombinedProblem`] is the question, [`Combined`] the checked question, [`CombinedAnswer`] the answer with its working.

mod advice;
mod answer;
mod feed;
mod problem;
mod reading;
mod solve;
mod sure;

pub use answer::{CombinedAnswer, CombinedAtTarget, LineSupply};
pub use problem::{Combined, CombinedError, CombinedProblem, MAX_SUPPLY_LINES, Mains, SupplyLine};
pub use reading::{HydrantMain, LineReading};
