//! The harness: the real service on a real socket over a real database file, a client for it, and records to begin with.

#![expect(
    clippy::expect_used,
    clippy::unwrap_used,
    clippy::panic,
    clippy::missing_panics_doc,
    reason = "a harness fails by panicking, as a test does"
)]

mod answer;
pub mod cases;
pub mod records;
mod service;

pub use answer::{Answer, Problem};
pub use service::{NOW, Service};
