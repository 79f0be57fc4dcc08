//! A lay taken apart, and a lay with one thing changed, for the laws that compare two.

use longlay_hydraulics::lay::{Branch, BranchPart, LayProblem, Part};
use longlay_hydraulics::loss::Hose;
use longlay_hydraulics::pumper::Pumper;
use longlay_hydraulics::quantity::{HoseCoefficient, Length};

/// The same problem with every hose changed, those of branches included.
pub(crate) fn with_hoses(problem: &LayProblem, change: impl Fn(Hose) -> Hose) -> LayProblem {
    let mut changed = problem.clone();
    for part in &mut changed.parts {
        match part {
            Part::Hose(line) => *line = change(*line),
            Part::Parallel(branches) => {
                for piece in branches.iter_mut().flat_map(|branch| &mut branch.parts) {
                    if let BranchPart::Hose(line) = piece {
                        *line = change(*line);
                    }
                }
            }
            _ => {}
        }
    }
    changed
}

/// The hose with another coefficient or number of lines, all else kept.
pub(crate) fn rebuilt(line: Hose, coefficient_factor: f64, lines: u8) -> Hose {
    let n = f64::from(line.lines());
    let c = line.squared_coefficient() * n * n / line.length().ft() * 100.0;
    let c = HoseCoefficient::from_psi_per_100gpm2_100ft(c * coefficient_factor).unwrap();
    let mut built = Hose::new(c, line.length(), lines).unwrap();
    (built.diameter, built.max_operating, built.service_test) = (line.diameter, line.max_operating, line.service_test);
    built
}

pub(crate) fn longer(line: Hose, factor: f64) -> Hose {
    line.with_length(Length::from_ft(line.length().ft() * factor).unwrap())
}

/// The pumpers of a lay, hydrant to scene.
pub(crate) fn pumpers_of(lay: &LayProblem) -> Vec<&Pumper> {
    let written = lay.parts.iter().filter_map(|part| if let Part::Pumper(pumper) = part { Some(pumper) } else { None });
    lay.boost.iter().chain(written).collect()
}

/// Distance laid: lines side by side count as the longest of them.
pub(crate) fn total_ft(lay: &LayProblem) -> f64 {
    let branch_ft = |branch: &Branch| -> f64 {
        let feet = |piece: &BranchPart| if let BranchPart::Hose(line) = piece { line.length().ft() } else { 0.0 };
        branch.parts.iter().map(feet).sum()
    };
    let feet = |part: &Part| match part {
        Part::Hose(line) => line.length().ft(),
        Part::Parallel(branches) => branches.iter().map(branch_ft).fold(0.0, f64::max),
        _ => 0.0,
    };
    lay.parts.iter().map(feet).sum()
}

/// The longest hose, the first among equals.
pub(crate) fn longest_hose(lay: &mut LayProblem) -> Option<&mut Hose> {
    let hoses = lay.parts.iter_mut().filter_map(|part| if let Part::Hose(line) = part { Some(line) } else { None });
    hoses.reduce(|longest, line| if line.length() > longest.length() { line } else { longest })
}
