//! The parts of a lay that cost pressure, each by itself.

use core::num::NonZeroU8;

use thiserror::Error;

use crate::line_fill::DryLine;
use crate::quantity::{ApplianceCoefficient, Diameter, Flow, HoseCoefficient, Length, Pressure, Rise};
use crate::spread::Spread;

/// Head of water, psi per foot. Never the 0.5 rule of thumb: on a fall that would promise pressure that is not there.
///
/// Source: `honolulu-hydraulics` ch. 1.
pub const PSI_PER_FOOT: f64 = 0.434;

/// Most equal lines laid side by side.
pub const MAX_LINES: u8 = 8;

/// A number of equal lines that nobody lays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("lines must be from 1 to {MAX_LINES}, not {0}")]
pub struct LinesOutOfBounds(pub u8);

/// One or more equal hose lines side by side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hose {
    coefficient: HoseCoefficient,
    length: Length,
    lines: u8,
    /// Inside diameter, for the water that fills it.
    pub diameter: Option<Diameter>,
    /// Marked operating pressure.
    pub max_operating: Option<Pressure>,
    /// Service-test pressure.
    pub service_test: Option<Pressure>,
    /// How far the coefficient may be off: a handbook's, unless it was tested.
    pub spread: Spread,
}

impl Hose {
    /// Hose without a marking; set the public fields for what is known of it.
    ///
    /// # Errors
    /// No line, or more than [`MAX_LINES`].
    pub fn new(coefficient: HoseCoefficient, length: Length, lines: u8) -> Result<Self, LinesOutOfBounds> {
        if lines == 0 || lines > MAX_LINES {
            return Err(LinesOutOfBounds(lines));
        }
        Ok(Self {
            coefficient,
            length,
            lines,
            diameter: None,
            max_operating: None,
            service_test: None,
            spread: Spread::HANDBOOK_HOSE,
        })
    }

    /// The same hose at another length.
    #[must_use]
    pub const fn with_length(self, length: Length) -> Self {
        Self { length, ..self }
    }

    /// The same hose with another coefficient.
    #[must_use]
    pub const fn with_coefficient(self, coefficient: HoseCoefficient) -> Self {
        Self { coefficient, ..self }
    }

    /// C of the friction formula.
    pub const fn coefficient(&self) -> HoseCoefficient {
        self.coefficient
    }

    /// Length of each line.
    pub const fn length(&self) -> Length {
        self.length
    }

    /// Number of equal lines.
    pub const fn lines(&self) -> u8 {
        self.lines
    }

    /// Loss per (100 gpm)² of the total flow, psi.
    ///
    /// # Formula
    /// `C (Q/100/n)² L/100` for n equal lines.
    /// # Units
    /// gpm, ft; psi out.
    /// # Range
    /// Lined fire hose at fire flows; the coefficients are averages, and measured hose of the same size differs by tens of percent.
    /// # Source
    /// `rohnert-park`, `florida-pump-exam`; the handbook's own table from memory (`ifsta-tables`).
    pub fn squared_coefficient(&self) -> f64 {
        let n = f64::from(self.lines);
        self.coefficient.psi_per_100gpm2_100ft() * self.length.ft() / 100.0 / (n * n)
    }

    /// Friction loss at a flow, psi. See [`Self::squared_coefficient`] for formula and source.
    pub fn loss_psi(&self, flow: Flow) -> f64 {
        squared_psi(self.squared_coefficient(), flow.gpm())
    }

    /// The highest pressure a pumper may put on it, psi; none where nothing is marked.
    ///
    /// # Formula
    /// `min(marked operating, 0.9 x service test)`.
    /// # Units
    /// psi.
    /// # Range
    /// Hose in service under its own marking.
    /// # Source
    /// `nfpa-1962`.
    pub fn rating_psi(&self) -> Option<f64> {
        crate::ceiling::rating_psi(self.max_operating, self.service_test)
    }

    /// Water that fills it, gallons; none where the diameter is not known.
    ///
    /// # Formula
    /// As [`DryLine::volume_gal`].
    /// # Units
    /// in, ft; gallons out.
    /// # Range
    /// Nominal diameter: charged lined hose swells and holds more.
    /// # Source
    /// Geometry; 7.4805 gallons in a cubic foot.
    pub fn volume_gal(&self) -> Option<f64> {
        let lines = NonZeroU8::new(self.lines)?;
        Some(DryLine { diameter: self.diameter?, length: self.length, lines }.volume_gal())
    }
}

