//! One hydrant over one length and one rise with the pumper, and the low end of that.

use crate::bulk::Powers;
use crate::lay::many::Arrives;
use crate::lay::many::legs::LEGS;
use crate::lay::many::low::Low;
use crate::lay::many::pair::{Found, Pair};
use crate::lay::many::ready::{CASES, HOSE, LOSSES};
use crate::quantity::Flow;

/// The least of what main, intake, markings and pumper let through, in every case.
struct Limits {
    gpm: [f64; CASES],
    /// The least of the low ends that they have each by itself.
    low_gpm: f64,
    /// The last flow of the pumper's curve.
    rated_gpm: f64,
}

impl Pair<'_> {
    /// With the pumper, every case; none without one.
    pub(super) fn boosted(&self, alone: &Found) -> Option<Found> {
        Some(self.with_limits(alone, &self.limits()?))
    }

    /// The same without its cases: mostly the pumper brings more in all of them than the hydrant alone as read, whose own cases then do not matter.
    pub(super) fn arrives_boosted(&self) -> Option<Arrives> {
        let (limits, alone_gpm) = (self.limits()?, self.alone_gpm());
        if self.cases().all(|case| limits.gpm[case] >= alone_gpm) {
            let found = self.with_limits(&Found { gpm: [0.0; CASES], low_gpm: 0.0 }, &limits);
            if found.low_gpm >= alone_gpm {
                return Some(found.arrives());
            }
        }
        Some(self.with_limits(&self.alone(), &limits).arrives())
    }

    /// Whether the low end with the pumper may be as much as this: never no where it is, and a fraction of its cost; none without a pumper.
    pub(super) fn may_hold(&self, low_gpm: f64) -> Option<bool> {
        let boost = self.tables.boost.as_ref()?;
        // The low end is under what arrives in each case, by more than the tables are off.
        let by_pumper = || {
            self.ready.intake_low.min(self.main_low_gpm()).min(self.hose_gpm(0)) >= low_gpm && {
                let power = self.tables.flows.at(low_gpm);
                boost.carries(low_gpm, power, self.cases().map(|case| self.push(case)))
            }
        };
        Some(low_gpm < Powers::LEAST || by_pumper() || self.alone_gpm() >= low_gpm)
    }

    fn with_limits(&self, alone: &Found, limits: &Limits) -> Found {
        let mut gpm = alone.gpm;
        gpm[0] = gpm[0].max(limits.gpm[0]);
        let mut low = Low::of(gpm[0]);
        for case in self.cases().skip(1) {
            gpm[case] = gpm[case].max(limits.gpm[case]).min(gpm[0]);
            low.add(gpm[case]);
        }
        Found { gpm, low_gpm: low.gpm_up_to(limits.rated_gpm).min(limits.low_gpm).max(alone.low_gpm) }
    }

    fn limits(&self) -> Option<Limits> {
        let (ready, powers, boost) = (self.ready, &self.tables.flows, self.tables.boost.as_ref()?);
        let mut hose = [0.0; LEGS];
        for (leg, case) in [0, HOSE, LOSSES].into_iter().enumerate() {
            hose[leg] = self.hose_gpm(case);
        }
        let capacity = boost.capacity_gpm(powers, self.push(0));
        let near = boost.near(powers, capacity);
        let mut gpm = [0.0; CASES];
        gpm[0] = ready.main.gpm.min(ready.intake[0]).min(hose[0]).min(capacity);
        let (mut hose_low, mut capacity_low) = (Low::of(hose[0]), Low::of(capacity));
        for case in self.cases().skip(1) {
            let hose = hose[case.saturating_sub(HOSE - 1).min(LEGS - 1)];
            let push = self.push(case);
            let from_near = near.as_ref().and_then(|near| push.used_up_near(powers, near));
            let capacity = from_near.unwrap_or_else(|| boost.capacity_gpm(powers, push));
            gpm[case] = ready.main_of(case).gpm.min(ready.intake[case]).min(hose).min(capacity);
            hose_low.add(hose);
            capacity_low.add(capacity);
        }
        let of_hose = if hose[0] < Flow::BOUND.max { hose_low.gpm() } else { f64::INFINITY };
        let of_capacity =
            if capacity < Flow::BOUND.max { capacity_low.gpm_up_to(boost.rated_gpm()) } else { f64::INFINITY };
        let low_gpm =
            [self.main_low_gpm(), ready.intake_low, of_hose, of_capacity].into_iter().fold(f64::INFINITY, f64::min);
        Some(Limits { gpm, low_gpm, rated_gpm: boost.rated_gpm() })
    }
}
