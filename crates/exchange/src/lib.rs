//! Records to and from the files that people and other programs keep: CSV for spreadsheets, GeoJSON for maps, JSON Lines for programs.
//!
//! [`mod@column`] describes every column of every kind once; the header of an export, the reading of an import and what is told about
//! columns all follow from it. [`write::Writer`] turns records into bytes and [`read::records`] turns bytes into records, or into
//! every fault with its row. No SQL, no HTTP, no clock.

pub mod column;
pub mod fault;
mod feature;
mod fields;
mod geojson;
mod geometry;
mod header;
pub mod kind;
mod kinds;
mod lists;
mod loose;
mod mark;
pub mod raster;
pub mod read;
mod rows;
mod scalar;
pub mod streets;
mod unknown;
pub mod value;
pub mod write;
