//! Streams: what nozzles flow and how hard they push, and the pump pressure of an attack line.

use std::num::NonZeroU8;

use longlay_hydraulics::formula;
use longlay_hydraulics::hand_rule::{HandRuleHose, hand_rule_pressure};
use longlay_hydraulics::orifice::{flow_at, pressure_for};
use longlay_hydraulics::quantity::{Flow, PositiveFlow, Pressure, Rise, TipDiameter};
use longlay_hydraulics::stream::{AttackLine, CustomaryNozzle, Stream, StreamsInUse, total_flow};

use super::catalogue::Entry;
use super::common::{APPLIANCE_ITEM, FLOW, FLOW_GPM, HOSE_ITEM, LENGTH, PRESSURE_PSI, PUMP_PSI, RISE, appliance, hose};
use super::found::{Found, Output, output};
use super::input::{Choice, Input, List, Number, Whole, choice};
use super::reader::Reader;

const TIP: Number<TipDiameter> =
    Number::new("tip_in", TipDiameter::BOUND, TipDiameter::from_in, "Diameter of a smooth-bore tip");
const FOG_FLOW: Number<PositiveFlow> =
    Number::new("flow_gpm", PositiveFlow::BOUND, PositiveFlow::from_gpm, "What a fog nozzle is made or set for");
const NOZZLE: Number<Pressure> = Number::new("nozzle_psi", Pressure::BOUND, Pressure::from_psi, "Nozzle pressure");
const COUNT: Whole = Whole::new("count", 1, 100, "How many such streams; 1 where not given");
const STREAM_ITEM: &[Input] = &[TIP.input.optional(), FOG_FLOW.input.optional(), NOZZLE.input, COUNT.input.optional()];
const STREAMS: List = List::new("streams", STREAM_ITEM, "The streams in use");
const HOSES: List = List::new("hoses", HOSE_ITEM, "The hose, one length after another, all carrying the stream's flow");
const APPLIANCES: List = List::new("appliances", APPLIANCE_ITEM, "The appliances in the line");
const KNOWN_FLOW: Number<PositiveFlow> =
    Number::new("flow_gpm", PositiveFlow::BOUND, PositiveFlow::from_gpm, "What the opening flows at `pressure_psi`");
const KNOWN_PRESSURE: Number<Pressure> =
    Number::new("pressure_psi", Pressure::BOUND, Pressure::from_psi, "The pressure at which it flows so");
const OTHER_PRESSURE: Number<Pressure> =
    Number::new("at_psi", Pressure::BOUND, Pressure::from_psi, "Ask the flow at this pressure");
const OTHER_FLOW: Number<Flow> = Number::new("at_gpm", Flow::BOUND, Flow::from_gpm, "Ask the pressure for this flow");
const NOZZLE_KIND: Choice<CustomaryNozzle> = choice!(
    "nozzle", "Which nozzle",
    "smooth_bore_hand_line" => CustomaryNozzle::SmoothBoreHandLine,
    "smooth_bore_master_stream" => CustomaryNozzle::SmoothBoreMasterStream,
    "fog_100" => CustomaryNozzle::Fog100,
    "fog_75" => CustomaryNozzle::Fog75,
    "fog_50" => CustomaryNozzle::Fog50,
);
const RULE_HOSE: Choice<HandRuleHose> = choice!(
    "hose", "The hose, by its nominal size",
    "1-3/4" => HandRuleHose::OneAndThreeQuarterInch,
    "2" => HandRuleHose::TwoInch,
);

const REACTION: Output = output("reaction_lbf", "lbf");
const NOZZLE_PSI: Output = output("nozzle_psi", "psi");
const BY_COEFFICIENT: Output = output("by_coefficient_pump_psi", "psi");
const UNDER_PROMISES: Output = output("under_promises", "");

pub(crate) const ENTRIES: &[Entry] = &[
    Entry {
        formula: &formula::SMOOTH_BORE_FLOW,
        inputs: &[TIP.input, NOZZLE.input],
        outputs: &[FLOW_GPM],
        evaluate: |r| {
            let (tip, pressure) = (r.required(&TIP), r.required(&NOZZLE));
            let stream = Stream::SmoothBore { tip: tip?, pressure: pressure? };
            Some(Found::default().number(FLOW_GPM, stream.flow().gpm()))
        },
    },
    Entry {
        formula: &formula::NOZZLE_REACTION,
        inputs: &[TIP.input.optional(), FOG_FLOW.input.optional(), NOZZLE.input],
        outputs: &[REACTION],
        evaluate: |r| {
            let stream = stream(r)?;
            let found = Found::default().number(REACTION, stream.reaction_lbf());
            Some(found.step("flow", stream.flow().gpm(), "gpm"))
        },
    },
    Entry {
        formula: &formula::CUSTOMARY_NOZZLE_PRESSURE,
        inputs: &[NOZZLE_KIND.input],
        outputs: &[NOZZLE_PSI],
        evaluate: |r| Some(Found::default().number(NOZZLE_PSI, r.required(&NOZZLE_KIND)?.psi())),
    },
    Entry {
        formula: &formula::FIXED_ORIFICE,
        inputs: &[KNOWN_FLOW.input, KNOWN_PRESSURE.input, OTHER_PRESSURE.input.optional(), OTHER_FLOW.input.optional()],
        outputs: &[FLOW_GPM, PRESSURE_PSI],
        evaluate: fixed_orifice,
    },
    Entry { formula: &formula::TOTAL_FLOW, inputs: &[STREAMS.input], outputs: &[FLOW_GPM], evaluate: total },
    Entry {
        formula: &formula::ATTACK_LINE,
        inputs: &[
            TIP.input.optional(),
            FOG_FLOW.input.optional(),
            NOZZLE.input,
            HOSES.input,
            APPLIANCES.input.optional(),
            RISE.input.optional(),
        ],
        outputs: &[PUMP_PSI],
        evaluate: attack_line,
    },
    Entry {
        formula: &formula::HAND_RULE,
        inputs: &[RULE_HOSE.input, FLOW.input, LENGTH.input, NOZZLE.input],
        outputs: &[PUMP_PSI, BY_COEFFICIENT, UNDER_PROMISES],
        evaluate: hand_rule,
    },
];

