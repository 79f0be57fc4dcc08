//! Flow tests: from outlets to a curve, a rating and a class, and what a gauge's drop promises.

use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading, pumper_outlet_factor};
use longlay_hydraulics::formula;
use longlay_hydraulics::gauge_rules::GaugeRule;
use longlay_hydraulics::quantity::{Diameter, Flow, OutletCoefficient, PitotPressure, Pressure};
use longlay_hydraulics::rating::CapacityClass;

use super::catalogue::Entry;
use super::common::{FLOW_GPM, PRESSURE_PSI, RESIDUAL, STATIC, TESTED, curve};
use super::found::{Found, Output, output};
use super::input::{Choice, Input, List, Number, choice};
use super::reader::Reader;

const DIAMETER: Number<Diameter> =
    Number::new("diameter_in", Diameter::BOUND, Diameter::from_in, "Inside diameter of the outlet, measured");
const COEFFICIENT: Number<OutletCoefficient> = Number::new(
    "coefficient",
    OutletCoefficient::BOUND,
    OutletCoefficient::from_number,
    "Of the outlet: 0.9 smooth, 0.8 square, 0.7 projecting into the barrel",
);
const PITOT: Number<PitotPressure> =
    Number::new("pitot_psi", PitotPressure::BOUND, PitotPressure::from_psi, "Velocity pressure in the stream");
const OUTLET_ITEM: &[Input] = &[DIAMETER.input, COEFFICIENT.input, PITOT.input];
const OUTLETS: List = List::new("outlets", OUTLET_ITEM, "The open outlets");
const AT_FLOW: Number<Flow> = Number::new("at_gpm", Flow::BOUND, Flow::from_gpm, "Ask the pressure at this flow");
const AT_PRESSURE: Number<Pressure> =
    Number::new("at_psi", Pressure::BOUND, Pressure::from_psi, "Ask the flow at this pressure");
const RATED: Number<Flow> = Number::new("rated_flow_gpm", Flow::BOUND, Flow::from_gpm, "Flow at the rating pressure");
const FLOOR: Number<Pressure> =
    Number::new("floor_psi", Pressure::BOUND, Pressure::from_psi, "Least pressure to leave in the main");
const RULE: Choice<GaugeRule> = choice!(
    "rule", "Which rule",
    "percentage" => GaugeRule::Percentage,
    "first_digit" => GaugeRule::FirstDigit,
    "squaring_the_lines" => GaugeRule::SquaringTheLines,
);

const FACTOR: Output = output("factor", "1");
const RATED_FLOW: Output = output("rated_flow_gpm", "gpm");
const AT_LEAST: Output = output("rated_flow_at_least_gpm", "gpm");
const RATED_AT: Output = output("rated_at_psi", "psi");
const CLASS: Output = output("class", "");
const MARKING: Output = output("marking", "");
const DROP: Output = output("drop_psi", "psi");
const DROP_PERCENT: Output = output("drop_percent", "%");
const MORE: Output = output("more_volumes", "1");
const PROMISED: Output = output("promised_gpm", "gpm");
const ALLOWED: Output = output("allowed_gpm", "gpm");
const LEFT: Output = output("residual_if_added_psi", "psi");
const OVER_PROMISES: Output = output("over_promises", "");

