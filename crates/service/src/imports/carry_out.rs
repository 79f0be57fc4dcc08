//! From what a file holds to what is kept.

use longlay_exchange::fault::Faults;
use longlay_exchange::kind::Kind;
use longlay_store::{Answer, Change, Import, ImportRecorded, Progress, Store, StoreError, Terms};

use super::answer::ImportAnswer;
use super::arrived::Arrived;

/// What came of it.
#[derive(Debug)]
pub(crate) enum Outcome {
    /// It was brought in, or looked at.
    Done(ImportAnswer),
    /// It has faults, and nothing was kept.
    Refused(Faults),
    /// The same request was answered before: nothing was done.
    Before(Answer),
}

/// Looks at what an import would do and, where there is a change to put it down to and nothing is at fault, does it.
///
/// The look takes no lock: whoever else writes waits only for a file that is likely to be kept. Where something was written meanwhile, the import judges again.
pub(crate) async fn carry_out(
    store: &Store,
    kind: Kind,
    arrived: &Arrived,
    terms: Terms,
    change: Option<&Change>,
    progress: Progress<'_>,
) -> Result<Outcome, StoreError> {
    let looked = store.try_import(&arrived.batch, terms, progress).await?;
    if !looked.imported.refused.is_empty() {
        return Ok(Outcome::Refused(arrived.faults(&looked.imported)));
    }
    let Some(change) = change else {
        return Ok(Outcome::Done(ImportAnswer::new(kind.slug(), true, arrived, &looked.imported)));
    };
    let import = Import { batch: &arrived.batch, terms, sha256: arrived.sha256, looked: Some(&looked) };
    // An answer made of numbers and text is always JSON.
    let body = |imported: &_| {
        serde_json::to_vec(&ImportAnswer::new(kind.slug(), false, arrived, imported)).unwrap_or_default()
    };
    Ok(match store.import(&import, change, &body, progress).await? {
        ImportRecorded::Before(answer) => Outcome::Before(answer),
        ImportRecorded::Now(imported) if !imported.refused.is_empty() => Outcome::Refused(arrived.faults(&imported)),
        ImportRecorded::Now(imported) => Outcome::Done(ImportAnswer::new(kind.slug(), false, arrived, &imported)),
    })
}
