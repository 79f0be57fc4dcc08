//! What a department keeps: hydrants, flow tests, tests of its equipment, drills, hose types, appliances, hydrant valves, pumpers and lay profiles; the
//! ground that coverage is reckoned over: streets, demand points, districts, heights; the keys to them; their invariants; [`supply`], the policy that turns a hydrant's tests into one curve with findings; [`history`], what those tests say
//! over the years; [`kerb`], what a test just read is worth; and [`retest`], what is to be tested next.
//!
//! No I/O, no serde: the store and the service convert.

pub mod author;
pub mod demand;
pub mod departure;
pub mod district;
pub mod drill;
pub mod equipment;
pub mod equipment_test;
pub mod flow_test;
pub mod history;
pub mod hydrant;
pub mod id;
pub mod kerb;
pub mod key;
pub mod retest;
pub mod shape;
pub mod street;
pub mod supply;
pub mod surroundings;
pub mod terrain;
pub mod test_slip;
pub mod text;