pub(crate) const ENTRIES: &[Entry] = &[
    Entry {
        formula: &formula::OUTLET_DISCHARGE,
        inputs: &[OUTLETS.input],
        outputs: &[FLOW_GPM],
        evaluate: outlet_discharge,
    },
    Entry {
        formula: &formula::PUMPER_OUTLET_FACTOR,
        inputs: &[PITOT.input],
        outputs: &[FACTOR],
        evaluate: |r| Some(Found::default().number(FACTOR, pumper_outlet_factor(r.required(&PITOT)?.psi()))),
    },
    Entry {
        formula: &formula::SUPPLY_CURVE,
        inputs: &[STATIC.input, RESIDUAL.input, TESTED.input, AT_FLOW.input.optional(), AT_PRESSURE.input.optional()],
        outputs: &[PRESSURE_PSI, FLOW_GPM],
        evaluate: supply_curve,
    },
    Entry {
        formula: &formula::RATED_FLOW,
        inputs: &[STATIC.input, RESIDUAL.input, TESTED.input],
        outputs: &[RATED_FLOW, AT_LEAST, RATED_AT],
        evaluate: rated_flow,
    },
    Entry {
        formula: &formula::CAPACITY_CLASS,
        inputs: &[RATED.input],
        outputs: &[CLASS, MARKING],
        evaluate: |r| {
            let class = CapacityClass::of_rated_flow(r.required(&RATED)?.gpm());
            Some(Found::default().text(CLASS, class.code()).text(MARKING, class.marking()))
        },
    },
    Entry {
        formula: &formula::GAUGE_RULES,
        inputs: &[RULE.input, STATIC.input, RESIDUAL.input, TESTED.input, FLOOR.input],
        outputs: &[PROMISED, MORE, ALLOWED, LEFT, OVER_PROMISES, DROP, DROP_PERCENT],
        evaluate: gauge_rules,
    },
];

fn outlet(r: &mut Reader<'_>) -> Option<PitotReading> {
    let (diameter, coefficient, pitot) = (r.required(&DIAMETER), r.required(&COEFFICIENT), r.required(&PITOT));
    Some(PitotReading { diameter: diameter?, coefficient: coefficient?, pitot: pitot? })
}

fn outlet_discharge(r: &mut Reader<'_>) -> Option<Found> {
    let outlets = r.list(&OUTLETS, outlet)?;
    let each: Vec<_> = outlets.iter().map(PitotReading::discharge_gpm).collect();
    let measured = MeasuredFlow::Pitot(outlets);
    let total = r.good("outlets", "out_of_bounds", measured.total())?;
    let found = Found::default().number(FLOW_GPM, total.gpm()).steps("outlet", "gpm", each);
    Some(found.findings(measured.findings()))
}

fn supply_curve(r: &mut Reader<'_>) -> Option<Found> {
    let curve = curve(r);
    let (at_flow, at_pressure) = (r.optional(&AT_FLOW), r.optional(&AT_PRESSURE));
    let found = match (at_flow?, at_pressure?) {
        (Some(flow), None) => Found::default().number(PRESSURE_PSI, curve?.pressure_psi(flow.gpm())),
        (None, Some(pressure)) => Found::default().number(FLOW_GPM, curve?.flow_gpm(pressure.psi())),
        _ => return r.exactly_one_of(&["at_gpm", "at_psi"]),
    };
    Some(found.findings(curve?.findings()))
}

fn rated_flow(r: &mut Reader<'_>) -> Option<Found> {
    let curve = curve(r)?;
    let rated = curve.rated_flow_gpm();
    let found = Found::default()
        .number_if_known(RATED_FLOW, rated)
        .number_if_known(AT_LEAST, curve.no_drop().then(|| curve.tested_gpm()))
        .number(RATED_AT, curve.rating_pressure_psi());
    Some(found.findings(curve.findings()))
}

fn gauge_rules(r: &mut Reader<'_>) -> Option<Found> {
    let (rule, curve, floor) = (r.required(&RULE), curve(r), r.required(&FLOOR));
    let curve = curve?;
    let answer = r.good("residual_psi", "no_drop", rule?.apply(&curve, floor?))?;
    let found = Found::default()
        .number(PROMISED, answer.promised_gpm)
        .number(MORE, answer.more_volumes.into())
        .number(ALLOWED, answer.allowed_gpm)
        .number_if_known(LEFT, answer.residual_if_added_psi)
        .flag(OVER_PROMISES, answer.over_promises)
        .number(DROP, answer.drop_psi)
        .number(DROP_PERCENT, answer.drop_percent);
    Some(found.findings(curve.findings()))
}
