//! Whether a test reads as the hydrant's others do: a slipped digit makes an assured answer, and only the others show it.

use chrono::Datelike;
use longlay_hydraulics::finding::{Detail, Finding, FindingCode, LEAST_DROP_SHARE};
use longlay_hydraulics::supply::SupplyCurve;
use uuid::Uuid;

use crate::flow_test::FlowTest;
use crate::supply::Evidence;

/// Share of another test's static by which a static is far from it. A judgement of ours: day, season and a pump switched on move a main by less.
pub const FAR_STATIC_SHARE: f64 = 0.25;
/// How many times another's a rated flow is far from it. A judgement of ours: a valve left shut may halve a main, and less is the gauges' doing.
pub const FAR_FLOW_TIMES: f64 = 2.0;

/// Whether a finding asks that a reading be looked at before it is recorded or believed.
pub const fn asks_for_a_check(code: FindingCode) -> bool {
    matches!(code, FindingCode::PressureImplausible | FindingCode::StaticDiffers | FindingCode::FlowDiffers)
}

/// In what a test is far from every other of the same gauge hydrant that was not voided; the newest of those is named. One like it clears it, but
/// not the same readings written down twice.
pub fn departures<'a>(test: &FlowTest, others: impl Iterator<Item = &'a FlowTest>) -> Vec<Finding> {
    let Some(here) = test.curve().filter(|_| test.voided.is_none()) else { return Vec::new() };
    let counts = |other: &&FlowTest| {
        other.gauge_hydrant_id == test.gauge_hydrant_id
            && other.id != test.id
            && other.voided.is_none()
            && !other.reads_as(test)
    };
    let mut others: Vec<_> = others.filter(counts).filter_map(|other| Some((other, other.curve()?.curve))).collect();
    others.sort_by_key(|(other, _)| (other.tested_on, other.id));
    let far_from_all = |code, compare: fn(&SupplyCurve, &SupplyCurve) -> Option<Compared>| {
        let mut told: Vec<_> =
            others.iter().filter_map(|(other, curve)| Some((other, compare(&here.curve, curve)?))).collect();
        let far = told.iter().all(|(_, compared)| compared.far);
        let (newest, compared) = told.pop().filter(|_| far)?;
        let detail = Detail::OtherTest { value: compared.there, day: newest.tested_on.num_days_from_ce() };
        Some(Finding::new(code, compared.here).with(detail))
    };
    let found = [far_from_all(FindingCode::StaticDiffers, statics), far_from_all(FindingCode::FlowDiffers, flows)];
    found.into_iter().flatten().collect()
}

/// The same of a test among all that bear on a hydrant.
pub(crate) fn departures_among(evidence: &Evidence, test_id: Uuid) -> Vec<Finding> {
    let tests = || evidence.tests.iter().map(|tested| &*tested.test);
    tests().find(|test| test.id == test_id).map_or_else(Vec::new, |test| departures(test, tests()))
}

/// What two tests have of the same.
struct Compared {
    here: f64,
    there: f64,
    far: bool,
}

#[expect(clippy::unnecessary_wraps, reason = "as the flows are compared, which may not be told")]
fn statics(here: &SupplyCurve, there: &SupplyCurve) -> Option<Compared> {
    let (here, there) = (here.static_psi(), there.static_psi());
    Some(Compared { here, there, far: (here - there).abs() > FAR_STATIC_SHARE * there })
}

/// At one pressure. A gauge that hardly fell says what the main gives at the least: against it only a flow that is more is far. None where nothing
/// can be told.
fn flows(here: &SupplyCurve, there: &SupplyCurve) -> Option<Compared> {
    let at_psi = here.rating_pressure_psi().min(there.rating_pressure_psi());
    let rated = |curve: &SupplyCurve| {
        let drop_psi = curve.static_psi() - curve.residual_psi();
        let tells = !curve.no_drop() && drop_psi >= LEAST_DROP_SHARE * curve.static_psi();
        tells.then(|| curve.flow_gpm(at_psi))
    };
    let proved = |curve: &SupplyCurve| curve.tested_gpm().min(curve.flow_gpm(at_psi));
    let compared = |here: f64, there: f64, far| Compared { here, there, far };
    match (rated(here), rated(there)) {
        (Some(a), Some(b)) => Some(compared(a, b, a > FAR_FLOW_TIMES * b || b > FAR_FLOW_TIMES * a)),
        (None, Some(b)) => Some(proved(here)).filter(|a| *a > FAR_FLOW_TIMES * b).map(|a| compared(a, b, true)),
        (Some(a), None) => Some(proved(there)).filter(|b| *b > FAR_FLOW_TIMES * a).map(|b| compared(a, b, true)),
        (None, None) => None,
    }
}

