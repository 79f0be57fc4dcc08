//! From the question as it came to the hydraulics crate's problem, with every fault at once.

use longlay_hydraulics::drafting::Draft;
use longlay_hydraulics::finding::{Finding, FindingCode};
use longlay_hydraulics::pumper::Pumper;
use longlay_hydraulics::quantity::{Along, Altitude, ApplianceCoefficient, Length, Lift, PositiveFlow, Pressure, Rise};
use longlay_hydraulics::relay::{
    ConstantDischarge, Ground, GroundError, GroundPoint, MAX_GROUND_POINTS, MAX_RELAY_PUMPERS, RelayError,
    RelayProblem, RelayPumpers, RelaySource,
};
use longlay_records::hydrant::Elevation;
use longlay_records::supply::Supply;
use longlay_store::LayInputs;

use crate::faults::Faults;
use crate::lay::build::{Builder, DEFAULT_FLOOR_PSI, source};
use crate::relay::request::{DraftPlace, RelayGroundPoint, RelayMethod, RelayQuestion, RelayWater};

/// A relay and how it is placed.
pub(super) struct Asked {
    pub(super) problem: RelayProblem,
    /// What everyone discharges; none for the maximum-distance method.
    pub(super) constant: Option<ConstantDischarge>,
}

/// Builds the problem. `supply` is the stored hydrant's, where the source is one.
pub(super) fn asked(
    ask: &RelayQuestion,
    inputs: &LayInputs,
    supply: Option<&Supply>,
    faults: &mut Faults,
) -> Option<Asked> {
    let water = water(ask, supply, faults);
    let length = faults.good("/distance_ft", Length::from_ft(ask.distance_ft));
    // Whatever else is wrong with the hose is told beside a distance that is none.
    let part = ask.hose.part(length.map_or(Length::BOUND.min, Length::ft));
    let hose = Builder { inputs, faults }.hose("/hose", &part);
    let ground = ground(ask, length, faults);
    let flow = faults.good("/target_flow_gpm", PositiveFlow::from_gpm(ask.target_flow_gpm));
    let scene_floor = floor("/scene_floor_psi", ask.scene_floor_psi, faults);
    let constant = constant(ask, faults);
    let pumpers = pumpers(ask, inputs, faults);
    let problem = RelayProblem {
        source: water?,
        hose: hose?,
        ground: ground?,
        flow: flow?,
        scene_floor: scene_floor?,
        pumpers: pumpers?,
    };
    Some(Asked { problem, constant: constant? })
}

fn floor(pointer: &str, asked: Option<f64>, faults: &mut Faults) -> Option<Pressure> {
    faults.good(pointer, Pressure::from_psi(asked.unwrap_or(DEFAULT_FLOOR_PSI)))
}

fn water(ask: &RelayQuestion, supply: Option<&Supply>, faults: &mut Faults) -> Option<RelaySource> {
    let RelayWater { draft, .. } = &ask.source;
    let main_floor = floor("/main_floor_psi", ask.main_floor_psi, faults);
    let Some(place) = draft else {
        let source = source(&ask.source.main(), supply, faults);
        return Some(RelaySource::Hydrant { source: source?, main_floor: main_floor? });
    };
    if ask.source.names_a_main() {
        return faults.exactly_one_of("/source", &["hydrant_id", "static_psi", "draft"]);
    }
    if ask.main_floor_psi.is_some() {
        faults.note("/main_floor_psi", "beside_draft", "open water has no main");
    }
    draft_at("/source/draft", place, faults).map(RelaySource::Draft)
}

/// A place at open water.
pub(crate) fn draft_at(at: &str, place: &DraftPlace, faults: &mut Faults) -> Option<Draft> {
    let lift = faults.good(&format!("{at}/lift_ft"), Lift::from_ft(place.lift_ft));
    let altitude = faults.good(&format!("{at}/altitude_ft"), Altitude::from_ft(place.altitude_ft.unwrap_or(0.0)));
    let loss = format!("{at}/suction_loss_coefficient");
    let suction = faults.optional(&loss, place.suction_loss_coefficient, ApplianceCoefficient::from_psi_per_100gpm2);
    Some(Draft { lift: lift?, altitude: altitude?, suction: suction? })
}

