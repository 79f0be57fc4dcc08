//! `longlay coverage`: a coverage run without a service, or beside one that runs. Nothing of it is kept but what is written out.

use std::io::Write;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use clap::Args;
use longlay_coverage::threads::Progress;
use longlay_store::{CopyError, Partial, Store};
use tokio::task::{JoinHandle, spawn_blocking};

use super::bar::bar;
use super::database::Database;
use super::{Failure, tell};
use crate::clock::Clock;
use crate::coverage::inputs::Gathered;
use crate::coverage::settings::CoverageRunBody;
use crate::coverage::summary::JoinedName;
use crate::coverage::template::template;
use crate::coverage::work::{Undone, Worked, worked};
use crate::faults::Faults;
use crate::routes::capability_table::row;
use crate::routes::coverage_outcome_record::{HEADINGS, cells};
use crate::serve;

/// How often the bar moves.
const LOOKED_EVERY: Duration = Duration::from_millis(100);

/// With which lay, and how hose is counted.
#[derive(Debug, Args)]
pub(super) struct CoverageArgs {
    #[command(flatten)]
    database: Database,
    /// The lay that every demand point is served with.
    #[arg(long, value_name = "ID")]
    lay_profile: String,
    /// The pumper that boosts.
    #[arg(long, value_name = "ID")]
    boost_pumper: Option<String>,
    /// Only demand points in this district.
    #[arg(long, value_name = "ID")]
    district: Option<String>,
    /// The hose carried; else what the profile carries.
    #[arg(long, value_name = "FEET")]
    max_lay_ft: Option<f64>,
    /// Never two hydrants together.
    #[arg(long)]
    one_hydrant: bool,
    /// A second pumper comes with the first, for the second of two hydrants.
    #[arg(long, requires = "boost_pumper")]
    second_pumper: bool,
    /// Changes that close gaps to look for at the most, 0 to 20.
    #[arg(long, value_name = "COUNT", default_value_t = 5)]
    remedies: u8,
    /// A CSV file for every demand point with what came out, which gets its name only once it is whole.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Replace a file that is there.
    #[arg(long, requires = "out")]
    force: bool,
}

impl CoverageArgs {
    fn body(&self) -> CoverageRunBody {
        CoverageRunBody {
            lay_profile_id: self.lay_profile.clone(),
            boost_pumper_id: self.boost_pumper.clone(),
            district_id: self.district.clone(),
            hydrants_combined: Some(!self.one_hydrant),
            second_pumper: Some(self.second_pumper),
            remedies: Some(self.remedies),
            max_lay_ft: self.max_lay_ft,
            ..CoverageRunBody::default()
        }
    }
}

pub(super) async fn run(arguments: CoverageArgs) -> Result<(), Failure> {
    let stop = serve::stop_signal()?;
    let database = arguments.database.path()?;
    let partial = arguments.out.as_ref().map(|out| Partial::out_of(&database, out, arguments.force)).transpose()?;
    let store = Store::open_reading(&database).await?;
    let progress = Arc::<Progress>::default();
    let worked = tokio::select! {
        worked = work(&store, &arguments, &progress) => worked,
        () = stop => {
            progress.cancel();
            Err(Failure::BrokenOff)
        }
    };
    store.close().await;
    let worked = worked?;
    tell(&told(&worked));
    if let Some(partial) = partial {
        let unwritten = |error: std::io::Error| CopyError::Write {
            path: arguments.out.clone().unwrap_or_default(),
            reason: error.to_string(),
        };
        let mut file = std::io::BufWriter::new(partial.open()?);
        write(&worked, &mut file).and_then(|()| file.flush()).map_err(unwritten)?;
        partial.finish()?;
    }
    Ok(())
}

async fn work(store: &Store, arguments: &CoverageArgs, progress: &Arc<Progress>) -> Result<Worked, Failure> {
    let (body, today) = (arguments.body(), Clock::system().today());
    let refused = |problem: crate::problem::Problem| Failure::Coverage(problem.told());
    let town = store.town().await?;
    let inputs = town.lay_inputs(&body.refs(), today)?;
    let mut faults = Faults::of_body();
    let district = match body.district_id.as_deref().map(|id| faults.id("/district_id", id)) {
        Some(Some(id)) => store.versioned_district(&id).await?.is_some(),
        _ => true,
    };
    let settings = body.settings(&inputs, district, &mut faults);
    let settings = faults.finish(settings).map_err(refused)?;
    let pumper = body.boost_pumper_id.as_deref();
    let lay = template(&body.lay_profile_id, pumper, &inputs, Faults::of_body()).map_err(refused)?;
    let gathered = Gathered::read(store, town, settings, lay, today).await?;
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZeroUsize::get);
    let looked_at = Arc::clone(progress);
    let task = spawn_blocking(move || worked(gathered, threads, &looked_at));
    watched(task, progress).await?.map_err(|undone| Failure::Coverage(undone.to_string()))
}

/// Waits for a run with a bar.
async fn watched(
    mut task: JoinHandle<Result<Worked, Undone>>,
    progress: &Progress,
) -> Result<Result<Worked, Undone>, Failure> {
    let bar = bar(0);
    loop {
        tokio::select! {
            done = &mut task => {
                bar.finish_and_clear();
                return done.map_err(|_| Failure::BrokenOff);
            }
            () = tokio::time::sleep(LOOKED_EVERY) => {
                let (_, done, total) = progress.look();
                bar.set_length(total as u64);
                bar.set_position(done as u64);
            }
        }
    }
}

fn write(worked: &Worked, out: &mut impl Write) -> std::io::Result<()> {
    out.write_all(row(&HEADINGS).as_bytes())?;
    for (point, outcome) in worked.inputs.points.iter().zip(&worked.outcomes) {
        out.write_all(row(&cells(&worked.inputs.point_outcome(point, outcome))).as_bytes())?;
    }
    Ok(())
}

fn told(worked: &Worked) -> String {
    let summary = &worked.summary;
    let mut lines: Vec<_> =
        summary.causes().each().into_iter().map(|(code, count)| format!("{code:<20} {count:>9}")).collect();
    if let Some(percent) = summary.covered_percent() {
        lines.push(format!("covered, one way or another: {percent:.1} % of the demand points with a need"));
    }
    if summary.joined() == JoinedName::StraightLine {
        lines.push("no streets were imported: lays are straight distances times the detour factor".to_owned());
    }
    lines.extend(summary.told_findings());
    if let Some(remedies) = &worked.remedies {
        lines.push(String::new());
        lines.extend(remedies.without_valve());
        if remedies.lines().next().is_some() {
            lines.push("What closes most gaps, each over those before it:".to_owned());
        }
        lines.extend((1..).zip(remedies.lines()).map(|(n, line)| format!("{n:>3}. {line}")));
        if remedies.is_all {
            lines.push("No other change was found that closes a gap.".to_owned());
        }
        lines.extend(remedies.untested());
        lines.push(String::new());
    }
    lines.push(
        "A planning answer by the low end of the bands. Gauges at the pump govern; local procedures decide.".to_owned(),
    );
    lines.join("\n")
}
