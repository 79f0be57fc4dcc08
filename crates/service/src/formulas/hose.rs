//! What hose, appliances, valves and height cost, how long a line takes to fill, and what a test of hose says.

use std::num::NonZeroU8;

use longlay_hydraulics::formula;
use longlay_hydraulics::friction_test::{FrictionTest, NoCoefficient, TestedCoefficient, TwoGaugeReading};
use longlay_hydraulics::line_fill::DryLine;
use longlay_hydraulics::loss::{ApplianceLoss, elevation_psi, height_held_ft, older_2_half_inch_psi_per_100ft};
use longlay_hydraulics::loss_test::LossTest;
use longlay_hydraulics::parallel_lines::side_by_side;
use longlay_hydraulics::quantity::{ApplianceCoefficient, Diameter, Flow, MeterUncertainty, PositiveFlow, Pressure};

use super::catalogue::Entry;
use super::common::{
    APPLIANCE_COEFFICIENT, APPLIANCE_ITEM, FLOW, HOSE_COEFFICIENT, HOSE_ITEM, LENGTH, LINES, LOSS_PSI, PRESSURE_PSI,
    RISE, appliance, hose,
};
use super::found::{Found, Output, output};
use super::input::{Input, List, Number};
use super::reader::Reader;

const LINES_SIDE_BY_SIDE: List = List::new("hoses", HOSE_ITEM, "The lines side by side");
const BORE: Number<Diameter> =
    Number::new("diameter_in", Diameter::BOUND, Diameter::from_in, "Inside diameter of the hose");
const FILL_FLOW: Number<PositiveFlow> =
    Number::new("flow_gpm", PositiveFlow::BOUND, PositiveFlow::from_gpm, "The flow it is filled at");
const PRESSURE: Number<Pressure> =
    Number::new("pressure_psi", Pressure::BOUND, Pressure::from_psi, "Ask the height that this pressure holds up");
const OLDER_FLOW: Number<Flow> = Number::new("flow_gpm", Flow::BOUND, Flow::from_gpm, "The flow");
const UPSTREAM: Number<Pressure> =
    Number::new("upstream_psi", Pressure::BOUND, Pressure::from_psi, "The gauge at the pumper's end");
const DOWNSTREAM: Number<Pressure> =
    Number::new("downstream_psi", Pressure::BOUND, Pressure::from_psi, "The gauge at the far end");
const READING_ITEM: &[Input] = &[FLOW.input, UPSTREAM.input, DOWNSTREAM.input];
const READINGS: List = List::new("readings", READING_ITEM, "Both gauges at each flow");
const METER: Number<MeterUncertainty> = Number::new(
    "meter_percent",
    MeterUncertainty::BOUND,
    MeterUncertainty::from_percent,
    "How far the flow meter may be off",
);

const fn leg(name: &'static str, about: &'static str) -> Number<ApplianceCoefficient> {
    let make = ApplianceCoefficient::from_psi_per_100gpm2;
    Number::new(name, ApplianceCoefficient::BOUND, make, about)
}
const THROUGH: Number<ApplianceCoefficient> = leg("through_coefficient", "Hydrant to supply line, unboosted");
const TO_PUMP: Number<ApplianceCoefficient> = leg("to_pump_coefficient", "Hydrant to the pumper's intake");
const FROM_PUMP: Number<ApplianceCoefficient> = leg("from_pump_coefficient", "Pumper's discharge to the supply line");

const COMBINED: Output = output("combined_coefficient", "psi/(100 gpm)²");
const HEIGHT: Output = output("height_ft", "ft");
const VOLUME: Output = output("volume_gal", "gal");
const SECONDS: Output = output("fill_s", "s");
const PER_100FT: Output = output("loss_per_100ft_psi", "psi");
const THROUGH_LOSS: Output = output("through_psi", "psi");
const TO_PUMP_LOSS: Output = output("to_pump_psi", "psi");
const FROM_PUMP_LOSS: Output = output("from_pump_psi", "psi");
const TESTED_C: Output = output("loss_coefficient", "psi/(100 gpm)²/100 ft");
const UNCERTAINTY: Output = output("uncertainty", "psi/(100 gpm)²/100 ft");
const TESTED_K: Output = output("loss_coefficient", "psi/(100 gpm)²");
const UNCERTAINTY_OF_K: Output = output("uncertainty", "psi/(100 gpm)²");
const SHARE: Output = output("relative_uncertainty", "1");
const TOO_SMALL: Output = output("readings_too_small", "");

