use longlay_hydraulics::loss::ApplianceLoss;
use longlay_hydraulics::quantity::Flow;
use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, LayProfile, Origin, Pumper, Range};
use longlay_store::{Put, RecordKind, StoreError};

use crate::support::{appliance, change, fresh, hose_type, id, lay_profile, load, psi, pumper, valve};

/// Put, get, replace, list, retire and put again: the same promise for every kind.
macro_rules! keeps {
    ($test:ident: $kind:ident $make:ident, $put:ident, $get:ident, $list:ident, $retire:ident, $second:expr) => {
        #[tokio::test]
        async fn $test() {
            let db = fresh().await;
            let shipped = db.store.$list(None, 1000).await.unwrap();
            let first = $make("b-1");
            assert_eq!(db.store.$put(&first, &change()).await, Ok(Put::Created(1)));
            assert_eq!(db.store.$get(&id("b-1")).await, Ok(Some(first.clone())));
            let second = $second;
            assert_ne!(first, second);
            assert_eq!(db.store.$put(&second, &change()).await, Ok(Put::Replaced(2)));
            assert_eq!(db.store.$get(&id("b-1")).await, Ok(Some(second.clone())));
            assert_eq!(db.store.$get(&id("b-2")).await, Ok(None));

            let mut all = shipped;
            all.push(second.clone());
            for other in ["a-1", "z", "B-1"] {
                db.store.$put(&$make(other), &change()).await.unwrap();
                all.push($make(other));
            }
            all.sort_by(|a, b| a.id.cmp(&b.id));
            let mut found: Vec<$kind> = Vec::new();
            loop {
                let after = found.last().map(|last: &$kind| last.id.clone());
                let page = db.store.$list(after.as_ref(), 2).await.unwrap();
                if page.is_empty() {
                    break;
                }
                found.extend(page);
            }
            assert_eq!(found, all);

            assert_eq!(db.store.$retire(&id("b-1"), &change()).await, Ok(true));
            assert_eq!(db.store.$retire(&id("b-1"), &change()).await, Ok(false));
            assert_eq!(db.store.$retire(&id("b-2"), &change()).await, Ok(false));
            assert_eq!(db.store.$get(&id("b-1")).await, Ok(None));
            assert_eq!(db.store.$list(None, 1000).await.unwrap().len(), all.len() - 1);
            assert_eq!(db.store.$put(&first, &change()).await, Ok(Put::Created(4)), "replaced, retired and back");
            assert_eq!(db.store.$get(&id("b-1")).await, Ok(Some(first)));
        }
    };
}

keeps!(hose_types_are_kept: HoseType hose_type, put_hose_type, hose_type, hose_types, retire_hose_type, HoseType {
    coefficient_range: Some(Range { low: 0.05, high: 0.08 }),
    max_operating: None,
    service_test: None,
    ..hose_type("b-1")
});

keeps!(appliances_are_kept: ApplianceType appliance, put_appliance, appliance, appliances, retire_appliance, ApplianceType {
    loss: ApplianceLoss::Step { fixed: psi(10.0), at_or_above: Flow::from_gpm(350.0).unwrap() },
    loss_range: Some(Range { low: 5.0, high: 25.0 }),
    max_operating: None,
    ..appliance("b-1")
});

keeps!(
    hydrant_valves_are_kept: HydrantValveType valve, put_hydrant_valve, hydrant_valve, hydrant_valves, retire_hydrant_valve,
    HydrantValveType {
        through_range: Some(Range { low: 0.04, high: 0.23 }),
        to_pump_hose: Some(load("std-5in", 25.0)),
        from_pump_hose: Some(load("std-4in", 15.0)),
        ..valve("b-1")
    }
);

keeps!(pumpers_are_kept: Pumper pumper, put_pumper, pumper, pumpers, retire_pumper, Pumper {
    intake_floor: None,
    max_discharge: None,
    points: Vec::new(),
    tank: None,
    hose: Vec::new(),
    ..pumper("b-1")
});

keeps!(
    lay_profiles_are_kept: LayProfile lay_profile, put_lay_profile, lay_profile, lay_profiles, retire_lay_profile, LayProfile {
        hydrant_valve_id: None,
        lines: 1,
        scene_appliance_ids: Vec::new(),
        scene_floor: None,
        main_floor: None,
        ..lay_profile("b-1")
    }
);

