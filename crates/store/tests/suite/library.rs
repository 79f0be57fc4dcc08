use longlay_hydraulics::loss::ApplianceLoss;
use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, Origin};
use longlay_store::{RecordKind, StoreError};

use crate::support::{appliance, change, fresh, hose_type, id, k, psi, valve};

#[tokio::test]
async fn the_shipped_hose_carries_the_handbook_coefficients_and_no_marking() {
    let db = fresh().await;
    let handbook = [
        ("std-0-75in", 0.75, 1100.0),
        ("std-1-25in", 1.25, 80.0),
        ("std-1-5in", 1.5, 24.0),
        ("std-1-75in", 1.75, 15.5),
        ("std-1in", 1.0, 150.0),
        ("std-2-5in", 2.5, 2.0),
        ("std-2in", 2.0, 8.0),
        ("std-3-5in", 3.5, 0.34),
        ("std-3in", 3.0, 0.8),
        ("std-3in-3in-couplings", 3.0, 0.677),
        ("std-4-5in", 4.5, 0.1),
        ("std-4in", 4.0, 0.2),
        ("std-5in", 5.0, 0.08),
        ("std-6in", 6.0, 0.05),
    ];
    let shipped = db.store.hose_types(None, 1000).await.unwrap();
    assert_eq!(shipped.len(), handbook.len());
    for (hose, (name, inches, coefficient)) in shipped.iter().zip(handbook) {
        assert_eq!(hose.id, id(name));
        assert_eq!(hose.diameter.inches(), inches, "{name}");
        assert_eq!(hose.coefficient.psi_per_100gpm2_100ft(), coefficient, "{name}");
        assert_eq!((hose.max_operating, hose.service_test), (None, None), "{name}: a rating is read off the hose");
        assert_eq!(hose.origin, Origin::Library);
        assert!(!hose.source.is_empty());
        if let Some(range) = hose.coefficient_range {
            assert!(range.low <= coefficient && coefficient <= range.high, "{name}");
        }
    }
}

#[tokio::test]
async fn the_shipped_appliances_and_valve_are_the_handbook_s() {
    let db = fresh().await;
    let step = |fixed, from| ApplianceLoss::Step {
        fixed: psi(fixed),
        at_or_above: longlay_hydraulics::quantity::Flow::from_gpm(from).unwrap(),
    };
    let handbook = [
        ("std-intake-valve", ApplianceLoss::Squared(k(0.05))),
        ("std-manifold", step(10.0, 350.0)),
        ("std-master-stream", step(25.0, 0.0)),
        ("std-siamese", step(10.0, 350.0)),
        ("std-water-thief", step(10.0, 350.0)),
        ("std-wye", step(10.0, 350.0)),
    ];
    let shipped = db.store.appliances(None, 1000).await.unwrap();
    let losses: Vec<_> = shipped.iter().map(|found| (found.id.as_str(), found.loss)).collect();
    assert_eq!(losses, handbook);
    assert!(shipped.iter().all(|found| found.origin == Origin::Library && found.max_operating.is_none()));

    let valves = db.store.hydrant_valves(None, 1000).await.unwrap();
    assert_eq!(valves.len(), 1);
    let four_way = &valves[0];
    assert_eq!(four_way.id, id("std-four-way"));
    assert_eq!((four_way.through, four_way.to_pump, four_way.from_pump), (k(0.22), k(0.1), k(0.05)));
    assert_eq!(four_way.through_range.map(|range| (range.low, range.high)), Some((0.04, 0.23)));
    assert_eq!(four_way.origin, Origin::Library);
}

#[tokio::test]
async fn every_shipped_source_is_a_key_of_the_bibliography() {
    let db = fresh().await;
    let mut sources: Vec<String> = Vec::new();
    sources.extend(db.store.hose_types(None, 1000).await.unwrap().into_iter().map(|row| row.source));
    sources.extend(db.store.appliances(None, 1000).await.unwrap().into_iter().map(|row| row.source));
    sources.extend(db.store.hydrant_valves(None, 1000).await.unwrap().into_iter().map(|row| row.source));
    assert_eq!(sources.len(), 21);
    for source in sources {
        assert!(longlay_hydraulics::bibliography::work(&source).is_some(), "{source}");
    }
}

#[tokio::test]
async fn a_library_row_is_neither_replaced_nor_retired() {
    let db = fresh().await;
    let read_only = |kind, id: &str| StoreError::ReadOnly { kind, id: id.to_owned() };

    let refused = read_only(RecordKind::HoseType, "std-5in");
    let before = db.store.hose_type(&id("std-5in")).await.unwrap();
    let row = HoseType { id: id("std-5in"), ..hose_type("x") };
    assert_eq!(db.store.put_hose_type(&row, &change()).await, Err(refused.clone()));
    assert_eq!(db.store.retire_hose_type(&id("std-5in"), &change()).await, Err(refused));
    assert_eq!(db.store.hose_type(&id("std-5in")).await, Ok(before));

    let refused = read_only(RecordKind::Appliance, "std-wye");
    let row = ApplianceType { id: id("std-wye"), ..appliance("x") };
    assert_eq!(db.store.put_appliance(&row, &change()).await, Err(refused.clone()));
    assert_eq!(db.store.retire_appliance(&id("std-wye"), &change()).await, Err(refused));

    let refused = read_only(RecordKind::HydrantValve, "std-four-way");
    let row = HydrantValveType { id: id("std-four-way"), ..valve("x") };
    assert_eq!(db.store.put_hydrant_valve(&row, &change()).await, Err(refused.clone()));
    assert_eq!(db.store.retire_hydrant_valve(&id("std-four-way"), &change()).await, Err(refused));
}
