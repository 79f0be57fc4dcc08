//! What a pair of a hydrant and a lay costs when very many are asked, against one `pow` and against the exact solver.
//!
//! Ends with failure when the figure of a pair takes more than [`MOST_PAIR_NS`].

use std::error::Error;
use std::hint::black_box;
use std::process::ExitCode;
use std::time::Instant;

use longlay_hydraulics::lay::many::{ManyLays, Ready};
use longlay_hydraulics::lay::{LayProblem, Part, Source};
use longlay_hydraulics::loss::{Hose, HydrantValve, ValveSpread};
use longlay_hydraulics::pumper::{PumpCurve, Pumper};
use longlay_hydraulics::quantity::{ApplianceCoefficient, HoseCoefficient, Length, PositiveFlow, Pressure};
use longlay_hydraulics::spread::SourceSpread;
use longlay_hydraulics::supply::{DROP_EXPONENT, SupplyCurve};

const MOST_PAIR_NS: f64 = 20.0;
const ROUNDS: usize = 5;
const BATCH: usize = 100;

/// A hydrant by its place among the ready ones, a length and a rise.
type Pair = (usize, f64, f64);

fn main() -> Result<ExitCode, Box<dyn Error>> {
    let many = ManyLays::new(template()?)?;
    let sources = sources()?;
    let ready: Vec<Ready> = sources.iter().map(|source| many.ready(source)).collect();
    let pairs = pairs(ready.len());
    let (few, fewer) = (&pairs[..pairs.len() / 50], &pairs[..pairs.len() / 1000]);

    let shares: Vec<f64> = pairs.iter().map(|(_, feet, _)| feet / 1000.0).collect();
    let pow_ns = median_ns(&shares, |share| libm::pow(*share, DROP_EXPONENT));
    let alone_ns = median_ns(&pairs, |&(at, feet, rise)| many.alone_gpm(&ready[at], feet, rise));
    let both_ns = median_ns(&pairs, |&(at, feet, rise)| many.gpm(&ready[at], feet, rise));
    let low_ns = median_ns(&pairs, |&(at, feet, rise)| many.low_alone(&ready[at], feet, rise));
    let arrives_ns = median_ns(&pairs, |&(at, feet, rise)| many.arrives(&ready[at], feet, rise));
    let ready_ns = median_ns(&sources, |source| many.ready(source));
    let together = |&(at, feet, rise): &Pair, shared| {
        many.together([(&ready[at], feet, rise), (&ready[at ^ 1], feet * 0.7, rise)], shared)
    };
    let shared_ns = median_ns(few, |pair| together(pair, true));
    let separate_ns = median_ns(few, |pair| together(pair, false));
    let problems = [template()?];
    let template_ns = median_ns(&problems, |problem| ManyLays::new(problem.clone()));
    let exact = |&(at, feet, rise): &Pair| many.lay(&sources[at], feet, rise);
    let exact_gpm_ns = median_ns(few, |pair| exact(pair).map(|lay| lay.alone_gpm()));
    let exact_ns = median_ns(fewer, |pair| exact(pair).map(|lay| lay.answer()));

    println!("{} pairs of {} hydrants, each ready hydrant of {} bytes", pairs.len(), ready.len(), size_of::<Ready>());
    println!("pow                                        {pow_ns:9.1} ns");
    println!("the hydrant alone                          {alone_ns:9.1} ns (at most {MOST_PAIR_NS})");
    println!("alone and boosted                          {both_ns:9.1} ns");
    println!("alone with its low end                     {low_ns:9.1} ns");
    println!("alone and boosted with their low ends      {arrives_ns:9.1} ns");
    println!("two hydrants on one main, with low ends    {shared_ns:9.1} ns");
    println!("two hydrants on two mains, with low ends   {separate_ns:9.1} ns");
    println!("a hydrant made ready                       {ready_ns:9.1} ns");
    println!("a template with its tables                 {template_ns:9.1} ns");
    println!("exact: Lay::new and alone_gpm              {exact_gpm_ns:9.1} ns");
    println!("exact: Lay::new and answer                 {exact_ns:9.1} ns");
    Ok(if alone_ns <= MOST_PAIR_NS { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// Median over short batches of the time for one call: on a busy machine most of them run through without a break.
fn median_ns<I, O>(inputs: &[I], work: impl Fn(&I) -> O) -> f64 {
    let mut calls_ns: Vec<f64> = (0..ROUNDS)
        .flat_map(|_| inputs.chunks(BATCH))
        .map(|batch| {
            let start = Instant::now();
            for input in batch {
                black_box(work(black_box(input)));
            }
            start.elapsed().as_secs_f64() * 1e9 / batch.iter().map(|_| 1.0).sum::<f64>()
        })
        .collect();
    calls_ns.sort_by(f64::total_cmp);
    calls_ns[calls_ns.len() / 2]
}

/// Each place asks forty hydrants near it; places near each other ask the same ones.
fn pairs(hydrants: usize) -> Vec<Pair> {
    let mut seed = 1_u32;
    let mut next = move || {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(seed >> 8) / f64::from(1 << 24)
    };
    let places = 0..5000_usize;
    let near = places.flat_map(|place| (0..40).map(move |i| (place / 5 + i) % hydrants));
    near.map(|at| (at, 50.0 + 2500.0 * next(), 60.0 * next() - 30.0)).collect()
}

/// A thousand mains of every strength, one in twenty without a drop.
fn sources() -> Result<Vec<Source>, Box<dyn Error>> {
    let source = |i: u32| -> Result<Source, Box<dyn Error>> {
        let (static_psi, share) = (f64::from(45 + i % 61), f64::from(i % 20) * 0.03);
        let curve = SupplyCurve::new(
            Pressure::from_psi(static_psi)?,
            Pressure::from_psi(static_psi * (1.0 - share))?,
            PositiveFlow::from_gpm(f64::from(400 + 37 * (i % 53)))?,
        )?;
        let body_loss = Some(ApplianceCoefficient::from_psi_per_100gpm2(0.05)?);
        Ok(Source { curve, body_loss, body_loss_assumed: true, spread: SourceSpread::of_numbers() })
    };
    (0..1000).map(source).collect()
}

/// A hydrant valve, 5-inch hose with its markings, and a pumper.
fn template() -> Result<LayProblem, Box<dyn Error>> {
    let k = ApplianceCoefficient::from_psi_per_100gpm2;
    let valve = HydrantValve {
        through: k(0.22)?,
        to_pump: k(0.10)?,
        from_pump: k(0.05)?,
        to_pump_hose: None,
        from_pump_hose: None,
        assumed: true,
        spread: ValveSpread::ASSUMED,
    };
    let mut hose = Hose::new(HoseCoefficient::from_psi_per_100gpm2_100ft(0.08)?, Length::from_ft(1000.0)?, 1)?;
    hose.max_operating = Some(Pressure::from_psi(185.0)?);
    let pumper = Pumper {
        curve: PumpCurve::from_rating(PositiveFlow::from_gpm(1500.0)?),
        intake_floor: Pressure::from_psi(20.0)?,
        max_discharge: None,
    };
    Ok(LayProblem {
        source: sources()?.first().copied().ok_or("no source")?,
        parts: vec![Part::HydrantValve(valve), Part::Hose(hose)],
        rise: None,
        boost: Some(pumper),
        main_floor: Pressure::from_psi(20.0)?,
        scene_floor: Pressure::from_psi(20.0)?,
        target: None,
        fill_flow: None,
        tank: None,
    })
}
