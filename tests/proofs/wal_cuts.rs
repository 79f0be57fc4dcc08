//! A power cut at store level: the write-ahead log is cut at any byte, as a disk would have kept it. Each copy opens, and holds
//! exactly the transactions whose last frame lies before the cut, from the first on without a gap.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use chrono::{DateTime, NaiveDate, Utc};
use longlay_hydraulics::flow_test::MeasuredFlow;
use longlay_hydraulics::quantity::{PositiveFlow, Pressure};
use longlay_records::author::Author;
use longlay_records::flow_test::FlowTest;
use longlay_records::hydrant::{Hydrant, Location, Owner, Status};
use longlay_records::id::AssetId;
use longlay_store::{Change, HydrantQuery, OpenOptions, Store};
use uuid::Uuid;

use crate::ground::Ground;
use crate::random::Random;
use crate::server::assert_sound;

/// SQLite folds the log into the file when it reaches a thousand pages: the log is kept shorter than that, so that it holds every
/// transaction.
const MOST_FRAMES: u64 = 900;
const HEADER_BYTES: u64 = 32;
const FRAME_HEADER_BYTES: u64 = 24;
/// One copy in this many is looked through by SQLite besides, page by page.
const LOOKED_THROUGH: usize = 50;

pub(crate) async fn prove(ground: Ground) -> String {
    let cuts = ground.size(1000, 10_000);
    let folder = crate::ground::memory_folder();
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
    assert!(
        ends.is_sorted_by(|a, b| a < b) && ends[0] > before,
        "the log was folded in, or a transaction left no frame"
    );
    assert_eq!(commits(&log, before), ends, "where the log says that its transactions end");

    let log = Arc::new(Log { kept, frames: log, ends });
    let drawn = log.cuts(ground.seed, cuts);
    // Two at a time: opening a database is mostly work of one core.
    let halves = drawn.chunks(drawn.len().div_ceil(2)).enumerate().map(|(half, cuts)| {
        let (copy, log, cuts) = (folder.path().join(format!("cut-{half}.db")), Arc::clone(&log), cuts.to_vec());
        tokio::spawn(async move { log.hold(&copy, &cuts).await })
    });
    for half in halves.collect::<Vec<_>>() {
        half.await.expect("each cut opens with what it must hold");
    }
    let held = |cut: &u64| log.before(*cut);
    format!(
        "{cuts} cuts of a log of {} bytes with {} transactions: each opened with exactly those before the cut, from {} to {}",
        log.frames.len(),
        log.ends.len(),
        drawn.iter().map(held).min().unwrap_or_default(),
        drawn.iter().map(held).max().unwrap_or_default()
    )
}

/// A database with its log, and where in the log each transaction ends.
struct Log {
    kept: Vec<u8>,
    frames: Vec<u8>,
    ends: Vec<u64>,
}

impl Log {
    /// Where to cut. The ends themselves are the sharpest places, so some of the cuts are made there and beside them.
    fn cuts(&self, seed: u64, cuts: u64) -> Vec<u64> {
        let mut random = Random::new(seed);
        let length = u64::try_from(self.frames.len()).expect("a length");
        let mut draw = |_| {
            if random.percent(10) {
                (*random.pick(&self.ends) + random.below(3)).saturating_sub(1).min(length)
            } else {
                random.below(length + 1)
            }
        };
        (0..cuts).map(&mut draw).collect()
    }

    /// How many transactions end before a cut.
    fn before(&self, cut: u64) -> usize {
        self.ends.iter().filter(|end| **end <= cut).count()
    }

    /// Opens a copy cut at each of these places.
    async fn hold(&self, copy: &Path, cuts: &[u64]) {
        for (i, cut) in cuts.iter().enumerate() {
            fs::write(copy, &self.kept).expect("a copy");
            let log = &self.frames[..usize::try_from(*cut).expect("a length")];
            fs::write(beside(copy, "-wal"), log).expect("a copy");
            let store = open(copy).await;
            check(&store, self.before(*cut), *cut).await;
            store.close().await;
            if i % LOOKED_THROUGH == 0 {
                assert_sound(copy);
            }
            for name in ["", "-wal", "-shm", ".lock"] {
                let _ = fs::remove_file(beside(copy, name));
            }
        }
    }
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
    let change = Change::by(Author::keyless(), DateTime::UNIX_EPOCH);
    if n % 2 == 1 {
        store.add_flow_test(&flow_test(n), &change).await.expect("a test");
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
    store.put_hydrant(&hydrant, &change).await.expect("a hydrant");
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
    let evidence = store.evidence_page(&HydrantQuery::default(), None, 10_000).await.expect("a list");
    let tests: BTreeSet<_> = evidence.iter().flat_map(|found| found.tests.iter().map(|test| test.test.id)).collect();
    let wanted: BTreeSet<_> = (1..expected).step_by(2).map(|n| flow_test(n).id).collect();
    assert_eq!(tests, wanted, "cut at {cut}");
}
