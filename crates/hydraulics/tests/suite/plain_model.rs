//! The model the slow way: a lay walked part by part, with no closed forms, no slopes and no shared code, to judge the limits by.

use longlay_hydraulics::lay::{BranchPart, LayProblem, Limit, Part, Station};
use longlay_hydraulics::loss::{Appliance, ApplianceLoss, Hose};
use longlay_hydraulics::pumper::{PumpCurve, Pumper};
use longlay_hydraulics::quantity::{ApplianceCoefficient, Pressure};
use longlay_hydraulics::supply::SupplyCurve;

/// One thing on the way, with the marking of what is pressed there.
enum Piece {
    Squared(f64),
    Hose(f64, Option<f64>),
    Appliance(ApplianceLoss, Option<f64>),
    Parallel(Vec<Vec<ApplianceOrHose>>, Option<f64>),
    Rise(f64),
}

#[derive(Clone, Copy)]
enum ApplianceOrHose {
    Squared(f64),
    Step(f64, f64),
}

/// One working of a lay: the stretches between its pumpers.
pub(crate) struct PlainLine {
    curve: SupplyCurve,
    stretches: Vec<Vec<Piece>>,
    pumpers: Vec<Pumper>,
    main_floor: f64,
    scene_floor: f64,
}

fn squared(k: f64, gpm: f64) -> f64 {
    k * (gpm / 100.0).powi(2)
}

fn hose_k(hose: &Hose) -> f64 {
    // The public coefficient is checked by the published friction rows.
    hose.squared_coefficient()
}

fn appliance_psi(loss: &ApplianceLoss, gpm: f64) -> f64 {
    match loss {
        ApplianceLoss::Squared(k) => squared(k.psi_per_100gpm2(), gpm),
        ApplianceLoss::Step { fixed, at_or_above } => {
            if gpm >= at_or_above.gpm() {
                fixed.psi()
            } else {
                0.0
            }
        }
    }
}

fn rating(hose: &Hose) -> Option<f64> {
    let marked = hose.max_operating.map(Pressure::psi);
    let tested = hose.service_test.map(|p| 0.9 * p.psi());
    [marked, tested].into_iter().flatten().reduce(f64::min)
}

/// The largest argument at which a rising function does not exceed a limit, by plain halving.
fn most(limit: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let mut low = 0.0;
    for _ in 0..100 {
        let mid = f64::midpoint(low, high);
        if f(mid) <= limit {
            low = mid;
        } else {
            high = mid;
        }
    }
    low
}

fn branch_psi(branch: &[ApplianceOrHose], gpm: f64) -> f64 {
    let of = |piece: &ApplianceOrHose| match *piece {
        ApplianceOrHose::Squared(k) => squared(k, gpm),
        ApplianceOrHose::Step(fixed, from) if gpm >= from => fixed,
        ApplianceOrHose::Step(..) => 0.0,
    };
    branch.iter().map(of).sum()
}

fn parallel_psi(branches: &[Vec<ApplianceOrHose>], gpm: f64) -> f64 {
    let all_in_one = branches.iter().map(|branch| branch_psi(branch, gpm)).fold(f64::MAX, f64::min);
    let total = |psi: f64| branches.iter().map(|branch| most(psi, gpm * 1.001 + 1.0, |q| branch_psi(branch, q))).sum();
    most(gpm, all_in_one * 1.001 + 1.0, total)
}

impl Piece {
    fn psi(&self, gpm: f64) -> f64 {
        match self {
            Self::Squared(k) | Self::Hose(k, _) => squared(*k, gpm),
            Self::Appliance(loss, _) => appliance_psi(loss, gpm),
            Self::Parallel(branches, _) => parallel_psi(branches, gpm),
            Self::Rise(feet) => 0.434 * feet,
        }
    }

    fn is_hose(&self) -> bool {
        matches!(self, Self::Hose(..) | Self::Parallel(..))
    }
}

/// Least pressure at the start that puts some point over its marking with nothing flowing.
fn marking(pieces: &[Piece]) -> Option<f64> {
    let mut heights = vec![0.0];
    for piece in pieces {
        let up = if let Piece::Rise(feet) = piece { *feet } else { 0.0 };
        heights.push(heights.last().unwrap() + up);
    }
    let bears = |i: usize, piece: &Piece| match piece {
        Piece::Appliance(_, rating) => rating.map(|rating| rating + 0.434 * heights[i]),
        Piece::Hose(_, rating) | Piece::Parallel(_, rating) => {
            let from = pieces[..i].iter().rposition(Piece::is_hose).map_or(0, |before| before + 1);
            let to = pieces[i + 1..].iter().position(Piece::is_hose).map_or(pieces.len(), |after| i + 1 + after);
            let lowest = heights[from..=to].iter().copied().fold(f64::MAX, f64::min);
            rating.map(|rating| rating + 0.434 * lowest)
        }
        _ => None,
    };
    pieces.iter().enumerate().filter_map(|(i, piece)| bears(i, piece)).reduce(f64::min)
}

fn net_psi(curve: &PumpCurve, gpm: f64) -> f64 {
    let points: Vec<_> = curve.points().iter().map(|point| (point.flow.gpm(), point.net.psi())).collect();
    if gpm <= points[0].0 {
        return points[0].1;
    }
    for pair in points.windows(2) {
        let ((q0, p0), (q1, p1)) = (pair[0], pair[1]);
        if gpm <= q1 {
            return p0 + (p1 - p0) * (gpm - q0) / (q1 - q0);
        }
    }
    points[points.len() - 1].1
}

