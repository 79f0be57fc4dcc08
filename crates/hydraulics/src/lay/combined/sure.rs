//! The bands of a combined supply: all lines again with one input of all of them at an end of its span. The same gauge, hose and day stand behind all lines,
//! so that they are off together.

use crate::band::{Band, Gather, Uncertain, bounded, of_source, varied};
use crate::lay::answer::LayAnswer;
use crate::lay::combined::problem::{Combined, Mains, SupplyLine, checked};
use crate::lay::combined::solve::Solved;
use crate::lay::limits::Limit;
use crate::spread::End;

/// The bands of an answer.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Bands {
    pub(super) total: Band,
    pub(super) main: Band,
}

impl Combined {
    /// The bands around what was solved. The total is never surer than the least sure of its open lines by itself, whose band looks at each of its limits.
    pub(super) fn bands(&self, solved: &Solved, alone: &[LayAnswer]) -> Bands {
        let mut total = Gather::of_flow(solved.total_gpm);
        let mut main = Gather::of_flow(solved.main_gpm);
        for input in Uncertain::ALL.iter().copied().filter(|input| self.holds(*input)) {
            let ends = [End::Low, End::High].map(|end| self.figures(input, end));
            total.add(input, ends.map(|figures| figures.0));
            main.add(input, ends.map(|figures| figures.1));
        }
        let mut total = total.band();
        for (line, _) in alone.iter().zip(&solved.shares).filter(|(_, share)| share.open && share.gpm > 0.0) {
            let own = line.answer();
            if own.deliverable_gpm > 0.0 {
                total.low = total.low.min(solved.total_gpm * own.band.low / own.deliverable_gpm);
            }
        }
        Bands { total, main: main.band() }
    }

    fn holds(&self, input: Uncertain) -> bool {
        self.lines.iter().any(|line| {
            let problem = &line.lay.problem;
            problem.holds(input) || of_source(&problem.source.curve, &problem.source.spread).any(|own| own == input)
        })
    }

    /// What arrives and what the mains give with this input at an end; none where nothing bounds it.
    fn figures(&self, input: Uncertain, end: End) -> (Option<f64>, Option<f64>) {
        let mut level = false;
        let lines = self.lines.iter().map(|line| {
            let problem = &line.lay.problem;
            let mut problem = problem.with(input, end);
            let then = varied(problem.source.curve, &problem.source.spread, input, end);
            level |= then.level;
            problem.source.curve = then.curve;
            // What was a lay is one with other figures too.
            checked(SupplyLine { hydrant: line.hydrant, problem }).unwrap_or_else(|_| line.clone())
        });
        let then = Self { lines: lines.collect(), mains: self.mains, target: self.target };
        let solved = then.solved(None, self.mains != Mains::Separate);
        let by_main = solved.shares.iter().any(|share| share.open && share.limit.limit == Limit::MainFloor);
        let total = if level && by_main { None } else { bounded(solved.total_gpm) };
        (total, if level { None } else { bounded(solved.main_gpm) })
    }
}
