//! One hydrant over one length and one rise.

use crate::bulk::Powers;
use crate::lay::many::boost::{Push, SAME};
use crate::lay::many::low::Low;
use crate::lay::many::ready::{CASES, HEADS, HOSE, Ready};
use crate::lay::many::tables::Tables;
use crate::lay::many::together::by_square;
use crate::lay::many::{Arrives, By};
use crate::loss::PSI_PER_FOOT;
use crate::quantity::Flow;

/// A hydrant, a length and a rise.
#[derive(Clone, Copy)]
pub(super) struct Pair<'a> {
    pub(super) tables: &'a Tables,
    pub(super) ready: &'a Ready,
    pub(super) length_ft: f64,
    pub(super) rise_psi: f64,
    /// What must be left at the scene, at the hydrant's height, psi.
    pub(super) need_psi: f64,
}

/// What arrives in every case, and the low end of it all.
#[derive(Clone, Copy)]
pub(super) struct Found {
    pub(super) gpm: [f64; CASES],
    pub(super) low_gpm: f64,
}

impl Found {
    pub(super) const fn arrives(&self) -> Arrives {
        Arrives { gpm: self.gpm[0], low_gpm: self.low_gpm }
    }
}

impl<'a> Pair<'a> {
    pub(super) fn new(tables: &'a Tables, ready: &'a Ready, length_ft: f64, rise_ft: f64) -> Self {
        let rise_psi = PSI_PER_FOOT * rise_ft;
        Self { tables, ready, length_ft, rise_psi, need_psi: tables.scene_floor_psi + rise_psi }
    }

    /// What the lay loses with the hydrant alone, psi per gpm².
    pub(super) fn alone_k(&self, case: usize) -> f64 {
        self.ready.body_of(case) + self.tables.leg(case).alone.at(self.length_ft)
    }

    /// What the lay loses after the pumper, psi per gpm².
    pub(super) fn pumped_k(&self, case: usize) -> f64 {
        self.tables.leg(case).from_pump.at(self.length_ft)
    }

    /// The figure with the hydrant alone.
    pub(super) fn alone_gpm(&self) -> f64 {
        self.tables.reach_gpm(&self.ready.mains[0], self.alone_k(0), self.need_psi).min(self.ready.main.gpm)
    }

    /// The figure with the pumper, which falls back to the hydrant alone; none without a pumper.
    pub(super) fn boosted_gpm(&self, alone_gpm: f64) -> Option<f64> {
        self.tables.boost.as_ref()?;
        let upstream = self.ready.main.gpm.min(self.ready.intake[0]).min(self.hose_gpm(0));
        // No better than the hydrant alone already: the pumper's own limit makes it no more.
        if upstream <= alone_gpm {
            return Some(alone_gpm);
        }
        Some(upstream.min(self.capacity_gpm(0)).max(alone_gpm))
    }

    pub(super) fn gpm(&self) -> By<f64> {
        let alone = self.alone_gpm();
        By { alone, boosted: self.boosted_gpm(alone) }
    }

    /// With the hydrant alone, every case.
    pub(super) fn alone(&self) -> Found {
        let Self { tables, ready, .. } = *self;
        let main = &ready.mains[0];
        let (mut gpm, k) = ([0.0; CASES], self.alone_k(0));
        let head = main.static_psi - self.need_psi;
        if head <= 0.0 || main.gpm <= 0.0 {
            return Found { gpm, low_gpm: 0.0 };
        }
        let bend = tables.bend_of(head);
        let reach = tables.through_gpm(head, main.bend * bend, k);
        gpm[0] = reach.min(main.gpm);
        let (mut low, mut reach_low) = (Low::of(gpm[0]), Low::of(reach));
        for case in (1..CASES).filter(|case| ready.has(*case)) {
            let main = ready.main_of(case);
            let then = if case < HEADS {
                tables.reach_gpm(main, k, self.need_psi)
            } else {
                let k = if case >= HOSE { self.alone_k(case) } else { k };
                tables.through_gpm(head, main.bend * bend, k)
            };
            gpm[case] = then.min(main.gpm).min(gpm[0]);
            low.add(gpm[case]);
            reach_low.add(then);
        }
        let reach_low = if reach < ready.proved_gpm { reach_low.gpm() } else { f64::INFINITY };
        Found { gpm, low_gpm: low.gpm().min(reach_low).min(self.main_low_gpm()) }
    }

