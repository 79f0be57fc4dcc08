//! Relays, drafts and shuttles: what was worked by hand, and the laws.

use longlay_hydraulics::drafting::{Draft, DraftLimit, LiftVerdict};
use longlay_hydraulics::finding::FindingCode;
use longlay_hydraulics::lay::{Limit, Source};
use longlay_hydraulics::loss::Hose;
use longlay_hydraulics::pumper::{PumpCurve, Pumper};
use longlay_hydraulics::quantity::{
    Along, Altitude, ApplianceCoefficient, HoseCoefficient, Length, Lift, Miles, Minutes, Rise, Volume,
};
use longlay_hydraulics::relay::{
    Carried, ConstantDischarge, Ground, GroundError, GroundPoint, HeldBy, NoRelay, RelayAnswer, RelayError,
    RelayProblem, RelayPumpers, RelaySource, max_distance, pumpers_needed,
};
use longlay_hydraulics::shuttle::{AlternativeSupply, Haul, Shuttle, ShuttleError, ShuttleLimit, TankerRound};
use proptest::option::of;
use proptest::prelude::*;

use crate::common::{close, gpm, hose, main, marked, psi, pumper};

fn feet(feet: f64) -> Length {
    Length::from_ft(feet).unwrap()
}

fn rise(feet: f64) -> Rise {
    Rise::from_ft(feet).unwrap()
}

fn hydrant(source: Source) -> RelaySource {
    RelaySource::Hydrant { source, main_floor: psi(20.0) }
}

fn drafting(lift: f64, altitude: f64) -> Draft {
    Draft { lift: Lift::from_ft(lift).unwrap(), altitude: Altitude::from_ft(altitude).unwrap(), suction: None }
}

/// From a hydrant that holds 70 psi whatever flows, through hose of this coefficient marked 185 psi, over level ground.
fn level(c: f64, flow: f64, distance: f64) -> RelayProblem {
    RelayProblem {
        source: hydrant(main(70.0, 70.0, 2000.0)),
        hose: marked(hose(c, distance), 185.0),
        ground: Ground::even(rise(0.0), feet(distance)),
        flow: gpm(flow),
        scene_floor: psi(20.0),
        pumpers: RelayPumpers::Typical(pumper(1500.0, None)),
    }
}

fn over(problem: RelayProblem, points: &[(f64, f64)]) -> RelayProblem {
    let points: Vec<_> = points
        .iter()
        .map(|(at, height)| GroundPoint { at: Along::from_ft(*at).unwrap(), height: rise(*height) })
        .collect();
    let ground = Ground::profile(&points, problem.hose.length()).unwrap();
    RelayProblem { ground, ..problem }
}

fn farthest(problem: &RelayProblem) -> RelayAnswer {
    problem.maximum_distance().unwrap()
}

fn at_175(problem: &RelayProblem) -> RelayAnswer {
    problem.constant_pressure(ConstantDischarge::Customary).unwrap()
}

fn places(found: &RelayAnswer) -> Vec<f64> {
    found.pumpers.iter().map(|pumper| pumper.at_ft).collect()
}

#[track_caller]
fn carried(found: &RelayAnswer) -> Carried {
    found.outcome.unwrap()
}

#[track_caller]
fn all_close(actual: &[f64], expected: &[f64]) {
    assert_eq!(actual.len(), expected.len(), "{actual:?}");
    actual.iter().zip(expected).for_each(|(actual, expected)| close(*actual, *expected, 1e-6));
}

