//! Findings: what is weak about the data behind an answer, each with the number that caused it.

use alloc::vec::Vec;

use crate::flow_test::MeasuredFlow;
use crate::loss::{Appliance, ApplianceLoss};
use crate::quantity::Pressure;
use crate::supply::{LOW_STATIC_PSI, RATING_PRESSURE_PSI, SupplyCurve};

/// Drop under which a test is worth little, as a share of the static. Source: `nfpa-291` (older editions ask for 25 %).
pub const GOOD_DROP_SHARE: f64 = 0.25;
/// Drop under which a test is worth next to nothing. Source: memory of newer editions of `nfpa-291`, which ask for 10 %.
pub const LEAST_DROP_SHARE: f64 = 0.10;
/// Pitot pressure under which a reading is not trusted, psi. Source: `flow-precision`, citing `nfpa-291`.
pub const LEAST_PITOT_PSI: f64 = 10.0;
/// Pitot pressure over which more outlets should be opened, psi. Source: memory of `nfpa-291`.
pub const MOST_PITOT_PSI: f64 = 30.0;
/// Rated flow over tested flow from which the rating is a long extrapolation. A judgement of ours: a curve through one point is not known so far
/// from it (`lingireddy-wood`).
pub const LONG_EXTRAPOLATION: f64 = 2.0;
/// Age from which a test is old, years. Source: `nfpa-291` 4.15.1 (2022).
pub const OLD_TEST_YEARS: f64 = 5.0;
/// Pressure over which a reading is taken for a slip of the pen, psi. A judgement of ours: mains seldom hold so much, and a digit too many is common.
pub const IMPLAUSIBLE_PSI: f64 = 200.0;

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Good to know.
    Note,
    /// The figure may be off.
    Weak,
    /// Do not plan on the figure as it stands.
    Serious,
}

impl Severity {
    /// Its stable code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Weak => "weak",
            Self::Serious => "serious",
        }
    }
}

macro_rules! findings {
    ($($name:ident $code:literal $severity:ident $unit:literal $source:literal $text:literal;)*) => {
        /// Every finding there is.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum FindingCode {
            $(#[doc = $text] $name,)*
        }

        impl FindingCode {
            /// Every code.
            pub const ALL: &[Self] = &[$(Self::$name),*];

            /// Its stable code.
            pub const fn code(self) -> &'static str {
                match self { $(Self::$name => $code,)* }
            }

            /// How much it weighs.
            pub const fn severity(self) -> Severity {
                match self { $(Self::$name => Severity::$severity,)* }
            }

            /// What it says.
            pub const fn text(self) -> &'static str {
                match self { $(Self::$name => $text,)* }
            }

            /// Unit of the number that caused it.
            pub const fn unit(self) -> &'static str {
                match self { $(Self::$name => $unit,)* }
            }

            /// Key of its source in the bibliography.
            pub const fn source(self) -> &'static str {
                match self { $(Self::$name => $source,)* }
            }
        }
    };
}

