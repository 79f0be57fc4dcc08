//! ISO: needed fire flow of a building, of dwellings, and what a hydrant is credited with.

use alloc::{vec, vec::Vec};

use super::{Method, MethodCaution, NeededFlow, Step};
use crate::quantity::{Area, ExposureFactor, Length, Separation};

/// The schedule in use. A caller has to say: the table for dwellings changed. No other figure here is known to differ between them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IsoEdition {
    /// The schedules before 2012.
    Before2012,
    /// The schedule of 2012 and after. Its table for dwellings is from memory.
    From2012,
}

/// Construction classes. Their factors and caps are from memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ConstructionClass {
    /// Class 1, frame.
    Frame,
    /// Class 2, joisted masonry.
    JoistedMasonry,
    /// Class 3, non-combustible.
    NonCombustible,
    /// Class 4, masonry non-combustible.
    MasonryNonCombustible,
    /// Class 5, modified fire-resistive.
    ModifiedFireResistive,
    /// Class 6, fire-resistive.
    FireResistive,
}

impl ConstructionClass {
    /// F, and the most C may be, gpm, for a building of more than one storey. Source: `memory`.
    const fn factor_and_cap(self) -> (f64, f64) {
        match self {
            Self::Frame => (1.5, 8000.0),
            Self::JoistedMasonry => (1.0, 8000.0),
            Self::NonCombustible | Self::MasonryNonCombustible => (0.8, 6000.0),
            Self::ModifiedFireResistive | Self::FireResistive => (0.6, 6000.0),
        }
    }
}

/// The most C may be for a building of one storey, gpm. Source: `memory`.
const ONE_STOREY_CAP_GPM: f64 = 6000.0;

/// Combustibility of what a building holds. The factors are from memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Occupancy {
    /// C-1, non-combustible.
    NonCombustible,
    /// C-2, limited combustible.
    LimitedCombustible,
    /// C-3, combustible.
    Combustible,
    /// C-4, free-burning.
    FreeBurning,
    /// C-5, rapid-burning.
    RapidBurning,
}

impl Occupancy {
    /// O. Source: `memory`.
    const fn factor(self) -> f64 {
        match self {
            Self::NonCombustible => 0.75,
            Self::LimitedCombustible => 0.85,
            Self::Combustible => 1.0,
            Self::FreeBurning => 1.15,
            Self::RapidBurning => 1.25,
        }
    }
}

/// A building to be rated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IsoNeededFlow {
    /// The schedule.
    pub edition: IsoEdition,
    /// Its construction.
    pub construction: ConstructionClass,
    /// Its effective area: the largest floor and half of the others, or by the schedule's own rule for protected fire-resistive floors (`memory`).
    pub effective_area: Area,
    /// Whether it has one storey only, which lowers the cap.
    pub one_storey: bool,
    /// What it holds.
    pub occupancy: Occupancy,
    /// X + P over its sides, from the schedule's tables.
    pub exposure_and_communication: ExposureFactor,
    /// Whether a wood-shingle roof here or beside it could spread the fire.
    pub wood_shingle_roof: bool,
}

impl IsoNeededFlow {
    /// The needed fire flow.
    ///
    /// # Formula
    /// `C = 18 F √A`, to the nearest 250 and at most its cap; `NFF = C O (1 + X + P)`, X + P at most 0.60, 500 more for a wood-shingle roof, to the
    /// nearest 250 under 2500 and 500 from there; at least 500, at most 12,000. Halves go up.
    /// # Units
    /// ft²; gpm out.
    /// # Range
    /// Buildings other than one- and two-family dwellings, without full sprinkler protection.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::needed_flow::{ConstructionClass, IsoEdition, IsoNeededFlow, Occupancy};
    /// # use longlay_hydraulics::quantity::{Area, ExposureFactor, OutOfBounds};
    /// let shop = IsoNeededFlow {
    ///     edition: IsoEdition::From2012,
    ///     construction: ConstructionClass::JoistedMasonry,
    ///     effective_area: Area::from_sq_ft(12_000.0)?,
    ///     one_storey: false,
    ///     occupancy: Occupancy::LimitedCombustible,
    ///     exposure_and_communication: ExposureFactor::from_number(0.14)?,
    ///     wood_shingle_roof: false,
    /// };
    /// assert_eq!(shop.needed_flow().gpm, 2000.0);
    /// # Ok::<(), OutOfBounds>(())
    /// ```
    /// # Source
    /// `iso-nff` for the formula, its least and its most; F, O, roundings, caps, X + P and roof from `memory`.
    pub fn needed_flow(&self) -> NeededFlow {
        let mut cautions = vec![MethodCaution::FromMemory];
        let mut held = |value: f64, most: f64, caution| {
            if value > most {
                cautions.push(caution);
            }
            value.min(most)
        };
        let (factor, cap) = self.construction.factor_and_cap();
        let cap = if self.one_storey { ONE_STOREY_CAP_GPM } else { cap };
        let unrounded = 18.0 * factor * libm::sqrt(self.effective_area.sq_ft());
        let construction = held(nearest(unrounded, 250.0), cap, MethodCaution::ConstructionFlowCapped);
        let exposure = held(self.exposure_and_communication.number(), 0.60, MethodCaution::ExposureCapped);
        let roof = if self.wood_shingle_roof { 500.0 } else { 0.0 };
        let raw = construction * self.occupancy.factor() * (1.0 + exposure) + roof;
        let rounded = nearest(raw, if raw < 2500.0 { 250.0 } else { 500.0 });
        let gpm = held(rounded, 12_000.0, MethodCaution::HeldAtMaximum).max(500.0);
        if rounded < 500.0 {
            cautions.push(MethodCaution::RaisedToMinimum);
        }
        NeededFlow {
            method: Method::Iso(self.edition),
            gpm,
            working: vec![
                Step::new("construction_coefficient", factor, "1"),
                Step::new("construction_flow_unrounded", unrounded, "gpm"),
                Step::new("construction_flow", construction, "gpm"),
                Step::new("occupancy_factor", self.occupancy.factor(), "1"),
                Step::new("exposure_and_communication", exposure, "1"),
                Step::new("wood_shingle_roof", roof, "gpm"),
                Step::new("needed_flow_unrounded", raw, "gpm"),
                Step::new("needed_flow", gpm, "gpm"),
            ],
            cautions,
        }
    }
}

