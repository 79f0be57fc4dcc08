//! Facts about the handbook's single formulas: refusals, ranges, and figures worked in their comments.

use core::num::NonZeroU8;

use longlay_hydraulics::drafting::{attainable_lift_ft, lift_of_vacuum_ft, rating_share, theoretical_lift_ft};
use longlay_hydraulics::friction_test::{FrictionTest, NoCoefficient, TestedCoefficient, TwoGaugeReading};
use longlay_hydraulics::gauge_rules::{GaugeRule, NothingToSquare, RuleAnswer, flow_left};
use longlay_hydraulics::loss::{ApplianceLoss, older_2_half_inch_psi_per_100ft};
use longlay_hydraulics::quantity::{
    Altitude, Flow, HoseCoefficient, Length, Lift, MeterUncertainty, Miles, Minutes, Rise, TipDiameter, Vacuum, Volume,
};
use longlay_hydraulics::relay::{ReachesNowhere, max_distance, pump_size, pumpers_needed};
use longlay_hydraulics::shuttle::{Haul, TankerRound};
use longlay_hydraulics::stream::{AttackLine, Stream, StreamProblem, StreamsInUse, total_flow};

use crate::common::{close, curve, gpm, hose, psi};

fn smooth(tip: f64, pressure: f64) -> Stream {
    Stream::SmoothBore { tip: TipDiameter::from_in(tip).unwrap(), pressure: psi(pressure) }
}

fn fog(flow: f64) -> Stream {
    Stream::Fog { flow: gpm(flow), pressure: psi(100.0) }
}

fn used(stream: Stream, count: u8) -> StreamsInUse {
    StreamsInUse { stream, count: NonZeroU8::new(count).unwrap() }
}

fn ft(feet: f64) -> Length {
    Length::from_ft(feet).unwrap()
}

#[test]
fn streams_add_up_each_by_its_count() {
    // Two 1 in tips at 64 psi: 29.7 x 8 = 237.6 each; one fog of 150.
    let total = total_flow(&[used(smooth(1.0, 64.0), 2), used(fog(150.0), 1)]).unwrap();
    close(total.gpm(), 625.2, 1e-9);
}

#[test]
fn a_total_of_no_streams_is_refused_and_so_is_one_that_no_pumper_feeds() {
    assert_eq!(total_flow(&[]), Err(StreamProblem::NoStreams));
    let Err(StreamProblem::Total(problem)) = total_flow(&[used(fog(30_000.0), 2)]) else {
        panic!("60,000 gpm were accepted");
    };
    assert_eq!((problem.quantity, problem.value), ("flow or none", 60_000.0));
}

#[test]
fn the_widest_tip_at_the_highest_pressure_flows_less_than_the_most_accepted() {
    // 29.7 x 36 = 1069.2, times √1000 = 31.622777: 33,811.07.
    close(smooth(6.0, 1000.0).flow().gpm(), 33_811.07, 0.01);
}

#[test]
fn a_smooth_bore_pushes_back_with_157_hundredths_of_area_times_pressure() {
    // 1.57 x 1.25² x 80 = 196.25 lbf.
    close(smooth(1.25, 80.0).reaction_lbf(), 196.25, 1e-9);
}

#[test]
fn an_attack_line_asks_nozzle_hose_appliance_and_rise_together() {
    // 200 gpm in 300 ft of C 15.5: 15.5 x 4 x 3 = 186; wye 10 from 350 gpm: nothing; 20 ft up: 8.68; nozzle 100.
    let wye = ApplianceLoss::Step { fixed: psi(10.0), at_or_above: Flow::from_gpm(350.0).unwrap() };
    let hoses = [hose(15.5, 200.0), hose(15.5, 100.0)];
    let line = AttackLine { stream: fog(200.0), hoses: &hoses, appliances: &[wye], rise: Rise::from_ft(20.0).unwrap() };
    let asked = line.pump_pressure();
    close(asked.hose_psi, 186.0, 1e-9);
    close(asked.appliances_psi, 0.0, 0.0);
    close(asked.elevation_psi, 8.68, 1e-9);
    close(asked.pump_psi, 294.68, 1e-9);
}

