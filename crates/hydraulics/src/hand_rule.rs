//! A rule of thumb for the friction of attack hose, beside what the hose's coefficient says.

use crate::loss::squared_psi;
use crate::quantity::{Length, PositiveFlow, Pressure};

/// The hoses the rule has a number for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HandRuleHose {
    /// 1-3/4 inch.
    OneAndThreeQuarterInch,
    /// 2 inch.
    TwoInch,
}

impl HandRuleHose {
    /// N of the rule. Source: `hydraulics-cards-295947`.
    pub const fn number(self) -> f64 {
        match self {
            Self::OneAndThreeQuarterInch => 3.0,
            Self::TwoInch => 2.0,
        }
    }

    /// The handbook's coefficient, psi/(100 gpm)²/100 ft. Source: `florida-pump-exam`.
    pub const fn coefficient(self) -> f64 {
        match self {
            Self::OneAndThreeQuarterInch => 15.5,
            Self::TwoInch => 8.0,
        }
    }
}

/// A pump pressure by the rule, beside the one by the coefficient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HandRulePressure {
    /// Friction by the rule, psi in 100 ft.
    pub friction_psi_per_100ft: f64,
    /// Friction by the coefficient, psi in 100 ft.
    pub by_coefficient_psi_per_100ft: f64,
    /// Pump pressure by the rule, psi.
    pub pump_psi: f64,
    /// Pump pressure by the coefficient, psi.
    pub by_coefficient_pump_psi: f64,
    /// Whether the rule asks for less than the coefficient does, so that the nozzle may go short.
    pub under_promises: bool,
}

/// The pump pressure of an attack line by the rule of thumb.
///
/// # Formula
/// `FL = N Q/10 - 10` in 100 ft, never under nothing; `PDP = NP + FL L/100`. N is 3 for 1-3/4 inch hose, 2 for 2 inch.
/// # Units
/// gpm, ft, psi; psi out.
/// # Range
/// One department's rule, a straight line beside a squared law. It promises less friction than `C Q² L` does where the flow is high: at 250 gpm in
/// 1-3/4 inch hose 65 psi against 97. Pump by the coefficient, or by a test of the hose. Level ground, no appliance.
/// # Examples
/// ```
/// # use longlay_hydraulics::{hand_rule::{HandRuleHose, hand_rule_pressure}, quantity::{Length, OutOfBounds, PositiveFlow, Pressure}};
/// let (flow, length) = (PositiveFlow::from_gpm(225.0)?, Length::from_ft(150.0)?);
/// let found = hand_rule_pressure(HandRuleHose::OneAndThreeQuarterInch, flow, length, Pressure::from_psi(100.0)?);
/// assert_eq!(found.pump_psi, 186.25);
/// assert!(found.under_promises);
/// # Ok::<(), OutOfBounds>(())
/// ```
/// # Source
/// `hydraulics-cards-295947`; the coefficient beside it `florida-pump-exam`.
pub fn hand_rule_pressure(
    hose: HandRuleHose,
    flow: PositiveFlow,
    length: Length,
    nozzle: Pressure,
) -> HandRulePressure {
    let friction_psi_per_100ft = (hose.number() * flow.gpm() / 10.0 - 10.0).max(0.0);
    let by_coefficient_psi_per_100ft = squared_psi(hose.coefficient(), flow.gpm());
    let pump = |friction: f64| nozzle.psi() + friction * length.ft() / 100.0;
    HandRulePressure {
        friction_psi_per_100ft,
        by_coefficient_psi_per_100ft,
        pump_psi: pump(friction_psi_per_100ft),
        by_coefficient_pump_psi: pump(by_coefficient_psi_per_100ft),
        under_promises: friction_psi_per_100ft < by_coefficient_psi_per_100ft,
    }
}
