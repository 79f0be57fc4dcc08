//! Pumps: by rating, at draft, at another speed, and what their suction leaves.

use longlay_hydraulics::drafting::{Draft, attainable_lift_ft, lift_of_vacuum_ft, rating_share, theoretical_lift_ft};
use longlay_hydraulics::formula;
use longlay_hydraulics::pump_affinity::PumpPointAtSpeed;
use longlay_hydraulics::pump_test::PumpReading;
use longlay_hydraulics::pumper::PumpCurve;
use longlay_hydraulics::quantity::{
    AbsolutePressure, Altitude, ApplianceCoefficient, Density, Flow, Head, IntakePressure, Lift, PositiveFlow, Power,
    Pressure, PumpSpeed, Rise, Vacuum,
};
use longlay_hydraulics::suction_head::Suction;

use super::catalogue::Entry;
use super::common::{FLOW, FLOW_GPM};
use super::found::{Found, Output, output};
use super::input::{Input, List, Number};
use super::reader::Reader;

const RATED: Number<PositiveFlow> =
    Number::new("rated_flow_gpm", PositiveFlow::BOUND, PositiveFlow::from_gpm, "The pumper's rating");
const ALTITUDE: Number<Altitude> =
    Number::new("altitude_ft", Altitude::BOUND, Altitude::from_ft, "Ask the lift at this height above sea level");
const VACUUM: Number<Vacuum> =
    Number::new("vacuum_inhg", Vacuum::BOUND, Vacuum::from_in_hg, "Ask the lift that this vacuum holds up");
const LIFT: Number<Lift> = Number::new("lift_ft", Lift::BOUND, Lift::from_ft, "Height of the pump above the water");
const SPEED: Number<PumpSpeed> =
    Number::new("speed_rpm", PumpSpeed::BOUND, PumpSpeed::from_rpm, "The speed the point is known at");
const PUMPED: Number<Flow> = Number::new("flow_gpm", Flow::BOUND, Flow::from_gpm, "Its flow there");
const HEAD: Number<Head> = Number::new("head_ft", Head::BOUND, Head::from_ft, "Its head there");
const POWER: Number<Power> = Number::new("power_hp", Power::BOUND, Power::from_hp, "Its shaft power there");
const OTHER_SPEED: Number<PumpSpeed> =
    Number::new("other_speed_rpm", PumpSpeed::BOUND, PumpSpeed::from_rpm, "The speed asked about");
const SURFACE: Number<AbsolutePressure> = Number::new(
    "surface_psia",
    AbsolutePressure::BOUND,
    AbsolutePressure::from_psia,
    "Absolute pressure on the water: the air's on open water, about 14.7 at sea level",
);
const VAPOUR: Number<AbsolutePressure> = Number::new(
    "vapour_psia",
    AbsolutePressure::BOUND,
    AbsolutePressure::from_psia,
    "Absolute pressure at which the water boils: about 0.26 at 60 °F",
);
const DENSITY: Number<Density> =
    Number::new("density_lb_per_cu_ft", Density::BOUND, Density::from_lb_per_cubic_ft, "Weight of the water");
const SUCTION_LIFT: Number<Rise> = Number::new(
    "lift_ft",
    Rise::BOUND,
    Rise::from_ft,
    "How much higher the pump is than the water; less than nothing where it is lower",
);
const SUCTION_LOSS: Number<Head> =
    Number::new("losses_ft", Head::BOUND, Head::from_ft, "Head lost in strainer, suction hose and intake");

const INTAKE: Number<IntakePressure> = Number::new(
    "intake_psi",
    IntakePressure::BOUND,
    IntakePressure::from_psi,
    "The gauge at its intake; less than nothing for a vacuum",
);
const DISCHARGE_GAUGE: Number<Pressure> =
    Number::new("discharge_psi", Pressure::BOUND, Pressure::from_psi, "The gauge at its discharge");
const READING_ITEM: &[Input] = &[FLOW.input, INTAKE.input, DISCHARGE_GAUGE.input];
const READINGS: List =
    List::new("readings", READING_ITEM, "Both gauges at each flow, each the most the pumper adds there");
const SITE_ALTITUDE: Number<Altitude> =
    Number::new("altitude_ft", Altitude::BOUND, Altitude::from_ft, "Height of the place above sea level");
const SUCTION_K: Number<ApplianceCoefficient> = Number::new(
    "suction_loss_coefficient",
    ApplianceCoefficient::BOUND,
    ApplianceCoefficient::from_psi_per_100gpm2,
    "k of the suction hose and its strainer by your own test, psi/(100 gpm)²; not counted where it is not given",
);

const DISCHARGE: Output = output("discharge_psi", "psi");
const NET: Output = output("net_psi", "psi");
const CAPACITY: Output = output("capacity_gpm", "gpm");
const WITHIN: Output = output("within_capacity", "");
const THEORETICAL: Output = output("theoretical_ft", "ft");
const ATTAINABLE: Output = output("attainable_ft", "ft");
const HELD: Output = output("lift_ft", "ft");
const SHARE: Output = output("share", "1");
const HEAD_FT: Output = output("head_ft", "ft");
const POWER_HP: Output = output("power_hp", "hp");
const AVAILABLE: Output = output("head_available_ft", "ft");

