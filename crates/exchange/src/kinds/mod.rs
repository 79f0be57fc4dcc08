//! How each kind of record stands in a row.

mod appliances;
mod demand_points;
mod flow_tests;
mod hose_types;
mod hydrant_valves;
mod hydrants;
mod lay_profiles;
mod loads;
mod places;
mod pumpers;
