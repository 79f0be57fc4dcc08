//! A hydrant's own tests over the years: what each said, whether it falls, and whether the readings explain it.

use chrono::{Datelike, NaiveDate};
use longlay_hydraulics::band::{Band, flow_band};
use longlay_hydraulics::finding::{Finding, FindingCode};
use uuid::Uuid;

use crate::departure::{asks_for_a_check, departures_among};
use crate::flow_test::{FlowTest, TestCurve};
use crate::supply::Evidence;

/// Fewest tests of which a trend is told, and the years they must span. A judgement of ours: two points always lie on a line.
pub const TREND_TESTS: usize = 3;
/// See [`TREND_TESTS`].
pub const TREND_YEARS: f64 = 1.0;

/// What one test of a hydrant said.
#[derive(Debug, Clone, PartialEq)]
pub struct PastTest {
    /// The test.
    pub test_id: Uuid,
    /// Its day.
    pub tested_on: NaiveDate,
    /// Static pressure, psi.
    pub static_psi: f64,
    /// Residual at its largest flow, psi.
    pub residual_psi: f64,
    /// Its largest flow, gpm.
    pub flow_gpm: f64,
    /// Flow at `rated_at_psi`, gpm; none where it showed no drop.
    pub rated_flow_gpm: Option<f64>,
    /// The pressure all tests of the history are rated at, psi.
    pub rated_at_psi: f64,
    /// How far that may be off; around the proved flow where it showed no drop.
    pub band: Band,
    /// What its readings say against it, and in what it is far from the others.
    pub findings: Vec<Finding>,
}

/// A hydrant's own tests, the oldest first.
#[derive(Debug, Clone, PartialEq)]
pub struct History {
    /// The tests that count.
    pub tests: Vec<PastTest>,
    /// What the rated flow gained or lost a year, gpm; none of fewer than [`TREND_TESTS`], or within [`TREND_YEARS`].
    pub trend_gpm_per_year: Option<f64>,
    /// What the tests say against each other, and what of the newest is to be looked at.
    pub findings: Vec<Finding>,
}

impl History {
    /// The newest test.
    pub fn latest(&self) -> Option<&PastTest> {
        self.tests.last()
    }

    /// The test of the lowest rated flow.
    pub fn lowest(&self) -> Option<&PastTest> {
        let rated = self.tests.iter().filter(|test| test.rated_flow_gpm.is_some());
        rated.min_by(|a, b| a.rated_flow_gpm.unwrap_or(f64::MAX).total_cmp(&b.rated_flow_gpm.unwrap_or(f64::MAX)))
    }
}

/// The history of a hydrant by its own tests that were not voided. Tests gauged elsewhere tell of other places, and are no part of it.
pub fn history(evidence: &Evidence) -> History {
    let mut found = rated(evidence);
    for past in &mut found.tests {
        past.findings.extend(departures_among(evidence, past.test_id));
    }
    let latest = found.tests.last().into_iter().flat_map(|latest| &latest.findings);
    found.findings.extend(latest.filter(|finding| asks_for_a_check(finding.code)));
    found
}

/// The same without holding each against each, which an answer that rests on one of them has no need of.
pub(crate) fn rated(evidence: &Evidence) -> History {
    let own = evidence.tests.iter().map(|tested| &tested.test);
    let mut own: Vec<_> =
        own.filter(|test| test.gauge_hydrant_id == evidence.hydrant.id && test.voided.is_none()).collect();
    own.sort_by_key(|test| (test.tested_on, test.id));
    let curves: Vec<_> = own.into_iter().filter_map(|test| Some((test, test.curve()?))).collect();
    // One pressure for all: a static that wanders about 40 psi would rate like with unlike.
    let rated_at_psi = curves.iter().map(|(_, of)| of.curve.rating_pressure_psi()).reduce(f64::min).unwrap_or(0.0);
    let tests: Vec<_> = curves.into_iter().map(|(test, of)| past(test, &of, rated_at_psi)).collect();
    History { trend_gpm_per_year: trend(&tests), findings: changes(&tests).into_iter().collect(), tests }
}

fn past(test: &FlowTest, of: &TestCurve, rated_at_psi: f64) -> PastTest {
    let curve = of.curve;
    PastTest {
        test_id: test.id,
        tested_on: test.tested_on,
        static_psi: curve.static_psi(),
        residual_psi: curve.residual_psi(),
        flow_gpm: curve.tested_gpm(),
        rated_flow_gpm: (!curve.no_drop()).then(|| curve.flow_gpm(rated_at_psi)),
        rated_at_psi,
        band: flow_band(&curve, &of.spread, rated_at_psi),
        findings: of.findings.clone(),
    }
}

/// The slope of the line of least squares through the rated flows.
fn trend(tests: &[PastTest]) -> Option<f64> {
    let points: Vec<_> = tests.iter().filter_map(|test| Some((years(test.tested_on), test.rated_flow_gpm?))).collect();
    let (first, last) = (points.first()?, points.last()?);
    if points.len() < TREND_TESTS || last.0 - first.0 < TREND_YEARS {
        return None;
    }
    let count = points.iter().map(|_| 1.0).sum::<f64>();
    let (mean_x, mean_y) =
        points.iter().fold((0.0, 0.0), |sum, point| (sum.0 + point.0 / count, sum.1 + point.1 / count));
    let (xy, xx) = points
        .iter()
        .fold((0.0, 0.0), |sum, (x, y)| (sum.0 + (x - mean_x) * (y - mean_y), sum.1 + (x - mean_x) * (x - mean_x)));
    Some(xy / xx)
}

fn years(day: NaiveDate) -> f64 {
    f64::from(day.num_days_from_ce()) / 365.25
}

/// Whether the newest test lies outside the band of an earlier one, and the bands do not meet: the readings do not explain it. Of several, the
/// newest of the earlier that says so.
fn changes(tests: &[PastTest]) -> Option<Finding> {
    let (latest, earlier) = tests.split_last()?;
    earlier.iter().rev().find_map(|before| {
        let (then, now) = (before.rated_flow_gpm.unwrap_or(before.band.low), latest.rated_flow_gpm);
        let fell = latest.band.high.is_some_and(|high| high < before.band.low);
        let rose = before.band.high.is_some_and(|high| high < latest.band.low);
        let percent = |now: f64| 100.0 * (now - then).abs() / then;
        match now {
            Some(now) if fell => Some(Finding::new(FindingCode::CapacityFell, percent(now))),
            Some(now) if rose => Some(Finding::new(FindingCode::CapacityRose, percent(now))),
            _ => None,
        }
    })
}
