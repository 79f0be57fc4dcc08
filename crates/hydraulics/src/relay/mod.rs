//! Relays: the rule of thumb for level ground, and a plan that says where each pumper stands and what its gauges read.
//!
//! [`RelayProblem`] is the question; [`RelayProblem::maximum_distance`] and [`RelayProblem::constant_pressure`] answer it, each by its method.

mod answer;
mod constant;
mod farthest;
mod ground;
mod problem;
mod rule;
mod solve;
mod stand;

pub use answer::{Carried, HeldBy, Method, NoRelay, RelayAnswer, RelayPumper};
pub use constant::{CUSTOMARY_DISCHARGE_PSI, ConstantDischarge};
pub use ground::{Ground, GroundError, GroundPoint, MAX_GROUND_POINTS};
pub use problem::{MAX_RELAY_PUMPERS, RelayError, RelayProblem, RelayPumpers, RelaySource};
pub use rule::{PumpSize, RELAY_RESIDUAL_PSI, ReachesNowhere, max_distance, pump_size, pumpers_needed};
