//! What a solve costs, against the one `pow` that every look at a supply curve needs.
//!
//! Ends with failure when a hose lay takes more than [`MOST_POWS`] `pow`, or a whole answer with its bands more than [`MOST_ANSWER_US`].

use std::error::Error;
use std::hint::black_box;
use std::process::ExitCode;
use std::time::Instant;

use longlay_hydraulics::lay::{Lay, LayProblem, Part, Source};
use longlay_hydraulics::loss::{Hose, HydrantValve, ValveSpread};
use longlay_hydraulics::pumper::{PumpCurve, Pumper};
use longlay_hydraulics::quantity::{
    ApplianceCoefficient, HoseCoefficient, Length, OutOfBounds, PositiveFlow, Pressure, Rise,
};
use longlay_hydraulics::spread::SourceSpread;
use longlay_hydraulics::supply::{DROP_EXPONENT, SupplyCurve};

const MOST_POWS: f64 = 20.0;
const MOST_ANSWER_US: f64 = 100.0;
const BATCHES: usize = 15;

fn main() -> Result<ExitCode, Box<dyn Error>> {
    let shares: Vec<f64> = (1..=1000_u32).map(|i| 0.003 * f64::from(i)).collect();
    let pow_ns = median_ns(&shares, 200, |share| libm::pow(*share, DROP_EXPONENT));

    let problems = hose_lays()?;
    let lays = problems.iter().cloned().map(Lay::new).collect::<Result<Vec<_>, _>>()?;
    let solve_ns = median_ns(&lays, 2000, Lay::alone_gpm);
    // The copy is the caller's to make, and not part of the check and the compilation.
    let copy_ns = median_ns(&problems, 2000, LayProblem::clone);
    let new_ns = median_ns(&problems, 2000, |problem| Lay::new(problem.clone())) - copy_ns;

    let worked = [worked_example()?];
    let answer_us = median_ns(&worked, 2000, |problem| Lay::new(problem.clone()).map(|lay| lay.answer())) / 1000.0;

    let pows = solve_ns / pow_ns;
    println!("pow                                    {pow_ns:8.1} ns");
    println!("Lay::alone_gpm of a hose lay           {solve_ns:8.1} ns = {pows:.1} pow (at most {MOST_POWS})");
    println!("Lay::new of a hose lay                 {new_ns:8.1} ns");
    println!("Lay::new and answer with its bands     {answer_us:8.2} us (under {MOST_ANSWER_US})");
    let good = pows <= MOST_POWS && answer_us < MOST_ANSWER_US;
    Ok(if good { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// Median over the batches of the time for one call, each batch going `rounds` times through the inputs.
fn median_ns<I, O>(inputs: &[I], rounds: u32, work: impl Fn(&I) -> O) -> f64 {
    let mut batches: Vec<f64> = (0..BATCHES)
        .map(|_| {
            let start = Instant::now();
            for _ in 0..rounds {
                for input in inputs {
                    black_box(work(black_box(input)));
                }
            }
            start.elapsed().as_secs_f64() * 1e9
        })
        .collect();
    batches.sort_by(f64::total_cmp);
    let calls = inputs.iter().map(|_| f64::from(rounds)).sum::<f64>();
    batches[BATCHES / 2] / calls
}

/// Strong, fair and weak mains, four hose sizes, short and long, on the level and uphill.
fn hose_lays() -> Result<Vec<LayProblem>, Box<dyn Error>> {
    let mut lays = Vec::new();
    for (static_psi, residual_psi, tested_gpm) in
        [(60.0, 40.0, 600.0), (90.0, 75.0, 1500.0), (45.0, 25.0, 350.0), (120.0, 60.0, 2200.0)]
    {
        let curve = SupplyCurve::new(
            Pressure::from_psi(static_psi)?,
            Pressure::from_psi(residual_psi)?,
            PositiveFlow::from_gpm(tested_gpm)?,
        )?;
        let source = Source {
            curve,
            body_loss: Some(ApplianceCoefficient::from_psi_per_100gpm2(0.05)?),
            body_loss_assumed: true,
            spread: SourceSpread::of_numbers(),
        };
        for c in [2.0, 0.8, 0.2, 0.08] {
            for (feet, rise) in [(100.0, 0.0), (500.0, 10.0), (1000.0, 0.0), (2000.0, -15.0)] {
                let parts = vec![Part::Hose(hose(c, feet)?), Part::Rise(Rise::from_ft(rise)?)];
                lays.push(problem(source, parts)?);
            }
        }
    }
    Ok(lays)
}

/// The worked example of the crate's tests: a 60/40 main at 600 gpm, a hydrant valve, 1000 ft of 5-inch, a pumper, and 600 gpm wanted.
fn worked_example() -> Result<LayProblem, Box<dyn Error>> {
    let curve = SupplyCurve::new(Pressure::from_psi(60.0)?, Pressure::from_psi(40.0)?, PositiveFlow::from_gpm(600.0)?)?;
    let k = ApplianceCoefficient::from_psi_per_100gpm2;
    let source =
        Source { curve, body_loss: Some(k(0.05)?), body_loss_assumed: false, spread: SourceSpread::of_numbers() };
    let valve = HydrantValve {
        through: k(0.22)?,
        to_pump: k(0.10)?,
        from_pump: k(0.05)?,
        to_pump_hose: None,
        from_pump_hose: None,
        assumed: false,
        spread: ValveSpread::ASSUMED,
    };
    let parts = vec![Part::HydrantValve(valve), Part::Hose(hose(0.08, 1000.0)?)];
    let pumper = Pumper {
        curve: PumpCurve::from_rating(PositiveFlow::from_gpm(1500.0)?),
        intake_floor: Pressure::from_psi(20.0)?,
        max_discharge: None,
    };
    Ok(LayProblem { boost: Some(pumper), target: Some(PositiveFlow::from_gpm(600.0)?), ..problem(source, parts)? })
}

fn hose(c: f64, feet: f64) -> Result<Hose, Box<dyn Error>> {
    Ok(Hose::new(HoseCoefficient::from_psi_per_100gpm2_100ft(c)?, Length::from_ft(feet)?, 1)?)
}

fn problem(source: Source, parts: Vec<Part>) -> Result<LayProblem, OutOfBounds> {
    Ok(LayProblem {
        source,
        parts,
        rise: None,
        boost: None,
        main_floor: Pressure::from_psi(20.0)?,
        scene_floor: Pressure::from_psi(20.0)?,
        target: None,
        fill_flow: None,
        tank: None,
    })
}
