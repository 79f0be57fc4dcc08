//! Hose types, appliances, hydrant valves, pumpers and the standard lays made of them.

use longlay_hydraulics::loss::ApplianceLoss;
use longlay_hydraulics::pumper::PumpPoint;
use longlay_hydraulics::quantity::{
    ApplianceCoefficient, Diameter, HoseCoefficient, Length, PositiveFlow, Pressure, Volume,
};

use crate::id::AssetId;

/// Most loads of hose a pumper carries, most test points it has, most appliances at the scene end of a lay.
pub const MAX_LIST: usize = 20;

/// Where a row comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// Shipped with the program, read-only: a handbook figure.
    Library,
    /// The department's own.
    Department,
}

/// The span that sources or samples give for a figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Low end.
    pub low: f64,
    /// High end.
    pub high: f64,
}

/// A kind of hose.
#[derive(Debug, Clone, PartialEq)]
pub struct HoseType {
    /// Its id.
    pub id: AssetId,
    /// What the department calls it.
    pub name: String,
    /// Nominal inside diameter.
    pub diameter: Diameter,
    /// C of the friction formula.
    pub coefficient: HoseCoefficient,
    /// Values of C met elsewhere, for library rows.
    pub coefficient_range: Option<Range>,
    /// Marked operating pressure.
    pub max_operating: Option<Pressure>,
    /// Service-test pressure.
    pub service_test: Option<Pressure>,
    /// Where the coefficient comes from.
    pub source: String,
    /// Library or department.
    pub origin: Origin,
}

/// A kind of appliance.
#[derive(Debug, Clone, PartialEq)]
pub struct ApplianceType {
    /// Its id.
    pub id: AssetId,
    /// What the department calls it.
    pub name: String,
    /// What it costs.
    pub loss: ApplianceLoss,
    /// Losses met elsewhere, psi or psi/(100 gpm)² as the loss is, for library rows.
    pub loss_range: Option<Range>,
    /// Marked operating pressure.
    pub max_operating: Option<Pressure>,
    /// Where the loss comes from.
    pub source: String,
    /// Library or department.
    pub origin: Origin,
}

/// A connecting hose between a hydrant valve and the pumper beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct HoseLoad {
    /// The kind of hose.
    pub hose_type_id: AssetId,
    /// How much of it.
    pub length: Length,
}

/// A kind of four-way hydrant valve.
#[derive(Debug, Clone, PartialEq)]
pub struct HydrantValveType {
    /// Its id.
    pub id: AssetId,
    /// What the department calls it.
    pub name: String,
    /// Hydrant to supply line, unboosted.
    pub through: ApplianceCoefficient,
    /// Values of it met elsewhere, for library rows.
    pub through_range: Option<Range>,
    /// Hydrant to the pumper's intake.
    pub to_pump: ApplianceCoefficient,
    /// Pumper's discharge to the supply line.
    pub from_pump: ApplianceCoefficient,
    /// The hose kept with it from valve to pumper.
    pub to_pump_hose: Option<HoseLoad>,
    /// The hose kept with it from pumper to valve.
    pub from_pump_hose: Option<HoseLoad>,
    /// Where the coefficients come from.
    pub source: String,
    /// Library or department.
    pub origin: Origin,
}

/// A pumper and the hose it carries.
#[derive(Debug, Clone, PartialEq)]
pub struct Pumper {
    /// Its id.
    pub id: AssetId,
    /// What the department calls it.
    pub name: String,
    /// Rated flow.
    pub rated_flow: PositiveFlow,
    /// Its intake is kept at or above this.
    pub intake_floor: Option<Pressure>,
    /// The department's own ceiling on its discharge.
    pub max_discharge: Option<Pressure>,
    /// Its own test points in order of flow; empty for the rating points.
    pub points: Vec<PumpPoint>,
    /// Its tank.
    pub tank: Option<Volume>,
    /// The supply hose it carries.
    pub hose: Vec<HoseLoad>,
}

/// A standard lay.
#[derive(Debug, Clone, PartialEq)]
pub struct LayProfile {
    /// Its id.
    pub id: AssetId,
    /// What the department calls it.
    pub name: String,
    /// The valve left on the hydrant, if one is.
    pub hydrant_valve_id: Option<AssetId>,
    /// The supply hose.
    pub hose_type_id: AssetId,
    /// Equal lines side by side.
    pub lines: u8,
    /// Hose carried for it: the length of the lay where no other is given.
    pub carried: Length,
    /// Appliances at the scene end, in order.
    pub scene_appliance_ids: Vec<AssetId>,
    /// Least pressure wanted at the scene intake.
    pub scene_floor: Option<Pressure>,
    /// Least pressure left in the main.
    pub main_floor: Option<Pressure>,
}
