//! What each hydrant brings over a lay, with the ground where it is known.

use longlay_hydraulics::lay::many::{Arrives, ManyLays, Ready};

use crate::number::index;
use crate::records::{Hydrant, Place};
use crate::rule::Rule;
use crate::threads::{Cancelled, Progress, in_chunks};
use crate::ways::Lay;

/// Hydrants, ready to be asked.
pub(crate) struct Flows<'a> {
    pub(crate) many: &'a ManyLays,
    pub(crate) hydrants: &'a [Hydrant],
    /// Where each hydrant is in what follows: neighbours are asked for together, and lie together.
    slots: Vec<u32>,
    /// All that a pair asks of a hydrant, in chunks of [`CHUNK`].
    stands: Vec<Vec<Stand>>,
    /// As where the place's ground is not known; empty where every place's is.
    unknown: Vec<Vec<Option<Ready>>>,
    /// By hydrant, the low end of what its main gives, gpm; under nothing for what is out of service or not tested.
    main_low: Vec<f64>,
    pumped: bool,
}

/// A hydrant where it stands.
struct Stand {
    in_service: bool,
    ground: Option<f64>,
    /// With the ground as it is known; none for what was not tested.
    known: Option<Ready>,
}

const CHUNK: usize = 256;

impl<'a> Flows<'a> {
    pub(crate) fn new(
        many: &'a ManyLays,
        places: &[Place],
        hydrants: &'a [Hydrant],
        order: &[u32],
        threads: usize,
        progress: &Progress,
    ) -> Result<Self, Cancelled> {
        let mut slots = vec![index(order.len()); hydrants.len()];
        for (hydrant, slot) in order.iter().zip(0..) {
            slots[*hydrant as usize] = slot;
        }
        let without = |hydrant: &Hydrant| hydrant.source.as_ref().map(|source| many.ready_ground_unknown(source));
        let stand = |hydrant: &Hydrant| {
            let ground = hydrant.ground();
            let with = |_| hydrant.source.as_ref().map(|source| many.ready(source));
            let known = ground.map_or_else(|| without(hydrant), with);
            Stand { in_service: hydrant.in_service, ground, known }
        };
        let any_unknown = places.iter().any(|place| place.ground().is_none());
        let stands = in_order(hydrants, order, (threads, progress), stand)?;
        let unknown = if any_unknown { in_order(hydrants, order, (threads, progress), without)? } else { Vec::new() };
        let first = stands.iter().flatten().find_map(|stand| stand.known.as_ref());
        let pumped = first.is_some_and(|ready| many.intake_gpm(ready).is_some());
        let mut main_low = vec![-1.0; hydrants.len()];
        for (hydrant, stand) in order.iter().zip(stands.iter().flatten()).filter(|(_, stand)| stand.in_service) {
            // Where the ground is not known it is no more.
            main_low[*hydrant as usize] = stand.known.as_ref().map_or(-1.0, |ready| many.main(ready).low_gpm);
        }
        Ok(Self { many, hydrants, slots, stands, unknown, main_low, pumped })
    }

    #[inline]
    fn stand(&self, hydrant: u32) -> Option<&Stand> {
        in_slot(&self.stands, self.slots[hydrant as usize])
    }

    /// A hydrant as a place sees it, with the rise from it, ft; none where it was not tested. Ground that is not known is no rise and a wider band.
    #[inline]
    fn ready(&self, place: &Place, hydrant: u32) -> Option<(&Ready, f64)> {
        let Some(ground) = place.ground() else {
            let unknown = in_slot(&self.unknown, self.slots[hydrant as usize])?;
            return unknown.as_ref().map(|ready| (ready, 0.0));
        };
        let stand = self.stand(hydrant)?;
        let rise = stand.ground.map_or(0.0, |hydrant| ground - hydrant);
        stand.known.as_ref().map(|ready| (ready, rise))
    }

    /// Whether a hydrant may meet a need at its low end if hose took nothing, by what costs next to nothing.
    #[inline]
    pub(crate) fn has_main_for(&self, need: f64, hydrant: u32) -> bool {
        self.main_low[hydrant as usize] >= need
    }

