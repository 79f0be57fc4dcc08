//! On the kerb: whether a test just read is worth its water, and what to open next before the hydrants are shut.
//!
//! What is opened next is expected to flow as those that flow already do on the mean, its pitot the same share of the gauge's pressure. What the gauge may
//! fall to is told for the most it may flow: the largest pitot read, or all the gauge shows where nothing like it is read on its hydrant.

mod meeting;

use longlay_hydraulics::band::{Band, flow_band};
use longlay_hydraulics::finding::{Finding, GOOD_DROP_SHARE, LEAST_DROP_SHARE};
use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading};
use longlay_hydraulics::quantity::{Diameter, PitotPressure, Pressure};
use longlay_hydraulics::supply::{RATING_PRESSURE_PSI, SupplyCurve};

use crate::departure::{asks_for_a_check, departures};
use crate::flow_test::FlowTest;
use crate::hydrant::{Hydrant, HydrantOutlet};
use crate::id::AssetId;
use crate::kerb::meeting::{discharged_gpm, scaled, settled, weakest};

/// Under this no test pulls a main, psi, whatever its static. Source: `nfpa-291`.
pub const FLOOR_PSI: f64 = RATING_PRESSURE_PSI;
/// So near the floor nothing more is opened, psi. A judgement of ours: the needle swings, and somebody may draw while it is read.
pub const NEAR_FLOOR_PSI: f64 = 5.0;
/// How far an outlet read may be from an outlet recorded and still be it, inches: what a worn or a measured bore is off its name.
const SAME_OUTLET_IN: f64 = 0.25;

macro_rules! advice {
    ($($name:ident $code:literal $text:literal;)*) => {
        /// What to do on the kerb.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Advice {
            $(#[doc = $text] $name,)*
        }

        impl Advice {
            /// Its stable code.
            pub const fn code(self) -> &'static str {
                match self { $(Self::$name => $code,)* }
            }

            /// What it says.
            pub const fn text(self) -> &'static str {
                match self { $(Self::$name => $text,)* }
            }
        }
    };
}

advice! {
    Stop "stop" "STOP: the main is at its floor of 20 psi or under it. Close slowly, one outlet after the other, and tell the water authority.";
    NearFloor "near_floor" "The main is within 5 psi of its floor of 20 psi. Open nothing more: record what was read, and close slowly.";
    Record "record" "The gauge fell by a quarter of the static or more: record it, and close slowly.";
    OpenNext "open_next" "The gauge has not fallen by a quarter of the static. Open the outlet named, slowly, and read again; stop where the gauge nears 20 psi.";
    WouldReachFloor "would_reach_floor" "The gauge has not fallen by a quarter of the static, but another outlet may take the main under 20 psi. Open none fully: record what was read.";
    FlowMore "flow_more" "The gauge has not fallen by a quarter of the static, and no outlet is known that could be opened. Flow another hydrant beyond the gauge besides, and read again; stop where the gauge nears 20 psi.";
}

/// What a test just read is worth, and what to do about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Kerb {
    /// What of the readings is to be looked at before anything else.
    pub checks: Vec<Finding>,
    /// How far the gauge fell at the most that flowed, psi.
    pub drop_psi: f64,
    /// The same, percent of the static.
    pub drop_percent: f64,
    /// Whether it fell by a tenth of the static, under which a test is worth next to nothing.
    pub enough: bool,
    /// Whether it fell by a quarter.
    pub good: bool,
    /// The advice.
    pub advice: Advice,
    /// How far the rated flow may be off now.
    pub band: Band,
    /// What would have to flow for a drop of a quarter, or down to the floor where that comes first, gpm; none where the gauge has not moved.
    pub wanted_gpm: Option<f64>,
    /// How much more that is, gpm.
    pub more_gpm: Option<f64>,
    /// What to open next.
    pub open_next: Option<OpenNext>,
}

/// An outlet to open, with what to expect of it.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenNext {
    /// The hydrant it is on.
    pub hydrant_id: AssetId,
    /// The outlet.
    pub outlet: HydrantOutlet,
    /// What then flows in all, gpm.
    pub flow_gpm: f64,
    /// What the gauge then reads, psi; none where it has not moved yet.
    pub residual_psi: Option<f64>,
    /// What it reads at the least, with the most the outlet may flow and the gauge off by its span, psi.
    pub residual_low_psi: f64,
    /// How far the rated flow may be off then; none where the gauge has not moved yet.
    pub band: Option<Band>,
}

