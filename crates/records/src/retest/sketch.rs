//! A hydrant's place on the list by no more of its records than it follows from: each page goes through a whole town, and keeps few of it.

use std::sync::Arc;

use chrono::NaiveDate;

use super::{Place, retest};
use crate::flow_test::FlowTest;
use crate::hydrant::Hydrant;
use crate::id::AssetId;
use crate::supply::{Evidence, GaugedTest};

/// A hydrant and its own tests that were not voided, as far as its place follows from them.
#[derive(Debug, Clone, PartialEq)]
pub struct Sketch(Evidence);

impl Sketch {
    /// Of a hydrant, and of tests that were gauged at it.
    pub fn new(hydrant: &Arc<Hydrant>, own: Vec<Arc<FlowTest>>) -> Self {
        let tests = own.into_iter().map(|test| GaugedTest { test, gauge: Arc::clone(hydrant) }).collect();
        Self(Evidence { hydrant: Hydrant::clone(hydrant), tests })
    }

    /// The hydrant.
    pub const fn hydrant_id(&self) -> &AssetId {
        &self.0.hydrant.id
    }

    /// Its place, as that of its whole [`retest`]; none where no test of its own gives a curve: then others may, and only its whole evidence tells.
    pub fn place(&self, today: NaiveDate) -> Option<Place> {
        let found = retest(&self.0, today);
        found.supply.is_some().then(|| found.place())
    }
}

#[cfg(test)]
mod tests {
    use chrono::DateTime;
    use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading};
    use longlay_hydraulics::quantity::{Diameter, OutletCoefficient, PitotPressure, PositiveFlow, Pressure};
    use proptest::collection::vec;
    use proptest::prelude::*;
    use uuid::Uuid;

    use super::*;
    use crate::flow_test::{SecondPoint, Voided};
    use crate::hydrant::{Elevation, HydrantOutlet, Location, OutletKind, Owner, Status};

    fn id(text: &str) -> AssetId {
        AssetId::new(text).unwrap()
    }

    fn flows() -> impl Strategy<Value = MeasuredFlow> {
        let reading = (1.0..60.0_f64).prop_map(|psi| PitotReading {
            diameter: Diameter::from_in(2.5).unwrap(),
            coefficient: OutletCoefficient::from_number(0.9).unwrap(),
            pitot: PitotPressure::from_psi(psi).unwrap(),
        });
        prop_oneof![
            (1.0..3000.0_f64).prop_map(|gpm| MeasuredFlow::Metered(PositiveFlow::from_gpm(gpm).unwrap())),
            vec(reading, 0..4).prop_map(MeasuredFlow::Pitot),
        ]
    }

    /// A test gauged at `H-1` or `H-2`.
    fn tests() -> impl Strategy<Value = FlowTest> {
        let psi = (0.0..120.0_f64, 0.0..1.1_f64, 0.0..1.0_f64);
        let rest = (any::<u128>(), 0..30_i32, 0..4_u8, 0..8_u8);
        (psi, flows(), proptest::option::of(flows()), rest).prop_map(
            |(psi, flow, second, (n, years, gauge, voided))| {
                let pressure = |share: f64| Pressure::from_psi(psi.0 * share.min(1.05)).unwrap();
                FlowTest {
                    id: Uuid::from_u128(n),
                    gauge_hydrant_id: id(if gauge == 0 { "H-2" } else { "H-1" }),
                    tested_on: format!("{}-11-25", 2027 - years).parse().unwrap(),
                    static_pressure: pressure(1.0),
                    residual_pressure: pressure(psi.1),
                    flow,
                    second_point: second.map(|flow| SecondPoint { residual_pressure: pressure(psi.2), flow }),
                    flow_hydrant_ids: vec![id("H-1")],
                    notes: Some("windy".to_owned()),
                    recorded_at: DateTime::UNIX_EPOCH,
                    voided: (voided == 0)
                        .then(|| Voided { reason: "gauge was broken".to_owned(), at: DateTime::UNIX_EPOCH }),
                }
            },
        )
    }

    fn hydrant(number: &str, in_service: bool) -> Hydrant {
        let outlet = HydrantOutlet {
            kind: OutletKind::Hose,
            diameter: Diameter::from_in(2.5).unwrap(),
            coefficient: OutletCoefficient::from_number(0.9).unwrap(),
        };
        Hydrant {
            id: id(number),
            location: Location::new(-30.0, 40.0).unwrap(),
            elevation: Some(Elevation::from_ft(100.0).unwrap()),
            outlets: vec![outlet],
            body_loss: None,
            main_id: Some("M-1".to_owned()),
            main_diameter: None,
            pressure_zone: None,
            owner: Owner::Private,
            potable: false,
            seasonal: true,
            status: if in_service { Status::InService } else { Status::OutOfService { reason: None } },
            description: None,
        }
    }

    proptest! {
        #[test]
        fn a_sketch_has_the_place_of_the_whole_evidence_or_none(tests in vec(tests(), 0..5), in_service: bool) {
            let today = "2026-11-25".parse().unwrap();
            let own = tests.iter().filter(|test| test.gauge_hydrant_id == id("H-1") && test.voided.is_none());
            let own = own.cloned().map(Arc::new).collect();
            let place = Sketch::new(&Arc::new(hydrant("H-1", in_service)), own).place(today);

            let gauged = |test: FlowTest| {
                let gauge = Arc::new(hydrant(test.gauge_hydrant_id.as_str(), true));
                GaugedTest { test: Arc::new(test), gauge }
            };
            let hydrant = hydrant("H-1", in_service);
            let whole = retest(&Evidence { hydrant, tests: tests.into_iter().map(gauged).collect() }, today);
            let by_its_own = whole.supply.as_ref().is_some_and(|supply| supply.borrowed_from.is_none());
            prop_assert_eq!(place, by_its_own.then(|| whole.place()));
        }
    }
}