#[test]
fn on_level_ground_each_stands_where_the_one_before_has_20_psi_left() {
    // 0.08 at 1000 gpm: 8 psi for 100 ft; 185 less 20 reaches 2062.5 ft.
    let found = farthest(&level(0.08, 1000.0, 6000.0));
    all_close(&places(&found), &[0.0, 2062.5, 4125.0]);
    assert_eq!(carried(&found).pumpers_needed, 4);
    let last = found.pumpers[2];
    // 1875 ft take 150 psi: 170 of 185 are needed, and 15 psi more are 187.5 ft.
    all_close(&[last.intake_psi, last.discharge_psi, carried(&found).hose_to_spare_ft], &[20.0, 170.0, 187.5]);
    assert_eq!((found.pumpers[0].held_by, last.held_by), (HeldBy::HoseRating, HeldBy::Need));
    // The first adds 115 of the 250 - 50 x 250/300 it has at 1000 of 1500 gpm, the second 165.
    assert_eq!(carried(&found).weakest, 2);
    close(found.pumpers[1].spare_psi(), 250.0 - 50.0 * 250.0 / 300.0 - 165.0, 1e-6);
    close(carried(&found).most_gpm, 1000.0, 1e-6);
    assert_eq!(carried(&found).most_limited_by.unwrap().limit, Limit::HoseRating);
}

#[test]
fn a_climb_brings_them_nearer_by_what_it_takes() {
    let steep = RelayProblem { ground: Ground::even(rise(300.0), feet(3000.0)), ..level(0.08, 1000.0, 3000.0) };
    let found = farthest(&steep);
    // 0.08 and 0.0434 psi for each foot: 165 / 0.1234.
    all_close(&places(&found)[1..2], &[165.0 / 0.1234]);
    assert!(found.findings.iter().any(|finding| finding.code == FindingCode::EvenSlope));
}

#[test]
fn a_fall_takes_from_the_discharge_what_stands_on_the_hose_below() {
    let fall = RelayProblem { ground: Ground::even(rise(-300.0), feet(3000.0)), ..level(0.08, 1000.0, 3000.0) };
    let found = farthest(&fall);
    // With nothing flowing 185 psi may stand at the foot of the stretch; friction alone is paid from it.
    all_close(&places(&found), &[0.0, 2062.5]);
    close(found.pumpers[0].discharge_psi, 185.0 - 0.0434 * 2062.5, 1e-6);
}

#[test]
fn what_a_hill_takes_is_not_counted_on_from_behind_it() {
    let hill = over(level(0.08, 1000.0, 3000.0), &[(0.0, 0.0), (500.0, 300.0), (1000.0, 0.0), (3000.0, 0.0)]);
    // 0.6 ft for each foot: 0.2604 and 0.08 psi.
    all_close(&places(&farthest(&hill))[1..2], &[165.0 / 0.3404]);
}

#[test]
fn a_hollow_lowers_the_ceiling_before_the_far_side_is_climbed() {
    // 100 ft down hold the pumper to 185 - 43.4 = 141.6 psi, of which friction may take 121.6.
    let hollow = over(level(0.08, 1000.0, 3000.0), &[(0.0, 0.0), (500.0, -100.0), (1000.0, 0.0), (3000.0, 0.0)]);
    let found = farthest(&hollow);
    all_close(&places(&found), &[0.0, 1520.0]);
    close(found.pumpers[0].discharge_psi, 141.6, 1e-9);
}

#[test]
fn a_pumper_at_draft_pumps_its_share_less_the_lift() {
    let problem = RelayProblem { source: RelaySource::Draft(drafting(10.0, 0.0)), ..level(0.08, 1000.0, 1500.0) };
    let found = farthest(&problem);
    let first = found.pumpers[0];
    // 70 % of 1500: 735 gpm at 200 psi and 1050 at 150, so 157.9365 at 1000; 4.34 psi are the lift's.
    all_close(
        &[first.intake_psi, first.net_available_psi, first.capacity_gpm],
        &[-4.34, 200.0 - 50.0 * 265.0 / 315.0, 1050.0],
    );
    // 120 psi of friction and 20 to be left.
    all_close(&[first.discharge_psi, first.net_psi], &[140.0, 144.34]);
    // By hand: 200 - 50 (q - 735)/315 - 4.34 - 1.2 (q/100)^2 = 20 lies between 1040 and 1050: 151.59 - 4.34 - 129.79 = 17.5 at 1040.
    assert!((1000.0..1040.0).contains(&carried(&found).most_gpm));
    assert_eq!(carried(&found).most_limited_by.unwrap().limit, Limit::PumperCapacity);
}

