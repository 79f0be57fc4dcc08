//! The relay as a lay: its places kept, what it would carry at most, and what goes with the answer.

use alloc::vec::Vec;

use crate::caution::{ALWAYS, Caution};
use crate::drafting::theoretical_lift_ft;
use crate::finding::{Finding, FindingCode, Floor};
use crate::formula::{self, Formula};
use crate::lay::{Lay, LayAnswer, LayProblem, Limit, LimitFlow, Part, Source, Station};
use crate::loss::PSI_PER_FOOT;
use crate::pumper::{PumpCurve, PumpPoint, Pumper};
use crate::quantity::{Length, PositiveFlow, Pressure, Rise};
use crate::relay::answer::{Carried, Method, NoRelay, ROUNDING, RelayAnswer, RelayPumper};
use crate::relay::problem::{RelayProblem, RelaySource};
use crate::spread::SourceSpread;
use crate::supply::SupplyCurve;

/// The cautions that go with every relay.
const EVERY_RELAY: [Caution; 5] =
    [Caution::NozzleShut, Caution::SupplyLost, Caution::BleedAir, Caution::ChargedLine, Caution::OpenSlowly];

/// What comes to the scene.
#[derive(Debug, Clone, Copy)]
pub(super) struct Arrival {
    pub(super) scene_psi: f64,
    /// How much more the last pumper could bring, psi.
    pub(super) spare_psi: f64,
}

impl RelayProblem {
    /// A relay that carries the flow, with what it would carry at most.
    fn carried(&self, pumpers: &[RelayPumper], arrival: Arrival, solved: Option<&LayAnswer>) -> Carried {
        let most = solved.map(LayAnswer::answer);
        Carried {
            pumpers_needed: pumpers.len() + 1,
            scene_psi: arrival.scene_psi,
            hose_to_spare_ft: (arrival.spare_psi.max(0.0) / self.friction_psi_per_ft()).min(Length::BOUND.max),
            weakest: weakest(pumpers),
            most_gpm: most.map_or(self.flow.gpm(), |most| self.or_wanted(most.deliverable_gpm)),
            low_gpm: most.map_or(0.0, |most| most.band.low),
            most_limited_by: most.map(|most| self.named(most.limited_by)),
        }
    }

    /// Pumpers that stand as far apart as they can carry the flow wanted and not a drop more: what the solve loses of it to rounding is no loss.
    fn or_wanted(&self, gpm: f64) -> f64 {
        const SAME: f64 = 1e-6;
        let wanted = self.flow.gpm();
        if (gpm - wanted).abs() <= SAME * wanted { wanted } else { gpm }
    }

    /// At draft there is no main: its floor stands for the share of the rating that the first pumper has.
    fn named(&self, limit: LimitFlow) -> LimitFlow {
        match limit.limit {
            Limit::MainFloor if self.draft().is_some() => {
                LimitFlow { limit: Limit::PumperCapacity, station: Station::PumperDischarge(1), ..limit }
            }
            _ => limit,
        }
    }

    /// The relay in its places, solved as a lay with the pumpers written in.
    fn solved(&self, pumpers: &[RelayPumper], discharge_psi: Option<f64>) -> Option<LayAnswer> {
        let ceiling = discharge_psi.and_then(|psi| Pressure::from_psi(psi).ok());
        let (source, main_floor, lift) = self.lay_source()?;
        let mut parts: Vec<Part> = lift.into_iter().map(Part::Rise).collect();
        for stand in pumpers {
            let mut pumper = self.pumper(stand.number)?.clone();
            if stand.number == 1 {
                pumper = self.lay_first(&pumper)?;
            }
            pumper.max_discharge = ceiling.or(pumper.max_discharge);
            parts.push(Part::Pumper(pumper));
            parts.push(Part::Hose(self.hose.with_length(Length::from_ft(stand.stretch_ft).ok()?)));
            let places = self.ground.places(stand.at_ft, stand.at_ft + stand.stretch_ft);
            let (start, end) = (places.first()?, places.last()?);
            for feet in [end.lowest - start.height, end.height - end.lowest] {
                parts.push(Part::Rise(Rise::from_ft(feet).ok()?));
            }
        }
        let scene_floor = self.scene_floor;
        let (rise, boost, target, fill_flow, tank) = (None, None, Some(self.flow), None, None);
        let problem = LayProblem { source, parts, rise, boost, main_floor, scene_floor, target, fill_flow, tank };
        Some(Lay::new(problem).ok()?.answer())
    }

