//! root