#[test]
fn why_there_is_no_relay_is_said() {
    let base = || level(0.08, 1000.0, 6000.0);
    let why = |problem: &RelayProblem| farthest(problem).outcome.unwrap_err();
    let weak = RelayProblem { source: hydrant(main(60.0, 40.0, 600.0)), ..base() };
    assert_eq!(why(&weak).code(), "source_too_weak");
    let small = RelayProblem { pumpers: RelayPumpers::Typical(pumper(750.0, None)), ..base() };
    assert!(matches!(why(&small), NoRelay::PumperTooSmall { number: 1, capacity_gpm, .. } if capacity_gpm == 750.0));
    let second = RelayPumpers::Listed(vec![pumper(1500.0, None), pumper(750.0, None)]);
    assert_eq!(why(&RelayProblem { pumpers: second, ..base() }).number(), Some(2));
    let few = RelayPumpers::Listed(vec![pumper(1500.0, None), pumper(1500.0, None)]);
    let NoRelay::PumpersRunOut { given: 2, reached_ft } = why(&RelayProblem { pumpers: few, ..base() }) else {
        panic!()
    };
    close(reached_ft, 4125.0, 1e-6);
    let throttled = RelayProblem { pumpers: RelayPumpers::Typical(pumper(1500.0, Some(20.0))), ..base() };
    assert_eq!(why(&throttled).code(), "reaches_nowhere");
    let lifted = |lift, altitude| RelayProblem { source: RelaySource::Draft(drafting(lift, altitude)), ..base() };
    assert_eq!(why(&lifted(23.0, 0.0)).code(), "lift_not_attainable");
    assert_eq!(why(&lifted(21.0, 0.0)).code(), "lift_unknown");
    // 1000 of 1050 at 15 ft; at 20 ft 900 are all.
    assert_eq!(why(&lifted(20.0, 0.0)).code(), "pumper_too_small");
}

#[test]
fn at_one_discharge_the_spacing_is_equal_and_the_intakes_are_told() {
    // 400 psi of friction; 155 at most for each stretch: three.
    let found = at_175(&level(0.08, 1000.0, 5000.0));
    all_close(&places(&found), &[0.0, 5000.0 / 3.0, 10_000.0 / 3.0]);
    assert_eq!(carried(&found).pumpers_needed, 4);
    let intakes: Vec<_> = found.pumpers.iter().map(|pumper| pumper.intake_psi).collect();
    all_close(&intakes, &[70.0, 175.0 - 400.0 / 3.0, 175.0 - 400.0 / 3.0]);
    close(carried(&found).scene_psi, 175.0 - 400.0 / 3.0, 1e-6);
    // 155 psi over 1666.67 ft of 0.08: 100 sqrt(155/1.3333) = 1078.2.
    close(carried(&found).most_gpm, 100.0 * (155.0_f64 / (0.08 * 5000.0 / 300.0)).sqrt(), 1e-6);
}

#[test]
fn a_constant_discharge_that_cannot_be_says_why() {
    let why = |problem: &RelayProblem| at_175(problem).outcome.unwrap_err();
    let base = || level(0.08, 1000.0, 5000.0);
    let soft = RelayProblem { hose: marked(hose(0.08, 5000.0), 150.0), ..base() };
    assert_eq!(why(&soft).code(), "discharge_over_ceiling");
    // 1000 gpm of 1000: 150 psi net; the first has 30 psi of its hydrant, the least allowed, 175 - 30 = 145; at 20 psi it would have too little.
    let spent = RelayProblem {
        pumpers: RelayPumpers::Typical(pumper(1000.0, None)),
        source: hydrant(main(20.0, 20.0, 2000.0)),
        ..base()
    };
    assert_eq!(why(&spent).code(), "net_too_small");
    let few = RelayPumpers::Listed(vec![pumper(1500.0, None), pumper(1500.0, None)]);
    let found = at_175(&RelayProblem { pumpers: few, ..base() });
    // 200 psi are lost in half the way: nothing is left of 175.
    assert!(
        matches!(found.outcome, Err(NoRelay::IntakeUnderFloor { number: 2, least_psi, .. }) if (least_psi + 25.0).abs() < 1e-6)
    );
    assert!(found.pumpers[0].floor_met() && !found.pumpers[1].floor_met());
}