    /// Open water as a main: the air presses on it, alike at every flow up to what the pumper drafts, and up the lift to the intake. Pressures before the
    /// first pumper are absolute then.
    fn lay_source(&self) -> Option<(Source, Pressure, Option<Rise>)> {
        match &self.source {
            RelaySource::Hydrant { source, main_floor } => Some((*source, *main_floor, None)),
            RelaySource::Draft(draft) => {
                let air = Pressure::from_psi(PSI_PER_FOOT * theoretical_lift_ft(draft.altitude)).ok()?;
                let (most, _) = draft.capacity(&self.pumper(1)?.curve)?;
                let curve = SupplyCurve::new(air, air, PositiveFlow::from_gpm(most).ok()?).ok()?;
                let spread = SourceSpread::of_numbers();
                let source = Source { curve, body_loss: draft.suction, body_loss_assumed: false, spread };
                Some((source, Pressure::from_psi(0.0).ok()?, Some(Rise::from_ft(draft.lift.ft()).ok()?)))
            }
        }
    }

    /// The first pumper: at draft it takes the air's pressure back off, and its intake may fall to what the attainable lift leaves of it.
    fn lay_first(&self, pumper: &Pumper) -> Option<Pumper> {
        let Some(draft) = self.draft() else { return Some(pumper.clone()) };
        let air_psi = PSI_PER_FOOT * theoretical_lift_ft(draft.altitude);
        let curve = draft.curve(&pumper.curve)?;
        let gauge = |point: &PumpPoint| {
            Some(PumpPoint { flow: point.flow, net: Pressure::from_psi(point.net.psi() - air_psi).ok()? })
        };
        let curve = PumpCurve::from_points(curve.points().iter().filter_map(gauge).collect()).ok()?;
        let intake_floor = Pressure::from_psi(air_psi - PSI_PER_FOOT * draft.attainable_lift_ft()).ok()?;
        Some(Pumper { curve, intake_floor, max_discharge: pumper.max_discharge })
    }

    pub(super) fn answered(
        &self,
        method: Method,
        pumpers: Vec<RelayPumper>,
        arrival: Result<Arrival, NoRelay>,
    ) -> RelayAnswer {
        let discharge_psi = if let Method::ConstantPressure(psi) = method { Some(psi) } else { None };
        let solved = arrival.ok().and_then(|_| self.solved(&pumpers, discharge_psi));
        let outcome = arrival.map(|arrival| self.carried(&pumpers, arrival, solved.as_ref()));
        let findings = self.findings(&pumpers, solved);
        let over = findings.iter().any(|finding| finding.code == FindingCode::HoseOverRating);
        let hydrant = self.draft().is_none();
        let when = [
            (Caution::HoseOverRating, over),
            (Caution::MainFloor, hydrant),
            (Caution::SharedMain, hydrant),
            (Caution::NonPotable, !hydrant),
        ];
        let special = when.into_iter().filter_map(|(caution, applies)| applies.then_some(caution));
        let cautions = special.chain(ALWAYS).chain(EVERY_RELAY).collect();
        RelayAnswer { method, outcome, pumpers, findings, cautions, basis: self.basis(method) }
    }