findings! {
    Untested "untested" Serious "" "common-practice" "No usable flow test bears on this hydrant. That is no data, not no water: test it.";
    NoDrop "no_drop" Serious "gpm" "common-practice" "The test showed no drop: it proves the tested flow, and the main may give more. Flow more and test again.";
    DropUnder10Percent "drop_under_10_percent" Serious "%" "memory" "The residual fell by less than 10 % of the static: the projected flow is worth little. Flow more and test again.";
    DropUnder25Percent "drop_under_25_percent" Weak "%" "nfpa-291" "The residual fell by less than 25 % of the static: the projected flow is uncertain.";
    PitotLow "pitot_low" Weak "psi" "flow-precision" "A pitot reading under 10 psi: open fewer outlets.";
    PitotHigh "pitot_high" Weak "psi" "memory" "A pitot reading over 30 psi: open more outlets.";
    LongExtrapolation "long_extrapolation" Weak "1" "lingireddy-wood" "The rated flow lies far past the tested flow: it is an extrapolation by this ratio.";
    PressureImplausible "pressure_implausible" Serious "psi" "common-practice" "Check the reading: a static over 200 psi, typed as read? Mains seldom hold over 200.";
    StaticDiffers "static_differs_from_other_tests" Serious "psi" "derived" "Check the figure before the main: the static is far from that of the hydrant's other tests.";
    FlowDiffers "flow_differs_from_other_tests" Serious "gpm" "derived" "Check the figure before the main: the rated flow, or the flow proved, is far from that of the hydrant's other tests.";
    FittedCurve "fitted_curve" Note "1" "lingireddy-wood" "The curve goes through two points of the test, and its exponent is this main's own.";
    SecondPointUnfit "second_point_unfit" Serious "1" "derived" "The two points of the test fit no main's curve: a reading is off, or the lesser drop is too small to tell. The curve is drawn through whichever promises less; test again.";
    CapacityFell "capacity_fell" Serious "%" "derived" "The rated flow has fallen by this much since an earlier test, more than the readings explain: look for a closed valve, and for a tuberculated main.";
    CapacityRose "capacity_rose" Note "%" "derived" "The rated flow has risen by this much since an earlier test, more than the readings explain: a valve was opened, the main was renewed, or the earlier test was off.";
    NewerTestSetAside "newer_test_set_aside" Weak "%" "derived" "A newer test moved the gauge by only this share of the static: it is set aside, and the figure rests on an older one. Flow more and test again.";
    OldTest "old_test" Weak "a" "nfpa-291" "The test is older than five years: mains and demand change.";
    SingleHydrantTest "single_hydrant_test" Weak "" "mtas-2062" "The gauge hydrant flowed itself: its own losses are in the readings, and they are less accurate.";
    LowStatic "low_static" Weak "psi" "memory" "Static pressure under 40 psi: rated at half the static.";
    TestedBelow20 "tested_below_20" Weak "psi" "lamm-flow-test" "The test pulled the main under the pressure it is rated at: it is rated at less than was observed.";
    Borrowed "borrowed" Weak "ft" "nfpa-291" "The test was gauged at another hydrant this far away on the same main.";
    NoPumperOutlet "no_pumper_outlet" Serious "" "memory" "The hydrant has no pumper outlet: large-diameter hose on a 2-1/2 in outlet loses more than is counted. Plan on less.";
    ElevationUnknown "elevation_unknown" Weak "" "common-practice" "A borrowed test is not corrected for elevation: a ground elevation is missing.";
    GroundUnknown "ground_unknown" Weak "" "common-practice" "The ground at the hydrant or at the place is not known: the rise is left out, and the band is wider for it.";
    StraightLineLay "straight_line_lay" Weak "1" "common-practice" "No streets are known: the lay is the straight distance times this detour factor, and railways, rivers and walls between are not seen.";
    AssumedLoss "assumed_loss" Weak "psi/(100 gpm)²" "memory" "A loss coefficient is a default and not this department's own test; sources disagree on it.";
    ConnectingHosesLeftOut "connecting_hoses_left_out" Weak "" "common-practice" "The hoses between the hydrant or its valve and the pumper are not given and not counted: expect a little less.";
    NoBodyLoss "no_body_loss" Weak "" "memory" "The source is given without a loss for the hydrant's own body, and none is counted: expect a little less.";
    FloorLowered "floor_lowered" Serious "psi" "nfpa-291" "A floor is set under the 20 psi that is to be left: a main so low may draw in dirt, and it or a hose may collapse. Do not plan on it without the water authority.";
    HoseOverRating "hose_over_rating" Serious "psi" "nfpa-1962" "With nothing flowing, the main alone puts this much more than its marking on hose or an appliance.";
    PumpOverMarking "pump_over_marking" Serious "psi" "nfpa-1962" "With the nozzle shut the pump puts this much more than its marking on hose or an appliance: do not pump so.";
    HoseUnmarked "hose_unmarked" Serious "" "nfpa-1962" "A pumper feeds hose with no known marking: no pressure limit is computed for it.";
    ValveStaysShut "valve_stays_shut" Serious "psi" "common-practice" "The pumper's ceiling is under the discharge at which the hydrant valve changes over: do not plan on the boosted flow, the valve may leave the hydrant to supply the line alone.";
    FillUnknown "fill_unknown" Weak "" "common-practice" "The time to fill the line cannot be told: a hose's diameter is not given, or nothing flows. Take it that the tank runs out first.";
    PumperWouldLimit "pumper_would_limit" Note "gpm" "common-practice" "Through this pumper less would arrive than without it: let the hydrant supply the line.";
    TargetInBand "target_in_band" Weak "gpm" "derived" "The flow wanted lies inside the 90 % band of what arrives, whose low end this is: it may arrive or fall short.";
    TargetInMainBand "target_in_main_band" Weak "gpm" "derived" "The flow wanted lies inside the 90 % band of what the main gives, whose low end this is: the main may have it or not.";
    DrillBias "drill_bias" Weak "psi" "derived" "Drills with this equipment read this much more at their last gauge than was predicted, on the mean; less than nothing is less than was predicted. The answer is not corrected for it.";
    EvenSlope "even_slope" Note "ft" "common-practice" "One rise is given for all of the ground, and taken as an even slope: a hill or a hollow between moves the pumpers.";
    LargestPumpNotAtSource "largest_pump_not_at_source" Weak "gpm" "relay-practice-cards" "A pumper of this capacity stands behind a smaller one: put the largest pump at the source.";
    IntakeOverDischarge "intake_over_discharge" Serious "psi" "common-practice" "So much more arrives at a pumper than it is to discharge: gate its intake down.";
    AltitudeUnknown "altitude_unknown" Weak "" "nwcg-35" "No altitude is given, and the lift is counted at sea level: higher up, less is lifted.";
    SuctionNotGiven "suction_not_given" Weak "" "ifsta-pump-ops" "No test of the suction hose is given: only the share of the rating by lift is counted. A small or long suction gives less.";
    LiftBeyondFigures "lift_beyond_figures" Serious "ft" "ifsta-pump-ops" "No share of a pumper's rating is known for a lift over 20 ft, counted at sea level: no flow is promised. Try it, and measure.";
    LiftNotDependable "lift_not_dependable" Weak "ft" "ifsta-pump-ops" "The lift is over what can be depended on, by this much.";
    SiteLimitUnknown "site_limit_unknown" Weak "" "common-practice" "The number of fill or dump sites, or what a fill site flows, is not given: waiting there is not counted in full.";
    FillTimeShort "fill_time_short" Serious "gpm" "common-practice" "A tanker's fill time asks this flow of a fill site, more than it gives: expect a longer round.";
    ReadingsTooSmall "readings_too_small" Weak "%" "derived" "The losses read in the department's own test were too small to mean much: its figure may be off by this share. Test again with more flow, or over more hose.";
    PumpBeyondRating "pump_beyond_rating" Serious "%" "derived" "The pumper's test shows so much of its rating, which no pumper of it can: the test is not used. Look at its rating and at the readings.";
    PumpBelowRating "pump_below_rating" Weak "%" "pump-service-test" "By the department's own test the pumper adds less than its rating promises at a flow, by this share at most: have it looked at.";
    BeyondCarriedHose "beyond_carried_hose" Serious "ft" "common-practice" "The lay is longer than the hose carried for it by this much.";
    MainNotKnown "main_not_known" Weak "" "common-practice" "Whether the hydrants stand on one main is not known: they are counted as on one. The upper figure holds only if each has its own.";
    SecondLineAddsLittle "second_line_adds_little" Note "gpm" "derived" "All lines together bring little more than the best one by itself: only this much.";
    LineLeftShut "line_left_shut" Weak "" "derived" "With this line open all lines together bring less: the main at its hydrant is at its floor first. It is left shut.";
}

