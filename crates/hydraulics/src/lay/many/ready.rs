//! All that is a matter of a hydrant, worked once.

use crate::band::{Gather, Uncertain, bounded, flow_band, of_source, varied};
use crate::lay::many::low::Low;
use crate::lay::many::tables::Tables;
use crate::lay::many::{Arrives, ManyLays};
use crate::lay::parts::Source;
use crate::lay::sure::loss_at;
use crate::quantity::{ApplianceCoefficient, Flow};
use crate::spread::{End, SourceSpread, Spread};
use crate::supply::{DROP_EXPONENT, SupplyCurve};

/// The inputs of a source, each with the end at which the least arrives.
const WORSE: [(Uncertain, End); 6] = [
    (Uncertain::StaticGauge, End::Low),
    (Uncertain::Swing, End::Low),
    (Uncertain::TestDrop, End::High),
    (Uncertain::Pitot, End::Low),
    (Uncertain::OutletCoefficient, End::Low),
    (Uncertain::TestFlow, End::Low),
];

/// Everything as read, each input of a source at its worse end, then all hose, then all other losses.
pub(super) const CASES: usize = WORSE.len() + 3;
/// The cases up to here have a head of their own.
pub(super) const HEADS: usize = 3;
/// The cases up to here have a main of their own.
pub(super) const MAINS: usize = WORSE.len() + 1;
/// All hose at its worse end.
pub(super) const HOSE: usize = MAINS;
/// All other losses at theirs.
pub(super) const LOSSES: usize = MAINS + 1;

/// A drop less than this is worked exactly, psi: the rounding of its readings would show.
const LEAST_DROP_PSI: f64 = 1e-6;

/// A hydrant, ready to be asked for many lays of one template.
///
/// In this order, for what every pair of it reads lies together in its first lines of cache, and what few read in its last.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(C)]
pub struct Ready {
    /// Whether the tables hold this hydrant.
    pub(super) tabled: bool,
    /// Bits of the cases that there are.
    pub(super) cases: u32,
    /// The main at its floor.
    pub(super) main: Arrives,
    /// Losses of the body as read and at their worse end, psi per gpm².
    pub(super) body: [f64; 2],
    /// Up to here a flow is proved, gpm: the tested flow where there was no drop, else the most that any main gives.
    pub(super) proved_gpm: f64,
    pub(super) mains: [Main; MAINS],
    /// `drop / tested^n` of each main, psi per gpm^n.
    pub(super) drops: [f64; MAINS],
    /// The most that reaches the pumper's intake at its floor, gpm; without bound where none binds.
    pub(super) intake: [f64; CASES],
    /// The low end of that; without bound where it never binds.
    pub(super) intake_low: f64,
    /// For whatever the tables do not hold.
    pub(super) source: Source,
}

/// A main as the tables want it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Main {
    pub(super) static_psi: f64,
    /// `(drop / tested^n)^(2/n)`, so that the main by itself takes a head h at `√(h / (bend h^(1 - 2/n)))`.
    pub(super) bend: f64,
    /// What it gives at its floor, gpm.
    pub(super) gpm: f64,
}

/// A main with the powers that others of the same readings have too.
#[derive(Clone, Copy)]
struct Powers {
    main: Main,
    /// The drop, psi, to the power of `2/n`, and the tested flow to that of n.
    drop_psi: f64,
    bent: f64,
    tested_gpm: f64,
    power: f64,
}

impl Powers {
    /// Of a curve that gives so much at its floor, after `before`.
    fn new(curve: &SupplyCurve, gpm: f64, before: Option<&Self>) -> Self {
        let static_psi = curve.static_psi();
        let main = Main { static_psi, bend: 0.0, gpm };
        if curve.no_drop() {
            return Self { main, drop_psi: 0.0, bent: 0.0, tested_gpm: 1.0, power: 1.0 };
        }
        // A hair more drop for the rounding.
        let (drop_psi, tested_gpm) = (curve.drop_psi() * (1.0 + 1e-12), curve.tested_gpm());
        let bent = before.filter(|before| before.drop_psi == drop_psi).map(|before| before.bent);
        let bent = bent.unwrap_or_else(|| libm::pow(drop_psi, 2.0 / DROP_EXPONENT));
        let power = before.filter(|before| before.tested_gpm == tested_gpm).map(|before| before.power);
        let power = power.unwrap_or_else(|| libm::pow(tested_gpm, DROP_EXPONENT));
        Self { main: Main { bend: bent / (tested_gpm * tested_gpm), ..main }, drop_psi, bent, tested_gpm, power }
    }

