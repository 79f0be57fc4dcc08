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
    Streets {
        streets: &'a Streets,
        places: Seats,
        hydrants: Seats,
        /// The hydrants as the crow flies, which tells where none can be.
        points: Points,
    },
    Straight {
        /// Places that lie anywhere, in order, with their indices.
        places: Vec<([f64; 2], u32)>,
        hydrants: Points,
    },
}

/// Hydrants by where they stand.
pub(crate) struct Points {
    points: Vec<([f64; 2], u32)>,
    grid: Grid,
}

impl Points {
    pub(crate) fn new(points: Vec<([f64; 2], u32)>) -> Self {
        let grid = Grid::new(points.len(), |i| [points[i].0; 2]);
        Self { points, grid }
    }

    /// Calls `visit` with every wanted hydrant that is not farther, and some that are, with its distance, ft; with some more than once.
    pub(crate) fn around(
        &self,
        point: [f64; 2],
        within_ft: f64,
        wanted: impl Fn(u32) -> bool,
        mut visit: impl FnMut(u32, f64),
    ) {
        self.grid.touching(point.map(|at| at - within_ft), point.map(|at| at + within_ft), |item| {
            let (other, hydrant) = self.points[item as usize];
            if wanted(hydrant) {
                visit(hydrant, distance_ft(point, other));
            }
        });
    }
}

impl<'a> Ways<'a> {
    /// The places that lie where they can be served from, in order of where they lie.
    pub(crate) fn place_count(&self) -> usize {
        match self {
            Self::Streets { places, .. } => places.seats.len(),
            Self::Straight { places, .. } => places.len(),
        }
    }

    /// The index of the place of that rank.
    pub(crate) fn place(&self, rank: usize) -> u32 {
        match self {
            Self::Streets { places, .. } => places.seats[rank].index,
            Self::Straight { places, .. } => places[rank].1,
        }
    }

    /// The hydrants that can serve anything, in order of where they lie.
    pub(crate) fn hydrants(&self) -> Vec<u32> {
        match self {
            Self::Streets { hydrants, .. } => hydrants.seats.iter().map(|seat| seat.index).collect(),
            Self::Straight { hydrants, .. } => hydrants.points.iter().map(|(_, hydrant)| *hydrant).collect(),
        }
    }

    /// What [`Self::lays`] works on.
    pub(crate) fn desk(&self) -> Option<Search<'a>> {
        match self {
            Self::Streets { streets, .. } => Some(Search::new(streets)),
            Self::Straight { .. } => None,
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
            (Self::Straight { places, hydrants }, _) => {
                let within_ft = (rule.feet(sections) + 1.0) / rule.detour;
                hydrants.around(
                    places[rank].0,
                    within_ft,
                    |_| true,
                    |hydrant, feet| {
                        let lay = Lay { sections: rule.sections(feet * rule.detour), hydrant };
                        if lay.sections <= sections {
                            found.push(lay);
                        }
                    },
                );
            }
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
