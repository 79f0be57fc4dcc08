//! How much water a building asks for, by the methods in use. They answer different questions and differ by multiples: the caller chooses,
//! nothing is chosen for it, and each answer says by which method it is, how it came about and where it does not hold.

mod academy;
mod caution;
mod duration;
mod fire_code;
mod iowa;
mod iso;
mod rural;
mod verdict;

use alloc::vec::Vec;

pub use academy::{ExposureOrder, NationalFireAcademy};
pub use caution::MethodCaution;
pub use duration::FlowDuration;
pub use fire_code::{BuildingType, FireCode, FireCodeEdition, NoKnownRow, Sprinklers};
pub use iowa::Iowa;
pub use iso::{ConstructionClass, IsoEdition, IsoNeededFlow, Occupancy, dwelling_needed_flow, hydrant_credit_gpm};
pub use rural::{Construction, MinimumSupply, OccupancyHazard, RuralEdition, RuralSupply};
pub use verdict::{DOUBTS_A_BOOST, DOUBTS_ANY, Delivered, Verdict, verdict};

/// A method.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Iowa rate of flow.
    Iowa,
    /// National Fire Academy.
    NationalFireAcademy,
    /// ISO needed fire flow.
    Iso(IsoEdition),
    /// ISO table for one- and two-family dwellings.
    IsoDwelling(IsoEdition),
    /// NFPA 1142.
    Nfpa1142(RuralEdition),
    /// The fire code's appendix B.
    FireCode(FireCodeEdition),
}

/// One intermediate value, in the order they were worked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Its name.
    pub name: &'static str,
    /// What it came to.
    pub value: f64,
    /// Its unit.
    pub unit: &'static str,
}

impl Step {
    const fn new(name: &'static str, value: f64, unit: &'static str) -> Self {
        Self { name, value, unit }
    }
}

/// A needed flow with its working.
#[derive(Debug, Clone, PartialEq)]
pub struct NeededFlow {
    /// By which method.
    pub method: Method,
    /// The flow, gpm.
    pub gpm: f64,
    /// How it came about.
    pub working: Vec<Step>,
    /// Where it does not hold, and what was assumed.
    pub cautions: Vec<MethodCaution>,
}
