//! The disk fills while the service runs: writes are refused with `storage-full` and change nothing, reads go on, the service stays
//! ready to read and says so, and once there is room again writes go on without a restart.

use std::fs::File;
use std::io::Write;

use serde_json::{Value, json};

use crate::bodies;
use crate::ground::Ground;
use crate::mount::Mount;
use crate::server::{Server, Town, assert_sound};

const REFUSALS: u64 = 20;
/// More than the room under which the service calls its disk full.
const ROOM: &str = "48m";

pub(crate) async fn prove(ground: Ground) -> String {
    let rounds = ground.size(3, 30);
    let disk = match Mount::of(ROOM) {
        Ok(disk) => disk,
        Err(reason) => return format!("SKIPPED: no small disk can be mounted here ({reason})"),
    };
    let mut town = Town::at(disk.file("town.db"));
    let server = town.start();
    let mut kept = 0;
    let mut refused = 0;
    for round in 0..rounds {
        let ballast = disk.file("ballast");
        fill(&ballast);
        kept += until_refused(&server, round, kept).await;
        for n in 0..REFUSALS {
            let reply = server.put(&format!("F-{:06}", kept + n), &large(kept + n)).await;
            assert_eq!((reply.status, reply.slug().as_str()), (507, "storage-full"), "{reply:?}");
            refused += 1;
            assert_eq!(server.get("/health/live").await.status, 200);
            assert_eq!(readiness(&server).await, ("read_only".to_owned(), 0), "no balancer may take it away");
            let listed = server.get("/v1/hydrants?limit=1").await;
            assert_eq!(listed.status, 200, "reading stopped: {listed:?}");
        }
        std::fs::remove_file(&ballast).expect("room is made");
        assert_eq!(readiness(&server).await, ("ok".to_owned(), 1));
        for _ in 0..20 {
            server.put(&format!("F-{kept:06}"), &large(kept)).await.good();
            kept += 1;
        }
    }
    let there = server.all("/v1/hydrants?limit=1000").await;
    assert_eq!(u64::try_from(there.len()).expect("a length"), kept, "hydrants acknowledged and no others");
    for (n, record) in (0..).zip(&there) {
        assert!(bodies::says(record, &large(n)), "{record}");
    }
    server.stop();
    assert_sound(&town.database);
    format!(
        "{rounds} times full and ready to read, {refused} writes refused as storage-full, {kept} acknowledged all there, writing again each time"
    )
}

/// How ready it says that it is, and the metric of it.
async fn readiness(server: &Server) -> (String, u8) {
    let ready = server.get("/health/ready").await.good().json();
    let metrics = server.get("/metrics").await.good().bytes;
    let metrics = String::from_utf8_lossy(&metrics);
    let writable = metrics.lines().find_map(|line| line.strip_prefix("longlay_store_writable "));
    let full = ready["detail"].as_str().is_some_and(|detail| detail.contains("the disk is full"));
    assert_eq!(full, ready["status"] == "read_only", "{ready}");
    (ready["status"].as_str().expect("a status").to_owned(), writable.expect("a metric").parse().expect("a number"))
}

/// A file that takes all the room there is.
fn fill(path: &std::path::Path) {
    let mut file = File::create(path).expect("a file");
    let mut piece = 64 * 1024;
    while piece > 0 {
        if file.write_all(&vec![b'x'; piece]).is_err() {
            piece /= 4;
        }
    }
}

/// Writes until the first refusal: how many were acknowledged.
async fn until_refused(server: &Server, round: u64, from: u64) -> u64 {
    for n in 0..10_000 {
        let number = from + n;
        let reply = server.put(&format!("F-{number:06}"), &large(number)).await;
        if reply.status == 507 {
            return n;
        }
        assert_eq!(reply.status, 201, "round {round}: {reply:?}");
    }
    panic!("the disk never filled")
}

fn large(number: u64) -> Value {
    let mut body = bodies::hydrant(number);
    body["description"] = json!(format!("{number} {}", "x".repeat(1900)));
    body
}
