//! The fire code's appendix B: needed fire flow by type of construction and area. Only rows that are known stand here: no other is made up.

use alloc::{vec, vec::Vec};

use thiserror::Error;

use super::{Method, MethodCaution, NeededFlow, Step};
use crate::quantity::Area;

/// The edition. A caller has to say: what sprinklers take off changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FireCodeEdition {
    /// Editions before 2015: sprinklers take a building's flow to no less than 1,500 gpm, but for dwellings (`memory`).
    Before2015,
    /// The edition of 2015 and after: with full sprinklers to no less than 1,000 gpm (`memory`).
    From2015,
}

/// Types of construction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BuildingType {
    /// I-A.
    TypeIA,
    /// I-B.
    TypeIB,
    /// II-A.
    TypeIIA,
    /// II-B.
    TypeIIB,
    /// III-A.
    TypeIIIA,
    /// III-B.
    TypeIIIB,
    /// IV.
    TypeIV,
    /// V-A.
    TypeVA,
    /// V-B.
    TypeVB,
}

impl BuildingType {
    /// Its name in the code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::TypeIA => "I-A",
            Self::TypeIB => "I-B",
            Self::TypeIIA => "II-A",
            Self::TypeIIB => "II-B",
            Self::TypeIIIA => "III-A",
            Self::TypeIIIB => "III-B",
            Self::TypeIV => "IV",
            Self::TypeVA => "V-A",
            Self::TypeVB => "V-B",
        }
    }
}

/// Sprinklers throughout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sprinklers {
    /// None, or not throughout.
    None,
    /// Of the standard for whole buildings.
    Full,
    /// Of a standard for dwellings and small residential buildings.
    Residential,
}

/// Most area of a small dwelling, ft², and its flow, gpm. Source: `eng-tips-336083`.
const SMALL_DWELLING: (f64, f64) = (3600.0, 1000.0);
/// What sprinklers leave of a dwelling's flow. Source: `eng-tips-336083`, an older edition; from 2015 `memory`.
const DWELLING_SHARE: f64 = 0.5;
/// What sprinklers leave of another building's flow. Source: `memory`.
const SPRINKLERED_SHARE: f64 = 0.25;

/// Known areas of types I-A and V-A, ft², least and most, with their flow, gpm.
///
/// Source: `shammas-wang-413` for I-A, `kling-2006` for the one area of V-A.
const ROWS: [(BuildingType, f64, f64, f64); 3] = [
    (BuildingType::TypeIA, 0.0, 22_700.0, 1500.0),
    (BuildingType::TypeIA, 22_700.0, 30_200.0, 1750.0),
    (BuildingType::TypeVA, 9000.0, 9000.0, 1750.0),
];

/// Most area of each row of type V-B, ft²: 1,500 gpm for the first, 250 more for each after it, 8,000 over the last.
///
/// Source: `shammas-wang-413` for the first, the others from `memory`.
const TYPE_V_B_TO: [f64; 26] = [
    3600.0, 4800.0, 6200.0, 7700.0, 9400.0, 11_300.0, 13_400.0, 15_600.0, 18_000.0, 20_600.0, 23_300.0, 26_300.0,
    29_300.0, 32_600.0, 36_000.0, 39_600.0, 43_400.0, 47_400.0, 51_500.0, 55_700.0, 60_200.0, 64_800.0, 69_600.0,
    74_600.0, 79_800.0, 85_100.0,
];
/// The first row's flow and what each row adds, gpm.
const FIRST_ROW_GPM: f64 = 1500.0;
const ROW_STEP_GPM: f64 = 250.0;

/// A building for which no row of the table is known here.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error(
    "no row known for type {} and {area_sq_ft} ft²: known are V-B of any area, I-A to 30,200 ft², V-A of 9,000 ft², and dwellings to 3,600 ft²; read the code's \
     own table",
    building_type.code()
)]
pub struct NoKnownRow {
    /// The type asked for.
    pub building_type: BuildingType,
    /// The area asked for, ft².
    pub area_sq_ft: f64,
}

/// A building under the fire code.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FireCode {
    /// The edition.
    pub edition: FireCodeEdition,
    /// Its type of construction.
    pub building_type: BuildingType,
    /// Its area, all floors that count.
    pub area: Area,
    /// Whether it is a one- or two-family dwelling.
    pub dwelling: bool,
    /// Its sprinklers.
    pub sprinklers: Sprinklers,
}

