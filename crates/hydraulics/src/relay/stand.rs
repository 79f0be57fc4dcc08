//! One pumper in its place: what reaches it, what it may discharge, how far that goes.

use crate::drafting::{DraftLimit, LiftVerdict};
use crate::loss::PSI_PER_FOOT;
use crate::pumper::Pumper;
use crate::quantity::Pressure;
use crate::relay::answer::{HeldBy, NoRelay, ROUNDING, RelayPumper};
use crate::relay::ground::Place;
use crate::relay::problem::{RelayProblem, RelaySource};

/// A pumper where it stands, at the flow wanted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stand<'a> {
    pub(super) problem: &'a RelayProblem,
    pub(super) number: usize,
    pub(super) pumper: &'a Pumper,
    pub(super) at_ft: f64,
    pub(super) intake_psi: f64,
    pub(super) net_available_psi: f64,
    pub(super) capacity_gpm: f64,
}

/// The most a pumper may discharge, psi, and what holds it.
pub(super) type Most = (f64, HeldBy);

impl<'a> Stand<'a> {
    /// The first pumper, at the source.
    pub(super) fn first(problem: &'a RelayProblem, pumper: &'a Pumper) -> Result<Self, NoRelay> {
        let gpm = problem.flow.gpm();
        match &problem.source {
            RelaySource::Hydrant { source, main_floor } => {
                let main_psi = source.curve.pressure_psi(gpm);
                let body = source.body_loss.map_or(0.0, |k| crate::loss::squared_psi(k.psi_per_100gpm2(), gpm));
                let intake_psi = main_psi - body;
                let main_most_gpm = source.curve.flow_gpm(main_floor.psi());
                if gpm > main_most_gpm || intake_psi < pumper.intake_floor.psi() {
                    return Err(NoRelay::SourceTooWeak { main_psi, intake_psi, main_most_gpm });
                }
                Self::after(problem, 1, pumper, 0.0, intake_psi)
            }
            RelaySource::Draft(draft) => {
                let lift_ft = draft.lift.ft();
                if draft.verdict() == LiftVerdict::NotAttainable {
                    let attainable_ft = draft.attainable_lift_ft();
                    return Err(NoRelay::LiftNotAttainable { lift_ft, attainable_ft });
                }
                let unknown = NoRelay::LiftUnknown { lift_ft };
                let (capacity_gpm, _): (f64, DraftLimit) = draft.capacity(&pumper.curve).ok_or(unknown)?;
                let curve = draft.curve(&pumper.curve).ok_or(unknown)?;
                large_enough(1, capacity_gpm, gpm)?;
                let intake_psi = -draft.suction_psi(gpm);
                let net_available_psi = curve.net_psi(gpm);
                Ok(Self { problem, number: 1, pumper, at_ft: 0.0, intake_psi, net_available_psi, capacity_gpm })
            }
        }
    }

    /// A pumper along the way.
    pub(super) fn after(
        problem: &'a RelayProblem,
        number: usize,
        pumper: &'a Pumper,
        at_ft: f64,
        intake_psi: f64,
    ) -> Result<Self, NoRelay> {
        let (gpm, capacity_gpm) = (problem.flow.gpm(), pumper.curve.capacity_gpm());
        large_enough(number, capacity_gpm, gpm)?;
        let net_available_psi = pumper.curve.net_psi(gpm);
        Ok(Self { problem, number, pumper, at_ft, intake_psi, net_available_psi, capacity_gpm })
    }

    /// The most it may discharge into a stretch whose lowest ground lies so far under (or level with) its own, psi.
    pub(super) fn most(&self, lowest_ft: f64) -> Most {
        let rating = self.problem.hose.rating_psi().map(|psi| psi + PSI_PER_FOOT * lowest_ft);
        let ceilings = [(rating, HeldBy::HoseRating), (self.own_psi(), HeldBy::MaxDischarge)];
        let free = (self.intake_psi + self.net_available_psi, HeldBy::NetPressure);
        ceilings.into_iter().fold(free, |most, (psi, held)| match psi {
            Some(psi) if psi < most.0 => (psi, held),
            _ => most,
        })
    }

    fn own_psi(&self) -> Option<f64> {
        self.pumper.max_discharge.map(Pressure::psi)
    }

    /// What is lost from here to a place, psi.
    pub(super) fn lost_psi(&self, start: Place, place: Place) -> f64 {
        self.problem.friction_psi_per_ft() * (place.at - start.at) + PSI_PER_FOOT * (place.height - start.height)
    }

    /// How far it brings the flow with nowhere less than a floor, ft from the source: past every place where all of them hold, up to the first that does
    /// not.
    ///
    /// Held by the pumper, pressure to spare is straight between places; held by the hose, whose ceiling sinks with the lowest ground, it is so too.
    pub(super) fn reach_ft(&self, places: &[Place], floor_psi: f64) -> f64 {
        let Some((start, end)) = places.first().zip(places.last()) else { return self.at_ft };
        let by_pumper = self.own_psi().unwrap_or(f64::MAX).min(self.intake_psi + self.net_available_psi);
        let spare = |place: Place| by_pumper - self.lost_psi(*start, place) - floor_psi;
        let mut reach = crossing(places, spare).unwrap_or(end.at);
        if let Some(rating) = self.problem.hose.rating_psi() {
            let ceiling = |place: Place| rating + PSI_PER_FOOT * (place.lowest - start.height);
            let spare = |place: Place| ceiling(place) - self.lost_psi(*start, place) - floor_psi;
            reach = reach.min(crossing(places, spare).unwrap_or(end.at));
        }
        reach
    }

    /// The discharge that leaves a floor everywhere on the way, psi.
    pub(super) fn needed_psi(&self, places: &[Place], floor_psi: f64) -> f64 {
        let lost = places.iter().map(|place| self.lost_psi(places[0], *place));
        floor_psi + lost.fold(0.0, f64::max)
    }

    /// It, discharging this much.
    pub(super) fn at(&self, discharge_psi: f64, held_by: HeldBy, stretch_ft: f64) -> RelayPumper {
        let floor = self.pumper.intake_floor.psi();
        RelayPumper {
            number: self.number,
            at_ft: self.at_ft,
            stretch_ft,
            intake_psi: self.intake_psi,
            intake_floor_psi: (self.number > 1 || self.problem.draft().is_none()).then_some(floor),
            discharge_psi,
            held_by,
            net_psi: (discharge_psi - self.intake_psi).max(0.0),
            net_available_psi: self.net_available_psi,
            capacity_gpm: self.capacity_gpm,
        }
    }
}

fn large_enough(number: usize, capacity_gpm: f64, gpm: f64) -> Result<(), NoRelay> {
    if gpm <= capacity_gpm + ROUNDING {
        return Ok(());
    }
    // A capacity of nothing is asked for without end: it is told as the most that a flow can be.
    let share_percent = 100.0 * gpm / capacity_gpm.max(1.0);
    Err(NoRelay::PumperTooSmall { number, capacity_gpm, share_percent })
}

/// Where what is straight between places first falls under nothing.
fn crossing(places: &[Place], f: impl Fn(Place) -> f64) -> Option<f64> {
    let mut before: Option<(Place, f64)> = None;
    for place in places {
        let here = f(*place);
        if here < 0.0 {
            return Some(
                before.map_or(place.at, |(last, there)| last.at + (place.at - last.at) * (there / (there - here))),
            );
        }
        before = Some((*place, here));
    }
    None
}
