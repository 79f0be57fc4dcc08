//! The template's losses, straight in the length of its supply hose.

use crate::band::Uncertain;
use crate::lay::budget::PartKind;
use crate::lay::build::build;
use crate::lay::compile::Loss;
use crate::lay::compile::{Line, Section};
use crate::lay::parts::{LayProblem, Part};
use crate::spread::End;

/// A squared loss that grows with the length, psi per gpm².
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretched {
    fixed: f64,
    per_ft: f64,
}

impl Stretched {
    pub(super) fn at(self, length_ft: f64) -> f64 {
        self.fixed + self.per_ft * length_ft
    }
}

/// What the template loses, without the hydrant's body.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Leg {
    /// From the hydrant to the scene, no pumper.
    pub(super) alone: Stretched,
    /// From the hydrant to the pumper's intake, psi per gpm².
    pub(super) to_pump: f64,
    /// From the pumper's discharge to the scene.
    pub(super) from_pump: Stretched,
}

/// As read, with all hose at its worse end, and with all other losses at theirs.
pub(super) const LEGS: usize = 3;

/// The legs of a template that loses by squares only and whose pumper, if any, joins before the supply hose; else none.
pub(super) fn legs(problem: &LayProblem, supply: usize) -> Option<[Leg; LEGS]> {
    if problem.parts.iter().any(|part| matches!(part, Part::Pumper(_))) {
        return None;
    }
    let worse = |input| leg(&problem.with(input, End::High), supply);
    Some([leg(problem, supply)?, worse(Uncertain::Hose)?, worse(Uncertain::Losses)?])
}

fn leg(problem: &LayProblem, supply: usize) -> Option<Leg> {
    let alone = stretched(&build(problem, false).sections[0], supply)?;
    let Line { sections, .. } = build(problem, true);
    match &sections[..] {
        [_] => Some(Leg { alone, to_pump: 0.0, from_pump: alone }),
        [to_pump, from_pump] => {
            let to_pump = stretched(to_pump, supply).filter(|to_pump| to_pump.per_ft == 0.0)?;
            let from_pump = stretched(from_pump, supply).filter(|from_pump| from_pump.per_ft > 0.0)?;
            Some(Leg { alone, to_pump: to_pump.fixed, from_pump })
        }
        _ => None,
    }
}

fn stretched(section: &Section, supply: usize) -> Option<Stretched> {
    let (mut fixed, mut per_ft) = (0.0, 0.0);
    for element in &section.elements {
        match element.loss {
            _ if element.part.kind == PartKind::HydrantBody => {}
            Loss::Squared(k) if element.part.kind == PartKind::Hose && element.part.index == Some(supply) => {
                per_ft += k / element.length_ft / 1e4;
            }
            Loss::Squared(k) => fixed += k / 1e4,
            // The template's own rise is level.
            Loss::Rise(_) => {}
            Loss::Step { .. } | Loss::Parallel(_) => return None,
        }
    }
    Some(Stretched { fixed, per_ft })
}
