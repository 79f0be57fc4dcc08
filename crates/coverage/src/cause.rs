//! Why a place is covered, or is not: one cause each, and of several the one whose cure costs least.

/// The causes, the cheapest cure first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum CauseCode {
    /// One hydrant alone brings the need at the low end of its band.
    Covered,
    /// One hydrant does with the pumper.
    CoveredIfBoosted,
    /// Two hydrants together do.
    CoveredIfCombined,
    /// A hydrant that is out of service would.
    OutOfService,
    /// A main has it at its low end and the hose does not let it through: a second line or bigger hose.
    Friction,
    /// A hydrant past the hose carried would do it, if there were hose.
    BeyondHose,
    /// A main has it at its low end, and no hose brings it against the rise and past the pumper: a bigger or a second pumper.
    Pumper,
    /// Nothing that is known brings it, and a hydrant within reach was not tested.
    Untested,
    /// Every hydrant within reach is tested, and none has it.
    Water,
    /// There is no hydrant as far as is searched.
    NoHydrant,
    /// It is not known what the place needs.
    NoNeedGiven,
    /// The place lies on no street.
    NotOnStreets,
}

impl CauseCode {
    /// All of them.
    pub const ALL: [Self; 12] = [
        Self::Covered,
        Self::CoveredIfBoosted,
        Self::CoveredIfCombined,
        Self::OutOfService,
        Self::Friction,
        Self::BeyondHose,
        Self::Pumper,
        Self::Untested,
        Self::Water,
        Self::NoHydrant,
        Self::NoNeedGiven,
        Self::NotOnStreets,
    ];

    /// Its stable code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Covered => "covered",
            Self::CoveredIfBoosted => "covered_if_boosted",
            Self::CoveredIfCombined => "covered_if_combined",
            Self::OutOfService => "out_of_service",
            Self::Friction => "friction",
            Self::BeyondHose => "beyond_hose",
            Self::Pumper => "pumper",
            Self::Untested => "untested",
            Self::Water => "water",
            Self::NoHydrant => "no_hydrant",
            Self::NoNeedGiven => "no_need_given",
            Self::NotOnStreets => "not_on_streets",
        }
    }

    /// Whether the need is met with what the department has, one way or another.
    pub const fn is_covered(self) -> bool {
        matches!(self, Self::Covered | Self::CoveredIfBoosted | Self::CoveredIfCombined)
    }

    /// Whether there is a need, and nothing that the department has meets it.
    pub const fn is_gap(self) -> bool {
        !self.is_covered() && !matches!(self, Self::NoNeedGiven)
    }
}

/// Why, and the hydrant that it is about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cause {
    /// Why.
    pub code: CauseCode,
    /// The hydrant that does it, would do it, or comes nearest to it; of two together, the one that brings more.
    pub names: Option<Named>,
}

/// A hydrant as a cause names it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Named {
    /// Its index.
    pub hydrant: u32,
    /// The lay from it, ft.
    pub lay_ft: f64,
    /// How much of that is more than the hose carried, ft.
    pub extra_ft: f64,
    /// The low end of what it brings or would bring, gpm; none for one that was not tested.
    pub low_gpm: Option<f64>,
}