#[test]
fn the_largest_pump_belongs_at_the_source() {
    let listed = |rated: [f64; 3]| RelayProblem {
        pumpers: RelayPumpers::Listed(rated.map(|rated| pumper(rated, None)).to_vec()),
        ..level(0.08, 1000.0, 6000.0)
    };
    let advised =
        |problem| farthest(&problem).findings.iter().any(|finding| finding.code == FindingCode::LargestPumpNotAtSource);
    assert!(advised(listed([1250.0, 2000.0, 1500.0])));
    assert!(!advised(listed([2000.0, 1250.0, 1500.0])));
}

#[test]
fn ground_and_pumpers_that_are_none_are_refused() {
    let profile = |points: &[(f64, f64)]| {
        let points: Vec<_> = points
            .iter()
            .map(|(at, height)| GroundPoint { at: Along::from_ft(*at).unwrap(), height: rise(*height) })
            .collect();
        Ground::profile(&points, feet(1000.0)).unwrap_err()
    };
    assert_eq!(profile(&[(0.0, 0.0)]), GroundError::Count);
    assert_eq!(profile(&[(1.0, 0.0), (1000.0, 0.0)]), GroundError::NotFromSource);
    assert_eq!(profile(&[(0.0, 0.0), (500.0, 0.0), (500.0, 1.0), (1000.0, 0.0)]), GroundError::NotFarther(2));
    assert_eq!(profile(&[(0.0, 0.0), (999.0, 0.0)]), GroundError::NotToScene { distance_ft: 1000.0 });
    assert_eq!(profile(&[(0.0, 3000.0), (1000.0, -3000.0)]), GroundError::TooHigh);
    let none = RelayProblem { pumpers: RelayPumpers::Listed(vec![]), ..level(0.08, 1000.0, 1000.0) };
    assert_eq!(none.maximum_distance(), Err(RelayError::PumperCount(0)));
    let short = RelayProblem { ground: Ground::even(rise(0.0), feet(900.0)), ..level(0.08, 1000.0, 1000.0) };
    assert!(matches!(short.constant_pressure(ConstantDischarge::Customary), Err(RelayError::GroundAndHose { .. })));
}

#[test]
fn a_draft_is_judged_by_lift_and_altitude() {
    // At 3000 ft: 33.9 - 3 = 30.9, two thirds 20.6, and 11.7 to be depended on.
    for (lift, altitude, verdict) in [
        (14.7, 0.0, LiftVerdict::Dependable),
        (14.8, 0.0, LiftVerdict::Attainable),
        (22.7, 0.0, LiftVerdict::NotAttainable),
        (11.7, 3000.0, LiftVerdict::Dependable),
        (20.5, 3000.0, LiftVerdict::Attainable),
        (20.7, 3000.0, LiftVerdict::NotAttainable),
    ] {
        assert_eq!(drafting(lift, altitude).verdict(), verdict, "{lift} ft at {altitude} ft");
    }
    let curve = PumpCurve::from_rating(gpm(1000.0));
    let gives = |draft: Draft| draft.capacity(&curve).map(|(gpm, limit)| (gpm.round(), limit));
    assert_eq!(gives(drafting(15.0, 0.0)), Some((700.0, DraftLimit::RatingShare)));
    assert_eq!(gives(drafting(20.0, 0.0)), Some((600.0, DraftLimit::RatingShare)));
    // 17.5 ft at sea level ask what 15 do at 2500 ft.
    assert_eq!(gives(drafting(15.0, 2500.0)), Some((650.0, DraftLimit::RatingShare)));
    assert_eq!(gives(drafting(21.0, 0.0)), None);
    assert_eq!(gives(drafting(30.0, 0.0)), Some((0.0, DraftLimit::Lift)));
    // 7.6 ft of vacuum are left over 15: 3.2984 psi, which 0.1 psi/(100 gpm)^2 takes at 574.3 gpm.
    let suction = Draft { suction: ApplianceCoefficient::from_psi_per_100gpm2(0.1).ok(), ..drafting(15.0, 0.0) };
    assert_eq!(gives(suction), Some((574.0, DraftLimit::Suction)));
    // 500 gpm of 700: 71.43 % of the rating, 200 - 50 x (500 - 490)/210 = 197.619; less 6.51 and 2.5.
    close(suction.discharge_psi(&curve, 500.0).unwrap(), 188.609_048, 1e-6);
    assert_eq!(suction.discharge_psi(&curve, 600.0), None);
}

