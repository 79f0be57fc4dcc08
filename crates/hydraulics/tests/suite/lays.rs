//! Random lays. `usual` draws what a department could meet, so that a law's tolerance can be tight; `extreme` draws the whole bounds of
//! every quantity, ends included, so that nothing finite may break the answer.

use longlay_hydraulics::lay::{Branch, BranchPart, LayProblem, Part, Source, Tank};
use longlay_hydraulics::loss::{Appliance, ApplianceLoss, Hose, HydrantValve, ValveSpread};
use longlay_hydraulics::pumper::{PumpCurve, PumpPoint, Pumper};
use longlay_hydraulics::quantity::{
    ApplianceCoefficient, Bound, Diameter, Flow, HoseCoefficient, Length, PositiveFlow, Pressure, Rise, Volume,
};
use longlay_hydraulics::spread::{SourceSpread, Spread};
use longlay_hydraulics::supply::SupplyCurve;
use proptest::collection::vec;
use proptest::option::of;
use proptest::prelude::*;

use crate::common::{gpm, k, problem, psi};

/// Where the numbers of a lay come from.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Range {
    Usual,
    Extreme,
}

impl Range {
    /// A number from the usual range, or from the whole bounds with its ends and its smallest parts.
    fn number(self, low: f64, high: f64, bound: Bound) -> BoxedStrategy<f64> {
        if self == Self::Usual {
            return (low..=high).boxed();
        }
        let (min, max) = (bound.min, bound.max);
        let least = if min > 0.0 { min } else { f64::MIN_POSITIVE };
        // Even in the exponent: most of a wide range is small numbers.
        let small = (least.ln()..=max.ln()).prop_map(move |x| x.exp().clamp(min, max));
        let zero = min.max(0.0);
        prop_oneof![Just(min), Just(max), Just(zero), min..=max, small, low..=high].boxed()
    }
}

/// How the pumpers stand in a lay.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Pumpers {
    None,
    Boost,
    Written,
}

fn pressure(range: Range, low: f64, high: f64) -> BoxedStrategy<Pressure> {
    range.number(low, high, Pressure::BOUND).prop_map(psi).boxed()
}

fn flow(range: Range, low: f64, high: f64) -> BoxedStrategy<PositiveFlow> {
    range.number(low, high, PositiveFlow::BOUND).prop_map(gpm).boxed()
}

fn coefficient(range: Range, high: f64) -> BoxedStrategy<ApplianceCoefficient> {
    range.number(0.0, high, ApplianceCoefficient::BOUND).prop_map(k).boxed()
}

fn hoses(range: Range) -> BoxedStrategy<Hose> {
    let c = range.number(0.07, 2.5, HoseCoefficient::BOUND);
    let length = range.number(10.0, 3000.0, Length::BOUND);
    let markings = (of(pressure(range, 120.0, 300.0)), of(pressure(range, 150.0, 400.0)));
    let diameter = of(range.number(1.5, 6.0, Diameter::BOUND));
    (c, length, 1..=4_u8, markings, diameter)
        .prop_map(|(c, length, lines, (max_operating, service_test), diameter)| {
            let c = HoseCoefficient::from_psi_per_100gpm2_100ft(c).unwrap();
            let mut hose = Hose::new(c, Length::from_ft(length).unwrap(), lines).unwrap();
            hose.diameter = diameter.map(|inches| Diameter::from_in(inches).unwrap());
            (hose.max_operating, hose.service_test) = (max_operating, service_test);
            hose
        })
        .boxed()
}

fn appliances(range: Range) -> BoxedStrategy<Appliance> {
    let step = (pressure(range, 0.0, 30.0), range.number(0.0, 1500.0, Flow::BOUND))
        .prop_map(|(fixed, from)| ApplianceLoss::Step { fixed, at_or_above: Flow::from_gpm(from).unwrap() });
    let loss = prop_oneof![coefficient(range, 0.5).prop_map(ApplianceLoss::Squared), step];
    (loss, of(pressure(range, 150.0, 300.0)), any::<bool>())
        .prop_map(|(loss, max_operating, assumed)| Appliance {
            loss,
            max_operating,
            assumed,
            spread: Spread::ASSUMED_LOSS,
        })
        .boxed()
}

fn branches(range: Range) -> BoxedStrategy<Branch> {
    let more = prop_oneof![hoses(range).prop_map(BranchPart::Hose), appliances(range).prop_map(BranchPart::Appliance)];
    (hoses(range), vec(more, 0..3))
        .prop_map(|(hose, mut parts)| {
            parts.push(BranchPart::Hose(hose));
            Branch { parts }
        })
        .boxed()
}

fn valves(range: Range) -> BoxedStrategy<HydrantValve> {
    let legs = (coefficient(range, 0.3), coefficient(range, 0.3), coefficient(range, 0.3));
    let connecting = (of(hoses(range)), of(hoses(range)));
    (legs, connecting, any::<bool>())
        .prop_map(|((through, to_pump, from_pump), (to_pump_hose, from_pump_hose), assumed)| HydrantValve {
            through,
            to_pump,
            from_pump,
            to_pump_hose,
            from_pump_hose,
            assumed,
            spread: ValveSpread::ASSUMED,
        })
        .boxed()
}

