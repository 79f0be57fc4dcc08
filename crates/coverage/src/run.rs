//! The whole question: streets, places and hydrants in; an outcome for every place out.

use std::sync::{Mutex, PoisonError};

use longlay_hydraulics::lay::many::ManyLays;
use thiserror::Error;

use crate::cause::CauseCode;
use crate::finding::{Finding, FindingKind, TooMany};
use crate::flows::Flows;
use crate::judge::{Desk, Judge};
use crate::outcome::{Arrival, Outcome};
use crate::reach::Reach;
use crate::records::{Hydrant, Place, look_over, somewhere};
use crate::rule::{Rule, RuleFaults};
use crate::seats::Seats;
use crate::streets::Streets;
use crate::threads::{Cancelled, Phase, Progress, both, in_chunks};
use crate::ways::{Lay, Points, Ways};

/// How places and hydrants were joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joined {
    /// Along the streets.
    AlongStreets,
    /// Straight, times the detour factor, because there are no streets: railways, rivers and walls between are not seen.
    Straight,
}

/// No run.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NoRun {
    /// Hose that cannot be reckoned with.
    #[error(transparent)]
    Rule(#[from] RuleFaults),
    /// More than can be counted.
    #[error(transparent)]
    TooMany(#[from] TooMany),
    /// Other hydrants than those that the reach was found of.
    #[error("{given} hydrants were given, and the reach was found of {wanted}")]
    OtherHydrants {
        /// How many were given.
        given: usize,
        /// How many there were.
        wanted: usize,
    },
    /// Called off.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Which hydrants serve which places: worked once, and judged with as many lays as wanted.
pub struct Served<'a> {
    pub(crate) places: &'a [Place],
    pub(crate) rule: Rule,
    pub(crate) ways: Ways<'a>,
    pub(crate) reach: Reach,
    rank_of: Vec<u32>,
    hydrant_count: usize,
    findings: Vec<Finding>,
}

/// Of a place that cannot be served from anywhere.
const NO_RANK: u32 = u32::MAX;
/// Places that one thread judges at a time.
const CHUNK: usize = 512;

impl<'a> Served<'a> {
    /// Puts places and hydrants on the streets and finds which serve which. Of the hydrants only where they stand is looked at.
    ///
    /// # Errors
    /// A rule out of its bounds, more than can be counted, called off.
    pub fn new(
        streets: &'a Streets,
        places: &'a [Place],
        hydrants: &[Hydrant],
        rule: Rule,
        threads: usize,
        progress: &Progress,
    ) -> Result<Self, NoRun> {
        rule.check()?;
        TooMany::check("places", places.len())?;
        TooMany::check("hydrants", hydrants.len())?;
        let looked = || look_over(places, hydrants);
        let (mut counts, ways) =
            both(threads > 1, looked, || ways(streets, places, hydrants, &rule, threads, progress));
        let ways = ways?;
        if let Ways::Streets { hydrants: seats, .. } = &ways {
            let mut there = vec![false; hydrants.len()];
            seats.seats.iter().for_each(|seat| there[seat.index as usize] = true);
            for (i, _) in there.iter().enumerate().filter(|(_, there)| !**there) {
                counts.note(FindingKind::HydrantNotOnStreets, i);
            }
        }
        let ranks = || {
            let mut rank_of = vec![NO_RANK; places.len()];
            for (rank, own) in (0..ways.place_count()).zip(0..) {
                rank_of[ways.place(rank) as usize] = own;
            }
            rank_of
        };
        let (rank_of, reach) = both(threads > 1, ranks, || Reach::new(&ways, &rule, threads, progress));
        let reach = reach?;
        Ok(Self { places, rule, ways, reach, rank_of, hydrant_count: hydrants.len(), findings: counts.findings() })
    }

    /// How they were joined.
    pub const fn joined(&self) -> Joined {
        match self.ways {
            Ways::Streets { .. } => Joined::AlongStreets,
            Ways::Straight { .. } => Joined::Straight,
        }
    }

    /// What was wrong with places and hydrants. [`Streets::findings`] has what was wrong with the lines.
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// How hose was counted.
    pub const fn rule(&self) -> &Rule {
        &self.rule
    }

    /// The hydrants that serve a place with the hose carried, the nearest first; none for a place that lies on no street.
    pub fn lays(&self, place: usize) -> &[Lay] {
        match self.rank_of.get(place) {
            Some(rank) if *rank != NO_RANK => self.reach.of(*rank as usize),
            _ => &[],
        }
    }

    /// The place of that rank.
    pub(crate) fn place(&self, rank: u32) -> &Place {
        &self.places[self.ways.place(rank as usize) as usize]
    }

    /// How many pairs of place and hydrant there are.
    pub fn pair_count(&self) -> usize {
        self.reach.pair_count()
    }

    /// Works out what one hydrant brings to every place, in the order of the places. `hydrants` stand where those stood that this was made with; what
    /// else is known of them may be other.
    ///
    /// # Errors
    /// Not as many hydrants as there were, called off.
    pub fn arrivals(
        &self,
        many: &ManyLays,
        hydrants: &[Hydrant],
        threads: usize,
        progress: &Progress,
    ) -> Result<Vec<Arrival>, NoRun> {
        self.each(
            many,
            hydrants,
            (threads, progress),
            |judge, _, place, rank| judge.arrival(place, rank),
            Arrival::nowhere,
        )
    }

    /// The same with what two bring, and why it is or is not enough.
    ///
    /// # Errors
    /// Not as many hydrants as there were, called off.
    pub fn judge(
        &self,
        many: &ManyLays,
        hydrants: &[Hydrant],
        threads: usize,
        progress: &Progress,
    ) -> Result<Vec<Outcome>, NoRun> {
        let nowhere = |place: &Place| Outcome::new(&Arrival::nowhere(place), CauseCode::NotOnStreets);
        self.each(
            many,
            hydrants,
            (threads, progress),
            |judge: &Judge<'_>, desk, place, rank| judge.outcome(desk, place, rank),
            nowhere,
        )
    }

    fn each<T: Send>(
        &self,
        many: &ManyLays,
        hydrants: &[Hydrant],
        (threads, progress): (usize, &Progress),
        one: impl for<'j> Fn(&Judge<'j>, &mut Desk<'j>, &Place, usize) -> T + Sync,
        nowhere: impl Fn(&Place) -> T + Send,
    ) -> Result<Vec<T>, NoRun> {
        if hydrants.len() != self.hydrant_count {
            return Err(NoRun::OtherHydrants { given: hydrants.len(), wanted: self.hydrant_count });
        }
        let order = self.ways.hydrants();
        // They are judged in the order in which they lie and told in that in which they came: one copy of all, for it is what a large run holds most of.
        let told = || self.places.iter().map(nowhere).collect::<Vec<_>>();
        let flows = || Flows::new(many, self.places, hydrants, &order, threads, progress);
        let (told, flows) = both(threads > 1, told, flows);
        let (told, flows) = (Mutex::new(told), flows?);
        let judge = Judge { ways: &self.ways, reach: &self.reach, rule: &self.rule, flows: &flows };
        let count = self.ways.place_count();
        progress.begin(Phase::Judge, count);
        in_chunks(count, CHUNK, threads, progress, Desk::default, |desk, range| {
            let index = |rank: usize| self.ways.place(rank) as usize;
            // Read all at once they are waited for together, and not one by one.
            let places: Vec<Place> = range.clone().map(|rank| self.places[index(rank)]).collect();
            let judged: Vec<T> =
                range.clone().zip(&places).map(|(rank, place)| one(&judge, desk, place, rank)).collect();
            let mut told = told.lock().unwrap_or_else(PoisonError::into_inner);
            for (rank, judged) in range.zip(judged) {
                told[index(rank)] = judged;
            }
        })?;
        Ok(told.into_inner().unwrap_or_else(PoisonError::into_inner))
    }
}

fn ways<'a>(
    streets: &'a Streets,
    places: &[Place],
    hydrants: &[Hydrant],
    rule: &Rule,
    threads: usize,
    progress: &Progress,
) -> Result<Ways<'a>, Cancelled> {
    let (place, hydrant) = (|i: usize| [places[i].x, places[i].y], |i: usize| [hydrants[i].x, hydrants[i].y]);
    progress.begin(Phase::Snap, places.len() + hydrants.len());
    let there = |count: usize, point: &dyn Fn(usize) -> [f64; 2]| {
        (0..count).zip(0..).map(|(i, index)| (point(i), index)).filter(|(point, _)| somewhere(*point)).collect()
    };
    let points = || Points::new(there(hydrants.len(), &hydrant));
    if streets.is_empty() {
        return Ok(Ways::Straight { places: there(places.len(), &place), hydrants: points() });
    }
    // Much of it waits for one thread: while it does, the other has the hydrants.
    let of_hydrants = || {
        let seats = Seats::new(streets, hydrants.len(), hydrant, rule.hydrant_within_ft, 1, progress);
        (points(), seats)
    };
    let of_places = || Seats::new(streets, places.len(), place, rule.place_within_ft, threads, progress);
    let ((points, hydrants), places) = both(threads > 1, of_hydrants, of_places);
    Ok(Ways::Streets { streets, points, places: places?, hydrants: hydrants? })
}
