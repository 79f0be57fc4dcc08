use longlay_hydraulics::pumper::PumpPoint;
use longlay_hydraulics::quantity::{Diameter, OutletCoefficient, PositiveFlow};
use longlay_records::equipment::Pumper;
use longlay_records::flow_test::FlowTest;
use longlay_records::hydrant::{Hydrant, HydrantOutlet, Location, OutletKind, Status};
use longlay_records::id::AssetId;
use longlay_store::{Bbox, HydrantQuery, Put, Store};

use crate::support::{
    change, day, flow_test, fresh, full_hydrant, hydrant, id, load, pitot, psi, pumper, test_id, voided,
};

async fn numbers(store: &Store, query: &HydrantQuery) -> Vec<String> {
    store.hydrants(query, None, 1000).await.unwrap().iter().map(|found| found.id.to_string()).collect()
}

#[tokio::test]
async fn a_hydrant_comes_back_as_it_was_put() {
    let db = fresh().await;
    for put in [hydrant("H-1"), full_hydrant("H-2")] {
        assert_eq!(db.store.put_hydrant(&put, &change()).await, Ok(Put::Created(1)));
        assert_eq!(db.store.hydrant(&put.id).await, Ok(Some(put)));
    }
    assert_eq!(db.store.hydrant(&id("H-3")).await, Ok(None));
}

#[tokio::test]
async fn a_put_replaces_the_whole_hydrant_with_its_outlets() {
    let db = fresh().await;
    db.store.put_hydrant(&full_hydrant("H-1"), &change()).await.unwrap();
    assert_eq!(db.store.put_hydrant(&hydrant("H-1"), &change()).await, Ok(Put::Replaced(2)));
    assert_eq!(db.store.hydrant(&id("H-1")).await, Ok(Some(hydrant("H-1"))));
}

#[tokio::test]
async fn numbers_come_back_to_the_last_bit_in_their_order() {
    let db = fresh().await;
    let awkward = [0.1 + 0.2, 1.0 / 3.0, 0.7 + 0.1, 2.0_f64.sqrt() / 2.0, 0.9_f64.next_up()];
    let outlets = awkward.map(|number| HydrantOutlet {
        kind: OutletKind::Hose,
        diameter: Diameter::from_in(2.5 + number / 1e4).unwrap(),
        coefficient: OutletCoefficient::from_number(number).unwrap(),
    });
    let put = Hydrant { outlets: outlets.to_vec(), ..hydrant("H-1") };
    db.store.put_hydrant(&put, &change()).await.unwrap();
    assert_eq!(db.store.hydrant(&put.id).await, Ok(Some(put.clone())));

    let readings = awkward.map(|number| (2.5, number, 18.0 + number * 123.456_789_012_345));
    let pumper = Pumper {
        hose: awkward.map(|number| load("std-5in", 100.0 + number)).to_vec(),
        points: awkward
            .map(|number| PumpPoint { flow: PositiveFlow::from_gpm(number * 1e3).unwrap(), net: psi(150.0 + number) })
            .to_vec(),
        ..pumper("E-1")
    };
    db.store.put_pumper(&pumper, &change()).await.unwrap();
    assert_eq!(db.store.pumper(&pumper.id).await, Ok(Some(pumper)));

    let test = FlowTest { flow: pitot(&readings), ..flow_test(1, "H-1") };
    db.store.add_flow_test(&test, &change()).await.unwrap();
    assert_eq!(db.store.flow_test(&put.id, test.id).await, Ok(Some(test)));
}

#[tokio::test]
async fn every_write_raises_the_version() {
    let db = fresh().await;
    for _ in 0..2 {
        db.store.put_hydrant(&hydrant("H-1"), &change()).await.unwrap();
    }
    db.store.retire_hydrant(&id("H-1"), &change()).await.unwrap();
    let version: i64 = sqlx::query_scalar("SELECT version FROM hydrants").fetch_one(&mut db.raw().await).await.unwrap();
    assert_eq!(version, 3);
}

#[tokio::test]
async fn a_retired_hydrant_is_hidden_until_it_is_put_again() {
    let db = fresh().await;
    db.store.put_hydrant(&full_hydrant("H-1"), &change()).await.unwrap();
    assert_eq!(db.store.retire_hydrant(&id("H-1"), &change()).await, Ok(true));
    assert_eq!(db.store.retire_hydrant(&id("H-1"), &change()).await, Ok(false));
    assert_eq!(db.store.retire_hydrant(&id("H-9"), &change()).await, Ok(false));
    assert_eq!(db.store.hydrant(&id("H-1")).await, Ok(None));
    assert!(numbers(&db.store, &HydrantQuery::default()).await.is_empty());

    assert_eq!(db.store.put_hydrant(&full_hydrant("H-1"), &change()).await, Ok(Put::Created(3)));
    assert_eq!(db.store.hydrant(&id("H-1")).await, Ok(Some(full_hydrant("H-1"))));
}