/// To the nearest step, halves up.
fn nearest(value: f64, step: f64) -> f64 {
    libm::floor(value / step + 0.5) * step
}

/// Least separation, ft, with its needed flow, gpm; the first that a distance reaches. Source: `iso-dwelling`.
const DWELLINGS_BEFORE_2012: [(f64, f64); 4] = [(101.0, 500.0), (31.0, 750.0), (11.0, 1000.0), (0.0, 1500.0)];
/// The same from 2012. Source: `memory`.
const DWELLINGS_FROM_2012: [(f64, f64); 4] = [(31.0, 500.0), (21.0, 750.0), (11.0, 1000.0), (0.0, 1500.0)];

/// The needed fire flow of one- and two-family dwellings by their separation.
///
/// # Formula
/// Before 2012: over 100 ft 500 gpm, 31 to 100 750, 11 to 30 1000, 10 or less 1500. From 2012: over 30 ft 500, 21 to 30 750, 11 to 20 1000, 10 or
/// less 1500.
/// # Units
/// ft; gpm out.
/// # Range
/// One- and two-family dwellings. The tables are in whole feet: a distance between two counts as the nearer, which asks for more.
/// # Examples
/// ```
/// # use longlay_hydraulics::{needed_flow::{IsoEdition, dwelling_needed_flow}, quantity::{OutOfBounds, Separation}};
/// let apart = Separation::from_ft(50.0)?;
/// assert_eq!(dwelling_needed_flow(IsoEdition::Before2012, apart).gpm, 750.0);
/// assert_eq!(dwelling_needed_flow(IsoEdition::From2012, apart).gpm, 500.0);
/// # Ok::<(), OutOfBounds>(())
/// ```
/// # Source
/// `iso-dwelling` before 2012; from 2012 `memory`.
pub fn dwelling_needed_flow(edition: IsoEdition, separation: Separation) -> NeededFlow {
    let (table, cautions) = match edition {
        IsoEdition::Before2012 => (DWELLINGS_BEFORE_2012, Vec::new()),
        IsoEdition::From2012 => (DWELLINGS_FROM_2012, vec![MethodCaution::FromMemory]),
    };
    let [.., (_, nearest_flow)] = table;
    let row = table.iter().find(|(least, _)| separation.ft() >= *least);
    let gpm = row.map_or(nearest_flow, |(_, gpm)| *gpm);
    let working = vec![Step::new("separation", separation.ft(), "ft"), Step::new("needed_flow", gpm, "gpm")];
    NeededFlow { method: Method::IsoDwelling(edition), gpm, working, cautions }
}

/// The most a hydrant is credited with, gpm, by the hose laid to it.
///
/// # Formula
/// To 300 ft 1000, to 600 ft 670, to 1000 ft 250, beyond nothing.
/// # Units
/// ft, as apparatus lays hose; gpm out.
/// # Range
/// A standard hydrant with a pumper outlet and 1,200 ft of 2-1/2 in hose; larger hose may raise it. A hydrant or main that gives less is
/// credited with less. The report it is from states no edition. A distance between two whole feet counts as the farther.
/// # Examples
/// ```
/// # use longlay_hydraulics::{needed_flow::hydrant_credit_gpm, quantity::{Length, OutOfBounds}};
/// assert_eq!(hydrant_credit_gpm(Length::from_ft(301.0)?), 670.0);
/// # Ok::<(), OutOfBounds>(())
/// ```
/// # Source
/// `iso-credit`.
pub fn hydrant_credit_gpm(hose_lay: Length) -> f64 {
    match hose_lay.ft() {
        feet if feet <= 300.0 => 1000.0,
        feet if feet <= 600.0 => 670.0,
        feet if feet <= 1000.0 => 250.0,
        _ => 0.0,
    }
}
