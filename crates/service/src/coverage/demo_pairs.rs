//! Every pair of the demo town: what a run tells of it is what the exact solver says, and never more.

use std::sync::Arc;

use longlay_coverage::run::Served;
use longlay_coverage::threads::Progress;
use longlay_hydraulics::lay::Source;
use longlay_hydraulics::lay::many::{Arrives, ManyLays};
use longlay_store::{OpenOptions, Store, Town};

use crate::app::AppState;
use crate::clock::{Clock, Ids};
use crate::coverage::inputs::{Gathered, Inputs};
use crate::coverage::settings::CoverageRunBody;
use crate::coverage::template::template;
use crate::demo;
use crate::faults::Faults;

const PROFILES: [&str; 5] =
    ["five-inch-valve", "five-inch-plain", "four-inch-valve", "twin-three-inch", "five-inch-long"];
/// A pumper by its rating, and one by points of its own.
const PUMPERS: [&str; 2] = ["engine-1", "ladder-1"];
/// Over so much hose every hydrant serves every place that streets join it with.
const EVERYWHERE_FT: f64 = 100_000.0;

async fn inputs(app: &AppState, town: &Arc<Town>, lay_profile_id: &str, pumper_id: &str) -> Inputs {
    let body = CoverageRunBody {
        lay_profile_id: lay_profile_id.to_owned(),
        boost_pumper_id: Some(pumper_id.to_owned()),
        max_lay_ft: Some(EVERYWHERE_FT),
        section_ft: Some(1.0),
        ..CoverageRunBody::default()
    };
    let today = app.clock.today();
    let lay_inputs = town.lay_inputs(&body.refs(), today).unwrap();
    let settings = body.settings(&lay_inputs, true, &mut Faults::of_body()).unwrap();
    let lay = template(lay_profile_id, Some(pumper_id), &lay_inputs, Faults::of_body()).unwrap();
    Gathered::read(&app.store, Arc::clone(town), settings, lay, today).await.unwrap().prepared().unwrap()
}

/// Never over; a figure under by no more than a share of 1e-6, a low end by no more than 1e-5 of its figure.
fn is_told(found: Arrives, figure: f64, low: f64) {
    assert!(found.gpm <= figure && found.gpm >= figure * (1.0 - 1e-6), "{found:?} of {figure}");
    assert!(found.low_gpm <= low && found.low_gpm >= low - 1e-5 * figure, "{found:?} of {low}");
}

/// Asks every pair, and counts them with those at which anything arrives.
fn check(inputs: &Inputs) -> (usize, usize) {
    let many = ManyLays::new(inputs.lay.clone()).unwrap();
    let rule = inputs.settings.rule();
    let (places, hydrants) = (&inputs.places, &inputs.hydrants);
    let served = Served::new(&inputs.streets, places, hydrants, rule, 2, &Progress::default()).unwrap();
    let (mut pairs, mut flowing) = (0, 0);
    for (i, place) in places.iter().enumerate() {
        for lay in served.lays(i) {
            let hydrant = &hydrants[lay.hydrant as usize];
            let Some(source) = hydrant.source else { continue };
            let rise = place.ground_ft.zip(hydrant.ground_ft).map(|(place, hydrant)| place - hydrant);
            let (ready, source) = if rise.is_some() {
                (many.ready(&source), source)
            } else {
                let wider = Source { spread: source.spread.ground_unknown(), ..source };
                (many.ready_ground_unknown(&source), wider)
            };
            let (feet, rise) = (rule.feet(lay.sections), rise.unwrap_or(0.0));
            let (found, exact) = (many.arrives(&ready, feet, rise), many.lay(&source, feet, rise).unwrap().answer());
            is_told(found.alone, exact.unboosted.deliverable_gpm, exact.unboosted.band.low);
            let boosted = exact.boosted.unwrap();
            is_told(found.boosted.unwrap(), boosted.deliverable_gpm, boosted.band.low);
            pairs += 1;
            flowing += usize::from(found.alone.gpm > 0.0);
        }
    }
    (pairs, flowing)
}

#[tokio::test]
async fn every_pair_of_the_demo_town_is_told_as_one_by_one_and_never_over() {
    let folder = tempfile::tempdir().unwrap();
    let options = OpenOptions { allow_network_folder: true };
    let store = Store::open(&folder.path().join("demo.db"), &options).await.unwrap();
    let clock = Clock::fixed("2026-11-25T12:00:00Z".parse().unwrap());
    let app = AppState::new(store, clock, Ids::counted(), "http://h");
    demo::load(&app).await.unwrap();
    let town = app.store.town().await.unwrap();
    for profile in PROFILES {
        for pumper in PUMPERS {
            let (pairs, flowing) = check(&inputs(&app, &town, profile, pumper).await);
            println!("{profile}, {pumper}: {pairs} pairs, at {flowing} something arrives");
            assert!(pairs > 5000 && flowing > pairs / 2, "{profile}: {pairs} pairs, {flowing} flow");
        }
    }
}