/// The advice for a test, with the records of the hydrants that flowed and the other tests gauged there; none only where its readings give no curve.
pub fn kerb(test: &FlowTest, flowed: &[Hydrant], others: &[FlowTest]) -> Option<Kerb> {
    let found = test.curve()?;
    let of_itself = found.findings.iter().copied().filter(|finding| asks_for_a_check(finding.code));
    let checks = of_itself.chain(departures(test, others.iter())).collect();
    let now = Now::of(test)?;
    let curve = found.curve;
    let static_psi = test.static_pressure.psi();
    let drop_psi = static_psi - now.residual_psi;
    let (enough, good) = (drop_psi >= LEAST_DROP_SHARE * static_psi, drop_psi >= GOOD_DROP_SHARE * static_psi);
    let wanted_psi = ((1.0 - GOOD_DROP_SHARE) * static_psi).max(FLOOR_PSI);
    let wanted_gpm = (!curve.no_drop() && wanted_psi < static_psi).then(|| curve.flow_gpm(wanted_psi));
    let (advice, open_next) = if now.lowest_psi <= FLOOR_PSI {
        (Advice::Stop, None)
    } else if good {
        (Advice::Record, None)
    } else if now.lowest_psi < FLOOR_PSI + NEAR_FLOOR_PSI {
        (Advice::NearFloor, None)
    } else {
        next(test, &now, &curve, flowed)
    };
    Some(Kerb {
        checks,
        drop_psi,
        drop_percent: 100.0 * drop_psi / static_psi,
        enough,
        good,
        advice,
        band: flow_band(&curve, &found.spread, curve.rating_pressure_psi()),
        wanted_gpm,
        more_gpm: wanted_gpm.map(|wanted| (wanted - now.gpm).max(0.0)),
        open_next,
    })
}

/// What flows, and what the gauge reads: of two points the one that flowed more.
struct Now<'a> {
    flow: &'a MeasuredFlow,
    gpm: f64,
    residual_psi: f64,
    /// The lower of the two residuals, whichever flowed more: the main was there.
    lowest_psi: f64,
}

impl<'a> Now<'a> {
    fn of(test: &'a FlowTest) -> Option<Self> {
        let first = (&test.flow, test.residual_pressure);
        let second = test.second_point.as_ref().map(|second| (&second.flow, second.residual_pressure));
        let points = || [first].into_iter().chain(second);
        let lowest_psi = points().map(|(_, residual)| residual.psi()).fold(f64::INFINITY, f64::min);
        let points = points().filter_map(|(flow, residual)| {
            Some(Now { flow, gpm: flow.total().ok()?.gpm(), residual_psi: residual.psi(), lowest_psi })
        });
        points.max_by(|a, b| a.gpm.total_cmp(&b.gpm))
    }

    /// The pitot readings; none where the flow was metered, and nobody knows what is open.
    fn readings(&self) -> &'a [PitotReading] {
        match self.flow {
            MeasuredFlow::Pitot(readings) => readings,
            MeasuredFlow::Metered(_) => &[],
        }
    }

    /// The readings with one more.
    fn with(&self, more: PitotReading) -> Vec<PitotReading> {
        self.readings().iter().copied().chain([more]).collect()
    }

    /// The most that one more outlet may read: the largest read where a reading bounds it, else all that the gauge shows.
    fn most_pitot_psi(&self, is_bounded: bool) -> f64 {
        let read = self.readings().iter().map(|reading| reading.pitot.psi());
        read.fold(if is_bounded { 0.0 } else { self.residual_psi }, f64::max).min(PitotPressure::BOUND.max)
    }
}

/// The least outlet that brings the drop wanted, else the one that brings the most, of those that leave the main above its floor.
fn next(test: &FlowTest, now: &Now, curve: &SupplyCurve, flowed: &[Hydrant]) -> (Advice, Option<OpenNext>) {
    let readings = now.readings();
    let left = if readings.is_empty() { Vec::new() } else { left_shut(test, readings, flowed) };
    let tried: Vec<_> =
        left.into_iter().filter_map(|(hydrant, outlet)| opened(test, now, curve, hydrant, outlet)).collect();
    if tried.is_empty() {
        let leaves_floor = one_more_leaves_floor(test, now, curve);
        return (if leaves_floor { Advice::FlowMore } else { Advice::WouldReachFloor }, None);
    }
    let safe = tried.into_iter().filter(|next| next.residual_low_psi >= FLOOR_PSI);
    let wanted_psi = (1.0 - GOOD_DROP_SHARE) * test.static_pressure.psi();
    let reaches = |next: &OpenNext| next.residual_psi.is_some_and(|psi| psi <= wanted_psi);
    let best = safe.reduce(|best, other| match (reaches(&best), reaches(&other)) {
        (true, true) if other.flow_gpm < best.flow_gpm => other,
        (false, true) => other,
        (false, false) if other.flow_gpm > best.flow_gpm => other,
        _ => best,
    });
    if best.is_some() { (Advice::OpenNext, best) } else { (Advice::WouldReachFloor, None) }
}

