//! The HTTP service and the command line: the only crate that knows HTTP.
//!
//! A request is parsed into a DTO (`extract`), converted into domain types with every fault at once (`faults`), handed to the
//! store or to the hydraulics, and shaped into a response (`reply`). Whatever goes wrong goes out as a `problem` document.

mod advice;
pub mod app;
mod bulk;
pub mod cli;
pub mod clock;
mod combined;
mod day;
pub mod demo;
mod document;
mod export;
mod extract;
mod faults;
mod formulas;
mod lay;
mod needed_flow;
mod negotiate;
mod object;
mod page;
mod problem;
mod relay;
mod reply;
mod routes;
pub mod serve;
mod streams;
mod wording;
