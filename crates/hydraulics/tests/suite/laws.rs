//! The laws of the model, each over random lays.

use longlay_hydraulics::lay::{Branch, BranchPart, LayAnswer, LayProblem, LineAnswer, Part, PartKind, Source, Station};
use longlay_hydraulics::loss::Hose;
use longlay_hydraulics::pumper::{PumpCurve, Pumper};
use longlay_hydraulics::quantity::{Length, PositiveFlow, Pressure, Rise};
use longlay_hydraulics::supply::SupplyCurve;
use proptest::prelude::*;

use crate::changes::{longer, longest_hose, pumpers_of, rebuilt, total_ft, with_hoses};
use crate::common::{answer, close, gpm, hose, main, problem, psi, pumper};
use crate::lays::{Pumpers, Range, any_lays, curves, lays};
use crate::plain_model::PlainLine;

fn config() -> ProptestConfig {
    ProptestConfig { failure_persistence: None, ..ProptestConfig::default() }
}

fn flow(problem: &LayProblem) -> f64 {
    answer(problem.clone()).answer().deliverable_gpm
}

/// Not over, but for the last digits.
fn at_most(less: f64, more: f64) -> Result<(), TestCaseError> {
    prop_assert!(less <= more * (1.0 + 1e-8) + 1e-7, "{less} is over {more}");
    Ok(())
}

fn same(a: f64, b: f64) -> Result<(), TestCaseError> {
    prop_assert!((a - b).abs() <= 1e-9 * a.abs() + 1e-9, "{a} is not {b}");
    Ok(())
}

