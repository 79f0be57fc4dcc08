//! Is it friction or is it water? The diagnosis compares flows, so that nobody sends a pumper to an empty main.

use alloc::format;
use alloc::string::String;
use alloc::vec;
use alloc::vec::Vec;

use crate::band::Band;
use crate::lay::limits::{Limit, planning_gpm};
use crate::lay::planned::{Subject, planned};

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
    /// The main may or may not have more: its test showed no drop and proves no more than was flowed.
    Unproved,
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
    /// A flow test that flows more.
    FlowTest,
}

impl Remedy {
    const fn words(self) -> &'static str {
        match self {
            Self::PumperAtHydrant => "a pumper at the hydrant",
            Self::SecondLine => "a second line",
            Self::BiggerHose => "bigger hose",
            Self::Relay => "a relay pumper between",
            Self::BiggerOrSecondPumper => "a bigger or second pumper",
            Self::LargerSuction => "a second or larger suction hose",
            Self::AnotherMain => "another main",
            Self::TankWater => "tank water",
            Self::Shuttle => "a shuttle",
            Self::FlowTest => "a flow test that flows more, and the gauges today",
        }
    }

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
            Self::FlowTest => "flow_test",
        }
    }
}

impl DiagnosisCode {
    const fn name(self) -> &'static str {
        match self {
            Self::Met => "Met",
            Self::Friction => "Friction",
            Self::Water => "Water",
            Self::Unproved => "Unproved",
            Self::Suction => "Suction",
            Self::Hose => "Hose",
            Self::Pumper => "Pumper",
        }
    }

    /// Its stable code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Met => "met",
            Self::Friction => "friction",
            Self::Water => "water",
            Self::Unproved => "unproved",
            Self::Suction => "suction",
            Self::Hose => "hose",
            Self::Pumper => "pumper",
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
    /// What helps, first things first.
    pub remedies: Vec<Remedy>,
    /// The flows that decided, rounded down, what helps, and what to plan on, in words.
    pub message: String,
    /// Whether it would be another somewhere inside the bands of the flows that decided.
    pub in_doubt: bool,
}

/// What a diagnosis weighs.
#[derive(Debug, Clone, Copy)]
#[expect(clippy::struct_excessive_bools, reason = "each is a plain fact that the words turn on")]
pub(super) struct Flows<'a> {
    pub(super) alone_gpm: f64,
    /// With the pumpers, and what binds then; none without pumpers.
    pub(super) boosted: Option<(f64, Limit)>,
    pub(super) main_gpm: f64,
    pub(super) target_gpm: Option<f64>,
    /// With nothing flowing, the rise leaves less than the floor at the end of the hydrant's own section.
    pub(super) too_high: bool,
    /// Through the pumper given, no more arrives than without it.
    pub(super) pumper_is_no_help: bool,
    /// The test showed no drop.
    pub(super) no_drop: bool,
    /// Supply hose lies between the hydrant and the first pumper.
    pub(super) hose_before_pumper: bool,
    /// How sure the main's flow is.
    pub(super) main_band: &'a Band,
}

