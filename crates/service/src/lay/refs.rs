//! Which stored things a lay names.

use std::collections::{BTreeMap, BTreeSet};

use longlay_records::id::AssetId;
use longlay_store::LayRefs;

use crate::faults::Faults;
use crate::lay::request::{LayCalculation, LayPart};

/// Everything named, to be loaded at once. What is no id at all names nothing, and is not found later.
pub(super) fn refs(ask: &LayCalculation) -> LayRefs {
    let mut refs = LayRefs {
        hydrant_id: id(ask.source.hydrant_id.as_deref()),
        lay_profile_id: id(ask.lay_profile_id.as_deref()),
        ..LayRefs::default()
    };
    add(&mut refs.pumper_ids, ask.boost.as_ref().and_then(|boost| boost.pumper_id.as_deref()));
    for part in ask.parts.iter().flatten() {
        collect(part, &mut refs);
        if let LayPart::Parallel { branches } = part {
            branches.iter().flat_map(|branch| &branch.parts).for_each(|part| collect(part, &mut refs));
        }
    }
    refs
}

fn collect(part: &LayPart, refs: &mut LayRefs) {
    match part {
        LayPart::Hose { hose_type_id, .. } => add(&mut refs.hose_type_ids, hose_type_id.as_deref()),
        LayPart::Appliance { appliance_id, .. } => add(&mut refs.appliance_ids, appliance_id.as_deref()),
        LayPart::HydrantValve { hydrant_valve_id, .. } => {
            add(&mut refs.hydrant_valve_ids, hydrant_valve_id.as_deref());
        }
        LayPart::Pumper { pumper_id, .. } => add(&mut refs.pumper_ids, pumper_id.as_deref()),
        LayPart::Rise { .. } | LayPart::Parallel { .. } => {}
    }
}

fn id(text: Option<&str>) -> Option<AssetId> {
    AssetId::new(text?).ok()
}

fn add(set: &mut BTreeSet<AssetId>, text: Option<&str>) {
    set.extend(id(text));
}

/// What was loaded for an id; a fault where nothing was.
pub(super) fn find<'a, T>(
    loaded: &'a BTreeMap<AssetId, T>,
    text: Option<&str>,
    pointer: &str,
    faults: &mut Faults,
) -> Option<&'a T> {
    let text = text?;
    let found = id(Some(text)).and_then(|id| loaded.get(&id));
    if found.is_none() {
        faults.note(pointer, "unknown_reference", format!("there is no `{text}`"));
    }
    found
}
