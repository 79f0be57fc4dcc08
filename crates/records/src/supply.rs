//! The policy from a hydrant's tests to one supply curve with findings.
//!
//! A hydrant's own newest test stands first. Without one, it borrows: from the newest test in which it flowed itself, else from the nearest
//! tested hydrant on the same main and not in another pressure zone. A borrowed curve is corrected for the ground. Nothing at all is no data, which
//! is an error with its reason, and never a curve of nothing.

use std::sync::Arc;

use chrono::{Months, NaiveDate};
use longlay_hydraulics::band::{Band, flow_band};
use longlay_hydraulics::finding::{Finding, FindingCode, OLD_TEST_YEARS};
use longlay_hydraulics::flow_test::PUMPER_OUTLET_FROM_IN;
use longlay_hydraulics::quantity::{ApplianceCoefficient, OutOfBounds, Pressure};
use longlay_hydraulics::rating::CapacityClass;
use longlay_hydraulics::spread::SourceSpread;
use longlay_hydraulics::supply::SupplyCurve;
use thiserror::Error;
use uuid::Uuid;

use crate::departure::departures_among;
use crate::flow_test::{FlowTest, TestCurve};
use crate::history::rated;
use crate::hydrant::{Hydrant, HydrantOutlet, OutletKind};
use crate::id::AssetId;

/// Farthest gauge hydrant on the same main that a test is borrowed from, ft in a straight line. A judgement of ours: about two blocks, so that
/// a main's far end does not answer for its strong one.
pub const BORROW_WITHIN_FT: f64 = 1000.0;

/// Loss of a hydrant's body and outlet where it was never measured, psi/(100 gpm)²: 5 psi at 1000 gpm through a pumper outlet. From memory of the
/// standards for hydrants.
pub const DEFAULT_BODY_LOSS: f64 = 0.05;

/// The same where a hydrant has no pumper outlet: 1 psi at 250 gpm through a 2-1/2 in outlet. From memory of the same standards.
pub const HOSE_OUTLET_BODY_LOSS: f64 = 0.16;

/// A test with the hydrant that carried its gauge. A test bears on every hydrant of its main, so it is shared and not copied for each.
#[derive(Debug, Clone, PartialEq)]
pub struct GaugedTest {
    /// The test.
    pub test: Arc<FlowTest>,
    /// The gauge hydrant, retired or not.
    pub gauge: Arc<Hydrant>,
}

/// All that bears on one hydrant's supply: its own tests, the tests in which it flowed, and the tests gauged at other hydrants on its
/// main. Voided ones too: they are weighed here, not filtered by the store.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The hydrant asked about.
    pub hydrant: Hydrant,
    /// The tests, each once, in any order.
    pub tests: Vec<GaugedTest>,
}

/// What a hydrant's main does, by the test that says so.
#[derive(Debug, Clone, PartialEq)]
pub struct Supply {
    /// The curve, at this hydrant's ground.
    pub curve: SupplyCurve,
    /// The test.
    pub test_id: Uuid,
    /// Its day.
    pub tested_on: NaiveDate,
    /// Days since.
    pub age_days: i64,
    /// The gauge hydrant, where it is another.
    pub borrowed_from: Option<AssetId>,
    /// The loss of the hydrant's body that the curve does not hold; none where a single-hydrant test holds it.
    pub body_loss: Option<ApplianceCoefficient>,
    /// Whether that loss is the default.
    pub body_loss_assumed: bool,
    /// How far the readings behind it may be off.
    pub spread: SourceSpread,
    /// What is weak about it.
    pub findings: Vec<Finding>,
}

/// Why there is no curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum NoSupply {
    /// Nobody tested it, nor a neighbour it may borrow from.
    #[error(
        "no flow test bears on this hydrant: its own, one it flowed in, or one on its main within {BORROW_WITHIN_FT} ft"
    )]
    NoTest,
    /// Every test that bears on it was voided.
    #[error("every flow test that bears on this hydrant was voided")]
    AllVoided,
    /// Tests there are, but from none follows a curve at this hydrant's ground.
    #[error("no flow test that bears on this hydrant gives a curve at its elevation")]
    NoneUsable,
}

/// Turns evidence into one curve.
///
/// # Errors
/// No test, only voided ones, or none that gives a curve here.
pub fn supply(evidence: &Evidence, today: NaiveDate) -> Result<Supply, NoSupply> {
    let best = |tests: Vec<&GaugedTest>| tests.into_iter().find_map(|tested| worked(&evidence.hydrant, tested, today));
    // Its own stand before all others: a whole main's are weighed only where none of them gives a curve.
    let found = best(by_worth(own(evidence))).or_else(|| best(by_worth(bears_on(evidence))));
    let mut found = found.ok_or_else(|| none_of(evidence))?;
    found.findings.extend(departures_among(evidence, found.test_id));
    if found.borrowed_from.is_none() {
        found.findings.extend(rated(evidence).findings);
        found.findings.extend(set_aside(evidence, found.tested_on));
    }
    // It may be kept, for each of a whole town's hydrants.
    found.findings.shrink_to_fit();
    Ok(found)
}

