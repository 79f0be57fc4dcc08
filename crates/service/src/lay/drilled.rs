//! A lay that was really laid: written down and read again, and which stored things it was made of.

use std::collections::BTreeSet;

use longlay_hydraulics::lay::CoefficientOf;
use longlay_hydraulics::quantity::Pressure;
use longlay_records::drill::{DrillUse, UsedKind};
use longlay_records::equipment::{HoseLoad, HydrantValveType, LayProfile};
use longlay_records::equipment_test::Leg;
use longlay_records::id::AssetId;
use longlay_store::LayInputs;
use serde_json::Value;

use crate::lay::refs::refs;
use crate::lay::request::{LayCalculation, LayPart, LayPartKind};
use crate::problem::{Problem, Slug};

/// A figure of a stored thing.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Asset {
    /// Whose.
    pub(crate) of: DrillUse,
    /// Which leg, of a valve.
    pub(crate) leg: Option<Leg>,
}

/// The lay with its profile written out: a profile may be another tomorrow, and what lay there does not change with it.
pub(crate) fn as_laid(ask: &LayCalculation, inputs: &LayInputs) -> LayCalculation {
    let Some(profile) = &inputs.lay_profile else { return ask.clone() };
    let floor = |own: Option<f64>, of_profile: Option<Pressure>| own.or(of_profile.map(Pressure::psi));
    LayCalculation {
        lay_profile_id: None,
        length_ft: None,
        parts: Some(parts_of(profile, ask.length_ft)),
        main_floor_psi: floor(ask.main_floor_psi, profile.main_floor),
        scene_floor_psi: floor(ask.scene_floor_psi, profile.scene_floor),
        ..ask.clone()
    }
}

fn parts_of(profile: &LayProfile, length_ft: Option<f64>) -> Vec<LayPart> {
    let valve = profile.hydrant_valve_id.iter().map(|id| LayPart {
        kind: LayPartKind::HydrantValve,
        hydrant_valve_id: Some(id.to_string()),
        ..LayPart::default()
    });
    let length_ft = length_ft.unwrap_or(profile.carried.ft());
    let hose = LayPart::hose(profile.hose_type_id.to_string(), Some(length_ft), Some(profile.lines));
    let appliances = profile.scene_appliance_ids.iter().map(|id| LayPart {
        kind: LayPartKind::Appliance,
        appliance_id: Some(id.to_string()),
        ..LayPart::default()
    });
    valve.chain([hose]).chain(appliances).collect()
}

/// The lay as text, its members in order and what was not given left out.
pub(crate) fn write_lay(ask: &LayCalculation) -> Result<String, Problem> {
    let written = serde_json::to_value(ask).map(without_nulls).and_then(|value| serde_json::to_string(&value));
    written.map_err(|error| {
        tracing::error!(%error, "a lay could not be written as JSON");
        Problem::new(Slug::Internal, Slug::Internal.meaning())
    })
}

fn without_nulls(value: Value) -> Value {
    match value {
        Value::Object(members) => {
            let given = members.into_iter().filter(|(_, value)| !value.is_null());
            Value::Object(given.map(|(key, value)| (key, without_nulls(value))).collect())
        }
        Value::Array(items) => Value::Array(items.into_iter().map(without_nulls).collect()),
        plain => plain,
    }
}

/// The lay out of its text; none where this version no longer reads it.
pub(crate) fn read_lay(text: &str) -> Option<LayCalculation> {
    serde_json::from_str(text).ok()
}

/// What stored things a lay is made of, each once: `ask` as [`as_laid`]. The hose kept with a valve is used where a pumper joins.
pub(crate) fn uses(ask: &LayCalculation, inputs: &LayInputs) -> Vec<DrillUse> {
    let named = refs(ask);
    let mut hose_types = named.hose_type_ids;
    if ask.boost.is_some() {
        let kept = inputs.hydrant_valves.values().flat_map(|valve| [&valve.to_pump_hose, &valve.from_pump_hose]);
        hose_types.extend(kept.flatten().map(|load| load.hose_type_id.clone()));
    }
    let of = |kind: UsedKind, ids: BTreeSet<AssetId>| ids.into_iter().map(move |id| DrillUse { kind, id });
    of(UsedKind::Hydrant, named.hydrant_id.into_iter().collect())
        .chain(of(UsedKind::HoseType, hose_types))
        .chain(of(UsedKind::Appliance, named.appliance_ids))
        .chain(of(UsedKind::HydrantValve, named.hydrant_valve_ids))
        .chain(of(UsedKind::Pumper, named.pumper_ids))
        .collect()
}

/// Which stored thing a figure of a lay is of: `ask` as [`as_laid`]. None where the figure came with the lay.
pub(crate) fn asset_of(of: CoefficientOf, ask: &LayCalculation, inputs: &LayInputs) -> Option<Asset> {
    let part = |i: usize| ask.parts.as_ref()?.get(i);
    let asset = |kind: UsedKind, text: &Option<String>, leg| {
        Some(Asset { of: DrillUse { kind, id: AssetId::new(text.as_deref()?).ok()? }, leg })
    };
    let piece = |part: &LayPart| {
        let appliance = asset(UsedKind::Appliance, &part.appliance_id, None);
        appliance.or_else(|| asset(UsedKind::HoseType, &part.hose_type_id, None))
    };
    let valve_leg = |i: usize, leg| asset(UsedKind::HydrantValve, &part(i)?.hydrant_valve_id, Some(leg));
    let kept_hose = |i: usize, load: fn(&HydrantValveType) -> &Option<HoseLoad>| {
        let valve = inputs.hydrant_valves.get(&AssetId::new(part(i)?.hydrant_valve_id.as_deref()?).ok()?)?;
        let id = load(valve).as_ref()?.hose_type_id.clone();
        Some(Asset { of: DrillUse { kind: UsedKind::HoseType, id }, leg: None })
    };
    match of {
        CoefficientOf::HydrantBody => asset(UsedKind::Hydrant, &ask.source.hydrant_id, None),
        CoefficientOf::Hose(i) | CoefficientOf::Appliance(i) => piece(part(i)?),
        CoefficientOf::ValveThrough(i) => valve_leg(i, Leg::Through),
        CoefficientOf::ValveToPump(i) => valve_leg(i, Leg::ToPump),
        CoefficientOf::ValveFromPump(i) => valve_leg(i, Leg::FromPump),
        CoefficientOf::HoseToPump(i) => kept_hose(i, |valve| &valve.to_pump_hose),
        CoefficientOf::HoseFromPump(i) => kept_hose(i, |valve| &valve.from_pump_hose),
        CoefficientOf::Piece { part: i, branch, piece: p } => {
            piece(part(i)?.branches.as_ref()?.get(branch)?.parts.get(p)?)
        }
        CoefficientOf::SteppedGroup(_) => None,
    }
}
