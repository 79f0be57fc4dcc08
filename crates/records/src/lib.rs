//! What a department keeps: hydrants, flow tests, tests of its equipment, hose types, appliances, hydrant valves, pumpers and lay profiles; their
//! invariants; and [`supply`], the policy that turns a hydrant's tests into one curve with findings.
//!
//! No I/O, no serde: the store and the service convert.

pub mod equipment;
pub mod equipment_test;
pub mod flow_test;
pub mod hydrant;
pub mod id;
pub mod supply;
