//! What the gauges read on every line and every main, at flows that add up.

use alloc::vec::Vec;

use crate::lay::budget::Gauge;
use crate::lay::combined::problem::{Combined, Mains};
use crate::lay::combined::solve::Share;
use crate::lay::plan::PumperReading;
use crate::loss::squared_psi;

/// One line at a flow.
#[derive(Debug, Clone, PartialEq)]
pub struct LineReading {
    /// What it carries, gpm.
    pub flow_gpm: f64,
    /// What its pumpers do; empty where the hydrant alone supplies it or it is shut.
    pub pumpers: Vec<PumperReading>,
    /// What its gauges read; empty where it is shut.
    pub gauges: Vec<Gauge>,
}

/// The main at a hydrant, with all lines flowing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HydrantMain {
    /// The hydrant.
    pub hydrant: usize,
    /// What the hydrant gives, gpm.
    pub hydrant_gpm: f64,
    /// What all hydrants draw that are counted as on its main, gpm.
    pub main_gpm: f64,
    /// What is left in the main there, psi.
    pub residual_psi: f64,
}

/// Mains and lines at flows that add up.
pub(super) struct State<'a> {
    combined: &'a Combined,
    shares: &'a [Share],
    /// The flows as a share of what the shares say.
    part: f64,
}

impl<'a> State<'a> {
    pub(super) const fn new(combined: &'a Combined, shares: &'a [Share], part: f64) -> Self {
        Self { combined, shares, part }
    }

    fn gpm_where(&self, counts: impl Fn(usize) -> bool) -> f64 {
        let lines = self.combined.lines.iter().zip(self.shares);
        self.part * lines.filter(|(line, _)| counts(line.hydrant)).map(|(_, share)| share.gpm).sum::<f64>()
    }

    /// The mains, each hydrant once, in order of its first line.
    pub(super) fn mains(&self) -> Vec<HydrantMain> {
        let mut mains: Vec<HydrantMain> = Vec::new();
        let separate = self.combined.mains == Mains::Separate;
        for line in &self.combined.lines {
            let hydrant = line.hydrant;
            if mains.iter().any(|main| main.hydrant == hydrant) {
                continue;
            }
            let main_gpm = self.gpm_where(|other| !separate || other == hydrant);
            let residual_psi = line.lay.problem.source.curve.pressure_psi(main_gpm);
            let hydrant_gpm = self.gpm_where(|other| other == hydrant);
            mains.push(HydrantMain { hydrant, hydrant_gpm, main_gpm, residual_psi });
        }
        mains
    }

    /// The lines, in their order.
    pub(super) fn lines(&self) -> Vec<LineReading> {
        let mains = self.mains();
        let reading = |(i, share): (usize, &Share)| {
            let hydrant = self.combined.lines[i].hydrant;
            let main = mains.iter().find(|main| main.hydrant == hydrant).filter(|_| share.open);
            main.map_or_else(
                || LineReading { flow_gpm: 0.0, pumpers: Vec::new(), gauges: Vec::new() },
                |main| self.line(i, share, main),
            )
        };
        self.shares.iter().enumerate().map(reading).collect()
    }

    fn line(&self, i: usize, share: &Share, main: &HydrantMain) -> LineReading {
        let line = &self.combined.lines[i];
        let flow_gpm = self.part * share.gpm;
        let feed = line.feed();
        let working = feed.working(share.pumped, main.residual_psi - squared_psi(feed.body, main.hydrant_gpm));
        // With this line running alone the main holds more than with all: the discharge that opens the valve then opens it now.
        let change_over = line.lay.problem.boost.as_ref().filter(|_| share.pumped);
        let change_over = change_over.and_then(|_| line.lay.change_over_psi(line.lay.alone_gpm()));
        let pumpers = working.plan(flow_gpm, change_over);
        let mut gauges = working.gauges(flow_gpm, &pumpers);
        if let Some(first) = gauges.first_mut() {
            first.pressure_psi = main.residual_psi;
        }
        LineReading { flow_gpm, pumpers, gauges }
    }
}
