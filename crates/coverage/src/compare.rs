//! Two runs over the same places: what changed its cause.

use crate::cause::CauseCode;
use crate::outcome::Outcome;

/// A place that changed its cause.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Change {
    /// Its index.
    pub place: usize,
    /// The cause before.
    pub before: CauseCode,
    /// The cause after.
    pub after: CauseCode,
}

/// What changed between two runs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Comparison {
    /// The places whose cause changed, in their order.
    pub changes: Vec<Change>,
    /// How many of a cause before, by row, have which cause after, by column; both in the order of [`CauseCode::ALL`].
    pub counts: [[usize; CauseCode::ALL.len()]; CauseCode::ALL.len()],
}

impl Comparison {
    /// From one run to another over the same places in the same order; none where there are not as many.
    pub fn new(before: &[Outcome], after: &[Outcome]) -> Option<Self> {
        if before.len() != after.len() {
            return None;
        }
        let mut counts = [[0; CauseCode::ALL.len()]; CauseCode::ALL.len()];
        let mut changes = Vec::new();
        for (place, (before, after)) in before.iter().zip(after).enumerate() {
            let (before, after) = (before.cause.code, after.cause.code);
            counts[before as usize][after as usize] += 1;
            if before != after {
                changes.push(Change { place, before, after });
            }
        }
        Some(Self { changes, counts })
    }

    /// Places with a gap before and none after.
    pub fn closed(&self) -> usize {
        self.count(|before, after| before.is_gap() && !after.is_gap())
    }

    /// Places with a gap after and none before.
    pub fn opened(&self) -> usize {
        self.count(|before, after| !before.is_gap() && after.is_gap())
    }

    fn count(&self, of: impl Fn(CauseCode, CauseCode) -> bool) -> usize {
        let pairs = CauseCode::ALL.into_iter().flat_map(|a| CauseCode::ALL.into_iter().map(move |b| (a, b)));
        pairs.filter(|(a, b)| of(*a, *b)).map(|(a, b)| self.counts[a as usize][b as usize]).sum()
    }
}
