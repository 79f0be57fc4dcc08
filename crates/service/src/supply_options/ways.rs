//! The ways to take water from a hydrant, the one that takes least first.

/// A way to take water.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Way {
    /// One hydrant, its own pressure.
    HydrantAlone,
    /// One more line beside the profile's, its own pressure.
    SecondLine,
    /// The pumper at the hydrant.
    Boosted,
    /// Two hydrants, each over a lay of its own, their own pressure.
    TwoHydrants,
}
