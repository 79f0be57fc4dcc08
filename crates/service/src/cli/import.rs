//! `longlay import`: a file brought in without a service.

use std::fs::File;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use longlay_exchange::column;
use longlay_exchange::kind::Kind;
use longlay_exchange::read::{DateFormat, Reading, Source, Spoken};
use longlay_exchange::streets;
use longlay_records::author::Author;
use longlay_store::{Change, OpenOptions, Store, Terms};

mod ground;

use super::bar::bar;
use super::{Failure, tell};
use crate::clock::{Clock, Ids};
use crate::imports::answer::ImportAnswer;
use crate::imports::arrived::Arrived;
use crate::imports::carry_out::{Outcome, carry_out};
use crate::imports::spool;
use crate::imports::warnings::ImportWarning;

/// What to bring in, and how to read it.
#[derive(Debug, Args)]
#[expect(clippy::struct_excessive_bools, reason = "each is a flag of the command line")]
pub(super) struct ImportArgs {
    /// What it holds: hydrants, flow-tests, hose-types, appliances, hydrant-valves, pumpers, lay-profiles or demand-points; or streets or an elevation-grid,
    /// each of which stands in place of all there was.
    #[arg(value_parser = contents)]
    kind: Contents,
    /// The file: CSV, or GeoJSON where its name ends in .geojson or .json, for hydrants, flow tests and demand points. Streets are GeoJSON, an elevation grid
    /// is plain text.
    #[arg(required_unless_present = "columns")]
    file: Option<PathBuf>,
    /// The database, which `longlay serve` makes.
    #[arg(long, value_name = "FILE", required_unless_present = "columns")]
    database: Option<PathBuf>,
    /// Only say what the file would do; beside a running service too.
    #[arg(long)]
    dry_run: bool,
    /// Open the database on a network, FUSE or VM-shared folder too, where it can be corrupted.
    #[arg(long)]
    allow_network_folder: bool,
    /// Pass over columns that are none of the kind's own.
    #[arg(long)]
    ignore_unknown_columns: bool,
    /// How dates like 5/14/2026 are meant.
    #[arg(long, value_name = "ORDER")]
    date_format: Option<DateOrder>,
    /// Hydrants that are out of service may be put back in service; else a row that would is refused.
    #[arg(long)]
    return_to_service: bool,
    /// Unit of the heights of an elevation grid, which its file does not say.
    #[arg(long, value_name = "UNIT", required_if_eq("kind", "elevation-grid"))]
    unit: Option<Unit>,
    /// Print what columns there are, what they mean and what is typed in them.
    #[arg(long)]
    columns: bool,
}

