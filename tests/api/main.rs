//! The API over HTTP, route by route, against the service as it runs.
#![expect(clippy::unwrap_used, reason = "helpers of tests fail as tests do")]

mod appliances;
mod capability;
mod deliverable_flow;
mod equipment;
mod equipment_tests;
mod flow_tests;
mod health;
mod hose_types;
mod hydrant_list;
mod hydrant_valves;
mod hydrants;
mod lay_calculations;
mod lay_profiles;
mod openapi;
mod problems;
mod protocol;
mod pumpers;
