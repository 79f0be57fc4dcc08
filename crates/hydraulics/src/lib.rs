//! What a hydrant delivers over a hose lay, alone and boosted: flows, limits, gauges and the diagnosis, each with its
//! working.
//!
//! Start at [`lay::Lay::new`] and [`lay::Lay::answer`]. Units are US customary: gpm, psi, ft, in. The crate does no I/O, needs no
//! standard library, and gives the same bits on every platform.
//!
//! # Examples
//!
//! A main of 60 psi static and 40 residual at 600 gpm, and 1000 ft of 5-inch from the hydrant to the fire:
//!
//! ```
//! use longlay_hydraulics::lay::{DiagnosisCode, Lay, LayProblem, Limit, Part, Source};
//! use longlay_hydraulics::loss::Hose;
//! use longlay_hydraulics::quantity::{HoseCoefficient, Length, PositiveFlow, Pressure};
//! use longlay_hydraulics::spread::SourceSpread;
//! use longlay_hydraulics::supply::SupplyCurve;
//!
//! # fn main() -> Result<(), Box<dyn core::error::Error>> {
//! let curve = SupplyCurve::new(Pressure::from_psi(60.0)?, Pressure::from_psi(40.0)?, PositiveFlow::from_gpm(600.0)?)?;
//! let hose = Hose::new(HoseCoefficient::from_psi_per_100gpm2_100ft(0.08)?, Length::from_ft(1000.0)?, 1)?;
//! let lay = Lay::new(LayProblem {
//!     source: Source { curve, body_loss: None, body_loss_assumed: false, spread: SourceSpread::of_numbers() },
//!     parts: vec![Part::Hose(hose)],
//!     rise: None,
//!     boost: None,
//!     main_floor: Pressure::from_psi(20.0)?,
//!     scene_floor: Pressure::from_psi(20.0)?,
//!     target: None,
//!     fill_flow: None,
//!     tank: None,
//! })?;
//! let answer = lay.answer();
//! assert_eq!(answer.answer().deliverable_gpm.round(), 542.0);
//! assert_eq!(answer.limited_by().limit, Limit::SceneIntake);
//! assert_eq!(answer.diagnosis.code, DiagnosisCode::Friction);
//! # Ok(())
//! # }
//! ```
//!
//! The answers are for planning. Gauges at the pump govern; local procedures and the water authority decide.
#![no_std]

extern crate alloc;

pub mod attack_lines;
pub mod band;
pub mod bibliography;
mod bulk;
pub mod calibrate;
pub mod caution;
pub mod ceiling;
pub mod darcy;
pub mod drafting;
pub mod drill_bias;
pub mod finding;
pub mod flow_test;
pub mod formula;
pub mod friction_test;
pub mod gauge_rules;
pub mod hand_rule;
pub mod hazen_williams;
pub mod lay;
pub mod line_fill;
pub mod loss;
pub mod loss_test;
pub mod needed_flow;
pub mod orifice;
pub mod parallel_lines;
pub mod pipe_system;
pub mod pump_affinity;
pub mod pump_test;
pub mod pumper;
pub mod quantity;
pub mod rating;
pub mod relay;
mod root;
pub mod shuttle;
pub mod spread;
pub mod stream;
pub mod suction_head;
pub mod supply;