#[tokio::test]
async fn the_union_of_the_pages_is_the_set() {
    let db = fresh().await;
    let mut all: Vec<Hydrant> = (0..23).map(|n| full_hydrant(&format!("H-{n}"))).collect();
    all.extend([hydrant("a"), hydrant("_"), hydrant("-"), hydrant("Z"), hydrant("0")]);
    for one in &all {
        db.store.put_hydrant(one, &change()).await.unwrap();
    }
    all.sort_by(|a, b| a.id.cmp(&b.id));
    for limit in [1, 4, 28, 1000] {
        let mut found: Vec<Hydrant> = Vec::new();
        loop {
            let after: Option<AssetId> = found.last().map(|last| last.id.clone());
            let page = db.store.hydrants(&HydrantQuery::default(), after.as_ref(), limit).await.unwrap();
            assert!(page.len() <= limit as usize);
            if page.is_empty() {
                break;
            }
            found.extend(page);
        }
        assert_eq!(found, all, "pages of {limit}");
    }
}

#[tokio::test]
async fn a_box_finds_what_stands_in_it_across_the_antimeridian_too() {
    let db = fresh().await;
    for (number, lon, lat) in [("E", 179.5, 10.0), ("W", -179.5, 10.0), ("far", 0.0, 10.0), ("north", 179.5, 60.0)] {
        let location = Location::new(lon, lat).unwrap();
        db.store.put_hydrant(&Hydrant { location, ..hydrant(number) }, &change()).await.unwrap();
    }
    let inside = |west, south, east, north| HydrantQuery {
        bbox: Some(Bbox { west, south, east, north }),
        ..HydrantQuery::default()
    };
    assert_eq!(numbers(&db.store, &inside(179.0, 0.0, -179.0, 20.0)).await, ["E", "W"]);
    assert_eq!(numbers(&db.store, &inside(-179.5, 0.0, 0.0, 10.0)).await, ["W", "far"], "edges are inside");
    assert_eq!(numbers(&db.store, &inside(-180.0, -90.0, 180.0, 90.0)).await, ["E", "W", "far", "north"]);
    assert!(numbers(&db.store, &inside(-10.0, 20.0, 10.0, 30.0)).await.is_empty());
    for edge in 0..4 {
        let mut edges = [-180.0, -90.0, 180.0, 90.0];
        edges[edge] = f64::NAN;
        let [west, south, east, north] = edges;
        let found = numbers(&db.store, &inside(west, south, east, north)).await;
        assert!(found.is_empty(), "an edge that is no number must not find {found:?}");
    }
}

#[tokio::test]
async fn service_and_age_of_the_newest_own_test_filter() {
    let db = fresh().await;
    let out = Hydrant { status: Status::OutOfService { reason: None }, ..hydrant("out") };
    for one in [hydrant("new"), hydrant("never"), hydrant("old"), hydrant("voided"), out] {
        db.store.put_hydrant(&one, &change()).await.unwrap();
    }
    for (n, gauge, tested_on) in [
        (1, "new", "2020-01-01"),
        (2, "new", "2026-06-01"),
        (3, "old", "2026-05-31"),
        (4, "voided", "2020-01-01"),
        (5, "voided", "2026-09-01"),
    ] {
        let mut test = flow_test(n, gauge);
        test.tested_on = day(tested_on);
        // It flowed in every test, and was gauged in none.
        test.flow_hydrant_ids = vec![id("never")];
        db.store.add_flow_test(&test, &change()).await.unwrap();
    }
    db.store.void_flow_test(&id("voided"), test_id(5), &voided(), &change()).await.unwrap();

    let tested_before = HydrantQuery { tested_before: Some(day("2026-06-01")), ..HydrantQuery::default() };
    assert_eq!(numbers(&db.store, &tested_before).await, ["never", "old", "out", "voided"]);
    let in_service = |flag| HydrantQuery { in_service: Some(flag), ..HydrantQuery::default() };
    assert_eq!(numbers(&db.store, &in_service(false)).await, ["out"]);
    assert_eq!(numbers(&db.store, &in_service(true)).await, ["never", "new", "old", "voided"]);
    let both = HydrantQuery { in_service: Some(true), ..tested_before };
    assert_eq!(numbers(&db.store, &both).await, ["never", "old", "voided"]);
}
