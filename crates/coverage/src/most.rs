//! The few lays that bring most at their low end, out of many, without working the low end of each.

use longlay_hydraulics::lay::many::Arrives;

use crate::flows::{Line, Working};
use crate::ways::Lay;

/// A lay and what it brings.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Found {
    pub(crate) lay: Lay,
    pub(crate) arrives: Arrives,
}

impl Found {
    /// The low end as a share of the figure.
    pub(crate) fn sure(&self) -> f64 {
        if self.arrives.gpm > 0.0 { self.arrives.low_gpm / self.arrives.gpm } else { 1.0 }
    }
}

/// The `N` that bring most, most first; of equals the nearer.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Most<const N: usize>([Option<Found>; N]);

impl<const N: usize> Default for Most<N> {
    fn default() -> Self {
        Self([None; N])
    }
}

impl<const N: usize> Most<N> {
    /// Keeps a lay if it brings more than the least of those kept.
    #[inline]
    pub(crate) fn look(&mut self, lay: Lay, line: &Line<'_>, working: Working) {
        self.look_if(lay, line, working, |_| true);
    }

    /// The same of a lay that must be of a kind, which is asked only where it may be kept.
    #[inline]
    pub(crate) fn look_if(&mut self, lay: Lay, line: &Line<'_>, working: Working, is: impl FnOnce(&Line<'_>) -> bool) {
        let least = self.0.last().copied().flatten();
        if least.is_none_or(|least| line.may_hold(working, least.arrives.low_gpm)) && is(line) {
            self.keep(Found { lay, arrives: line.arrives(working) });
        }
    }

    /// Keeps what is known already, if it brings more than the least of those kept.
    pub(crate) fn keep(&mut self, found: Found) {
        let before = |other: &Found| {
            let low = found.arrives.low_gpm.total_cmp(&other.arrives.low_gpm);
            low.is_gt() || (low.is_eq() && found.lay < other.lay)
        };
        let Some(place) = self.0.iter().position(|kept| kept.as_ref().is_none_or(before)) else { return };
        self.0[place..].rotate_right(1);
        self.0[place] = Some(found);
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = &Found> {
        self.0.iter().flatten()
    }

    pub(crate) fn first(&self) -> Option<&Found> {
        self.iter().next()
    }
}
