//! Streams in use: what nozzles flow, how hard they push back, and the pump pressure an attack line asks.

use core::num::NonZeroU8;

use thiserror::Error;

use crate::loss::{ApplianceLoss, Hose, PSI_PER_FOOT};
use crate::quantity::{Flow, OutOfBounds, PositiveFlow, Pressure, Rise, TipDiameter};

/// K of the nozzle formula for gpm, inches and psi: the pitot constant with a tip's coefficient of about 0.995.
///
/// Source: `ifsta-pump-ops` (a maker's manual prints 29.71, `tip-table-2015`).
pub const NOZZLE_CONSTANT: f64 = 29.7;

/// The nozzles whose pressure is customary.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CustomaryNozzle {
    /// A smooth bore on a hand line.
    SmoothBoreHandLine,
    /// A smooth bore on a master stream.
    SmoothBoreMasterStream,
    /// A fog nozzle of the usual pressure.
    Fog100,
    /// A fog nozzle of middle pressure.
    Fog75,
    /// A fog nozzle of low pressure.
    Fog50,
}

impl CustomaryNozzle {
    /// Its customary pressure, psi.
    ///
    /// # Formula
    /// Smooth bore 50 on a hand line, 80 on a master stream; fog 100, 75 or 50.
    /// # Units
    /// psi out.
    /// # Range
    /// Where the maker or the department states no other.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::stream::CustomaryNozzle;
    /// assert_eq!(CustomaryNozzle::SmoothBoreMasterStream.psi(), 80.0);
    /// ```
    /// # Source
    /// `ifsta-pump-ops`.
    pub const fn psi(self) -> f64 {
        match self {
            Self::SmoothBoreHandLine | Self::Fog50 => 50.0,
            Self::SmoothBoreMasterStream => 80.0,
            Self::Fog100 => 100.0,
            Self::Fog75 => 75.0,
        }
    }
}

/// One stream at its nozzle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stream {
    /// A smooth-bore tip.
    SmoothBore {
        /// Diameter of the tip.
        tip: TipDiameter,
        /// Nozzle pressure.
        pressure: Pressure,
    },
    /// A fog nozzle, by the flow it is made or set for.
    Fog {
        /// Its flow.
        flow: PositiveFlow,
        /// The nozzle pressure it needs for that flow.
        pressure: Pressure,
    },
}

impl Stream {
    /// Nozzle pressure.
    pub const fn pressure(self) -> Pressure {
        match self {
            Self::SmoothBore { pressure, .. } | Self::Fog { pressure, .. } => pressure,
        }
    }

    /// What the stream flows.
    ///
    /// # Formula
    /// Smooth bore: `Q = 29.7 d² √NP`. Fog: its stated flow.
    /// # Units
    /// in, psi; gpm out.
    /// # Range
    /// Solid streams from a clean tip; a fog nozzle flows what it states only at its own pressure.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::{stream::Stream, quantity::{OutOfBounds, Pressure, TipDiameter}};
    /// let stream = Stream::SmoothBore { tip: TipDiameter::from_in(1.0)?, pressure: Pressure::from_psi(50.0)? };
    /// assert_eq!(stream.flow().gpm().round(), 210.0);
    /// # Ok::<(), OutOfBounds>(())
    /// ```
    /// # Source
    /// `ifsta-pump-ops`, `tip-table-2015`.
    pub fn flow(self) -> Flow {
        Flow::within(match self {
            Self::SmoothBore { tip, pressure } => {
                NOZZLE_CONSTANT * tip.inches() * tip.inches() * libm::sqrt(pressure.psi())
            }
            Self::Fog { flow, .. } => flow.gpm(),
        })
    }

