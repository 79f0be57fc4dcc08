//! What a department keeps: hydrants, flow tests, tests of its equipment, drills, hose types, appliances, hydrant valves, pumpers and lay profiles; their
//! invariants; [`supply`], the policy that turns a hydrant's tests into one curve with findings; and [`history`], what those tests say over the years.
//!
//! No I/O, no serde: the store and the service convert.

pub mod drill;
pub mod equipment;
pub mod equipment_test;
pub mod flow_test;
pub mod history;
pub mod hydrant;
pub mod id;
pub mod supply;
