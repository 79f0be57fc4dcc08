//! The routes, one resource a file: request, response, conversion, handlers.

pub(crate) mod appliances;
pub(crate) mod attack_lines;
pub(crate) mod capability;
mod carried_hose;
pub(crate) mod deliverable_flow;
pub(crate) mod drafts;
mod drill_body;
pub(crate) mod drill_estimates;
mod drill_record;
pub(crate) mod drills;
pub(crate) mod flow_tests;
pub(crate) mod formulas;
pub(crate) mod gauge_readings;
pub(crate) mod health;
pub(crate) mod hose_types;
pub(crate) mod hydrant_list;
pub(crate) mod hydrant_valves;
pub(crate) mod hydrants;
pub(crate) mod lay_calculations;
pub(crate) mod lay_profiles;
mod library;
mod near;
pub(crate) mod needed_flow;
pub(crate) mod problems;
pub(crate) mod pumpers;
pub(crate) mod relays;
pub(crate) mod shuttles;