impl PlainLine {
    pub(crate) fn new(problem: &LayProblem, pumped: bool) -> Self {
        let mut line = Self {
            curve: problem.source.curve,
            stretches: vec![Vec::new()],
            pumpers: Vec::new(),
            main_floor: problem.main_floor.psi(),
            scene_floor: problem.scene_floor.psi(),
        };
        line.push(Piece::Squared(problem.source.body_loss.map_or(0.0, ApplianceCoefficient::psi_per_100gpm2)));
        let boost = problem.boost.as_ref().filter(|_| pumped);
        let valve = problem.parts.iter().any(|part| matches!(part, Part::HydrantValve(_)));
        if let Some(pumper) = boost.filter(|_| !valve) {
            line.join(pumper);
        }
        for part in &problem.parts {
            line.part(part, pumped, boost);
        }
        line
    }

    fn push(&mut self, piece: Piece) {
        self.stretches.last_mut().unwrap().push(piece);
    }

    fn join(&mut self, pumper: &Pumper) {
        self.pumpers.push(pumper.clone());
        self.stretches.push(Vec::new());
    }

    fn part(&mut self, part: &Part, pumped: bool, boost: Option<&Pumper>) {
        let hose = |hose: &Hose| Piece::Hose(hose_k(hose), rating(hose));
        match part {
            Part::Hose(line) => self.push(hose(line)),
            Part::Rise(rise) => self.push(Piece::Rise(rise.ft())),
            Part::Appliance(one) => self.push(Piece::Appliance(one.loss, one.max_operating.map(Pressure::psi))),
            Part::Pumper(pumper) if pumped => self.join(pumper),
            Part::Pumper(_) => {}
            Part::Parallel(branches) => {
                let pieces = branches.iter().flat_map(|branch| &branch.parts);
                let rating = pieces.filter_map(|piece| match piece {
                    BranchPart::Hose(line) => rating(line),
                    BranchPart::Appliance(one) => one.max_operating.map(Pressure::psi),
                });
                let rating = rating.reduce(f64::min);
                let branches = branches.iter().map(|branch| branch.parts.iter().map(branch_piece).collect());
                self.push(Piece::Parallel(branches.collect(), rating));
            }
            Part::HydrantValve(valve) => match boost {
                None => self.push(Piece::Squared(valve.through.psi_per_100gpm2())),
                Some(pumper) => {
                    self.push(Piece::Squared(valve.to_pump.psi_per_100gpm2()));
                    valve.to_pump_hose.iter().for_each(|line| self.push(hose(line)));
                    self.join(pumper);
                    valve.from_pump_hose.iter().for_each(|line| self.push(hose(line)));
                    self.push(Piece::Squared(valve.from_pump.psi_per_100gpm2()));
                }
            },
        }
    }

    fn loss(&self, stretch: usize, gpm: f64) -> f64 {
        self.stretches[stretch].iter().map(|piece| piece.psi(gpm)).sum()
    }

    fn ceiling(&self, pumper: usize) -> f64 {
        let own = self.pumpers[pumper].max_discharge.map(Pressure::psi);
        [own, marking(&self.stretches[pumper + 1])].into_iter().flatten().fold(f64::INFINITY, f64::min)
    }

    fn floor_after(&self, stretch: usize) -> f64 {
        self.pumpers.get(stretch).map_or(self.scene_floor, |pumper| pumper.intake_floor.psi())
    }

    /// The most at the end of a stretch, every pumper before it doing the most it may.
    fn most_after(&self, stretch: usize, gpm: f64) -> f64 {
        let start = if stretch == 0 {
            self.curve.pressure_psi(gpm)
        } else {
            let pumper = stretch - 1;
            (self.most_after(pumper, gpm) + net_psi(&self.pumpers[pumper].curve, gpm)).min(self.ceiling(pumper))
        };
        start - self.loss(stretch, gpm)
    }

    /// What a limit has to spare at a flow, psi: under nothing it is passed.
    pub(crate) fn spare(&self, limit: Limit, station: Station, gpm: f64) -> f64 {
        match (limit, station) {
            (Limit::MainFloor, Station::Main) => self.curve.pressure_psi(gpm) - self.main_floor,
            (Limit::SceneIntake, Station::Scene) | (Limit::PumperIntake, Station::PumperIntake(1)) => {
                self.most_after(0, gpm) - self.floor_after(0)
            }
            (Limit::HoseRating, Station::PumperDischarge(n)) => {
                self.ceiling(n - 1) - self.loss(n, gpm) - self.floor_after(n)
            }
            (Limit::PumperCapacity, Station::PumperDischarge(n)) => {
                let curve = &self.pumpers[n - 1].curve;
                if gpm > curve.points().last().unwrap().flow.gpm() {
                    return f64::NEG_INFINITY;
                }
                self.most_after(n - 1, gpm) + net_psi(curve, gpm) - self.loss(n, gpm) - self.floor_after(n)
            }
            other => panic!("{other:?} is no limit and its station"),
        }
    }

    /// The flow past which nothing is known or meant: what a test without a drop proved.
    pub(crate) fn proved_gpm(&self) -> Option<f64> {
        self.curve.no_drop().then(|| self.curve.tested_gpm())
    }
}

fn branch_piece(piece: &BranchPart) -> ApplianceOrHose {
    match piece {
        BranchPart::Hose(line) => ApplianceOrHose::Squared(hose_k(line)),
        BranchPart::Appliance(Appliance { loss: ApplianceLoss::Squared(k), .. }) => {
            ApplianceOrHose::Squared(k.psi_per_100gpm2())
        }
        BranchPart::Appliance(Appliance { loss: ApplianceLoss::Step { fixed, at_or_above }, .. }) => {
            ApplianceOrHose::Step(fixed.psi(), at_or_above.gpm())
        }
    }
}
