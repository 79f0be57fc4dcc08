//! Small towns to ask about.

use longlay_coverage::outcome::Outcome;
use longlay_coverage::records::{Hydrant, Place};
use longlay_coverage::rule::Rule;
use longlay_coverage::run::Served;
use longlay_coverage::streets::{Line, Streets};
use longlay_coverage::threads::Progress;
use longlay_hydraulics::lay::many::ManyLays;
use longlay_hydraulics::lay::{LayProblem, Part, Source};
use longlay_hydraulics::loss::Hose;
use longlay_hydraulics::pumper::{PumpCurve, Pumper};
use longlay_hydraulics::quantity::{HoseCoefficient, Length, PositiveFlow, Pressure};
use longlay_hydraulics::spread::SourceSpread;
use longlay_hydraulics::supply::SupplyCurve;

/// A line that owns its points.
#[derive(Debug, Clone)]
pub(crate) struct Street {
    pub(crate) points: Vec<[f64; 2]>,
    pub(crate) levels: [i16; 2],
    pub(crate) barrier: bool,
}

impl Street {
    pub(crate) fn flat(points: &[[f64; 2]]) -> Self {
        Self { points: points.to_vec(), levels: [0, 0], barrier: false }
    }

    pub(crate) fn barrier(points: &[[f64; 2]]) -> Self {
        Self { barrier: true, ..Self::flat(points) }
    }

    pub(crate) fn on(self, from: i16, to: i16) -> Self {
        Self { levels: [from, to], ..self }
    }
}

pub(crate) fn streets(lines: &[Street]) -> Streets {
    let line = |street: &Street| (street.points.clone(), street.levels, street.barrier);
    let owned: Vec<_> = lines.iter().map(line).collect();
    let lines: Vec<Line<'_>> = owned
        .iter()
        .map(|(points, [from_level, to_level], barrier)| Line {
            points,
            from_level: *from_level,
            to_level: *to_level,
            barrier: *barrier,
        })
        .collect();
    Streets::new(&lines).unwrap()
}

pub(crate) fn source(static_psi: f64, residual_psi: f64, gpm: f64) -> Source {
    let psi = |psi| Pressure::from_psi(psi).unwrap();
    let curve = SupplyCurve::new(psi(static_psi), psi(residual_psi), PositiveFlow::from_gpm(gpm).unwrap()).unwrap();
    Source { curve, body_loss: None, body_loss_assumed: false, spread: SourceSpread::of_numbers() }
}

pub(crate) fn hydrant(x: f64, y: f64) -> Hydrant {
    let source = Some(source(70.0, 60.0, 1200.0));
    Hydrant { x, y, source, borrowed: false, in_service: true, main: None, ground_ft: Some(0.0) }
}

pub(crate) fn place(x: f64, y: f64, need_gpm: f64) -> Place {
    Place { x, y, need_gpm: Some(need_gpm), ground_ft: Some(0.0) }
}

/// Five-inch hose, with a pumper of so many gpm or none.
pub(crate) fn lays(pumper_gpm: Option<f64>) -> ManyLays {
    lays_of(0.08, 1, pumper_gpm)
}

/// Lines side by side of hose of that coefficient, psi per (100 gpm)² and 100 ft, with a pumper of so many gpm or none.
pub(crate) fn lays_of(coefficient: f64, lines: u8, pumper_gpm: Option<f64>) -> ManyLays {
    let coefficient = HoseCoefficient::from_psi_per_100gpm2_100ft(coefficient).unwrap();
    let psi = |psi| Pressure::from_psi(psi).unwrap();
    let pumper = |gpm| Pumper {
        curve: PumpCurve::from_rating(PositiveFlow::from_gpm(gpm).unwrap()),
        intake_floor: psi(20.0),
        max_discharge: None,
    };
    ManyLays::new(LayProblem {
        source: source(70.0, 60.0, 1200.0),
        parts: vec![Part::Hose(Hose::new(coefficient, Length::from_ft(100.0).unwrap(), lines).unwrap())],
        rise: None,
        boost: pumper_gpm.map(pumper),
        main_floor: psi(20.0),
        scene_floor: psi(20.0),
        target: None,
        fill_flow: None,
        tank: None,
    })
    .unwrap()
}

pub(crate) fn served<'a>(streets: &'a Streets, places: &'a [Place], hydrants: &[Hydrant], rule: Rule) -> Served<'a> {
    Served::new(streets, places, hydrants, rule, 2, &Progress::default()).unwrap()
}

pub(crate) fn outcomes(
    lines: &[Street],
    places: &[Place],
    hydrants: &[Hydrant],
    rule: Rule,
    many: &ManyLays,
) -> Vec<Outcome> {
    let streets = streets(lines);
    served(&streets, places, hydrants, rule).judge(many, hydrants, 2, &Progress::default()).unwrap()
}
