//! finding