fn stream(r: &mut Reader<'_>) -> Option<Stream> {
    let (tip, flow, pressure) = (r.optional(&TIP), r.optional(&FOG_FLOW), r.required(&NOZZLE));
    match (tip?, flow?) {
        (Some(tip), None) => Some(Stream::SmoothBore { tip, pressure: pressure? }),
        (None, Some(flow)) => Some(Stream::Fog { flow, pressure: pressure? }),
        _ => r.exactly_one_of(&["tip_in", "flow_gpm"]),
    }
}

fn fixed_orifice(r: &mut Reader<'_>) -> Option<Found> {
    let (flow, pressure) = (r.required(&KNOWN_FLOW), r.required(&KNOWN_PRESSURE));
    let (other_pressure, other_flow) = (r.optional(&OTHER_PRESSURE), r.optional(&OTHER_FLOW));
    match (other_pressure?, other_flow?) {
        (Some(other), None) => {
            let found = r.good("pressure_psi", "out_of_bounds", flow_at(flow?, pressure?, other))?;
            Some(Found::default().number(FLOW_GPM, found.gpm()))
        }
        (None, Some(other)) => {
            let found = r.good("pressure_psi", "out_of_bounds", pressure_for(flow?, pressure?, other))?;
            Some(Found::default().number(PRESSURE_PSI, found.psi()))
        }
        _ => r.exactly_one_of(&["at_psi", "at_gpm"]),
    }
}

fn used(r: &mut Reader<'_>) -> Option<StreamsInUse> {
    let (stream, count) = (stream(r), r.optional(&COUNT));
    let count = count?.and_then(NonZeroU8::new).unwrap_or(NonZeroU8::MIN);
    Some(StreamsInUse { stream: stream?, count })
}

fn total(r: &mut Reader<'_>) -> Option<Found> {
    let streams = r.list(&STREAMS, used)?;
    let total = r.good("streams", "out_of_bounds", total_flow(&streams))?;
    let each = streams.iter().map(|used| used.stream.flow().gpm());
    Some(Found::default().number(FLOW_GPM, total.gpm()).steps("one_stream", "gpm", each))
}

fn attack_line(r: &mut Reader<'_>) -> Option<Found> {
    let (stream, hoses) = (stream(r), r.list(&HOSES, hose));
    let (appliances, rise) = (r.list_or_none(&APPLIANCES, appliance), r.optional(&RISE));
    let (hoses, appliances) = (hoses?, appliances?);
    let line =
        AttackLine { stream: stream?, hoses: &hoses, appliances: &appliances, rise: rise?.unwrap_or(Rise::LEVEL) };
    let found = line.pump_pressure();
    let steps = Found::default().number(PUMP_PSI, found.pump_psi).step("flow", found.flow_gpm, "gpm");
    let steps = steps.step("nozzle", found.nozzle_psi, "psi").step("hose", found.hose_psi, "psi");
    Some(steps.step("appliances", found.appliances_psi, "psi").step("elevation", found.elevation_psi, "psi"))
}

fn hand_rule(r: &mut Reader<'_>) -> Option<Found> {
    let (hose, flow) = (r.required(&RULE_HOSE), r.required(&FLOW));
    let (length, nozzle) = (r.required(&LENGTH), r.required(&NOZZLE));
    let found = hand_rule_pressure(hose?, flow?, length?, nozzle?);
    let answer = Found::default()
        .number(PUMP_PSI, found.pump_psi)
        .number(BY_COEFFICIENT, found.by_coefficient_pump_psi)
        .flag(UNDER_PROMISES, found.under_promises);
    let answer = answer.step("friction_per_100ft", found.friction_psi_per_100ft, "psi");
    Some(answer.step("by_coefficient_per_100ft", found.by_coefficient_psi_per_100ft, "psi"))
}
