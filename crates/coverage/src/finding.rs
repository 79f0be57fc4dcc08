//! What is wrong with the input and was left out: counted, with the first that has it, so that it can be looked at.

use thiserror::Error;

/// What is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum FindingKind {
    /// A point of a line is no number, or farther out than [`crate::streets::FARTHEST_FT`]. The line is broken there. The index is the line's.
    PointNotFinite,
    /// A stretch of a line has no length. The index is the line's.
    ZeroLength,
    /// A stretch lies exactly on another of the same level. The index is the line's.
    Duplicate,
    /// A street crosses a barrier of its level and is cut there. The index is the line's.
    CutAtBarrier,
    /// A place lies at no number. The index is the place's.
    PlaceNotFinite,
    /// A place's needed flow is not over nothing: it counts as not given. The index is the place's.
    NeedNotUsable,
    /// A place's ground is no number: it counts as not known. The index is the place's.
    PlaceGroundNotUsable,
    /// A hydrant lies at no number, and serves nothing. The index is the hydrant's.
    HydrantNotFinite,
    /// A hydrant's ground is no number: it counts as not known. The index is the hydrant's.
    HydrantGroundNotUsable,
    /// A hydrant lies on no street within the distance, and serves nothing. The index is the hydrant's.
    HydrantNotOnStreets,
}

impl FindingKind {
    /// Every kind.
    pub const ALL: [Self; 10] = [
        Self::PointNotFinite,
        Self::ZeroLength,
        Self::Duplicate,
        Self::CutAtBarrier,
        Self::PlaceNotFinite,
        Self::NeedNotUsable,
        Self::PlaceGroundNotUsable,
        Self::HydrantNotFinite,
        Self::HydrantGroundNotUsable,
        Self::HydrantNotOnStreets,
    ];

    /// Its stable code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::PointNotFinite => "point_not_finite",
            Self::ZeroLength => "zero_length",
            Self::Duplicate => "duplicate",
            Self::CutAtBarrier => "cut_at_barrier",
            Self::PlaceNotFinite => "place_not_finite",
            Self::NeedNotUsable => "need_not_usable",
            Self::PlaceGroundNotUsable => "place_ground_not_usable",
            Self::HydrantNotFinite => "hydrant_not_finite",
            Self::HydrantGroundNotUsable => "hydrant_ground_not_usable",
            Self::HydrantNotOnStreets => "hydrant_not_on_streets",
        }
    }
}

/// One thing that is wrong, how often, and where first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Finding {
    /// What.
    pub kind: FindingKind,
    /// How often.
    pub count: usize,
    /// The lowest index that has it.
    pub first: usize,
}

/// Counts as they come.
#[derive(Debug, Default)]
pub(crate) struct Counts([Option<(usize, usize)>; FindingKind::ALL.len()]);

impl Counts {
    pub(crate) fn note(&mut self, kind: FindingKind, index: usize) {
        let (count, first) = self.0[kind as usize].get_or_insert((0, index));
        *count += 1;
        *first = index.min(*first);
    }

    pub(crate) fn findings(&self) -> Vec<Finding> {
        let found = |(kind, counted): (FindingKind, &Option<(usize, usize)>)| {
            counted.map(|(count, first)| Finding { kind, count, first })
        };
        FindingKind::ALL.into_iter().zip(&self.0).filter_map(found).collect()
    }
}

/// More items than are counted in four bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("{count} {what} are more than the {most} that one run takes")]
pub struct TooMany {
    /// Of what.
    pub what: &'static str,
    /// How many there are.
    pub count: usize,
    /// How many are taken.
    pub most: usize,
}

impl TooMany {
    pub(crate) const fn check(what: &'static str, count: usize) -> Result<(), Self> {
        const MOST: usize = 1 << 30;
        if count > MOST { Err(Self { what, count, most: MOST }) } else { Ok(()) }
    }
}
