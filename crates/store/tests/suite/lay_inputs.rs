use std::collections::BTreeSet;

use longlay_records::equipment::{HydrantValveType, LayProfile};
use longlay_records::id::AssetId;
use longlay_records::supply::supply;
use longlay_store::{LayInputs, LayRefs};

use crate::support::{
    appliance, change, day, flow_test, fresh, hose_type, hydrant, id, lay_profile, load, pumper, valve,
};

fn set(ids: &[&str]) -> BTreeSet<AssetId> {
    ids.iter().map(|text| id(text)).collect()
}

fn keys<T>(map: &std::collections::BTreeMap<AssetId, T>) -> Vec<&str> {
    map.keys().map(AssetId::as_str).collect()
}

#[tokio::test]
async fn nothing_asked_is_nothing_loaded() {
    let db = fresh().await;
    assert_eq!(db.store.lay_inputs(&LayRefs::default(), day("2026-11-25")).await, Ok(LayInputs::default()));
}

#[tokio::test]
async fn what_the_profile_and_the_valves_refer_to_comes_along() {
    let db = fresh().await;
    for name in ["hose-a", "hose-b", "hose-c", "hose-d", "hose-e"] {
        db.store.put_hose_type(&hose_type(name), &change()).await.unwrap();
    }
    db.store.put_appliance(&appliance("manifold"), &change()).await.unwrap();
    let profile_s = HydrantValveType { to_pump_hose: Some(load("hose-b", 25.0)), ..valve("profile-s") };
    let asked = HydrantValveType { from_pump_hose: Some(load("hose-c", 25.0)), ..valve("asked") };
    for row in [&profile_s, &asked] {
        db.store.put_hydrant_valve(row, &change()).await.unwrap();
    }
    let lay = LayProfile {
        hydrant_valve_id: Some(id("profile-s")),
        hose_type_id: id("hose-a"),
        scene_appliance_ids: vec![id("manifold"), id("std-wye")],
        ..lay_profile("lay")
    };
    db.store.put_lay_profile(&lay, &change()).await.unwrap();
    db.store.put_pumper(&pumper("E-1"), &change()).await.unwrap();
    db.store.put_hydrant(&hydrant("H-1"), &change()).await.unwrap();
    db.store.add_flow_test(&flow_test(1, "H-1"), &change()).await.unwrap();

    let today = day("2026-11-25");
    let refs = LayRefs {
        hydrant_id: Some(id("H-1")),
        lay_profile_id: Some(id("lay")),
        hose_type_ids: set(&["hose-d"]),
        appliance_ids: set(&["std-siamese"]),
        hydrant_valve_ids: set(&["asked"]),
        pumper_ids: set(&["E-1"]),
    };
    let inputs = db.store.lay_inputs(&refs, today).await.unwrap();
    let supplied = inputs.supplied.unwrap();
    let evidence = db.store.evidence(&id("H-1")).await.unwrap().unwrap();
    assert_eq!((&*supplied.hydrant, evidence.tests.len()), (&evidence.hydrant, 1));
    assert_eq!(supplied.supply.as_deref(), supply(&evidence, today).as_ref());
    assert_eq!(inputs.lay_profile.as_deref(), Some(&lay));
    assert_eq!(keys(&inputs.hose_types), ["hose-a", "hose-b", "hose-c", "hose-d"]);
    assert_eq!(*inputs.hose_types[&id("hose-b")], hose_type("hose-b"));
    assert_eq!(keys(&inputs.appliances), ["manifold", "std-siamese", "std-wye"]);
    assert_eq!(inputs.hydrant_valves.values().map(|valve| &**valve).collect::<Vec<_>>(), [&asked, &profile_s]);
    assert_eq!(*inputs.pumpers[&id("E-1")], pumper("E-1"));
}

#[tokio::test]
async fn unknown_and_retired_ids_are_absent() {
    let db = fresh().await;
    db.store.put_pumper(&pumper("E-1"), &change()).await.unwrap();
    db.store.retire_pumper(&id("E-1"), &change()).await.unwrap();
    db.store.put_lay_profile(&lay_profile("lay"), &change()).await.unwrap();
    db.store.retire_lay_profile(&id("lay"), &change()).await.unwrap();
    let asked = LayRefs {
        hydrant_id: Some(id("H-9")),
        lay_profile_id: Some(id("lay")),
        hose_type_ids: set(&["std-wye"]),
        appliance_ids: set(&["std-5in"]),
        hydrant_valve_ids: set(&["none"]),
        pumper_ids: set(&["E-1"]),
    };
    assert_eq!(db.store.lay_inputs(&asked, day("2026-11-25")).await, Ok(LayInputs::default()));
}
