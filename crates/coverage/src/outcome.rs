//! What comes out for one place.

use longlay_hydraulics::lay::many::Arrives;

use crate::cause::{Cause, CauseCode};
use crate::records::Place;

/// The hydrant that brings most at its low end, and what arrives from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Best {
    /// Its index.
    pub hydrant: u32,
    /// The lay from it, ft.
    pub lay_ft: f64,
    /// What arrives: the figure, and the low end of its band.
    pub arrives: Arrives,
}

/// The two that together bring most at their low end, each over a lay of its own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BestTwo {
    /// Their indices.
    pub hydrants: [u32; 2],
    /// Their lays, ft.
    pub lays_ft: [f64; 2],
    /// Whether they count as sharing one main: they do, or it is not known.
    pub shared_main: bool,
    /// What arrives from both, on their own pressure or, where the rule has a second pumper, with one at each.
    pub arrives: Arrives,
}

/// What one hydrant brings to a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arrival {
    /// The flow needed, gpm, where it is known.
    pub need_gpm: Option<f64>,
    /// The best that arrives from one hydrant alone; none where no tested hydrant in service is within reach.
    pub alone: Option<Best>,
    /// The best with the pumper; none without one in the lay.
    pub boosted: Option<Best>,
    /// Whether the ground at the place, or at one of these hydrants, is not known, so that the rise is left out and the bands are wider.
    pub ground_unknown: bool,
}

impl Arrival {
    /// The most that can be counted on, gpm: the low end of the better.
    pub fn low_gpm(&self) -> f64 {
        [self.alone, self.boosted].into_iter().flatten().map(|best| best.arrives.low_gpm).fold(0.0, f64::max)
    }

    pub(crate) fn hydrants(&self) -> impl Iterator<Item = u32> + use<> {
        [self.alone, self.boosted].into_iter().flatten().map(|best| best.hydrant)
    }

    /// What is said of a place that lies on no street.
    pub(crate) fn nowhere(place: &Place) -> Self {
        let ground_unknown = place.ground().is_none();
        Self { need_gpm: place.need(), alone: None, boosted: None, ground_unknown }
    }
}

/// What comes out for one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outcome {
    /// The flow needed, gpm, where it is known.
    pub need_gpm: Option<f64>,
    /// The best that arrives from one hydrant alone; none where no tested hydrant in service is within reach.
    pub alone: Option<Best>,
    /// The best with the pumper; none without one in the lay.
    pub boosted: Option<Best>,
    /// The best from two of the few hydrants that bring most. Looked for only where no one hydrant meets the need, and told only where it brings more than one.
    pub combined: Option<BestTwo>,
    /// What the need is over the low end of the best of these, gpm; none where no need is given.
    pub shortfall_gpm: Option<f64>,
    /// Why.
    pub cause: Cause,
    /// Whether the ground at the place, or at a hydrant told of here, is not known, so that the rise is left out and the bands are wider.
    pub ground_unknown: bool,
}

impl Outcome {
    pub(crate) fn new(arrival: &Arrival, code: CauseCode) -> Self {
        Self {
            need_gpm: arrival.need_gpm,
            alone: arrival.alone,
            boosted: arrival.boosted,
            combined: None,
            shortfall_gpm: arrival.need_gpm.map(|need| (need - arrival.low_gpm()).max(0.0)),
            cause: Cause { code, names: None },
            ground_unknown: arrival.ground_unknown,
        }
    }

    /// The most that can be counted on, gpm: the low end of the best.
    pub fn low_gpm(&self) -> f64 {
        let one = [self.alone, self.boosted].into_iter().flatten().map(|best| best.arrives.low_gpm);
        one.chain(self.combined.map(|two| two.arrives.low_gpm)).fold(0.0, f64::max)
    }
}
