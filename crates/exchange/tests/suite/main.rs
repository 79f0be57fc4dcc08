//! What goes out comes in as it was, and what cannot come in is told where it stands.
#![expect(clippy::unwrap_used, clippy::panic, reason = "helpers of tests fail as tests do")]

mod areas;
mod draws;
mod handbook;
mod messy;
mod round_trips;
mod streets;
mod support;
mod written;
