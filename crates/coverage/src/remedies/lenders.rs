//! By whose test a hydrant is reckoned that has none.

use longlay_hydraulics::lay::Source;

use crate::number::index;
use crate::pieces::distance_ft;
use crate::records::{Hydrant, somewhere};
use crate::ways::Points;

/// Farther than this nobody borrows, ft: what lies between is less and less known. A judgement of ours.
const WITHIN_FT: f64 = 3000.0;

/// Hydrants in service with tests of their own, as others borrow them.
pub(crate) struct Lenders<'a> {
    tested: &'a [Hydrant],
    points: Points,
    /// All hydrants that were there from the first, with the wider band of a borrowed test.
    pub(crate) lent: Vec<Hydrant>,
}

impl<'a> Lenders<'a> {
    pub(crate) fn new(hydrants: &'a [Hydrant]) -> Self {
        let lends = |hydrant: &Hydrant| hydrant.source.is_some() && !hydrant.borrowed && hydrant.in_service;
        let there =
            hydrants.iter().enumerate().filter(|(_, hydrant)| lends(hydrant) && somewhere([hydrant.x, hydrant.y]));
        let points = Points::new(there.map(|(i, hydrant)| ([hydrant.x, hydrant.y], index(i))).collect());
        let lent =
            hydrants.iter().map(|hydrant| Hydrant { source: hydrant.source.map(borrowed), ..*hydrant }).collect();
        Self { tested: hydrants, points, lent }
    }

    /// Of the two nearest the weaker, by what `gives` says of each; none where there are not two. A figure that is not there is the weaker.
    pub(crate) fn weaker_of_two(&self, at: [f64; 2], gives: impl Fn(u32) -> Option<f64>) -> Option<u32> {
        let mut within_ft = WITHIN_FT / 16.0;
        loop {
            if let Some([a, b]) = self.two_nearest(at, within_ft) {
                return Some(if gives(b) < gives(a) { b } else { a });
            }
            if within_ft >= WITHIN_FT {
                return None;
            }
            within_ft *= 2.0;
        }
    }

    fn two_nearest(&self, at: [f64; 2], within_ft: f64) -> Option<[u32; 2]> {
        let mut near: [Option<(f64, u32)>; 2] = [None; 2];
        self.points.around(
            at,
            within_ft,
            |_| true,
            |hydrant, feet| {
                let nearer = |other: &Option<(f64, u32)>| other.is_none_or(|other| (feet, hydrant) < other);
                let is_new = feet <= within_ft && near.iter().flatten().all(|(_, other)| *other != hydrant);
                if let Some(place) = near.iter().position(nearer).filter(|_| is_new) {
                    near[place..].rotate_right(1);
                    near[place] = Some((feet, hydrant));
                }
            },
        );
        let [a, b] = near;
        Some([a?.1, b?.1])
    }

    /// A hydrant as it is reckoned by another's test: a test holds at the ground that it was made on.
    pub(crate) fn as_by(&self, hydrant: &Hydrant, like: u32) -> Hydrant {
        let lent = &self.lent[like as usize];
        Hydrant { source: lent.source, borrowed: true, ground_ft: lent.ground_ft, ..*hydrant }
    }

    /// How far a point is from the hydrant by which it is reckoned, ft.
    pub(crate) fn distance_ft(&self, at: [f64; 2], like: u32) -> f64 {
        let like = &self.tested[like as usize];
        distance_ft(at, [like.x, like.y])
    }
}

fn borrowed(source: Source) -> Source {
    Source { spread: source.spread.borrowed(source.curve.drop_psi()), ..source }
}
