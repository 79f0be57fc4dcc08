//! How sure a figure is: its 90 % band, and which reading or coefficient makes it so wide.
//!
//! One input at a time is set to its 5th and its 95th point ([`crate::spread`]), everything else as read; the changes are added as the root of the sum
//! of their squares, below and above by themselves. Cheap, the same every time, and it shows what to measure next. Where the figure is the least of several
//! limits, its high end is the least of theirs: one input alone seldom lifts two limits at once, and together they do.

use alloc::vec::Vec;

use crate::quantity::Flow;
use crate::spread::{End, SourceSpread};
use crate::supply::{LEAST_DROP_PSI, SupplyCurve};

macro_rules! uncertain {
    ($($name:ident $code:literal $text:literal $measure:literal;)*) => {
        /// What may be off.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Uncertain {
            $(#[doc = $text] $name,)*
        }

        impl Uncertain {
            /// Every one.
            pub const ALL: &[Self] = &[$(Self::$name),*];

            /// Its stable code.
            pub const fn code(self) -> &'static str {
                match self { $(Self::$name => $code,)* }
            }

            /// What it is.
            pub const fn text(self) -> &'static str {
                match self { $(Self::$name => $text,)* }
            }

            /// What to do to know it better.
            pub const fn measure(self) -> &'static str {
                match self { $(Self::$name => $measure,)* }
            }
        }
    };
}

uncertain! {
    StaticGauge "static_gauge" "The gauge on the main, a psi either way." "Test with a gauge checked against a standard.";
    TestDrop "test_drop" "The drop of the test, read as the difference of two readings." "Test again and flow more, so that the gauge falls farther.";
    NearDrop "near_drop" "The drop at the lesser flow of a test of two points." "Test again with the two flows farther apart.";
    Swing "swing" "The main's pressure on another day, and of a borrowed test at another place." "Test at this hydrant, in the hour of the highest demand.";
    Pitot "pitot" "The pitot readings of the test, half a psi either way." "Test again with the pitot between 10 and 30 psi.";
    OutletCoefficient "outlet_coefficient" "The coefficients of the outlets that flowed." "Feel the outlet's edge, or use a flow tube of known coefficient.";
    TestFlow "test_flow" "The flow of the test, of which the readings are not given." "Record the pitot readings with their outlets.";
    Hose "hose" "The coefficients of the hose." "Test your own hose with two gauges and a known flow.";
    Losses "losses" "The losses of hydrant, valve and appliances." "Test your own valve and appliances with two gauges and a known flow.";
}

/// What one input by itself does to a figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effect {
    /// The input.
    pub input: Uncertain,
    /// The figure's lowest with this input at an end of its span; the figure itself where it only rises.
    pub low: f64,
    /// Its highest; none where nothing bounds it.
    pub high: Option<f64>,
    /// The input's share of the width of the band, as squares add up: all shares together are 1, or nothing is uncertain.
    pub share: f64,
}

/// A 90 % band around a figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Its low end: the figure is lower once in twenty.
    pub low: f64,
    /// Its high end; none where the data set none.
    pub high: Option<f64>,
    /// What makes it, the most first.
    pub effects: Vec<Effect>,
}

impl Band {
    /// Whether a value lies above the low end and not above the high one: the figure may miss it or reach it.
    pub fn straddles(&self, value: f64) -> bool {
        self.low < value && self.high.is_none_or(|high| value <= high)
    }
}

/// Gathers what each input does to one figure.
#[derive(Debug, Clone)]
pub(crate) struct Gather {
    figure: f64,
    least: Option<f64>,
    bounded: bool,
    effects: Vec<(Effect, f64, f64)>,
}

impl Gather {
    /// For a flow: never under nothing, and without a high end where the figure is at the bound of all flows already.
    pub(crate) fn of_flow(gpm: f64) -> Self {
        Self { figure: gpm, least: Some(0.0), bounded: is_bounded(gpm), effects: Vec::new() }
    }

    /// For a figure that may be under nothing.
    pub(crate) const fn of_any(figure: f64) -> Self {
        Self { figure, least: None, bounded: true, effects: Vec::new() }
    }

    /// What the figure is with the input at its ends; none where nothing bounds it.
    pub(crate) fn add(&mut self, input: Uncertain, ends: [Option<f64>; 2]) {
        let low = ends.iter().flatten().fold(self.figure, |low, end| low.min(*end));
        let high = ends.iter().flatten().fold(self.figure, |high, end| high.max(*end));
        let bounded = ends.iter().all(Option::is_some);
        self.bounded &= bounded;
        let effect = Effect { input, low, high: bounded.then_some(high), share: 0.0 };
        self.effects.push((effect, self.figure - low, high - self.figure));
    }

    /// Both ends, whatever bounds the high one.
    pub(crate) fn ends(&self) -> (f64, f64) {
        let total =
            |side: fn(&(Effect, f64, f64)) -> f64| libm::sqrt(self.effects.iter().map(|e| side(e) * side(e)).sum());
        let low = self.figure - total(|e| e.1);
        (self.least.map_or(low, |least| low.max(least)), self.figure + total(|e| e.2))
    }

    /// The band.
    ///
    /// # Formula
    /// `figure - √Σ below²` to `figure + √Σ above²`, each input by itself.
    /// # Units
    /// The figure's.
    /// # Range
    /// Inputs that are off independently.
    /// # Source
    /// `derived`: propagation of uncertainty by root sum of squares.
    pub(crate) fn band(self) -> Band {
        let high = self.high();
        self.band_up_to(high)
    }

