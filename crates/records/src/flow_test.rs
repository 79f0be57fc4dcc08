//! A flow test: readings taken once, never edited, voided with a reason.

use chrono::{DateTime, NaiveDate, Utc};
use longlay_hydraulics::finding::{Finding, FindingCode};
use longlay_hydraulics::flow_test::MeasuredFlow;
use longlay_hydraulics::quantity::Pressure;
use longlay_hydraulics::spread::SourceSpread;
use longlay_hydraulics::supply::{NoFit, SupplyCurve, TestPoint};
use uuid::Uuid;

use crate::id::AssetId;

/// Most outlets read in one test.
pub const MAX_TEST_OUTLETS: usize = 24;
/// Most hydrants flowed in one test.
pub const MAX_FLOW_HYDRANTS: usize = 12;

/// A flow test, belonging to the hydrant that carried the gauge.
#[derive(Debug, Clone, PartialEq)]
pub struct FlowTest {
    /// Its id, given when it was recorded; version 7, so that it sorts by time of recording.
    pub id: Uuid,
    /// The gauge hydrant, on which static and residual were read.
    pub gauge_hydrant_id: AssetId,
    /// The day of the test.
    pub tested_on: NaiveDate,
    /// Pressure with nothing flowing.
    pub static_pressure: Pressure,
    /// Pressure while flowing.
    pub residual_pressure: Pressure,
    /// What flowed.
    pub flow: MeasuredFlow,
    /// Another flow at the same static, if one was taken.
    pub second_point: Option<SecondPoint>,
    /// The hydrants that flowed; empty where nobody wrote it down.
    pub flow_hydrant_ids: Vec<AssetId>,
    /// Anything else.
    pub notes: Option<String>,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// Set when the test was voided.
    pub voided: Option<Voided>,
}

/// Another flow of a test, with what the gauge read then.
#[derive(Debug, Clone, PartialEq)]
pub struct SecondPoint {
    /// Pressure while it flowed.
    pub residual_pressure: Pressure,
    /// What flowed.
    pub flow: MeasuredFlow,
}

/// The curve that follows from a test at its gauge, how far its readings may be off, and what they say against it.
#[derive(Debug, Clone, PartialEq)]
pub struct TestCurve {
    /// The curve.
    pub curve: SupplyCurve,
    /// How far its readings may be off.
    pub spread: SourceSpread,
    /// What the readings say against it.
    pub findings: Vec<Finding>,
}

/// Why a test no longer counts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Voided {
    /// The reason.
    pub reason: String,
    /// When.
    pub at: DateTime<Utc>,
}

impl FlowTest {
    /// Whether two tests say the same of the same hydrant on the same day: then they are one test, written down twice.
    pub fn reads_as(&self, other: &Self) -> bool {
        self.gauge_hydrant_id == other.gauge_hydrant_id
            && self.tested_on == other.tested_on
            && self.static_pressure == other.static_pressure
            && self.residual_pressure == other.residual_pressure
            && self.flow == other.flow
            && self.second_point == other.second_point
    }

    /// Whether the gauge hydrant itself flowed, alone: then its body loss is already in the curve.
    pub fn is_single_hydrant(&self) -> bool {
        self.flow_hydrant_ids.len() == 1 && self.flow_hydrant_ids[0] == self.gauge_hydrant_id
    }

    /// The curve through the test; none only where its readings are none, which no write lets in.
    ///
    /// Through two points it has the main's own exponent. Where they fit none, the pipe law is drawn through whichever of them promises less.
    pub fn curve(&self) -> Option<TestCurve> {
        let first = TestPoint { flow: self.flow.total().ok()?, residual: self.residual_pressure };
        let mut spread = SourceSpread::of_test(&self.flow);
        let mut findings = self.flow.findings();
        let Some(second) = &self.second_point else {
            let curve = self.through(first)?;
            findings.splice(..0, curve.findings());
            return Some(TestCurve { curve, spread, findings });
        };
        spread = spread.or_wider(SourceSpread::of_test(&second.flow));
        for finding in second.flow.findings() {
            if findings.iter().all(|known| known.code != finding.code) {
                findings.push(finding);
            }
        }
        let second = TestPoint { flow: second.flow.total().ok()?, residual: second.residual_pressure };
        let (curve, said) = match SupplyCurve::fitted(self.static_pressure, first, second) {
            Ok(curve) => (curve, curve.fitted_exponent().map(|n| Finding::new(FindingCode::FittedCurve, n))),
            Err(none) => {
                let exponent = if let NoFit::Exponent { exponent } = none { Some(exponent) } else { None };
                let unfit = Finding { value: exponent, ..Finding::plain(FindingCode::SecondPointUnfit) };
                (self.lesser(first, second)?, Some(unfit))
            }
        };
        findings.splice(..0, said.into_iter().chain(curve.findings()));
        Some(TestCurve { curve, spread, findings })
    }

    /// The flows of the test, its second point's too.
    pub fn flows(&self) -> impl Iterator<Item = &MeasuredFlow> {
        [&self.flow].into_iter().chain(self.second_point.as_ref().map(|second| &second.flow))
    }

    fn through(&self, point: TestPoint) -> Option<SupplyCurve> {
        SupplyCurve::new(self.static_pressure, point.residual, point.flow).ok()
    }

    fn lesser(&self, first: TestPoint, second: TestPoint) -> Option<SupplyCurve> {
        let [a, b] = [self.through(first), self.through(second)];
        let rated = |curve: &SupplyCurve| curve.flow_gpm(curve.rating_pressure_psi());
        match (a, b) {
            (Some(a), Some(b)) => Some(if rated(&b) < rated(&a) { b } else { a }),
            (a, b) => a.or(b),
        }
    }
}
