//! Streams in use, as they are asked for and as they are answered: an operator names nozzles, and not gallons.

use std::num::NonZeroU8;

use longlay_hydraulics::formula::{Formula, NOZZLE_REACTION, SMOOTH_BORE_FLOW, TOTAL_FLOW};
use longlay_hydraulics::quantity::{PositiveFlow, Pressure, TipDiameter};
use longlay_hydraulics::stream::{CustomaryNozzle, Stream, StreamProblem, StreamsInUse, total_flow};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::faults::Faults;

/// Most kinds of stream, or attack lines, of one question.
pub(crate) const MAX_STREAMS: usize = 20;

/// The formulas behind streams.
pub(crate) const BASIS: [&Formula; 3] = [&SMOOTH_BORE_FLOW, &NOZZLE_REACTION, &TOTAL_FLOW];

/// Like streams. Its `kind` says which members go with it:
///
/// * `smooth_bore`: `tip_in`
/// * `fog`: `flow_gpm`, what the nozzle states at its pressure
///
/// The pressure at the nozzle is `nozzle_psi`, or that of a customary `nozzle` of the same kind; it has no default.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct StreamAsk {
    /// What it is.
    kind: StreamKind,
    /// Diameter of the smooth-bore tip.
    #[schema(minimum = 0.1, maximum = 6)]
    tip_in: Option<f64>,
    /// What the fog nozzle states.
    #[schema(minimum = 1, maximum = 50_000)]
    flow_gpm: Option<f64>,
    /// Pressure at the nozzle. Exactly one of this and `nozzle`.
    #[schema(minimum = 0, maximum = 1000)]
    nozzle_psi: Option<f64>,
    /// A customary nozzle, for its pressure. Exactly one of this and `nozzle_psi`.
    nozzle: Option<NozzleName>,
    /// How many such streams there are. Default 1.
    #[schema(minimum = 1, maximum = 255)]
    count: Option<u8>,
}

/// A kind of stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum StreamKind {
    /// A smooth-bore tip.
    SmoothBore,
    /// A fog nozzle.
    Fog,
}

/// A nozzle whose pressure is customary.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub(crate) enum NozzleName {
    /// A smooth bore on a hand line, 50 psi.
    #[serde(rename = "smooth_bore_hand_line")]
    SmoothBoreHandLine,
    /// A smooth bore on a master stream, 80 psi.
    #[serde(rename = "smooth_bore_master_stream")]
    SmoothBoreMasterStream,
    /// A fog nozzle of the usual pressure, 100 psi.
    #[serde(rename = "fog_100")]
    Fog100,
    /// A fog nozzle of middle pressure, 75 psi.
    #[serde(rename = "fog_75")]
    Fog75,
    /// A fog nozzle of low pressure, 50 psi.
    #[serde(rename = "fog_50")]
    Fog50,
}

impl NozzleName {
    const fn kind(self) -> StreamKind {
        match self {
            Self::SmoothBoreHandLine | Self::SmoothBoreMasterStream => StreamKind::SmoothBore,
            Self::Fog100 | Self::Fog75 | Self::Fog50 => StreamKind::Fog,
        }
    }

    fn psi(self) -> f64 {
        let nozzle = match self {
            Self::SmoothBoreHandLine => CustomaryNozzle::SmoothBoreHandLine,
            Self::SmoothBoreMasterStream => CustomaryNozzle::SmoothBoreMasterStream,
            Self::Fog100 => CustomaryNozzle::Fog100,
            Self::Fog75 => CustomaryNozzle::Fog75,
            Self::Fog50 => CustomaryNozzle::Fog50,
        };
        nozzle.psi()
    }
}

