//! The template's pumper: what its hose's markings and its own curve let through.

use alloc::vec::Vec;

use crate::bulk::Powers;
use crate::lay::build::build;
use crate::lay::compile::lesser;
use crate::lay::parts::LayProblem;
use crate::loss::PSI_PER_FOOT;
use crate::pumper::Pumper;
use crate::quantity::{Pressure, Rise};
use crate::supply::DROP_EXPONENT;

/// The pumper that joins the template.
#[derive(Debug, Clone)]
pub(super) struct Boost {
    pub(super) intake_floor_psi: f64,
    max_discharge_psi: Option<f64>,
    marked: Marked,
    points: Vec<Point>,
}

/// A point of the pumper's curve, the first of them at no flow, with the stretch that leads to it from the one before.
#[derive(Debug, Clone, Copy)]
struct Point {
    gpm: f64,
    net_psi: f64,
    /// The flow to the power that a main's drop goes with.
    power: f64,
    /// How net pressure changes along the stretch, psi per gpm.
    slope: f64,
    /// How `power` changes with the square of the flow along the stretch.
    bend: f64,
}

/// The markings after the pumper. What lies before the rise sees the pressure at the pumper's height, the supply hose that of the lower of its
/// ends, what stands at the scene that of the scene.
#[derive(Debug, Clone, Copy)]
struct Marked {
    level: Option<f64>,
    /// Of what does not stand higher than the pumper when the scene does.
    low: Option<f64>,
    /// Of what lies lower than the pumper when the scene does.
    fallen: Option<f64>,
}

impl Marked {
    fn of(problem: &LayProblem) -> Self {
        let at = |feet: f64| {
            let problem = LayProblem { rise: Rise::from_ft(feet).ok(), ..problem.clone() };
            build(&problem, true).sections.last().and_then(|section| section.marking_psi)
        };
        // So far down or up no marking that moves with the scene can be mistaken for one that does not.
        let (top, bottom) = (at(Rise::BOUND.max), at(Rise::BOUND.min));
        Self {
            level: at(0.0),
            low: top.filter(|psi| *psi <= Pressure::BOUND.max),
            fallen: bottom.filter(|psi| *psi < 0.0).map(|psi| psi - PSI_PER_FOOT * Rise::BOUND.min),
        }
    }

    /// The most that the pumper may discharge with the scene so much higher, psi.
    fn psi(self, rise_psi: f64) -> Option<f64> {
        if rise_psi >= 0.0 {
            return lesser(self.level.map(|psi| psi + rise_psi), self.low);
        }
        lesser(self.level, self.fallen.map(|psi| psi + rise_psi))
    }
}

/// Two pressures nearer than this share of themselves are one.
pub(super) const SAME: f64 = 1e-9;
/// After a step of no more than this share, what is left is less than [`LEFT`].
const LAST_STEP: f64 = 1e-4;
const LEFT: f64 = 2e-8;

impl Boost {
    pub(super) fn new(problem: &LayProblem, pumper: &Pumper) -> Self {
        let mut points: Vec<Point> = Vec::new();
        let first_psi = pumper.curve.points().first().map_or(0.0, |point| point.net.psi());
        let read = pumper.curve.points().iter().map(|point| (point.flow.gpm(), point.net.psi()));
        for (gpm, net_psi) in [(0.0, first_psi)].into_iter().chain(read) {
            let power = if gpm > 0.0 { libm::pow(gpm, DROP_EXPONENT) } else { 0.0 };
            let (slope, bend) = points.last().map_or((0.0, 0.0), |low| {
                let bend = (power - low.power) / (gpm * gpm - low.gpm * low.gpm);
                ((net_psi - low.net_psi) / (gpm - low.gpm), bend)
            });
            points.push(Point { gpm, net_psi, power, slope, bend });
        }
        Self {
            intake_floor_psi: pumper.intake_floor.psi(),
            max_discharge_psi: pumper.max_discharge.map(Pressure::psi),
            marked: Marked::of(problem),
            points,
        }
    }

    /// The most that the hose's markings let through, gpm, under a loss of `k` psi per gpm²; none where nothing is marked.
    pub(super) fn hose_gpm(&self, k: f64, rise_psi: f64, need_psi: f64) -> f64 {
        let Some(ceiling) = lesser(self.max_discharge_psi, self.marked.psi(rise_psi)) else { return f64::INFINITY };
        let head = ceiling - need_psi;
        if head > 0.0 { libm::sqrt(head / k) * (1.0 - SAME) } else { 0.0 }
    }

    /// Whether what presses is enough for a flow, by the power of it that a main's drop goes with: where it is not, the pumper's capacity is less.
    pub(super) fn carries(&self, gpm: f64, power: f64, mut pushes: impl Iterator<Item = Push>) -> bool {
        let Some(high) = self.points.iter().find(|point| gpm <= point.gpm) else { return false };
        let net_psi = high.net_psi - high.slope * (high.gpm - gpm);
        pushes.all(|push| push.spare(gpm, power, net_psi) >= -SAME * (push.main_psi + net_psi))
    }

