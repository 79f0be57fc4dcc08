//! Laws of the handbook's single formulas.

use core::num::NonZeroU8;

use longlay_hydraulics::friction_test::{FrictionTest, TwoGaugeReading};
use longlay_hydraulics::gauge_rules::GaugeRule;
use longlay_hydraulics::hazen_williams::{loss_ft_per_100ft, loss_psi_per_ft};
use longlay_hydraulics::loss::{Hose, PSI_PER_FOOT, older_2_half_inch_psi_per_100ft};
use longlay_hydraulics::needed_flow::{
    ConstructionClass, ExposureOrder, IsoEdition, IsoNeededFlow, NationalFireAcademy, Occupancy, dwelling_needed_flow,
};
use longlay_hydraulics::quantity::{
    Area, Diameter, Dimension, ExposureFactor, Flow, HoseCoefficient, Involvement, Length, MeterUncertainty, Rise,
    Roughness, Separation, TipDiameter,
};
use longlay_hydraulics::relay::{max_distance, pumpers_needed};
use longlay_hydraulics::stream::{AttackLine, Stream};
use proptest::prelude::*;

use crate::common::{curve, gpm, hose, psi};

fn config() -> ProptestConfig {
    ProptestConfig { failure_persistence: None, ..ProptestConfig::default() }
}

fn flow(gpm: f64) -> Flow {
    Flow::from_gpm(gpm).unwrap()
}

