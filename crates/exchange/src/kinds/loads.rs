//! Lengths of hose in a cell.

use longlay_hydraulics::quantity::Length;
use longlay_records::equipment::HoseLoad;

use crate::fault::Wrong;
use crate::fields::bounded;
use crate::scalar::{asset_id, written_number};
use crate::value::Value;

/// What a length of hose is made of.
pub(super) const LOAD: [&str; 2] = ["hose_type_id", "length_ft"];

pub(super) fn load([id, feet]: [&str; 2]) -> Result<HoseLoad, Wrong> {
    Ok(HoseLoad { hose_type_id: asset_id(id)?, length: bounded(written_number(feet)?, Length::from_ft)? })
}

pub(super) fn load_values(load: &HoseLoad) -> Vec<Value> {
    vec![Value::id(&load.hose_type_id), Value::Number(load.length.ft())]
}
