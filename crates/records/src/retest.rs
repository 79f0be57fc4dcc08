//! What is to be tested next: what a new test of a hydrant would settle.
//!
//! The measure is the width of the band of its rated flow: how much of it a good test of its own would take away. What no reading tells, that a main
//! changes over the years and that its capacity fell, widens the band first.

use std::cmp::{Ordering, Reverse};

use chrono::NaiveDate;
use longlay_hydraulics::band::{Band, flow_band};
use longlay_hydraulics::finding::{Finding, FindingCode, GOOD_DROP_SHARE, OLD_TEST_YEARS};
use longlay_hydraulics::quantity::{PositiveFlow, Pressure};
use longlay_hydraulics::spread::{SourceSpread, Spread};
use longlay_hydraulics::supply::SupplyCurve;

use crate::history::rated;
use crate::hydrant::Status;
use crate::id::AssetId;
use crate::supply::{Evidence, NoSupply, Supply, supply};

pub mod sketch;

/// How far a rated flow drifts for every year that its test is past the age at which one is old, as a share of it. A judgement of ours: mains roughen and
/// demand grows, by a few percent in a year at most.
pub const DRIFT_SHARE_PER_YEAR: f64 = 0.02;
/// How far the flow of a good test is off by its pitots, as a share: half a psi of 20. Common practice.
const GOOD_PITOT_SHARE: f64 = 0.0125;
/// How far it is off by its outlets' coefficients, as a share. Common practice.
const GOOD_OUTLET_SHARE: f64 = 0.02;

/// How much a new test would settle, the most first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Settles {
    /// Everything: no usable test bears on the hydrant.
    Everything,
    /// How much it has over what was proved, gpm: no end bounds it.
    HighEnd {
        /// What may be planned on now, gpm: the less, the more is at stake.
        low_gpm: f64,
    },
    /// So much of the width of its band, gpm.
    Width {
        /// The width taken away, gpm.
        gpm: f64,
    },
}

/// Why a hydrant is on the list.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reason {
    /// What is weak about the data, and a new test cures.
    Finding(Finding),
    /// Why there is no curve.
    NoSupply(NoSupply),
    /// So much of the band's width a new test takes away, gpm.
    Width(f64),
    /// It is out of service: it is tested when it comes back.
    OutOfService,
}

/// What a new test of a hydrant would settle.
#[derive(Debug, Clone, PartialEq)]
pub struct Retest {
    /// The hydrant.
    pub hydrant_id: AssetId,
    /// Whether it may be counted on.
    pub in_service: bool,
    /// What stands now.
    pub supply: Option<Supply>,
    /// How much a new test would settle.
    pub settles: Settles,
    /// The band of the rated flow now; none where it is untested.
    pub band_now: Option<Band>,
    /// The band after a good test, if it reads as the last one; none where no figure stands to draw it around.
    pub band_then: Option<Band>,
    /// What the test should flow for a drop of a quarter, gpm; none where no drop is known.
    pub target_gpm: Option<f64>,
    /// Why, the weightiest first.
    pub reasons: Vec<Reason>,
}

/// Where a hydrant stands on the list. Two hydrants never stand on one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// The part of the list: those in service by [`Settles`], then those out of it.
    pub part: u8,
    /// Within the part: the least stands first.
    pub within: f64,
    /// Among equals.
    pub hydrant_id: AssetId,
}

impl Eq for Place {}

