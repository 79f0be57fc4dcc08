//! The ground that coverage is reckoned over: kept as it came, replaced whole or one by one, and read in one state.

use longlay_hydraulics::needed_flow::{BuildingType, FireCode, FireCodeEdition, IsoEdition, Sprinklers};
use longlay_hydraulics::quantity::{Area, PositiveFlow, Separation};
use longlay_records::demand::{DemandPoint, Need};
use longlay_records::district::District;
use longlay_records::hydrant::{Elevation, Location};
use longlay_records::shape::Shape;
use longlay_records::street::{Barrier, Street};
use longlay_records::terrain::ElevationGrid;
use longlay_store::{
    Batch, Condition, GridSummary, Import, ImportRecorded, Imported, NetworkRecorded, Notice, Put, Recorded, Store,
    StoreError, StreetNetwork, Terms,
};

use crate::support::{change, fresh, hydrant, id, now};

fn at(lon: f64, lat: f64) -> Location {
    Location::new(lon, lat).unwrap()
}

fn bare(number: &str) -> DemandPoint {
    DemandPoint { id: id(number), location: at(-30.01, 40.02), ground: None, name: None, address: None, need: None }
}

/// One of each sort of need, and everything else known.
fn points() -> Vec<DemandPoint> {
    let given = Need::Given { flow: PositiveFlow::from_gpm(1500.5).unwrap(), source: Some("survey".to_owned()) };
    let separation = Separation::from_ft(25.0).unwrap();
    let dwelling = Need::IsoDwelling { edition: IsoEdition::From2012, separation };
    let building = Need::FireCode(FireCode {
        edition: FireCodeEdition::Before2015,
        building_type: BuildingType::TypeVB,
        area: Area::from_sq_ft(4200.0).unwrap(),
        dwelling: false,
        sprinklers: Sprinklers::Residential,
    });
    let full = |number: &str, need: Need| DemandPoint {
        ground: Elevation::from_ft(-12.5).ok(),
        name: Some("Mill \"school\"".to_owned()),
        address: Some("12 Quay Lane".to_owned()),
        need: Some(need),
        ..bare(number)
    };
    vec![bare("B-1"), full("B-2", given), full("B-3", dwelling), full("B-4", building)]
}

fn street(street_id: &str, barrier: Option<Barrier>) -> Street {
    let line = vec![at(-30.0, 40.0), at(-30.000_000_1, 40.01), at(-30.02, 40.03)];
    Street { id: street_id.to_owned(), name: Some("Quay Lane".to_owned()), line, from_level: 0, to_level: -1, barrier }
}

/// Records that come with the program.
async fn shipped() -> u64 {
    fresh().await.store.read_everything().await.unwrap()
}

async fn put_streets(store: &Store, streets: &[Street]) -> Option<StreetNetwork> {
    let network = StreetNetwork::of(streets, [0xab; 32], now()).unwrap();
    match store.replace_streets(streets, &network, &change(), &|_| Vec::new()).await.unwrap() {
        NetworkRecorded::Now(replaced) => replaced,
        NetworkRecorded::Before(answer) => panic!("{answer:?}"),
    }
}

async fn import(store: &Store, points: Vec<DemandPoint>) -> Imported {
    let batch = Batch::DemandPoints(points);
    let looked = store.try_import(&batch, Terms::default(), &|_| {}).await.unwrap();
    let import = Import { batch: &batch, terms: Terms::default(), sha256: [0xab; 32], looked: Some(&looked) };
    let ImportRecorded::Now(imported) = store.import(&import, &change(), &|_| Vec::new(), &|_| {}).await.unwrap()
    else {
        panic!("it was not made before")
    };
    imported
}

#[tokio::test]
async fn demand_points_are_kept_as_they_are_one_by_one_and_by_file() {
    let one_by_one = fresh().await;
    for point in points() {
        assert_eq!(one_by_one.store.put_demand_point(&point, &change()).await.unwrap(), Put::Created(1));
    }
    let by_file = fresh().await;
    assert_eq!(import(&by_file.store, points()).await, Imported { created: 4, ..Imported::default() });
    assert_eq!(import(&by_file.store, points()).await, Imported { unchanged: 4, ..Imported::default() });
    for store in [&one_by_one.store, &by_file.store] {
        assert_eq!(store.demand_points(None, 10).await.unwrap(), points());
        assert_eq!(store.demand_points(Some(&id("B-2")), 1).await.unwrap(), points()[2..3]);
        assert_eq!(store.versioned_demand_point(&id("B-4")).await.unwrap().unwrap().read, points()[3]);
        assert_eq!(store.coverage_ground().await.unwrap().demand_points, points());
        assert_eq!(store.read_everything().await.unwrap(), shipped().await + 4);
    }
}

#[tokio::test]
async fn a_demand_point_is_written_on_condition_retired_and_brought_back() {
    let db = fresh().await;
    db.store.put_demand_point(&points()[1], &change()).await.unwrap();
    let refused = db.store.put_demand_point(&bare("B-2"), &change().on(Condition::Version(7))).await.unwrap_err();
    assert!(matches!(refused, StoreError::ConditionFailed { version: Some(1), .. }), "{refused:?}");
    assert!(db.store.retire_demand_point(&id("B-2"), &change()).await.unwrap());
    assert!(!db.store.retire_demand_point(&id("B-2"), &change()).await.unwrap());
    assert_eq!(db.store.demand_points(None, 10).await.unwrap(), []);
    let back = import(&db.store, vec![bare("B-2")]).await;
    assert_eq!(back.created, 1);
    assert_eq!(
        back.notices,
        [(0, Notice::ReturnsFromRetirement), (0, Notice::Empties(vec!["need", "elevation_ft", "name", "address"]))]
    );
    assert_eq!(db.store.versioned_demand_point(&id("B-2")).await.unwrap().unwrap().version, 3);
}

