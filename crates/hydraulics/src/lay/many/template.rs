//! The lay that is asked for many times, checked once.

use crate::lay::compile::{Lay, LayError};
use crate::lay::many::pair::Pair;
use crate::lay::many::tables::Tables;
use crate::lay::many::{Arrives, By, Ready, together};
use crate::lay::parts::{LayProblem, Part, Source};
use crate::quantity::{Length, Rise};

/// One lay, to be asked for many hydrants, lengths and rises.
///
/// What it answers is never more than [`Lay::answer`] says, and less by no more than a share of 1e-6. Making one takes about a millisecond, for
/// its tables.
#[derive(Debug, Clone)]
pub struct ManyLays {
    pub(super) problem: LayProblem,
    /// Where its supply hose is written.
    supply: usize,
    /// None where only the exact solver can work it.
    pub(super) tables: Option<Tables>,
}

impl ManyLays {
    /// Takes a lay as the template: its source and its rise are placeholders, and its one hose part is stretched to each length.
    ///
    /// # Errors
    /// What [`Lay::new`] refuses, and a lay of which no hose, or more than one, could be stretched. Hose beside a valve and in branches is not.
    pub fn new(problem: LayProblem) -> Result<Self, LayError> {
        let problem = LayProblem { rise: Some(Rise::LEVEL), target: None, fill_flow: None, tank: None, ..problem };
        let checked = Lay::new(problem)?;
        let problem = checked.problem;
        let mut hoses = problem.parts.iter().enumerate().filter(|(_, part)| matches!(part, Part::Hose(_)));
        let supply = hoses.next().ok_or(LayError::NothingToStretch)?.0;
        if let Some((second, _)) = hoses.next() {
            return Err(LayError::SecondToStretch(second));
        }
        let tables = Tables::new(&problem, supply);
        Ok(Self { problem, supply, tables })
    }

    /// All that is a matter of a hydrant.
    pub fn ready(&self, source: &Source) -> Ready {
        Ready::new(self, source)
    }

    /// The same where the ground at the hydrant or at the scene is not known: the band is wider. Ask it with a rise of nothing.
    pub fn ready_ground_unknown(&self, source: &Source) -> Ready {
        self.ready(&Source { spread: source.spread.ground_unknown(), ..*source })
    }

    /// What arrives, gpm, without its band.
    pub fn gpm(&self, ready: &Ready, length_ft: f64, rise_ft: f64) -> By<f64> {
        match self.pair(ready, length_ft, rise_ft) {
            Some(pair) => pair.gpm(),
            None => self.exact_gpm(&ready.source, length_ft, rise_ft),
        }
    }

    /// What arrives with the hydrant alone, gpm, without its band.
    pub fn alone_gpm(&self, ready: &Ready, length_ft: f64, rise_ft: f64) -> f64 {
        match self.pair(ready, length_ft, rise_ft) {
            Some(pair) => pair.alone_gpm(),
            None => self.exact_gpm(&ready.source, length_ft, rise_ft).alone,
        }
    }

    /// What arrives, with the low end of its band.
    pub fn arrives(&self, ready: &Ready, length_ft: f64, rise_ft: f64) -> By<Arrives> {
        match self.pair(ready, length_ft, rise_ft) {
            Some(pair) => pair.arrives(),
            None => self.exact_arrives(&ready.source, length_ft, rise_ft),
        }
    }

    /// What arrives with the hydrant alone, with the low end of its band.
    pub fn arrives_alone(&self, ready: &Ready, length_ft: f64, rise_ft: f64) -> Arrives {
        match self.pair(ready, length_ft, rise_ft) {
            Some(pair) => pair.alone().arrives(),
            None => self.exact_arrives(&ready.source, length_ft, rise_ft).alone,
        }
    }

    /// The low end of what arrives with the hydrant alone, gpm.
    pub fn low_alone(&self, ready: &Ready, length_ft: f64, rise_ft: f64) -> f64 {
        self.arrives_alone(ready, length_ft, rise_ft).low_gpm
    }

    /// Whether [`Self::low_alone`] may be as much as this, gpm: never no where it is, and many times cheaper.
    pub fn may_hold_alone(&self, ready: &Ready, length_ft: f64, rise_ft: f64, low_gpm: f64) -> bool {
        match self.pair(ready, length_ft, rise_ft) {
            Some(pair) => pair.may_hold_alone(low_gpm),
            None => ready.main.gpm >= low_gpm,
        }
    }

