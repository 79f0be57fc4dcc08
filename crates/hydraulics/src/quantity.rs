//! Quantities: the type names the quantity, its constructor and getter name the unit.
//!
//! Every value is finite and inside the bounds of [`BOUNDS`] by construction, so no formula downstream meets a NaN, an
//! infinity or a number whose square overflows.

use thiserror::Error;

/// A number that no hydrant, hose or pumper can have, or no number at all.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error("{quantity} must be from {min} to {max} {unit}, not {value}")]
pub struct OutOfBounds {
    /// The quantity, as in [`BOUNDS`].
    pub quantity: &'static str,
    /// What was given; may be NaN or infinite.
    pub value: f64,
    /// Least value accepted.
    pub min: f64,
    /// Greatest value accepted.
    pub max: f64,
    /// Unit of `value`, `min` and `max`.
    pub unit: &'static str,
}

/// One row of [`BOUNDS`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bound {
    /// The quantity's name.
    pub quantity: &'static str,
    /// Least value accepted.
    pub min: f64,
    /// Greatest value accepted.
    pub max: f64,
    /// Its unit.
    pub unit: &'static str,
}

impl Bound {
    fn check(self, value: f64) -> Result<f64, OutOfBounds> {
        // Adding zero turns -0.0 into 0.0, so that equal quantities have equal bits.
        if value >= self.min && value <= self.max {
            return Ok(value + 0.0);
        }
        Err(OutOfBounds { quantity: self.quantity, value, min: self.min, max: self.max, unit: self.unit })
    }
}

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident $label:literal $from:ident $get:ident $unit:literal $min:literal $max:literal;)*) => {
        /// The bounds of every quantity, in one table.
        pub const BOUNDS: &[Bound] = &[$($name::BOUND),*];
        $(
            $(#[$doc])*
            #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
            pub struct $name(f64);

            impl $name {
                /// What values are accepted.
                pub const BOUND: Bound = Bound { quantity: $label, min: $min, max: $max, unit: $unit };

                #[doc = concat!("From a number of ", $unit, ".\n\n# Errors\n\nOutside [`Self::BOUND`], or not a number.")]
                pub fn $from(value: f64) -> Result<Self, OutOfBounds> {
                    Self::BOUND.check(value).map(Self)
                }

                #[doc = concat!("The value in ", $unit, ".")]
                pub const fn $get(self) -> f64 {
                    self.0
                }
            }
        )*
    };
}

