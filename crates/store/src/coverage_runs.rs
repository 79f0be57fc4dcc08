//! Coverage runs: asked for, worked off one after another, kept with what they were worked from until somebody deletes them.

use chrono::{DateTime, Utc};
use sqlx::SqliteConnection;
use uuid::Uuid;

use crate::audit::Action;
use crate::change::Change;
use crate::error::{RecordKind, StoreError, fault};
use crate::open::Store;
use crate::references::note;
use crate::replay::{self, Recorded};
use crate::rows::{Row, time_text};

/// Most runs that are kept: a run of a large town is some hundred megabytes.
pub const MOST_COVERAGE_RUNS: u32 = 20;

/// How a run stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RunState {
    /// Its turn has not come.
    Queued,
    /// It is being worked off.
    Running,
    /// It came to its end, and its outcomes are all there.
    Done,
    /// It was called off. Nothing of it is kept.
    Cancelled,
    /// It could not be worked off, and why. Nothing of it is kept.
    Failed(String),
}

impl RunState {
    /// Whether nothing more comes of it.
    pub const fn is_ended(&self) -> bool {
        matches!(self, Self::Done | Self::Cancelled | Self::Failed(_))
    }
}

/// A coverage run. What it was asked, worked from and came to is JSON, of which the store knows no more than that it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CoverageRun {
    /// Its id.
    pub id: Uuid,
    /// When it was asked for.
    pub requested_at: DateTime<Utc>,
    /// Who asked.
    pub author: String,
    /// What was asked.
    pub settings: String,
    /// How it stands.
    pub state: RunState,
    /// When its turn came.
    pub started_at: Option<DateTime<Utc>>,
    /// When it ended.
    pub ended_at: Option<DateTime<Utc>>,
    /// What it was worked from.
    pub fingerprint: Option<String>,
    /// What it came to.
    pub summary: Option<String>,
}

/// What a run came to, beside its outcomes. JSON likewise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CameTo {
    /// What it was worked from.
    pub fingerprint: String,
    /// What it came to.
    pub summary: String,
    /// What would close gaps; none where that was not asked.
    pub remedies: Option<String>,
}

/// What came of asking for a run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RunAdded {
    /// It waits for its turn, or did before.
    Recorded(Recorded),
    /// As many as are kept are there already.
    TooMany,
}

/// What came of deleting a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RunDeleted {
    /// It is gone, with its outcomes.
    Deleted,
    /// There is none with that id.
    NotFound,
}

impl Store {
    /// Asks for a run.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn add_coverage_run(&self, run: &CoverageRun, change: &Change) -> Result<RunAdded, StoreError> {
        let mut tx = self.write().await?;
        if let Some(first) = replay::before(&mut tx, change).await? {
            return Ok(RunAdded::Recorded(Recorded::Before(first)));
        }
        let kept = sqlx::query_scalar!(r#"SELECT COUNT(*) AS "count!: u32" FROM coverage_runs"#);
        if kept.fetch_one(&mut *tx).await.map_err(fault)? >= MOST_COVERAGE_RUNS {
            return Ok(RunAdded::TooMany);
        }
        let (id, at) = (run.id.to_string(), time_text(run.requested_at));
        sqlx::query!(
            "INSERT INTO coverage_runs (id, requested_at, author, settings, state) VALUES (?1, ?2, ?3, ?4, 'queued')",
            id,
            at,
            run.author,
            run.settings
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        note(&mut tx, change, Action::Create, RecordKind::CoverageRun, &id).await?;
        replay::keep(&mut tx, change).await?;
        tx.commit().await.map_err(fault)?;
        Ok(RunAdded::Recorded(Recorded::Now))
    }

    /// A run's turn has come.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn begin_coverage_run(&self, id: Uuid, at: DateTime<Utc>) -> Result<(), StoreError> {
        let mut tx = self.write().await?;
        let (id, at) = (id.to_string(), time_text(at));
        sqlx::query!(
            "UPDATE coverage_runs SET state = 'running', started_at = ?2 WHERE id = ?1 AND state = 'queued'",
            id,
            at
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        tx.commit().await.map_err(fault)
    }

    /// A run came to its end: its outcomes are kept already.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn finish_coverage_run(&self, id: Uuid, at: DateTime<Utc>, came_to: &CameTo) -> Result<(), StoreError> {
        let mut tx = self.write().await?;
        let (id, at) = (id.to_string(), time_text(at));
        sqlx::query!(
            "UPDATE coverage_runs SET state = 'done', ended_at = ?2, fingerprint = ?3, summary = ?4, remedies = ?5
             WHERE id = ?1 AND ended_at IS NULL",
            id,
            at,
            came_to.fingerprint,
            came_to.summary,
            came_to.remedies
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        tx.commit().await.map_err(fault)
    }

    /// A run ended before it came to anything: called off, or with a failure. What was kept of it is cleared away.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn break_off_coverage_run(
        &self,
        id: Uuid,
        at: DateTime<Utc>,
        failure: Option<&str>,
    ) -> Result<(), StoreError> {
        let id = id.to_string();
        self.clear_outcomes(&id).await?;
        let mut tx = self.write().await?;
        end(&mut tx, &id, at, failure).await?;
        tx.commit().await.map_err(fault)
    }

