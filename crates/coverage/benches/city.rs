//! A whole city's coverage out of arrays in memory: `city FOLDER [causes] [remedies] [THREADS]`. The folder is written by
//! `tests/bench/coverage_peers/dump.py`.
//!
//! Without `causes`: what one hydrant alone brings to every place. With it: alone, with a pumper and from two hydrants, and the cause. Prints the
//! seconds of each phase in the best of fifteen rounds (of three in a metropolis), their total and the most memory held, one `name value` a line. With
//! `remedies` (of causes) then also what closes most gaps, five changes, and the seconds that it took.

use std::error::Error;
use std::fs;
use std::path::Path;
use std::time::Instant;

use longlay_coverage::cause::CauseCode;
use longlay_coverage::outcome::{Arrival, Best};
use longlay_coverage::records::{Hydrant, Place};
use longlay_coverage::remedies::{LayChange, LayKind, Lays, Question, Remedies};
use longlay_coverage::rule::Rule;
use longlay_coverage::run::Served;
use longlay_coverage::streets::{Line, Streets};
use longlay_coverage::threads::Progress;
use longlay_hydraulics::lay::many::ManyLays;
use longlay_hydraulics::lay::{LayProblem, Part, Source};
use longlay_hydraulics::loss::Hose;
use longlay_hydraulics::pumper::{PumpCurve, Pumper};
use longlay_hydraulics::quantity::{HoseCoefficient, Length, PositiveFlow, Pressure};
use longlay_hydraulics::spread::SourceSpread;
use longlay_hydraulics::supply::SupplyCurve;

/// The service's own: what a run lets go of is there for the next.
#[global_allocator]
static ALLOCATOR: tikv_jemallocator::Jemalloc = tikv_jemallocator::Jemalloc;

type Failure = Box<dyn Error>;

/// The reach of the peers along the streets, ft. Theirs is the way itself, without slack.
const REACH_FT: f64 = 1500.0;

fn main() -> Result<(), Failure> {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| !argument.starts_with("--")).collect();
    let Some(folder) = arguments.first() else {
        println!("give the folder that dump.py wrote");
        return Ok(());
    };
    let causes = arguments.iter().any(|argument| argument == "causes");
    let threads = arguments.iter().find_map(|argument| argument.parse().ok()).unwrap_or(2);
    let city = City::read(Path::new(folder))?;
    let many = ManyLays::new(lay(causes)?)?;
    let rounds = if city.places.len() > 500_000 { 3 } else { 15 };
    let mut best = Times::default();
    for round in 0..rounds {
        let (times, counts) = city.judged(&many, causes, threads)?;
        if round == 0 {
            for (name, count) in counts {
                println!("{name} {count}");
            }
        }
        if round == 0 || total(&times) < total(&best) {
            best = times;
        }
    }
    for (name, seconds) in &best {
        println!("{name} {seconds:.4}");
    }
    println!("total {:.4}", total(&best));
    println!("peak_mb {}", peak_mb());
    if arguments.iter().any(|argument| argument == "remedies") {
        city.put_right(&many, threads)?;
        println!("peak_mb {}", peak_mb());
    }
    Ok(())
}

/// A department with one hose that is bigger, and lines enough for two.
struct Department;

const OFFERS: [LayChange; 2] =
    [LayChange { kind: LayKind::SecondLine, option: 0 }, LayChange { kind: LayKind::BiggerHose, option: 0 }];

impl Lays for Department {
    fn offers(&self) -> &[LayChange] {
        &OFFERS
    }

    fn with(&self, changes: &[LayChange]) -> Option<ManyLays> {
        let (lines, coefficient) =
            (if changes.contains(&OFFERS[0]) { 2 } else { 1 }, if changes.contains(&OFFERS[1]) { 0.03 } else { 0.08 });
        ManyLays::new(lay_of(coefficient, lines, true).ok()?).ok()
    }
}

