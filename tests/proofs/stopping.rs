//! SIGTERM while many write. Whatever the service had in hand is answered, nothing acknowledged is lost, and it ends well inside
//! its deadline. What was only on its way may go unanswered, and is then wholly there or wholly absent.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use serde_json::Value;

use crate::bodies;
use crate::ground::Ground;
use crate::random::Random;
use crate::server::{Server, Town, assert_sound};
use crate::wire::Wire;

const WRITERS: u64 = 8;
/// Requests that the service has in hand, with their bodies still to come, when it is told to stop.
const IN_HAND: u64 = 8;
/// What the service gives requests under way, and a little for closing its files.
const DEADLINE: Duration = Duration::from_secs(11);

/// What one writer saw of its own hydrant.
#[derive(Debug, Default)]
struct Seen {
    acknowledged: Vec<Value>,
    unanswered: Option<Value>,
    /// Whether the last byte of the unanswered one was on its way before the signal was.
    sent_before: bool,
    refused: u64,
}

#[derive(Debug, Default)]
struct Counts {
    acknowledged: u64,
    in_hand: u64,
    refused: u64,
    unanswered: u64,
    sent_before: u64,
    longest: Duration,
}

pub(crate) async fn prove(ground: Ground) -> String {
    let stops = ground.size(10, 100);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut town = Town::at(folder.path().join("town.db"));
    let mut random = Random::new(ground.seed);
    let mut counts = Counts::default();
    for stop in 0..stops {
        let (seen, begun) = stop_once(&mut town, stop, &mut random, &mut counts).await;
        check(&mut town, &seen, &begun, &mut counts).await;
    }
    assert_sound(&town.database);
    assert!(counts.acknowledged > stops, "hardly anything was tried: {counts:?}");
    format!(
        "{stops} stops, {} requests in hand all answered, {} acknowledged writes all there, {} refused as stopping, {} unanswered \
         ({} of them sent before the signal), longest stop {:?}",
        counts.in_hand, counts.acknowledged, counts.refused, counts.unanswered, counts.sent_before, counts.longest
    )
}

/// What the service had in hand and answered, by the id of its hydrant.
type Begun = BTreeMap<String, Value>;

async fn stop_once(
    town: &mut Town,
    stop: u64,
    random: &mut Random,
    counts: &mut Counts,
) -> (BTreeMap<String, Seen>, Begun) {
    let mut server = Arc::new(town.start());
    let told = Arc::new(AtomicBool::new(false));
    let writing: Vec<_> = (0..WRITERS)
        .map(|n| {
            let id = format!("S{stop}-{n}");
            let writer = write(Arc::clone(&server), id.clone(), Arc::clone(&told), random.next());
            (id, tokio::spawn(writer))
        })
        .collect();
    let mut in_hand = Vec::new();
    for n in 0..IN_HAND {
        let mut wire = Wire::to(&server).await.expect("a connection");
        let (id, body) = (format!("B{stop}-{n}"), bodies::hydrant(random.next()));
        wire.begin(&id, &body).await;
        in_hand.push((wire, id, body));
    }
    tokio::time::sleep(Duration::from_millis(20 + random.below(200))).await;
    told.store(true, Ordering::SeqCst);
    server.tell_to_stop();
    tokio::time::sleep(Duration::from_millis(random.below(300))).await;
    let mut begun = Begun::new();
    for (mut wire, id, body) in in_hand {
        wire.finish(&body).await.expect("the body is taken");
        let status = wire.status().await.expect("what was in hand is answered");
        assert_eq!(status, 201, "{id}");
        counts.in_hand += 1;
        begun.insert(id, body);
    }
    let mut seen = BTreeMap::new();
    for (id, writer) in writing {
        seen.insert(id, writer.await.expect("a writer"));
    }
    let server = Arc::get_mut(&mut server).expect("no writer is left");
    let (status, took) = server.ended(DEADLINE);
    assert!(status.success(), "{status}: {}", town.said());
    counts.longest = counts.longest.max(took);
    (seen, begun)
}

/// Writes over one connection until that ends.
async fn write(server: Arc<Server>, id: String, told: Arc<AtomicBool>, seed: u64) -> Seen {
    let mut random = Random::new(seed);
    let mut seen = Seen::default();
    let mut wire = Wire::to(&server).await.expect("a connection");
    loop {
        let body = bodies::hydrant(random.next());
        let sent = wire.send(&id, &body, seen.acknowledged.is_empty()).await;
        let before = sent.is_ok() && !told.load(Ordering::SeqCst);
        match wire.status().await {
            Ok(200 | 201) => seen.acknowledged.push(body),
            Ok(503) => seen.refused += 1,
            Ok(status) => panic!("{id} was answered {status}"),
            Err(_) => {
                assert!(told.load(Ordering::SeqCst), "{id}: cut off before anybody stopped the service");
                seen.unanswered = Some(body);
                seen.sent_before = before;
                return seen;
            }
        }
    }
}

async fn check(town: &mut Town, seen: &BTreeMap<String, Seen>, begun: &Begun, counts: &mut Counts) {
    let server = town.start();
    for (id, body) in begun {
        let record = server.get(&format!("/v1/hydrants/{id}")).await.good().json();
        assert!(bodies::says(&record, body), "{id} was answered and is {record}");
    }
    for (id, seen) in seen {
        let reply = server.get(&format!("/v1/hydrants/{id}")).await;
        let record = reply.json();
        let last = seen.acknowledged.last();
        let stands = last.map_or(reply.status == 404, |last| bodies::says(&record, last));
        let came = seen.unanswered.as_ref().is_some_and(|body| bodies::says(&record, body));
        assert!(stands || came, "{id} is {record}, acknowledged was {last:?}");
        counts.acknowledged += u64::try_from(seen.acknowledged.len()).expect("a length");
        counts.refused += seen.refused;
        counts.unanswered += u64::from(seen.unanswered.is_some());
        counts.sent_before += u64::from(seen.sent_before);
    }
    server.stop();
}