#[test]
fn the_older_form_halves_its_second_term_under_100_gpm() {
    let older = |flow: f64| older_2_half_inch_psi_per_100ft(Flow::from_gpm(flow).unwrap());
    // 2 x 0.25 + 0.5/2 = 0.75; 2 + 1 = 3.
    close(older(50.0), 0.75, 1e-12);
    close(older(100.0), 3.0, 1e-12);
}

#[test]
fn a_relay_that_leaves_the_next_pumper_nothing_is_refused() {
    let c = HoseCoefficient::from_psi_per_100gpm2_100ft(0.2).unwrap();
    let refused = max_distance(psi(20.0), psi(20.0), c, gpm(500.0)).unwrap_err();
    // 0.2 x 25 = 5 psi in 100 ft.
    assert_eq!(refused, ReachesNowhere { discharge_psi: 20.0, residual_psi: 20.0, friction_psi_per_100ft: 5.0 });
    // 0.2 x 0.0001 psi in 100 ft would reach 900 million feet.
    assert_eq!(max_distance(psi(200.0), psi(20.0), c, gpm(1.0)).unwrap().ft(), Length::BOUND.max);
}

#[test]
fn a_distance_of_one_reach_takes_the_pumper_at_each_end() {
    assert_eq!(pumpers_needed(ft(900.0), ft(900.0)), 2);
    assert_eq!(pumpers_needed(ft(901.0), ft(900.0)), 3);
    assert_eq!(pumpers_needed(ft(100_000.0), ft(1.0)), 100_001);
}

#[test]
fn a_pumper_over_its_last_rating_point_is_never_large_enough() {
    let at = |net: f64| pump_size(gpm(1500.0), psi(net), gpm(1.0));
    assert_eq!((at(150.0).capacity_gpm, at(150.1).capacity_gpm), (1500.0, 1050.0));
    assert_eq!((at(250.0).capacity_gpm, at(250.1).capacity_gpm), (750.0, 0.0));
    assert_eq!((at(250.1).share, at(250.1).enough), (None, false));
}

#[test]
fn altitude_costs_a_foot_of_lift_each_thousand() {
    let at = |feet: f64| Altitude::from_ft(feet).unwrap();
    close(theoretical_lift_ft(at(6000.0)), 27.9, 1e-9);
    // Two thirds of 27.9.
    close(attainable_lift_ft(at(6000.0)), 18.6, 1e-9);
    // 1.13 x 20.
    close(lift_of_vacuum_ft(Vacuum::from_in_hg(20.0).unwrap()), 22.6, 1e-9);
}

#[test]
fn a_lift_no_one_has_read_of_promises_no_share_of_the_rating() {
    let share = |feet: f64| rating_share(Lift::from_ft(feet).unwrap());
    assert_eq!((share(0.0), share(15.0), share(20.0), share(20.1)), (Some(0.7), Some(0.7), Some(0.6), None));
    close(share(17.5).unwrap(), 0.65, 1e-12);
}

#[test]
fn the_same_road_takes_the_same_time_whichever_way_it_is_told() {
    let round = |haul| {
        let site = Minutes::from_min(4.0).unwrap();
        TankerRound { tank: Volume::from_gal(2000.0).unwrap(), fill: site, dump: site, haul }.rate()
    };
    let miles = |miles: f64| Miles::from_mi(miles).unwrap();
    let told = round(Haul::OneWay(miles(2.0)));
    assert_eq!(told, round(Haul::RoundTrip(miles(4.0))));
    // 0.65 + 1.7 x 4 = 7.45 min; 1800 gal in 15.45 min.
    close(told.gpm, 116.504_854, 1e-5);
}

