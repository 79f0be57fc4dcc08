//! A department's own tests of its hose, appliances, hydrant valves and pumpers: recorded once, never edited, voided with a reason; and the policy
//! that says which of them stands.

use chrono::{DateTime, NaiveDate, Utc};
use longlay_hydraulics::finding::{Finding, FindingCode};
use longlay_hydraulics::friction_test::{
    FrictionTest, NoCoefficient, TestedCoefficient, TwoGaugeReading, USELESS_SHARE,
};
use longlay_hydraulics::loss_test::LossTest;
use longlay_hydraulics::pump_test::{NoPumpCurve, PumpReading};
use longlay_hydraulics::pumper::PumpCurve;
use longlay_hydraulics::quantity::{
    ApplianceCoefficient, HoseCoefficient, Length, MeterUncertainty, PositiveFlow, Rise,
};
use thiserror::Error;
use uuid::Uuid;

use crate::flow_test::Voided;
use crate::id::AssetId;

/// Most readings of one test.
pub const MAX_TEST_READINGS: usize = 50;

/// A way through a four-way hydrant valve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Leg {
    /// Hydrant to supply line, unboosted.
    Through,
    /// Hydrant to the pumper's intake.
    ToPump,
    /// Pumper's discharge to the supply line.
    FromPump,
}

/// What a test is of: the kind of equipment whose figure it gives.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Subject {
    /// A kind of hose.
    Hose(AssetId),
    /// A kind of appliance.
    Appliance(AssetId),
    /// One leg of a kind of hydrant valve.
    ValveLeg(AssetId, Leg),
    /// A pumper.
    Pumper(AssetId),
}

/// A gauge at either end and a measured flow.
#[derive(Debug, Clone, PartialEq)]
pub struct TwoGauges {
    /// How much higher the far gauge is.
    pub rise: Rise,
    /// How far the flow meter may be off.
    pub meter: MeterUncertainty,
    /// The readings.
    pub readings: Vec<TwoGaugeReading>,
}

/// What was tested and read.
#[derive(Debug, Clone, PartialEq)]
pub enum Measured {
    /// One line of hose.
    Hose {
        /// The kind of hose.
        hose_type_id: AssetId,
        /// Hose between the gauges.
        length: Length,
        /// The gauges.
        gauges: TwoGauges,
    },
    /// An appliance.
    Appliance {
        /// The kind of appliance.
        appliance_id: AssetId,
        /// The gauges.
        gauges: TwoGauges,
    },
    /// One leg of a hydrant valve.
    ValveLeg {
        /// The kind of valve.
        hydrant_valve_id: AssetId,
        /// The leg.
        leg: Leg,
        /// The gauges.
        gauges: TwoGauges,
    },
    /// A pumper.
    Pumper {
        /// The pumper.
        pumper_id: AssetId,
        /// Its gauges at each flow.
        readings: Vec<PumpReading>,
    },
}

/// A test of a piece of equipment.
#[derive(Debug, Clone, PartialEq)]
pub struct EquipmentTest {
    /// Its id, given when it was recorded; version 7, so that it sorts by time of recording.
    pub id: Uuid,
    /// What was tested and read.
    pub measured: Measured,
    /// The day of the test.
    pub tested_on: NaiveDate,
    /// How it was done.
    pub method: String,
    /// Anything else.
    pub notes: Option<String>,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// Set when the test was voided.
    pub voided: Option<Voided>,
}

/// What a test gives.
#[derive(Debug, Clone, PartialEq)]
pub enum Figure {
    /// C of a hose.
    Hose(TestedCoefficient<HoseCoefficient>),
    /// k of an appliance or a valve's leg.
    Loss(TestedCoefficient<ApplianceCoefficient>),
    /// A pumper's curve.
    Curve(PumpCurve),
}

/// Why a test gives nothing.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoFigure {
    /// The readings of two gauges give no coefficient.
    #[error(transparent)]
    Coefficient(#[from] NoCoefficient),
    /// The readings of a pumper give no curve.
    #[error(transparent)]
    Curve(#[from] NoPumpCurve),
}

impl Measured {
    /// What it is a test of.
    pub fn subject(&self) -> Subject {
        match self {
            Self::Hose { hose_type_id, .. } => Subject::Hose(hose_type_id.clone()),
            Self::Appliance { appliance_id, .. } => Subject::Appliance(appliance_id.clone()),
            Self::ValveLeg { hydrant_valve_id, leg, .. } => Subject::ValveLeg(hydrant_valve_id.clone(), *leg),
            Self::Pumper { pumper_id, .. } => Subject::Pumper(pumper_id.clone()),
        }
    }

    /// How many readings were taken.
    pub fn readings(&self) -> usize {
        match self {
            Self::Hose { gauges, .. } | Self::Appliance { gauges, .. } | Self::ValveLeg { gauges, .. } => {
                gauges.readings.len()
            }
            Self::Pumper { readings, .. } => readings.len(),
        }
    }

    /// What it gives.
    ///
    /// # Errors
    /// Readings that give nothing.
    pub fn figure(&self) -> Result<Figure, NoFigure> {
        match self {
            Self::Hose { length, gauges: TwoGauges { rise, meter, readings }, .. } => {
                let test = FrictionTest { length: *length, rise: *rise, readings, meter: *meter };
                Ok(Figure::Hose(test.coefficient()?))
            }
            Self::Appliance { gauges, .. } | Self::ValveLeg { gauges, .. } => {
                let TwoGauges { rise, meter, readings } = gauges;
                Ok(Figure::Loss(LossTest { rise: *rise, readings, meter: *meter }.coefficient()?))
            }
            Self::Pumper { readings, .. } => Ok(Figure::Curve(PumpCurve::from_test(readings)?)),
        }
    }
}

impl Figure {
    /// Whether it may stand in place of a handbook's: losses too small to tell it, and a pumper beyond its rating, must not make an answer better.
    fn is_believed(&self, rated_flow: Option<PositiveFlow>) -> bool {
        match self {
            Self::Hose(tested) => tested.relative_uncertainty <= USELESS_SHARE,
            Self::Loss(tested) => tested.relative_uncertainty <= USELESS_SHARE,
            Self::Curve(curve) => rated_flow.and_then(|rated| curve.beyond_rating(rated)).is_none(),
        }
    }

    /// What is weak about it; of a pumper's curve, against its rating.
    pub fn finding(&self, rated_flow: Option<PositiveFlow>) -> Option<Finding> {
        let too_small = |share: f64| Finding::new(FindingCode::ReadingsTooSmall, 100.0 * share);
        match self {
            Self::Hose(tested) => tested.readings_too_small.then(|| too_small(tested.relative_uncertainty)),
            Self::Loss(tested) => tested.readings_too_small.then(|| too_small(tested.relative_uncertainty)),
            Self::Curve(curve) => curve.beyond_rating(rated_flow?).or_else(|| curve.below_rating(rated_flow?)),
        }
    }
}

/// The figure that stands for a piece of equipment in place of the handbook's, and the test that says so.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnFigure<'a> {
    /// The test.
    pub test: &'a EquipmentTest,
    /// What it gives.
    pub figure: Figure,
}