fn tanker(gallons: f64, fill: f64, dump: f64, round_trip: f64) -> TankerRound {
    TankerRound {
        tank: Volume::from_gal(gallons).unwrap(),
        fill: Minutes::from_min(fill).unwrap(),
        dump: Minutes::from_min(dump).unwrap(),
        haul: Haul::RoundTrip(Miles::from_mi(round_trip).unwrap()),
    }
}

fn shuttle(tankers: Vec<TankerRound>) -> Shuttle {
    Shuttle { tankers, fill_sites: None, fill_flow: None, dump_sites: None }
}

#[test]
fn unlike_tankers_add_up_and_sites_hold_them() {
    // 12 min: 225 gpm; 0.9 x 1000 / (3 + 1.25 + 5.75 = 10) = 90.
    let both = shuttle(vec![tanker(3000.0, 4.0, 2.25, 3.0), tanker(1000.0, 3.0, 1.25, 3.0)]);
    close(both.rate().unwrap().gpm, 315.0, 1e-9);
    // The first to dump: 3 + 0.65 + 1.7 x 1.5.
    close(both.rate().unwrap().first_water_min, 6.2, 1e-9);
    // 315 + 90 n more like the lesser: one is 405.
    assert_eq!(both.tankers_needed(gpm(225.0)).unwrap(), Some(1));
    assert_eq!(both.tankers_needed(gpm(400.0)).unwrap(), Some(3));
    // Four of the first ask 4 x 4/12 = 1.333 places to fill: one place lets three quarters through, 900 x 0.75.
    let four = Shuttle { fill_sites: Some(1), dump_sites: Some(1), ..shuttle(vec![tanker(3000.0, 4.0, 2.25, 3.0); 4]) };
    let found = four.rate().unwrap();
    assert_eq!(found.limited_by, ShuttleLimit::FillSites);
    close(found.gpm, 675.0, 1e-9);
    assert_eq!(four.tankers_needed(gpm(675.0)).unwrap(), Some(3));
    assert_eq!(four.tankers_needed(gpm(676.0)).unwrap(), None);
    let wet = Shuttle { fill_flow: Some(gpm(600.0)), ..four };
    assert_eq!((wet.rate().unwrap().gpm, wet.rate().unwrap().limited_by), (600.0, ShuttleLimit::FillFlow));
    // 2700 gal in 4 min ask 675 gpm of a site that flows 600.
    assert_eq!(wet.findings().iter().map(|finding| finding.code).collect::<Vec<_>>(), [FindingCode::FillTimeShort]);
    assert_eq!(shuttle(vec![]).rate(), Err(ShuttleError::TankerCount(0)));
    assert_eq!(Shuttle { fill_sites: Some(0), ..both }.rate(), Err(ShuttleError::NoSite));
}