#[tokio::test]
async fn equipment_names_only_what_is_there() {
    let db = fresh().await;
    db.store.put_hose_type(&hose_type("gone"), &change()).await.unwrap();
    db.store.retire_hose_type(&id("gone"), &change()).await.unwrap();
    let unknown = |kind, id: &str| Err(StoreError::UnknownReferences(vec![(kind, id.to_owned())]));

    for missing in ["gone", "never"] {
        let row = HydrantValveType { from_pump_hose: Some(load(missing, 10.0)), ..valve("v") };
        assert_eq!(db.store.put_hydrant_valve(&row, &change()).await, unknown(RecordKind::HoseType, missing));
        let row = Pumper { hose: vec![load("std-5in", 10.0), load(missing, 10.0)], ..pumper("p") };
        assert_eq!(db.store.put_pumper(&row, &change()).await, unknown(RecordKind::HoseType, missing));
        let row = LayProfile { hose_type_id: id(missing), ..lay_profile("l") };
        assert_eq!(db.store.put_lay_profile(&row, &change()).await, unknown(RecordKind::HoseType, missing));
    }
    let row = LayProfile { hydrant_valve_id: Some(id("std-5in")), ..lay_profile("l") };
    assert_eq!(db.store.put_lay_profile(&row, &change()).await, unknown(RecordKind::HydrantValve, "std-5in"));
    let row = LayProfile { scene_appliance_ids: vec![id("std-wye"), id("std-wyre")], ..lay_profile("l") };
    assert_eq!(db.store.put_lay_profile(&row, &change()).await, unknown(RecordKind::Appliance, "std-wyre"));
    assert_eq!(db.store.lay_profile(&id("l")).await, Ok(None), "nothing of them was kept");
}

#[tokio::test]
async fn equipment_in_use_is_not_retired_until_its_users_are() {
    let db = fresh().await;
    db.store.put_hose_type(&hose_type("hose"), &change()).await.unwrap();
    db.store.put_appliance(&appliance("wye"), &change()).await.unwrap();
    let with_hose = HydrantValveType { to_pump_hose: Some(load("hose", 25.0)), ..valve("valve") };
    db.store.put_hydrant_valve(&with_hose, &change()).await.unwrap();
    db.store.put_pumper(&Pumper { hose: vec![load("hose", 800.0)], ..pumper("E-1") }, &change()).await.unwrap();
    let lay = LayProfile {
        hydrant_valve_id: Some(id("valve")),
        hose_type_id: id("hose"),
        scene_appliance_ids: vec![id("wye"), id("wye")],
        ..lay_profile("lay")
    };
    db.store.put_lay_profile(&lay, &change()).await.unwrap();

    let in_use = |kind, id: &str, used_by: &[&str]| {
        let used_by = used_by.iter().map(|&user| user.to_owned()).collect();
        Err(StoreError::InUse { kind, id: id.to_owned(), used_by })
    };
    assert_eq!(
        db.store.retire_hose_type(&id("hose"), &change()).await,
        in_use(RecordKind::HoseType, "hose", &["hydrant valve valve", "lay profile lay", "pumper E-1"])
    );
    assert_eq!(
        db.store.retire_hydrant_valve(&id("valve"), &change()).await,
        in_use(RecordKind::HydrantValve, "valve", &["lay profile lay"])
    );
    assert_eq!(
        db.store.retire_appliance(&id("wye"), &change()).await,
        in_use(RecordKind::Appliance, "wye", &["lay profile lay"])
    );
    assert_eq!(db.store.hose_type(&id("hose")).await, Ok(Some(hose_type("hose"))));

    assert_eq!(db.store.retire_lay_profile(&id("lay"), &change()).await, Ok(true));
    assert_eq!(db.store.retire_hydrant_valve(&id("valve"), &change()).await, Ok(true));
    assert_eq!(db.store.retire_pumper(&id("E-1"), &change()).await, Ok(true));
    assert_eq!(db.store.retire_hose_type(&id("hose"), &change()).await, Ok(true));
    assert_eq!(db.store.retire_appliance(&id("wye"), &change()).await, Ok(true));
}

#[tokio::test]
async fn what_a_department_puts_is_its_own() {
    let db = fresh().await;
    let claims_library = HoseType { origin: Origin::Library, ..hose_type("mine") };
    db.store.put_hose_type(&claims_library, &change()).await.unwrap();
    assert_eq!(db.store.hose_type(&id("mine")).await, Ok(Some(hose_type("mine"))));
}