#[tokio::test]
async fn what_lies_far_from_the_hydrants_is_told() {
    let db = fresh().await;
    for number in ["H-1", "H-2", "H-3"] {
        db.store.put_hydrant(&hydrant(number), &change()).await.unwrap();
    }
    let near = hydrant("H-1").location;
    let exchanged = DemandPoint { location: at(near.lat(), near.lon().max(-89.0)), ..bare("B-2") };
    let told = import(&db.store, vec![DemandPoint { location: near, ..bare("B-1") }, exchanged]).await.notices;
    assert!(matches!(told[..], [(1, Notice::FarFromOthers(_))]), "{told:?}");
    let mut far = street("S-2", None);
    far.line[1] = at(near.lon(), near.lat() - 3.0);
    let close = Street { line: vec![near, at(near.lon(), near.lat() - 0.01)], ..street("S-1", None) };
    far.line[0] = near;
    let looked = db.store.look_at_streets(&[close, far], [0; 32], now()).await.unwrap().unwrap();
    assert_eq!(looked.far.iter().map(|(i, _)| *i).collect::<Vec<_>>(), [1]);
}

#[tokio::test]
async fn a_network_stands_in_place_of_all_the_streets_there_were() {
    let db = fresh().await;
    assert_eq!(db.store.street_network().await.unwrap(), None);
    // Longer than one statement takes.
    let first: Vec<_> = (0..1234).map(|n| street(&format!("S-{n:04}"), None)).collect();
    assert_eq!(put_streets(&db.store, &first).await, None);
    assert_eq!(db.store.coverage_ground().await.unwrap().streets, first);
    let second =
        vec![street("urn:b", Some(Barrier::Wall)), street("urn:{a} 1", Some(Barrier::Railway)), street("x", None)];
    let replaced = put_streets(&db.store, &second).await.unwrap();
    assert_eq!((replaced.streets, replaced.places), (1234, 3 * 1234));
    let ground = db.store.coverage_ground().await.unwrap();
    assert_eq!(ground.streets, second, "by ascending id");
    let network = ground.network.unwrap();
    assert_eq!(Some(&network), db.store.street_network().await.unwrap().as_ref());
    assert_eq!(Some(network.clone()), StreetNetwork::of(&second, [0xab; 32], now()));
    assert_eq!((network.streets, network.off_ground), (3, 3));
    assert_eq!(network.barriers.map(|(_, count)| count), [1, 0, 0, 1]);
    assert_eq!((network.bbox.west, network.bbox.north), (-30.02, 40.03));
    let last = db.store.audit(0, 100).await.unwrap().pop().unwrap();
    assert_eq!((last.action.as_str(), last.kind.as_str()), ("import", "street_network"));
    let said = format!(r#"{{"sha256":"{}","streets":3,"replaced":1234}}"#, "ab".repeat(32));
    assert_eq!(last.detail, Some(said));
    assert_eq!(db.store.read_everything().await.unwrap(), shipped().await + 3);
}

#[tokio::test]
async fn districts_are_kept_with_their_holes() {
    let db = fresh().await;
    let ring = |from: f64, to: f64| vec![at(from, from), at(to, from), at(to, to), at(from, to), at(from, from)];
    let shape = Shape::new(vec![vec![ring(0.0, 10.0), ring(3.0, 7.0)], vec![ring(4.0, 5.0)]]).unwrap();
    let district = District { id: id("north"), name: Some("North".to_owned()), shape };
    assert_eq!(db.store.put_district(&district, &change()).await.unwrap(), Put::Created(1));
    let found = db.store.versioned_district(&id("north")).await.unwrap().unwrap();
    assert_eq!((found.version, &found.read), (1, &district));
    assert_eq!(db.store.districts(None, 10).await.unwrap(), std::slice::from_ref(&district));
    assert_eq!(db.store.coverage_ground().await.unwrap().districts, std::slice::from_ref(&district));
    assert!(db.store.retire_district(&id("north"), &change()).await.unwrap());
    assert_eq!(db.store.districts(None, 10).await.unwrap(), []);
    assert_eq!(db.store.put_district(&district, &change()).await.unwrap(), Put::Created(3));
}

#[tokio::test]
async fn a_grid_of_heights_comes_back_with_what_is_not_known() {
    let db = fresh().await;
    assert_eq!(db.store.elevation_grid_summary().await.unwrap(), None);
    let heights = [Some(-12.5), None, Some(612.25), Some(0.0)].map(|ft| ft.map(|ft| Elevation::from_ft(ft).unwrap()));
    let grid = ElevationGrid::new(at(-30.0, 40.0), 0.001, 2, 2, heights).unwrap();
    let summary = GridSummary::of(&grid, [7; 32], now());
    for _ in 0..2 {
        assert_eq!(db.store.replace_elevation_grid(&grid, &summary, &change()).await.unwrap(), Recorded::Now);
    }
    assert_eq!(db.store.elevation_grid_summary().await.unwrap(), Some(summary.clone()));
    assert_eq!((summary.known, summary.columns, summary.rows), (3, 2, 2));
    assert_eq!(db.store.coverage_ground().await.unwrap().heights, Some(grid));
    assert_eq!(db.store.read_everything().await.unwrap(), shipped().await + 1);
}
