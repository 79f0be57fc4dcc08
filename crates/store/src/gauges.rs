//! What the operator watches: how many connections work, and how long work has waited for one.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// How often work has waited for a connection, and how long in all.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Wait {
    /// Units of work that began.
    pub count: u64,
    /// Time they waited in all.
    pub total: Duration,
}

/// How the connections are used.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Use {
    /// Connections that read now.
    pub reading: u32,
    /// Connections that write now: none or one.
    pub writing: u32,
    /// For a connection to read from.
    pub read_wait: Wait,
    /// For the connection that writes, and the write lock.
    pub write_wait: Wait,
}

#[derive(Debug, Default)]
struct Sum {
    count: AtomicU64,
    micros: AtomicU64,
}

impl Sum {
    async fn measured<T>(&self, work: impl Future<Output = T>) -> T {
        let began = Instant::now();
        let done = work.await;
        self.count.fetch_add(1, Ordering::Relaxed);
        self.micros.fetch_add(u64::try_from(began.elapsed().as_micros()).unwrap_or(u64::MAX), Ordering::Relaxed);
        done
    }

    fn told(&self) -> Wait {
        let total = Duration::from_micros(self.micros.load(Ordering::Relaxed));
        Wait { count: self.count.load(Ordering::Relaxed), total }
    }
}

/// The waits since the store was opened.
#[derive(Debug, Default)]
pub(crate) struct Waits {
    reads: Sum,
    writes: Sum,
}

impl Waits {
    pub(crate) async fn reading<T>(&self, work: impl Future<Output = T>) -> T {
        self.reads.measured(work).await
    }

    pub(crate) async fn writing<T>(&self, work: impl Future<Output = T>) -> T {
        self.writes.measured(work).await
    }

    pub(crate) fn told(&self, reading: u32, writing: u32) -> Use {
        Use { reading, writing, read_wait: self.reads.told(), write_wait: self.writes.told() }
    }
}