fn pump_psi(stream: Stream, hoses: &[Hose], rise: f64) -> f64 {
    AttackLine { stream, hoses, appliances: &[], rise: Rise::from_ft(rise).unwrap() }.pump_pressure().pump_psi
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn a_larger_tip_or_a_higher_pressure_flows_and_pushes_more(
        tip in 0.1..3.0_f64, at in 1.0..150.0_f64, wider in 1.01..2.0_f64, higher in 1.01..2.0_f64
    ) {
        let stream = |tip: f64, at: f64| Stream::SmoothBore { tip: TipDiameter::from_in(tip).unwrap(), pressure: psi(at) };
        let base = stream(tip, at);
        for more in [stream(tip * wider, at), stream(tip, at * higher)] {
            prop_assert!(more.flow() > base.flow());
            prop_assert!(more.reaction_lbf() > base.reaction_lbf());
        }
    }

    #[test]
    fn a_longer_or_higher_attack_line_never_asks_less(
        gallons in 1.0..500.0_f64, c in 0.05..30.0_f64, feet in 1.0..1000.0_f64, longer in 0.0..500.0_f64,
        rise in -50.0..50.0_f64, higher in 0.0..50.0_f64
    ) {
        let stream = Stream::Fog { flow: gpm(gallons), pressure: psi(100.0) };
        let base = pump_psi(stream, &[hose(c, feet)], rise);
        prop_assert!(pump_psi(stream, &[hose(c, feet + longer)], rise) >= base);
        prop_assert!(pump_psi(stream, &[hose(c, feet)], rise + higher) >= base);
    }

    #[test]
    fn more_flow_never_loses_less_in_any_printed_form(
        gallons in 0.0..2000.0_f64, more in 0.0..500.0_f64, bore in 1.0..12.0_f64, c in 60.0..160.0_f64
    ) {
        let (bore, c) = (Diameter::from_in(bore).unwrap(), Roughness::from_number(c).unwrap());
        let (less, more) = (flow(gallons), flow(gallons + more));
        prop_assert!(loss_psi_per_ft(more, bore, c) >= loss_psi_per_ft(less, bore, c));
        prop_assert!(loss_ft_per_100ft(more, bore, c) >= loss_ft_per_100ft(less, bore, c));
        prop_assert!(older_2_half_inch_psi_per_100ft(more) >= older_2_half_inch_psi_per_100ft(less));
    }

    #[test]
    fn hazen_williams_in_feet_is_one_to_three_percent_over_the_psi_form(
        gallons in 10.0..2000.0_f64, bore in 1.5..12.0_f64, c in 80.0..150.0_f64
    ) {
        let (bore, c, at) = (Diameter::from_in(bore).unwrap(), Roughness::from_number(c).unwrap(), flow(gallons));
        // By hand: 0.434 x 0.2083 x 100^1.852 / 452 = 1.0117, times (Q/C)^0.002 from 0.9946 to 1.0065 and d^0.0045 from 1.0018 to 1.0112.
        let feet = PSI_PER_FOOT * loss_ft_per_100ft(at, bore, c);
        let over = feet / (100.0 * loss_psi_per_ft(at, bore, c)) - 1.0;
        prop_assert!((0.008..0.030).contains(&over), "{over}");
    }

    #[test]
    fn exact_readings_give_the_coefficient_back(
        c in 0.05..20.0_f64, feet in 50.0..1000.0_f64, rise in -100.0..100.0_f64,
        losses in prop::collection::vec(5.0..200.0_f64, 1..6)
    ) {
        let readings: Vec<_> = losses
            .iter()
            .map(|loss| {
                let at = 100.0 * (loss / (c * feet / 100.0)).sqrt();
                let downstream = 100.0;
                let upstream = psi(downstream + loss + PSI_PER_FOOT * rise);
                TwoGaugeReading { flow: gpm(at.max(1.0)), upstream, downstream: psi(downstream) }
            })
            .collect();
        prop_assume!(readings.iter().all(|reading| reading.flow.gpm() > 1.0));
        let length = Length::from_ft(feet).unwrap();
        let meter = MeterUncertainty::from_percent(2.0).unwrap();
        let found = FrictionTest { length, rise: Rise::from_ft(rise).unwrap(), readings: &readings, meter }
            .coefficient()
            .unwrap();
        let ours = found.coefficient.psi_per_100gpm2_100ft();
        prop_assert!((ours - c).abs() < 1e-9 * c, "{ours} is not {c}");
        // A gauge's error weighs least against the largest loss and most against the smallest.
        let meter_share = 0.04_f64;
        let share = |loss: f64| (2.0_f64.sqrt() / loss).hypot(meter_share);
        let (least, most) = losses.iter().fold((f64::MAX, 0.0_f64), |(low, high), loss| (low.min(*loss), high.max(*loss)));
        prop_assert!(found.relative_uncertainty >= share(most) - 1e-9);
        prop_assert!(found.relative_uncertainty <= share(least) + 1e-9);
    }

    #[test]
    fn a_rule_over_promises_exactly_where_the_promised_flow_would_pull_the_main_under_the_floor(
        static_psi in 25.0..150.0_f64, share in 0.01..0.95_f64, floor in 0.0..20.0_f64
    ) {
        let reading = curve(static_psi, static_psi * (1.0 - share), 500.0);
        for rule in [GaugeRule::Percentage, GaugeRule::FirstDigit, GaugeRule::SquaringTheLines] {
            let found = rule.apply(&reading, psi(floor)).unwrap();
            let left = found.residual_if_added_psi.unwrap();
            if found.more_volumes > 0 && (left - floor).abs() > 1e-9 {
                prop_assert_eq!(found.over_promises, left < floor, "{:?} {:?}", rule, found);
            }
        }
    }

    #[test]
    fn squaring_the_lines_never_over_promises(
        static_psi in 1.0..150.0_f64, share in 0.001..1.0_f64, floor in 0.0..40.0_f64
    ) {
        let reading = curve(static_psi, static_psi * (1.0 - share), 500.0);
        let found = GaugeRule::SquaringTheLines.apply(&reading, psi(floor)).unwrap();
        prop_assert!(!found.over_promises, "{:?}", found);
    }

    #[test]
    fn a_larger_drop_never_promises_more(
        static_psi in 10.0..150.0_f64, share in 0.01..0.9_f64, more in 0.0..0.1_f64
    ) {
        for rule in [GaugeRule::Percentage, GaugeRule::FirstDigit, GaugeRule::SquaringTheLines] {
            let at = |share: f64| {
                rule.apply(&curve(static_psi, static_psi * (1.0 - share), 500.0), psi(20.0)).unwrap().more_volumes
            };
            prop_assert!(at(share + more) <= at(share));
        }
    }

    #[test]
    fn a_relay_of_the_pumpers_needed_reaches_and_one_fewer_does_not(
        c in 0.05..1.0_f64, gallons in 250.0..1500.0_f64, discharge in 100.0..200.0_f64, distance in 100.0..20_000.0_f64
    ) {
        let c = HoseCoefficient::from_psi_per_100gpm2_100ft(c).unwrap();
        let reach = max_distance(psi(discharge), psi(20.0), c, gpm(gallons)).unwrap();
        let lost = Hose::new(c, reach, 1).unwrap().loss_psi(flow(gallons));
        prop_assert!(reach.ft() == Length::BOUND.max || (lost - (discharge - 20.0)).abs() < 1e-9 * discharge);
        let pumpers = f64::from(pumpers_needed(Length::from_ft(distance).unwrap(), reach));
        prop_assert!((pumpers - 1.0) * reach.ft() >= distance * (1.0 - 1e-12));
        prop_assert!((pumpers - 2.0) * reach.ft() < distance);
    }

    #[test]
    fn exposures_added_after_the_involvement_never_ask_less(
        length in 1.0..500.0_f64, width in 1.0..500.0_f64, floors in 1..=50_u8, involvement in 0.01..=1.0_f64, exposures in 0..=4_u8
    ) {
        let asked = |exposure_order| NationalFireAcademy {
            length: Dimension::from_ft(length).unwrap(),
            width: Dimension::from_ft(width).unwrap(),
            floors: NonZeroU8::new(floors).unwrap(),
            involvement: Involvement::from_number(involvement).unwrap(),
            exposures,
            exposure_order,
        }.needed_flow().gpm;
        let before = asked(ExposureOrder::BeforeInvolvement);
        prop_assert!(asked(ExposureOrder::AfterInvolvement) >= before * (1.0 - 1e-12));
    }

    #[test]
    fn a_larger_building_never_asks_less_of_iso_and_never_leaves_its_limits(
        area in 1.0..1e6_f64, more in 0.0..1e5_f64, exposure in 0.0..2.0_f64, one_storey in any::<bool>(), roof in any::<bool>()
    ) {
        let asked = |area: f64| IsoNeededFlow {
            edition: IsoEdition::From2012,
            construction: ConstructionClass::NonCombustible,
            effective_area: Area::from_sq_ft(area).unwrap(),
            one_storey,
            occupancy: Occupancy::FreeBurning,
            exposure_and_communication: ExposureFactor::from_number(exposure).unwrap(),
            wood_shingle_roof: roof,
        }.needed_flow().gpm;
        prop_assert!(asked(area + more) >= asked(area));
        prop_assert!((500.0..=12_000.0).contains(&asked(area)));
        prop_assert_eq!(asked(area) % 250.0, 0.0);
    }

    #[test]
    fn dwellings_farther_apart_never_ask_more(feet in 0.0..200.0_f64, more in 0.0..50.0_f64) {
        for edition in [IsoEdition::Before2012, IsoEdition::From2012] {
            let asked = |feet: f64| dwelling_needed_flow(edition, Separation::from_ft(feet).unwrap()).gpm;
            prop_assert!(asked(feet + more) <= asked(feet));
        }
    }
}