fn rule(rule: GaugeRule, static_psi: f64, residual: f64) -> RuleAnswer {
    rule.apply(&curve(static_psi, residual, 500.0), psi(20.0)).unwrap()
}

#[test]
fn a_drop_between_two_bands_belongs_to_the_worse() {
    let volumes = |residual: f64| rule(GaugeRule::Percentage, 100.0, residual).more_volumes;
    assert_eq!((volumes(90.0), volumes(89.5), volumes(89.0)), (3, 2, 2));
    assert_eq!((volumes(85.0), volumes(84.5), volumes(84.0)), (2, 1, 1));
    assert_eq!((volumes(75.0), volumes(74.9)), (1, 0));
}

#[test]
fn a_static_of_three_digits_counts_by_its_first_two() {
    // 125: 12, so 12 psi is 3 more, 24 is 2, 36 is 1.
    let volumes = |drop: f64| rule(GaugeRule::FirstDigit, 125.0, 125.0 - drop).more_volumes;
    assert_eq!([12.0, 12.5, 24.0, 25.0, 36.0, 37.0].map(volumes), [3, 2, 2, 1, 1, 0]);
}

#[test]
fn squaring_the_lines_stops_where_the_next_would_pass_the_floor() {
    // 60 psi above the floor, 5 for the first line: 3 lines 45, 4 lines 80.
    let found = rule(GaugeRule::SquaringTheLines, 80.0, 75.0);
    assert_eq!((found.more_volumes, found.promised_gpm), (2, 1000.0));
}

#[test]
fn no_drop_proves_no_more_water_whatever_a_rule_promises() {
    let found = rule(GaugeRule::Percentage, 80.0, 80.0);
    assert_eq!((found.more_volumes, found.allowed_gpm, found.residual_if_added_psi), (3, 0.0, None));
    assert!(found.over_promises);
    let squared = GaugeRule::SquaringTheLines.apply(&curve(80.0, 80.0, 500.0), psi(20.0));
    assert_eq!(squared, Err(NothingToSquare));
}

fn test(feet: f64, rise: f64, readings: &[(f64, f64, f64)]) -> Result<TestedCoefficient, NoCoefficient> {
    let readings: Vec<_> = readings
        .iter()
        .map(|&(flow, up, down)| TwoGaugeReading { flow: gpm(flow), upstream: psi(up), downstream: psi(down) })
        .collect();
    let meter = MeterUncertainty::from_percent(3.0).unwrap();
    FrictionTest { length: ft(feet), rise: Rise::from_ft(rise).unwrap(), readings: &readings, meter }.coefficient()
}

#[test]
fn one_psi_on_each_gauge_makes_a_coefficient_of_10_psi_too_doubtful_with_any_meter() {
    // √2/10 = 14.14 % from the gauges and 2 x 3 % from the meter: √(14.14² + 6²) = 15.36 %.
    let weak = test(300.0, 0.0, &[(500.0, 60.0, 50.0)]).unwrap();
    close(weak.relative_uncertainty, 0.153_623, 1e-6);
    assert!(weak.readings_too_small);
    // 30 psi: √(4.714² + 6²) = 7.63 %.
    let sound = test(300.0, 0.0, &[(500.0, 80.0, 50.0)]).unwrap();
    close(sound.relative_uncertainty, 0.076_303, 1e-6);
    assert!(!sound.readings_too_small);
}

#[test]
fn reading_the_same_twice_makes_a_test_no_surer() {
    let once = test(300.0, 0.0, &[(500.0, 80.0, 50.0)]).unwrap();
    let twice = test(300.0, 0.0, &[(500.0, 80.0, 50.0); 2]).unwrap();
    close(twice.relative_uncertainty, once.relative_uncertainty, 1e-12);
}