/// Pressure taken by a rise, psi; given by a fall.
///
/// # Formula
/// `p = 0.434 h`.
/// # Units
/// ft; psi out.
/// # Range
/// Any. The 0.5 rule of thumb promises more on a fall than there is.
/// # Examples
/// ```
/// # use longlay_hydraulics::{loss::elevation_psi, quantity::{OutOfBounds, Rise}};
/// assert_eq!(elevation_psi(Rise::from_ft(100.0)?), 43.4);
/// # Ok::<(), OutOfBounds>(())
/// ```
/// # Source
/// `honolulu-hydraulics` ch. 1.
pub fn elevation_psi(rise: Rise) -> f64 {
    PSI_PER_FOOT * rise.ft()
}

/// The height of water that a pressure holds up, ft.
///
/// # Formula
/// `h = p/0.434`.
/// # Units
/// psi; ft out.
/// # Range
/// Any.
/// # Source
/// `honolulu-hydraulics` ch. 1.
pub fn height_held_ft(pressure: Pressure) -> f64 {
    pressure.psi() / PSI_PER_FOOT
}

/// How an appliance costs pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ApplianceLoss {
    /// `k (Q/100)²`.
    Squared(ApplianceCoefficient),
    /// Nothing under a flow, a fixed loss at and above it.
    Step {
        /// The loss.
        fixed: Pressure,
        /// The flow from which it stands.
        at_or_above: Flow,
    },
}

impl ApplianceLoss {
    /// Loss at a flow, psi.
    ///
    /// # Formula
    /// `k (Q/100)²`, or the fixed loss at and above its flow.
    /// # Units
    /// gpm; psi out.
    /// # Range
    /// Sources disagree on appliances; a department's own test is worth more than any table.
    /// # Source
    /// `ifsta-pump-ops` for the step of 10 psi at 350 gpm, `four-way-maker-test` for the squared form.
    pub fn loss_psi(&self, flow: Flow) -> f64 {
        match self {
            Self::Squared(k) => squared_psi(k.psi_per_100gpm2(), flow.gpm()),
            Self::Step { fixed, at_or_above } if flow >= *at_or_above => fixed.psi(),
            Self::Step { .. } => 0.0,
        }
    }
}

/// A wye, siamese, manifold, intake valve or the like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Appliance {
    /// What it costs.
    pub loss: ApplianceLoss,
    /// Marked operating pressure.
    pub max_operating: Option<Pressure>,
    /// Whether the loss is a handbook figure and not this appliance's own test.
    pub assumed: bool,
    /// How far the loss may be off.
    pub spread: Spread,
}

/// A four-way hydrant valve: lets a pumper join the line without shutting it down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HydrantValve {
    /// Hydrant to supply line, unboosted.
    pub through: ApplianceCoefficient,
    /// Hydrant to the pumper's intake.
    pub to_pump: ApplianceCoefficient,
    /// Pumper's discharge to the supply line.
    pub from_pump: ApplianceCoefficient,
    /// The connecting hose from the valve to the pumper's intake.
    pub to_pump_hose: Option<Hose>,
    /// The connecting hose from the pumper's discharge back to the valve.
    pub from_pump_hose: Option<Hose>,
    /// Whether the coefficients are handbook figures and not this valve's own test.
    pub assumed: bool,
    /// How far each leg's coefficient may be off.
    pub spread: ValveSpread,
}

/// How far the coefficients of a hydrant valve's legs may be off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValveSpread {
    /// Hydrant to supply line.
    pub through: Spread,
    /// Hydrant to the pumper's intake.
    pub to_pump: Spread,
    /// Pumper's discharge to the supply line.
    pub from_pump: Spread,
}

impl ValveSpread {
    /// Of legs that were not tested.
    pub const ASSUMED: Self =
        Self { through: Spread::ASSUMED_LOSS, to_pump: Spread::ASSUMED_LOSS, from_pump: Spread::ASSUMED_LOSS };
}

/// `k (Q/100)²`, psi.
pub(crate) fn squared_psi(coefficient: f64, gpm: f64) -> f64 {
    let hundreds = gpm / 100.0;
    coefficient * hundreds * hundreds
}

/// The older form of friction in 2-1/2 inch hose, psi for each 100 feet.
///
/// # Formula
/// `2 q² + q`, and under 100 gpm `2 q² + q/2`, where `q = Q/100`.
/// # Units
/// gpm; psi per 100 ft out.
/// # Range
/// 2-1/2 inch cotton rubber-lined hose; the form that came after it, with C of 2, gives less.
/// # Examples
/// ```
/// # use longlay_hydraulics::{loss::older_2_half_inch_psi_per_100ft, quantity::{Flow, OutOfBounds}};
/// assert_eq!(older_2_half_inch_psi_per_100ft(Flow::from_gpm(400.0)?), 36.0);
/// # Ok::<(), OutOfBounds>(())
/// ```
/// # Source
/// `engineer-test-283176`; the half under 100 gpm too.
pub fn older_2_half_inch_psi_per_100ft(flow: Flow) -> f64 {
    let q = flow.gpm() / 100.0;
    2.0 * q * q + if q < 1.0 { q / 2.0 } else { q }
}
