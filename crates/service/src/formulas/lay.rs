//! What of a lay can be asked by itself: the pressure its hose bears, when its valve changes over, how far it may reach.

use longlay_hydraulics::ceiling::{MarkedPoint, pressure_ceiling_psi};
use longlay_hydraulics::finding::{Finding, FindingCode};
use longlay_hydraulics::formula;
use longlay_hydraulics::lay::{Lay, LayProblem, Part, Source};
use longlay_hydraulics::loss::{Hose, HydrantValve, ValveSpread};
use longlay_hydraulics::quantity::{ApplianceCoefficient, Flow, Length, PositiveFlow, Pressure, Rise};
use longlay_hydraulics::spread::SourceSpread;
use longlay_hydraulics::supply::SupplyCurve;

use super::catalogue::Entry;
use super::common::{HOSE_COEFFICIENT, LINES, RESIDUAL, RISE, STATIC, TESTED, curve};
use super::found::{Found, Output, output};
use super::input::{Input, List, Number};
use super::reader::Reader;

const MARKED: Number<Pressure> =
    Number::new("max_operating_psi", Pressure::BOUND, Pressure::from_psi, "Marked operating pressure");
const SERVICE_TEST: Number<Pressure> =
    Number::new("service_test_psi", Pressure::BOUND, Pressure::from_psi, "Service-test pressure of hose");
const POINT_RISE: Number<Rise> = Number::new(
    "rise_ft",
    Rise::BOUND,
    Rise::from_ft,
    "How much higher it is than the pumper; less than nothing for a fall",
);
const POINT_ITEM: &[Input] = &[MARKED.input.optional(), SERVICE_TEST.input.optional(), POINT_RISE.input];
const POINTS: List = List::new("points", POINT_ITEM, "The lowest point of each hose, and each appliance");
const BODY: Number<ApplianceCoefficient> = Number::new(
    "body_loss_coefficient",
    ApplianceCoefficient::BOUND,
    ApplianceCoefficient::from_psi_per_100gpm2,
    "k of the hydrant's own body, psi/(100 gpm)²; nothing is counted where not given",
);
const FROM_PUMP: Number<ApplianceCoefficient> = Number::new(
    "from_pump_coefficient",
    ApplianceCoefficient::BOUND,
    ApplianceCoefficient::from_psi_per_100gpm2,
    "k from the pumper's discharge to the supply line, psi/(100 gpm)²",
);
const RUNNING: Number<Flow> =
    Number::new("running_gpm", Flow::BOUND, Flow::from_gpm, "What runs through the line unboosted");
const WANTED: Number<PositiveFlow> =
    Number::new("target_flow_gpm", PositiveFlow::BOUND, PositiveFlow::from_gpm, "The flow to carry");
const MAIN_FLOOR: Number<Pressure> =
    Number::new("main_floor_psi", Pressure::BOUND, Pressure::from_psi, "Least pressure left in the main");
const SCENE_FLOOR: Number<Pressure> = Number::new(
    "scene_floor_psi",
    Pressure::BOUND,
    Pressure::from_psi,
    "Least pressure wanted at the scene pumper's intake",
);

const CEILING: Output = output("ceiling_psi", "psi");
const CHANGE_OVER: Output = output("change_over_discharge_psi", "psi");
const LONGEST: Output = output("longest_lay_ft", "ft");
const ARRIVES: Output = output("arrives", "");

pub(crate) const ENTRIES: &[Entry] = &[
    Entry {
        formula: &formula::PRESSURE_CEILING,
        inputs: &[POINTS.input],
        outputs: &[CEILING],
        evaluate: pressure_ceiling,
    },
    Entry {
        formula: &formula::CHANGE_OVER,
        inputs: &[
            STATIC.input,
            RESIDUAL.input,
            TESTED.input,
            BODY.input.optional(),
            RISE.input.optional(),
            FROM_PUMP.input,
            RUNNING.input,
        ],
        outputs: &[CHANGE_OVER],
        evaluate: change_over,
    },
    Entry {
        formula: &formula::LONGEST_LAY,
        inputs: &[
            STATIC.input,
            RESIDUAL.input,
            TESTED.input,
            BODY.input.optional(),
            HOSE_COEFFICIENT.input,
            LINES.input.optional(),
            RISE.input.optional(),
            MAIN_FLOOR.input,
            SCENE_FLOOR.input,
            WANTED.input,
        ],
        outputs: &[LONGEST, ARRIVES],
        evaluate: longest_lay,
    },
];

