//! Going through a batch, some hundreds of records at a time.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use longlay_records::flow_test::FlowTest;
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use super::arriving::{self, Arriving};
use super::batch::{ArrivingTest, Batch, Import, ImportRecorded, Imported, Judged, Looked, Verdict};
use super::notices::{self, Terms};
use super::{flow_tests, places};
use crate::audit::{self, Action};
use crate::change::Change;
use crate::error::StoreError;
use crate::open::Store;
use crate::references::stored_kind;
use crate::replay;
use crate::town::Touched;

/// Records looked up and written together.
const AT_ONCE: usize = 2000;

/// Is told after each part how many records are done.
pub type Progress<'a> = &'a (dyn Fn(usize) + Send + Sync);

impl Store {
    /// What an import would do; nothing is written, and no writer waits for it.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn try_import(&self, batch: &Batch, terms: Terms, progress: Progress<'_>) -> Result<Looked, StoreError> {
        let mut tx = self.read().await?;
        let as_of_seq = audit::newest(&mut tx).await?;
        let judged = judged(&mut tx, batch, terms, progress).await?;
        Ok(Looked { imported: Imported::of(&judged), judged, as_of_seq })
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
        let newest = audit::newest(&mut tx).await?;
        let again;
        let judged = match import.looked {
            Some(looked) if looked.as_of_seq == newest => &looked.judged,
            _ => {
                again = judged(&mut tx, import.batch, import.terms, progress).await?;
                &again
            }
        };
        let imported = Imported::of(judged);
        if !imported.refused.is_empty() {
            return Ok(ImportRecorded::Now(imported));
        }
        write(&mut tx, import.batch, &judged.verdicts, change, progress).await?;
        let detail = detail(import, &imported);
        let kind = stored_kind(import.batch.kind());
        audit::note(&mut tx, change, Action::Import, kind, None, None, Some(&detail)).await?;
        let mut answered = change.clone();
        if let Some(replay) = &mut answered.replay {
            replay.answer.body = body(&imported);
        }
        replay::keep(&mut tx, &answered).await?;
        self.commit(tx, touched(import.batch, &judged.verdicts)).await?;
        Ok(ImportRecorded::Now(imported))
    }
}

