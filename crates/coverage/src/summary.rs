//! What a run says of a town and its districts: how many for which cause, how much is missing, and where most.

use crate::cause::CauseCode;
use crate::number::{real, whole};
use crate::outcome::Outcome;

/// The shortfalls are told at these shares of the places that fall short.
pub const QUANTILES: [f64; 5] = [0.1, 0.25, 0.5, 0.75, 0.9];
/// The upper ends of the bands of shortfall, gpm; the last band has none.
pub const BANDS_GPM: [f64; 4] = [250.0, 500.0, 1000.0, 2000.0];

/// How many places, for which causes, and how much they lack.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Summary {
    /// How many places.
    pub places: usize,
    /// How many for each cause, in the order of [`CauseCode::ALL`].
    pub by_cause: [usize; CauseCode::ALL.len()],
    /// Over how many the ground is not known.
    pub ground_unknown: usize,
    /// The shortfalls of the places that have one.
    pub shortfall: Option<Shortfall>,
}

/// What is missing, over the places that lack something.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shortfall {
    /// How many lack something.
    pub places: usize,
    /// At each of [`QUANTILES`], gpm: the shortfall that this share of them does not exceed.
    pub quantiles_gpm: [f64; QUANTILES.len()],
    /// How many in each band: up to each of [`BANDS_GPM`], and over the last.
    pub bands: [usize; BANDS_GPM.len() + 1],
    /// The largest, gpm.
    pub most_gpm: f64,
}

impl Summary {
    /// Over all outcomes.
    pub fn of<'o>(outcomes: impl IntoIterator<Item = &'o Outcome>) -> Self {
        let mut summary = Self::default();
        let mut lacks = Vec::new();
        for outcome in outcomes {
            summary.places += 1;
            summary.by_cause[outcome.cause.code as usize] += 1;
            summary.ground_unknown += usize::from(outcome.ground_unknown);
            lacks.extend(outcome.shortfall_gpm.filter(|gpm| *gpm > 0.0));
        }
        summary.shortfall = Shortfall::of(lacks);
        summary
    }

    /// How many for a cause.
    pub const fn count(&self, code: CauseCode) -> usize {
        self.by_cause[code as usize]
    }

    /// What share of the places a cause has; none of no places.
    pub fn share(&self, code: CauseCode) -> Option<f64> {
        (self.places > 0).then(|| real(self.count(code)) / real(self.places))
    }

    /// How many have a need that is not met.
    pub fn gaps(&self) -> usize {
        CauseCode::ALL.into_iter().filter(|code| code.is_gap()).map(|code| self.count(code)).sum()
    }
}

impl Shortfall {
    fn of(mut lacks: Vec<f64>) -> Option<Self> {
        lacks.sort_unstable_by(f64::total_cmp);
        let most_gpm = *lacks.last()?;
        let last = real(lacks.len() - 1);
        // The least of the shortfalls that so many do not exceed: one that is there, and none between two.
        let at = |share: f64| lacks[whole((share * last).ceil()) as usize];
        let mut bands = [0; BANDS_GPM.len() + 1];
        for gpm in &lacks {
            bands[BANDS_GPM.partition_point(|end| end < gpm)] += 1;
        }
        Some(Self { places: lacks.len(), quantiles_gpm: QUANTILES.map(at), bands, most_gpm })
    }
}

/// The places that lack most, the worst first; of equals those that come first. At most so many.
pub fn worst(outcomes: &[Outcome], most: usize) -> Vec<usize> {
    let lack = |place: &usize| outcomes[*place].shortfall_gpm.unwrap_or(0.0);
    let mut places: Vec<usize> = (0..outcomes.len()).filter(|place| lack(place) > 0.0).collect();
    let worse = |a: &usize, b: &usize| lack(b).total_cmp(&lack(a)).then(a.cmp(b));
    if most < places.len() && most > 0 {
        places.select_nth_unstable_by(most - 1, worse);
    }
    places.truncate(most);
    places.sort_unstable_by(worse);
    places
}