/// The outlets of the hydrants that flow which are not open. Each reading is one of them; on the gauge hydrant the smallest left carries the gauge.
fn left_shut<'a>(
    test: &FlowTest,
    readings: &[PitotReading],
    flowed: &'a [Hydrant],
) -> Vec<(&'a Hydrant, HydrantOutlet)> {
    let all = flowed.iter().flat_map(|hydrant| hydrant.outlets.iter().map(move |outlet| (hydrant, *outlet)));
    let mut left: Vec<_> = all.collect();
    for reading in readings {
        let off = |outlet: &HydrantOutlet| (outlet.diameter.inches() - reading.diameter.inches()).abs();
        let like = left.iter().enumerate().filter(|(_, (_, outlet))| off(outlet) <= SAME_OUTLET_IN);
        if let Some((i, _)) = like.min_by(|(_, (_, a)), (_, (_, b))| off(a).total_cmp(&off(b))) {
            left.remove(i);
        }
    }
    let on_gauge = left.iter().enumerate().filter(|(_, (hydrant, _))| hydrant.id == test.gauge_hydrant_id);
    let carries = on_gauge.min_by(|(_, (_, a)), (_, (_, b))| a.diameter.inches().total_cmp(&b.diameter.inches()));
    if let Some((i, _)) = carries {
        left.remove(i);
    }
    left
}

/// Whether the main stays above its floor with one more hydrant flowing, of which nothing is known: an outlet as the largest open, or of a metered flow as
/// much again.
fn one_more_leaves_floor(test: &FlowTest, now: &Now, curve: &SupplyCurve) -> bool {
    let Some(weakest) = weakest(curve, now.gpm) else { return false };
    let Ok(pitot) = PitotPressure::from_psi(now.most_pitot_psi(false)) else { return false };
    let more = now.readings().iter().map(|reading| PitotReading { pitot, ..*reading });
    let low_psi = if let Some(largest) = more.max_by(|a, b| a.discharge_gpm().total_cmp(&b.discharge_gpm())) {
        let open = now.with(largest);
        settled(now.residual_psi, |psi| discharged_gpm(&open, psi / now.residual_psi), weakest)
    } else {
        weakest(2.0 * now.gpm)
    };
    (1.0 - GOOD_DROP_SHARE) * test.static_pressure.psi() >= FLOOR_PSI && low_psi >= FLOOR_PSI
}

/// What to expect with one more outlet open.
fn opened(
    test: &FlowTest,
    now: &Now,
    curve: &SupplyCurve,
    hydrant: &Hydrant,
    outlet: HydrantOutlet,
) -> Option<OpenNext> {
    let readings = now.readings();
    let count = readings.iter().map(|_| 1.0).sum::<f64>();
    let mean_psi = readings.iter().map(|reading| reading.pitot.psi()).sum::<f64>() / count;
    let with = |pitot_psi: f64| {
        let pitot = PitotPressure::from_psi(pitot_psi).ok()?;
        Some(now.with(PitotReading { diameter: outlet.diameter, coefficient: outlet.coefficient, pitot }))
    };

    let most = with(now.most_pitot_psi(is_read(test, readings, hydrant, &outlet)))?;
    let most_gpm = |psi: f64| discharged_gpm(&most, psi / now.residual_psi);
    let residual_low_psi = settled(now.residual_psi, most_gpm, weakest(curve, now.gpm)?);

    let open = with(mean_psi)?;
    let moved = !curve.no_drop();
    let open_gpm = |psi: f64| discharged_gpm(&open, psi / now.residual_psi);
    // A level main settles where it is.
    let residual_psi =
        if moved { settled(now.residual_psi, open_gpm, |gpm| curve.pressure_psi(gpm)) } else { now.residual_psi };
    let at = scaled(&open, residual_psi / now.residual_psi)?;
    let flow_gpm = at.iter().map(PitotReading::discharge_gpm).sum();
    let then = FlowTest {
        residual_pressure: Pressure::from_psi(residual_psi).ok()?,
        flow: MeasuredFlow::Pitot(at),
        second_point: None,
        ..test.clone()
    };
    let band = then.curve().map(|then| flow_band(&then.curve, &then.spread, then.curve.rating_pressure_psi()));
    Some(OpenNext {
        hydrant_id: hydrant.id.clone(),
        outlet,
        flow_gpm,
        residual_psi: moved.then_some(residual_psi),
        residual_low_psi: residual_low_psi.min(residual_psi),
        band: band.filter(|_| moved),
    })
}

/// Whether a reading bounds the outlet's: its hydrant is read, and at an outlet no larger, which reads no less. Readings do not name their hydrants; where
/// there are fewer than hydrants, any of these may be without.
fn is_read(test: &FlowTest, readings: &[PitotReading], hydrant: &Hydrant, outlet: &HydrantOutlet) -> bool {
    let off_in = |a: Diameter, b: Diameter| a.inches() - b.inches();
    let on_it = |reading: &&PitotReading| {
        hydrant.outlets.iter().any(|outlet| off_in(outlet.diameter, reading.diameter).abs() <= SAME_OUTLET_IN)
    };
    let mut like = readings.iter().filter(on_it);
    readings.len() >= test.flow_hydrant_ids.len()
        && like.any(|reading| off_in(reading.diameter, outlet.diameter) <= SAME_OUTLET_IN)
}

#[cfg(test)]
mod tests;