impl PartialOrd for Place {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Place {
    fn cmp(&self, other: &Self) -> Ordering {
        let within = self.within.total_cmp(&other.within);
        self.part.cmp(&other.part).then(within).then_with(|| self.hydrant_id.cmp(&other.hydrant_id))
    }
}

impl Retest {
    /// Its place.
    pub fn place(&self) -> Place {
        let (part, within) = match self.settles {
            Settles::Everything => (0, 0.0),
            Settles::HighEnd { low_gpm } => (1, low_gpm),
            Settles::Width { gpm } => (2, -gpm),
        };
        let part = if self.in_service { part } else { part + 3 };
        Place { part, within, hydrant_id: self.hydrant_id.clone() }
    }
}

/// What a new test of this hydrant would settle.
pub fn retest(evidence: &Evidence, today: NaiveDate) -> Retest {
    let in_service = evidence.hydrant.status == Status::InService;
    let out = (!in_service).then_some(Reason::OutOfService);
    let of = |settles, supply, reasons: Vec<Reason>| Retest {
        hydrant_id: evidence.hydrant.id.clone(),
        in_service,
        supply,
        settles,
        band_now: None,
        band_then: None,
        target_gpm: None,
        reasons: out.into_iter().chain(reasons).collect(),
    };
    let found = match supply(evidence, today) {
        Ok(found) => found,
        Err(none) => return of(Settles::Everything, None, vec![Reason::NoSupply(none)]),
    };
    let at_psi = found.curve.rating_pressure_psi();
    let now = flow_band(&found.curve, &found.spread, at_psi);
    let then = after_good_test(&found.curve).map(|(curve, spread)| flow_band(&curve, &spread, at_psi));
    let settles = settles(evidence, &found, &now, then.as_ref());
    let mut cured: Vec<_> = found.findings.iter().filter(|finding| is_cured(finding.code)).copied().collect();
    cured.sort_by_key(|finding| Reverse(finding.code.severity()));
    let width = match settles {
        Settles::Width { gpm } if gpm > 0.0 => Some(Reason::Width(gpm)),
        _ => None,
    };
    let reasons = cured.into_iter().map(Reason::Finding).chain(width).collect();
    let target_gpm = target_gpm(&found.curve);
    Retest { band_now: Some(now), band_then: then, target_gpm, ..of(settles, Some(found), reasons) }
}

fn settles(evidence: &Evidence, found: &Supply, now: &Band, then: Option<&Band>) -> Settles {
    let (Some(high), Some(then)) = (now.high, then) else { return Settles::HighEnd { low_gpm: now.low } };
    let Some(high_then) = then.high else { return Settles::HighEnd { low_gpm: now.low } };
    let unsaid = drift_gpm(found) + fallen_gpm(evidence, found);
    Settles::Width { gpm: (high - now.low + unsaid - (high_then - then.low)).max(0.0) }
}

/// What the years may have changed.
fn drift_gpm(found: &Supply) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "days of a calendar are far under 2^52")]
    let years = found.age_days as f64 / 365.25;
    let rated = found.curve.flow_gpm(found.curve.rating_pressure_psi());
    rated * DRIFT_SHARE_PER_YEAR * (years - OLD_TEST_YEARS).max(0.0)
}

/// What the hydrant once had more than now, where its tests say that it fell: either the new figure or the main is wrong.
fn fallen_gpm(evidence: &Evidence, found: &Supply) -> f64 {
    if found.findings.iter().all(|finding| finding.code != FindingCode::CapacityFell) {
        return 0.0;
    }
    let past = rated(evidence);
    let flows = past.tests.iter().filter_map(|test| test.rated_flow_gpm);
    let most = flows.fold(0.0, f64::max);
    let latest = past.latest().and_then(|test| test.rated_flow_gpm).unwrap_or(most);
    most - latest
}

/// The curve as it stands, through a test of the hydrant's own that drops the gauge by a quarter, or as far as the last did; and how far that is off.
fn after_good_test(curve: &SupplyCurve) -> Option<(SupplyCurve, SourceSpread)> {
    let spread = SourceSpread {
        pitot: Spread::even(GOOD_PITOT_SHARE),
        outlet: Spread::even(GOOD_OUTLET_SHARE),
        flow_only: Spread::NONE,
        ..SourceSpread::of_numbers()
    };
    let target = target_gpm(curve)?;
    if curve.fitted_exponent().is_some() || curve.tested_gpm() >= target {
        return Some((*curve, spread));
    }
    let still = curve.static_psi();
    let residual = Pressure::from_psi((1.0 - GOOD_DROP_SHARE) * still).ok()?;
    let tested = PositiveFlow::from_gpm(target).ok()?;
    Some((SupplyCurve::new(Pressure::from_psi(still).ok()?, residual, tested).ok()?, spread))
}

/// The flow at which the gauge falls by a quarter of the static.
fn target_gpm(curve: &SupplyCurve) -> Option<f64> {
    (!curve.no_drop()).then(|| curve.flow_gpm((1.0 - GOOD_DROP_SHARE) * curve.static_psi()))
}

/// Whether a new, good test of the hydrant's own does away with it.
const fn is_cured(code: FindingCode) -> bool {
    use FindingCode::{
        Borrowed, CapacityFell, CapacityRose, DropUnder10Percent, DropUnder25Percent, ElevationUnknown, FlowDiffers,
        LongExtrapolation, NewerTestSetAside, NoDrop, OldTest, PitotHigh, PitotLow, PressureImplausible,
        SecondPointUnfit, SingleHydrantTest, StaticDiffers,
    };
    matches!(
        code,
        Borrowed
            | CapacityFell
            | CapacityRose
            | DropUnder10Percent
            | DropUnder25Percent
            | ElevationUnknown
            | LongExtrapolation
            | NewerTestSetAside
            | NoDrop
            | OldTest
            | PitotHigh
            | PitotLow
            | SecondPointUnfit
            | SingleHydrantTest
            | StaticDiffers
            | FlowDiffers
            | PressureImplausible
    )
}

#[cfg(test)]
mod tests;