#[test]
fn least_squares_weighs_the_high_flow() {
    // x = 1 and 4, y = 2 and 4: (2 + 16)/17 = 1.0588.
    let found = test(100.0, 0.0, &[(100.0, 52.0, 50.0), (200.0, 54.0, 50.0)]).unwrap();
    close(found.coefficient.psi_per_100gpm2_100ft(), 18.0 / 17.0, 1e-12);
    assert_eq!(found.each, [2.0, 1.0]);
}

#[test]
fn readings_that_show_no_loss_are_refused_by_place() {
    assert_eq!(test(100.0, 0.0, &[]), Err(NoCoefficient::NoReadings));
    // 10 psi lost, but 0.434 x 25 = 10.85 of it to the rise.
    let Err(NoCoefficient::NoLoss { index, loss_psi }) = test(100.0, 25.0, &[(100.0, 80.0, 60.0), (100.0, 60.0, 50.0)])
    else {
        panic!("a loss of nothing was accepted");
    };
    assert_eq!(index, 1);
    close(loss_psi, -0.85, 1e-9);
    // 100 psi at 1 gpm in 1 ft is C of 100 million.
    assert!(matches!(test(1.0, 0.0, &[(1.0, 100.0, 0.0)]), Err(NoCoefficient::NoHose(_))));
}

#[test]
fn the_printed_forms_are_finite_at_the_ends_of_every_range() {
    use longlay_hydraulics::hazen_williams::{loss_ft_per_100ft, loss_psi_per_ft};
    use longlay_hydraulics::quantity::{Diameter, Roughness};
    for gallons in [Flow::BOUND.min, Flow::BOUND.max] {
        for bore in [Diameter::BOUND.min, Diameter::BOUND.max] {
            for c in [Roughness::BOUND.min, Roughness::BOUND.max] {
                let at = Flow::from_gpm(gallons).unwrap();
                let (bore, c) = (Diameter::from_in(bore).unwrap(), Roughness::from_number(c).unwrap());
                for loss in [loss_psi_per_ft(at, bore, c), loss_ft_per_100ft(at, bore, c)] {
                    assert!(loss.is_finite() && (loss > 0.0) == (gallons > 0.0), "{loss}");
                }
            }
        }
    }
}

#[test]
fn gauge_rules_are_finite_where_the_drop_is_next_to_nothing_or_all_there_is() {
    for (static_psi, residual, flow) in
        [(1000.0, 1000.0_f64.next_down(), 50_000.0), (f64::MIN_POSITIVE, 0.0, 1.0), (1000.0, 0.0, 50_000.0)]
    {
        for rule in [GaugeRule::Percentage, GaugeRule::FirstDigit, GaugeRule::SquaringTheLines] {
            for floor in [0.0, 1000.0] {
                let found = rule.apply(&curve(static_psi, residual, flow), psi(floor)).unwrap();
                let numbers = [found.drop_psi, found.drop_percent, found.promised_gpm, found.allowed_gpm];
                assert!(numbers.iter().all(|number| number.is_finite() && *number >= 0.0), "{found:?}");
                assert!(found.residual_if_added_psi.is_none_or(f64::is_finite), "{found:?}");
                // More than any main gives is more than the curve allows.
                assert!(found.promised_gpm <= Flow::BOUND.max || found.over_promises, "{found:?}");
            }
        }
    }
}

#[test]
fn what_is_left_of_a_main_is_counted_from_the_reading() {
    // 500 x (60/20)^0.54 = 904.9; with the floor at 60 there is nothing left, and under it less than flows.
    let left = |floor: f64| flow_left(&curve(80.0, 60.0, 500.0), psi(floor)).unwrap();
    close(left(20.0).more_gpm, 404.9, 0.1);
    close(left(60.0).more_gpm, 0.0, 1e-9);
    assert!(left(70.0).total_gpm < 500.0 && left(70.0).more_gpm == 0.0);
    assert_eq!(flow_left(&curve(80.0, 80.0, 500.0), psi(20.0)), None);
}
