//! lay
