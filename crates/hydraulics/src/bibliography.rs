//! bibliography