    /// Whether the low end with the hydrant alone may be as much as this: never no where it is, and a fraction of its cost.
    pub(super) fn may_hold_alone(&self, low_gpm: f64) -> bool {
        if low_gpm < Powers::LEAST {
            return true;
        }
        // The low end is under what arrives in each case, by more than the tables are off.
        let power = self.tables.flows.at(low_gpm);
        self.cases().all(|case| {
            let static_psi = self.ready.main_of(case).static_psi;
            let lost = self.ready.drop_of(case) * power + self.alone_k(case) * low_gpm * low_gpm;
            static_psi - lost - self.need_psi >= -SAME * static_psi
        })
    }

    /// The cases that there are, as read first.
    pub(super) fn cases(&self) -> impl Iterator<Item = usize> + use<> {
        let cases = self.ready.cases;
        (0..CASES).filter(move |case| cases >> case & 1 == 1)
    }

    pub(super) fn arrives(&self) -> By<Arrives> {
        let alone = self.alone();
        By { alone: alone.arrives(), boosted: self.boosted(&alone).map(|found| found.arrives()) }
    }

    /// The low end of the main's own limit; without bound where no limit of it is known.
    pub(super) fn main_low_gpm(&self) -> f64 {
        let main = self.ready.main;
        if main.gpm < Flow::BOUND.max { main.low_gpm } else { f64::INFINITY }
    }

    /// The most that the markings let through; without bound where there is none.
    pub(super) fn hose_gpm(&self, case: usize) -> f64 {
        let boost = self.tables.boost.as_ref();
        boost.map_or(f64::INFINITY, |boost| boost.hose_gpm(self.pumped_k(case), self.rise_psi, self.need_psi))
    }

    fn capacity_gpm(&self, case: usize) -> f64 {
        self.tables.boost.as_ref().map_or(0.0, |boost| boost.capacity_gpm(&self.tables.flows, self.push(case)))
    }

    /// What presses and is lost in a case with the pumper.
    pub(super) fn push(&self, case: usize) -> Push {
        self.pushed_by(case, self.ready.main_of(case).static_psi, self.ready.drop_of(case))
    }

    fn pushed_by(&self, case: usize, main_psi: f64, drop: f64) -> Push {
        let k = self.tables.to_pump(self.ready, case) + self.pumped_k(case);
        Push { main_psi, drop, k, need_psi: self.need_psi }
    }

    /// What the pumper brings while the main holds this, whatever flows, gpm, with about what a psi more of it brings.
    pub(super) fn pumped_at(&self, case: usize, main_psi: f64) -> (f64, f64) {
        let Some(boost) = &self.tables.boost else { return (0.0, 0.0) };
        let head = main_psi - boost.intake_floor_psi;
        if head < 0.0 {
            return (0.0, 0.0);
        }
        let to_pump = self.tables.to_pump(self.ready, case);
        let intake = if to_pump > 0.0 { by_square(head, to_pump) } else { (f64::INFINITY, 0.0) };
        let capacity = boost.capacity_gpm(&self.tables.flows, self.pushed_by(case, main_psi, 0.0));
        let hose = self.hose_gpm(case);
        if intake.0 <= hose.min(capacity) {
            return intake;
        }
        if hose <= capacity {
            return (hose, 0.0);
        }
        let falls = 2.0 * (to_pump + self.pumped_k(case)) * capacity - boost.net_slope(capacity);
        (capacity, if falls > 0.0 { 1.0 / falls } else { 0.0 })
    }
}