    /// The low end of what arrives with the pumper, gpm; none where the lay has none.
    pub fn low_boosted(&self, ready: &Ready, length_ft: f64, rise_ft: f64) -> Option<f64> {
        self.arrives_boosted(ready, length_ft, rise_ft).map(|boosted| boosted.low_gpm)
    }

    /// What arrives with the pumper, with the low end of its band; none where the lay has none.
    pub fn arrives_boosted(&self, ready: &Ready, length_ft: f64, rise_ft: f64) -> Option<Arrives> {
        match self.pair(ready, length_ft, rise_ft) {
            Some(pair) => pair.arrives_boosted(),
            None => self.exact_arrives(&ready.source, length_ft, rise_ft).boosted,
        }
    }

    /// Whether [`Self::low_boosted`] may be as much as this, gpm: never no where it is, and many times cheaper; none where the lay has no pumper.
    pub fn may_hold_boosted(&self, ready: &Ready, length_ft: f64, rise_ft: f64, low_gpm: f64) -> Option<bool> {
        match self.pair(ready, length_ft, rise_ft) {
            Some(pair) => pair.may_hold(low_gpm),
            None => self.pumped().then_some(ready.main.gpm >= low_gpm),
        }
    }

    /// What the main gives at its floor: no lay brings more.
    pub fn main(&self, ready: &Ready) -> Arrives {
        ready.main
    }

    /// The most that the pumper's intake at the hydrant lets through, gpm, whatever the lay after it; none where the lay has no pumper. The hydrant
    /// alone may bring more, and then that is what arrives boosted. Of a template whose supply hose lies before the pumper only the main is known to
    /// bound it.
    pub fn intake_gpm(&self, ready: &Ready) -> Option<f64> {
        if !self.pumped() {
            return None;
        }
        let by_intake = match self.tables {
            Some(_) if ready.tabled => ready.intake[0],
            Some(_) => self.exact_intake_gpm(&ready.source).unwrap_or(f64::INFINITY),
            // What lies before the pumper is then a matter of each lay.
            None => f64::INFINITY,
        };
        Some(ready.main.gpm.min(by_intake))
    }

    /// The flow past which the pumper is out of capacity, gpm.
    pub fn capacity_gpm(&self) -> Option<f64> {
        self.problem.boost.as_ref().map(|pumper| pumper.curve.capacity_gpm())
    }

    /// Two different hydrants to one scene, each over a lay of its own: never more than [`Combined::answer`] says. Hydrants of which it is not known
    /// whether they stand on one main count as sharing it. Where a weak main would hold a stronger one back, the figure is that of the stronger
    /// hydrant by itself, and the low end may lie under its own: ask each by itself too.
    ///
    /// [`Combined::answer`]: crate::lay::combined::Combined::answer
    pub fn together(&self, lines: [(&Ready, f64, f64); 2], shared_main: bool) -> By<Arrives> {
        let [Some(first), Some(second)] = lines.map(|(ready, length_ft, rise_ft)| self.pair(ready, length_ft, rise_ft))
        else {
            let lines = lines.map(|(ready, length_ft, rise_ft)| (&ready.source, length_ft, rise_ft));
            return self.exact_together(lines, shared_main);
        };
        together::both([first, second], shared_main)
    }

    /// [`Self::together`] without pumpers only.
    pub fn together_alone(&self, lines: [(&Ready, f64, f64); 2], shared_main: bool) -> Arrives {
        match self.pairs(lines) {
            Some(pairs) => together::alone(pairs, shared_main),
            None => self.together(lines, shared_main).alone,
        }
    }

    /// The figure of [`Self::together_alone`], many times cheaper than its low end: of that it is no more than the share that is sure of the less sure
    /// line.
    pub fn together_alone_gpm(&self, lines: [(&Ready, f64, f64); 2], shared_main: bool) -> f64 {
        match self.pairs(lines) {
            Some(pairs) => together::alone_gpm(pairs, shared_main),
            None => self.together(lines, shared_main).alone.gpm,
        }
    }

