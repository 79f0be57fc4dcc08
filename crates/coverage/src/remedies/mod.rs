//! Which few changes close most gaps.
//!
//! Greedy: of all changes the one that closes most places for each change counted is taken, the whole town is judged again with it, and so on. Ties go to
//! the cheaper kind. What closes how many is counted by one hydrant or by two as the run does; for hydrants that are not there yet, by themselves alone, so that
//! a step may close more than was counted, and what it closed is always what the run over the changed town says.
//!
//! A hydrant that has no usable test is reckoned by the weaker of the two nearest that have tests of their own, with the wider band of a borrowed test: what it
//! gives is not known until it is tested. Where there are not two near, nothing is promised of it. Whatever rests on such a test later says so too.

mod candidates;
mod change;
mod find;
mod lenders;
mod main_work;
mod open;
mod plan;
mod settings;
mod spots;
mod town;

pub use change::{Change, LayChange, LayKind};
pub use find::{Considered, Question, Remedies, Step};
pub use plan::Lays;
