//! What may be changed.

/// What is changed of the lay itself, the cheapest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum LayKind {
    /// A second line beside the first.
    SecondLine,
    /// Bigger hose.
    BiggerHose,
    /// A pumper that boosts, or a bigger one.
    Pumper,
}

/// A lay that a department could change to, in terms of whoever asks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct LayChange {
    /// What is changed.
    pub kind: LayKind,
    /// Which of several of that kind.
    pub option: u32,
}

/// A change, the cheaper kinds first.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub enum Change {
    /// A hydrant that is out of service is put back.
    BackInService {
        /// Which.
        hydrant: u32,
        /// Where it was never tested, the hydrant by which it is reckoned.
        like: Option<u32>,
    },
    /// A hydrant without a usable test is tested, and found no worse than the one by which it is reckoned.
    Test {
        /// Which.
        hydrant: u32,
        /// The hydrant by which it is reckoned.
        like: u32,
    },
    /// Another lay.
    Lay(LayChange),
    /// More hose on the engine: so much in all, ft.
    MoreHose {
        /// Hose carried from then on, ft.
        hose_ft: f64,
    },
    /// A second pumper comes with the first, and each stands at one of two hydrants.
    SecondPumper,
    /// A new hydrant.
    NewHydrant {
        /// Where on a street, feet in the plane.
        at: [f64; 2],
        /// The hydrant by which it is reckoned.
        like: u32,
    },
    /// Work on a main, so that a hydrant gives more at the pressures of its test.
    MainWork {
        /// The hydrant.
        hydrant: u32,
        /// How many times as much.
        times: f64,
    },
}

impl Change {
    /// Its stable code.
    pub const fn code(&self) -> &'static str {
        match self {
            Self::BackInService { .. } => "back_in_service",
            Self::Test { .. } => "test_hydrant",
            Self::Lay(LayChange { kind: LayKind::SecondLine, .. }) => "second_line",
            Self::Lay(LayChange { kind: LayKind::BiggerHose, .. }) => "bigger_hose",
            Self::Lay(LayChange { kind: LayKind::Pumper, .. }) => "pumper",
            Self::MoreHose { .. } => "more_hose",
            Self::SecondPumper => "second_pumper",
            Self::NewHydrant { .. } => "new_hydrant",
            Self::MainWork { .. } => "main_work",
        }
    }

    /// Whether what it brings rests on a test that was not made there.
    pub const fn is_assumed(&self) -> bool {
        match self {
            Self::BackInService { like, .. } => like.is_some(),
            Self::Test { .. } | Self::NewHydrant { .. } | Self::MainWork { .. } => true,
            Self::Lay(_) | Self::MoreHose { .. } | Self::SecondPumper => false,
        }
    }
}
