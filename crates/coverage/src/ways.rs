//! How places and hydrants are joined: along the streets, or straight where there are none.

use crate::grid::Grid;
use crate::pieces::distance_ft;
use crate::rule::Rule;
use crate::search::Search;
use crate::seats::Seats;
use crate::streets::Streets;

/// A hydrant that serves a place, over so much hose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Lay {
    /// Sections of hose.
    pub sections: u32,
    /// The hydrant's index.
    pub hydrant: u32,
}

/// Places and hydrants, and what joins them.
pub(crate) enum Ways<'a> {
    Streets { streets: &'a Streets, places: Seats, hydrants: Seats },
    Straight(Straight),
}

/// Points in the plane. Nothing is known of what lies between.
pub(crate) struct Straight {
    /// Places that lie anywhere, in order, with their indices.
    pub(crate) places: Vec<([f64; 2], u32)>,
    hydrants: Vec<([f64; 2], u32)>,
    grid: Grid,
}

impl Straight {
    pub(crate) fn new(places: Vec<([f64; 2], u32)>, hydrants: Vec<([f64; 2], u32)>) -> Self {
        let points: Vec<_> = hydrants.iter().map(|(point, _)| [*point; 2]).collect();
        Self { places, hydrants, grid: Grid::new(&points) }
    }

    fn lays(&self, rank: usize, rule: &Rule, sections: u32, found: &mut Vec<Lay>) {
        let place = self.places[rank].0;
        let reach = (rule.feet(sections) + 1.0) / rule.detour;
        self.grid.touching(place.map(|at| at - reach), place.map(|at| at + reach), |item| {
            let (point, hydrant) = self.hydrants[item as usize];
            let lay = Lay { sections: rule.sections(distance_ft(place, point) * rule.detour), hydrant };
            if lay.sections <= sections {
                found.push(lay);
            }
        });
    }
}

impl<'a> Ways<'a> {
    /// The places that lie where they can be served from, in order of where they lie.
    pub(crate) fn place_count(&self) -> usize {
        match self {
            Self::Streets { places, .. } => places.seats.len(),
            Self::Straight(straight) => straight.places.len(),
        }
    }

    /// The index of the place of that rank.
    pub(crate) fn place(&self, rank: usize) -> u32 {
        match self {
            Self::Streets { places, .. } => places.seats[rank].index,
            Self::Straight(straight) => straight.places[rank].1,
        }
    }

    /// What [`Self::lays`] works on.
    pub(crate) fn desk(&self) -> Option<Search<'a>> {
        match self {
            Self::Streets { streets, .. } => Some(Search::new(streets)),
            Self::Straight(_) => None,
        }
    }

    /// Every hydrant that so many sections bring to one place, the nearest first.
    pub(crate) fn lays(
        &self,
        desk: &mut Option<Search<'a>>,
        rank: usize,
        rule: &Rule,
        sections: u32,
        found: &mut Vec<Lay>,
    ) {
        found.clear();
        match (self, desk) {
            (Self::Straight(straight), _) => straight.lays(rank, rule, sections, found),
            (Self::Streets { places, hydrants, .. }, Some(search)) => {
                let place = places.seats[rank].foot;
                search.reach(&place, rule.path_ft(sections, place.set_back_ft), hydrants, |_, seat, path_ft| {
                    let off_ft = seat.foot.set_back_ft + place.set_back_ft;
                    let lay = Lay { sections: rule.sections(rule.along_ft(path_ft, off_ft)), hydrant: seat.index };
                    if lay.sections <= sections {
                        found.push(lay);
                    }
                });
            }
            (Self::Streets { .. }, None) => {}
        }
        found.sort_unstable();
        found.dedup();
    }
}