#[test]
fn an_alternative_supply_that_is_not_known_is_not_met() {
    let supply = |gpm, minutes: Option<f64>, gallons: Option<f64>| {
        let water_after_first_engine = minutes.map(|minutes| Minutes::from_min(minutes).unwrap());
        let source = gallons.map(|gallons| Volume::from_gal(gallons).unwrap());
        AlternativeSupply { gpm, water_after_first_engine, source }.iso_alternative().met
    };
    assert_eq!(supply(250.0, Some(5.0), Some(30_000.0)), Some(true));
    assert_eq!(supply(249.0, Some(5.0), Some(30_000.0)), Some(false));
    assert_eq!(supply(250.0, Some(5.1), None), Some(false));
    assert_eq!(supply(250.0, Some(5.0), Some(29_999.0)), Some(false));
    assert_eq!(supply(250.0, Some(5.0), None), None);
    assert_eq!(supply(250.0, None, Some(30_000.0)), None);
}

#[test]
fn no_number_within_its_bounds_makes_one_that_is_none() {
    let ends = |low: f64, high: f64| [low, high];
    for flow in ends(1.0, 50_000.0) {
        for c in ends(0.001, 5000.0) {
            for distance in ends(1.0, 100_000.0) {
                for height in ends(-5000.0, 5000.0) {
                    for source in [
                        hydrant(main(f64::MIN_POSITIVE, 0.0, 1.0)),
                        hydrant(main(1000.0, 999.0, 50_000.0)),
                        RelaySource::Draft(drafting(0.0, 0.0)),
                        RelaySource::Draft(drafting(5.0, 15_000.0)),
                    ] {
                        for rated in ends(1.0, 50_000.0) {
                            let problem = RelayProblem {
                                source,
                                hose: hose(c, distance),
                                ground: Ground::even(rise(height), feet(distance)),
                                flow: gpm(flow),
                                scene_floor: psi(0.0),
                                pumpers: RelayPumpers::Typical(pumper(rated, None)),
                            };
                            finite(&farthest(&problem)).unwrap();
                            finite(&at_175(&problem)).unwrap();
                        }
                    }
                }
            }
        }
    }
}

fn config() -> ProptestConfig {
    ProptestConfig { failure_persistence: None, ..ProptestConfig::default() }
}

fn sources() -> impl Strategy<Value = RelaySource> {
    let body = of(0.01..0.2_f64);
    let mains = (30.0..110.0_f64, 0.0..0.5_f64, 400.0..3000.0_f64, body).prop_map(|(static_psi, share, flow, body)| {
        let body_loss = body.map(|k| ApplianceCoefficient::from_psi_per_100gpm2(k).unwrap());
        hydrant(Source { body_loss, ..main(static_psi, static_psi * (1.0 - share), flow) })
    });
    let drafts = (0.0..22.0_f64, 0.0..5000.0_f64, of(0.01..0.2_f64)).prop_map(|(lift, altitude, k)| {
        let suction = k.map(|k| ApplianceCoefficient::from_psi_per_100gpm2(k).unwrap());
        RelaySource::Draft(Draft { suction, ..drafting(lift, altitude) })
    });
    prop_oneof![3 => mains, 1 => drafts]
}

fn pumpers() -> impl Strategy<Value = Pumper> {
    (500.0..2500.0_f64, of(100.0..260.0_f64), 5.0..50.0_f64)
        .prop_map(|(rated, most, floor)| Pumper { intake_floor: psi(floor), ..pumper(rated, most) })
}

fn grounds(distance: f64) -> impl Strategy<Value = Ground> {
    prop::collection::vec((0.01..0.99_f64, -200.0..200.0_f64), 0..6).prop_map(move |mut inner| {
        inner.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut points = vec![GroundPoint { at: Along::from_ft(0.0).unwrap(), height: rise(0.0) }];
        for (share, height) in inner {
            let at = Along::from_ft((share * distance).round()).unwrap();
            if at > points[points.len() - 1].at && at.ft() < distance {
                points.push(GroundPoint { at, height: rise(height) });
            }
        }
        points.push(GroundPoint { at: Along::from_ft(distance).unwrap(), height: rise(30.0) });
        Ground::profile(&points, feet(distance)).unwrap()
    })
}

