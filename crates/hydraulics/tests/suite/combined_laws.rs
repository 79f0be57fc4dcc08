//! The laws of several lines to one scene, over random lines.

use longlay_hydraulics::finding::FindingCode;
use longlay_hydraulics::lay::combined::{Combined, CombinedAnswer, CombinedProblem, LineReading, Mains, SupplyLine};
use longlay_hydraulics::lay::{Branch, BranchPart, LayProblem, Limit, Part, Station};
use longlay_hydraulics::quantity::{Pressure, Rise};
use proptest::collection::vec;
use proptest::prelude::*;

use crate::changes::{longer, pumpers_of, with_hoses};
use crate::common::{answer, gpm, problem};
use crate::lays::{Pumpers, Range, any_lays, lays, sources};

fn config() -> ProptestConfig {
    // A supply of several lines is some hundred times the work of a lay: a sixteenth of the cases.
    let usual = ProptestConfig::default();
    ProptestConfig { failure_persistence: None, cases: usual.cases / 16, ..usual }
}

/// Up to four lines from up to three hydrants.
fn supplies(range: Range) -> BoxedStrategy<Vec<SupplyLine>> {
    let line = (0..3_usize, any_lays(range));
    (vec(sources(range), 3), vec(line, 1..=4))
        .prop_map(|(sources, lines)| {
            let line = |(hydrant, lay)| SupplyLine { hydrant, problem: LayProblem { source: sources[hydrant], ..lay } };
            lines.into_iter().map(line).collect()
        })
        .boxed()
}

fn all(lines: &[SupplyLine], mains: Mains) -> CombinedAnswer {
    Combined::new(CombinedProblem { lines: lines.to_vec(), mains, target: None }).unwrap().answer()
}

fn total(lines: &[SupplyLine], mains: Mains) -> f64 {
    all(lines, mains).total_gpm
}

