//! `longlay export`: a kind of record written out without a service, or beside one that runs.

use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::{Args, ValueEnum};
use indicatif::ProgressBar;
use longlay_exchange::kind::Kind;
use longlay_exchange::write::Format;
use longlay_store::{CopyError, Partial, Store};
use tokio::task::spawn_blocking;
use tokio::time::timeout;

use super::bar::{bar, is_seen};
use super::database::Database;
use super::import::kind;
use super::{Failure, tell};
use crate::bulk::Pieces;
use crate::export::{Export, is_written};
use crate::serve;

/// Longest time that a reader of the output may take nothing: beside a running service the database's log grows while it is read.
const TAKEN_WITHIN: Duration = Duration::from_secs(30);

/// What to write out, in which form and where.
#[derive(Debug, Args)]
pub(super) struct ExportArgs {
    /// What to write out: hydrants, flow-tests, hose-types, appliances, hydrant-valves, pumpers, lay-profiles or demand-points.
    #[arg(value_parser = kind)]
    kind: Kind,
    #[command(flatten)]
    database: Database,
    /// The form of the file.
    #[arg(long, value_name = "FORMAT", default_value = "csv")]
    format: ExportForm,
    /// The file, which gets its name only once it is whole and on the disk; else standard output.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Replace a file that is there.
    #[arg(long, requires = "out")]
    force: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum ExportForm {
    /// A table for spreadsheets, with a line of headings.
    Csv,
    /// For maps: hydrants, flow tests and demand points only.
    Geojson,
    /// A JSON object a line, as the API tells the record.
    Ndjson,
}

impl From<ExportForm> for Format {
    fn from(form: ExportForm) -> Self {
        match form {
            ExportForm::Csv => Self::Csv,
            ExportForm::Geojson => Self::GeoJson,
            ExportForm::Ndjson => Self::NdJson,
        }
    }
}

pub(super) async fn run(arguments: ExportArgs) -> Result<(), Failure> {
    if !is_written(arguments.kind, arguments.format.into()) {
        return Err(Failure::OnNoMap(arguments.kind));
    }
    let stop = serve::stop_signal()?;
    let database = arguments.database.path()?;
    let store = Store::open_reading(&database).await?;
    let written = tokio::select! {
        written = write(&store, &database, &arguments) => written,
        () = stop => Err(Failure::BrokenOff),
    };
    store.close().await;
    written
}

/// What is not finished when this is dropped never gets its name.
async fn write(store: &Store, database: &Path, arguments: &ExportArgs) -> Result<(), Failure> {
    let mut export = Export::new(arguments.kind, store.snapshot().await?, arguments.format.into());
    let Some(to) = &arguments.out else {
        let bar = if io::stdout().is_terminal() { ProgressBar::hidden() } else { bar_of(&mut export).await? };
        return match pieces(export, Box::new(io::stdout()), &bar).await {
            // Whoever reads it has enough.
            Err(Failure::Io(error)) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
            written => written.map(|_| ()),
        };
    };
    let partial = Partial::out_of(database, to, arguments.force)?;
    let (file, bar) = (partial.open()?, bar_of(&mut export).await?);
    let records = pieces(export, Box::new(file), &bar).await.map_err(|failure| match failure {
        Failure::Io(error) => CopyError::Write { path: to.clone(), reason: error.to_string() }.into(),
        failure => failure,
    })?;
    let bytes = partial.finish()?;
    tell(&format!("{}: {bytes} bytes, {records} {}", to.display(), arguments.kind.slug()));
    Ok(())
}

async fn bar_of(export: &mut Export) -> Result<ProgressBar, Failure> {
    Ok(if is_seen() { bar(export.count().await?) } else { ProgressBar::hidden() })
}

/// Writes all of it: how many records.
async fn pieces(mut export: Export, mut out: Box<dyn Write + Send>, bar: &ProgressBar) -> Result<u64, Failure> {
    while let Some(bytes) = export.next().await? {
        // Off this thread: one that waits for a slow reader would not hear the signal to stop.
        let written = spawn_blocking(move || {
            out.write_all(&bytes)?;
            out.flush()?;
            Ok::<_, io::Error>(out)
        });
        let stalled = |_| io::Error::new(io::ErrorKind::TimedOut, "nothing of it was taken for 30 s");
        out = timeout(TAKEN_WITHIN, written).await.map_err(stalled)?.map_err(io::Error::other)??;
        bar.set_position(export.written());
    }
    bar.finish_and_clear();
    Ok(export.written())
}