    /// What all that is asked near a capacity has in common; none where that lies on a point of the curve.
    pub(super) fn near(&self, powers: &Powers, gpm: f64) -> Option<Near> {
        let stretches = self.points.iter().zip(self.points.iter().skip(1));
        let (low, high) = stretches.into_iter().find(|(low, high)| low.gpm < gpm && gpm < high.gpm)?;
        let net_psi = low.net_psi + high.slope * (gpm - low.gpm);
        Some(Near { gpm, power: powers.at(gpm), net_psi, low: *low, high: *high })
    }

    /// The last flow of its curve, gpm: it brings no more.
    pub(super) fn rated_gpm(&self) -> f64 {
        self.points.last().map_or(0.0, |point| point.gpm)
    }

    /// How net pressure changes with the flow, psi per gpm; at the rating as if nothing would bring more.
    pub(super) fn net_slope(&self, gpm: f64) -> f64 {
        self.points.iter().find(|point| gpm < point.gpm).map_or(f64::NEG_INFINITY, |point| point.slope)
    }

    /// The most that the pumper can, gpm: the largest flow at which `main + net - k Q²` is not under what is needed.
    pub(super) fn capacity_gpm(&self, powers: &Powers, push: Push) -> f64 {
        let spare = |point: &Point| push.spare(point.gpm, point.power, point.net_psi);
        let Some((mut high, lower)) = self.points.split_last() else { return 0.0 };
        if spare(high) > SAME * (push.main_psi + high.net_psi) {
            return high.gpm;
        }
        for low in lower.iter().rev() {
            if spare(low) >= 0.0 {
                return push.along(powers, low, high);
            }
            high = low;
        }
        0.0
    }
}

/// What presses and what is lost, whatever flows: `main_psi - drop Q^n + net(Q) - k Q² >= need_psi`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Push {
    pub(super) main_psi: f64,
    pub(super) drop: f64,
    pub(super) k: f64,
    pub(super) need_psi: f64,
}

impl Push {
    fn spare(&self, gpm: f64, power: f64, net_psi: f64) -> f64 {
        self.main_psi - self.drop * power + net_psi - self.k * gpm * gpm - self.need_psi
    }

    /// Where the spare pressure is used up between two points.
    ///
    /// With the main's power as straight in the square of the flow this is a quadratic, whose root is over, for the power bends downwards against the
    /// square. From there Newton's steps stay over, and each leaves less than the square of itself.
    fn along(&self, powers: &Powers, low: &Point, high: &Point) -> f64 {
        const MOST_STEPS: usize = 20;
        let (a, b) = (self.k + self.drop * high.bend, -high.slope);
        let c = self.spare(0.0, low.power - high.bend * low.gpm * low.gpm, low.net_psi - high.slope * low.gpm);
        if c <= 0.0 {
            return low.gpm * (1.0 - SAME);
        }
        let mut gpm = (2.0 * c / (b + libm::sqrt(b * b + 4.0 * a * c))).clamp(low.gpm, high.gpm);
        for _ in 0..if self.drop > 0.0 { MOST_STEPS } else { 0 } {
            let step = self.step(powers, low, high, gpm);
            gpm += step;
            if step.abs() <= LAST_STEP * gpm {
                break;
            }
        }
        (gpm * (1.0 - LEFT)).clamp(low.gpm * (1.0 - SAME), high.gpm)
    }

    /// Newton's step from a flow on the stretch between two points.
    fn step(&self, powers: &Powers, low: &Point, high: &Point, gpm: f64) -> f64 {
        let power = powers.at(gpm);
        let spare = self.spare(gpm, power, low.net_psi + high.slope * (gpm - low.gpm));
        spare / (DROP_EXPONENT * self.drop * power / gpm + 2.0 * self.k * gpm - high.slope)
    }

    /// Where the spare pressure is used up, sought from a flow near it: one step by slope and bend, for which nothing has to be looked up again, and one of
    /// Newton's. None where that does not find it.
    pub(super) fn used_up_near(&self, powers: &Powers, near: &Near) -> Option<f64> {
        let Near { gpm: from, power, net_psi, low, high } = near;
        let lost = DROP_EXPONENT * self.drop * power / from;
        let per_falls = 1.0 / (lost + 2.0 * self.k * from - high.slope);
        let straight = self.spare(*from, *power, *net_psi) * per_falls;
        let bends = (DROP_EXPONENT - 1.0) * lost / from + 2.0 * self.k;
        let gpm = from + straight - 0.5 * straight * straight * bends * per_falls;
        let on_stretch = |gpm: f64| low.gpm < gpm && gpm < high.gpm;
        if !on_stretch(gpm) {
            return None;
        }
        let step = self.step(powers, low, high, gpm);
        let found = on_stretch(gpm + step) && step.abs() <= LAST_STEP * gpm;
        found.then_some((gpm + step) * (1.0 - LEFT))
    }
}

/// A flow on a stretch of the pumper's curve, with what does not change from one push to another.
pub(super) struct Near {
    gpm: f64,
    power: f64,
    net_psi: f64,
    low: Point,
    high: Point,
}