/// What is weak about a place at open water.
pub(crate) fn draft_findings(place: &DraftPlace, draft: &Draft) -> Vec<Finding> {
    let over = draft.lift.ft() - draft.dependable_lift_ft();
    let attainable = draft.lift.ft() <= draft.attainable_lift_ft();
    let when = [
        (Finding::new(FindingCode::LiftNotDependable, over), over > 0.0),
        (Finding::new(FindingCode::LiftBeyondFigures, draft.lift.ft()), attainable && draft.rating_share().is_none()),
        (Finding::plain(FindingCode::AltitudeUnknown), place.altitude_ft.is_none()),
        (Finding::plain(FindingCode::SuctionNotGiven), place.suction_loss_coefficient.is_none()),
    ];
    when.into_iter().filter_map(|(finding, applies)| applies.then_some(finding)).collect()
}

fn ground(ask: &RelayQuestion, length: Option<Length>, faults: &mut Faults) -> Option<Ground> {
    match (ask.rise_ft, &ask.ground) {
        (Some(rise), None) => {
            let rise = faults.good("/rise_ft", Rise::from_ft(rise));
            Some(Ground::even(rise?, length?))
        }
        (None, Some(points)) => profile(points, length, faults),
        _ => faults.exactly_one_of("", &["rise_ft", "ground"]),
    }
}

fn profile(points: &[RelayGroundPoint], length: Option<Length>, faults: &mut Faults) -> Option<Ground> {
    // Heights count from the first point's.
    let level = points.first().map_or(0.0, |first| first.elevation_ft);
    let points = faults.list("/ground", points, MAX_GROUND_POINTS, |faults, at, point| {
        let distance = faults.good(&format!("{at}/distance_ft"), Along::from_ft(point.distance_ft));
        let elevation = format!("{at}/elevation_ft");
        let height = faults.good(&elevation, Elevation::from_ft(point.elevation_ft))?;
        let height = faults.good(&elevation, Rise::from_ft(height.ft() - level));
        Some(GroundPoint { at: distance?, height: height? })
    })?;
    Ground::profile(&points, length?).map_err(|error| note_ground(error, points.len(), faults)).ok()
}

fn note_ground(error: GroundError, points: usize, faults: &mut Faults) {
    let (pointer, code) = match error {
        GroundError::Count => ("/ground".to_owned(), "too_few"),
        GroundError::NotFromSource => ("/ground/0/distance_ft".to_owned(), "not_from_source"),
        GroundError::NotFarther(point) => (format!("/ground/{point}/distance_ft"), "not_farther"),
        GroundError::NotToScene { .. } => (format!("/ground/{}/distance_ft", points - 1), "not_to_scene"),
        GroundError::TooHigh => ("/ground".to_owned(), "too_high"),
    };
    faults.note(&pointer, code, error.to_string());
}

/// The outer none is a fault.
#[expect(clippy::option_option, reason = "the outer none is a fault noted, the inner one the other method")]
fn constant(ask: &RelayQuestion, faults: &mut Faults) -> Option<Option<ConstantDischarge>> {
    let customary = ask.customary_discharge.unwrap_or(false);
    match (ask.method, ask.constant_discharge_psi, customary) {
        (RelayMethod::MaximumDistance, None, false) => Some(None),
        (RelayMethod::ConstantPressure, None, true) => Some(Some(ConstantDischarge::Customary)),
        (RelayMethod::ConstantPressure, Some(psi), false) => {
            let psi = faults.good("/constant_discharge_psi", Pressure::from_psi(psi));
            psi.map(|psi| Some(ConstantDischarge::Given(psi)))
        }
        (RelayMethod::MaximumDistance, ..) => {
            let name = if customary { "/customary_discharge" } else { "/constant_discharge_psi" };
            faults.add(name, "not_with_method", "goes with the method constant_pressure")
        }
        (RelayMethod::ConstantPressure, ..) => {
            faults.exactly_one_of("", &["constant_discharge_psi", "customary_discharge"])
        }
    }
}

fn pumpers(ask: &RelayQuestion, inputs: &LayInputs, faults: &mut Faults) -> Option<RelayPumpers> {
    match (&ask.pumpers, &ask.typical_pumper) {
        (Some(pumpers), None) => {
            let built: Option<Vec<Pumper>> =
                faults.list("/pumpers", pumpers, MAX_RELAY_PUMPERS, |faults, at, asked| {
                    Builder { inputs, faults }.pumper(at, asked)
                });
            if pumpers.is_empty() {
                return faults.add("/pumpers", "too_few", RelayError::PumperCount(0).to_string());
            }
            built.map(RelayPumpers::Listed)
        }
        (None, Some(asked)) => Builder { inputs, faults }.pumper("/typical_pumper", asked).map(RelayPumpers::Typical),
        _ => faults.exactly_one_of("", &["pumpers", "typical_pumper"]),
    }
}
