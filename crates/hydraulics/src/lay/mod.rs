//! A lay from hydrant to scene: what arrives, what stops more from arriving, and what every gauge reads.
//!
//! [`LayProblem`] is the question, [`Lay`] the checked question, [`LayAnswer`] the answer with its working.

mod advice;
mod answer;
mod budget;
mod build;
pub mod combined;
mod compile;
mod diagnosis;
mod fill;
mod limits;
mod longest;
pub mod many;
mod parallel;
mod parts;
mod plan;
mod planned;
mod readings;
mod sure;
mod terms;
mod workings;

pub use answer::{AtTarget, IntakeBand, LayAnswer, LineAnswer};
pub use budget::{BudgetLine, Gauge, PartKind, PartRef, Station};
pub use compile::{Lay, LayError};
pub use diagnosis::{Diagnosis, DiagnosisCode, Remedy, WATER_GAIN_GPM, WATER_GAIN_SHARE};
pub use fill::{Fill, Tank};
pub use limits::{Limit, LimitFlow, planning_gpm};
pub use parts::{Branch, BranchPart, LayProblem, MAX_BRANCHES, MAX_PARTS, Part, Source};
pub use plan::PumperReading;
pub use readings::{NoStation, Stretch};
pub use terms::{CoefficientOf, Term};