/// Of the tests of one subject, the figure in use: that of the newest test which was not voided and gives one to believe, of a pumper beside its rating; of one day's the last recorded. None
/// where no test stands.
pub fn own_figure<'a>(
    tests: impl IntoIterator<Item = &'a EquipmentTest>,
    rated_flow: Option<PositiveFlow>,
) -> Option<OwnFigure<'a>> {
    let standing = tests.into_iter().filter(|test| test.voided.is_none());
    let giving = standing.filter_map(|test| Some(OwnFigure { test, figure: test.measured.figure().ok()? }));
    let believed = giving.filter(|own| own.figure.is_believed(rated_flow));
    believed.max_by_key(|own| (own.test.tested_on, own.test.id))
}

#[cfg(test)]
mod tests {
    use longlay_hydraulics::quantity::Pressure;

    use super::*;

    /// 100 ft of hose that loses so much at 1000 gpm: C is a hundredth of it.
    fn test(n: u128, on: &str, lost: f64) -> EquipmentTest {
        let psi = |psi| Pressure::from_psi(psi).unwrap();
        let flow = PositiveFlow::from_gpm(1000.0).unwrap();
        let gauges = TwoGauges {
            rise: Rise::from_ft(0.0).unwrap(),
            meter: MeterUncertainty::from_percent(2.0).unwrap(),
            readings: vec![TwoGaugeReading { flow, upstream: psi(100.0 + lost), downstream: psi(100.0) }],
        };
        let hose_type_id = AssetId::new("own").unwrap();
        EquipmentTest {
            id: Uuid::from_u128(n),
            measured: Measured::Hose { hose_type_id, length: Length::from_ft(100.0).unwrap(), gauges },
            tested_on: on.parse().unwrap(),
            method: "two gauges".into(),
            notes: None,
            recorded_at: DateTime::UNIX_EPOCH,
            voided: None,
        }
    }

    fn voided(test: EquipmentTest) -> EquipmentTest {
        EquipmentTest { voided: Some(Voided { reason: "meter stuck".into(), at: DateTime::UNIX_EPOCH }), ..test }
    }

    fn stands(tests: &[EquipmentTest]) -> Option<u128> {
        own_figure(tests, None).map(|own| own.test.id.as_u128())
    }

    #[test]
    fn the_newest_day_stands_and_of_one_day_the_last_recorded() {
        let tests = [test(3, "2024-05-01", 5.0), test(1, "2026-05-01", 6.0), test(2, "2026-05-01", 7.0)];
        assert_eq!(stands(&tests), Some(2));
        assert_eq!(stands(&tests[..2]), Some(1));
        assert_eq!(stands(&[]), None);
    }

    #[test]
    fn a_voided_test_and_one_that_gives_nothing_do_not_stand() {
        let older = test(1, "2020-01-01", 5.0);
        assert_eq!(stands(&[older.clone(), voided(test(2, "2026-01-01", 6.0))]), Some(1));
        assert_eq!(stands(&[older, test(2, "2026-01-01", 0.0)]), Some(1));
        assert_eq!(stands(&[voided(test(2, "2026-01-01", 6.0))]), None);
    }

    #[test]
    fn a_test_no_surer_than_a_handbook_does_not_stand() {
        // √(35.36² + 4²) = 35.58 % of 4 psi, against √(28.28² + 4²) = 28.57 % of 5.
        assert_eq!(stands(&[test(1, "2020-01-01", 5.0), test(2, "2026-01-01", 4.0)]), Some(1));
        assert_eq!(stands(&[test(2, "2026-01-01", 4.0)]), None);
    }

    #[test]
    fn losses_too_small_are_told_with_their_share() {
        // √(14.14² + 4²) = 14.70 % of 10 psi passes, of 5 psi √(28.28² + 4²) = 28.57 % does not.
        assert_eq!(test(1, "2026-01-01", 10.0).measured.figure().unwrap().finding(None), None);
        let found = test(1, "2026-01-01", 5.0).measured.figure().unwrap().finding(None).unwrap();
        assert_eq!(found.code, FindingCode::ReadingsTooSmall);
        assert!((found.value.unwrap() - 28.57).abs() < 0.01, "{found:?}");
    }
}
