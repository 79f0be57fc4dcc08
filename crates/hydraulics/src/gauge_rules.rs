//! What is left in a hydrant, by rules from the drop on the intake gauge: what each promises, beside what the supply curve allows.

use thiserror::Error;

use crate::quantity::{Flow, Pressure};
use crate::supply::SupplyCurve;

/// A rule at the pump panel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GaugeRule {
    /// By the drop as a percentage of the static.
    Percentage,
    /// By the drop against the first digit of the static.
    FirstDigit,
    /// The drop grows with the square of the number of like lines.
    SquaringTheLines,
}

/// Most drop, percent of static, with the like volumes that the percentage rule promises to it. Above the last, none.
///
/// Source: `roll-steady`, `gauge-drop-cards`.
pub const PERCENTAGE_BANDS: [(f64, u8); 3] = [(10.0, 3), (15.0, 2), (25.0, 1)];

/// Most drop, in first digits of the static, with the like volumes that the first-digit rule promises to it. Above the last, none.
///
/// Source: `gauge-drop-cards`, `roll-steady`.
pub const FIRST_DIGIT_BANDS: [(f64, u8); 3] = [(1.0, 3), (2.0, 2), (3.0, 1)];

/// A reading that a rule has no answer to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("squaring the lines needs a drop to square: with none it promises water without end. Flow more and read again")]
pub struct NothingToSquare;

/// What is left in the main by the curve through a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowLeft {
    /// The flow at which the main is at its floor, gpm. Less than flows now where the main is under it already.
    pub total_gpm: f64,
    /// What that is beyond the flow of the reading, gpm.
    pub more_gpm: f64,
}

/// What is left in the main down to a floor, by the curve through a reading; none where there was no drop, which proves nothing beyond it.
///
/// # Formula
/// `Q ((S - floor)/(S - R))^0.54`, less `Q`.
/// # Units
/// psi, gpm.
/// # Range
/// As the supply curve. Read at a pumper's intake, friction in the hose to it counts in the drop: the curve is then of hydrant and hose, and what
/// is left is what the same hose brings.
/// # Examples
/// ```
/// # use longlay_hydraulics::{gauge_rules::flow_left, quantity::{PositiveFlow, Pressure}, supply::SupplyCurve};
/// let reading = SupplyCurve::new(Pressure::from_psi(80.0)?, Pressure::from_psi(60.0)?, PositiveFlow::from_gpm(500.0)?)?;
/// let left = flow_left(&reading, Pressure::from_psi(20.0)?).ok_or("there was a drop")?;
/// assert_eq!((left.total_gpm.round(), left.more_gpm.round()), (905.0, 405.0));
/// # Ok::<(), Box<dyn core::error::Error>>(())
/// ```
/// # Source
/// `kolb-fpt102`, `derived`.
pub fn flow_left(reading: &SupplyCurve, floor: Pressure) -> Option<FlowLeft> {
    let total_gpm = reading.flow_gpm(floor.psi());
    let more_gpm = (total_gpm - reading.tested_gpm()).max(0.0);
    (!reading.no_drop()).then_some(FlowLeft { total_gpm, more_gpm })
}

/// What a rule promises, and what the curve says to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RuleAnswer {
    /// The drop, psi.
    pub drop_psi: f64,
    /// The drop as a percentage of the static.
    pub drop_percent: f64,
    /// How many more volumes like the one flowing the rule promises.
    pub more_volumes: u8,
    /// The same, gpm.
    pub promised_gpm: f64,
    /// What the curve allows beyond the flow of the reading, down to the floor, gpm. Nothing where there was no drop: more was not proved.
    pub allowed_gpm: f64,
    /// The residual that adding the promised flow would leave, psi, by the curve; under nothing where the main cannot give it. None where
    /// there was no drop to draw a curve through, or where the flow is more than any main gives.
    pub residual_if_added_psi: Option<f64>,
    /// Whether the rule promises more than the curve allows.
    pub over_promises: bool,
}

