//! NFPA 1142: the least water to bring where there are no hydrants, and how fast.

use alloc::{vec, vec::Vec};

use super::{Method, MethodCaution, Step};
use crate::quantity::{BuildingVolume, ConstructionNumber};

/// The edition, told by what it says of dwellings: in which year that changed is not known here. A caller has to say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RuralEdition {
    /// Older editions, which hold a dwelling's construction number at 1.0 (`memory`).
    DwellingsAtMostOne,
    /// Editions that give a dwelling its own number.
    DwellingsByConstruction,
}

/// Occupancy hazard classification: the lower its number, the worse.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OccupancyHazard {
    /// 3, severe.
    Three,
    /// 4, high.
    Four,
    /// 5, moderate.
    Five,
    /// 6, low.
    Six,
    /// 7, light.
    Seven,
}

impl OccupancyHazard {
    /// Its number. Source: `nfpa-1142`.
    const fn number(self) -> f64 {
        match self {
            Self::Three => 3.0,
            Self::Four => 4.0,
            Self::Five => 5.0,
            Self::Six => 6.0,
            Self::Seven => 7.0,
        }
    }
}

/// How a building is built.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Construction {
    /// Type I, 0.5.
    TypeI,
    /// Type II, 0.75.
    TypeII,
    /// Type III, 1.0; the number was read, its type is from memory.
    TypeIII,
    /// Type V, 1.5.
    TypeV,
    /// The number from the edition in use. Type IV only so: what is remembered of it disagrees (0.75 or 0.8).
    Stated(ConstructionNumber),
}

impl Construction {
    fn number(self) -> f64 {
        match self {
            Self::TypeI => 0.5,
            Self::TypeII => 0.75,
            Self::TypeIII => 1.0,
            Self::TypeV => 1.5,
            Self::Stated(number) => number.number(),
        }
    }
}

/// A building without hydrants.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RuralSupply {
    /// The edition.
    pub edition: RuralEdition,
    /// Length by width by the floors' heights and half the attic's rise.
    pub volume: BuildingVolume,
    /// Its occupancy hazard.
    pub hazard: OccupancyHazard,
    /// Its construction.
    pub construction: Construction,
    /// Whether it is a dwelling.
    pub dwelling: bool,
    /// Whether a building of 100 ft² or more stands within 50 ft, or one of any size where either's hazard is 3 or 4.
    pub exposure: bool,
}

/// The least supply with its working.
#[derive(Debug, Clone, PartialEq)]
pub struct MinimumSupply {
    /// By which method and edition.
    pub method: Method,
    /// The water to have there, gal.
    pub gal: f64,
    /// The rate to deliver it at, gpm.
    pub delivery_gpm: f64,
    /// How they came about.
    pub working: Vec<Step>,
    /// What was assumed.
    pub cautions: Vec<MethodCaution>,
}

/// Supply under which a rate is enough, gal, with the rate, gpm. From the last on, [`MOST_RATE_GPM`]. Source: `memory`.
const RATES: [(f64, f64); 3] = [(2500.0, 250.0), (10_000.0, 500.0), (20_000.0, 750.0)];
/// Source: `memory`.
const MOST_RATE_GPM: f64 = 1000.0;

impl RuralSupply {
    /// The least supply and the rate to deliver it at.
    ///
    /// # Formula
    /// `gal = V/OHC x CCN`, times 1.5 with an exposure; at least 2,000, or 3,000 with one. Rate: under 2,500 gal 250 gpm, under 10,000 500, under
    /// 20,000 750, from there 1,000.
    /// # Units
    /// ft³; gal and gpm out.
    /// # Range
    /// Buildings without sprinklers; with them the authority may waive it.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::needed_flow::{Construction, OccupancyHazard, RuralEdition, RuralSupply};
    /// # use longlay_hydraulics::quantity::{BuildingVolume, OutOfBounds};
    /// let house = RuralSupply {
    ///     edition: RuralEdition::DwellingsAtMostOne,
    ///     volume: BuildingVolume::from_cubic_ft(24_000.0)?,
    ///     hazard: OccupancyHazard::Seven,
    ///     construction: Construction::TypeV,
    ///     dwelling: true,
    ///     exposure: false,
    /// };
    /// assert_eq!(house.minimum_supply().gal.round(), 3429.0);
    /// # Ok::<(), OutOfBounds>(())
    /// ```
    /// # Source
    /// `nfpa-1142` for formula, floors and numbers; delivery rates, the type of 1.0 and the dwellings' cap from `memory`.
    pub fn minimum_supply(&self) -> MinimumSupply {
        let mut cautions = vec![MethodCaution::FromMemory];
        if self.construction == Construction::TypeIII {
            cautions.push(MethodCaution::ConstructionTypeFromMemory);
        }
        let mut construction = self.construction.number();
        if self.dwelling && self.edition == RuralEdition::DwellingsAtMostOne && construction > 1.0 {
            construction = 1.0;
            cautions.push(MethodCaution::DwellingCapped);
        }
        let (exposure, least) = if self.exposure { (1.5, 3000.0) } else { (1.0, 2000.0) };
        let computed = self.volume.cubic_ft() / self.hazard.number() * construction * exposure;
        if computed < least {
            cautions.push(MethodCaution::RaisedToLeastSupply);
        }
        let gal = computed.max(least);
        let delivery_gpm = RATES.iter().find(|(under, _)| gal < *under).map_or(MOST_RATE_GPM, |(_, rate)| *rate);
        MinimumSupply {
            method: Method::Nfpa1142(self.edition),
            gal,
            delivery_gpm,
            working: vec![
                Step::new("occupancy_hazard", self.hazard.number(), "1"),
                Step::new("construction_number", construction, "1"),
                Step::new("exposure_factor", exposure, "1"),
                Step::new("computed_supply", computed, "gal"),
                Step::new("minimum_supply", gal, "gal"),
                Step::new("delivery_rate", delivery_gpm, "gpm"),
            ],
            cautions,
        }
    }
}
