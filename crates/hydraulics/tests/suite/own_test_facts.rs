//! A department's own tests of appliances, valve legs and pumpers: figures worked in their comments, refusals, and the laws they keep.

use longlay_hydraulics::finding::FindingCode;
use longlay_hydraulics::friction_test::{FrictionTest, NoCoefficient, TestedCoefficient, TwoGaugeReading};
use longlay_hydraulics::loss::PSI_PER_FOOT;
use longlay_hydraulics::loss_test::LossTest;
use longlay_hydraulics::pump_test::{NoPumpCurve, PumpReading};
use longlay_hydraulics::pumper::PumpCurve;
use longlay_hydraulics::quantity::{ApplianceCoefficient, IntakePressure, Length, MeterUncertainty, Rise};
use longlay_hydraulics::spread::Spread;
use proptest::prelude::*;

use crate::common::{close, gpm, psi};

fn two_gauges(readings: &[(f64, f64, f64)]) -> Vec<TwoGaugeReading> {
    let reading = |&(flow, up, down)| TwoGaugeReading { flow: gpm(flow), upstream: psi(up), downstream: psi(down) };
    readings.iter().map(reading).collect()
}

fn percent(percent: f64) -> MeterUncertainty {
    MeterUncertainty::from_percent(percent).unwrap()
}

fn loss(
    rise: f64,
    meter: f64,
    readings: &[(f64, f64, f64)],
) -> Result<TestedCoefficient<ApplianceCoefficient>, NoCoefficient> {
    let readings = two_gauges(readings);
    LossTest { rise: Rise::from_ft(rise).unwrap(), readings: &readings, meter: percent(meter) }.coefficient()
}

fn pump(readings: &[(f64, f64, f64)]) -> Result<PumpCurve, NoPumpCurve> {
    let reading = |&(flow, intake, discharge): &(f64, f64, f64)| PumpReading {
        flow: gpm(flow),
        intake: IntakePressure::from_psi(intake).unwrap(),
        discharge: psi(discharge),
    };
    PumpCurve::from_test(&readings.iter().map(reading).collect::<Vec<_>>())
}

fn points(curve: &PumpCurve) -> Vec<(f64, f64)> {
    curve.points().iter().map(|point| (point.flow.gpm(), point.net.psi())).collect()
}

#[test]
fn the_loss_of_a_valve_is_squared_and_the_high_flow_weighs_most() {
    // x = 25 and 100, y = 5 and 22: (125 + 2200)/(625 + 10000) = 2325/10625 = 0.218824.
    let found = loss(0.0, 2.0, &[(500.0, 65.0, 60.0), (1000.0, 72.0, 50.0)]).unwrap();
    close(found.coefficient.psi_per_100gpm2(), 2325.0 / 10625.0, 1e-12);
    assert_eq!(found.each, [0.2, 0.22]);
    // Gauges: 1.414214 x 125/10625 = 0.0166378; meter: 2 x 0.02 x 0.2188235 = 0.0087529; together 0.0187999, or 8.591 %.
    close(found.uncertainty, 0.018_799_9, 1e-6);
    close(found.relative_uncertainty, 0.085_914, 1e-5);
    assert!(!found.readings_too_small);
}

#[test]
fn a_loss_of_a_few_psi_says_little() {
    // √2/5 = 28 % by the gauges alone.
    assert!(loss(0.0, 2.0, &[(1000.0, 65.0, 60.0)]).unwrap().readings_too_small);
}

#[test]
fn readings_that_show_no_loss_of_an_appliance_are_refused_by_place() {
    assert_eq!(loss(0.0, 2.0, &[]), Err(NoCoefficient::NoReadings));
    let second = loss(0.0, 2.0, &[(500.0, 60.0, 50.0), (500.0, 60.0, 60.0)]);
    assert_eq!(second, Err(NoCoefficient::NoLoss { index: 1, loss_psi: 0.0 }));
    // 10 psi of fall would be all of it: 0.434 x 23.1 = 10.03.
    assert!(matches!(loss(23.1, 2.0, &[(500.0, 60.0, 50.0)]), Err(NoCoefficient::NoLoss { index: 0, .. })));
    // 1000 psi at 1 gpm is k of ten million.
    assert!(matches!(loss(0.0, 2.0, &[(1.0, 1000.0, 0.0)]), Err(NoCoefficient::NoAppliance(_))));
}

#[test]
fn a_loss_that_no_gauge_shows_is_none_and_its_share_stays_finite() {
    assert!(matches!(loss(0.0, 2.0, &[(500.0, 5e-324, 0.0)]), Err(NoCoefficient::NoLoss { .. })));
    for flow in [1.0, 50_000.0] {
        let found = loss(0.0, 50.0, &[(flow, 0.01, 0.0)]).unwrap();
        assert!(found.relative_uncertainty.is_finite() && found.uncertainty.is_finite(), "{found:?}");
    }
}

