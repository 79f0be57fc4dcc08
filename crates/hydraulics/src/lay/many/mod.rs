//! One lay asked for very many hydrants, lengths and rises: the map of a whole city.
//!
//! [`ManyLays`] is the checked template, [`Ready`] all that is a matter of a hydrant.

mod boost;
mod exact;
mod legs;
mod low;
mod pair;
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
