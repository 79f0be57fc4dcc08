//! The API over HTTP, route by route, against the service as it runs.
#![expect(clippy::unwrap_used, reason = "helpers of tests fail as tests do")]

mod appliances;
mod attack_lines;
mod capability;
mod capability_streams;
mod combined_supplies;
mod deliverable_flow;
mod drafts;
mod drills;
mod equipment;
mod equipment_tests;
mod exports;
mod flow_tests;
mod formula_rows;
mod formulas;
mod gauge_readings;
mod health;
mod hose_types;
mod hydrant_list;
mod hydrant_valves;
mod hydrants;
mod kerb;
mod lay_calculations;
mod lay_profiles;
mod needed_flow;
mod openapi;
mod problems;
mod protocol;
mod pumpers;
mod read;
mod relays;
mod retests;
mod shuttles;
mod streams;
mod test_history;
