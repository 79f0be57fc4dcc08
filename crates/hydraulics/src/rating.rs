//! rating