type Times = Vec<(&'static str, f64)>;
type Counts = Vec<(&'static str, usize)>;

fn total(times: &[(&str, f64)]) -> f64 {
    times.iter().map(|(_, seconds)| seconds).sum()
}

struct City {
    points: Vec<[[f64; 2]; 2]>,
    places: Vec<Place>,
    hydrants: Vec<Hydrant>,
}

impl City {
    fn read(folder: &Path) -> Result<Self, Failure> {
        let numbers = |name: &str| -> Result<Vec<f64>, Failure> {
            let bytes = fs::read(folder.join(name))?;
            let (numbers, _) = bytes.as_chunks::<8>();
            Ok(numbers.iter().copied().map(f64::from_le_bytes).collect())
        };
        let (x, y) = (numbers("x")?, numbers("y")?);
        let edges = fs::read(folder.join("e"))?;
        let (edges, _) = edges.as_chunks::<4>();
        let nodes: Vec<_> = edges.iter().copied().map(u32::from_le_bytes).map(|node| node as usize).collect();
        let point = |node: usize| [x[node], y[node]];
        let points = nodes.chunks_exact(2).map(|pair| [point(pair[0]), point(pair[1])]).collect();
        let (sx, sy, sz, need) = (numbers("sx")?, numbers("sy")?, numbers("sz")?, numbers("need")?);
        let place = |i: usize| Place { x: sx[i], y: sy[i], need_gpm: Some(need[i]), ground_ft: Some(sz[i]) };
        let (hx, hy, hz) = (numbers("hx")?, numbers("hy")?, numbers("hz")?);
        let (s, r, q) = (numbers("S")?, numbers("R")?, numbers("Q")?);
        let hydrant = |i: usize| -> Result<Hydrant, Failure> {
            let source = Some(source(s[i], r[i], q[i])?);
            Ok(Hydrant {
                x: hx[i],
                y: hy[i],
                source,
                borrowed: false,
                in_service: true,
                main: None,
                ground_ft: Some(hz[i]),
            })
        };
        let hydrants = (0..hx.len()).map(hydrant).collect::<Result<_, _>>()?;
        Ok(Self { points, places: (0..sx.len()).map(place).collect(), hydrants })
    }

    fn put_right(&self, many: &ManyLays, threads: usize) -> Result<(), Failure> {
        let line = |points| Line { points, from_level: 0, to_level: 0, barrier: false };
        let lines: Vec<Line<'_>> = self.points.iter().map(|points| line(points.as_slice())).collect();
        let (progress, rule) = (Progress::default(), rule());
        let streets = Streets::new(&lines)?;
        let served = Served::new(&streets, &self.places, &self.hydrants, rule, threads, &progress)?;
        let outcomes = served.judge(many, &self.hydrants, threads, &progress)?;
        let (streets, places, hydrants) = (&streets, &self.places[..], &self.hydrants[..]);
        let question = Question { streets, places, hydrants, many, lays: &Department, most: 5, threads };
        let start = Instant::now();
        let found = Remedies::find(&question, served, &outcomes, &progress)?;
        println!("remedies {:.4}", start.elapsed().as_secs_f64());
        for step in &found.steps {
            println!("{} {}", step.change.code(), step.closed.len());
        }
        Ok(())
    }

    fn judged(&self, many: &ManyLays, causes: bool, threads: usize) -> Result<(Times, Counts), Failure> {
        let line = |points| Line { points, from_level: 0, to_level: 0, barrier: false };
        let lines: Vec<Line<'_>> = self.points.iter().map(|points| line(points.as_slice())).collect();
        let progress = Progress::default();
        let rule = rule();
        let start = Instant::now();
        let streets = Streets::new(&lines)?;
        let built = start.elapsed().as_secs_f64();
        let served = Served::new(&streets, &self.places, &self.hydrants, rule, threads, &progress)?;
        let reached = start.elapsed().as_secs_f64();
        let mut counts = vec![("pairs", served.pair_count())];
        let judged;
        if causes {
            let outcomes = served.judge(many, &self.hydrants, threads, &progress)?;
            judged = start.elapsed().as_secs_f64();
            let count = |code| outcomes.iter().filter(|outcome| outcome.cause.code == code).count();
            counts.extend(CauseCode::ALL.map(|code| (code.code(), count(code))));
        } else {
            let arrivals = served.arrivals(many, &self.hydrants, threads, &progress)?;
            judged = start.elapsed().as_secs_f64();
            let short = |of: fn(&Best) -> f64| {
                let meets = |own: &Arrival| own.alone.zip(own.need_gpm).is_some_and(|(best, need)| of(&best) >= need);
                arrivals.iter().filter(|own| !meets(own)).count()
            };
            counts.push(("short", short(|best| best.arrives.gpm)));
            counts.push(("short_at_low_end", short(|best| best.arrives.low_gpm)));
        }
        Ok((vec![("streets", built), ("snap_and_reach", reached - built), ("flows", judged - reached)], counts))
    }
}

fn source(static_psi: f64, residual_psi: f64, gpm: f64) -> Result<Source, Failure> {
    let flow = PositiveFlow::from_gpm(gpm)?;
    let curve = SupplyCurve::new(Pressure::from_psi(static_psi)?, Pressure::from_psi(residual_psi)?, flow)?;
    Ok(Source { curve, body_loss: None, body_loss_assumed: false, spread: SourceSpread::of_numbers() })
}

/// Hose as the peers count it.
fn rule() -> Rule {
    Rule { slack: 1.0, section_ft: 1.0, ..Rule::with_hose(REACH_FT) }
}

fn lay(boost: bool) -> Result<LayProblem, Failure> {
    lay_of(0.08, 1, boost)
}

fn lay_of(coefficient: f64, lines: u8, boost: bool) -> Result<LayProblem, Failure> {
    let hose = Hose::new(HoseCoefficient::from_psi_per_100gpm2_100ft(coefficient)?, Length::from_ft(100.0)?, lines)?;
    let pumper = Pumper {
        curve: PumpCurve::from_rating(PositiveFlow::from_gpm(1500.0)?),
        intake_floor: Pressure::from_psi(20.0)?,
        max_discharge: None,
    };
    Ok(LayProblem {
        source: source(60.0, 40.0, 600.0)?,
        parts: vec![Part::Hose(hose)],
        rise: None,
        boost: boost.then_some(pumper),
        main_floor: Pressure::from_psi(20.0)?,
        scene_floor: Pressure::from_psi(20.0)?,
        target: None,
        fill_flow: None,
        tank: None,
    })
}

/// The most memory that this process held; nothing where the system does not say.
fn peak_mb() -> u64 {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.split_whitespace().next()?.parse::<u64>().ok()).unwrap_or(0) / 1024
}