pub(crate) const ENTRIES: &[Entry] = &[
    Entry {
        formula: &formula::PUMP_RATING,
        inputs: &[RATED.input, FLOW.input],
        outputs: &[NET, CAPACITY, WITHIN],
        evaluate: |r| {
            let (rated, flow) = (r.required(&RATED), r.required(&FLOW));
            let (curve, flow) = (PumpCurve::from_rating(rated?), flow?.gpm());
            let found = Found::default().number(NET, curve.net_psi(flow)).number(CAPACITY, curve.capacity_gpm());
            Some(found.flag(WITHIN, flow <= curve.capacity_gpm()))
        },
    },
    Entry {
        formula: &formula::LIFT,
        inputs: &[ALTITUDE.input.optional(), VACUUM.input.optional()],
        outputs: &[THEORETICAL, ATTAINABLE, HELD],
        evaluate: lift,
    },
    Entry {
        formula: &formula::RATING_BY_LIFT,
        inputs: &[LIFT.input],
        outputs: &[SHARE],
        evaluate: |r| match rating_share(r.required(&LIFT)?) {
            Some(share) => Some(Found::default().number(SHARE, share)),
            None => r.refuse("lift_ft", "not_known", "past 20 ft no share of its rating is known: do not plan on one"),
        },
    },
    Entry {
        formula: &formula::PUMP_AFFINITY,
        inputs: &[SPEED.input, PUMPED.input, HEAD.input, POWER.input, OTHER_SPEED.input],
        outputs: &[FLOW_GPM, HEAD_FT, POWER_HP],
        evaluate: pump_affinity,
    },
    Entry {
        formula: &formula::NPSH_AVAILABLE,
        inputs: &[SURFACE.input, VAPOUR.input, DENSITY.input, SUCTION_LIFT.input, SUCTION_LOSS.input],
        outputs: &[AVAILABLE],
        evaluate: suction_head,
    },
    Entry { formula: &formula::PUMP_TEST, inputs: &[READINGS.input], outputs: &[CAPACITY], evaluate: pump_test },
    Entry {
        formula: &formula::DRAFT_CAPACITY,
        inputs: &[RATED.input, LIFT.input, SITE_ALTITUDE.input, SUCTION_K.input.optional()],
        outputs: &[CAPACITY, DISCHARGE],
        evaluate: draft_capacity,
    },
];

fn lift(r: &mut Reader<'_>) -> Option<Found> {
    let (altitude, vacuum) = (r.optional(&ALTITUDE), r.optional(&VACUUM));
    match (altitude?, vacuum?) {
        (Some(altitude), None) => {
            let found = Found::default().number(THEORETICAL, theoretical_lift_ft(altitude));
            Some(found.number(ATTAINABLE, attainable_lift_ft(altitude)))
        }
        (None, Some(vacuum)) => Some(Found::default().number(HELD, lift_of_vacuum_ft(vacuum))),
        _ => r.exactly_one_of(&["altitude_ft", "vacuum_inhg"]),
    }
}

fn pump_affinity(r: &mut Reader<'_>) -> Option<Found> {
    let (speed, flow) = (r.required(&SPEED), r.required(&PUMPED));
    let (head, power, other) = (r.required(&HEAD), r.required(&POWER), r.required(&OTHER_SPEED));
    let point = PumpPointAtSpeed { speed: speed?, flow: flow?, head: head?, power: power? };
    let found = point.at_speed(other?);
    let answer = Found::default().number(FLOW_GPM, found.flow_gpm).number(HEAD_FT, found.head_ft);
    Some(answer.number(POWER_HP, found.power_hp))
}

fn pump_test(r: &mut Reader<'_>) -> Option<Found> {
    let readings = r.list(&READINGS, |r| {
        let (flow, intake, discharge) = (r.required(&FLOW), r.required(&INTAKE), r.required(&DISCHARGE_GAUGE));
        Some(PumpReading { flow: flow?, intake: intake?, discharge: discharge? })
    })?;
    let curve = r.good("readings", "no_curve", PumpCurve::from_test(&readings))?;
    let points = curve.points().iter().map(|point| point.net.psi());
    Some(Found::default().number(CAPACITY, curve.capacity_gpm()).steps("net_psi", "psi", points))
}

fn draft_capacity(r: &mut Reader<'_>) -> Option<Found> {
    let (rated, lift) = (r.required(&RATED), r.required(&LIFT));
    let (altitude, suction) = (r.required(&SITE_ALTITUDE), r.optional(&SUCTION_K));
    let (pumper, draft) =
        (PumpCurve::from_rating(rated?), Draft { lift: lift?, altitude: altitude?, suction: suction? });
    let Some((most, _)) = draft.capacity(&pumper) else {
        return r.refuse("lift_ft", "not_known", "past 20 ft no share of its rating is known: do not plan on one");
    };
    Some(Found::default().number(CAPACITY, most).number_if_known(DISCHARGE, draft.discharge_psi(&pumper, most)))
}

fn suction_head(r: &mut Reader<'_>) -> Option<Found> {
    let (surface, vapour, density) = (r.required(&SURFACE), r.required(&VAPOUR), r.required(&DENSITY));
    let (lift, losses) = (r.required(&SUCTION_LIFT), r.required(&SUCTION_LOSS));
    let suction = Suction { surface: surface?, vapour: vapour?, density: density?, lift: lift?, losses: losses? };
    Some(Found::default().number(AVAILABLE, suction.head_available_ft()))
}
