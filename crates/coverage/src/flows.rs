//! What each hydrant brings over a lay, with the ground where it is known.

use longlay_hydraulics::lay::many::{By, ManyLays, Ready};

use crate::records::{Hydrant, Place};
use crate::rule::Rule;
use crate::threads::{Cancelled, Progress, in_chunks};
use crate::ways::Lay;

/// Hydrants, ready to be asked.
pub(crate) struct Flows<'a> {
    pub(crate) many: &'a ManyLays,
    pub(crate) hydrants: &'a [Hydrant],
    /// With the ground as it is known; none for what was not tested.
    known: Vec<Option<Ready>>,
    /// As where the place's ground is not known; empty where every place's is.
    unknown: Vec<Option<Ready>>,
}

const CHUNK: usize = 256;

impl<'a> Flows<'a> {
    pub(crate) fn new(
        many: &'a ManyLays,
        places: &[Place],
        hydrants: &'a [Hydrant],
        threads: usize,
        progress: &Progress,
    ) -> Result<Self, Cancelled> {
        let all = |ready: &(dyn Fn(&Hydrant) -> Option<Ready> + Sync)| {
            let chunks = in_chunks(hydrants.len(), CHUNK, threads, progress, || (), |(), range| {
                hydrants[range].iter().map(ready).collect::<Vec<_>>()
            })?;
            Ok(chunks.concat())
        };
        let without = |hydrant: &Hydrant| hydrant.source.as_ref().map(|source| many.ready_ground_unknown(source));
        let with = |hydrant: &Hydrant| match hydrant.ground() {
            Some(_) => hydrant.source.as_ref().map(|source| many.ready(source)),
            None => without(hydrant),
        };
        let any_unknown = places.iter().any(|place| place.ground().is_none());
        Ok(Self { many, hydrants, known: all(&with)?, unknown: if any_unknown { all(&without)? } else { Vec::new() } })
    }

    /// A hydrant as a place sees it, with the rise from it, ft; none where it was not tested. Ground that is not known is no rise and a wider band.
    #[inline]
    pub(crate) fn ready(&self, place: &Place, hydrant: u32) -> Option<(&Ready, f64)> {
        let i = hydrant as usize;
        let Some(ground) = place.ground() else { return self.unknown[i].as_ref().map(|ready| (ready, 0.0)) };
        let rise = self.hydrants[i].ground().map_or(0.0, |hydrant| ground - hydrant);
        self.known[i].as_ref().map(|ready| (ready, rise))
    }

    pub(crate) fn is_ground_known(&self, place: &Place, hydrant: u32) -> bool {
        place.ground().is_some() && self.hydrants[hydrant as usize].ground().is_some()
    }

    /// The low ends over a lay.
    pub(crate) fn lows(&self, place: &Place, rule: &Rule, lay: Lay) -> Option<By<f64>> {
        let (ready, rise) = self.ready(place, lay.hydrant)?;
        Some(self.lows_over(ready, rule.feet(lay.sections), rise))
    }

    pub(crate) fn lows_over(&self, ready: &Ready, feet: f64, rise: f64) -> By<f64> {
        By {
            alone: self.many.low_alone(ready, feet, rise),
            boosted: self.many.low_boosted(ready, feet, rise),
        }
    }
}