fn relays() -> impl Strategy<Value = RelayProblem> {
    let crews = prop_oneof![
        pumpers().prop_map(RelayPumpers::Typical),
        prop::collection::vec(pumpers(), 1..8).prop_map(RelayPumpers::Listed)
    ];
    let hoses = (0.05..1.0_f64, of(120.0..300.0_f64), 1..=2_u8);
    let numbers = (100.0..1200.0_f64, 5.0..50.0_f64);
    (sources(), hoses, 200.0..12_000.0_f64, numbers, crews).prop_flat_map(
        |(source, (c, rating, lines), distance, (flow, scene_floor), pumpers)| {
            let distance = distance.round();
            let c = HoseCoefficient::from_psi_per_100gpm2_100ft(c).unwrap();
            let mut hose = Hose::new(c, feet(distance), lines).unwrap();
            hose.max_operating = rating.map(psi);
            grounds(distance).prop_map(move |ground| RelayProblem {
                source,
                hose,
                ground,
                flow: gpm(flow),
                scene_floor: psi(scene_floor),
                pumpers: pumpers.clone(),
            })
        },
    )
}

/// Pumpers of a relay; one that does not carry the flow takes more than any.
fn count(found: &RelayAnswer) -> usize {
    found.outcome.map_or(usize::MAX, |carried| carried.pumpers_needed)
}

fn finite(found: &RelayAnswer) -> Result<(), TestCaseError> {
    for pumper in &found.pumpers {
        let numbers = [
            pumper.at_ft,
            pumper.stretch_ft,
            pumper.intake_psi,
            pumper.discharge_psi,
            pumper.net_psi,
            pumper.spare_psi(),
        ];
        prop_assert!(numbers.iter().all(|number| number.is_finite()), "{:?}", pumper);
    }
    if let Ok(carried) = found.outcome {
        let numbers = [carried.most_gpm, carried.hose_to_spare_ft, carried.scene_psi];
        prop_assert!(numbers.iter().all(|number| number.is_finite()), "{:?}", carried);
    }
    Ok(())
}

