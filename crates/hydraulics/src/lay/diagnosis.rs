//! Is it friction or is it water? The diagnosis compares flows, so that nobody sends a pumper to an empty main.

use alloc::format;
use alloc::string::String;

use crate::lay::limits::{Limit, planning_gpm};

/// Share of what arrives that a boost must add to be worth a pumper. A judgement of ours: change it with the data.
pub const WATER_GAIN_SHARE: f64 = 0.10;
/// Flow that a boost must add to be worth a pumper, gpm. A judgement of ours, as [`WATER_GAIN_SHARE`].
pub const WATER_GAIN_GPM: f64 = 50.0;

/// What stands between the crew and the water.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum DiagnosisCode {
    /// The target is reached.
    Met,
    /// Losses in the lay: pressure can be added.
    Friction,
    /// The main: nothing in the lay helps.
    Water,
    /// The pumper's suction side.
    Suction,
    /// The hose's own pressure marking.
    Hose,
    /// The pumper itself.
    Pumper,
}

/// What helps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Remedy {
    /// A pumper at the hydrant.
    PumperAtHydrant,
    /// A second supply line.
    SecondLine,
    /// Bigger hose.
    BiggerHose,
    /// A relay pumper between.
    Relay,
    /// A bigger pumper, or a second one.
    BiggerOrSecondPumper,
    /// A second or larger suction hose.
    LargerSuction,
    /// A hydrant on another main.
    AnotherMain,
    /// Water carried in tanks.
    TankWater,
    /// A shuttle.
    Shuttle,
}

impl Remedy {
    /// Its stable code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::PumperAtHydrant => "pumper_at_hydrant",
            Self::SecondLine => "second_line",
            Self::BiggerHose => "bigger_hose",
            Self::Relay => "relay",
            Self::BiggerOrSecondPumper => "bigger_or_second_pumper",
            Self::LargerSuction => "larger_suction",
            Self::AnotherMain => "another_main",
            Self::TankWater => "tank_water",
            Self::Shuttle => "shuttle",
        }
    }
}

impl DiagnosisCode {
    /// Every code.
    pub const ALL: [Self; 6] = [Self::Met, Self::Friction, Self::Water, Self::Suction, Self::Hose, Self::Pumper];

    /// Its stable code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Met => "met",
            Self::Friction => "friction",
            Self::Water => "water",
            Self::Suction => "suction",
            Self::Hose => "hose",
            Self::Pumper => "pumper",
        }
    }

    /// What helps.
    pub const fn remedies(self) -> &'static [Remedy] {
        match self {
            Self::Met => &[],
            Self::Friction => &[Remedy::PumperAtHydrant, Remedy::SecondLine, Remedy::BiggerHose],
            Self::Water => &[Remedy::AnotherMain, Remedy::TankWater, Remedy::Shuttle],
            Self::Suction => &[Remedy::LargerSuction],
            Self::Hose => &[Remedy::BiggerHose, Remedy::SecondLine, Remedy::Relay],
            Self::Pumper => &[Remedy::BiggerOrSecondPumper],
        }
    }

    /// What a limit that binds a boosted line stands for.
    const fn of_limit(limit: Limit) -> Self {
        match limit {
            Limit::MainFloor => Self::Water,
            Limit::SceneIntake => Self::Friction,
            Limit::PumperIntake => Self::Suction,
            Limit::HoseRating => Self::Hose,
            Limit::PumperCapacity => Self::Pumper,
        }
    }
}

/// A diagnosis with its words.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagnosis {
    /// The code.
    pub code: DiagnosisCode,
    /// One or two sentences with the flows that decided, rounded down.
    pub message: String,
}

/// The flows a diagnosis weighs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Flows {
    pub(super) alone_gpm: f64,
    /// With the pumpers, and what binds then; none without pumpers.
    pub(super) boosted: Option<(f64, Limit)>,
    pub(super) main_gpm: f64,
    pub(super) target_gpm: Option<f64>,
}

impl Flows {
    fn best_gpm(&self) -> f64 {
        self.boosted.map_or(self.main_gpm, |(gpm, _)| gpm)
    }

    fn binding(&self) -> DiagnosisCode {
        self.boosted.map_or(DiagnosisCode::Water, |(_, limit)| DiagnosisCode::of_limit(limit))
    }

    fn against_target(&self, answer_gpm: f64, target: f64) -> DiagnosisCode {
        if answer_gpm >= target {
            DiagnosisCode::Met
        } else if target > self.main_gpm {
            DiagnosisCode::Water
        } else if self.alone_gpm < target && target <= self.best_gpm() {
            DiagnosisCode::Friction
        } else {
            self.binding()
        }
    }

    /// The hydrant alone.
    pub(super) fn alone(&self) -> Diagnosis {
        let code = match self.target_gpm {
            Some(target) => self.against_target(self.alone_gpm, target),
            None if !worth_it(self.alone_gpm, self.best_gpm()) => DiagnosisCode::Water,
            None => DiagnosisCode::Friction,
        };
        self.worded(code, self.alone_gpm)
    }

    /// With the pumpers.
    pub(super) fn boosted(&self, gpm: f64) -> Diagnosis {
        let code = match self.target_gpm {
            Some(target) => self.against_target(gpm, target),
            None if !worth_it(gpm, self.main_gpm) => DiagnosisCode::Water,
            None => self.binding(),
        };
        self.worded(code, gpm)
    }

    fn worded(&self, code: DiagnosisCode, answer_gpm: f64) -> Diagnosis {
        let [now, best, main] = [answer_gpm, self.best_gpm(), self.main_gpm].map(planning_gpm);
        let target = self.target_gpm.unwrap_or(0.0);
        let wanted = self.target_gpm.map_or_else(String::new, |target| format!(" of the {target:.0} gpm wanted"));
        let more = self.boosted.filter(|(gpm, _)| *gpm > answer_gpm);
        let pumped = more.map_or_else(String::new, |_| format!(", {best} gpm would with the pumping given"));
        let message = match code {
            DiagnosisCode::Met => {
                format!("Met: the {target:.0} gpm wanted arrives, and {} gpm is the most.", libm::floor(answer_gpm))
            }
            DiagnosisCode::Friction => format!(
                "Friction: {now} gpm{wanted} arrives{pumped}, and the main gives {main} gpm at its floor. A pumper at the hydrant, a second line or \
                 bigger hose brings more."
            ),
            DiagnosisCode::Water => format!(
                "Water: {now} gpm{wanted} arrives{pumped}, and the main gives {main} gpm at its floor. A boost will not cure that: find another \
                 main, tank water or a shuttle."
            ),
            DiagnosisCode::Suction => format!(
                "Suction: {now} gpm{wanted} arrives{pumped}; then the pumper's intake is at its floor, while the main gives {main} gpm at its own. A \
                 second or larger suction hose brings more."
            ),
            DiagnosisCode::Hose => format!(
                "Hose: {now} gpm{wanted} arrives{pumped}; then the discharge is at the pressure ceiling of the hose. Bigger hose, a second line or \
                 a relay brings more."
            ),
            DiagnosisCode::Pumper => format!(
                "Pumper: {now} gpm{wanted} arrives{pumped}; then the pumper gives all it can. A bigger or second pumper brings more."
            ),
        };
        Diagnosis { code, message }
    }
}

/// Whether going from one flow to another is worth a pumper.
fn worth_it(now_gpm: f64, then_gpm: f64) -> bool {
    then_gpm - now_gpm >= (WATER_GAIN_SHARE * now_gpm).max(WATER_GAIN_GPM)
}