impl FireCode {
    /// The needed fire flow.
    ///
    /// # Formula
    /// By type and area from the table; a dwelling to 3,600 ft² 1,000 gpm. Sprinklers halve a dwelling's flow; another building's they take to a quarter,
    /// at least 1,500 gpm, or 1,000 with full sprinklers from 2015.
    /// # Units
    /// ft²; gpm out.
    /// # Range
    /// The rows known: V-B, I-A to 30,200 ft², V-A of 9,000 ft². An area between two whole feet counts as the larger. A reduction is what the authority
    /// approves, and may be less.
    /// # Errors
    /// No row known.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::needed_flow::{BuildingType, FireCode, FireCodeEdition, Sprinklers};
    /// # use longlay_hydraulics::quantity::Area;
    /// let shop = FireCode {
    ///     edition: FireCodeEdition::From2015,
    ///     building_type: BuildingType::TypeVB,
    ///     area: Area::from_sq_ft(5000.0)?,
    ///     dwelling: false,
    ///     sprinklers: Sprinklers::None,
    /// };
    /// assert_eq!(shop.needed_flow()?.gpm, 2000.0);
    /// # Ok::<(), Box<dyn core::error::Error>>(())
    /// ```
    /// # Source
    /// `shammas-wang-413`, `kling-2006`, `eng-tips-336083`; V-B over 3,600 ft², reductions of other buildings than dwellings and all from 2015 from
    /// `memory`.
    pub fn needed_flow(&self) -> Result<NeededFlow, NoKnownRow> {
        let mut cautions = Vec::new();
        let by_table = self.by_table(&mut cautions)?;
        let (share, least) = self.reduction();
        if self.sprinklers != Sprinklers::None {
            cautions.push(MethodCaution::SprinklerReductionByApproval);
            if !self.dwelling || self.edition == FireCodeEdition::From2015 {
                cautions.push(MethodCaution::FromMemory);
            }
        }
        let reduced = by_table * share;
        if reduced < least {
            cautions.push(MethodCaution::RaisedToSprinkleredLeast);
        }
        let gpm = reduced.max(least);
        cautions.sort_unstable();
        cautions.dedup();
        let working = vec![
            Step::new("flow_by_table", by_table, "gpm"),
            Step::new("share_left_by_sprinklers", share, "1"),
            Step::new("needed_flow", gpm, "gpm"),
        ];
        Ok(NeededFlow { method: Method::FireCode(self.edition), gpm, working, cautions })
    }

    fn by_table(&self, cautions: &mut Vec<MethodCaution>) -> Result<f64, NoKnownRow> {
        let area = self.area.sq_ft();
        if self.dwelling && area <= SMALL_DWELLING.0 {
            return Ok(SMALL_DWELLING.1);
        }
        if self.building_type == BuildingType::TypeVB {
            let rows_below = TYPE_V_B_TO.iter().take_while(|most| area > **most).count();
            if rows_below > 0 {
                cautions.push(MethodCaution::FromMemory);
            }
            let steps = TYPE_V_B_TO.iter().take(rows_below).map(|_| ROW_STEP_GPM).sum::<f64>();
            return Ok(FIRST_ROW_GPM + steps);
        }
        let holds = |(kind, least, most, _): &&(BuildingType, f64, f64, f64)| {
            *kind == self.building_type && area >= *least && area <= *most
        };
        let unknown = NoKnownRow { building_type: self.building_type, area_sq_ft: area };
        ROWS.iter().find(holds).map(|(.., gpm)| *gpm).ok_or(unknown)
    }

    /// What sprinklers leave, as a share, and the least it may come to, gpm.
    const fn reduction(&self) -> (f64, f64) {
        match (self.sprinklers, self.dwelling, self.edition) {
            (Sprinklers::None, ..) => (1.0, 0.0),
            (_, true, _) => (DWELLING_SHARE, 0.0),
            (Sprinklers::Full, false, FireCodeEdition::From2015) => (SPRINKLERED_SHARE, 1000.0),
            _ => (SPRINKLERED_SHARE, 1500.0),
        }
    }
}