fn workings(found: &LayAnswer) -> impl Iterator<Item = (&LineAnswer, bool)> {
    [(Some(&found.unboosted), false), (found.boosted.as_ref(), true)]
        .into_iter()
        .filter_map(|(line, pumped)| line.map(|line| (line, pumped)))
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn longer_hose_never_delivers_more(lay in any_lays(Range::Usual), factor in 1.0..3.0_f64) {
        at_most(flow(&with_hoses(&lay, |line| longer(line, factor))), flow(&lay))?;
    }

    #[test]
    fn a_larger_hose_coefficient_never_delivers_more(lay in any_lays(Range::Usual), factor in 1.0..3.0_f64) {
        at_most(flow(&with_hoses(&lay, |line| rebuilt(line, factor, line.lines()))), flow(&lay))?;
    }

    #[test]
    fn more_rise_never_delivers_more(
        lay in any_lays(Range::Usual), feet in 0.0..200.0_f64, at in any::<prop::sample::Index>()
    ) {
        let mut higher = lay.clone();
        higher.parts.insert(at.index(lay.parts.len() + 1), Part::Rise(Rise::from_ft(feet).unwrap()));
        at_most(flow(&higher), flow(&lay))?;
    }

    #[test]
    fn higher_floors_never_deliver_more(
        lay in any_lays(Range::Usual), main in 0.0..40.0_f64, scene in 0.0..40.0_f64, intake in 0.0..40.0_f64
    ) {
        let mut higher = lay.clone();
        higher.main_floor = psi(lay.main_floor.psi() + main);
        higher.scene_floor = psi(lay.scene_floor.psi() + scene);
        let written = higher.parts.iter_mut().filter_map(|p| if let Part::Pumper(pumper) = p { Some(pumper) } else { None });
        for pumper in written.chain(higher.boost.iter_mut()) {
            pumper.intake_floor = psi(pumper.intake_floor.psi() + intake);
        }
        at_most(flow(&higher), flow(&lay))?;
    }

    #[test]
    fn a_larger_residual_at_the_same_test_flow_never_delivers_less(lay in any_lays(Range::Usual), share in 0.0..0.99_f64) {
        let curve = lay.source.curve;
        if curve.no_drop() {
            return Ok(());
        }
        let residual = curve.residual_psi() + share * (curve.static_psi() - curve.residual_psi());
        let stronger = SupplyCurve::new(psi(curve.static_psi()), psi(residual), gpm(curve.tested_gpm())).unwrap();
        let source = Source { curve: stronger, ..lay.source };
        at_most(flow(&lay), flow(&LayProblem { source, ..lay.clone() }))?;
    }

    #[test]
    fn a_larger_pumper_at_the_same_place_never_delivers_less(
        boosted in lays(Range::Usual, Pumpers::Boost), written in lays(Range::Usual, Pumpers::Written),
        rated in 250.0..3000.0_f64, more in 1.0..2.0_f64
    ) {
        let rate = |lay: &LayProblem, rated: f64| {
            let mut lay = lay.clone();
            let in_line = lay.parts.iter_mut().filter_map(|p| if let Part::Pumper(pumper) = p { Some(pumper) } else { None });
            for pumper in in_line.chain(lay.boost.iter_mut()) {
                pumper.curve = PumpCurve::from_rating(gpm(rated));
            }
            lay
        };
        for lay in [boosted, written] {
            at_most(flow(&rate(&lay, rated)), flow(&rate(&lay, rated * more)))?;
        }
    }

    #[test]
    fn more_identical_lines_never_deliver_less(lay in any_lays(Range::Usual), more in 1..=4_u8) {
        at_most(flow(&lay), flow(&with_hoses(&lay, |line| rebuilt(line, 1.0, line.lines() + more))))?;
    }

    #[test]
    fn n_equal_lines_lose_what_one_line_of_c_over_n_squared_loses(lay in any_lays(Range::Usual), n in 1..=8_u8) {
        let lines = with_hoses(&lay, |line| rebuilt(line, 1.0, n));
        let one = with_hoses(&lay, |line| rebuilt(line, 1.0 / f64::from(n).powi(2), 1));
        same(flow(&lines), flow(&one))?;
    }

    #[test]
    fn splitting_a_hose_in_two_changes_nothing(lay in any_lays(Range::Usual), share in 0.2..0.8_f64) {
        let mut split = lay.clone();
        split.parts = lay.parts.iter().flat_map(|part| match part {
            Part::Hose(line) => vec![Part::Hose(longer(*line, share)), Part::Hose(longer(*line, 1.0 - share))],
            other => vec![other.clone()],
        }).collect();
        let (whole, split) = (answer(lay), answer(split));
        same(whole.answer().deliverable_gpm, split.answer().deliverable_gpm)?;
        prop_assert_eq!(whole.limited_by().limit, split.limited_by().limit);
        prop_assert_eq!(whole.diagnosis.code, split.diagnosis.code);
    }

    #[test]
    fn equal_branches_side_by_side_are_equal_lines(lay in any_lays(Range::Usual), n in 2..=8_u8) {
        let change = |to: &dyn Fn(Hose) -> Part| {
            let parts = lay.parts.iter().map(|part| if let Part::Hose(line) = part { to(*line) } else { part.clone() });
            LayProblem { parts: parts.collect(), ..lay.clone() }
        };
        let lines = change(&|line| Part::Hose(rebuilt(line, 1.0, n)));
        let branches = change(&|line| {
            let branch = Branch { parts: vec![BranchPart::Hose(rebuilt(line, 1.0, 1))] };
            Part::Parallel(vec![branch; usize::from(n)])
        });
        same(flow(&lines), flow(&branches))?;
    }

    #[test]
    fn a_boost_never_delivers_less_than_none(lay in lays(Range::Usual, Pumpers::Boost)) {
        let found = answer(lay);
        let boosted = found.boosted.as_ref().unwrap().deliverable_gpm;
        prop_assert!(boosted >= found.unboosted.deliverable_gpm);
        prop_assert!(found.gain_gpm.unwrap() >= 0.0);
    }

    #[test]
    fn the_budget_closes(lay in any_lays(Range::Usual)) {
        let found = answer(lay);
        for (line, _) in workings(&found) {
            let (main, scene) = (line.gauges[0], line.gauges[line.gauges.len() - 1]);
            prop_assert_eq!((main.station, scene.station), (Station::Main, Station::Scene));
            let taken: f64 = line.budget.iter().map(|line| line.loss_psi).sum();
            let moved: f64 = line.budget.iter().map(|line| line.loss_psi.abs()).sum();
            let left = main.pressure_psi - taken;
            prop_assert!((left - scene.pressure_psi).abs() <= 1e-12 * (moved + 1.0) * 100.0, "{left}, not {scene:?}");
            let pumped = line.budget.iter().filter(|line| line.part.kind == PartKind::Pumper).count();
            prop_assert_eq!(pumped, line.pumpers.len());
        }
    }

    #[test]
    fn gauges_hold_every_floor_at_the_delivered_flow(lay in any_lays(Range::Usual)) {
        let found = answer(lay.clone());
        for (line, _) in workings(&found).filter(|(line, _)| line.deliverable_gpm > 0.0) {
            let pumpers: Vec<&Pumper> = pumpers_of(&lay);
            for gauge in &line.gauges {
                let floor = match gauge.station {
                    Station::Main => lay.main_floor.psi(),
                    Station::PumperIntake(n) => pumpers[n - 1].intake_floor.psi(),
                    Station::Scene => lay.scene_floor.psi(),
                    Station::Hydrant | Station::PumperDischarge(_) => continue,
                };
                prop_assert!(gauge.pressure_psi >= floor * (1.0 - 1e-6) - 1e-6, "{gauge:?} under {floor}");
            }
        }
    }

    #[test]
    fn no_pumper_is_planned_past_what_it_has(lay in any_lays(Range::Usual)) {
        let found = answer(lay.clone());
        let target = lay.target.map_or(0.0, PositiveFlow::gpm);
        let at_target = found.at_target.iter().flat_map(|at| at.pumpers.iter().map(|reading| (reading, target)));
        let most = found.boosted.iter().filter(|line| line.deliverable_gpm > 0.0);
        let most = most.flat_map(|line| line.pumpers.iter().map(|reading| (reading, line.deliverable_gpm)));
        for (reading, gpm) in most.chain(at_target) {
            let pumper = pumpers_of(&lay)[reading.number - 1];
            prop_assert!(reading.net_psi >= 0.0 && reading.net_psi <= pumper.curve.net_psi(gpm) + 1e-6, "{reading:?}");
            prop_assert!(gpm <= pumper.curve.capacity_gpm() * (1.0 + 1e-9), "{gpm} past {:?}", pumper.curve);
            let ceiling = pumper.max_discharge.map_or(f64::MAX, Pressure::psi);
            prop_assert!(reading.discharge_psi <= ceiling.max(reading.intake_psi) + 1e-6, "{reading:?} over {ceiling}");
        }
    }

    #[test]
    fn limits_rise_and_the_first_is_what_arrives(lay in any_lays(Range::Usual)) {
        let found = answer(lay);
        for (line, _) in workings(&found) {
            prop_assert_eq!(line.limits[0].flow_gpm, Some(line.deliverable_gpm));
            let never = line.limits.iter().position(|limit| limit.flow_gpm.is_none()).unwrap_or(line.limits.len());
            prop_assert!(line.limits[..never].is_sorted_by_key(|limit| limit.flow_gpm.unwrap()), "{:?}", line.limits);
            prop_assert!(line.limits[never..].iter().all(|limit| limit.flow_gpm.is_none()), "{:?}", line.limits);
        }
    }

    #[test]
    fn every_limit_holds_just_under_its_flow_and_fails_just_over(lay in any_lays(Range::Usual)) {
        let found = answer(lay.clone());
        for (line, pumped) in workings(&found) {
            // Where the pumper would only limit, the hydrant's own limits stand for the boost too.
            let plain = PlainLine::new(&lay, pumped && line.limits.len() > 2);
            for limit in &line.limits {
                let spare = |gpm: f64| plain.spare(limit.limit, limit.station, gpm);
                let Some(gpm) = limit.flow_gpm else {
                    let far = plain.proved_gpm().unwrap_or(50_000.0);
                    prop_assert!(spare(far) >= -1e-7, "{limit:?} fails by {} at {far}", spare(far));
                    continue;
                };
                let (under, over) = (gpm * (1.0 - 1e-6), gpm * (1.0 + 1e-6) + 1e-6);
                prop_assert!(gpm == 0.0 || spare(under) >= -1e-7, "{limit:?} fails by {} just under", spare(under));
                let proved = plain.proved_gpm().is_some_and(|proved| gpm >= proved);
                prop_assert!(proved || spare(over) <= 1e-7, "{limit:?} has {} to spare just over", spare(over));
            }
        }
    }

    #[test]
    fn the_longest_lay_carries_the_flow_and_one_percent_more_does_not(lay in any_lays(Range::Usual), target in 50.0..2500.0_f64) {
        let lay = LayProblem { target: Some(gpm(target)), ..lay };
        let longest = answer(lay.clone()).longest_lay_ft;
        let total = total_ft(&lay);
        let rebuilt = |feet: f64| {
            let mut stretched = lay.clone();
            let line = longest_hose(&mut stretched)?;
            *line = line.with_length(Length::from_ft(line.length().ft() + feet - total).ok()?);
            Some(flow(&stretched))
        };
        if let Some(carried) = longest.and_then(|feet| rebuilt(feet * (1.0 - 1e-9))) {
            prop_assert!(carried >= target * (1.0 - 1e-7), "{carried} at {longest:?} ft");
        }
        if let Some(carried) = longest.and_then(|feet| rebuilt(feet * 1.01)) {
            prop_assert!(carried < target, "{carried} beyond {longest:?} ft");
        }
        if longest.is_none() && longest_hose(&mut lay.clone()).is_some() {
            // Not even at next to no length.
            if let Some(carried) = rebuilt(total - longest_hose(&mut lay.clone()).unwrap().length().ft() + 1.0) {
                prop_assert!(carried <= target * (1.0 + 1e-7), "{carried} arrives at 1 ft");
            }
        }
    }

    #[test]
    fn the_loss_of_stepped_lines_side_by_side_never_falls_with_flow(
        lay in lays(Range::Usual, Pumpers::None), a in 1.0..5000.0_f64, b in 1.0..5000.0_f64
    ) {
        let parts: Vec<Part> = lay.parts.into_iter().filter(|part| matches!(part, Part::Parallel(_))).collect();
        if parts.is_empty() {
            return Ok(());
        }
        // A main that never drops, so that what is lost between its gauge and the scene's is the lines'.
        let lost = |flow: f64| {
            let found = answer(LayProblem {
                target: Some(gpm(flow)), scene_floor: psi(0.0), ..problem(main(1000.0, 1000.0, 50_000.0), parts.clone())
            });
            let gauges = found.at_target.unwrap().gauges;
            gauges.first().map(|main| main.pressure_psi - gauges.last().unwrap().pressure_psi)
        };
        if let (Some(less), Some(more)) = (lost(a.min(b)), lost(a.max(b))) {
            prop_assert!(less >= 0.0 && less <= more + 1e-9, "{less} psi at less flow, {more} at more");
        }
    }

    #[test]
    fn the_supply_curve_and_its_inverse_agree(curve in curves(Range::Usual), share in 0.0..1.0_f64) {
        if curve.no_drop() {
            return Ok(());
        }
        let pressure = share * curve.static_psi();
        let there = curve.flow_gpm(pressure);
        prop_assert!((curve.pressure_psi(there) - pressure).abs() <= 1e-11 * curve.static_psi());
        same(curve.flow_gpm(curve.pressure_psi(there)), there).or_else(|fault| {
            // Next to static the pressure has too few digits left to give the flow back.
            if share > 0.999 { Ok(()) } else { Err(fault) }
        })?;
        same(curve.pressure_psi(curve.tested_gpm()), curve.residual_psi())?;
    }

    #[test]
    fn a_pumper_never_adds_more_at_more_flow(rated in 1.0..50_000.0_f64, a in 0.0..60_000.0_f64, b in 0.0..60_000.0_f64) {
        let curve = PumpCurve::from_rating(gpm(rated));
        prop_assert!(curve.net_psi(a.max(b)) <= curve.net_psi(a.min(b)));
    }
}

#[test]
fn a_larger_pumper_lifts_a_lay_the_pumper_limits() {
    // The law over random lays would hold, too, if a rating changed nothing.
    let lay = |rated| {
        problem(main(100.0, 90.0, 2000.0), vec![Part::Pumper(pumper(rated, None)), Part::Hose(hose(0.08, 500.0))])
    };
    close(flow(&lay(500.0)), 500.0, 1e-9);
    close(flow(&lay(1000.0)), 1000.0, 1e-9);
}
