//! What makes up the loss of each part of a lay, figure by figure.

use alloc::vec;
use alloc::vec::Vec;

use crate::calibrate::Unknown;
use crate::lay::budget::PartKind;
use crate::lay::compile::{Element, Lay};
use crate::lay::parts::{Branch, BranchPart, Part};
use crate::loss::{Appliance, ApplianceLoss, Hose, HydrantValve};
use crate::parallel_lines::equivalent_squared;
use crate::quantity::{ApplianceCoefficient, Bound, HoseCoefficient, Pressure};
use crate::spread::Spread;

/// Which figure of a lay it is. Numbers are places in [`crate::lay::LayProblem::parts`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoefficientOf {
    /// The hydrant's own body.
    HydrantBody,
    /// Hose.
    Hose(usize),
    /// An appliance.
    Appliance(usize),
    /// A hydrant valve, unboosted.
    ValveThrough(usize),
    /// A hydrant valve's leg to the pumper.
    ValveToPump(usize),
    /// A hydrant valve's leg from the pumper.
    ValveFromPump(usize),
    /// The hose from a hydrant valve to the pumper.
    HoseToPump(usize),
    /// The hose from the pumper to a hydrant valve.
    HoseFromPump(usize),
    /// Hose or an appliance of one of several lines side by side.
    Piece {
        /// The part.
        part: usize,
        /// The branch in it.
        branch: usize,
        /// Its place in the branch.
        piece: usize,
    },
    /// Several lines side by side of which one steps: told only as a whole.
    SteppedGroup(usize),
}

/// One figure's share of a stretch's loss: its value times its factor, psi.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    /// Which.
    pub of: CoefficientOf,
    /// The figure as it stands now, and how far it may be off.
    pub unknown: Unknown,
    /// What it costs for each unit of the figure at the flow, psi.
    pub factor: f64,
}

impl Lay {
    /// What an element of a section takes at a flow, figure by figure; a rise has none.
    pub(super) fn terms(&self, element: &Element, section: usize, gpm: f64, terms: &mut Vec<Term>) {
        let squared = (gpm / 100.0) * (gpm / 100.0);
        let mut valve_leg = |of, k: ApplianceCoefficient, spread| terms.push(squared_term(of, k, spread, squared));
        let Some(i) = element.part.index else {
            if let Some(k) = self.problem.source.body_loss {
                valve_leg(CoefficientOf::HydrantBody, k, Spread::ASSUMED_LOSS);
            }
            return;
        };
        match (element.part.kind, &self.problem.parts[i]) {
            (_, Part::Hose(hose)) => terms.push(hose_term(CoefficientOf::Hose(i), hose, squared)),
            (_, Part::Appliance(appliance)) => {
                terms.push(appliance_term(CoefficientOf::Appliance(i), appliance, gpm));
            }
            (_, Part::Parallel(branches)) => {
                let whole = element.loss.psi(gpm);
                terms.extend(parallel_terms(i, branches, whole, gpm));
            }
            (PartKind::ValveThrough, Part::HydrantValve(v)) => {
                valve_leg(CoefficientOf::ValveThrough(i), v.through, v.spread.through);
            }
            (PartKind::ValveToPump, Part::HydrantValve(v)) => {
                valve_leg(CoefficientOf::ValveToPump(i), v.to_pump, v.spread.to_pump);
            }
            (PartKind::ValveFromPump, Part::HydrantValve(v)) => {
                valve_leg(CoefficientOf::ValveFromPump(i), v.from_pump, v.spread.from_pump);
            }
            (_, Part::HydrantValve(valve)) => terms.extend(connecting_term(i, valve, section, squared)),
            (_, Part::Rise(_) | Part::Pumper(_)) => {}
        }
    }
}

fn term(of: CoefficientOf, value: f64, spread: Spread, bound: Bound, factor: f64) -> Term {
    Term { of, unknown: Unknown { value, spread, bound }, factor }
}

fn squared_term(of: CoefficientOf, k: ApplianceCoefficient, spread: Spread, squared: f64) -> Term {
    term(of, k.psi_per_100gpm2(), spread, ApplianceCoefficient::BOUND, squared)
}

fn hose_term(of: CoefficientOf, hose: &Hose, squared: f64) -> Term {
    let lines = f64::from(hose.lines());
    let factor = squared * hose.length().ft() / 100.0 / (lines * lines);
    term(of, hose.coefficient().psi_per_100gpm2_100ft(), hose.spread, HoseCoefficient::BOUND, factor)
}

fn appliance_term(of: CoefficientOf, appliance: &Appliance, gpm: f64) -> Term {
    match appliance.loss {
        ApplianceLoss::Squared(k) => squared_term(of, k, appliance.spread, (gpm / 100.0) * (gpm / 100.0)),
        ApplianceLoss::Step { fixed, at_or_above } => {
            let stands = if gpm >= at_or_above.gpm() { 1.0 } else { 0.0 };
            term(of, fixed.psi(), appliance.spread, Pressure::BOUND, stands)
        }
    }
}

/// The valve stands in front of its pumper, so that its section tells which of its two hoses it is.
fn connecting_term(i: usize, valve: &HydrantValve, section: usize, squared: f64) -> Option<Term> {
    let (of, hose) = if section == 0 {
        (CoefficientOf::HoseToPump(i), &valve.to_pump_hose)
    } else {
        (CoefficientOf::HoseFromPump(i), &valve.from_pump_hose)
    };
    hose.as_ref().map(|hose| hose_term(of, hose, squared))
}

/// Each piece by what the group's loss changes with it. A group without steps loses in proportion to all its coefficients together, so that the
/// terms sum to its loss.
fn parallel_terms(part: usize, branches: &[Branch], whole_psi: f64, gpm: f64) -> Vec<Term> {
    let steps =
        |piece: &BranchPart| matches!(piece, BranchPart::Appliance(Appliance { loss: ApplianceLoss::Step { .. }, .. }));
    if branches.iter().any(|branch| branch.parts.iter().any(steps)) {
        let of = CoefficientOf::SteppedGroup(part);
        return vec![term(of, whole_psi, Spread::ASSUMED_LOSS, Pressure::BOUND, 1.0)];
    }
    let squared = (gpm / 100.0) * (gpm / 100.0);
    let pieces: Vec<Vec<Term>> = branches
        .iter()
        .enumerate()
        .map(|(b, branch)| {
            let of = |piece| CoefficientOf::Piece { part, branch: b, piece };
            let piece = |(i, piece): (usize, &BranchPart)| match piece {
                BranchPart::Hose(hose) => hose_term(of(i), hose, squared),
                BranchPart::Appliance(appliance) => appliance_term(of(i), appliance, gpm),
            };
            branch.parts.iter().enumerate().map(piece).collect()
        })
        .collect();
    let resistances: Vec<f64> = pieces.iter().map(|terms| terms.iter().map(Term::loss_psi).sum()).collect();
    let together = equivalent_squared(resistances.iter().copied());
    let weighted = pieces.into_iter().zip(resistances).flat_map(|(terms, own)| {
        let share = together / own;
        let weight = share * libm::sqrt(share);
        terms.into_iter().map(move |term| Term { factor: term.factor * weight, ..term })
    });
    weighted.collect()
}

impl Term {
    /// Its share of the loss, psi.
    pub fn loss_psi(&self) -> f64 {
        self.unknown.value * self.factor
    }
}