    /// The high end by itself; none where nothing bounds it.
    pub(crate) fn high(&self) -> Option<f64> {
        self.bounded.then(|| self.ends().1)
    }

    /// The band with a high end from elsewhere, never under the figure.
    pub(crate) fn band_up_to(self, high: Option<f64>) -> Band {
        let low = self.ends().0;
        let width = |e: &(Effect, f64, f64)| (e.1 + e.2) * (e.1 + e.2);
        let all: f64 = self.effects.iter().map(width).sum();
        let share = |e: &(Effect, f64, f64)| if all > 0.0 { width(e) / all } else { 0.0 };
        let mut effects: Vec<_> = self.effects.iter().map(|e| Effect { share: share(e), ..e.0 }).collect();
        effects.sort_by(|a, b| b.share.total_cmp(&a.share));
        Band { low, high: high.map(|high| high.max(self.figure)), effects }
    }
}

/// Under the bound of all flows: at it, a test promises without end.
fn is_bounded(gpm: f64) -> bool {
    gpm < Flow::BOUND.max
}

/// A flow with an input at an end, or none where it is without bound.
pub(crate) fn bounded(gpm: f64) -> Option<f64> {
    is_bounded(gpm).then_some(gpm)
}

/// A supply curve with one of its inputs at an end.
#[derive(Debug, Clone, Copy)]
pub(crate) struct VariedCurve {
    pub(crate) curve: SupplyCurve,
    /// The readings allow that there was no drop at all: nothing is known of the most the main gives.
    pub(crate) level: bool,
}

/// The inputs of a curve that are uncertain.
pub(crate) fn of_source(curve: &SupplyCurve, spread: &SourceSpread) -> impl Iterator<Item = Uncertain> {
    use Uncertain::{NearDrop, OutletCoefficient, Pitot, StaticGauge, Swing, TestDrop, TestFlow};
    let fitted = curve.fitted_exponent().is_some();
    let spread = *spread;
    let uncertain = move |input: &Uncertain| match input {
        // Beside the swing a psi of the gauge is little: with a second point to vary, it goes into the swing.
        StaticGauge => !fitted && spread.static_psi > 0.0,
        NearDrop => fitted && spread.drop_psi > 0.0,
        TestDrop => spread.drop_psi > 0.0,
        Swing => spread.swing_psi > 0.0 || fitted,
        Pitot => spread.pitot.above() > 0.0,
        OutletCoefficient => spread.outlet.above() > 0.0,
        TestFlow => spread.flow_only.above() > 0.0,
        _ => false,
    };
    Uncertain::ALL.iter().copied().filter(uncertain)
}

/// The curve with one input at an end of its span, everything else as read.
pub(crate) fn varied(curve: SupplyCurve, spread: &SourceSpread, input: Uncertain, end: End) -> VariedCurve {
    let shift = |half: f64| end.of(0.0, half);
    let fitted = curve.fitted_exponent().is_some();
    let scaled = |by: crate::spread::Spread| curve.scaled(by.end(1.0, end).max(LEAST_SCALE));
    let curve_then = match input {
        Uncertain::StaticGauge if fitted => curve,
        Uncertain::StaticGauge => curve.shifted(shift(spread.static_psi)),
        Uncertain::Swing if fitted => curve.shifted(shift(libm::hypot(spread.swing_psi, spread.static_psi))),
        Uncertain::Swing => curve.shifted(shift(spread.swing_psi)),
        Uncertain::TestDrop => curve.with_drop(shift(spread.drop_psi)),
        Uncertain::NearDrop => curve.with_near_drop(shift(spread.drop_psi)),
        Uncertain::Pitot => scaled(spread.pitot),
        Uncertain::OutletCoefficient => scaled(spread.outlet),
        Uncertain::TestFlow => scaled(spread.flow_only),
        Uncertain::Hose | Uncertain::Losses => curve,
    };
    let drop_psi = curve.static_psi() - curve.residual_psi();
    let level = input == Uncertain::TestDrop && end == End::Low && drop_psi - spread.drop_psi <= LEAST_DROP_PSI;
    VariedCurve { curve: curve_then, level }
}

/// However far off the readings, something flowed.
const LEAST_SCALE: f64 = 0.01;

/// The band of the flow at which a main has fallen to a pressure; around the proved flow where its test showed no drop.
///
/// # Formula
/// [`SupplyCurve::flow_gpm`] with each reading at its 5th and 95th point, root sum of squares of the changes on each side.
/// # Units
/// psi; gpm out.
/// # Range
/// As the curve's. Where the readings allow that there was no drop, the band has no high end.
/// # Source
/// `derived`; the spans `nfpa-25-supplement` and `memory`.
pub fn flow_band(curve: &SupplyCurve, spread: &SourceSpread, psi: f64) -> Band {
    let figure = curve.flow_gpm(psi);
    let mut gather = Gather::of_flow(figure);
    for input in of_source(curve, spread) {
        gather.add(input, [End::Low, End::High].map(|end| main_gpm(curve, spread, input, end, psi)));
    }
    gather.band()
}

fn main_gpm(curve: &SupplyCurve, spread: &SourceSpread, input: Uncertain, end: End, psi: f64) -> Option<f64> {
    let varied = varied(*curve, spread, input, end);
    if varied.level { None } else { bounded(varied.curve.flow_gpm(psi)) }
}