/// Why none gives a curve.
fn none_of(evidence: &Evidence) -> NoSupply {
    let mut voided = bears_on(evidence).map(|(.., tested)| tested.test.voided.is_some()).peekable();
    if voided.peek().is_none() {
        NoSupply::NoTest
    } else if voided.all(|voided| voided) {
        NoSupply::AllVoided
    } else {
        NoSupply::NoneUsable
    }
}

/// Those that were not voided, best first.
fn by_worth<'a>(tests: impl Iterator<Item = (Claim, f64, &'a GaugedTest)>) -> Vec<&'a GaugedTest> {
    let mut tests: Vec<_> = tests.filter(|(_, _, tested)| tested.test.voided.is_none()).collect();
    // Own before flowed before neighbour; the nearest neighbour; one whose gauge fell before one whose gauge hardly did, which could only make the
    // main look better than it is; then the newest test, and of one day's the last recorded.
    tests.sort_by(|(a, near, x), (b, far, y)| {
        a.cmp(b)
            .then(near.total_cmp(far))
            .then_with(|| hardly_fell(&x.test).cmp(&hardly_fell(&y.test)))
            .then(y.test.tested_on.cmp(&x.test.tested_on))
            .then(y.test.id.cmp(&x.test.id))
    });
    tests.into_iter().map(|(_, _, tested)| tested).collect()
}

/// Whether a test shows a drop, and one so little that its projection is worth next to nothing. One without any proves its flow and no more, which is safe.
fn hardly_fell(test: &FlowTest) -> bool {
    let found = test.curve().map(|of| of.findings).unwrap_or_default();
    found.iter().any(|finding| finding.code == FindingCode::DropUnder10Percent)
}

/// The newest of the hydrant's own tests that was passed over for an older one.
fn set_aside(evidence: &Evidence, used: NaiveDate) -> Option<Finding> {
    let live = own(evidence).map(|(.., tested)| &tested.test).filter(|test| test.voided.is_none());
    let newest = live.max_by_key(|test| (test.tested_on, test.id))?;
    let curve = newest.curve()?.curve;
    let percent = 100.0 * (curve.static_psi() - curve.residual_psi()) / curve.static_psi();
    (newest.tested_on > used).then_some(Finding::new(FindingCode::NewerTestSetAside, percent))
}

#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum Claim {
    Own,
    Flowed,
    SameMain,
}

/// Its own tests, as [`bears_on`] tells them.
fn own(evidence: &Evidence) -> impl Iterator<Item = (Claim, f64, &GaugedTest)> {
    let own = evidence.tests.iter().filter(|tested| tested.gauge.id == evidence.hydrant.id);
    own.map(|tested| (Claim::Own, 0.0, tested))
}

/// Tests with their claim on the hydrant, and for neighbours the distance.
fn bears_on(evidence: &Evidence) -> impl Iterator<Item = (Claim, f64, &GaugedTest)> {
    let hydrant = &evidence.hydrant;
    evidence.tests.iter().filter_map(move |tested| {
        if tested.gauge.id == hydrant.id {
            return Some((Claim::Own, 0.0, tested));
        }
        if tested.test.flow_hydrant_ids.contains(&hydrant.id) {
            return Some((Claim::Flowed, 0.0, tested));
        }
        let same_main = hydrant.main_id.is_some() && hydrant.main_id == tested.gauge.main_id;
        let zones = hydrant.pressure_zone.as_ref().zip(tested.gauge.pressure_zone.as_ref());
        let same_zone = zones.is_none_or(|(a, b)| a == b);
        let feet = (same_main && same_zone).then(|| hydrant.location.distance_ft(&tested.gauge.location));
        feet.filter(|feet| *feet <= BORROW_WITHIN_FT).map(|feet| (Claim::SameMain, feet, tested))
    })
}