/// What a file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Contents {
    /// Records, each of which stands for itself.
    Records(Kind),
    /// A whole street network.
    Streets,
    /// A whole grid of heights.
    ElevationGrid,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Unit {
    /// Feet.
    Ft,
    /// Metres.
    M,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum DateOrder {
    /// The month first.
    Mdy,
    /// The day first.
    Dmy,
}

pub(super) fn kind(text: &str) -> Result<Kind, String> {
    Kind::of_slug(text).ok_or_else(|| format!("it is one of {}", Kind::ALL.map(Kind::slug).join(", ")))
}

fn contents(text: &str) -> Result<Contents, String> {
    match text {
        STREETS => Ok(Contents::Streets),
        ELEVATION_GRID => Ok(Contents::ElevationGrid),
        _ => Kind::of_slug(text).map(Contents::Records).ok_or_else(|| {
            format!("it is one of {}, {STREETS}, {ELEVATION_GRID}", Kind::ALL.map(Kind::slug).join(", "))
        }),
    }
}

const STREETS: &str = "streets";
const ELEVATION_GRID: &str = "elevation-grid";

pub(super) async fn run(args: ImportArgs) -> Result<(), Failure> {
    let (Some(path), Some(database), false) = (&args.file, &args.database, args.columns) else {
        tell(&columns(args.kind));
        return Ok(());
    };
    // A mistyped name must not become a town of its own.
    if !database.is_file() {
        return Err(Failure::NoTown(database.clone()));
    }
    match args.kind {
        Contents::Records(kind) => records(&args, kind, path, database).await,
        Contents::Streets => ground::streets(&args, path, database).await,
        Contents::ElevationGrid => ground::heights(&args, path, database).await,
    }
}

fn columns(contents: Contents) -> String {
    match contents {
        Contents::Records(kind) => column::table(kind).trim_end().to_owned(),
        Contents::Streets => column::table_of(streets::COLUMNS).trim_end().to_owned(),
        Contents::ElevationGrid => "no columns: ncols, nrows, xllcorner or xllcenter, yllcorner or yllcenter, cellsize and NODATA_value, a line each, then the \
             heights from the north to the south"
            .to_owned(),
    }
}

/// The database, for as much as is to be done with it.
async fn opened(args: &ImportArgs, database: &Path) -> Result<Store, Failure> {
    Ok(if args.dry_run {
        Store::open_reading(database).await?
    } else {
        Store::open(database, &OpenOptions { allow_network_folder: args.allow_network_folder }).await?
    })
}

async fn records(args: &ImportArgs, kind: Kind, path: &Path, database: &Path) -> Result<(), Failure> {
    let (clock, ids) = (Clock::system(), Ids::random());
    let arrived = read(args, kind, path, &clock, &ids)?;
    let store = opened(args, database).await?;
    let change = (!args.dry_run).then(|| Change::by(Author::command_line(), clock.now()));
    let bar = bar(arrived.rows.len() as u64);
    let progress = |done: usize| bar.set_position(done as u64);
    let terms = Terms { return_to_service: args.return_to_service };
    let outcome = carry_out(&store, kind, &arrived, terms, change.as_ref(), &progress).await;
    bar.finish_and_clear();
    store.close().await;
    match outcome? {
        Outcome::Done(answer) => {
            tell_warnings(&answer);
            tell(&told(&answer));
        }
        Outcome::Refused(faults) => return Err(Failure::Import { file: path.to_owned(), faults }),
        // Only requests that may be sent again have answers before.
        Outcome::Before(_) => {}
    }
    Ok(())
}

/// A file of at most so many bytes, at its beginning, with its digest.
fn opened_file(path: &Path, most_bytes: usize) -> Result<(File, [u8; 32]), Failure> {
    let unreadable = |error| Failure::File { file: path.to_owned(), error };
    let mut file = File::open(path).map_err(unreadable)?;
    let size_bytes = file.metadata().map_err(unreadable)?.len();
    if size_bytes > most_bytes as u64 {
        let most = most_bytes / (1024 * 1024);
        return Err(unreadable(io::Error::other(format!("it is larger than {most} MiB: split it"))));
    }
    let sha256 = spool::digest(&mut file).map_err(unreadable)?;
    Ok((file, sha256))
}

fn read(args: &ImportArgs, kind: Kind, path: &Path, clock: &Clock, ids: &Ids) -> Result<Arrived, Failure> {
    let (file, sha256) = opened_file(path, spool::MAX_FILE_BYTES)?;
    let now = clock.now();
    let reading = Reading {
        source: source(kind, path),
        spoken: Spoken::CommandLine,
        ignore_unknown_columns: args.ignore_unknown_columns,
        date_format: args.date_format.map(|order| match order {
            DateOrder::Mdy => DateFormat::MonthFirst,
            DateOrder::Dmy => DateFormat::DayFirst,
        }),
        now,
        latest_day: clock.latest_today(),
        new_id: &|| ids.next(now),
    };
    Arrived::read(kind, file, sha256, &reading).map_err(|faults| Failure::Import { file: path.to_owned(), faults })
}

fn source(kind: Kind, path: &Path) -> Source {
    let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default().to_ascii_lowercase();
    if kind.has_places() && matches!(ending.as_str(), "geojson" | "json") { Source::GeoJson } else { Source::Csv }
}

fn told(answer: &ImportAnswer) -> String {
    let ImportAnswer { kind, rows, created, replaced, unchanged, skipped_count, .. } = answer;
    let kept = if answer.committed { "" } else { "; a look only, nothing was kept" };
    format!(
        "{kind}: {rows} rows, {created} created, {replaced} replaced, {unchanged} unchanged, {skipped_count} recorded before{kept}"
    )
}

/// Every warning told, a line each, for standard error, and the columns passed over.
fn tell_warnings(answer: &ImportAnswer) {
    let mut out = io::stderr().lock();
    if !answer.ignored_columns.is_empty() {
        // Whoever reads it may have closed it: that is no failure of ours.
        let _ = writeln!(out, "passed over: {}", answer.ignored_columns.join(", "));
    }
    for warning in &answer.warnings {
        let ImportWarning { row, id, code, detail } = warning;
        let _ = writeln!(out, "warning: row {row}, {id}: {detail} ({code})");
    }
    let more = answer.warning_count - answer.warnings.len();
    if more > 0 {
        let _ = writeln!(out, "and {more} more {}", if more == 1 { "warning" } else { "warnings" });
    }
}

/// Every fault kept, a line each, for standard error.
pub(super) fn tell_faults(faults: &longlay_exchange::fault::Faults) {
    let mut out = io::stderr().lock();
    for fault in faults.kept() {
        let column = fault.column.as_deref().map(|column| format!(", {column}")).unwrap_or_default();
        // Whoever reads it may have closed it: that is no failure of ours.
        let _ = writeln!(out, "row {}{column}: {} ({})", fault.row, fault.detail, fault.code);
    }
    let more = faults.count() - faults.kept().len() as u64;
    if more > 0 {
        let _ = writeln!(out, "and {more} more");
    }
}
