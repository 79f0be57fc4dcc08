//! How long a needed flow has to run, where its method says so, and the water that takes.

use super::{Method, MethodCaution, MinimumSupply, NeededFlow};

/// How long a flow runs and what it adds up to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowDuration {
    /// How long, min.
    pub minutes: f64,
    /// The water that takes, gal.
    pub volume_gal: f64,
    /// What is doubtful about it.
    pub caution: Option<MethodCaution>,
}

/// The most a flow may be for a duration, gpm, with that duration, min; past the last, [`LONGEST_MIN`]. Source: `memory`.
const ISO_DURATIONS: [(f64, f64); 2] = [(2500.0, 120.0), (3500.0, 180.0)];
/// The same of the fire code. Source: `memory`.
const FIRE_CODE_DURATIONS: [(f64, f64); 2] = [(2750.0, 120.0), (3750.0, 180.0)];
/// Source: `memory`.
const LONGEST_MIN: f64 = 240.0;

impl NeededFlow {
    /// How long the flow has to run; none where its method says nothing of it.
    ///
    /// # Formula
    /// ISO, dwellings included: to 2500 gpm 2 h, to 3500 3 h, over it 4 h; the fire code: to 2750 gpm 2 h, to 3750 3 h, over it 4 h; the volume is flow x duration. Iowa and the National Fire Academy
    /// have none: they ask for a rate that controls a fire, and not for a supply.
    /// # Units
    /// gpm; min and gal out.
    /// # Range
    /// Flows of the methods' own steps: between two of them the longer counts.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::{needed_flow::{IsoEdition, dwelling_needed_flow}, quantity::{OutOfBounds, Separation}};
    /// let needed = dwelling_needed_flow(IsoEdition::From2012, Separation::from_ft(5.0)?);
    /// let duration = needed.duration().ok_or("ISO has a duration")?;
    /// assert_eq!((needed.gpm, duration.minutes, duration.volume_gal), (1500.0, 120.0, 180_000.0));
    /// # Ok::<(), Box<dyn core::error::Error>>(())
    /// ```
    /// # Source
    /// The durations from `memory`; the volume `derived`.
    pub fn duration(&self) -> Option<FlowDuration> {
        let table = match self.method {
            // What NFPA 1142 asks for is a supply, which has its own: see `MinimumSupply::duration`.
            Method::Iowa | Method::NationalFireAcademy | Method::Nfpa1142(_) => return None,
            Method::Iso(_) | Method::IsoDwelling(_) => ISO_DURATIONS,
            Method::FireCode(_) => FIRE_CODE_DURATIONS,
        };
        let row = table.iter().find(|(most, _)| self.gpm <= *most);
        let minutes = row.map_or(LONGEST_MIN, |(_, minutes)| *minutes);
        let caution = Some(MethodCaution::DurationFromMemory);
        Some(FlowDuration { minutes, volume_gal: self.gpm * minutes, caution })
    }
}

impl MinimumSupply {
    /// How long the least supply lasts at its delivery rate.
    ///
    /// # Formula
    /// `t = supply/delivery rate`.
    /// # Units
    /// gal, gpm; min out.
    /// # Range
    /// The supply is what is asked for; the time only follows from it.
    /// # Source
    /// `derived`.
    pub fn duration(&self) -> FlowDuration {
        FlowDuration { minutes: self.gal / self.delivery_gpm, volume_gal: self.gal, caution: None }
    }
}
