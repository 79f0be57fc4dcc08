//! What is put in: places that may burn, and hydrants.

use longlay_hydraulics::lay::Source;

use crate::finding::{Counts, FindingKind};

/// A place that may burn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Feet in the plane.
    pub x: f64,
    /// Feet in the plane.
    pub y: f64,
    /// The flow it needs, gpm, where that is known.
    pub need_gpm: Option<f64>,
    /// Its ground, ft above whatever the hydrants' is above, where that is known.
    pub ground_ft: Option<f64>,
}

/// A hydrant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hydrant {
    /// Feet in the plane.
    pub x: f64,
    /// Feet in the plane.
    pub y: f64,
    /// What its tests say it gives; none where it was not tested.
    pub source: Option<Source>,
    /// Whether that is another hydrant's test, by which it is reckoned.
    pub borrowed: bool,
    /// Whether it can be used.
    pub in_service: bool,
    /// Its main, where that is known. Hydrants on one main share its water.
    pub main: Option<u32>,
    /// Its ground, ft, where that is known.
    pub ground_ft: Option<f64>,
}

impl Place {
    /// The need that can be reckoned with.
    pub(crate) fn need(&self) -> Option<f64> {
        self.need_gpm.filter(|gpm| gpm.is_finite() && *gpm > 0.0)
    }

    pub(crate) fn ground(&self) -> Option<f64> {
        self.ground_ft.filter(|ft| ft.is_finite())
    }
}

impl Hydrant {
    pub(crate) fn ground(&self) -> Option<f64> {
        self.ground_ft.filter(|ft| ft.is_finite())
    }
}

/// What is no number in them.
pub(crate) fn look_over(places: &[Place], hydrants: &[Hydrant]) -> Counts {
    let mut counts = Counts::default();
    let mut note = |wrong: bool, kind, i| {
        if wrong {
            counts.note(kind, i);
        }
    };
    for (i, place) in places.iter().enumerate() {
        note(!somewhere([place.x, place.y]), FindingKind::PlaceNotFinite, i);
        note(place.need_gpm.is_some() && place.need().is_none(), FindingKind::NeedNotUsable, i);
        note(place.ground_ft.is_some() && place.ground().is_none(), FindingKind::PlaceGroundNotUsable, i);
    }
    for (i, hydrant) in hydrants.iter().enumerate() {
        note(!somewhere([hydrant.x, hydrant.y]), FindingKind::HydrantNotFinite, i);
        note(hydrant.ground_ft.is_some() && hydrant.ground().is_none(), FindingKind::HydrantGroundNotUsable, i);
    }
    counts
}

/// Whether a point lies on the plane.
pub(crate) fn somewhere(point: [f64; 2]) -> bool {
    point.iter().all(|ft| ft.abs() <= crate::streets::FARTHEST_FT)
}