    fn drop(&self) -> f64 {
        self.drop_psi / self.power
    }
}

impl Ready {
    pub(super) fn new(many: &ManyLays, source: &Source) -> Self {
        let floor_psi = many.problem.main_floor.psi();
        let gpm = source.curve.flow_gpm(floor_psi);
        let body = |loss: Option<ApplianceCoefficient>| loss.map_or(0.0, |k| k.psi_per_100gpm2() / 1e4);
        let mut ready = Self {
            main: Arrives { gpm, low_gpm: 0.0 },
            body: [body(source.body_loss), body(source.body_loss.map(|k| loss_at(k, Spread::ASSUMED_LOSS, End::High)))],
            proved_gpm: if source.curve.no_drop() { source.curve.tested_gpm() } else { Flow::BOUND.max },
            cases: 1 | 1 << HOSE | 1 << LOSSES,
            tabled: many.tables.is_some() && is_plain(source),
            mains: [Main::default(); MAINS],
            drops: [0.0; MAINS],
            intake: [f64::INFINITY; CASES],
            intake_low: f64::INFINITY,
            source: *source,
        };
        if let Some(tables) = many.tables.as_ref().filter(|_| ready.tabled) {
            ready.fill(floor_psi);
            ready.fill_intake(tables);
        } else {
            ready.main.low_gpm = flow_band(&source.curve, &source.spread, floor_psi).low;
        }
        ready
    }

    fn fill(&mut self, floor_psi: f64) {
        let Source { curve, spread, .. } = self.source;
        let read = Powers::new(&curve, self.main.gpm, None);
        (self.mains, self.drops) = ([read.main; MAINS], [read.drop(); MAINS]);
        // As [`flow_band`] gathers it; at the better end nothing of these is less.
        let mut gather = Gather::of_flow(self.main.gpm);
        for input in of_source(&curve, &spread) {
            let Some((case, (_, end))) = (1..).zip(WORSE).find(|(_, (own, _))| *own == input) else { continue };
            let curve = varied(curve, &spread, input, end).curve;
            let gpm = curve.flow_gpm(floor_psi);
            gather.add(input, [bounded(gpm), None]);
            self.cases |= 1 << case;
            let then = Powers::new(&curve, gpm, Some(&read));
            (self.mains[case], self.drops[case]) = (then.main, then.drop());
        }
        self.main.low_gpm = gather.ends().0;
    }

    fn fill_intake(&mut self, tables: &Tables) {
        let Some(boost) = &tables.boost else { return };
        for case in 0..CASES {
            let k = tables.to_pump(self, case);
            let main = self.main_of(case);
            let gpm = tables.reach_gpm(main, k, boost.intake_floor_psi);
            self.intake[case] = if main.bend == 0.0 && gpm >= self.proved_gpm { f64::INFINITY } else { gpm };
        }
        if self.intake[0] < Flow::BOUND.max {
            let mut low = Low::of(self.intake[0]);
            (1..CASES).filter(|case| self.has(*case)).for_each(|case| low.add(self.intake[case]));
            self.intake_low = low.gpm();
        }
    }

    pub(super) fn main_of(&self, case: usize) -> &Main {
        &self.mains[if case < MAINS { case } else { 0 }]
    }

    pub(super) fn drop_of(&self, case: usize) -> f64 {
        self.drops[if case < MAINS { case } else { 0 }]
    }

    pub(super) fn body_of(&self, case: usize) -> f64 {
        self.body[usize::from(case == LOSSES)]
    }

    pub(super) fn has(&self, case: usize) -> bool {
        self.cases >> case & 1 == 1
    }
}

/// Whether a source is one that the tables hold: a curve through one test, spans that reach above where they reach below.
fn is_plain(source: &Source) -> bool {
    let drop_psi = source.curve.drop_psi();
    let SourceSpread { pitot, outlet, flow_only, .. } = source.spread;
    let spans = [pitot, outlet, flow_only].iter().all(|span| span.above() > 0.0 || span.below() <= 0.0);
    source.curve.fitted_exponent().is_none() && (drop_psi == 0.0 || drop_psi > LEAST_DROP_PSI) && spans
}
