//! Asks the service, step by step, and compares.

use std::collections::BTreeMap;

use longlay_service::app::{self, AppState};
use longlay_service::clock::{Clock, Ids};
use longlay_store::{OpenOptions, Store};

use super::asking::Asking;
use super::drawing::Step;
use super::state::Model;
use super::{NOW, PUBLIC_URL};
use crate::ground::Ground;
use crate::random::Random;

/// Steps between looks at everything.
const LOOK_AFTER: u64 = 500;

pub(crate) async fn prove(ground: Ground) -> String {
    let steps = ground.size(10_000, 1_000_000);
    let folder = crate::ground::memory_folder();
    let options = OpenOptions { allow_network_folder: true };
    let store = Store::open(&folder.path().join("town.db"), &options).await.expect("a database");
    let clock = Clock::fixed(NOW.parse().expect("a time"));
    let app = AppState::new(store.clone(), clock, Ids::counted(), PUBLIC_URL);
    let asking = Asking::of(app::router(app));
    let mut model = Model::default();
    let mut random = Random::new(ground.seed);
    let mut statuses: BTreeMap<u16, u64> = BTreeMap::new();
    for nth in 0..steps {
        let Step { request, expected, learning } = model.step(&mut random);
        let reply = asking.send(&request).await;
        if let Err(fault) = expected.met_by(&reply) {
            panic!("step {nth} from seed {}: {fault}\nasked {request:?}\nanswered {reply:?}", ground.seed);
        }
        *statuses.entry(reply.status).or_default() += 1;
        model.learn(learning, &reply);
        if nth % LOOK_AFTER == 0 || nth + 1 == steps {
            model.look_at_everything(&asking).await;
        }
    }
    store.close().await;
    let refusals = [304, 400, 404, 409, 412, 415, 422, 428];
    let missing: Vec<_> = refusals.iter().filter(|status| !statuses.contains_key(status)).collect();
    assert!(missing.is_empty(), "the drawing never came to {missing:?}");
    let told: Vec<_> = statuses.iter().map(|(status, count)| format!("{status}: {count}")).collect();
    format!("{steps} steps as the model says ({}), {} replays the same", told.join(", "), model.replays)
}