/// A floor that may be set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Floor {
    /// Of the main.
    Main,
    /// At the scene pumper's intake.
    Scene,
    /// At the intake of a pumper in the lay.
    Intake,
}

/// What a finding tells beside its number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Detail {
    /// The floor it is about.
    Floor(Floor),
    /// What another test has in its place, in [`FindingCode::unit`].
    OtherTest {
        /// The number.
        value: f64,
        /// The day of that test: 1 is 1 January of the year 1.
        day: i32,
    },
}

/// One finding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finding {
    /// What.
    pub code: FindingCode,
    /// The number that caused it, in [`FindingCode::unit`].
    pub value: Option<f64>,
    /// The part of the lay it is about.
    pub part: Option<usize>,
    /// What else there is to tell.
    pub detail: Option<Detail>,
}

impl Finding {
    /// A finding with its number.
    pub const fn new(code: FindingCode, value: f64) -> Self {
        Self { code, value: Some(value), part: None, detail: None }
    }

    /// A finding that no number caused.
    pub const fn plain(code: FindingCode) -> Self {
        Self { code, value: None, part: None, detail: None }
    }

    /// The same, with what else there is to tell.
    #[must_use]
    pub const fn with(self, detail: Detail) -> Self {
        Self { detail: Some(detail), ..self }
    }

