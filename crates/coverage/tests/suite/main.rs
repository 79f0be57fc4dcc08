//! What must hold of a town's coverage.

#[cfg(test)]
mod bad_data;
#[cfg(test)]
mod causes;
#[cfg(test)]
mod coverage_laws;
#[cfg(test)]
mod model;
#[cfg(test)]
mod reach_laws;
#[cfg(test)]
mod remedies;
#[cfg(test)]
mod remedy_laws;
#[cfg(test)]
mod report_facts;
#[cfg(test)]
mod snap_laws;
#[cfg(test)]
mod street_facts;
#[cfg(test)]
mod town;