impl StreamAsk {
    /// The streams, or none with every fault noted.
    pub(crate) fn streams(&self, at: &str, faults: &mut Faults) -> Option<StreamsInUse> {
        let pressure = self.pressure(at, faults);
        let stream = match self.kind {
            StreamKind::SmoothBore => {
                refuse_if(self.flow_gpm.is_some(), &format!("{at}/flow_gpm"), faults);
                let tip = faults.required(&format!("{at}/tip_in"), self.tip_in, TipDiameter::from_in);
                tip.zip(pressure).map(|(tip, pressure)| Stream::SmoothBore { tip, pressure })
            }
            StreamKind::Fog => {
                refuse_if(self.tip_in.is_some(), &format!("{at}/tip_in"), faults);
                let flow = faults.required(&format!("{at}/flow_gpm"), self.flow_gpm, PositiveFlow::from_gpm);
                flow.zip(pressure).map(|(flow, pressure)| Stream::Fog { flow, pressure })
            }
        };
        let Some(count) = NonZeroU8::new(self.count.unwrap_or(1)) else {
            return faults.add(&format!("{at}/count"), "out_of_bounds", "count must be from 1 to 255, not 0");
        };
        Some(StreamsInUse { stream: stream?, count })
    }

    fn pressure(&self, at: &str, faults: &mut Faults) -> Option<Pressure> {
        let psi = match (self.nozzle_psi, self.nozzle) {
            (Some(psi), None) => Some(psi),
            (None, Some(nozzle)) => {
                refuse_if(nozzle.kind() != self.kind, &format!("{at}/nozzle"), faults);
                Some(nozzle.psi())
            }
            _ => return faults.exactly_one_of(at, &["nozzle_psi", "nozzle"]),
        };
        faults.required(&format!("{at}/nozzle_psi"), psi, Pressure::from_psi)
    }
}

fn refuse_if(wrong: bool, pointer: &str, faults: &mut Faults) {
    if wrong {
        faults.note(pointer, "not_with_kind", "does not go with a stream of this kind");
    }
}

/// What the streams flow together, which is a flow that may be wanted, and each of them.
pub(crate) fn together(at: &str, asked: &[StreamAsk], faults: &mut Faults) -> Option<(PositiveFlow, StreamTotals)> {
    let streams = faults.list(at, asked, MAX_STREAMS, |faults, at, ask| ask.streams(at, faults))?;
    let total = total(at, &streams, faults)?;
    Some((total, StreamTotals { total_flow_gpm: total.gpm(), each: streams.iter().map(StreamFlow::from).collect() }))
}

/// What streams flow together.
pub(crate) fn total(at: &str, streams: &[StreamsInUse], faults: &mut Faults) -> Option<PositiveFlow> {
    let total = match total_flow(streams) {
        Err(problem @ StreamProblem::NoStreams) => return faults.add(at, "no_streams", problem.to_string()),
        total => total.and_then(|total| PositiveFlow::from_gpm(total.gpm()).map_err(StreamProblem::Total)),
    };
    faults.good(at, total)
}

/// What the streams asked for flow.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct StreamTotals {
    /// All of them together.
    total_flow_gpm: f64,
    /// Each as it was asked for.
    each: Vec<StreamFlow>,
}

/// Like streams.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct StreamFlow {
    /// What it is.
    kind: StreamKind,
    /// How many there are.
    count: u8,
    /// What one flows.
    flow_gpm: f64,
    /// Pressure at each nozzle.
    nozzle_psi: f64,
    /// How hard each nozzle pushes back.
    reaction_lbf: f64,
}

impl From<&StreamsInUse> for StreamFlow {
    fn from(used: &StreamsInUse) -> Self {
        let stream = used.stream;
        let kind = match stream {
            Stream::SmoothBore { .. } => StreamKind::SmoothBore,
            Stream::Fog { .. } => StreamKind::Fog,
        };
        Self {
            kind,
            count: used.count.get(),
            flow_gpm: stream.flow().gpm(),
            nozzle_psi: stream.pressure().psi(),
            reaction_lbf: stream.reaction_lbf(),
        }
    }
}