fn pump_curves(range: Range) -> BoxedStrategy<PumpCurve> {
    let step = (range.number(50.0, 600.0, PositiveFlow::BOUND), range.number(0.0, 80.0, Pressure::BOUND));
    let points = (pressure(range, 150.0, 300.0), vec(step, 1..5)).prop_filter_map("no curve", |(shut_off, steps)| {
        let mut points = Vec::new();
        let (mut at, mut net) = (0.0, shut_off.psi());
        for (more, less) in steps {
            (at, net) = (at + more, (net - less).max(0.0));
            points.push(PumpPoint { flow: PositiveFlow::from_gpm(at).ok()?, net: psi(net) });
        }
        // Two flows that differ by less than a float can say are no rising flow.
        PumpCurve::from_points(points).ok()
    });
    prop_oneof![flow(range, 250.0, 3000.0).prop_map(PumpCurve::from_rating), points].boxed()
}

pub(crate) fn pumpers(range: Range) -> BoxedStrategy<Pumper> {
    (pump_curves(range), pressure(range, 0.0, 40.0), of(pressure(range, 80.0, 300.0)))
        .prop_map(|(curve, intake_floor, max_discharge)| Pumper { curve, intake_floor, max_discharge })
        .boxed()
}

/// Any test; sometimes without a drop, at the extremes with a drop between neighbouring floats.
pub(crate) fn curves(range: Range) -> BoxedStrategy<SupplyCurve> {
    // No static is no curve.
    let statics = || range.number(30.0, 200.0, Pressure::BOUND).prop_map(|high| high.max(f64::MIN_POSITIVE));
    let some_drop = (statics(), 0.0..=0.97_f64, flow(range, 200.0, 5000.0))
        .prop_map(|(high, left, tested)| SupplyCurve::new(psi(high), psi(left * high), tested).unwrap());
    let no_drop = (statics(), flow(range, 200.0, 5000.0))
        .prop_map(|(high, tested)| SupplyCurve::new(psi(high), psi(high), tested).unwrap());
    if range == Range::Usual {
        return prop_oneof![9 => some_drop, 1 => no_drop].boxed();
    }
    let least_drop = (statics(), flow(range, 200.0, 5000.0)).prop_map(|(high, tested)| {
        let residual = high.next_down().max(0.0);
        SupplyCurve::new(psi(high), psi(residual), tested).unwrap()
    });
    prop_oneof![some_drop, no_drop, least_drop].boxed()
}

pub(crate) fn sources(range: Range) -> BoxedStrategy<Source> {
    (curves(range), of(coefficient(range, 0.2)), any::<bool>())
        .prop_map(|(curve, body_loss, body_loss_assumed)| Source {
            curve,
            body_loss,
            body_loss_assumed,
            spread: SourceSpread::of_numbers(),
        })
        .boxed()
}

fn plain_parts(range: Range) -> BoxedStrategy<Part> {
    prop_oneof![
        4 => hoses(range).prop_map(Part::Hose),
        2 => vec(branches(range), 2..4).prop_map(Part::Parallel),
        2 => appliances(range).prop_map(Part::Appliance),
        2 => range.number(-100.0, 100.0, Rise::BOUND).prop_map(|feet| Part::Rise(Rise::from_ft(feet).unwrap())),
    ]
    .boxed()
}

/// A whole question, its pumpers as asked for.
pub(crate) fn lays(range: Range, pumped: Pumpers) -> BoxedStrategy<LayProblem> {
    let parts = (vec(plain_parts(range), 1..6), of((any::<prop::sample::Index>(), valves(range))));
    let written = vec((any::<prop::sample::Index>(), pumpers(range)), 1..=2);
    let floors = (pressure(range, 0.0, 30.0), pressure(range, 0.0, 40.0));
    let asked = (of(flow(range, 50.0, 2500.0)), of(flow(range, 100.0, 1500.0)), of(tanks(range)));
    (sources(range), parts, written, floors, asked)
        .prop_map(move |(source, (mut parts, valve), mut pumpers, (main_floor, scene_floor), (target, fill, tank))| {
            if let Some((at, valve)) = valve {
                parts.insert(at.index(parts.len() + 1), Part::HydrantValve(valve));
            }
            let boost = (pumped == Pumpers::Boost).then(|| pumpers.pop().unwrap().1);
            if pumped == Pumpers::Written {
                for (at, pumper) in pumpers {
                    parts.insert(at.index(parts.len() + 1), Part::Pumper(pumper));
                }
            }
            LayProblem { boost, main_floor, scene_floor, target, fill_flow: fill, tank, ..problem(source, parts) }
        })
        .boxed()
}

fn tanks(range: Range) -> BoxedStrategy<Tank> {
    (range.number(300.0, 1500.0, Volume::BOUND), flow(range, 100.0, 500.0))
        .prop_map(|(gallons, attack_flow)| Tank { volume: Volume::from_gal(gallons).unwrap(), attack_flow })
        .boxed()
}

/// A whole question with its pumpers in any of the three ways.
pub(crate) fn any_lays(range: Range) -> BoxedStrategy<LayProblem> {
    prop_oneof![lays(range, Pumpers::None), lays(range, Pumpers::Boost), lays(range, Pumpers::Written)].boxed()
}
