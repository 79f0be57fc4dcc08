//! What the template's pairs are read off.

use crate::bulk::{Powers, Shape};
use crate::lay::many::boost::Boost;
use crate::lay::many::legs::{LEGS, Leg, legs};
use crate::lay::many::ready::{HOSE, LOSSES, Main, Ready};
use crate::lay::parts::LayProblem;
use crate::quantity::Flow;
use crate::supply::DROP_EXPONENT;

/// Of the head in [`Main::bend`]'s formula.
const HEAD_EXPONENT: f64 = 1.0 - 2.0 / DROP_EXPONENT;
/// A hair for the rounding.
const OVER: f64 = 1.0 + 1e-12;

/// A template that loses by squares only, with the tables for it.
#[derive(Debug, Clone)]
pub(super) struct Tables {
    shape: Shape,
    /// Heads to the power of `1 - 2/n`.
    heads: Powers,
    /// Flows to the power of n.
    pub(super) flows: Powers,
    pub(super) legs: [Leg; LEGS],
    pub(super) boost: Option<Boost>,
    pub(super) scene_floor_psi: f64,
}

impl Tables {
    /// None for a template that only the exact solver can work.
    pub(super) fn new(problem: &LayProblem, supply: usize) -> Option<Self> {
        Some(Self {
            legs: legs(problem, supply)?,
            shape: Shape::new(),
            heads: Powers::of(HEAD_EXPONENT),
            flows: Powers::of(DROP_EXPONENT),
            boost: problem.boost.as_ref().map(|pumper| Boost::new(problem, pumper)),
            scene_floor_psi: problem.scene_floor.psi(),
        })
    }

    /// The leg that a case works.
    pub(super) fn leg(&self, case: usize) -> &Leg {
        match case {
            HOSE => &self.legs[1],
            LOSSES => &self.legs[2],
            _ => &self.legs[0],
        }
    }

    /// What the way to the pumper loses, psi per gpm².
    pub(super) fn to_pump(&self, ready: &Ready, case: usize) -> f64 {
        ready.body_of(case) + self.leg(case).to_pump
    }

    /// The power of a head that the reach wants; a head of nothing has none.
    pub(super) fn bend_of(&self, head_psi: f64) -> f64 {
        if head_psi >= Powers::LEAST { self.heads.at(head_psi) } else { libm::pow(head_psi, HEAD_EXPONENT) * OVER }
    }

    /// The most that a main presses through a loss of `k` psi per gpm² with so much left after it, gpm.
    pub(super) fn reach_gpm(&self, main: &Main, k: f64, need_psi: f64) -> f64 {
        let head = main.static_psi - need_psi;
        if head > 0.0 {
            return self.through_gpm(head, main.bend * self.bend_of(head), k);
        }
        // Where nothing is lost, or nothing that a float can say, a head of nothing is enough.
        let most = Flow::BOUND.max;
        let enough = main.bend == 0.0 && main.static_psi - k * most * most * OVER - need_psi >= 0.0;
        if enough { most } else { 0.0 }
    }

    /// The flow at which a main and a lay take a head, gpm; `main` is `h / Qm²`, `k` that of the lay.
    pub(super) fn through_gpm(&self, head: f64, main: f64, k: f64) -> f64 {
        let by_square = 1.0 / (main + k);
        let gpm = self.shape.at(main * by_square) * libm::sqrt(head * by_square);
        gpm.min(Flow::BOUND.max)
    }
}
