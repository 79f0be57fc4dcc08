//! A power cut at store level: the write-ahead log is cut at any byte, as a disk would have kept it. Each copy opens, and holds
//! exactly the transactions whose last frame lies before the cut, from the first on without a gap.

use std::fs;
use std::path::{Path, PathBuf};

use chrono::{DateTime, NaiveDate, Utc};
use longlay_hydraulics::flow_test::MeasuredFlow;
use longlay_hydraulics::quantity::{PositiveFlow, Pressure};
use longlay_records::flow_test::FlowTest;
use longlay_records::hydrant::{Hydrant, Location, Owner, Status};
use longlay_records::id::AssetId;
use longlay_store::{HydrantQuery, OpenOptions, Store};
use uuid::Uuid;

use crate::ground::Ground;
use crate::random::Random;
use crate::server::assert_sound;

/// SQLite folds the log into the file when it reaches a thousand pages: the log is kept shorter than that, so that it holds every
/// transaction.
const MOST_FRAMES: u64 = 900;
const HEADER_BYTES: u64 = 32;
const FRAME_HEADER_BYTES: u64 = 24;
/// Copies that SQLite is asked to look through besides, page by page.
const LOOKED_THROUGH: u64 = 20;

pub(crate) async fn prove(ground: Ground) -> String {
    let cuts = ground.size(1000, 10_000);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let database = folder.path().join("town.db");
    open(&database).await.close().await;
    let store = open(&database).await;
    let before = log_bytes(&database);
    let mut ends = Vec::new();
    while log_bytes(&database) < MOST_FRAMES * 4096 {
        write(&store, ends.len()).await;
        ends.push(log_bytes(&database));
    }
    let (kept, log) = (fs::read(&database).expect("the file"), fs::read(beside(&database, "-wal")).expect("the log"));
    drop(store);
    assert!(ends.is_sorted_by(|a, b| a < b) && ends[0] > before, "the log was folded in, or a transaction left no frame");
    assert_eq!(commits(&log, before), ends, "where the log says that its transactions end");

    let mut random = Random::new(ground.seed);
    let length = u64::try_from(log.len()).expect("a length");
    let mut fewest_and_most = (usize::MAX, 0);
    for i in 0..cuts {
        // The ends themselves are the sharpest places, so some of the cuts are made there and beside them.
        let cut = if random.percent(10) {
            (*random.pick(&ends) + random.below(3)).saturating_sub(1).min(length)
        } else {
            random.below(length + 1)
        };
        let expected = ends.iter().filter(|end| **end <= cut).count();
        let copy = folder.path().join("cut.db");
        fs::write(&copy, &kept).expect("a copy");
        fs::write(beside(&copy, "-wal"), &log[..usize::try_from(cut).expect("a length")]).expect("a copy");
        let store = open(&copy).await;
        check(&store, expected, cut).await;
        store.close().await;
        if i % (cuts / LOOKED_THROUGH) == 0 {
            assert_sound(&copy);
        }
        for name in ["", "-wal", "-shm", ".lock"] {
            let _ = fs::remove_file(beside(&copy, name));
        }
        fewest_and_most = (fewest_and_most.0.min(expected), fewest_and_most.1.max(expected));
    }
    format!(
        "{cuts} cuts of a log of {length} bytes with {} transactions: each opened with exactly those before the cut, from {} to {}",
        ends.len(),
        fewest_and_most.0,
        fewest_and_most.1
    )
}

async fn open(path: &Path) -> Store {
    Store::open(path, &OpenOptions { allow_network_folder: true }).await.expect("it opens")
}

fn beside(database: &Path, ending: &str) -> PathBuf {
    let mut path = database.as_os_str().to_owned();
    path.push(ending);
    path.into()
}

fn log_bytes(database: &Path) -> u64 {
    fs::metadata(beside(database, "-wal")).map_or(0, |found| found.len())
}

/// Where transactions end behind this place, by the log's own frames: a last frame says how long the database then is.
fn commits(log: &[u8], behind: u64) -> Vec<u64> {
    let page = u64::from(u32::from_be_bytes(log[8..12].try_into().expect("four bytes")));
    let size = usize::try_from(FRAME_HEADER_BYTES + page).expect("a size");
    let frames = log[usize::try_from(HEADER_BYTES).expect("a size")..].chunks_exact(size);
    let last = frames.zip(1_u64..).filter(|(frame, _)| frame[4..8] != [0; 4]);
    let ends = last.map(|(_, nth)| HEADER_BYTES + nth * (FRAME_HEADER_BYTES + page));
    ends.filter(|end| *end > behind).collect()
}

fn id(n: usize) -> AssetId {
    AssetId::new(format!("W-{n:04}")).expect("a number")
}

/// The `n`th transaction: a hydrant, or a flow test at the hydrant before it.
async fn write(store: &Store, n: usize) {
    if n % 2 == 1 {
        store.add_flow_test(&flow_test(n)).await.expect("a test");
        return;
    }
    let hydrant = Hydrant {
        id: id(n),
        location: Location::new(-30.0, 40.0).expect("a place"),
        elevation: None,
        outlets: Vec::new(),
        body_loss: None,
        main_id: None,
        main_diameter: None,
        pressure_zone: None,
        owner: Owner::Public,
        potable: true,
        seasonal: false,
        status: Status::InService,
        description: Some(format!("transaction {n}")),
    };
    store.put_hydrant(&hydrant, DateTime::UNIX_EPOCH).await.expect("a hydrant");
}

fn flow_test(n: usize) -> FlowTest {
    let psi = |psi| Pressure::from_psi(psi).expect("a pressure");
    FlowTest {
        id: Uuid::from_u128(u128::try_from(n).expect("a number")),
        gauge_hydrant_id: id(n - 1),
        tested_on: NaiveDate::from_ymd_opt(2025, 5, 14).expect("a day"),
        static_pressure: psi(60.0),
        residual_pressure: psi(40.0),
        flow: MeasuredFlow::Metered(PositiveFlow::from_gpm(600.0).expect("a flow")),
        second_point: None,
        flow_hydrant_ids: vec![id(n - 1)],
        notes: Some(format!("transaction {n}")),
        recorded_at: DateTime::<Utc>::UNIX_EPOCH,
        voided: None,
    }
}

/// The first `expected` transactions and no other.
async fn check(store: &Store, expected: usize, cut: u64) {
    let hydrants = store.hydrants(&HydrantQuery::default(), None, 10_000).await.expect("a list");
    let found: Vec<_> = hydrants.iter().map(|hydrant| hydrant.id.to_string()).collect();
    let wanted: Vec<_> = (0..expected).step_by(2).map(|n| id(n).to_string()).collect();
    assert_eq!(found, wanted, "cut at {cut}");
    for n in (0..expected.next_multiple_of(2)).step_by(2) {
        let tests = store.flow_tests(&id(n), None, 10).await.expect("a list");
        assert_eq!(tests.len(), usize::from(n + 1 < expected), "tests at {} cut at {cut}", id(n));
    }
}
