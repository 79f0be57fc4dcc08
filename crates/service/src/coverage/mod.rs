//! Coverage of a district: what is asked, what it is worked from, the run, and what comes out.

pub(crate) mod causes;
#[cfg(test)]
mod demo_pairs;
pub(crate) mod department;
pub(crate) mod fingerprint;
pub(crate) mod inputs;
pub(crate) mod outcomes;
pub(crate) mod plane;
pub(crate) mod remedies;
pub(crate) mod remedy_told;
pub(crate) mod runner;
pub(crate) mod settings;
pub(crate) mod summary;
pub(crate) mod template;
pub(crate) mod work;