    /// Whether a hydrant can be used, and stands where it can serve anything.
    #[inline]
    pub(crate) fn in_service(&self, hydrant: u32) -> bool {
        self.stand(hydrant).is_some_and(|stand| stand.in_service)
    }

    /// The low end of what a hydrant's main gives, gpm, in service or not; none where it was not tested.
    pub(crate) fn main_low(&self, hydrant: u32) -> Option<f64> {
        let ready = self.stand(hydrant)?.known.as_ref()?;
        Some(self.many.main(ready).low_gpm)
    }

    /// Whether a pumper is in the lay.
    pub(crate) fn pumped(&self) -> bool {
        self.pumped
    }

    pub(crate) fn is_ground_known(&self, place: &Place, hydrant: u32) -> bool {
        place.ground().is_some() && self.hydrants[hydrant as usize].ground().is_some()
    }

    /// A lay from a hydrant to a place; none where the hydrant was not tested.
    #[inline]
    pub(crate) fn line(&self, place: &Place, rule: &Rule, lay: Lay) -> Option<Line<'_>> {
        let (ready, rise_ft) = self.ready(place, lay.hydrant)?;
        Some(Line { many: self.many, ready, feet: rule.feet(lay.sections), rise_ft })
    }
}

/// What `one` says of each hydrant, in this order and in chunks.
fn in_order<T: Send>(
    hydrants: &[Hydrant],
    order: &[u32],
    (threads, progress): (usize, &Progress),
    one: impl Fn(&Hydrant) -> T + Sync,
) -> Result<Vec<Vec<T>>, Cancelled> {
    in_chunks(
        order.len(),
        CHUNK,
        threads,
        progress,
        || (),
        |(), range| order[range].iter().map(|i| one(&hydrants[*i as usize])).collect(),
    )
}

#[inline]
fn in_slot<T>(chunks: &[Vec<T>], slot: u32) -> Option<&T> {
    chunks.get(slot as usize / CHUNK)?.get(slot as usize % CHUNK)
}

/// With or without the pumper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Working {
    /// The hydrant alone.
    Alone,
    /// With the pumper where the lay has one.
    Best,
}

/// A tested hydrant, a length and a rise.
#[derive(Clone, Copy)]
pub(crate) struct Line<'f> {
    many: &'f ManyLays,
    pub(crate) ready: &'f Ready,
    pub(crate) feet: f64,
    pub(crate) rise_ft: f64,
}

impl Line<'_> {
    /// What the main gives: no lay brings more.
    pub(crate) fn main_gpm(&self) -> f64 {
        self.many.main(self.ready).gpm
    }

    /// The low end of what the main gives: more than that no lay brings at its low end.
    pub(crate) fn main_low(&self) -> f64 {
        self.many.main(self.ready).low_gpm
    }

    /// Whether the low end may be as much as this, gpm: never no where it is, and many times cheaper than the low end.
    #[inline]
    pub(crate) fn may_hold(&self, working: Working, low_gpm: f64) -> bool {
        let alone = || self.many.may_hold_alone(self.ready, self.feet, self.rise_ft, low_gpm);
        let boosted = || self.many.may_hold_boosted(self.ready, self.feet, self.rise_ft, low_gpm);
        self.main_low() >= low_gpm
            && match working {
                Working::Alone => alone(),
                Working::Best => boosted().unwrap_or_else(alone),
            }
    }

    /// What arrives, with its low end.
    #[inline]
    pub(crate) fn arrives(&self, working: Working) -> Arrives {
        let alone = || self.many.arrives_alone(self.ready, self.feet, self.rise_ft);
        match working {
            Working::Alone => alone(),
            Working::Best => self.many.arrives_boosted(self.ready, self.feet, self.rise_ft).unwrap_or_else(alone),
        }
    }

    /// Whether the low end may meet a need, by what costs little.
    pub(crate) fn may_meet(&self, need: f64) -> bool {
        self.may_hold(Working::Best, need)
    }

    /// Whether the low end meets a need.
    pub(crate) fn meets(&self, need: f64) -> bool {
        self.may_meet(need) && self.arrives(Working::Best).low_gpm >= need
    }

    /// The same as if hose took nothing.
    pub(crate) fn without_hose(self) -> Self {
        Self { feet: 0.0, ..self }
    }
}
