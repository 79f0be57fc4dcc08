//! Inputs and outputs that more than one family of formulas has.

use longlay_hydraulics::loss::{ApplianceLoss, Hose, MAX_LINES};
use longlay_hydraulics::quantity::{ApplianceCoefficient, Flow, HoseCoefficient, Length, PositiveFlow, Pressure, Rise};
use longlay_hydraulics::supply::{NoCurve, SupplyCurve};

use super::found::{Output, output};
use super::input::{Input, Number, Whole};
use super::reader::Reader;

pub(crate) const FLOW: Number<PositiveFlow> =
    Number::new("flow_gpm", PositiveFlow::BOUND, PositiveFlow::from_gpm, "The flow");
pub(crate) const STATIC: Number<Pressure> =
    Number::new("static_psi", Pressure::BOUND, Pressure::from_psi, "Static pressure of the flow test or reading");
pub(crate) const RESIDUAL: Number<Pressure> =
    Number::new("residual_psi", Pressure::BOUND, Pressure::from_psi, "Residual pressure while the flow of it ran");
pub(crate) const TESTED: Number<PositiveFlow> =
    Number::new("flow_gpm", PositiveFlow::BOUND, PositiveFlow::from_gpm, "The flow of the test or reading");
pub(crate) const LENGTH: Number<Length> =
    Number::new("length_ft", Length::BOUND, Length::from_ft, "Length of hose, of each line");
pub(crate) const HOSE_COEFFICIENT: Number<HoseCoefficient> = Number::new(
    "loss_coefficient",
    HoseCoefficient::BOUND,
    HoseCoefficient::from_psi_per_100gpm2_100ft,
    "C of the hose, psi/(100 gpm)²/100 ft",
);
pub(crate) const LINES: Whole = Whole::new("lines", 1, MAX_LINES, "Equal lines side by side; 1 where not given");
pub(crate) const RISE: Number<Rise> = Number::new(
    "rise_ft",
    Rise::BOUND,
    Rise::from_ft,
    "How much higher the end is than the start; less than nothing for a fall",
);
pub(crate) const APPLIANCE_COEFFICIENT: Number<ApplianceCoefficient> = Number::new(
    "loss_coefficient",
    ApplianceCoefficient::BOUND,
    ApplianceCoefficient::from_psi_per_100gpm2,
    "k of a loss that goes with the square of the flow, psi/(100 gpm)²",
);
const FIXED_LOSS: Number<Pressure> = Number::new(
    "fixed_loss_psi",
    Pressure::BOUND,
    Pressure::from_psi,
    "A loss that stands at and above `at_or_above_gpm`",
);
const AT_OR_ABOVE: Number<Flow> =
    Number::new("at_or_above_gpm", Flow::BOUND, Flow::from_gpm, "The flow from which `fixed_loss_psi` stands");

/// Members of a hose in a list.
pub(crate) const HOSE_ITEM: &[Input] = &[HOSE_COEFFICIENT.input, LENGTH.input, LINES.input.optional()];
/// Members of an appliance in a list.
pub(crate) const APPLIANCE_ITEM: &[Input] =
    &[APPLIANCE_COEFFICIENT.input.optional(), FIXED_LOSS.input.optional(), AT_OR_ABOVE.input.optional()];

pub(crate) const FLOW_GPM: Output = output("flow_gpm", "gpm");
pub(crate) const LOSS_PSI: Output = output("loss_psi", "psi");
pub(crate) const PRESSURE_PSI: Output = output("pressure_psi", "psi");
pub(crate) const PUMP_PSI: Output = output("pump_psi", "psi");

/// Hose by its coefficient, length and lines.
pub(crate) fn hose(r: &mut Reader<'_>) -> Option<Hose> {
    let coefficient = r.required(&HOSE_COEFFICIENT);
    let length = r.required(&LENGTH);
    let lines = r.optional(&LINES);
    let made = Hose::new(coefficient?, length?, lines?.unwrap_or(1));
    r.good("lines", "out_of_bounds", made)
}

/// An appliance by one of the two forms of loss.
pub(crate) fn appliance(r: &mut Reader<'_>) -> Option<ApplianceLoss> {
    let squared = r.optional(&APPLIANCE_COEFFICIENT);
    let fixed = r.optional(&FIXED_LOSS);
    let from = r.optional(&AT_OR_ABOVE);
    match (squared?, fixed?, from?) {
        (Some(k), None, None) => Some(ApplianceLoss::Squared(k)),
        (None, Some(fixed), Some(at_or_above)) => Some(ApplianceLoss::Step { fixed, at_or_above }),
        _ => r.exactly_one_of(&["loss_coefficient", "fixed_loss_psi with at_or_above_gpm"]),
    }
}

/// The curve through a test's three numbers.
pub(crate) fn curve(r: &mut Reader<'_>) -> Option<SupplyCurve> {
    let (static_pressure, residual, flow) = (r.required(&STATIC), r.required(&RESIDUAL), r.required(&TESTED));
    match SupplyCurve::new(static_pressure?, residual?, flow?) {
        Ok(curve) => Some(curve),
        Err(error @ NoCurve::NoStatic) => r.refuse("static_psi", "no_static", error.to_string()),
        Err(error @ NoCurve::ResidualAboveStatic { .. }) => {
            r.refuse("residual_psi", "residual_above_static", error.to_string())
        }
    }
}
