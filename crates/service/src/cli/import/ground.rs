//! What stands in place of all there was: streets, and the grid of heights.

use std::io::{self, BufReader, Write};
use std::path::Path;

use longlay_exchange::raster::{self, HeightUnit};
use longlay_exchange::read::{Reading, Source, Spoken};
use longlay_records::author::Author;
use longlay_store::{Change, GridSummary};

use super::{Failure, ImportArgs, Unit, opened, opened_file, tell};
use crate::clock::{Clock, Ids};
use crate::imports::spool::{MAX_FILE_BYTES, MAX_GROUND_FILE_BYTES};
use crate::imports::streets::{ArrivedStreets, StreetImportAnswer, StreetOutcome, carry_out};

pub(super) async fn streets(args: &ImportArgs, path: &Path, database: &Path) -> Result<(), Failure> {
    let (clock, ids) = (Clock::system(), Ids::random());
    let (file, sha256) = opened_file(path, MAX_GROUND_FILE_BYTES)?;
    let now = clock.now();
    let reading = Reading {
        source: Source::GeoJson,
        spoken: Spoken::CommandLine,
        ignore_unknown_columns: true,
        date_format: None,
        now,
        latest_day: clock.latest_today(),
        new_id: &|| ids.next(now),
    };
    let arrived = ArrivedStreets::read(file, sha256, &reading)
        .map_err(|faults| Failure::Import { file: path.to_owned(), faults })?;
    let store = opened(args, database).await?;
    let change = (!args.dry_run).then(|| Change::by(Author::command_line(), now));
    let outcome = carry_out(&store, &arrived, now, change.as_ref()).await;
    store.close().await;
    // Only requests that may be sent again have answers before.
    if let StreetOutcome::Done(answer) = outcome? {
        warn(&answer);
        tell(&told(&answer, arrived.read.streets.len()));
    }
    Ok(())
}

fn told(answer: &StreetImportAnswer, streets: usize) -> String {
    let kept = if answer.committed { "" } else { "; a look only, nothing was kept" };
    let (replaced, by_class) = (answer.replaced, answer.limited_access_by_class);
    format!("streets: {streets} in place of {replaced}, {by_class} of limited access by their class{kept}")
}

/// Warnings and the properties passed over, for standard error. Whoever reads it may have closed it: that is no failure of ours.
fn warn(answer: &StreetImportAnswer) {
    let mut out = io::stderr().lock();
    if !answer.ignored_columns.is_empty() {
        let _ = writeln!(out, "passed over: {}", answer.ignored_columns.join(", "));
    }
    for warning in &answer.warnings {
        let _ = writeln!(out, "{}", warning.line());
    }
    let more = answer.warning_count - answer.warnings.len();
    if more > 0 {
        let _ = writeln!(out, "and {more} more");
    }
}

pub(super) async fn heights(args: &ImportArgs, path: &Path, database: &Path) -> Result<(), Failure> {
    let (file, sha256) = opened_file(path, MAX_FILE_BYTES)?;
    // Without a unit the arguments were refused.
    let unit = match args.unit {
        Some(Unit::M) => HeightUnit::Metres,
        Some(Unit::Ft) | None => HeightUnit::Feet,
    };
    let grid = raster::read(BufReader::new(file), unit);
    let grid = grid.map_err(|faults| Failure::Import { file: path.to_owned(), faults })?;
    let now = Clock::system().now();
    let summary = GridSummary::of(&grid, sha256, now);
    if !args.dry_run {
        let store = opened(args, database).await?;
        let kept = store.replace_elevation_grid(&grid, &summary, &Change::by(Author::command_line(), now)).await;
        store.close().await;
        kept?;
    }
    let kept = if args.dry_run { "; a look only, nothing was kept" } else { "" };
    tell(&format!("elevation-grid: {} heights, {} of them known{kept}", summary.columns * summary.rows, summary.known));
    Ok(())
}