/// What an import writes.
fn touched(batch: &Batch, verdicts: &[Verdict]) -> Touched {
    fn ids<T: Arriving>(records: &[T], verdicts: &[Verdict]) -> BTreeSet<AssetId> {
        due(records, verdicts).map(|record| record.id().clone()).collect()
    }
    let kind = batch.kind();
    match batch {
        Batch::Hydrants(records) => Touched::Hydrants(ids(records, verdicts)),
        Batch::FlowTests(tests) => {
            Touched::FlowTests(due(tests, verdicts).map(|arriving| arriving.test.id.to_string()).collect())
        }
        Batch::HoseTypes(records) => Touched::Equipment(kind, ids(records, verdicts)),
        Batch::Appliances(records) => Touched::Equipment(kind, ids(records, verdicts)),
        Batch::HydrantValves(records) => Touched::Equipment(kind, ids(records, verdicts)),
        Batch::Pumpers(records) => Touched::Equipment(kind, ids(records, verdicts)),
        Batch::LayProfiles(records) => Touched::Equipment(kind, ids(records, verdicts)),
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

/// What is to be done with each record of a batch.
async fn judged(
    conn: &mut SqliteConnection,
    batch: &Batch,
    terms: Terms,
    progress: Progress<'_>,
) -> Result<Judged, StoreError> {
    match batch {
        Batch::Hydrants(records) => {
            let mut judged = judged_by_id(&mut *conn, records, progress).await?;
            notices::settle(&mut judged, records, terms);
            judged.notices.extend(places::far(conn, records).await?);
            Ok(judged)
        }
        Batch::FlowTests(tests) => {
            let mut verdicts = Vec::with_capacity(tests.len());
            for chunk in tests.chunks(AT_ONCE) {
                verdicts.extend(flow_tests::judged(&mut *conn, chunk).await?);
                progress(verdicts.len());
            }
            Ok(Judged { verdicts, notices: Vec::new() })
        }
        Batch::HoseTypes(records) => judged_by_id(conn, records, progress).await,
        Batch::Appliances(records) => judged_by_id(conn, records, progress).await,
        Batch::HydrantValves(records) => judged_by_id(conn, records, progress).await,
        Batch::Pumpers(records) => judged_by_id(conn, records, progress).await,
        Batch::LayProfiles(records) => judged_by_id(conn, records, progress).await,
    }
}

async fn judged_by_id<T: Arriving>(
    conn: &mut SqliteConnection,
    records: &[T],
    progress: Progress<'_>,
) -> Result<Judged, StoreError> {
    let mut judged = Judged { verdicts: Vec::with_capacity(records.len()), notices: Vec::new() };
    for chunk in records.chunks(AT_ONCE) {
        for (verdict, notices) in arriving::judged(&mut *conn, chunk).await? {
            let index = judged.verdicts.len();
            judged.notices.extend(notices.into_iter().map(|notice| (index, notice)));
            judged.verdicts.push(verdict);
        }
        progress(judged.verdicts.len());
    }
    Ok(judged)
}

/// Writes the records of a batch of which none is refused.
async fn write(
    conn: &mut SqliteConnection,
    batch: &Batch,
    verdicts: &[Verdict],
    change: &Change,
    progress: Progress<'_>,
) -> Result<(), StoreError> {
    match batch {
        Batch::Hydrants(records) => put(conn, records, verdicts, change, progress).await,
        Batch::FlowTests(tests) => record(conn, tests, verdicts, change, progress).await,
        Batch::HoseTypes(records) => put(conn, records, verdicts, change, progress).await,
        Batch::Appliances(records) => put(conn, records, verdicts, change, progress).await,
        Batch::HydrantValves(records) => put(conn, records, verdicts, change, progress).await,
        Batch::Pumpers(records) => put(conn, records, verdicts, change, progress).await,
        Batch::LayProfiles(records) => put(conn, records, verdicts, change, progress).await,
    }
}

/// The records to be written.
fn due<'a, T>(records: &'a [T], verdicts: &'a [Verdict]) -> impl Iterator<Item = &'a T> {
    let due = |(_, verdict): &(&T, &Verdict)| matches!(verdict, Verdict::Create | Verdict::Replace);
    records.iter().zip(verdicts).filter(due).map(|(record, _)| record)
}

/// Parts of a batch, each with the records to be written and how many are done with it.
fn parts<'a, T>(records: &'a [T], verdicts: &'a [Verdict]) -> impl Iterator<Item = (Vec<&'a T>, usize)> {
    let parts = records.chunks(AT_ONCE).zip(verdicts.chunks(AT_ONCE)).enumerate();
    parts.map(|(part, (records, verdicts))| (due(records, verdicts).collect(), part * AT_ONCE + records.len()))
}

async fn put<T: Arriving>(
    conn: &mut SqliteConnection,
    records: &[T],
    verdicts: &[Verdict],
    change: &Change,
    progress: Progress<'_>,
) -> Result<(), StoreError> {
    for (due, done) in parts(records, verdicts) {
        T::put_all(&mut *conn, &due, change).await?;
        progress(done);
    }
    Ok(())
}

async fn record(
    conn: &mut SqliteConnection,
    tests: &[ArrivingTest],
    verdicts: &[Verdict],
    change: &Change,
    progress: Progress<'_>,
) -> Result<(), StoreError> {
    for (due, done) in parts(tests, verdicts) {
        let due: Vec<&FlowTest> = due.into_iter().map(|arriving| &arriving.test).collect();
        flow_tests::add_all(&mut *conn, &due, change).await?;
        progress(done);
    }
    Ok(())
}
