//! The exact solver, for whatever the tables do not hold.

use alloc::vec::Vec;

use crate::band::Band;
use crate::lay::combined::{Combined, CombinedProblem, Mains, SupplyLine};
use crate::lay::compile::Lay;
use crate::lay::limits::least;
use crate::lay::many::{Arrives, By, ManyLays};
use crate::lay::parts::{LayProblem, Part, Source};
use crate::lay::sure::At;
use crate::lay::workings::Workings;

impl ManyLays {
    pub(super) fn exact_gpm(&self, source: &Source, length_ft: f64, rise_ft: f64) -> By<f64> {
        self.exact(source, length_ft, rise_ft).map_or_else(|| self.nothing(0.0), |lay| lay.brings())
    }

    pub(super) fn exact_arrives(&self, source: &Source, length_ft: f64, rise_ft: f64) -> By<Arrives> {
        self.exact(source, length_ft, rise_ft).map_or_else(|| self.nothing(Arrives::default()), |lay| lay.arrives())
    }

    /// The most that reaches the pumper's intake with the shortest of lays.
    pub(super) fn exact_intake_gpm(&self, source: &Source) -> Option<f64> {
        let lay = self.exact(source, 0.0, 0.0)?;
        let limits = lay.working(lay.pumped.as_ref()?).limits();
        least(&limits[..limits.len().min(2)]).map(|(_, gpm)| gpm)
    }

    pub(super) fn exact_together(&self, lines: [(&Source, f64, f64); 2], shared_main: bool) -> By<Arrives> {
        By {
            alone: self.combined(lines, shared_main, false),
            boosted: self.pumped().then(|| self.combined(lines, shared_main, true)),
        }
    }

    fn combined(&self, lines: [(&Source, f64, f64); 2], shared_main: bool, pumped: bool) -> Arrives {
        let line = |(hydrant, (source, length_ft, rise_ft)): (usize, (&Source, f64, f64))| {
            let problem = self.problem_of(source, length_ft, rise_ft);
            SupplyLine { hydrant, problem: if pumped { problem } else { without_pumpers(problem) } }
        };
        let there = lines.iter().enumerate().filter(|(_, (_, length, rise))| Self::can_be(*length, *rise));
        let lines = there.map(|(i, pair)| line((i, *pair))).collect::<Vec<_>>();
        let mains = if shared_main { Mains::Shared } else { Mains::Separate };
        let combined = Combined::new(CombinedProblem { lines, mains, target: None });
        let answer = combined.map(|combined| combined.answer());
        answer.map_or_else(|_| Arrives::default(), |all| Arrives { gpm: all.total_gpm, low_gpm: all.total_band.low })
    }

    fn exact(&self, source: &Source, length_ft: f64, rise_ft: f64) -> Option<Lay> {
        if !Self::can_be(length_ft, rise_ft) {
            return None;
        }
        self.lay(source, length_ft, rise_ft).ok()
    }

    fn nothing<T: Copy>(&self, nothing: T) -> By<T> {
        By { alone: nothing, boosted: self.pumped().then_some(nothing) }
    }
}

fn without_pumpers(problem: LayProblem) -> LayProblem {
    let mut problem = LayProblem { boost: None, ..problem };
    problem.parts.retain(|part| !matches!(part, Part::Pumper(_)));
    problem
}

impl Lay {
    fn brings(&self) -> By<f64> {
        let both = Workings::new(self);
        By { alone: both.alone.gpm, boosted: both.best().map(|best| best.gpm) }
    }

    fn arrives(&self) -> By<Arrives> {
        let By { alone, boosted } = self.brings();
        // The gauges are not asked for.
        let bands = self.bands(At { alone_gpm: 0.0, best_gpm: 0.0, gain_gpm: 0.0 });
        let with = |gpm: f64, band: &Band| Arrives { gpm, low_gpm: band.low };
        By {
            alone: with(alone, &bands.alone),
            boosted: boosted.zip(bands.best.as_ref()).map(|(gpm, band)| with(gpm, band)),
        }
    }
}