    fn findings(&self, pumpers: &[RelayPumper], solved: Option<LayAnswer>) -> Vec<Finding> {
        let mut found = match &self.source {
            RelaySource::Hydrant { source, .. } => source.curve.findings(),
            RelaySource::Draft(_) => Vec::new(),
        };
        if let RelaySource::Hydrant { source, .. } = &self.source
            && let Some(k) = source.body_loss.filter(|_| source.body_loss_assumed)
        {
            found.push(Finding::new(FindingCode::AssumedLoss, k.psi_per_100gpm2()));
        }
        found.extend(self.lowered_floors());
        let of_lay = solved.into_iter().flat_map(|answer| answer.findings);
        found.extend(of_lay.filter(|finding| finding.code == FindingCode::HoseOverRating));
        if self.hose.rating_psi().is_none() {
            found.push(Finding::plain(FindingCode::HoseUnmarked));
        }
        found.extend(
            self.ground
                .even_rise_ft()
                .filter(|rise| *rise != 0.0)
                .map(|rise| Finding::new(FindingCode::EvenSlope, rise)),
        );
        let first = self.pumper(1).map_or(0.0, |pumper| pumper.curve.capacity_gpm());
        let others = (2..=self.available()).filter_map(|number| self.pumper(number));
        let largest = others.map(|pumper| pumper.curve.capacity_gpm()).fold(first, f64::max);
        if largest > first {
            found.push(Finding::new(FindingCode::LargestPumpNotAtSource, largest));
        }
        let over = pumpers.iter().map(|pumper| pumper.intake_psi - pumper.discharge_psi).fold(0.0, f64::max);
        if over > ROUNDING {
            found.push(Finding::new(FindingCode::IntakeOverDischarge, over));
        }
        found
    }

    /// The floors set under what is to be left, each once. At draft the first intake is under the air's pressure, as it must be.
    fn lowered_floors(&self) -> impl Iterator<Item = Finding> {
        let main = match &self.source {
            RelaySource::Hydrant { main_floor, .. } => Finding::floor_lowered(Floor::Main, *main_floor),
            RelaySource::Draft(_) => None,
        };
        let pumpers = if self.draft().is_some() { 2..=self.available() } else { 1..=self.available() };
        let intakes = pumpers.filter_map(|number| self.pumper(number).map(|pumper| pumper.intake_floor));
        let lowest = intakes.min_by(|a, b| a.psi().total_cmp(&b.psi()));
        let intake = lowest.and_then(|floor| Finding::floor_lowered(Floor::Intake, floor));
        [main, Finding::floor_lowered(Floor::Scene, self.scene_floor), intake].into_iter().flatten()
    }

    fn basis(&self, method: Method) -> Vec<&'static Formula> {
        let hydrant = self.draft().is_none();
        let body = matches!(&self.source, RelaySource::Hydrant { source, .. } if source.body_loss.is_some());
        let constant = matches!(method, Method::ConstantPressure(_));
        let used = [
            (&formula::RELAY_PLACES, !constant),
            (&formula::RELAY_CONSTANT_PRESSURE, constant),
            (&formula::SUPPLY_CURVE, hydrant),
            (&formula::HYDRANT_BODY, body),
            (&formula::LIFT, !hydrant),
            (&formula::RATING_BY_LIFT, !hydrant),
            (&formula::DRAFT_CAPACITY, !hydrant),
            (&formula::HOSE_FRICTION, true),
            (&formula::ELEVATION, !self.ground.is_level()),
            (&formula::PUMP_RATING, true),
            (&formula::PRESSURE_CEILING, self.hose.rating_psi().is_some()),
            (&formula::DELIVERABLE_FLOW, true),
        ];
        used.into_iter().filter_map(|(formula, applies)| applies.then_some(formula)).collect()
    }
}

/// The pumper with the least to spare; the first among equals.
fn weakest(pumpers: &[RelayPumper]) -> usize {
    let mut found: Option<&RelayPumper> = None;
    for pumper in pumpers {
        if found.is_none_or(|least| pumper.spare_psi() < least.spare_psi() - ROUNDING) {
            found = Some(pumper);
        }
    }
    found.map_or(1, |pumper| pumper.number)
}
