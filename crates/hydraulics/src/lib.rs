//! What a hydrant delivers over a hose lay, alone and boosted: flows, limits, gauges and the diagnosis, each with its
//! working.
//!
//! Start at [`lay::Lay::new`] and [`lay::Lay::answer`]. Units are US customary: gpm, psi, ft, in. The crate does no I/O, needs no
//! standard library, and gives the same bits on every platform.
//!
//! The answers are for planning. Gauges at the pump govern; local procedures and the water authority decide.
#![no_std]

extern crate alloc;

pub mod bibliography;
pub mod caution;
pub mod finding;
pub mod flow_test;
pub mod formula;
pub mod lay;
pub mod loss;
pub mod pumper;
pub mod quantity;
pub mod rating;
mod root;
pub mod supply;
