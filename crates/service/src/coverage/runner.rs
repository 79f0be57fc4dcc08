//! Runs worked off one after another, beside the requests: each may be looked at and called off while it waits and while it runs.

use std::collections::BTreeMap;
use std::num::NonZeroUsize;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;

use longlay_coverage::threads::Progress;
use longlay_store::{CameTo, OUTCOMES_AT_ONCE, StoreError};
use tokio::sync::{Notify, Semaphore, watch};
use uuid::Uuid;

use crate::app::AppState;
use crate::coverage::inputs::Gathered;
use crate::coverage::settings::CoverageSettings;
use crate::coverage::template::template;
use crate::coverage::work::{Undone, Worked, worked};
use crate::faults::Faults;
use crate::problem::Problem;

/// The runs that have not ended.
#[derive(Debug, Clone)]
pub(crate) struct Runner {
    jobs: Arc<Mutex<BTreeMap<Uuid, Job>>>,
    turn: Arc<Semaphore>,
    threads: usize,
}

/// A run that has not ended.
#[derive(Debug, Clone)]
struct Job {
    progress: Arc<Progress>,
    /// Told when it is called off: it may wait for its turn yet.
    called_off: Arc<Notify>,
    /// Outcomes kept, and of how many.
    kept: watch::Receiver<(usize, usize)>,
}

/// How far a run has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Come {
    /// What it is at.
    pub(crate) phase: &'static str,
    /// Items of that done.
    pub(crate) done: usize,
    /// Of how many.
    pub(crate) total: usize,
}

impl Default for Runner {
    fn default() -> Self {
        // Half of the machine: the other half answers dispatch.
        let threads = thread::available_parallelism().map_or(1, NonZeroUsize::get).div_ceil(2);
        Self { jobs: Arc::default(), turn: Arc::new(Semaphore::new(1)), threads }
    }
}

impl Runner {
    fn jobs(&self) -> std::sync::MutexGuard<'_, BTreeMap<Uuid, Job>> {
        self.jobs.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Works a recorded run off when its turn comes.
    pub(crate) fn start(&self, app: &AppState, id: Uuid, settings: CoverageSettings) {
        let progress = Arc::<Progress>::default();
        let (keeping, kept) = watch::channel((0, 0));
        let called_off = Arc::<Notify>::default();
        self.jobs().insert(id, Job { progress: Arc::clone(&progress), called_off: Arc::clone(&called_off), kept });
        let (runner, app) = (self.clone(), app.clone());
        tokio::spawn(async move {
            let turn = tokio::select! {
                turn = runner.turn.acquire() => turn.ok(),
                // Its end is recorded at once, and the run before it goes on.
                () = called_off.notified() => None,
            };
            let done =
                Task { app: &app, id, progress: &progress, threads: runner.threads, keeping }.done(settings).await;
            if let Err(error) = done {
                tracing::error!(%id, %error, "a coverage run could not be kept");
            }
            drop(turn);
            runner.jobs().remove(&id);
        });
    }

    /// How far a run has come; none where it has ended.
    pub(crate) fn come(&self, id: Uuid) -> Option<Come> {
        let jobs = self.jobs();
        let job = jobs.get(&id)?;
        // What is worked out is kept after it.
        let (kept, of) = *job.kept.borrow();
        if kept > 0 {
            return Some(Come { phase: "keep", done: kept, total: of });
        }
        let (phase, done, total) = job.progress.look();
        Some(Come { phase: phase.code(), done, total })
    }

    /// Calls a run off, and waits for its end.
    pub(crate) async fn call_off(&self, id: Uuid) {
        let job = self.jobs().get(&id).cloned();
        if let Some(mut job) = job {
            job.progress.cancel();
            job.called_off.notify_one();
            // The sender goes with the task.
            while job.kept.changed().await.is_ok() {}
        }
    }

    /// Calls every run off, without waiting.
    pub(crate) fn stop(&self) {
        for job in self.jobs().values() {
            job.progress.cancel();
            job.called_off.notify_one();
        }
    }
}

/// One run's work.
struct Task<'a> {
    app: &'a AppState,
    id: Uuid,
    progress: &'a Arc<Progress>,
    threads: usize,
    keeping: watch::Sender<(usize, usize)>,
}

/// Why a run ended before its end.
enum Ended {
    Undone(Undone),
    Problem(Problem),
    Store(StoreError),
    Broken,
}

impl Task<'_> {
    async fn done(&self, settings: CoverageSettings) -> Result<(), StoreError> {
        let (store, clock) = (&self.app.store, &self.app.clock);
        let failure = match self.worked(settings).await {
            Ok(()) => return Ok(()),
            Err(Ended::Undone(Undone::Cancelled)) => None,
            Err(Ended::Undone(undone)) => Some(undone.to_string()),
            Err(Ended::Problem(problem)) => Some(problem.told()),
            Err(Ended::Store(error)) => Some(error.to_string()),
            Err(Ended::Broken) => Some("it broke off: the log says why".to_owned()),
        };
        store.break_off_coverage_run(self.id, clock.now(), failure.as_deref()).await
    }

    async fn worked(&self, settings: CoverageSettings) -> Result<(), Ended> {
        let store = &self.app.store;
        self.go_on()?;
        store.begin_coverage_run(self.id, self.app.clock.now()).await?;
        let today = self.app.clock.today();
        let town = store.town().await?;
        let inputs = town.lay_inputs(&settings.refs(), today)?;
        let (lay, pumper) = (&settings.lay_profile_id, settings.boost_pumper_id.as_deref());
        let lay = template(lay, pumper, &inputs, Faults::of_body()).map_err(Ended::Problem)?;
        let gathered = Gathered::read(store, town, settings, lay, today).await?;
        let (progress, threads) = (Arc::clone(self.progress), self.threads);
        let worked = tokio::task::spawn_blocking(move || worked(gathered, threads, &progress));
        let worked = worked.await.map_err(|_| Ended::Broken)?.map_err(Ended::Undone)?;
        let kept = self.keep(&worked).await;
        // A million points are taken apart one by one: not on a thread that answers dispatch.
        tokio::task::spawn_blocking(move || drop(worked));
        kept
    }

    async fn keep(&self, worked: &Worked) -> Result<(), Ended> {
        let (store, inputs) = (&self.app.store, &worked.inputs);
        let mut kept = 0;
        for (points, outcomes) in inputs.points.chunks(OUTCOMES_AT_ONCE).zip(worked.outcomes.chunks(OUTCOMES_AT_ONCE)) {
            self.go_on()?;
            let rows: Vec<_> =
                points.iter().zip(outcomes).map(|(point, outcome)| inputs.point_outcome(point, outcome)).collect();
            store.keep_coverage_outcomes(self.id, &rows).await?;
            kept += rows.len();
            self.keeping.send_replace((kept, worked.outcomes.len()));
        }
        let json = |text: Result<String, serde_json::Error>| text.map_err(|error| StoreError::Other(error.to_string()));
        let came_to = CameTo {
            fingerprint: json(serde_json::to_string(&inputs.fingerprint))?,
            summary: json(serde_json::to_string(&worked.summary))?,
            remedies: worked.remedies.as_ref().map(serde_json::to_string).map(json).transpose()?,
        };
        Ok(store.finish_coverage_run(self.id, self.app.clock.now(), &came_to).await?)
    }

    fn go_on(&self) -> Result<(), Ended> {
        if self.progress.is_cancelled() { Err(Ended::Undone(Undone::Cancelled)) } else { Ok(()) }
    }
}

impl From<StoreError> for Ended {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}
