//! The HTTP service and the command line: the only crate that knows HTTP.
//!
//! A request is parsed into a DTO (`extract`), converted into domain types with every fault at once (`faults`), handed to the
//! store or to the hydraulics, and shaped into a response (`reply`). Whatever goes wrong goes out as a `problem` document.

mod advice;
mod answers;
pub mod app;
mod audit_lines;
mod bulk;
pub mod cli;
pub mod clock;
mod combined;
mod config;
mod coverage;
mod credentials;
mod day;
pub mod demo;
mod docs;
mod document;
mod entity_tag;
mod export;
mod extract;
mod faults;
mod formulas;
mod guard;
mod idempotency;
mod imports;
pub mod keyring;
mod lay;
mod limits;
mod logs;
mod metrics;
mod needed_flow;
mod negotiate;
mod object;
mod observe;
mod page;
pub mod pools;
mod precondition;
mod problem;
mod relay;
mod reply;
mod routes;
mod scopes;
pub mod serve;
mod streams;
mod supply_options;
pub mod tls;
mod validity;
mod wording;
mod writer;