fn sound(problem: &RelayProblem, found: &RelayAnswer) -> Result<(), TestCaseError> {
    finite(found)?;
    let Ok(carried) = found.outcome else { return Ok(()) };
    prop_assert!(carried.most_gpm >= problem.flow.gpm(), "{:?}", found);
    prop_assert!(carried.scene_psi >= problem.scene_floor.psi() - 1e-6, "{:?}", carried);
    let end: f64 = found.pumpers.iter().map(|pumper| pumper.stretch_ft).sum();
    prop_assert!((end - problem.hose.length().ft()).abs() < 1e-6);
    for pumper in &found.pumpers {
        prop_assert!(pumper.floor_met() && pumper.spare_psi() >= -1e-6, "{:?}", pumper);
        prop_assert!(problem.hose.rating_psi().is_none_or(|most| pumper.discharge_psi <= most + 1e-6), "{:?}", pumper);
    }
    Ok(())
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn a_relay_as_placed_solved_as_a_lay_delivers_the_flow_wanted(problem in relays()) {
        sound(&problem, &farthest(&problem))?;
        sound(&problem, &at_175(&problem))?;
    }

    #[test]
    fn more_flow_never_asks_fewer_pumpers(problem in relays(), more in 1.0..1.5_f64) {
        let larger = RelayProblem { flow: gpm(problem.flow.gpm() * more), ..problem.clone() };
        prop_assert!(count(&farthest(&larger)) >= count(&farthest(&problem)));
    }

    #[test]
    fn a_higher_scene_never_asks_fewer_pumpers(problem in relays(), climb in 0.0..300.0_f64, higher in 0.0..200.0_f64) {
        let to = |feet: f64| RelayProblem { ground: Ground::even(rise(feet), problem.hose.length()), ..problem.clone() };
        prop_assert!(count(&farthest(&to(climb + higher))) >= count(&farthest(&to(climb))));
        prop_assert!(count(&at_175(&to(climb + higher))) >= count(&at_175(&to(climb))));
    }

    #[test]
    fn a_farther_scene_never_asks_fewer_pumpers(problem in relays(), more in 1.0..2.0_f64) {
        let to = |feet_: f64| RelayProblem {
            ground: Ground::even(rise(0.0), feet(feet_)), hose: problem.hose.with_length(feet(feet_)), ..problem.clone()
        };
        let distance = problem.hose.length().ft();
        prop_assert!(count(&farthest(&to(distance * more))) >= count(&farthest(&to(distance))));
        prop_assert!(count(&at_175(&to(distance * more))) >= count(&at_175(&to(distance))));
    }

    #[test]
    fn on_level_ground_with_like_pumpers_the_count_is_the_rules(
        c in 0.05..0.8_f64, flow in 250.0..1250.0_f64, discharge in 100.0..200.0_f64, distance in 100.0..8000.0_f64
    ) {
        let hose = marked(hose(c, distance), discharge);
        let problem = RelayProblem {
            hose, pumpers: RelayPumpers::Typical(pumper(2500.0, None)), ..level(c, flow, distance)
        };
        let c = HoseCoefficient::from_psi_per_100gpm2_100ft(c).unwrap();
        let reach = max_distance(psi(discharge), psi(20.0), c, gpm(flow)).unwrap();
        let rule = pumpers_needed(feet(distance), reach);
        prop_assume!(rule <= 25 && ((distance / reach.ft()).fract() - 0.5).abs() < 0.499_999);
        prop_assert_eq!(count(&farthest(&problem)), usize::try_from(rule).unwrap());
    }

    #[test]
    fn a_higher_lift_or_more_altitude_never_drafts_more(
        lift in 0.0..25.0_f64, altitude in 0.0..8000.0_f64, more in 0.0..5.0_f64, higher in 0.0..4000.0_f64, k in of(0.01..0.5_f64)
    ) {
        let curve = PumpCurve::from_rating(gpm(1500.0));
        let suction = k.map(|k| ApplianceCoefficient::from_psi_per_100gpm2(k).unwrap());
        let gives = |lift, altitude| Draft { suction, ..drafting(lift, altitude) }.capacity(&curve).map_or(0.0, |(gpm, _)| gpm);
        prop_assert!(gives(lift + more, altitude) <= gives(lift, altitude));
        prop_assert!(gives(lift, altitude + higher) <= gives(lift, altitude));
    }

    #[test]
    fn the_tankers_needed_carry_the_flow_and_one_fewer_does_not(
        tankers in prop::collection::vec((500.0..5000.0_f64, 1.0..20.0_f64, 1.0..20.0_f64, 0.0..20.0_f64), 1..6),
        wanted in 20.0..1500.0_f64, fill_sites in of(1..4_u8), dump_sites in of(1..4_u8), fill_flow in of(200.0..1500.0_f64)
    ) {
        let tankers: Vec<_> = tankers.into_iter().map(|(gallons, fill, dump, miles)| tanker(gallons, fill, dump, miles)).collect();
        let fleet = Shuttle { tankers, fill_sites, fill_flow: fill_flow.map(gpm), dump_sites };
        let rate = fleet.rate().unwrap();
        let alone: f64 = rate.tankers.iter().map(|tanker| tanker.gpm).sum();
        prop_assert!(rate.gpm <= alone + 1e-9 && rate.limits.iter().all(|(_, gpm)| *gpm >= rate.gpm));
        let needed = fleet.tankers_needed(gpm(wanted)).unwrap();
        if let Some(needed) = needed.filter(|needed| *needed <= fleet.tankers.len()) {
            let first = |n: usize| Shuttle { tankers: fleet.tankers[..n].to_vec(), ..fleet.clone() }.rate().unwrap().gpm;
            prop_assert!(first(needed) >= wanted);
            prop_assert!(needed == 1 || first(needed - 1) < wanted);
        } else {
            prop_assert!(rate.gpm < wanted);
        }
    }
}