impl Flows<'_> {
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

    /// Water only where the main itself has no more to give: a pumper that is too small is no empty main.
    fn without_target(&self, answer_gpm: f64) -> DiagnosisCode {
        if worth_it(answer_gpm, self.best_gpm()) {
            DiagnosisCode::Friction
        } else if worth_it(answer_gpm, self.main_gpm) {
            self.binding()
        } else {
            DiagnosisCode::Water
        }
    }

    /// The hydrant alone.
    pub(super) fn alone(&self, band: &Band) -> Diagnosis {
        let subject = if self.boosted.is_some() { Subject::HydrantAlone } else { Subject::Hydrant };
        self.of(self.alone_gpm, band, subject)
    }

    /// With the pumpers.
    pub(super) fn boosted(&self, gpm: f64, band: &Band) -> Diagnosis {
        // At a hydrant valve a pumper that would limit is left out, and what arrives is the hydrant's.
        let left_out = self.pumper_is_no_help && gpm == self.alone_gpm;
        self.of(gpm, band, if left_out { Subject::HydrantAlone } else { Subject::Pumped })
    }

    pub(super) fn of(&self, answer_gpm: f64, band: &Band, subject: Subject) -> Diagnosis {
        let code = self
            .target_gpm
            .map_or_else(|| self.without_target(answer_gpm), |target| self.against_target(answer_gpm, target));
        // No data is not no water.
        let code = if code == DiagnosisCode::Water && self.no_drop { DiagnosisCode::Unproved } else { code };
        let remedies = self.remedies(code);
        let plan = planned(subject, band, self.no_drop, self.target_gpm);
        let message = format!("{} {plan}", self.message(code, answer_gpm, subject.brings(), &remedies));
        Diagnosis { code, message, remedies, in_doubt: self.in_doubt(code, band) }
    }

    /// Whether the target lies inside the band of what arrives, or inside that of what the main gives where the two would be told apart by it.
    fn in_doubt(&self, code: DiagnosisCode, band: &Band) -> bool {
        let main_decides = matches!(code, DiagnosisCode::Water | DiagnosisCode::Friction | DiagnosisCode::Unproved);
        self.target_gpm.is_some_and(|target| band.straddles(target) || main_decides && self.main_band.straddles(target))
    }

    fn remedies(&self, code: DiagnosisCode) -> Vec<Remedy> {
        use Remedy::{
            AnotherMain, BiggerHose, BiggerOrSecondPumper, FlowTest, LargerSuction, PumperAtHydrant, Relay, SecondLine,
            Shuttle, TankWater,
        };
        match code {
            DiagnosisCode::Met => vec![],
            // No hose lifts water: only pressure does.
            DiagnosisCode::Friction if self.too_high && self.pumper_is_no_help => vec![BiggerOrSecondPumper, Relay],
            DiagnosisCode::Friction if self.too_high => vec![PumperAtHydrant, Relay],
            DiagnosisCode::Friction if self.pumper_is_no_help => vec![SecondLine, BiggerHose, BiggerOrSecondPumper],
            DiagnosisCode::Friction => vec![PumperAtHydrant, SecondLine, BiggerHose],
            DiagnosisCode::Water => vec![AnotherMain, TankWater, Shuttle],
            DiagnosisCode::Unproved => vec![FlowTest, AnotherMain],
            DiagnosisCode::Suction if self.hose_before_pumper => vec![SecondLine, BiggerHose, PumperAtHydrant],
            DiagnosisCode::Suction => vec![LargerSuction],
            DiagnosisCode::Hose if self.too_high => vec![Relay],
            DiagnosisCode::Hose => vec![BiggerHose, SecondLine, Relay],
            DiagnosisCode::Pumper => vec![BiggerOrSecondPumper],
        }
    }

    fn message(&self, code: DiagnosisCode, answer_gpm: f64, subject: &str, remedies: &[Remedy]) -> String {
        let [now, best, main] = [answer_gpm, self.best_gpm(), self.main_gpm].map(planning_gpm);
        let wanted = self.target_gpm.map_or_else(String::new, |target| format!(" of the {target:.0} gpm wanted"));
        let more = self.boosted.filter(|(gpm, _)| *gpm > answer_gpm);
        let pumped = more.map_or_else(String::new, |_| format!(", the pumping given would bring {best}"));
        let holds = if self.no_drop {
            format!("the test proves {main} gpm of the main and no more is known")
        } else {
            format!("the main gives {main} gpm at its floor")
        };
        let why = match code {
            DiagnosisCode::Met => return self.met(answer_gpm, subject),
            DiagnosisCode::Friction if self.too_high => "the rise takes what pressure there is",
            DiagnosisCode::Friction => "the lay takes the pressure",
            DiagnosisCode::Water if self.target_gpm.is_some() => "no boost brings more than the main gives",
            DiagnosisCode::Water => "a boost adds next to nothing",
            DiagnosisCode::Unproved => "it may give more or not",
            DiagnosisCode::Suction => "the pumper's intake is at its floor",
            DiagnosisCode::Hose => "the discharge is at the pressure ceiling of the hose",
            DiagnosisCode::Pumper => "the pumper gives all it can",
        };
        let name = code.name();
        let helps = remedies.iter().map(|remedy| remedy.words()).collect::<Vec<_>>().join(", ");
        format!("{name}: {subject} {now} gpm{wanted}{pumped}, and {holds}; {why}. What helps: {helps}.")
    }

    fn met(&self, answer_gpm: f64, subject: &str) -> String {
        format!("Met: {subject} the {:.0} gpm wanted.", self.target_gpm.unwrap_or(answer_gpm))
    }
}

/// Whether going from one flow to another is worth a pumper.
pub(super) fn worth_it(now_gpm: f64, then_gpm: f64) -> bool {
    then_gpm - now_gpm >= (WATER_GAIN_SHARE * now_gpm).max(WATER_GAIN_GPM)
}