pub(crate) const ENTRIES: &[Entry] = &[
    Entry {
        formula: &formula::HOSE_FRICTION,
        inputs: &[HOSE_COEFFICIENT.input, LENGTH.input, LINES.input.optional(), FLOW.input],
        outputs: &[LOSS_PSI],
        evaluate: hose_friction,
    },
    Entry {
        formula: &formula::PARALLEL_LINES,
        inputs: &[LINES_SIDE_BY_SIDE.input, FLOW.input],
        outputs: &[LOSS_PSI, COMBINED],
        evaluate: parallel_lines,
    },
    Entry {
        formula: &formula::APPLIANCE_LOSS,
        inputs: &[APPLIANCE_ITEM[0], APPLIANCE_ITEM[1], APPLIANCE_ITEM[2], FLOW.input],
        outputs: &[LOSS_PSI],
        evaluate: |r| {
            let (loss, flow) = (appliance(r), r.required(&FLOW));
            Some(Found::default().number(LOSS_PSI, loss?.loss_psi(flow?.into())))
        },
    },
    Entry {
        formula: &formula::HYDRANT_VALVE,
        inputs: &[THROUGH.input, TO_PUMP.input, FROM_PUMP.input, FLOW.input],
        outputs: &[THROUGH_LOSS, TO_PUMP_LOSS, FROM_PUMP_LOSS],
        evaluate: hydrant_valve,
    },
    Entry {
        formula: &formula::HYDRANT_BODY,
        inputs: &[APPLIANCE_COEFFICIENT.input, FLOW.input],
        outputs: &[LOSS_PSI],
        evaluate: |r| {
            let (k, flow) = (r.required(&APPLIANCE_COEFFICIENT), r.required(&FLOW));
            Some(Found::default().number(LOSS_PSI, ApplianceLoss::Squared(k?).loss_psi(flow?.into())))
        },
    },
    Entry {
        formula: &formula::ELEVATION,
        inputs: &[RISE.input.optional(), PRESSURE.input.optional()],
        outputs: &[PRESSURE_PSI, HEIGHT],
        evaluate: elevation,
    },
    Entry {
        formula: &formula::LINE_FILL,
        inputs: &[BORE.input, LENGTH.input, LINES.input.optional(), FILL_FLOW.input],
        outputs: &[VOLUME, SECONDS],
        evaluate: line_fill,
    },
    Entry {
        formula: &formula::OLDER_FRICTION,
        inputs: &[OLDER_FLOW.input],
        outputs: &[PER_100FT],
        evaluate: |r| {
            Some(Found::default().number(PER_100FT, older_2_half_inch_psi_per_100ft(r.required(&OLDER_FLOW)?)))
        },
    },
    Entry {
        formula: &formula::FRICTION_TEST,
        inputs: &[LENGTH.input, RISE.input, METER.input, READINGS.input],
        outputs: &[TESTED_C, UNCERTAINTY, SHARE, TOO_SMALL],
        evaluate: friction_test,
    },
    Entry {
        formula: &formula::LOSS_TEST,
        inputs: &[RISE.input, METER.input, READINGS.input],
        outputs: &[TESTED_K, UNCERTAINTY_OF_K, SHARE, TOO_SMALL],
        evaluate: loss_test,
    },
];

fn hose_friction(r: &mut Reader<'_>) -> Option<Found> {
    let (hose, flow) = (hose(r), r.required(&FLOW));
    let hose = hose?;
    let found = Found::default().number(LOSS_PSI, hose.loss_psi(flow?.into()));
    Some(found.step("loss_at_100_gpm", hose.squared_coefficient(), "psi"))
}

fn parallel_lines(r: &mut Reader<'_>) -> Option<Found> {
    let (lines, flow) = (r.list(&LINES_SIDE_BY_SIDE, hose), r.required(&FLOW));
    let both = r.good("hoses", "no_lines", side_by_side(&lines?, flow?))?;
    let found = Found::default().number(LOSS_PSI, both.loss_psi).number(COMBINED, both.coefficient);
    Some(found.steps("line", "gpm", both.flows_gpm))
}

