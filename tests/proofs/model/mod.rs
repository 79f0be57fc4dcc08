//! The service against a plain model of it in memory, step by step: requests are drawn, the model says what must be answered, and
//! status, tag and body are compared. Beside what is asked for right, everything that must be refused is asked for too.

mod against;
mod asking;
mod conditions;
mod drawing;
mod expected;
mod state;
mod test_drawing;

pub(crate) use against::prove;

/// The time that the service has, always.
const NOW: &str = "2026-11-25T12:00:00Z";
const PUBLIC_URL: &str = "http://model.example";