    fn pairs<'a>(&'a self, [a, b]: [(&'a Ready, f64, f64); 2]) -> Option<[Pair<'a>; 2]> {
        Some([self.pair(a.0, a.1, a.2)?, self.pair(b.0, b.1, b.2)?])
    }

    /// The lay itself, for whoever must explain an answer.
    ///
    /// # Errors
    /// None of those of [`Lay::new`], for the template passed.
    pub fn lay(&self, source: &Source, length_ft: f64, rise_ft: f64) -> Result<Lay, LayError> {
        Lay::new(self.problem_of(source, length_ft, rise_ft))
    }

    /// The pair, where the tables hold it.
    fn pair<'a>(&'a self, ready: &'a Ready, length_ft: f64, rise_ft: f64) -> Option<Pair<'a>> {
        let tables = self.tables.as_ref().filter(|_| ready.tabled && Self::can_be(length_ft, rise_ft))?;
        Some(Pair::new(tables, ready, length_ft.max(Length::BOUND.min), rise_ft.max(Rise::BOUND.min)))
    }

    /// The question of one pair; a length or a rise past its bounds counts as the bound.
    pub(super) fn problem_of(&self, source: &Source, length_ft: f64, rise_ft: f64) -> LayProblem {
        let mut problem = LayProblem { source: *source, ..self.problem.clone() };
        let length = Length::from_ft(length_ft.clamp(Length::BOUND.min, Length::BOUND.max));
        if let (Some(Part::Hose(hose)), Ok(length)) = (problem.parts.get_mut(self.supply), length) {
            *hose = hose.with_length(length);
        }
        problem.rise = Rise::from_ft(rise_ft.clamp(Rise::BOUND.min, Rise::BOUND.max)).ok();
        problem
    }

    /// Whether pumpers are in the lay.
    pub(super) fn pumped(&self) -> bool {
        self.problem.boost.is_some() || self.problem.parts.iter().any(|part| matches!(part, Part::Pumper(_)))
    }

    /// Whether there can be such a lay at all: what is no number, or more hose or more rise than any lay has, brings nothing.
    pub(super) fn can_be(length_ft: f64, rise_ft: f64) -> bool {
        length_ft <= Length::BOUND.max && rise_ft <= Rise::BOUND.max
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loss::{Appliance, ApplianceLoss, Hose};
    use crate::quantity::{Flow, HoseCoefficient, PositiveFlow, Pressure};
    use crate::spread::{SourceSpread, Spread};
    use crate::supply::{SupplyCurve, TestPoint};
    use alloc::vec;
    use alloc::vec::Vec;

    fn psi(psi: f64) -> Pressure {
        Pressure::from_psi(psi).unwrap()
    }

    fn gpm(gpm: f64) -> PositiveFlow {
        PositiveFlow::from_gpm(gpm).unwrap()
    }

    fn source(curve: SupplyCurve) -> Source {
        Source { curve, body_loss: None, body_loss_assumed: false, spread: SourceSpread::of_numbers() }
    }

    fn many(more: Vec<Part>) -> ManyLays {
        let c = HoseCoefficient::from_psi_per_100gpm2_100ft(0.08).unwrap();
        let mut parts = vec![Part::Hose(Hose::new(c, Length::from_ft(1000.0).unwrap(), 1).unwrap())];
        parts.extend(more);
        let source = source(SupplyCurve::new(psi(60.0), psi(40.0), gpm(600.0)).unwrap());
        let floor = psi(20.0);
        ManyLays::new(LayProblem {
            source,
            parts,
            rise: None,
            boost: None,
            main_floor: floor,
            scene_floor: floor,
            target: None,
            fill_flow: None,
            tank: None,
        })
        .unwrap()
    }

    #[test]
    fn tables_hold_what_loses_by_squares_through_one_test_and_nothing_else() {
        let plain = many(vec![]);
        assert!(plain.ready(&plain.problem.source).tabled);
        let level = source(SupplyCurve::new(psi(60.0), psi(60.0), gpm(600.0)).unwrap());
        assert!(plain.ready(&level).tabled);
        let [near, far] =
            [(500.0, 50.0), (900.0, 35.0)].map(|(flow, left)| TestPoint { flow: gpm(flow), residual: psi(left) });
        let fitted = source(SupplyCurve::fitted(psi(60.0), near, far).unwrap());
        assert!(!plain.ready(&fitted).tabled);
        let loss = ApplianceLoss::Step { fixed: psi(10.0), at_or_above: Flow::from_gpm(350.0).unwrap() };
        let stepped = many(vec![Part::Appliance(Appliance {
            loss,
            max_operating: None,
            assumed: true,
            spread: Spread::ASSUMED_LOSS,
        })]);
        assert!(!stepped.ready(&stepped.problem.source).tabled);
    }
}
