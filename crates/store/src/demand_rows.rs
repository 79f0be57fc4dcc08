//! Rows of demand points, and what they ask for.

use longlay_hydraulics::needed_flow::{BuildingType, FireCode, FireCodeEdition, IsoEdition, Sprinklers};
use longlay_hydraulics::quantity::{Area, PositiveFlow, Separation};
use longlay_records::demand::{DemandPoint, Need};
use longlay_records::hydrant::{Elevation, Location};

use crate::error::StoreError;
use crate::rows::Row;

const ISO_EDITIONS: [(&str, IsoEdition); 2] =
    [("before_2012", IsoEdition::Before2012), ("from_2012", IsoEdition::From2012)];
const CODE_EDITIONS: [(&str, FireCodeEdition); 2] =
    [("before_2015", FireCodeEdition::Before2015), ("from_2015", FireCodeEdition::From2015)];
const SPRINKLERS: [(&str, Sprinklers); 3] =
    [("none", Sprinklers::None), ("full", Sprinklers::Full), ("residential", Sprinklers::Residential)];
const BUILDING_TYPES: [BuildingType; 9] = [
    BuildingType::TypeIA,
    BuildingType::TypeIB,
    BuildingType::TypeIIA,
    BuildingType::TypeIIB,
    BuildingType::TypeIIIA,
    BuildingType::TypeIIIB,
    BuildingType::TypeIV,
    BuildingType::TypeVA,
    BuildingType::TypeVB,
];

/// A need as its columns hold it.
#[derive(Debug, Default)]
pub(crate) struct StoredNeed<'a> {
    pub(crate) method: Option<&'static str>,
    pub(crate) flow_gpm: Option<f64>,
    pub(crate) source: Option<&'a str>,
    pub(crate) edition: Option<&'static str>,
    pub(crate) separation_ft: Option<f64>,
    pub(crate) building_type: Option<&'static str>,
    pub(crate) area_sq_ft: Option<f64>,
    pub(crate) dwelling: Option<bool>,
    pub(crate) sprinklers: Option<&'static str>,
}

pub(crate) fn stored_need(need: Option<&Need>) -> StoredNeed<'_> {
    match need {
        None => StoredNeed::default(),
        Some(Need::Given { flow, source }) => StoredNeed {
            method: Some("given"),
            flow_gpm: Some(flow.gpm()),
            source: source.as_deref(),
            ..StoredNeed::default()
        },
        Some(Need::IsoDwelling { edition, separation }) => StoredNeed {
            method: Some("iso_dwelling"),
            edition: word(edition, &ISO_EDITIONS),
            separation_ft: Some(separation.ft()),
            ..StoredNeed::default()
        },
        Some(Need::FireCode(building)) => StoredNeed {
            method: Some("ifc_b105"),
            edition: word(&building.edition, &CODE_EDITIONS),
            building_type: Some(building.building_type.code()),
            area_sq_ft: Some(building.area.sq_ft()),
            dwelling: Some(building.dwelling),
            sprinklers: word(&building.sprinklers, &SPRINKLERS),
            ..StoredNeed::default()
        },
    }
}

fn word<T: PartialEq>(meant: &T, words: &[(&'static str, T)]) -> Option<&'static str> {
    words.iter().find(|(_, known)| known == meant).map(|(word, _)| *word)
}

pub(crate) struct DemandRow {
    pub(crate) id: String,
    pub(crate) lon_deg: f64,
    pub(crate) lat_deg: f64,
    pub(crate) elevation_ft: Option<f64>,
    pub(crate) name: Option<String>,
    pub(crate) address: Option<String>,
    pub(crate) need_method: Option<String>,
    pub(crate) need_flow_gpm: Option<f64>,
    pub(crate) need_source: Option<String>,
    pub(crate) need_edition: Option<String>,
    pub(crate) separation_ft: Option<f64>,
    pub(crate) building_type: Option<String>,
    pub(crate) area_sq_ft: Option<f64>,
    pub(crate) dwelling: Option<bool>,
    pub(crate) sprinklers: Option<String>,
    pub(crate) retired_at: Option<String>,
}

impl DemandRow {
    pub(crate) fn demand_point(self) -> Result<DemandPoint, StoreError> {
        let row = Row::of("demand_points", &self.id);
        let location = Location::new(self.lon_deg, self.lat_deg)
            .map_err(|_| row.corrupt(format_args!("{} {} is no place on the ground", self.lon_deg, self.lat_deg)))?;
        Ok(DemandPoint {
            id: row.asset_id(&self.id)?,
            location,
            ground: row.maybe(self.elevation_ft, Elevation::from_ft)?,
            need: self.need(row)?,
            name: self.name,
            address: self.address,
        })
    }

    fn need(&self, row: Row<'_>) -> Result<Option<Need>, StoreError> {
        Ok(Some(match self.need_method.as_deref() {
            None => return Ok(None),
            Some("given") => Need::Given {
                flow: row.good(PositiveFlow::from_gpm(there(row, self.need_flow_gpm)?))?,
                source: self.need_source.clone(),
            },
            Some("iso_dwelling") => Need::IsoDwelling {
                edition: meant(row, self.need_edition.as_deref(), &ISO_EDITIONS)?,
                separation: row.good(Separation::from_ft(there(row, self.separation_ft)?))?,
            },
            Some("ifc_b105") => {
                let code = self.building_type.as_deref();
                let known = BUILDING_TYPES.into_iter().find(|known| Some(known.code()) == code);
                Need::FireCode(FireCode {
                    edition: meant(row, self.need_edition.as_deref(), &CODE_EDITIONS)?,
                    building_type: there(row, known)?,
                    area: row.good(Area::from_sq_ft(there(row, self.area_sq_ft)?))?,
                    dwelling: there(row, self.dwelling)?,
                    sprinklers: meant(row, self.sprinklers.as_deref(), &SPRINKLERS)?,
                })
            }
            Some(other) => return Err(row.corrupt(format_args!("{other} is no method"))),
        }))
    }
}

fn there<T>(row: Row<'_>, value: Option<T>) -> Result<T, StoreError> {
    value.ok_or_else(|| row.corrupt("its need lacks what the method goes by"))
}

fn meant<T: Copy>(row: Row<'_>, text: Option<&str>, words: &[(&str, T)]) -> Result<T, StoreError> {
    there(row, words.iter().find(|(word, _)| Some(*word) == text).map(|(_, meant)| *meant))
}
