//! SIGKILL while many write, single records and whole files. Afterwards everything acknowledged is there, whatever was not is wholly
//! there or wholly absent, and a request sent again under its `Idempotency-Key` gives the answer that the first one had.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use tokio::task::JoinHandle;

use crate::ground::Ground;
use crate::kill_imports::{self, Importer};
use crate::kill_writes::{Counts, Writer};
use crate::random::Random;
use crate::server::{Server, Town, assert_sound};

const WRITERS: u64 = 4;
const IMPORTERS: u64 = 2;
/// Cycles that write to the same hydrants; then come new ones, so that looking at all of them does not grow without end.
const CYCLES_OF_AN_ERA: u64 = 25;
/// Acknowledged writes of all writers before a kill, and how long after the last of them it comes: by writes and not by time alone,
/// so that a busy machine tries as much as an idle one.
const MOST_WRITES: u64 = 40;
const LONGEST_WAIT_MS: u64 = 30;

pub(crate) async fn prove(ground: Ground) -> String {
    let cycles = ground.size(100, 1000);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut town = Town::at(folder.path().join("town.db"));
    town.start().stop();
    let mut random = Random::new(ground.seed);
    let mut crowd = Crowd::new(&mut random);
    for cycle in 0..cycles {
        let server = Arc::new(town.start());
        let era = cycle / CYCLES_OF_AN_ERA;
        let done = Arc::new(AtomicU64::new(0));
        let writing = crowd.set_to_work(&server, cycle, era, &done);
        reached(&done, 1 + random.below(MOST_WRITES)).await;
        tokio::time::sleep(Duration::from_micros(random.below(LONGEST_WAIT_MS * 1000))).await;
        crate::server::signal(server.process(), "KILL");
        crowd = writing.ended().await;
        drop(server);
        let server = town.start();
        crowd.settle(&server, era).await;
        server.stop();
    }
    let server = town.start();
    let counted = crowd.end(&server, cycles).await;
    server.stop();
    assert_sound(&town.database);
    kill_imports::assert_audited(&crowd.importers, &town.database);
    format!("{cycles} kills, {counted}")
}

/// All who write.
struct Crowd {
    writers: Vec<Writer>,
    importers: Vec<Importer>,
    counts: Counts,
}

/// All who write, at work until the service dies.
struct Working {
    writers: Vec<JoinHandle<Writer>>,
    importers: Vec<JoinHandle<Importer>>,
    counts: Counts,
}

impl Crowd {
    fn new(random: &mut Random) -> Self {
        Self {
            writers: (0..WRITERS).map(|number| Writer::new(number, random.next())).collect(),
            importers: (0..IMPORTERS).map(|number| Importer::new(number, random.next())).collect(),
            counts: Counts::default(),
        }
    }

    fn set_to_work(self, server: &Arc<Server>, cycle: u64, era: u64, done: &Arc<AtomicU64>) -> Working {
        let (server, done) = (|| Arc::clone(server), || Arc::clone(done));
        Working {
            writers: self.writers.into_iter().map(|one| tokio::spawn(one.write(server(), era, done()))).collect(),
            importers: self
                .importers
                .into_iter()
                .map(|one| tokio::spawn(one.write(server(), cycle, era, done())))
                .collect(),
            counts: self.counts,
        }
    }

    async fn settle(&mut self, server: &Server, era: u64) {
        for writer in &mut self.writers {
            writer.settle(server, &mut self.counts).await;
            writer.check(server, &format!("K{era}-")).await;
        }
        for importer in &mut self.importers {
            importer.settle(server).await;
            importer.check(server, true).await;
        }
    }

    /// Looks at everything once more, and tells what was counted.
    async fn end(&self, server: &Server, cycles: u64) -> String {
        for writer in &self.writers {
            writer.check(server, "K").await;
        }
        let files = kill_imports::end(&self.importers, server).await;
        let acknowledged: u64 = self.writers.iter().map(|writer| writer.acknowledged).sum();
        let Counts { under_way_kept, under_way_absent, replayed } = self.counts;
        assert!(acknowledged > cycles && replayed > 0, "hardly anything was tried: {acknowledged} {:?}", self.counts);
        format!(
            "{acknowledged} acknowledged writes all there, {under_way_kept} under way wholly there, {under_way_absent} wholly absent, \
             {replayed} replays the same; {files}"
        )
    }
}

impl Working {
    async fn ended(self) -> Crowd {
        let mut crowd = Crowd { writers: Vec::new(), importers: Vec::new(), counts: self.counts };
        for writer in self.writers {
            crowd.writers.push(writer.await.expect("a writer"));
        }
        for importer in self.importers {
            crowd.importers.push(importer.await.expect("an importer"));
        }
        crowd
    }
}

/// Waits for this many writes.
async fn reached(done: &AtomicU64, writes: u64) {
    while done.load(Ordering::Relaxed) < writes {
        tokio::time::sleep(Duration::from_millis(1)).await;
    }
}
