//! The town in memory: all that an answer is worked from, as it stands after the last write.

mod change;
mod keeper;
mod load;
mod ordered;
mod place;
mod read;
mod shelf;
mod shelved;
mod state;

pub(crate) use change::Touched;
pub(crate) use keeper::Keeper;
pub(crate) use place::Place;
pub(crate) use shelf::{Drill, Shelf};
pub(crate) use shelved::Shelved;
pub use state::{Supplied, Town};
