//! Copies taken while many write: each is restored and served, and holds of every writer all that was acknowledged before the copy
//! was begun and nothing that was sent after it was done, without a gap.

use std::ffi::OsStr;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Duration;

use serde_json::Value;

use crate::bodies;
use crate::ground::Ground;
use crate::server::{Server, Town, assert_sound};

const WRITERS: usize = 4;

/// How many hydrants each writer was told are kept. It writes them in the order of their numbers.
type Kept = Arc<[AtomicU64; WRITERS]>;

pub(crate) async fn prove(ground: Ground) -> String {
    let copies = ground.size(5, 50);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut town = Town::at(folder.path().join("town.db"));
    let server = Arc::new(town.start());
    let kept: Kept = Arc::default();
    let stop = Arc::new(AtomicBool::new(false));
    let write = |writer| tokio::spawn(write(Arc::clone(&server), writer, Arc::clone(&kept), Arc::clone(&stop)));
    let writing: Vec<_> = (0..WRITERS).map(write).collect();
    let mut compared = 0;
    let mut during = 0;
    for n in 0..copies {
        tokio::time::sleep(Duration::from_millis(200)).await;
        let (copy, restored) = (folder.path().join(format!("{n}.copy")), folder.path().join(format!("{n}.db")));
        let before = counts(&kept);
        take(&town, &copy).await;
        let after = counts(&kept);
        during += after.iter().sum::<u64>() - before.iter().sum::<u64>();
        restore(&town, &copy, &restored);
        let mut other = town.copied_to(restored.clone());
        let there = other.start();
        for writer in 0..WRITERS {
            // One more may have been written and not yet been acknowledged when the copy was done.
            compared += check(&there, writer, before[writer], after[writer] + 1).await;
        }
        there.stop();
        assert_sound(&restored);
    }
    stop.store(true, Ordering::Relaxed);
    for writer in writing {
        writer.await.expect("a writer");
    }
    assert!(during > 0, "nothing was written while a copy was taken");
    format!(
        "{copies} copies taken while {during} writes were acknowledged, restored and served: {compared} hydrants as they must be"
    )
}

fn counts(kept: &Kept) -> [u64; WRITERS] {
    std::array::from_fn(|writer| kept[writer].load(Ordering::SeqCst))
}

async fn write(server: Arc<Server>, writer: usize, kept: Kept, stop: Arc<AtomicBool>) {
    while !stop.load(Ordering::Relaxed) {
        let number = kept[writer].load(Ordering::SeqCst);
        server.put(&format!("B{writer}-{number:06}"), &bodies::hydrant(number)).await.good();
        kept[writer].store(number + 1, Ordering::SeqCst);
    }
}

/// Takes a copy from a thread of its own: the writers go on.
async fn take(town: &Town, copy: &std::path::Path) {
    let words = [
        OsStr::new("backup"),
        OsStr::new("--database"),
        town.database.as_os_str(),
        OsStr::new("--to"),
        copy.as_os_str(),
    ];
    tokio::task::block_in_place(|| town.run(&words));
    tokio::task::yield_now().await;
}

fn restore(town: &Town, copy: &std::path::Path, to: &std::path::Path) {
    let words =
        [OsStr::new("restore"), OsStr::new("--from"), copy.as_os_str(), OsStr::new("--database"), to.as_os_str()];
    tokio::task::block_in_place(|| town.run(&words));
}

/// The hydrants of one writer in the copy: from the first on, at least and at most so many.
async fn check(server: &Server, writer: usize, least: u64, most: u64) -> u64 {
    let own = |record: &Value| record["hydrant_id"].as_str().is_some_and(|id| id.starts_with(&format!("B{writer}-")));
    let there: Vec<_> = server.all("/v1/hydrants?limit=1000").await.into_iter().filter(own).collect();
    let count = u64::try_from(there.len()).expect("a length");
    assert!((least..=most).contains(&count), "writer {writer}: {count} in the copy, not {least} to {most}");
    for (number, record) in (0..).zip(&there) {
        assert_eq!(record["hydrant_id"], format!("B{writer}-{number:06}"), "a gap");
        assert!(bodies::says(record, &bodies::hydrant(number)), "{record}");
    }
    count
}
