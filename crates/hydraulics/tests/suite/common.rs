//! Short ways to say a lay, for the tests of this crate.

use longlay_hydraulics::finding::FindingCode;
use longlay_hydraulics::lay::{Lay, LayAnswer, LayProblem, Limit, Part, Source, Station};
use longlay_hydraulics::loss::{Appliance, ApplianceLoss, Hose, HydrantValve, ValveSpread};
use longlay_hydraulics::pumper::{PumpCurve, Pumper};
use longlay_hydraulics::quantity::{ApplianceCoefficient, Flow, HoseCoefficient, Length, PositiveFlow, Pressure, Rise};
use longlay_hydraulics::spread::{SourceSpread, Spread};
use longlay_hydraulics::supply::SupplyCurve;

pub(crate) fn psi(psi: f64) -> Pressure {
    Pressure::from_psi(psi).unwrap()
}

pub(crate) fn gpm(gpm: f64) -> PositiveFlow {
    PositiveFlow::from_gpm(gpm).unwrap()
}

pub(crate) fn k(k: f64) -> ApplianceCoefficient {
    ApplianceCoefficient::from_psi_per_100gpm2(k).unwrap()
}

pub(crate) fn curve(static_psi: f64, residual_psi: f64, flow_gpm: f64) -> SupplyCurve {
    SupplyCurve::new(psi(static_psi), psi(residual_psi), gpm(flow_gpm)).unwrap()
}

pub(crate) fn main(static_psi: f64, residual_psi: f64, flow_gpm: f64) -> Source {
    Source {
        curve: curve(static_psi, residual_psi, flow_gpm),
        body_loss: None,
        body_loss_assumed: false,
        spread: SourceSpread::of_numbers(),
    }
}

pub(crate) fn hose(c: f64, feet: f64) -> Hose {
    let c = HoseCoefficient::from_psi_per_100gpm2_100ft(c).unwrap();
    Hose::new(c, Length::from_ft(feet).unwrap(), 1).unwrap()
}

pub(crate) fn rise(feet: f64) -> Part {
    Part::Rise(Rise::from_ft(feet).unwrap())
}

pub(crate) fn valve(through: f64, to_pump: f64, from_pump: f64) -> Part {
    Part::HydrantValve(HydrantValve {
        through: k(through),
        to_pump: k(to_pump),
        from_pump: k(from_pump),
        to_pump_hose: None,
        from_pump_hose: None,
        assumed: false,
        spread: ValveSpread::ASSUMED,
    })
}

pub(crate) fn pumper(rated_gpm: f64, max_discharge: Option<f64>) -> Pumper {
    Pumper {
        curve: PumpCurve::from_rating(gpm(rated_gpm)),
        intake_floor: psi(20.0),
        max_discharge: max_discharge.map(psi),
    }
}

/// Hose with a marked operating pressure.
pub(crate) fn marked(line: Hose, max_operating: f64) -> Hose {
    let mut line = line;
    line.max_operating = Some(psi(max_operating));
    line
}

/// An appliance that costs nothing under a flow and a fixed loss from it on.
pub(crate) fn step(fixed: f64, from: f64) -> Appliance {
    let at_or_above = Flow::from_gpm(from).unwrap();
    Appliance {
        loss: ApplianceLoss::Step { fixed: psi(fixed), at_or_above },
        max_operating: None,
        assumed: false,
        spread: Spread::ASSUMED_LOSS,
    }
}

/// A lay with floors of 20 psi, no pumper and no target.
pub(crate) fn problem(source: Source, parts: Vec<Part>) -> LayProblem {
    LayProblem {
        source,
        parts,
        rise: None,
        boost: None,
        main_floor: psi(20.0),
        scene_floor: psi(20.0),
        target: None,
        fill_flow: None,
        tank: None,
    }
}

pub(crate) fn answer(problem: LayProblem) -> LayAnswer {
    Lay::new(problem).unwrap().answer()
}

/// `actual` within `tolerance` of `expected`.
#[track_caller]
pub(crate) fn close(actual: f64, expected: f64, tolerance: f64) {
    // A NaN is close to nothing.
    assert!((actual - expected).abs() <= tolerance, "{actual} is not within {tolerance} of {expected}");
}

/// 70 psi whatever flows, proved up to 2000 gpm.
pub(crate) fn level(parts: Vec<Part>) -> LayProblem {
    problem(main(70.0, 70.0, 2000.0), parts)
}

pub(crate) fn line(c: f64, feet: f64) -> Part {
    Part::Hose(hose(c, feet))
}

pub(crate) fn boosted(lay: LayProblem, rated: f64) -> LayProblem {
    LayProblem { boost: Some(pumper(rated, None)), ..lay }
}

pub(crate) fn wanting(lay: LayProblem, target: f64) -> LayProblem {
    LayProblem { target: Some(gpm(target)), ..lay }
}

#[track_caller]
pub(crate) fn binds(found: &LayAnswer, limit: Limit, station: Station, gpm: f64) {
    assert_eq!((found.limited_by().limit, found.limited_by().station), (limit, station));
    close(found.answer().deliverable_gpm, gpm, 0.01);
}

pub(crate) fn has(found: &LayAnswer, code: FindingCode) -> bool {
    found.findings.iter().any(|finding| finding.code == code)
}
