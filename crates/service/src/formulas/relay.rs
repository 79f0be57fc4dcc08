//! Relays and tanker shuttles.

use longlay_hydraulics::formula;
use longlay_hydraulics::quantity::{Length, Miles, Minutes, PositiveFlow, Pressure, Volume};
use longlay_hydraulics::relay::{max_distance, pump_size, pumpers_needed};
use longlay_hydraulics::shuttle::{Haul, TankerRound, tanker_rate_gpm};

use super::catalogue::Entry;
use super::common::{FLOW, FLOW_GPM, HOSE_COEFFICIENT};
use super::found::{Found, Output, output};
use super::input::Number;
use super::reader::Reader;

const DISCHARGE: Number<Pressure> =
    Number::new("discharge_psi", Pressure::BOUND, Pressure::from_psi, "Pump discharge pressure");
const LEFT: Number<Pressure> = Number::new(
    "residual_psi",
    Pressure::BOUND,
    Pressure::from_psi,
    "What is left for the next pumper's intake; 20 by the method",
);
const DISTANCE: Number<Length> = Number::new("distance_ft", Length::BOUND, Length::from_ft, "Length of the relay");
const REACH: Number<Length> =
    Number::new("max_distance_ft", Length::BOUND, Length::from_ft, "How far one pumper reaches");
const RATED: Number<PositiveFlow> =
    Number::new("rated_flow_gpm", PositiveFlow::BOUND, PositiveFlow::from_gpm, "The pumper's rating");
const NET: Number<Pressure> =
    Number::new("net_psi", Pressure::BOUND, Pressure::from_psi, "Net pump pressure; the discharge is on the safe side");
const TANK: Number<Volume> = Number::new("tank_gal", Volume::BOUND, Volume::from_gal, "What the tanker's tank holds");
const CYCLE: Number<Minutes> =
    Number::new("cycle_min", Minutes::BOUND, Minutes::from_min, "A whole round, timed; or give its parts");
const FILL: Number<Minutes> = Number::new("fill_min", Minutes::BOUND, Minutes::from_min, "Time at the fill site");
const DUMP: Number<Minutes> = Number::new("dump_min", Minutes::BOUND, Minutes::from_min, "Time at the dump site");
const ROUND_TRIP: Number<Miles> = Number::new("round_trip_mi", Miles::BOUND, Miles::from_mi, "The road there and back");
const ONE_WAY: Number<Miles> = Number::new("one_way_mi", Miles::BOUND, Miles::from_mi, "The road one way");

const REACHES: Output = output("max_distance_ft", "ft");
const PUMPERS: Output = output("pumpers", "1");
const ENOUGH: Output = output("enough", "");
const CAPACITY: Output = output("capacity_gpm", "gpm");
const SHARE: Output = output("share", "1");

pub(crate) const ENTRIES: &[Entry] = &[
    Entry {
        formula: &formula::RELAY_DISTANCE,
        inputs: &[DISCHARGE.input, LEFT.input, HOSE_COEFFICIENT.input, FLOW.input],
        outputs: &[REACHES],
        evaluate: relay_distance,
    },
    Entry {
        formula: &formula::RELAY_PUMPERS,
        inputs: &[DISTANCE.input, REACH.input],
        outputs: &[PUMPERS],
        evaluate: |r| {
            let (distance, reach) = (r.required(&DISTANCE), r.required(&REACH));
            Some(Found::default().number(PUMPERS, pumpers_needed(distance?, reach?).into()))
        },
    },
    Entry {
        formula: &formula::RELAY_PUMP_SIZE,
        inputs: &[RATED.input, NET.input, FLOW.input],
        outputs: &[ENOUGH, CAPACITY, SHARE],
        evaluate: |r| {
            let (rated, net, flow) = (r.required(&RATED), r.required(&NET), r.required(&FLOW));
            let size = pump_size(rated?, net?, flow?);
            let found = Found::default().flag(ENOUGH, size.enough).number(CAPACITY, size.capacity_gpm);
            Some(found.number_if_known(SHARE, size.share))
        },
    },
    Entry {
        formula: &formula::TANKER_RATE,
        inputs: &[
            TANK.input,
            CYCLE.input.optional(),
            FILL.input.optional(),
            DUMP.input.optional(),
            ROUND_TRIP.input.optional(),
            ONE_WAY.input.optional(),
        ],
        outputs: &[FLOW_GPM],
        evaluate: tanker_rate,
    },
];

fn relay_distance(r: &mut Reader<'_>) -> Option<Found> {
    let (discharge, left) = (r.required(&DISCHARGE), r.required(&LEFT));
    let (coefficient, flow) = (r.required(&HOSE_COEFFICIENT), r.required(&FLOW));
    let longest = max_distance(discharge?, left?, coefficient?, flow?);
    let longest = r.good("discharge_psi", "reaches_nowhere", longest)?;
    Some(Found::default().number(REACHES, longest.ft()))
}

fn tanker_rate(r: &mut Reader<'_>) -> Option<Found> {
    let (tank, cycle) = (r.required(&TANK), r.optional(&CYCLE));
    let (fill, dump) = (r.optional(&FILL), r.optional(&DUMP));
    let (round_trip, one_way) = (r.optional(&ROUND_TRIP), r.optional(&ONE_WAY));
    let (cycle, fill, dump) = (cycle?, fill?, dump?);
    let haul = match (round_trip?, one_way?) {
        (Some(miles), None) => Some(Haul::RoundTrip(miles)),
        (None, Some(miles)) => Some(Haul::OneWay(miles)),
        (None, None) => None,
        _ => return r.exactly_one_of(&["round_trip_mi", "one_way_mi"]),
    };
    match (cycle, fill, dump, haul) {
        (Some(cycle), None, None, None) => Some(Found::default().number(FLOW_GPM, tanker_rate_gpm(tank?, cycle))),
        (None, Some(fill), Some(dump), Some(haul)) => {
            let rate = TankerRound { tank: tank?, fill, dump, haul }.rate();
            let found = Found::default().number(FLOW_GPM, rate.gpm).step("usable", rate.usable_gal, "gal");
            Some(found.step("handling", rate.handling_min, "min").step("travel", rate.travel_min, "min"))
        }
        _ => r.exactly_one_of(&["cycle_min", "fill_min with dump_min and round_trip_mi or one_way_mi"]),
    }
}