fn alone(line: &SupplyLine) -> f64 {
    answer(line.problem.clone()).answer().deliverable_gpm
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

/// The parts that a branch may hold, at least one of them hose.
fn branch_of(lay: &LayProblem) -> Option<Branch> {
    let piece = |part: &Part| match part {
        Part::Hose(hose) => Some(BranchPart::Hose(*hose)),
        Part::Appliance(appliance) => Some(BranchPart::Appliance(*appliance)),
        _ => None,
    };
    let parts: Vec<_> = lay.parts.iter().filter_map(piece).collect();
    parts.iter().any(|part| matches!(part, BranchPart::Hose(_))).then_some(Branch { parts })
}

fn floors_hold(lay: &LayProblem, reading: &LineReading) -> Result<(), TestCaseError> {
    for gauge in &reading.gauges {
        let floor = match gauge.station {
            Station::Main => lay.main_floor.psi(),
            Station::PumperIntake(n) => pumpers_of(lay)[n - 1].intake_floor.psi(),
            Station::Scene => lay.scene_floor.psi(),
            Station::Hydrant | Station::PumperDischarge(_) => continue,
        };
        prop_assert!(gauge.pressure_psi >= floor * (1.0 - 1e-6) - 1e-6, "{gauge:?} under {floor}");
    }
    for pumper in &reading.pumpers {
        let own = pumpers_of(lay)[pumper.number - 1];
        prop_assert!(pumper.net_psi <= own.curve.net_psi(reading.flow_gpm) + 1e-6, "{pumper:?}");
        prop_assert!(reading.flow_gpm <= own.curve.capacity_gpm() * (1.0 + 1e-9), "{pumper:?}");
        let ceiling = own.max_discharge.map_or(f64::MAX, Pressure::psi);
        prop_assert!(pumper.discharge_psi <= ceiling.max(pumper.intake_psi) + 1e-6, "{pumper:?} over {ceiling}");
    }
    Ok(())
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn one_line_is_the_lay(lay in any_lays(Range::Usual), hydrant in 0..9_usize) {
        let own = answer(lay.clone());
        for mains in [Mains::Shared, Mains::Separate, Mains::Unknown] {
            let found = all(&[SupplyLine { hydrant, problem: lay.clone() }], mains);
            same(found.total_gpm, own.answer().deliverable_gpm)?;
            let line = &found.lines[0];
            prop_assert!(line.open);
            if found.total_gpm > 0.0 {
                prop_assert_eq!((line.limited_by.limit, line.limited_by.station), (own.limited_by().limit, own.limited_by().station));
            }
            for (gauge, of_lay) in line.reading.gauges.iter().zip(&own.answer().gauges) {
                prop_assert_eq!((gauge.station, gauge.distance_ft, gauge.elevation_ft), (of_lay.station, of_lay.distance_ft, of_lay.elevation_ft));
                prop_assert!((gauge.pressure_psi - of_lay.pressure_psi).abs() < 1e-5, "{gauge:?} is not {of_lay:?}");
            }
        }
    }

    #[test]
    fn one_line_is_no_surer_than_its_lay(lay in any_lays(Range::Usual)) {
        let own = answer(lay.clone());
        let found = all(&[SupplyLine { hydrant: 0, problem: lay }], Mains::Unknown);
        prop_assert!(found.total_band.low <= own.answer().band.low * (1.0 + 1e-9) + 1e-7, "{:?} {:?}", found.total_band, own.answer().band);
    }

    #[test]
    fn one_main_never_brings_more_than_several(lines in supplies(Range::Usual)) {
        let found = all(&lines, Mains::Unknown);
        let (shared, separate) = (total(&lines, Mains::Shared), total(&lines, Mains::Separate));
        at_most(shared, separate)?;
        same(found.total_gpm, shared)?;
        same(found.upper_gpm.unwrap(), separate)?;
    }

    #[test]
    fn all_lines_never_bring_less_than_the_best_of_them(lines in supplies(Range::Usual)) {
        let best = lines.iter().map(alone).fold(0.0, f64::max);
        let found = all(&lines, Mains::Shared);
        at_most(best, found.total_gpm)?;
        same(found.best_single_gpm, best)?;
        for line in &found.lines {
            at_most(line.reading.flow_gpm, line.alone_gpm)?;
        }
    }

    #[test]
    fn one_more_line_never_lowers_the_total(lines in supplies(Range::Usual)) {
        for mains in [Mains::Shared, Mains::Separate] {
            let of = |count: usize| if count == 0 { 0.0 } else { total(&lines[..count], mains) };
            at_most(of(lines.len() - 1), of(lines.len()))?;
        }
    }

    #[test]
    fn equal_lines_of_one_hydrant_are_branches_side_by_side(
        lay in lays(Range::Usual, Pumpers::None), n in 1..=8_usize
    ) {
        let Some(branch) = branch_of(&lay) else { return Ok(()) };
        let of_branch = branch.parts.iter().map(|piece| match piece {
            BranchPart::Hose(hose) => Part::Hose(*hose),
            BranchPart::Appliance(appliance) => Part::Appliance(*appliance),
        });
        let line = LayProblem { parts: of_branch.collect(), ..lay.clone() };
        let together = if n == 1 { line.parts.clone() } else { vec![Part::Parallel(vec![branch; n])] };
        let lines = vec![SupplyLine { hydrant: 7, problem: line }; n];
        let found = all(&lines, Mains::Unknown);
        let parallel = answer(LayProblem { parts: together, ..lay });
        same(found.total_gpm, parallel.answer().deliverable_gpm)?;
        for line in &found.lines {
            #[expect(clippy::cast_precision_loss, reason = "n is at most 8")]
            same(line.reading.flow_gpm, found.total_gpm / n as f64)?;
        }
    }

    #[test]
    fn longer_hose_never_brings_more(lines in supplies(Range::Usual), which in any::<prop::sample::Index>(), factor in 1.0..3.0_f64) {
        let mut longer_lines = lines.clone();
        let line = &mut longer_lines[which.index(lines.len())];
        line.problem = with_hoses(&line.problem, |hose| longer(hose, factor));
        for mains in [Mains::Shared, Mains::Separate] {
            at_most(total(&longer_lines, mains), total(&lines, mains))?;
        }
    }

    #[test]
    fn a_line_too_high_to_bring_anything_changes_nothing(lines in supplies(Range::Usual), lay in lays(Range::Usual, Pumpers::None)) {
        let mut higher = problem(lines[0].problem.source, lay.parts);
        higher.parts.push(Part::Rise(Rise::from_ft(3000.0).unwrap()));
        // Its floor is no hindrance: it is not met sooner than the others'.
        higher.main_floor = Pressure::from_psi(0.0).unwrap();
        let with_it: Vec<_> = lines.iter().cloned().chain([SupplyLine { hydrant: lines[0].hydrant, problem: higher }]).collect();
        let found = all(&with_it, Mains::Shared);
        same(found.total_gpm, total(&lines, Mains::Shared))?;
        same(found.lines[lines.len()].adds_gpm + found.total_gpm, found.total_gpm)?;
    }

    #[test]
    fn the_order_of_the_lines_is_of_no_account(lines in supplies(Range::Usual)) {
        let turned: Vec<_> = lines.iter().rev().cloned().collect();
        for mains in [Mains::Shared, Mains::Separate] {
            same(total(&lines, mains), total(&turned, mains))?;
        }
    }

    #[test]
    fn flows_add_up_and_every_floor_holds(lines in supplies(Range::Usual), share in 0.1..1.0_f64) {
        for mains in [Mains::Shared, Mains::Separate] {
            let found = all(&lines, mains);
            let sum: f64 = found.lines.iter().map(|line| line.reading.flow_gpm).sum();
            same(sum, found.total_gpm)?;
            let of_hydrants: f64 = found.mains.iter().map(|main| main.hydrant_gpm).sum();
            same(of_hydrants, found.total_gpm)?;
            for (line, asked) in found.lines.iter().zip(&lines).filter(|(line, _)| line.reading.flow_gpm > 0.0) {
                floors_hold(&asked.problem, &line.reading)?;
            }
            if found.total_gpm * share < 2.0 {
                continue;
            }
            let target = Some(gpm(found.total_gpm * share));
            let problem = CombinedProblem { lines: lines.clone(), mains, target };
            let at = Combined::new(problem).unwrap().answer().at_target.unwrap();
            prop_assert!(at.met && at.shortfall_gpm == 0.0);
            same(at.lines.iter().map(|line| line.flow_gpm).sum(), found.total_gpm * share)?;
            for (line, asked) in at.lines.iter().zip(&lines).filter(|(line, _)| line.flow_gpm > 0.0) {
                floors_hold(&asked.problem, line)?;
            }
        }
    }

    #[test]
    fn what_holds_a_line_holds_it(lines in supplies(Range::Usual)) {
        // Every line carries all that its limits let through, or a main is at its floor for all lines that draw on it.
        let found = all(&lines, Mains::Shared);
        let held_by_main = |i: usize| found.lines[i].limited_by.limit == Limit::MainFloor;
        for i in (0..lines.len()).filter(|&i| found.lines[i].open && held_by_main(i)) {
            same(found.total_gpm, found.main_limit_gpm)?;
            prop_assert!((0..lines.len()).all(|other| !found.lines[other].open || held_by_main(other)), "line {i}");
        }
        for line in found.lines.iter().filter(|line| line.open && line.reading.flow_gpm > 1.0) {
            if line.limited_by.limit == Limit::SceneIntake || line.limited_by.limit == Limit::PumperIntake {
                let gauge = line.reading.gauges.iter().find(|gauge| gauge.station == line.limited_by.station);
                prop_assert!(gauge.is_some(), "no gauge at {:?}", line.limited_by);
            }
        }
    }

    #[test]
    fn every_supply_inside_the_bounds_has_a_finite_answer(lines in supplies(Range::Extreme), target in 1.0..50_000.0_f64) {
        for mains in [Mains::Unknown, Mains::Separate] {
            let problem = CombinedProblem { lines: lines.clone(), mains, target: Some(gpm(target)) };
            let found = Combined::new(problem).unwrap().answer();
            let mut numbers = vec![found.total_gpm, found.gain_gpm, found.main_limit_gpm, found.best_single_gpm];
            numbers.extend(found.upper_gpm);
            let at_target = found.at_target.iter().flat_map(|at| &at.lines);
            for line in found.lines.iter().map(|line| &line.reading).chain(at_target) {
                numbers.push(line.flow_gpm);
                let readings = line.pumpers.iter().flat_map(|p| [p.intake_psi, p.discharge_psi, p.net_psi]);
                prop_assert!(readings.chain(line.gauges.iter().map(|g| g.pressure_psi)).all(f64::is_finite), "{line:?}");
            }
            numbers.extend(found.lines.iter().flat_map(|line| [line.alone_gpm, line.adds_gpm]));
            numbers.extend(found.mains.iter().flat_map(|main| [main.hydrant_gpm, main.main_gpm]));
            prop_assert!(numbers.iter().all(|number| number.is_finite() && *number >= 0.0), "{numbers:?}");
            prop_assert!(found.mains.iter().all(|main| main.residual_psi.is_finite()), "{:?}", found.mains);
            prop_assert!(!found.diagnosis.message.contains("NaN"));
        }
    }

    #[test]
    fn mains_not_known_are_found_only_where_there_is_more_than_one_hydrant(lines in supplies(Range::Usual)) {
        let found = all(&lines, Mains::Unknown);
        let several = lines.iter().any(|line| line.hydrant != lines[0].hydrant);
        prop_assert_eq!(found.findings.iter().any(|finding| finding.code == FindingCode::MainNotKnown), several);
    }
}
