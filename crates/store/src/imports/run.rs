//! Going through a batch, some hundreds of records at a time.

use std::fmt::Write as _;

use longlay_records::flow_test::FlowTest;
use sqlx::SqliteConnection;

use super::arriving::{Arriving, Verdict, judged};
use super::batch::{ArrivingTest, Batch, Import, ImportRecorded, Imported};
use super::flow_tests;
use crate::audit::{self, Action};
use crate::change::Change;
use crate::error::{StoreError, fault};
use crate::open::Store;
use crate::references::stored_kind;
use crate::replay;

/// Records looked up and written together.
const AT_ONCE: usize = 2000;

/// Is told after each part how many records are done.
pub type Progress<'a> = &'a (dyn Fn(usize) + Send + Sync);

impl Store {
    /// What an import would do; nothing is written, and no writer waits for it.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn try_import(&self, batch: &Batch, progress: Progress<'_>) -> Result<Imported, StoreError> {
        let mut tx = self.read().await?;
        go_through(&mut tx, batch, None, progress).await
    }

    /// Brings records in: all of them, or none where one is refused. `body` is the body of the answer that is kept for a request
    /// that may be sent again.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn import(
        &self,
        import: &Import<'_>,
        change: &Change,
        body: &(dyn Fn(&Imported) -> Vec<u8> + Send + Sync),
        progress: Progress<'_>,
    ) -> Result<ImportRecorded, StoreError> {
        let mut tx = self.write().await?;
        if let Some(answer) = replay::before(&mut tx, change).await? {
            return Ok(ImportRecorded::Before(answer));
        }
        let imported = go_through(&mut tx, import.batch, Some(change), progress).await?;
        if !imported.refused.is_empty() {
            return Ok(ImportRecorded::Now(imported));
        }
        let detail = detail(import, &imported);
        let kind = stored_kind(import.batch.kind());
        audit::note(&mut tx, change, Action::Import, kind, None, None, Some(&detail)).await?;
        let mut answered = change.clone();
        if let Some(replay) = &mut answered.replay {
            replay.answer.body = body(&imported);
        }
        replay::keep(&mut tx, &answered).await?;
        tx.commit().await.map_err(fault)?;
        Ok(ImportRecorded::Now(imported))
    }
}

/// What the audit says of a whole import, as JSON.
fn detail(import: &Import<'_>, imported: &Imported) -> String {
    let Imported { created, replaced, unchanged, skipped, .. } = imported;
    let mut digest = String::new();
    for byte in import.sha256 {
        // Writing to a string cannot fail.
        let _ = write!(digest, "{byte:02x}");
    }
    let skipped = skipped.len();
    format!(
        r#"{{"sha256":"{digest}","created":{created},"replaced":{replaced},"unchanged":{unchanged},"skipped":{skipped}}}"#
    )
}

/// Judges a batch and, where there is a change to put it down to, writes it.
async fn go_through(
    conn: &mut SqliteConnection,
    batch: &Batch,
    change: Option<&Change>,
    progress: Progress<'_>,
) -> Result<Imported, StoreError> {
    match batch {
        Batch::Hydrants(records) => upsert(conn, records, change, progress).await,
        Batch::FlowTests(tests) => record(conn, tests, change, progress).await,
        Batch::HoseTypes(records) => upsert(conn, records, change, progress).await,
        Batch::Appliances(records) => upsert(conn, records, change, progress).await,
        Batch::HydrantValves(records) => upsert(conn, records, change, progress).await,
        Batch::Pumpers(records) => upsert(conn, records, change, progress).await,
        Batch::LayProfiles(records) => upsert(conn, records, change, progress).await,
    }
}

async fn upsert<T: Arriving>(
    conn: &mut SqliteConnection,
    records: &[T],
    change: Option<&Change>,
    progress: Progress<'_>,
) -> Result<Imported, StoreError> {
    let mut imported = Imported::default();
    for (part, chunk) in records.chunks(AT_ONCE).enumerate() {
        let mut changed = Vec::new();
        for (i, verdict) in judged(&mut *conn, chunk).await?.into_iter().enumerate() {
            match verdict {
                Verdict::Create => imported.created += 1,
                Verdict::Replace => imported.replaced += 1,
                Verdict::Leave => imported.unchanged += 1,
                Verdict::Refuse(ref why) => {
                    imported.refused.extend(why.iter().map(|why| (part * AT_ONCE + i, why.clone())));
                }
            }
            if matches!(verdict, Verdict::Create | Verdict::Replace) {
                changed.push(&chunk[i]);
            }
        }
        if let Some(change) = change.filter(|_| imported.refused.is_empty()) {
            T::put_all(&mut *conn, &changed, change).await?;
        }
        progress(part * AT_ONCE + chunk.len());
    }
    Ok(imported)
}

async fn record(
    conn: &mut SqliteConnection,
    tests: &[ArrivingTest],
    change: Option<&Change>,
    progress: Progress<'_>,
) -> Result<Imported, StoreError> {
    let mut imported = Imported::default();
    for (part, chunk) in tests.chunks(AT_ONCE).enumerate() {
        let mut new: Vec<&FlowTest> = Vec::new();
        for (i, verdict) in flow_tests::judged(&mut *conn, chunk).await?.into_iter().enumerate() {
            let index = part * AT_ONCE + i;
            match verdict {
                flow_tests::Verdict::Record => new.push(&chunk[i].test),
                flow_tests::Verdict::Skip => imported.skipped.push(index),
                flow_tests::Verdict::Refuse(why) => imported.refused.extend(why.into_iter().map(|why| (index, why))),
            }
        }
        imported.created += new.len() as u64;
        if let Some(change) = change.filter(|_| imported.refused.is_empty()) {
            flow_tests::add_all(&mut *conn, &new, change).await?;
        }
        progress(part * AT_ONCE + chunk.len());
    }
    Ok(imported)
}
