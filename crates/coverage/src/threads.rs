//! Work in chunks over threads. What comes out is in the order of the items, whoever did which.

use std::ops::Range;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU8, AtomicUsize, Ordering};
use std::thread;

use thiserror::Error;

/// What a run is at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Phase {
    /// Not begun, or building the streets.
    Streets,
    /// Putting places and hydrants on their streets.
    Snap,
    /// Finding which hydrants reach which places.
    Reach,
    /// Working out what arrives.
    Judge,
    /// Looking for what would close gaps: its items are the changes that were asked for.
    Remedies,
}

impl Phase {
    /// Its stable code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Streets => "streets",
            Self::Snap => "snap",
            Self::Reach => "reach",
            Self::Judge => "judge",
            Self::Remedies => "remedies",
        }
    }
}

/// How far a run has come, to be looked at and called off from another thread.
#[derive(Debug, Default)]
pub struct Progress {
    phase: AtomicU8,
    done: AtomicUsize,
    total: AtomicUsize,
    cancelled: Arc<AtomicBool>,
}

impl Progress {
    /// What it is at, how many items of that are done, and of how many.
    pub fn look(&self) -> (Phase, usize, usize) {
        let phase = match self.phase.load(Ordering::Relaxed) {
            0 => Phase::Streets,
            1 => Phase::Snap,
            2 => Phase::Reach,
            3 => Phase::Judge,
            _ => Phase::Remedies,
        };
        let total = self.total.load(Ordering::Relaxed);
        // What goes before and after a phase is done in chunks too.
        (phase, self.done.load(Ordering::Relaxed).min(total), total)
    }

    /// Calls the run off: it ends soon, with [`Cancelled`].
    pub fn cancel(&self) {
        self.cancelled.store(true, Ordering::Relaxed);
    }

    /// Whether it was called off.
    pub fn is_cancelled(&self) -> bool {
        self.cancelled.load(Ordering::Relaxed)
    }

    /// One for work within a phase: nobody looks at it, and it is called off with this one.
    #[must_use]
    pub fn within(&self) -> Self {
        Self { cancelled: Arc::clone(&self.cancelled), ..Self::default() }
    }

    pub(crate) fn one_more(&self) {
        self.done.fetch_add(1, Ordering::Relaxed);
    }

    pub(crate) fn begin(&self, phase: Phase, total: usize) {
        self.done.store(0, Ordering::Relaxed);
        self.total.store(total, Ordering::Relaxed);
        self.phase.store(phase as u8, Ordering::Relaxed);
    }
}

/// The run was called off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("called off")]
pub struct Cancelled;

/// Does `work` on the items in chunks of `chunk`, on at most so many threads, each with a desk of its own.
///
/// # Errors
/// Called off.
pub(crate) fn in_chunks<D, T: Send>(
    items: usize,
    chunk: usize,
    threads: usize,
    progress: &Progress,
    desk: impl Fn() -> D + Sync,
    work: impl Fn(&mut D, Range<usize>) -> T + Sync,
) -> Result<Vec<T>, Cancelled> {
    let chunks = items.div_ceil(chunk.max(1));
    let next = AtomicUsize::new(0);
    let one = || {
        let mut desk = desk();
        let mut done = Vec::new();
        while !progress.is_cancelled() {
            let i = next.fetch_add(1, Ordering::Relaxed);
            if i >= chunks {
                break;
            }
            let range = i * chunk..((i + 1) * chunk).min(items);
            let count = range.len();
            done.push((i, work(&mut desk, range)));
            progress.done.fetch_add(count, Ordering::Relaxed);
        }
        done
    };
    let threads = threads.clamp(1, chunks.max(1));
    let mut done = thread::scope(|scope| {
        let others: Vec<_> = (1..threads).map(|_| scope.spawn(one)).collect();
        let mut done = one();
        for other in others {
            match other.join() {
                Ok(more) => done.extend(more),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        done
    });
    if progress.is_cancelled() {
        return Err(Cancelled);
    }
    done.sort_unstable_by_key(|(i, _)| *i);
    Ok(done.into_iter().map(|(_, done)| done).collect())
}

/// Does one of two things on a thread of its own where they are much work.
pub(crate) fn both<A: Send, B>(much: bool, a: impl FnOnce() -> A + Send, b: impl FnOnce() -> B) -> (A, B) {
    if !much {
        return (a(), b());
    }
    thread::scope(|scope| {
        let a = scope.spawn(a);
        let b = b();
        match a.join() {
            Ok(a) => (a, b),
            Err(panic) => std::panic::resume_unwind(panic),
        }
    })
}
