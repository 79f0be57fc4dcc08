//! Whatever the bounds let in is answered in finite numbers: over every quantity's whole range, ends included.

use longlay_hydraulics::lay::{BudgetLine, Gauge, Lay, LayAnswer, LineAnswer, PumperReading};
use proptest::prelude::*;

use crate::lays::{Range, any_lays, curves};

/// What a number is, and the number.
type Named = (&'static str, f64);

/// Every number of an answer: those that cannot be under nothing, and the others.
fn numbers(found: &LayAnswer) -> (Vec<Named>, Vec<Named>) {
    let mut flows = vec![("main limit", found.main_limit_gpm)];
    let mut others = Vec::new();
    for line in [Some(&found.unboosted), found.boosted.as_ref()].into_iter().flatten() {
        of_line(line, &mut flows, &mut others);
    }
    flows.extend(found.gain_gpm.filter(|gain| *gain >= 0.0).map(|gpm| ("gain", gpm)));
    others.extend(found.gain_gpm.map(|gpm| ("gain of pumpers as written", gpm)));
    others.extend(found.change_over_psi.map(|psi| ("change-over", psi)));
    others.extend(found.intake_at_main_floor_psi.map(|psi| ("intake at the main's floor", psi)));
    flows.extend(found.longest_lay_ft.map(|feet| ("longest lay", feet)));
    if let Some(at) = &found.at_target {
        flows.push(("shortfall", at.shortfall_gpm));
        gauges(&at.gauges, &mut flows, &mut others);
        pumpers(&at.pumpers, &mut others);
    }
    if let Some(fill) = &found.fill {
        flows.extend([("fill", fill.gallons), ("fill time", fill.seconds), ("fill flow", fill.at_gpm)]);
        flows.extend(fill.tank_seconds.map(|seconds| ("tank time", seconds)));
    }
    others.extend(found.findings.iter().filter_map(|finding| Some((finding.code.code(), finding.value?))));
    (flows, others)
}

fn of_line(line: &LineAnswer, flows: &mut Vec<Named>, others: &mut Vec<Named>) {
    flows.push(("deliverable", line.deliverable_gpm));
    flows.extend(line.limits.iter().filter_map(|limit| Some((limit.limit.code(), limit.flow_gpm?))));
    others.push(("scene at no flow", line.scene_no_flow_psi));
    others.extend(line.budget.iter().map(|BudgetLine { part, loss_psi }| (part.kind.code(), *loss_psi)));
    gauges(&line.gauges, flows, others);
    pumpers(&line.pumpers, others);
}

fn gauges(gauges: &[Gauge], flows: &mut Vec<Named>, others: &mut Vec<Named>) {
    for gauge in gauges {
        flows.push(("distance", gauge.distance_ft));
        others.extend([("elevation", gauge.elevation_ft), ("gauge", gauge.pressure_psi)]);
    }
}

fn pumpers(readings: &[PumperReading], others: &mut Vec<Named>) {
    for reading in readings {
        others.extend([("intake", reading.intake_psi), ("discharge", reading.discharge_psi), ("net", reading.net_psi)]);
    }
}

/// Eight times the usual number: the ends of many ranges have to meet by chance.
fn config() -> ProptestConfig {
    let usual = ProptestConfig::default();
    ProptestConfig { cases: 8 * usual.cases, failure_persistence: None, ..usual }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn every_lay_inside_the_bounds_has_a_finite_answer(lay in any_lays(Range::Extreme)) {
        let found = Lay::new(lay).unwrap().answer();
        let (flows, others) = numbers(&found);
        for (what, value) in flows {
            prop_assert!(value.is_finite() && value >= 0.0, "{what}: {value}");
        }
        for (what, value) in others {
            prop_assert!(value.is_finite(), "{what}: {value}");
        }
        prop_assert!(found.diagnosis.message.len() > 20 && !found.diagnosis.message.contains("NaN"));
    }

    #[test]
    fn every_test_inside_the_bounds_has_finite_findings(curve in curves(Range::Extreme), pressure in 0.0..=1000.0_f64) {
        for finding in curve.findings() {
            prop_assert!(finding.value.is_some_and(f64::is_finite), "{finding:?}");
        }
        let rated = curve.rated_flow_gpm();
        prop_assert!(rated.is_none_or(|gpm| gpm.is_finite() && gpm >= 0.0), "{rated:?}");
        prop_assert!(curve.flow_gpm(pressure).is_finite() && curve.flow_gpm(pressure) >= 0.0);
        prop_assert!(curve.pressure_psi(50_000.0).is_finite());
    }
}