quantities! {
    /// A gauge pressure: static, residual, floor, rating, ceiling.
    Pressure "pressure" from_psi psi "psi" 0.0 1000.0;
    /// A gauge pressure at a pump's intake, where less than nothing is a vacuum.
    IntakePressure "intake pressure" from_psi psi "psi" -15.0 1000.0;
    /// A rate of flow.
    Flow "flow or none" from_gpm gpm "gpm" 0.0 50_000.0;
    /// A rate of flow that is not nothing: a flow test's, a pumper's rating, a target.
    PositiveFlow "flow" from_gpm gpm "gpm" 1.0 50_000.0;
    /// A velocity pressure read with a pitot gauge at an open outlet.
    PitotPressure "pitot pressure" from_psi psi "psi" 0.1 200.0;
    /// A length of hose.
    Length "length" from_ft ft "ft" 1.0 100_000.0;
    /// A change of ground level along a lay: a rise is positive, a fall negative.
    Rise "rise" from_ft ft "ft" -5000.0 5000.0;
    /// An inside diameter of an outlet or a hose.
    Diameter "diameter" from_in inches "in" 0.5 24.0;
    /// The coefficient of discharge of an outlet.
    OutletCoefficient "outlet coefficient" from_number number "1" 0.3 1.0;
    /// C of the hose friction formula.
    HoseCoefficient "hose loss coefficient" from_psi_per_100gpm2_100ft psi_per_100gpm2_100ft "psi/(100 gpm)²/100 ft" 0.001 5000.0;
    /// k of the flow-squared loss of an appliance, a valve leg or a hydrant body.
    ApplianceCoefficient "appliance loss coefficient" from_psi_per_100gpm2 psi_per_100gpm2 "psi/(100 gpm)²" 0.0 1000.0;
    /// A volume of water.
    Volume "volume" from_gal gal "gal" 0.0 1_000_000.0;
    /// The diameter of a smooth-bore nozzle's tip.
    TipDiameter "nozzle tip diameter" from_in inches "in" 0.1 6.0;
    /// C of the Hazen-Williams formula: the smoother the wall, the higher.
    Roughness "Hazen-Williams coefficient" from_number number "1" 10.0 200.0;
    /// How far a flow meter may be off.
    MeterUncertainty "flow meter uncertainty" from_percent percent "%" 0.1 50.0;
    /// A length, width or height of a building.
    Dimension "building dimension" from_ft ft "ft" 1.0 10_000.0;
    /// An area of a building's floors.
    Area "floor area" from_sq_ft sq_ft "ft²" 1.0 10_000_000.0;
    /// A clear distance between buildings.
    Separation "separation" from_ft ft "ft" 0.0 10_000.0;
    /// The room a building encloses.
    BuildingVolume "building volume" from_cubic_ft cubic_ft "ft³" 1.0 1_000_000_000.0;
    /// The share of a building that burns.
    Involvement "involvement" from_number number "1" 0.01 1.0;
    /// What exposures and communications add to a needed fire flow, as a share of it.
    ExposureFactor "exposure and communication factor" from_number number "1" 0.0 2.0;
    /// The construction classification number of a building.
    ConstructionNumber "construction classification number" from_number number "1" 0.5 1.5;
    /// Height of the ground above sea level.
    Altitude "altitude" from_ft ft "ft" 0.0 15_000.0;
    /// Height of a pump above the water it drafts from.
    Lift "lift" from_ft ft "ft" 0.0 40.0;
    /// A vacuum read on a pump's intake gauge.
    Vacuum "vacuum" from_in_hg in_hg "inHg" 0.0 30.0;
    /// A time that is not nothing.
    Minutes "time" from_min minutes "min" 0.1 10_000.0;
    /// How far along a relay from its source.
    Along "distance along the relay" from_ft ft "ft" 0.0 100_000.0;
    /// A distance by road.
    Miles "distance by road" from_mi miles "mi" 0.0 1000.0;
    /// The speed a pump turns at.
    PumpSpeed "pump speed" from_rpm rpm "rpm" 1.0 100_000.0;
    /// A height of water that a pump lifts or a pipe takes.
    Head "head" from_ft ft "ft" 0.0 10_000.0;
    /// Power at a pump's shaft.
    Power "power" from_hp hp "hp" 0.0 100_000.0;
    /// A pressure above a perfect vacuum.
    AbsolutePressure "absolute pressure" from_psia psia "psia" 0.0 1000.0;
    /// Weight of a cubic foot of water.
    Density "density" from_lb_per_cubic_ft lb_per_cubic_ft "lb/ft³" 50.0 70.0;
    /// How thick water flows.
    Viscosity "kinematic viscosity" from_cst cst "cSt" 0.1 100.0;
    /// Height of what stands out of a pipe's wall; nothing for a smooth one.
    WallRoughness "wall roughness" from_in inches "in" 0.0 1.0;
    /// The Darcy friction factor.
    FrictionFactor "friction factor" from_number number "1" 0.001 0.2;
    /// K of fittings: velocity heads lost in them.
    FittingLoss "fitting loss coefficient" from_number number "1" 0.0 10_000.0;
}

impl Flow {
    /// A flow that the bounds of what it is worked from hold inside [`Self::BOUND`] already.
    pub(crate) const fn within(gpm: f64) -> Self {
        Self(gpm.clamp(Self::BOUND.min, Self::BOUND.max))
    }
}

impl Rise {
    /// Level ground.
    pub const LEVEL: Self = Self(0.0);
}

impl FittingLoss {
    /// No fittings.
    pub const NONE: Self = Self(0.0);
}

impl From<PositiveFlow> for Flow {
    fn from(flow: PositiveFlow) -> Self {
        Self(flow.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_that_are_none_are_refused() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -0.1, 1000.1] {
            let error = Pressure::from_psi(bad).unwrap_err();
            assert_eq!((error.quantity, error.min, error.max, error.unit), ("pressure", 0.0, 1000.0, "psi"));
        }
    }

    #[test]
    fn minus_zero_is_zero() {
        assert!(Rise::from_ft(-0.0).unwrap().ft().is_sign_positive());
    }

    #[test]
    fn bounds_are_in_order_and_named_once() {
        for (i, bound) in BOUNDS.iter().enumerate() {
            assert!(bound.min < bound.max && bound.max.is_finite(), "{bound:?}");
            assert!(BOUNDS[..i].iter().all(|earlier| earlier.quantity != bound.quantity), "{bound:?}");
        }
    }
}