    /// How hard the nozzle pushes back, pounds of force.
    ///
    /// # Formula
    /// Smooth bore: `R = 1.57 d² NP`. Fog: `R = 0.0505 Q √NP`.
    /// # Units
    /// in, gpm, psi; lbf out.
    /// # Range
    /// A straight stream; a wide fog pushes back less.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::{stream::Stream, quantity::{OutOfBounds, Pressure, PositiveFlow}};
    /// let fog = Stream::Fog { flow: PositiveFlow::from_gpm(150.0)?, pressure: Pressure::from_psi(100.0)? };
    /// assert!((fog.reaction_lbf() - 75.75).abs() < 1e-9);
    /// # Ok::<(), OutOfBounds>(())
    /// ```
    /// # Source
    /// `ifsta-pump-ops`.
    pub fn reaction_lbf(self) -> f64 {
        match self {
            Self::SmoothBore { tip, pressure } => 1.57 * tip.inches() * tip.inches() * pressure.psi(),
            Self::Fog { flow, pressure } => 0.0505 * flow.gpm() * libm::sqrt(pressure.psi()),
        }
    }
}

/// A number of like streams.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StreamsInUse {
    /// One of them.
    pub stream: Stream,
    /// How many there are.
    pub count: NonZeroU8,
}

/// Streams that make no total.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum StreamProblem {
    /// The list is empty: that is no data, and not a flow of nothing.
    #[error("a total flow needs at least one stream")]
    NoStreams,
    /// Together they flow more than any flow accepted.
    #[error("the streams together: {0}")]
    Total(OutOfBounds),
}

/// What all streams flow together.
///
/// # Formula
/// `Σ n Q`, each `Q` by [`Stream::flow`].
/// # Units
/// gpm.
/// # Range
/// Every nozzle open at its pressure.
/// # Errors
/// No stream, or a total over any flow accepted.
/// # Source
/// `ifsta-pump-ops`.
pub fn total_flow(streams: &[StreamsInUse]) -> Result<Flow, StreamProblem> {
    if streams.is_empty() {
        return Err(StreamProblem::NoStreams);
    }
    let total = streams.iter().map(|used| f64::from(used.count.get()) * used.stream.flow().gpm()).sum();
    Flow::from_gpm(total).map_err(StreamProblem::Total)
}

/// An attack line: a pumper, hose one length after another, appliances in it, and a nozzle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AttackLine<'a> {
    /// What the nozzle gives.
    pub stream: Stream,
    /// The hose, all of it carrying the stream's flow.
    pub hoses: &'a [Hose],
    /// The appliances in it.
    pub appliances: &'a [ApplianceLoss],
    /// How much higher the nozzle is than the pump.
    pub rise: Rise,
}

/// A pump pressure with what makes it up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PumpPressure {
    /// Flow in the line, gpm.
    pub flow_gpm: f64,
    /// Nozzle pressure, psi.
    pub nozzle_psi: f64,
    /// Friction in all hose, psi.
    pub hose_psi: f64,
    /// Loss in all appliances, psi.
    pub appliances_psi: f64,
    /// Taken by the rise, psi; negative for a fall.
    pub elevation_psi: f64,
    /// The pump pressure they ask together, psi. Under nothing where a fall alone gives the nozzle more than it needs.
    pub pump_psi: f64,
}

impl AttackLine<'_> {
    /// The pump pressure the line asks.
    ///
    /// # Formula
    /// `PDP = NP + Σ C (Q/100/n)² L/100 + appliances + 0.434 h`.
    /// # Units
    /// psi, gpm, ft; psi out.
    /// # Range
    /// Steady flow. Whether pump or hose may stand it is not judged here: see [`Hose::rating_psi`].
    /// # Source
    /// `ifsta-pump-ops`, `rohnert-park`; elevation `honolulu-hydraulics`.
    pub fn pump_pressure(&self) -> PumpPressure {
        let flow = self.stream.flow();
        let nozzle_psi = self.stream.pressure().psi();
        let hose_psi = self.hoses.iter().map(|hose| hose.loss_psi(flow)).sum::<f64>();
        let appliances_psi = self.appliances.iter().map(|appliance| appliance.loss_psi(flow)).sum::<f64>();
        let elevation_psi = PSI_PER_FOOT * self.rise.ft();
        let pump_psi = nozzle_psi + hose_psi + appliances_psi + elevation_psi;
        PumpPressure { flow_gpm: flow.gpm(), nozzle_psi, hose_psi, appliances_psi, elevation_psi, pump_psi }
    }
}