#[test]
fn a_pump_test_in_any_order_is_a_curve_of_net_pressure() {
    // 155 - 5, 215 - 10, and 140 over a vacuum of 5.
    let curve = pump(&[(1500.0, 5.0, 155.0), (750.0, 10.0, 250.0), (1600.0, -5.0, 140.0)]).unwrap();
    assert_eq!(points(&curve), [(750.0, 240.0), (1500.0, 150.0), (1600.0, 145.0)]);
}

#[test]
fn readings_that_are_no_pump_curve_are_refused_by_their_own_place() {
    assert_eq!(pump(&[]), Err(NoPumpCurve::NoReadings));
    assert_eq!(
        pump(&[(1000.0, 0.0, 150.0), (500.0, 0.0, 120.0)]),
        Err(NoPumpCurve::NetRising { index: 0 }),
        "the first reading flows more and adds more"
    );
    assert_eq!(pump(&[(500.0, 0.0, 150.0), (500.0, 0.0, 120.0)]), Err(NoPumpCurve::SameFlow { index: 1 }));
    assert!(matches!(pump(&[(500.0, 60.0, 150.0), (600.0, 60.0, 50.0)]), Err(NoPumpCurve::NoNet { index: 1, .. })));
}

#[test]
fn a_pumper_below_its_rating_is_found_by_the_largest_share() {
    // Rated 1000: 250 psi to 500 gpm, 200 at 700, 150 at 1000. 225 of 250 misses 10 %, 190 of 200 misses 5 %.
    let weak = pump(&[(500.0, 0.0, 225.0), (700.0, 0.0, 190.0), (1000.0, 0.0, 150.0)]).unwrap();
    let found = weak.below_rating(gpm(1000.0)).unwrap();
    assert_eq!(found.code, FindingCode::PumpBelowRating);
    close(found.value.unwrap(), 10.0, 1e-9);
    let sound = pump(&[(500.0, 0.0, 250.0), (700.0, 0.0, 200.0), (1000.0, 0.0, 150.0)]).unwrap();
    assert_eq!(sound.below_rating(gpm(1000.0)), None);
    let past = pump(&[(1001.0, 0.0, 20.0)]).unwrap();
    assert_eq!(past.below_rating(gpm(1000.0)), None, "past its rating nothing is promised");
}

proptest! {
    #[test]
    fn exact_readings_give_hose_and_appliance_back(
        c in 0.01..20.0_f64, feet in 50.0..1000.0_f64, rise in -100.0..100.0_f64,
        losses in prop::collection::vec(5.0..300.0_f64, 1..6)
    ) {
        let given = |per: f64| -> Vec<TwoGaugeReading> {
            let reading = |loss: &f64| {
                let flow = gpm((100.0 * (loss / (c * per)).sqrt()).clamp(1.0, 50_000.0));
                let lost = c * per * (flow.gpm() / 100.0).powi(2);
                TwoGaugeReading { flow, upstream: psi(100.0 + lost + PSI_PER_FOOT * rise), downstream: psi(100.0) }
            };
            losses.iter().map(reading).collect()
        };
        let (hose, appliance) = (given(feet / 100.0), given(1.0));
        let (rise, meter) = (Rise::from_ft(rise).unwrap(), percent(2.0));
        let found = FrictionTest { length: Length::from_ft(feet).unwrap(), rise, readings: &hose, meter }.coefficient();
        let ours = found.unwrap().coefficient.psi_per_100gpm2_100ft();
        prop_assert!((ours - c).abs() <= 1e-12 * c, "{} is not {}", ours, c);
        let found = LossTest { rise, readings: &appliance, meter }.coefficient().unwrap().coefficient.psi_per_100gpm2();
        prop_assert!((found - c).abs() <= 1e-12 * c, "{} is not {}", found, c);
    }

    #[test]
    fn a_worse_meter_never_narrows_what_a_test_says(
        flow in 100.0..3000.0_f64, lost in 0.01..400.0_f64, better in 0.1..50.0_f64, worse in 0.1..50.0_f64
    ) {
        let (better, worse) = (better.min(worse), better.max(worse));
        let spread = |meter| {
            let found = loss(0.0, meter, &[(flow, 100.0 + lost, 100.0)]).unwrap();
            Spread::even(found.relative_uncertainty)
        };
        let (narrow, wide) = (spread(better), spread(worse));
        prop_assert!(wide.below() >= narrow.below() && wide.above() >= narrow.above());
    }
}
