//! The pages of `/v1/retests`, which skip what does not fill them, against the plain way: every hydrant by its whole evidence, then sorted.

use chrono::{DateTime, Days, NaiveDate};
use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading};
use longlay_hydraulics::quantity::{Diameter, OutletCoefficient, PitotPressure, PositiveFlow, Pressure};
use longlay_records::author::Author;
use longlay_records::flow_test::{FlowTest, SecondPoint, Voided};
use longlay_records::hydrant::{Elevation, Hydrant, Location, Owner, Status};
use longlay_records::id::AssetId;
use longlay_records::retest::{Retest, Settles, retest};
use longlay_store::{ArrivingTest, Batch, Change, HydrantQuery, Import, Store, Terms};
use longlay_tests::{NOW, Service};
use serde_json::Value;
use uuid::Uuid;

/// Numbers that are the same every time, and in no order that matters here.
struct Draw(u64);

impl Draw {
    fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % end
    }

    fn one_in(&mut self, many: u64) -> bool {
        self.below(many) == 0
    }

    #[expect(clippy::cast_precision_loss, reason = "thousandths are far under 2^52")]
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.below(1001) as f64 / 1000.0
    }
}

fn hydrant(draw: &mut Draw, n: u64) -> Hydrant {
    let place = Location::new(-30.0 + draw.between(0.0, 0.01), 40.0 + draw.between(0.0, 0.01));
    Hydrant {
        id: id(n),
        location: place.unwrap(),
        elevation: (!draw.one_in(3)).then(|| Elevation::from_ft(draw.between(50.0, 150.0)).unwrap()),
        outlets: Vec::new(),
        body_loss: None,
        main_id: (!draw.one_in(4)).then(|| format!("M-{}", draw.below(20))),
        main_diameter: None,
        pressure_zone: draw.one_in(2).then(|| format!("zone {}", draw.below(2))),
        owner: Owner::Public,
        potable: true,
        seasonal: false,
        status: if draw.one_in(8) { Status::OutOfService { reason: None } } else { Status::InService },
        description: None,
    }
}

fn flow(draw: &mut Draw) -> MeasuredFlow {
    if draw.one_in(3) {
        return MeasuredFlow::Metered(PositiveFlow::from_gpm(draw.between(100.0, 1500.0)).unwrap());
    }
    let reading = |draw: &mut Draw| PitotReading {
        diameter: Diameter::from_in(2.5).unwrap(),
        coefficient: OutletCoefficient::from_number(0.9).unwrap(),
        pitot: PitotPressure::from_psi(draw.between(3.0, 40.0)).unwrap(),
    };
    MeasuredFlow::Pitot((0..=draw.below(3)).map(|_| reading(draw)).collect())
}

fn flow_test(draw: &mut Draw, n: u64, hydrants: u64) -> FlowTest {
    let still = draw.between(30.0, 100.0);
    let left = if draw.one_in(9) { 1.0 } else { draw.between(0.2, 0.99) };
    let psi = |share: f64| Pressure::from_psi(still * share).unwrap();
    let today: NaiveDate = NOW[..10].parse().unwrap();
    FlowTest {
        id: Uuid::from_u128(u128::from(n)),
        gauge_hydrant_id: id(draw.below(hydrants)),
        tested_on: today - Days::new(draw.below(9000)),
        static_pressure: psi(1.0),
        residual_pressure: psi(left),
        flow: flow(draw),
        second_point: draw
            .one_in(5)
            .then(|| SecondPoint { residual_pressure: psi(draw.between(0.5, 1.0)), flow: flow(draw) }),
        flow_hydrant_ids: (0..draw.below(3)).map(|_| id(draw.below(hydrants))).collect(),
        notes: None,
        recorded_at: DateTime::UNIX_EPOCH,
        voided: draw.one_in(6).then(|| Voided { reason: "gauge was broken".to_owned(), at: DateTime::UNIX_EPOCH }),
    }
}

fn id(n: u64) -> AssetId {
    AssetId::new(format!("H-{n}")).unwrap()
}

async fn bring_in(store: &Store, batch: Batch) {
    let change = Change::by(Author::command_line(), NOW.parse().unwrap());
    let import = Import { batch: &batch, terms: Terms::default(), sha256: [0; 32], looked: None };
    store.import(&import, &change, &|_| Vec::new(), &|_| {}).await.unwrap();
}

/// A hydrant, and the width that a test of it would settle.
type Told = (String, Option<f64>);

fn ids(list: &[Told]) -> Vec<&str> {
    list.iter().map(|(id, _)| id.as_str()).collect()
}

async fn plainly(store: &Store) -> Vec<Told> {
    let all = store.evidence_page(&HydrantQuery::default(), None, 10_000).await.unwrap();
    let mut list: Vec<_> = all.iter().map(|evidence| retest(evidence, NOW[..10].parse().unwrap())).collect();
    list.sort_by_key(Retest::place);
    let told = |found: &Retest| match found.settles {
        Settles::Width { gpm } => Some(gpm),
        Settles::Everything | Settles::HighEnd { .. } => None,
    };
    list.iter().map(|found| (found.hydrant_id.to_string(), told(found))).collect()
}

fn read(list: &[Value]) -> Vec<Told> {
    let one = |item: &Value| (item["hydrant_id"].as_str().unwrap().to_owned(), item["settles_gpm"].as_f64());
    list.iter().map(one).collect()
}

#[tokio::test]
async fn the_pages_are_the_list_of_the_plain_way_over_drawn_records() {
    for (seed, hydrants, tests) in [(1, 60, 20), (2, 60, 200), (3, 2400, 1500)] {
        let (service, mut draw) = (Service::start().await, Draw(seed));
        bring_in(&service.store, Batch::Hydrants((0..hydrants).map(|n| hydrant(&mut draw, n)).collect())).await;
        let tests = (0..tests).map(|n| ArrivingTest { test: flow_test(&mut draw, n, hydrants), is_named: true });
        bring_in(&service.store, Batch::FlowTests(tests.collect())).await;

        let expected = plainly(&service.store).await;
        assert_eq!(expected.len(), usize::try_from(hydrants).unwrap());
        for limit in if hydrants > 100 { [1000, 600] } else { [7, 60] } {
            let list = service.all(&format!("/v1/retests?limit={limit}")).await;
            let list = read(&list);
            assert_eq!(ids(&list), ids(&expected), "seed {seed}, {limit} a page");
            // What reads the JSON here may be off by the last bit.
            let same =
                |(a, b): (&Told, &Told)| a.1.zip(b.1).map_or(a.1 == b.1, |(a, b)| (a - b).abs() < 1e-9 * b.max(1.0));
            assert!(list.iter().zip(&expected).all(same), "seed {seed}, {limit} a page");
        }
    }
}