    /// Ends the runs that a service left when it stopped, and clears away what was kept of them. For a start, before anything else runs.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn end_abandoned_coverage_runs(&self, at: DateTime<Utc>) -> Result<(), StoreError> {
        let mut tx = self.read().await?;
        let left = sqlx::query_scalar!("SELECT id FROM coverage_runs WHERE ended_at IS NULL")
            .fetch_all(&mut *tx)
            .await
            .map_err(fault)?;
        drop(tx);
        for id in left {
            let id = Row::of("coverage_runs", &id).uuid(&id)?;
            self.break_off_coverage_run(id, at, Some("the service stopped before the run came to its end")).await?;
        }
        Ok(())
    }

    /// One run.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn coverage_run(&self, id: Uuid) -> Result<Option<CoverageRun>, StoreError> {
        let mut tx = self.read().await?;
        let id = id.to_string();
        let row = sqlx::query_as!(
            RunRow,
            "SELECT id, requested_at, author, settings, state, started_at, ended_at, failure, fingerprint, summary
             FROM coverage_runs WHERE id = ?1",
            id
        );
        row.fetch_optional(&mut *tx).await.map_err(fault)?.map(RunRow::run).transpose()
    }

    /// What would close the gaps that a run found; none where it was not asked, or the run did not come to its end.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn coverage_remedies(&self, id: Uuid) -> Result<Option<String>, StoreError> {
        let mut tx = self.read().await?;
        let id = id.to_string();
        let remedies = sqlx::query_scalar!("SELECT remedies FROM coverage_runs WHERE id = ?1", id);
        Ok(remedies.fetch_optional(&mut *tx).await.map_err(fault)?.flatten())
    }

    /// Runs, the newest first, from behind `before`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn coverage_runs(&self, before: Option<Uuid>, limit: u32) -> Result<Vec<CoverageRun>, StoreError> {
        let mut tx = self.read().await?;
        let before = before.map_or_else(|| "~".to_owned(), |id| id.to_string());
        let rows = sqlx::query_as!(
            RunRow,
            "SELECT id, requested_at, author, settings, state, started_at, ended_at, failure, fingerprint, summary
             FROM coverage_runs WHERE id < ?1 ORDER BY id DESC LIMIT ?2",
            before,
            limit
        );
        rows.fetch_all(&mut *tx).await.map_err(fault)?.into_iter().map(RunRow::run).collect()
    }

    /// Deletes a run and its outcomes. One that is being worked off is called off first by whoever works it.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn delete_coverage_run(&self, id: Uuid, change: &Change) -> Result<RunDeleted, StoreError> {
        let (id, at) = (id.to_string(), time_text(change.at));
        let mut tx = self.write().await?;
        // From here on it is no longer a run that came to its end, however much of it is cleared away when something fails.
        let found = sqlx::query!(
            "UPDATE coverage_runs SET state = 'cancelled', ended_at = COALESCE(ended_at, ?2), failure = NULL, summary = NULL, remedies = NULL WHERE id = ?1",
            id,
            at
        );
        if found.execute(&mut *tx).await.map_err(fault)?.rows_affected() == 0 {
            return Ok(RunDeleted::NotFound);
        }
        note(&mut tx, change, Action::Retire, RecordKind::CoverageRun, &id).await?;
        tx.commit().await.map_err(fault)?;
        self.clear_outcomes(&id).await?;
        let mut tx = self.write().await?;
        sqlx::query!("DELETE FROM coverage_runs WHERE id = ?1", id).execute(&mut *tx).await.map_err(fault)?;
        tx.commit().await.map_err(fault)?;
        Ok(RunDeleted::Deleted)
    }
}

async fn end(
    conn: &mut SqliteConnection,
    id: &str,
    at: DateTime<Utc>,
    failure: Option<&str>,
) -> Result<(), StoreError> {
    let (at, state) = (time_text(at), if failure.is_some() { "failed" } else { "cancelled" });
    sqlx::query!(
        "UPDATE coverage_runs SET state = ?2, ended_at = ?3, failure = ?4 WHERE id = ?1 AND ended_at IS NULL",
        id,
        state,
        at,
        failure
    )
    .execute(conn)
    .await
    .map_err(fault)?;
    Ok(())
}

struct RunRow {
    id: String,
    requested_at: String,
    author: String,
    settings: String,
    state: String,
    started_at: Option<String>,
    ended_at: Option<String>,
    failure: Option<String>,
    fingerprint: Option<String>,
    summary: Option<String>,
}

impl RunRow {
    fn run(self) -> Result<CoverageRun, StoreError> {
        let row = Row::of("coverage_runs", &self.id);
        let state = match (self.state.as_str(), self.failure) {
            ("queued", None) => RunState::Queued,
            ("running", None) => RunState::Running,
            ("done", None) => RunState::Done,
            ("cancelled", None) => RunState::Cancelled,
            ("failed", Some(failure)) => RunState::Failed(failure),
            (state, _) => return Err(row.corrupt(format_args!("{state} is no state of a run"))),
        };
        let time = |text: Option<String>| text.map(|text| row.time(&text)).transpose();
        Ok(CoverageRun {
            id: row.uuid(&self.id)?,
            requested_at: row.time(&self.requested_at)?,
            author: self.author,
            settings: self.settings,
            state,
            started_at: time(self.started_at)?,
            ended_at: time(self.ended_at)?,
            fingerprint: self.fingerprint,
            summary: self.summary,
        })
    }
}