    /// That a floor is under what is to be left.
    pub fn floor_lowered(floor: Floor, set: Pressure) -> Option<Self> {
        let psi = set.psi();
        (psi < RATING_PRESSURE_PSI).then(|| Self::new(FindingCode::FloorLowered, psi).with(Detail::Floor(floor)))
    }

    /// The same, about a part of the lay.
    #[must_use]
    pub const fn at(self, part: Option<usize>) -> Self {
        Self { part, ..self }
    }
}

impl SupplyCurve {
    /// What the three numbers of a test say against it.
    pub fn findings(&self) -> Vec<Finding> {
        let mut found = Vec::new();
        if self.static_psi() > IMPLAUSIBLE_PSI {
            found.push(Finding::new(FindingCode::PressureImplausible, self.static_psi()));
        }
        let share = (self.static_psi() - self.residual_psi()) / self.static_psi();
        if self.no_drop() {
            found.push(Finding::new(FindingCode::NoDrop, self.tested_gpm()));
        } else if share < LEAST_DROP_SHARE {
            found.push(Finding::new(FindingCode::DropUnder10Percent, 100.0 * share));
        } else if share < GOOD_DROP_SHARE {
            found.push(Finding::new(FindingCode::DropUnder25Percent, 100.0 * share));
        }
        if let Some(ratio) = self.rated_flow_gpm().map(|rated| rated / self.tested_gpm())
            && ratio > LONG_EXTRAPOLATION
        {
            found.push(Finding::new(FindingCode::LongExtrapolation, ratio));
        }
        if self.static_psi() < LOW_STATIC_PSI {
            found.push(Finding::new(FindingCode::LowStatic, self.static_psi()));
        }
        if self.residual_psi() < self.rating_pressure_psi() {
            found.push(Finding::new(FindingCode::TestedBelow20, self.residual_psi()));
        }
        found
    }
}

impl Appliance {
    /// That its loss is assumed, with the coefficient where there is one.
    pub(crate) fn assumed_loss(&self) -> Option<Finding> {
        self.assumed.then(|| match self.loss {
            ApplianceLoss::Squared(k) => Finding::new(FindingCode::AssumedLoss, k.psi_per_100gpm2()),
            ApplianceLoss::Step { .. } => Finding::plain(FindingCode::AssumedLoss),
        })
    }
}

impl MeasuredFlow {
    /// What the pitot readings say against the flow: the lowest and the highest are named.
    pub fn findings(&self) -> Vec<Finding> {
        let Self::Pitot(readings) = self else { return Vec::new() };
        let pitots = || readings.iter().map(|reading| reading.pitot.psi());
        let low = pitots().fold(f64::MAX, f64::min);
        let high = pitots().fold(0.0, f64::max);
        let mut found = Vec::new();
        if low < LEAST_PITOT_PSI {
            found.push(Finding::new(FindingCode::PitotLow, low));
        }
        if high > MOST_PITOT_PSI {
            found.push(Finding::new(FindingCode::PitotHigh, high));
        }
        found
    }
}
