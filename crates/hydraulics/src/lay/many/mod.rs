//! One lay asked for very many hydrants, lengths and rises: the map of a whole city.
//!
//! [`ManyLays`] is the checked template, [`Ready`] all that is a matter of a hydrant. A figure then costs one interpolation, and its low end one for
//! each input that may be off, where the exact solver searches:
//!
//! * the hydrant alone: the balance of main and lay is one curve without dimensions (the table `Shape`);
//! * the pumper's intake is a figure of the hydrant, the hose's marking a square root, the pumper's own limit a quadratic and a step or two;
//! * two hydrants on one main: a search for their total, each look at it a table's.
//!
//! Tables and searches err to the low side only, so that no figure and no low end is over the exact solver's: flows by less than a share of 1e-6 of
//! themselves, low ends by less than 1e-4 of the figure that they are the low end of, and mostly of 1e-5. What is not squared losses (a step, a curve through two
//! points, a pumper behind the supply hose) is asked of the exact solver.

mod boost;
mod exact;
mod legs;
mod low;
mod pair;
mod pumped;
mod ready;
mod tables;
mod template;
mod together;

pub use ready::Ready;
pub use template::ManyLays;

/// The hydrant alone, and with the pumper where the lay has one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct By<T> {
    /// The hydrant alone.
    pub alone: T,
    /// With the pumper; none where the lay has none.
    pub boosted: Option<T>,
}

impl<T: Copy> By<T> {
    /// With the pumper where there is one.
    pub fn best(&self) -> T {
        self.boosted.unwrap_or(self.alone)
    }
}

/// What arrives, and the low end of its 90 % band: plan by the low end.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Arrives {
    /// The figure, gpm.
    pub gpm: f64,
    /// The low end of its band, gpm.
    pub low_gpm: f64,
}
