//! A hydrant: where it stands, what it opens, who owns it and whether it may be used.

use longlay_hydraulics::quantity::{ApplianceCoefficient, Diameter, OutOfBounds, OutletCoefficient};

use crate::id::AssetId;

/// Most outlets a hydrant has.
pub const MAX_OUTLETS: usize = 6;

/// A point on the ground, WGS 84 degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Location {
    lon: f64,
    lat: f64,
}

impl Location {
    /// Checks and takes a point.
    ///
    /// # Errors
    /// Each coordinate outside its range, or not a number.
    pub fn new(lon: f64, lat: f64) -> Result<Self, Vec<OutOfBounds>> {
        let bad = |quantity, value: f64, bound: f64| {
            let inside = value >= -bound && value <= bound;
            (!inside).then_some(OutOfBounds { quantity, value, min: -bound, max: bound, unit: "deg" })
        };
        let faults: Vec<_> = [bad("longitude", lon, 180.0), bad("latitude", lat, 90.0)].into_iter().flatten().collect();
        if faults.is_empty() { Ok(Self { lon, lat }) } else { Err(faults) }
    }

    /// Longitude, degrees east.
    pub const fn lon(&self) -> f64 {
        self.lon
    }

    /// Latitude, degrees north.
    pub const fn lat(&self) -> f64 {
        self.lat
    }

    /// Great-circle distance, ft (haversine on a sphere of 20,902,231 ft, the mean radius of the earth).
    pub fn distance_ft(&self, other: &Self) -> f64 {
        const EARTH_RADIUS_FT: f64 = 20_902_231.0;
        let (a, b) = (self.lat.to_radians(), other.lat.to_radians());
        let half = |d: f64| (d / 2.0).sin().powi(2);
        let h = half(b - a) + a.cos() * b.cos() * half((other.lon - self.lon).to_radians());
        2.0 * EARTH_RADIUS_FT * h.min(1.0).sqrt().asin()
    }
}

/// Height of the ground above the datum of the department's choice, ft.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Elevation(f64);

impl Elevation {
    /// Checks and takes a height.
    ///
    /// # Errors
    /// Outside -1500 to 30,000 ft, or not a number.
    pub fn from_ft(ft: f64) -> Result<Self, OutOfBounds> {
        let (min, max) = (-1500.0, 30_000.0);
        if ft >= min && ft <= max {
            return Ok(Self(ft));
        }
        Err(OutOfBounds { quantity: "elevation", value: ft, min, max, unit: "ft" })
    }

    /// The height, ft.
    pub const fn ft(self) -> f64 {
        self.0
    }
}

/// What an outlet couples to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OutletKind {
    /// A hose outlet, nominally 2-1/2 in.
    Hose,
    /// A pumper outlet (steamer), 4 in and over.
    Pumper,
}

/// One outlet of a hydrant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HydrantOutlet {
    /// What it couples to.
    pub kind: OutletKind,
    /// Inside diameter.
    pub diameter: Diameter,
    /// Coefficient of discharge.
    pub coefficient: OutletCoefficient,
}

/// Who owns a hydrant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owner {
    /// The water authority or the town.
    Public,
    /// Somebody else.
    Private,
}

/// Whether it may be counted on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Status {
    /// It may.
    InService,
    /// It may not.
    OutOfService {
        /// Why, if said.
        reason: Option<String>,
    },
}

/// A hydrant.
#[derive(Debug, Clone, PartialEq)]
pub struct Hydrant {
    /// The department's number.
    pub id: AssetId,
    /// Where it stands.
    pub location: Location,
    /// Height of the ground there.
    pub elevation: Option<Elevation>,
    /// Its outlets, at most [`MAX_OUTLETS`].
    pub outlets: Vec<HydrantOutlet>,
    /// Loss of its own body and outlet, where it was tested.
    pub body_loss: Option<ApplianceCoefficient>,
    /// The main it stands on.
    pub main_id: Option<String>,
    /// Inside diameter of that main.
    pub main_diameter: Option<Diameter>,
    /// The pressure zone it belongs to.
    pub pressure_zone: Option<String>,
    /// Who owns it.
    pub owner: Owner,
    /// Whether its water is fit to drink.
    pub potable: bool,
    /// Whether it is shut for part of the year.
    pub seasonal: bool,
    /// Whether it may be counted on.
    pub status: Status,
    /// Anything else.
    pub description: Option<String>,
}
