//! The routes, one resource a file: request, response, conversion, handlers.

pub(crate) mod appliances;
pub(crate) mod capability;
mod carried_hose;
pub(crate) mod deliverable_flow;
mod equipment_test_body;
mod equipment_test_record;
pub(crate) mod equipment_tests;
mod figure;
pub(crate) mod flow_tests;
pub(crate) mod health;
pub(crate) mod hose_types;
pub(crate) mod hydrant_list;
pub(crate) mod hydrant_valves;
pub(crate) mod hydrants;
pub(crate) mod lay_calculations;
pub(crate) mod lay_profiles;
mod library;
mod near;
pub(crate) mod problems;
pub(crate) mod pumpers;
