//! Keeps the state of the town at what is written: each write changes it before anyone is told that it was written.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, PoisonError, RwLock};

use sqlx::{Sqlite, Transaction};
use tokio::sync::Mutex;

use super::change::{self, Step, Touched};
use super::load::load;
use super::state::Town;
use crate::error::{StoreError, fault};
use crate::open::Store;

/// The state as it stands, once somebody asked for it. Until then writes keep nothing: a command that only writes does not pay for it.
#[derive(Debug, Default)]
pub(crate) struct Keeper {
    now: RwLock<Option<Arc<Town>>>,
    versions: AtomicU64,
    /// The version of streets and heights.
    ground: AtomicU64,
    /// Held from before a commit until its step is made, so that steps are made in the order of their commits: the connection goes to the next writer
    /// with the commit.
    turn: Mutex<()>,
}

impl Store {
    /// All that answers are worked from, as it stands now. The first call reads the database through, which takes a second for some ten thousand
    /// hydrants; from then on every write brings it up to date before it returns.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn town(&self) -> Result<Arc<Town>, StoreError> {
        match self.keeper.now() {
            Some(town) => Ok(town),
            None => self.load_town().await,
        }
    }

    /// A number for the state of the streets and heights: higher after every write of them that this store made.
    pub fn ground_version(&self) -> u64 {
        self.keeper.ground.load(Ordering::Acquire)
    }

    async fn load_town(&self) -> Result<Arc<Town>, StoreError> {
        if self.only_reads() {
            // Another process writes, and does not tell.
            return Ok(Arc::new(self.keeper.numbered(load(&mut *self.long_read().await?).await?)));
        }
        // No write is under way while these are held.
        let _writer = self.writer().await?;
        let _turn = self.keeper.turn.lock().await;
        if let Some(town) = self.keeper.now() {
            return Ok(town);
        }
        let town = Arc::new(self.keeper.numbered(load(&mut *self.long_read().await?).await?));
        self.keeper.set(Some(Arc::clone(&town)));
        Ok(town)
    }

    /// Commits a write and makes the town's step. All of it or nothing, also where the caller is gone meanwhile.
    pub(crate) async fn commit(
        &self,
        mut tx: Transaction<'static, Sqlite>,
        touched: Touched,
    ) -> Result<(), StoreError> {
        // Read before the commit: a step that cannot be read is a write that is not made.
        let step = if self.keeper.now().is_some() { change::step(&mut tx, &touched).await? } else { None };
        let keeper = Arc::clone(&self.keeper);
        let committed = tokio::spawn(async move {
            let done = keeper.commit(tx, step).await;
            // Also where nobody knows whether it came about: to look again costs little.
            if matches!(touched, Touched::Ground) {
                keeper.ground.fetch_add(1, Ordering::AcqRel);
            }
            done
        });
        committed.await.unwrap_or_else(|error| Err(StoreError::Other(error.to_string())))
    }
}

impl Keeper {
    fn now(&self) -> Option<Arc<Town>> {
        self.now.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    fn set(&self, town: Option<Arc<Town>>) {
        let before = std::mem::replace(&mut *self.now.write().unwrap_or_else(PoisonError::into_inner), town);
        // Outside of the lock: the last holder of a state takes it apart.
        drop(before);
    }

    fn numbered(&self, town: Town) -> Town {
        Town { version: self.versions.fetch_add(1, Ordering::Relaxed) + 1, ..town }
    }

    async fn commit(&self, tx: Transaction<'static, Sqlite>, step: Option<Step>) -> Result<(), StoreError> {
        let _turn = self.turn.lock().await;
        let mut doubt = Doubt { keeper: self, stands: true };
        match tx.commit().await {
            Ok(()) => {
                self.make(step);
                doubt.stands = false;
                Ok(())
            }
            Err(error) => {
                // What SQLite refuses it has not done. Of anything else nobody knows.
                doubt.stands = error.as_database_error().is_none();
                Err(fault(error))
            }
        }
    }

    fn make(&self, step: Option<Step>) {
        let (Some(step), Some(before)) = (step, self.now()) else { return };
        let mut next = self.numbered(Town::clone(&before));
        step(&mut next);
        self.set(Some(Arc::new(next)));
    }
}

/// While it stands it is not known whether the town is at what is written. Dropped so, the town is forgotten, and read anew by the next who asks.
struct Doubt<'a> {
    keeper: &'a Keeper,
    stands: bool,
}

impl Drop for Doubt<'_> {
    fn drop(&mut self) {
        if self.stands {
            self.keeper.set(None);
        }
    }
}
