//! The ground that a relay runs over.

use alloc::vec;
use alloc::vec::Vec;

use thiserror::Error;

use crate::quantity::{Along, Length, Rise};

/// Most points of a profile.
pub const MAX_GROUND_POINTS: usize = 200;

/// A point of the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroundPoint {
    /// How far from the source.
    pub at: Along,
    /// Height above any one level, the same for all points.
    pub height: Rise,
}

/// Points that are no ground of a relay.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum GroundError {
    /// Fewer than two, or more than [`MAX_GROUND_POINTS`].
    #[error("a profile of the ground has from 2 to {MAX_GROUND_POINTS} points")]
    Count,
    /// The first is not at the source.
    #[error("the first point stands at the source, 0 ft")]
    NotFromSource,
    /// A point no farther than the one before it.
    #[error("point {0} is no farther from the source than the point before it")]
    NotFarther(usize),
    /// The last is not at the scene.
    #[error("the last point stands at the scene, {distance_ft} ft")]
    NotToScene {
        /// Where the scene is, ft.
        distance_ft: f64,
    },
    /// More between its highest and its lowest point than any rise may be.
    #[error("the highest point is more than {} ft above the lowest", Rise::BOUND.max)]
    TooHigh,
}

/// The ground from source to scene, straight between its points.
#[derive(Debug, Clone, PartialEq)]
pub struct Ground {
    /// Distance and height, ft.
    points: Vec<(f64, f64)>,
    even: bool,
}

/// The ground at a place of a stretch, with the lowest ground from the stretch's start to there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    /// ft from the source.
    pub(super) at: f64,
    /// ft.
    pub(super) height: f64,
    /// ft.
    pub(super) lowest: f64,
}

impl Ground {
    /// One even slope.
    pub fn even(rise: Rise, distance: Length) -> Self {
        Self { points: vec![(0.0, 0.0), (distance.ft(), rise.ft())], even: true }
    }

    /// By its points, source to scene.
    ///
    /// # Errors
    /// Points that do not run from the source to the scene.
    pub fn profile(points: &[GroundPoint], distance: Length) -> Result<Self, GroundError> {
        let (Some(first), Some(last), true) =
            (points.first(), points.last(), (2..=MAX_GROUND_POINTS).contains(&points.len()))
        else {
            return Err(GroundError::Count);
        };
        if first.at.ft() > 0.0 {
            return Err(GroundError::NotFromSource);
        }
        if let Some(i) = points.windows(2).position(|pair| pair[1].at <= pair[0].at) {
            return Err(GroundError::NotFarther(i + 1));
        }
        if last.at.ft() != distance.ft() {
            return Err(GroundError::NotToScene { distance_ft: distance.ft() });
        }
        let heights = || points.iter().map(|point| point.height.ft());
        if heights().fold(f64::MIN, f64::max) - heights().fold(f64::MAX, f64::min) > Rise::BOUND.max {
            return Err(GroundError::TooHigh);
        }
        let points = points.iter().map(|point| (point.at.ft(), point.height.ft())).collect();
        Ok(Self { points, even: false })
    }

    /// How far it runs, ft.
    pub(super) fn distance_ft(&self) -> f64 {
        self.points.last().map_or(0.0, |(at, _)| *at)
    }

    /// Its rise, where one even slope stands for all of it.
    pub(super) fn even_rise_ft(&self) -> Option<f64> {
        self.points.last().filter(|_| self.even).map(|(_, height)| *height)
    }

    /// Whether it rises or falls anywhere.
    pub(super) fn is_level(&self) -> bool {
        self.points.windows(2).all(|pair| pair[0].1 == pair[1].1)
    }

    fn height_ft(&self, at_ft: f64) -> f64 {
        for pair in self.points.windows(2) {
            let [(a, from), (b, to)] = [pair[0], pair[1]];
            if at_ft <= b {
                return from + (to - from) * ((at_ft - a) / (b - a));
            }
        }
        self.points.last().map_or(0.0, |(_, height)| *height)
    }

    /// The places of a stretch between which height and lowest ground run straight.
    pub(super) fn places(&self, from_ft: f64, to_ft: f64) -> Vec<Place> {
        let height = self.height_ft(from_ft);
        let mut last = Place { at: from_ft, height, lowest: height };
        let mut places = vec![last];
        let between = self.points.iter().copied().filter(|(at, _)| *at > from_ft && *at < to_ft);
        for (at, height) in between.chain([(to_ft, self.height_ft(to_ft))]) {
            let lowest = last.lowest;
            if height < lowest && last.height > lowest {
                // Here the fall goes under all the ground before it.
                let share = (last.height - lowest) / (last.height - height);
                let at = last.at + share * (at - last.at);
                places.push(Place { at, height: lowest, lowest });
            }
            last = Place { at, height, lowest: lowest.min(height) };
            places.push(last);
        }
        places
    }
}