impl GaugeRule {
    /// Every rule.
    pub const ALL: [Self; 3] = [Self::Percentage, Self::FirstDigit, Self::SquaringTheLines];

    /// What the rule promises from a static and one reading, beside what the curve through them allows.
    ///
    /// # Formula
    /// Percentage: `100 (S - R)/S` to 10: 3 more like volumes, to 15: 2, to 25: 1, over: none. First digit: `(S - R)` to the first digit of S: 3, to
    /// twice: 2, to three times: 1, over: none. Squaring: the most `n` with `S - n² (S - R) >= floor`, less the one flowing.
    /// # Units
    /// psi, gpm.
    /// # Range
    /// Estimates at the panel; by the curve all but squaring over-promise at their upper edges. The bands are printed in whole percents: between
    /// 10 and 11, and between 15 and 16, the worse band is taken. The first digit is the tens'; of a static of three digits the first two
    /// are taken, and under 10 psi it is nothing, which promises only where there is no drop.
    /// # Errors
    /// Squaring where there is no drop.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::{gauge_rules::GaugeRule, quantity::{PositiveFlow, Pressure}, supply::SupplyCurve};
    /// let reading = SupplyCurve::new(Pressure::from_psi(80.0)?, Pressure::from_psi(60.0)?, PositiveFlow::from_gpm(500.0)?)?;
    /// let rule = GaugeRule::Percentage.apply(&reading, Pressure::from_psi(20.0)?)?;
    /// assert_eq!(rule.promised_gpm, 500.0);
    /// assert_eq!(rule.allowed_gpm.round(), 405.0);
    /// assert!(rule.over_promises);
    /// # Ok::<(), Box<dyn core::error::Error>>(())
    /// ```
    /// # Source
    /// `roll-steady`, `gauge-drop-cards`; three-digit statics and squaring from `memory`, the comparison `derived`.
    pub fn apply(self, reading: &SupplyCurve, floor: Pressure) -> Result<RuleAnswer, NothingToSquare> {
        let (drop_psi, drop_percent) = (reading.drop_psi(), reading.drop_percent());
        let more_volumes = match self {
            Self::Percentage => promised(&PERCENTAGE_BANDS, 1.0, drop_percent),
            Self::FirstDigit => promised(&FIRST_DIGIT_BANDS, libm::floor(reading.static_psi() / 10.0), drop_psi),
            Self::SquaringTheLines if reading.no_drop() => return Err(NothingToSquare),
            Self::SquaringTheLines => squared(reading.static_psi() - floor.psi(), drop_psi),
        };
        let promised_gpm = f64::from(more_volumes) * reading.tested_gpm();
        let allowed_gpm = flow_left(reading, floor).map_or(0.0, |left| left.more_gpm);
        let total = reading.tested_gpm() + promised_gpm;
        let known = !reading.no_drop() && total <= Flow::BOUND.max;
        Ok(RuleAnswer {
            drop_psi,
            drop_percent,
            more_volumes,
            promised_gpm,
            allowed_gpm,
            residual_if_added_psi: known.then(|| reading.pressure_psi(total)),
            over_promises: promised_gpm > allowed_gpm,
        })
    }
}

/// The volumes of the first band that holds a drop.
fn promised(bands: &[(f64, u8)], unit: f64, drop: f64) -> u8 {
    bands.iter().find(|(most, _)| drop <= most * unit).map_or(0, |(_, volumes)| *volumes)
}

/// The most further lines whose squared drop leaves the floor.
fn squared(above_floor_psi: f64, drop_psi: f64) -> u8 {
    let leaves_floor = |more: &u8| {
        let lines = f64::from(*more) + 1.0;
        lines * lines * drop_psi <= above_floor_psi
    };
    (1..=u8::MAX).take_while(leaves_floor).last().unwrap_or(0)
}