#[cfg(test)]
mod tests {
    use chrono::{DateTime, NaiveDate};
    use longlay_hydraulics::flow_test::MeasuredFlow;
    use longlay_hydraulics::quantity::{PositiveFlow, Pressure};

    use super::*;
    use crate::flow_test::Voided;
    use crate::id::AssetId;

    fn test(n: u32, psi: (f64, f64), gpm: f64) -> FlowTest {
        FlowTest {
            id: Uuid::from_u128(n.into()),
            gauge_hydrant_id: AssetId::new("H-1").unwrap(),
            tested_on: NaiveDate::from_ymd_opt(2026, 1, n).unwrap(),
            static_pressure: Pressure::from_psi(psi.0).unwrap(),
            residual_pressure: Pressure::from_psi(psi.1).unwrap(),
            flow: MeasuredFlow::Metered(PositiveFlow::from_gpm(gpm).unwrap()),
            second_point: None,
            flow_hydrant_ids: Vec::new(),
            notes: None,
            recorded_at: DateTime::UNIX_EPOCH,
            voided: None,
        }
    }

    fn found(of: &FlowTest, others: &[FlowTest]) -> Vec<(FindingCode, f64)> {
        departures(of, others.iter()).iter().map(|finding| (finding.code, finding.value.unwrap())).collect()
    }

    #[test]
    fn a_slipped_static_names_the_newest_of_the_others() {
        let (old, new) = (test(1, (66.0, 44.0), 900.0), test(2, (68.0, 46.0), 940.0));
        let slip = test(3, (680.0, 46.0), 940.0);
        let said = departures(&slip, [&new, &old].into_iter());
        // 1 January 2026 is day 2025 x 365 + 506 - 20 + 5 + 1.
        let detail = Detail::OtherTest { value: 68.0, day: 739_617 + 1 };
        assert_eq!(said, [Finding::new(FindingCode::StaticDiffers, 680.0).with(detail)]);
        assert_eq!(found(&new, &[old, slip]), [], "one of the others bears it out");
    }

    #[test]
    fn a_static_is_far_over_a_quarter_and_a_flow_over_twice() {
        let has = |psi, gpm| found(&test(2, psi, gpm), &[test(1, (60.0, 40.0), 800.0)]);
        assert_eq!((has((75.0, 45.0), 800.0), has((45.0, 30.0), 800.0)), (vec![], vec![]));
        assert_eq!(has((75.1, 45.0), 800.0), [(FindingCode::StaticDiffers, 75.1)]);
        assert_eq!(has((44.9, 30.0), 800.0), [(FindingCode::StaticDiffers, 44.9)]);
        let codes = |gpm| has((60.0, 40.0), gpm).into_iter().map(|(code, _)| code).collect::<Vec<_>>();
        assert_eq!((codes(1600.0), codes(400.0)), (vec![], vec![]));
        assert_eq!((codes(1601.0), codes(399.0)), (vec![FindingCode::FlowDiffers], vec![FindingCode::FlowDiffers]));
    }

    #[test]
    fn a_gauge_that_hardly_fell_says_what_the_main_gives_at_the_least() {
        let good = test(1, (60.0, 40.0), 800.0);
        // Good for 800 (40/20)^0.54 = 1163 gpm.
        for residual in [60.0, 57.0] {
            assert_eq!(found(&test(2, (60.0, residual), 300.0), std::slice::from_ref(&good)), []);
            let slip = test(2, (60.0, residual), 3000.0);
            assert_eq!(found(&slip, std::slice::from_ref(&good)), [(FindingCode::FlowDiffers, 3000.0)]);
            assert_eq!(found(&good, &[slip])[0].0, FindingCode::FlowDiffers);
        }
    }

    #[test]
    fn what_is_voided_the_same_twice_or_read_elsewhere_bears_nothing_out_and_refutes_nothing() {
        let (slip, good) = (test(3, (680.0, 46.0), 940.0), test(1, (68.0, 46.0), 940.0));
        let twice = FlowTest { id: Uuid::from_u128(9), ..slip.clone() };
        assert_eq!(found(&slip, &[good.clone(), twice]).len(), 1);
        let void = |test: &FlowTest| {
            let voided = Voided { reason: "gauge was broken".to_owned(), at: DateTime::UNIX_EPOCH };
            FlowTest { voided: Some(voided), ..test.clone() }
        };
        let elsewhere = FlowTest { gauge_hydrant_id: AssetId::new("H-2").unwrap(), ..good.clone() };
        assert_eq!(found(&slip, &[void(&good), elsewhere]), []);
        assert_eq!(found(&void(&slip), &[good]), []);
    }
}
