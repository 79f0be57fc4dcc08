//! The places whose gap may be closed.

use crate::cause::CauseCode;
use crate::number::index;
use crate::outcome::Outcome;
use crate::run::Served;

/// What a step must know of an outcome.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Brief {
    pub(crate) code: CauseCode,
    pub(crate) need_gpm: Option<f64>,
    /// The hydrant that the cause names.
    pub(crate) hydrant: Option<u32>,
}

impl From<&Outcome> for Brief {
    fn from(outcome: &Outcome) -> Self {
        let hydrant = outcome.cause.names.map(|named| named.hydrant);
        Self { code: outcome.cause.code, need_gpm: outcome.need_gpm, hydrant }
    }
}

/// Gaps that lie on a street, by rank.
pub(crate) struct Open {
    is_open: Vec<bool>,
    pub(crate) ranks: Vec<u32>,
}

impl Open {
    pub(crate) fn new(served: &Served<'_>, outcomes: &[Brief]) -> Self {
        let is_open = |rank| {
            let brief = outcomes.get(served.ways.place(rank) as usize);
            brief.is_some_and(|brief| brief.need_gpm.is_some() && brief.code.is_gap())
        };
        let is_open: Vec<bool> = (0..served.ways.place_count()).map(is_open).collect();
        let ranks = is_open.iter().enumerate().filter(|(_, open)| **open).map(|(rank, _)| index(rank)).collect();
        Self { is_open, ranks }
    }

    pub(crate) fn has(&self, rank: u32) -> bool {
        self.is_open[rank as usize]
    }
}
