//! Which stored things a lay names.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use longlay_records::id::AssetId;
use longlay_store::{LayRefs, RecordKind};

use crate::faults::Faults;
use crate::lay::request::{LayCalculation, LayPart};

/// Everything named, to be loaded at once. What is no id at all names nothing, and is not found later.
pub(crate) fn refs(ask: &LayCalculation) -> LayRefs {
    let mut refs = LayRefs {
        hydrant_id: id(ask.source.hydrant_id.as_deref()),
        lay_profile_id: id(ask.lay_profile_id.as_deref()),
        ..LayRefs::default()
    };
    add(&mut refs.pumper_ids, ask.boost.as_ref().and_then(|boost| boost.pumper_id.as_deref()));
    for part in ask.parts.iter().flatten() {
        collect(part, &mut refs);
        let branches = part.branches.iter().flatten();
        branches.flat_map(|branch| &branch.parts).for_each(|part| collect(part, &mut refs));
    }
    refs
}

/// What one part names.
pub(crate) fn collect(part: &LayPart, refs: &mut LayRefs) {
    add(&mut refs.hose_type_ids, part.hose_type_id.as_deref());
    add(&mut refs.appliance_ids, part.appliance_id.as_deref());
    add(&mut refs.hydrant_valve_ids, part.hydrant_valve_id.as_deref());
    add(&mut refs.pumper_ids, part.pumper_id.as_deref());
}

pub(crate) fn id(text: Option<&str>) -> Option<AssetId> {
    AssetId::new(text?).ok()
}

pub(crate) fn add(set: &mut BTreeSet<AssetId>, text: Option<&str>) {
    set.extend(id(text));
}

/// What was loaded for an id; a fault where nothing was.
pub(super) fn find<'a, T>(
    kind: RecordKind,
    loaded: &'a BTreeMap<AssetId, Arc<T>>,
    text: Option<&str>,
    pointer: &str,
    faults: &mut Faults,
) -> Option<&'a T> {
    let text = text?;
    let found = id(Some(text)).and_then(|id| loaded.get(&id)).map(Arc::as_ref);
    if found.is_none() {
        faults.note(pointer, "unknown_reference", format!("there is no {kind} {text}"));
    }
    found
}
