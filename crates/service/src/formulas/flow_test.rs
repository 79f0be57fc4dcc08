//! Flow tests: from outlets to a curve, a rating and a class, and what a gauge's drop promises.

use longlay_hydraulics::band::flow_band;
use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading, pumper_outlet_factor};
use longlay_hydraulics::formula;
use longlay_hydraulics::gauge_rules::GaugeRule;
use longlay_hydraulics::quantity::{Diameter, Flow, OutletCoefficient, PitotPressure, PositiveFlow, Pressure};
use longlay_hydraulics::rating::CapacityClass;
use longlay_hydraulics::spread::SourceSpread;
use longlay_hydraulics::supply::{SupplyCurve, TestPoint};

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
const SECOND_RESIDUAL: Number<Pressure> = Number::new(
    "second_residual_psi",
    Pressure::BOUND,
    Pressure::from_psi,
    "Residual pressure while the second flow of the test ran",
);
const SECOND_FLOW: Number<PositiveFlow> =
    Number::new("second_flow_gpm", PositiveFlow::BOUND, PositiveFlow::from_gpm, "The second flow of the test");
const RATED: Number<Flow> = Number::new("rated_flow_gpm", Flow::BOUND, Flow::from_gpm, "Flow at the rating pressure");
const FLOOR: Number<Pressure> =
    Number::new("floor_psi", Pressure::BOUND, Pressure::from_psi, "Least pressure to leave in the main");
const RULE: Choice<GaugeRule> = choice!(
    "rule", "Which rule",
    "percentage" => GaugeRule::Percentage,
    "first_digit" => GaugeRule::FirstDigit,
    "squaring_the_lines" => GaugeRule::SquaringTheLines,
);

const EXPONENT: Output = output("exponent", "1");
const BAND_LOW: Output = output("low_gpm", "gpm");
const BAND_HIGH: Output = output("high_gpm", "gpm");
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
        formula: &formula::FITTED_SUPPLY_CURVE,
        inputs: &[
            STATIC.input,
            RESIDUAL.input,
            TESTED.input,
            SECOND_RESIDUAL.input,
            SECOND_FLOW.input,
            AT_FLOW.input.optional(),
            AT_PRESSURE.input.optional(),
        ],
        outputs: &[PRESSURE_PSI, FLOW_GPM, EXPONENT],
        evaluate: fitted_supply_curve,
    },
    Entry {
        formula: &formula::FLOW_BAND,
        inputs: &[STATIC.input, RESIDUAL.input, TESTED.input, FLOOR.input],
        outputs: &[FLOW_GPM, BAND_LOW, BAND_HIGH],
        evaluate: flow_band_of_numbers,
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

fn fitted_supply_curve(r: &mut Reader<'_>) -> Option<Found> {
    let (still, residual, flow) = (r.required(&STATIC), r.required(&RESIDUAL), r.required(&TESTED));
    let (second_residual, second_flow) = (r.required(&SECOND_RESIDUAL), r.required(&SECOND_FLOW));
    let (at_flow, at_pressure) = (r.optional(&AT_FLOW), r.optional(&AT_PRESSURE));
    let first = TestPoint { flow: flow?, residual: residual? };
    let second = TestPoint { flow: second_flow?, residual: second_residual? };
    let curve = r.good("second_residual_psi", "no_fit", SupplyCurve::fitted(still?, first, second))?;
    let found = asked_of(r, &curve, (at_flow?, at_pressure?))?;
    Some(found.number_if_known(EXPONENT, curve.fitted_exponent()).findings(curve.findings()))
}

fn flow_band_of_numbers(r: &mut Reader<'_>) -> Option<Found> {
    let (curve, floor) = (curve(r), r.required(&FLOOR));
    let (curve, floor) = (curve?, floor?.psi());
    let band = flow_band(&curve, &SourceSpread::of_numbers(), floor);
    let found = Found::default().number(FLOW_GPM, curve.flow_gpm(floor)).number(BAND_LOW, band.low);
    let found = band.effects.iter().fold(found.number_if_known(BAND_HIGH, band.high), |found, effect| {
        found.step(effect.input.code(), effect.share, "1")
    });
    Some(found.findings(curve.findings()))
}

/// The pressure at a flow or the flow at a pressure, whichever was asked.
fn asked_of(r: &mut Reader<'_>, curve: &SupplyCurve, asked: (Option<Flow>, Option<Pressure>)) -> Option<Found> {
    match asked {
        (Some(flow), None) if curve.pressure_psi(flow.gpm()) < 0.0 => {
            let most = curve.flow_gpm(0.0);
            r.refuse("at_gpm", "over_the_main", format!("the main is empty at {most:.0} gpm: it does not give so much"))
        }
        (Some(flow), None) => Some(Found::default().number(PRESSURE_PSI, curve.pressure_psi(flow.gpm()))),
        (None, Some(pressure)) => Some(Found::default().number(FLOW_GPM, curve.flow_gpm(pressure.psi()))),
        _ => r.exactly_one_of(&["at_gpm", "at_psi"]),
    }
}

fn supply_curve(r: &mut Reader<'_>) -> Option<Found> {
    let curve = curve(r);
    let (at_flow, at_pressure) = (r.optional(&AT_FLOW), r.optional(&AT_PRESSURE));
    let (at_flow, at_pressure, curve) = (at_flow?, at_pressure?, curve);
    if at_flow.is_some() == at_pressure.is_some() {
        return r.exactly_one_of(&["at_gpm", "at_psi"]);
    }
    let curve = curve?;
    let found = asked_of(r, &curve, (at_flow, at_pressure))?;
    Some(found.findings(curve.findings()))
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