fn hydrant_valve(r: &mut Reader<'_>) -> Option<Found> {
    let legs = [r.required(&THROUGH), r.required(&TO_PUMP), r.required(&FROM_PUMP)];
    let flow = r.required(&FLOW)?;
    let [through, to_pump, from_pump] = legs;
    let lost = |k| ApplianceLoss::Squared(k).loss_psi(flow.into());
    let found = Found::default().number(THROUGH_LOSS, lost(through?)).number(TO_PUMP_LOSS, lost(to_pump?));
    Some(found.number(FROM_PUMP_LOSS, lost(from_pump?)))
}

fn elevation(r: &mut Reader<'_>) -> Option<Found> {
    let (rise, pressure) = (r.optional(&RISE), r.optional(&PRESSURE));
    match (rise?, pressure?) {
        (Some(rise), None) => Some(Found::default().number(PRESSURE_PSI, elevation_psi(rise))),
        (None, Some(pressure)) => Some(Found::default().number(HEIGHT, height_held_ft(pressure))),
        _ => r.exactly_one_of(&["rise_ft", "pressure_psi"]),
    }
}

fn line_fill(r: &mut Reader<'_>) -> Option<Found> {
    let (diameter, length, lines) = (r.required(&BORE), r.required(&LENGTH), r.optional(&LINES));
    let flow = r.required(&FILL_FLOW);
    let lines = lines?.and_then(NonZeroU8::new).unwrap_or(NonZeroU8::MIN);
    let line = DryLine { diameter: diameter?, length: length?, lines };
    Some(Found::default().number(VOLUME, line.volume_gal()).number(SECONDS, line.fill_seconds(flow?)))
}

fn friction_test(r: &mut Reader<'_>) -> Option<Found> {
    let (length, rise, meter) = (r.required(&LENGTH), r.required(&RISE), r.required(&METER));
    let readings = r.list(&READINGS, reading)?;
    let test = FrictionTest { length: length?, rise: rise?, readings: &readings, meter: meter? };
    let tested = tested(r, test.coefficient())?;
    let found = Found::default()
        .number(TESTED_C, tested.coefficient.psi_per_100gpm2_100ft())
        .number(UNCERTAINTY, tested.uncertainty)
        .number(SHARE, tested.relative_uncertainty)
        .flag(TOO_SMALL, tested.readings_too_small);
    Some(found.steps("reading", "psi/(100 gpm)²/100 ft", tested.each))
}

fn loss_test(r: &mut Reader<'_>) -> Option<Found> {
    let (rise, meter) = (r.required(&RISE), r.required(&METER));
    let readings = r.list(&READINGS, reading)?;
    let test = LossTest { rise: rise?, readings: &readings, meter: meter? };
    let tested = tested(r, test.coefficient())?;
    let found = Found::default()
        .number(TESTED_K, tested.coefficient.psi_per_100gpm2())
        .number(UNCERTAINTY_OF_K, tested.uncertainty)
        .number(SHARE, tested.relative_uncertainty)
        .flag(TOO_SMALL, tested.readings_too_small);
    Some(found.steps("reading", "psi/(100 gpm)²", tested.each))
}

/// What a two-gauge test found, or its refusal noted at the reading.
fn tested<C>(r: &mut Reader<'_>, found: Result<TestedCoefficient<C>, NoCoefficient>) -> Option<TestedCoefficient<C>> {
    match found {
        Ok(tested) => Some(tested),
        Err(error @ NoCoefficient::NoLoss { index, .. }) => {
            r.refuse(&format!("readings/{index}"), "no_loss", error.to_string())
        }
        Err(error) => r.refuse("readings", "out_of_bounds", error.to_string()),
    }
}

fn reading(r: &mut Reader<'_>) -> Option<TwoGaugeReading> {
    let (flow, upstream, downstream) = (r.required(&FLOW), r.required(&UPSTREAM), r.required(&DOWNSTREAM));
    Some(TwoGaugeReading { flow: flow?, upstream: upstream?, downstream: downstream? })
}