fn worked(hydrant: &Hydrant, tested: &GaugedTest, today: NaiveDate) -> Option<Supply> {
    let GaugedTest { test, gauge } = tested;
    let TestCurve { curve: at_gauge, mut spread, findings: said_of_test } = test.curve()?;
    let borrowed = gauge.id != hydrant.id;
    let mut curve = at_gauge;
    let mut findings = Vec::new();
    if borrowed {
        spread = spread.borrowed(at_gauge.static_psi() - at_gauge.residual_psi());
        findings.push(Finding::new(FindingCode::Borrowed, hydrant.location.distance_ft(&gauge.location)));
        if let Some((here, there)) = hydrant.elevation.zip(gauge.elevation) {
            curve = at_gauge.at_elevation(here.ft() - there.ft())?;
        } else {
            spread = spread.ground_unknown();
            findings.push(Finding::plain(FindingCode::ElevationUnknown));
        }
    }
    findings.extend(curve.findings());
    // What the readings say against themselves is a matter of the gauge's own static, and stands wherever the test is used; what lies at this
    // hydrant's ground is told for this ground.
    let here = |code: FindingCode| at_gauge.findings().iter().any(|f| f.code == code) && !is_of_the_gauge(code);
    let said: Vec<_> = findings.iter().map(|finding| finding.code).collect();
    findings.extend(said_of_test.into_iter().filter(|f| !here(f.code) && !said.contains(&f.code)));
    if lacks_pumper_outlet(hydrant) {
        findings.push(Finding::plain(FindingCode::NoPumperOutlet));
    }
    let holds_body_loss = test.is_single_hydrant() && !borrowed;
    if test.flow_hydrant_ids.contains(&gauge.id) {
        findings.push(Finding::plain(FindingCode::SingleHydrantTest));
    }
    // A test may be dated by a clock east of ours.
    let age_days = (today - test.tested_on).num_days().max(0);
    if is_old(test.tested_on, today) {
        #[expect(clippy::cast_precision_loss, reason = "days of a calendar are far under 2^52")]
        findings.push(Finding::new(FindingCode::OldTest, age_days as f64 / 365.25));
    }
    Some(Supply {
        curve,
        test_id: test.id,
        tested_on: test.tested_on,
        age_days,
        borrowed_from: borrowed.then(|| gauge.id.clone()),
        body_loss: (!holds_body_loss).then(|| body_loss(hydrant)).transpose().ok()?,
        body_loss_assumed: !holds_body_loss && hydrant.body_loss.is_none(),
        spread,
        findings,
    })
}

const fn is_of_the_gauge(code: FindingCode) -> bool {
    use FindingCode::{DropUnder10Percent, DropUnder25Percent, PressureImplausible};
    matches!(code, DropUnder10Percent | DropUnder25Percent | PressureImplausible)
}

fn body_loss(hydrant: &Hydrant) -> Result<ApplianceCoefficient, OutOfBounds> {
    let default = if lacks_pumper_outlet(hydrant) { HOSE_OUTLET_BODY_LOSS } else { DEFAULT_BODY_LOSS };
    hydrant.body_loss.map_or_else(|| ApplianceCoefficient::from_psi_per_100gpm2(default), Ok)
}

/// Whether its outlets are known, and none of them is a pumper outlet.
fn lacks_pumper_outlet(hydrant: &Hydrant) -> bool {
    let large =
        |outlet: &HydrantOutlet| outlet.kind == OutletKind::Pumper || outlet.diameter.inches() >= PUMPER_OUTLET_FROM_IN;
    !hydrant.outlets.is_empty() && !hydrant.outlets.iter().any(large)
}

fn is_old(tested_on: NaiveDate, today: NaiveDate) -> bool {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small whole number of years")]
    let months = Months::new(12 * OLD_TEST_YEARS as u32);
    tested_on.checked_add_months(months).is_some_and(|grows_old| today > grows_old)
}

/// What a hydrant is rated at, for the records.
#[derive(Debug, Clone, PartialEq)]
pub struct Capability {
    /// Flow at `rated_at_psi`, gpm; none where the test showed no drop.
    pub rated_flow_gpm: Option<f64>,
    /// What the test proves where it showed no drop, gpm.
    pub at_least_gpm: Option<f64>,
    /// How far the rated flow may be off; around the proved flow where the test showed no drop.
    pub rated_flow_band: Band,
    /// The pressure it is rated at, psi.
    pub rated_at_psi: f64,
    /// Its class by the rating rule, whatever floor was asked; none where the test showed no drop.
    pub class: Option<CapacityClass>,
    /// Flow, gpm, and pressure, psi, from no flow to the rated (or proved) flow.
    pub curve: Vec<(f64, f64)>,
}

/// Points of a capability's curve.
const CURVE_POINTS: u32 = 11;

impl Supply {
    /// The rating at 20 psi (or half of a low static), or at another floor if one is asked.
    pub fn capability(&self, floor: Option<Pressure>) -> Capability {
        let curve = &self.curve;
        let rated_at_psi = floor.map_or_else(|| curve.rating_pressure_psi(), Pressure::psi);
        let rated_flow_gpm = (!curve.no_drop()).then(|| curve.flow_gpm(rated_at_psi));
        let at_least_gpm = curve.no_drop().then(|| curve.flow_gpm(rated_at_psi));
        let end = rated_flow_gpm.or(at_least_gpm).unwrap_or(0.0);
        let point = |i: u32| {
            let gpm = end * f64::from(i) / f64::from(CURVE_POINTS - 1);
            (gpm, curve.pressure_psi(gpm))
        };
        Capability {
            rated_flow_gpm,
            at_least_gpm,
            rated_flow_band: flow_band(curve, &self.spread, rated_at_psi),
            rated_at_psi,
            class: curve.rated_flow_gpm().map(CapacityClass::of_rated_flow),
            curve: (0..CURVE_POINTS).map(point).collect(),
        }
    }
}

#[cfg(test)]
mod tests;