fn marked_point(r: &mut Reader<'_>) -> Option<MarkedPoint> {
    let (max_operating, service_test, rise) = (r.optional(&MARKED), r.optional(&SERVICE_TEST), r.required(&POINT_RISE));
    let point = MarkedPoint { max_operating: max_operating?, service_test: service_test?, rise: rise? };
    if point.max_operating.is_none() && point.service_test.is_none() {
        return r.refuse("max_operating_psi", "at_least_one_of", "give max_operating_psi, service_test_psi or both");
    }
    Some(point)
}

fn pressure_ceiling(r: &mut Reader<'_>) -> Option<Found> {
    let points = r.list(&POINTS, marked_point)?;
    Some(Found::default().number_if_known(CEILING, pressure_ceiling_psi(&points)))
}

/// The lay from a test's main, without a pumper.
fn lay(curve: SupplyCurve, body_loss: Option<ApplianceCoefficient>, parts: Vec<Part>) -> Option<LayProblem> {
    let none = Pressure::from_psi(Pressure::BOUND.min).ok()?;
    Some(LayProblem {
        source: Source { curve, body_loss, body_loss_assumed: false, spread: SourceSpread::of_numbers() },
        parts,
        rise: None,
        boost: None,
        main_floor: none,
        scene_floor: none,
        target: None,
        fill_flow: None,
        tank: None,
    })
}

fn weak(curve: &SupplyCurve, body_loss: Option<ApplianceCoefficient>) -> Vec<Finding> {
    let mut found = curve.findings();
    if body_loss.is_none() {
        found.push(Finding::plain(FindingCode::NoBodyLoss));
    }
    found
}

fn change_over(r: &mut Reader<'_>) -> Option<Found> {
    let (curve, body, rise) = (curve(r), r.optional(&BODY), r.optional(&RISE));
    let (from_pump, running) = (r.required(&FROM_PUMP), r.required(&RUNNING));
    let (curve, body, from_pump) = (curve?, body?, from_pump?);
    let (through, to_pump) = (from_pump, from_pump);
    let valve = HydrantValve {
        through,
        to_pump,
        from_pump,
        to_pump_hose: None,
        from_pump_hose: None,
        assumed: false,
        spread: ValveSpread::ASSUMED,
    };
    let parts = rise?.map(Part::Rise).into_iter().chain([Part::HydrantValve(valve)]).collect();
    let lay = Lay::new(lay(curve, body, parts)?).ok()?;
    let found = Found::default().number_if_known(CHANGE_OVER, lay.change_over_psi(running?.gpm()));
    Some(found.findings(weak(&curve, body)))
}

fn longest_lay(r: &mut Reader<'_>) -> Option<Found> {
    let (curve, body) = (curve(r), r.optional(&BODY));
    let (coefficient, lines, rise) = (r.required(&HOSE_COEFFICIENT), r.optional(&LINES), r.optional(&RISE));
    let (main_floor, scene_floor) = (r.required(&MAIN_FLOOR), r.required(&SCENE_FLOOR));
    let target = r.required(&WANTED);
    let (curve, body) = (curve?, body?);
    // Its own length does not matter: the lay stretches or shrinks it.
    let hose = Hose::new(coefficient?, Length::from_ft(Length::BOUND.min).ok()?, lines?.unwrap_or(1)).ok()?;
    let problem = LayProblem {
        rise: rise?,
        main_floor: main_floor?,
        scene_floor: scene_floor?,
        target: Some(target?),
        ..lay(curve, body, vec![Part::Hose(hose)])?
    };
    let longest = Lay::new(problem).ok()?.answer().longest_lay_ft;
    let found = Found::default().number_if_known(LONGEST, longest).flag(ARRIVES, longest.is_some());
    Some(found.findings(weak(&curve, body)))
}
