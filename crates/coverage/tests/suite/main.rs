//! What must hold of a town's coverage.

mod bad_data;
mod causes;
mod coverage_laws;
mod model;
mod reach_laws;
mod snap_laws;
mod street_facts;
mod town;
