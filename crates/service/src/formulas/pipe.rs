//! Friction in pipe: Hazen and Williams, Darcy and Weisbach.

use longlay_hydraulics::darcy::{Pipe, PipeLoss, Wall};
use longlay_hydraulics::formula;
use longlay_hydraulics::hazen_williams::{loss_ft_per_100ft, loss_psi_per_ft};
use longlay_hydraulics::pipe_system::PipeSystem;
use longlay_hydraulics::quantity::{
    Diameter, FittingLoss, Flow, FrictionFactor, Head, Length, PositiveFlow, Roughness, Viscosity, WallRoughness,
};

use super::catalogue::Entry;
use super::common::{FLOW, FLOW_GPM, LOSS_PSI};
use super::found::{Found, Output, output};
use super::input::{Input, List, Number};
use super::reader::Reader;

const BORE: Number<Diameter> = Number::new("diameter_in", Diameter::BOUND, Diameter::from_in, "The true bore");
const ANY_FLOW: Number<Flow> = Number::new("flow_gpm", Flow::BOUND, Flow::from_gpm, "The flow");
const ROUGHNESS: Number<Roughness> = Number::new(
    "coefficient",
    Roughness::BOUND,
    Roughness::from_number,
    "C of Hazen and Williams: the smoother the wall, the higher",
);
const LENGTH: Number<Length> = Number::new("length_ft", Length::BOUND, Length::from_ft, "Length of the pipe");
const WALL: Number<WallRoughness> = Number::new(
    "roughness_in",
    WallRoughness::BOUND,
    WallRoughness::from_in,
    "Roughness of the wall: 0 for a smooth one, about 0.0018 for steel",
);
const FACTOR: Number<FrictionFactor> = Number::new(
    "friction_factor",
    FrictionFactor::BOUND,
    FrictionFactor::from_number,
    "A Darcy friction factor stated for the pipe, in place of its roughness",
);
const FITTINGS: Number<FittingLoss> = Number::new(
    "fittings",
    FittingLoss::BOUND,
    FittingLoss::from_number,
    "Sum of K of the fittings in it, entrance and exit among them; none where not given",
);
const VISCOSITY: Number<Viscosity> =
    Number::new("viscosity_cst", Viscosity::BOUND, Viscosity::from_cst, "Of the water: about 1.13 at 60 °F");
const PIPE_ITEM: &[Input] =
    &[BORE.input, LENGTH.input, WALL.input.optional(), FACTOR.input.optional(), FITTINGS.input.optional()];
const PIPES: List = List::new("pipes", PIPE_ITEM, "The pipes, one after another");
const AT_FLOW: Number<PositiveFlow> =
    Number::new("flow_gpm", PositiveFlow::BOUND, PositiveFlow::from_gpm, "Ask the loss at this flow");
const HEAD: Number<Head> = Number::new("head_ft", Head::BOUND, Head::from_ft, "Ask the flow under this head");

const PER_100FT_FT: Output = output("loss_per_100ft_ft", "ft");
const LOSS_FT: Output = output("loss_ft", "ft");
const FACTOR_FOUND: Output = output("friction_factor", "1");
const REYNOLDS: Output = output("reynolds", "1");
const VELOCITY: Output = output("velocity_ft_per_s", "ft/s");
const PER_FOOT_PSI: Output = output("loss_per_ft_psi", "psi");

pub(crate) const ENTRIES: &[Entry] = &[
    Entry {
        formula: &formula::HAZEN_WILLIAMS_PSI,
        inputs: &[ANY_FLOW.input, BORE.input, ROUGHNESS.input],
        outputs: &[PER_FOOT_PSI],
        evaluate: |r| {
            let (flow, bore, roughness) = (r.required(&ANY_FLOW), r.required(&BORE), r.required(&ROUGHNESS));
            Some(Found::default().number(PER_FOOT_PSI, loss_psi_per_ft(flow?, bore?, roughness?)))
        },
    },
    Entry {
        formula: &formula::HAZEN_WILLIAMS_FT,
        inputs: &[ANY_FLOW.input, BORE.input, ROUGHNESS.input],
        outputs: &[PER_100FT_FT],
        evaluate: |r| {
            let (flow, bore, roughness) = (r.required(&ANY_FLOW), r.required(&BORE), r.required(&ROUGHNESS));
            Some(Found::default().number(PER_100FT_FT, loss_ft_per_100ft(flow?, bore?, roughness?)))
        },
    },
    Entry {
        formula: &formula::DARCY_PIPE,
        inputs: &[
            BORE.input,
            LENGTH.input,
            WALL.input.optional(),
            FACTOR.input.optional(),
            FITTINGS.input.optional(),
            VISCOSITY.input,
            FLOW.input,
        ],
        outputs: &[LOSS_FT, LOSS_PSI, FACTOR_FOUND, REYNOLDS, VELOCITY],
        evaluate: darcy_pipe,
    },
    Entry {
        formula: &formula::DARCY_SYSTEM,
        inputs: &[PIPES.input, VISCOSITY.input, AT_FLOW.input.optional(), HEAD.input.optional()],
        outputs: &[FLOW_GPM, LOSS_FT, LOSS_PSI],
        evaluate: darcy_system,
    },
];

fn pipe(r: &mut Reader<'_>) -> Option<Pipe> {
    let (bore, length) = (r.required(&BORE), r.required(&LENGTH));
    let (rough, stated, fittings) = (r.optional(&WALL), r.optional(&FACTOR), r.optional(&FITTINGS));
    let wall = match (rough?, stated?) {
        (Some(rough), None) => Wall::Rough(rough),
        (None, Some(factor)) => Wall::Stated(factor),
        _ => return r.exactly_one_of(&["roughness_in", "friction_factor"]),
    };
    let made = Pipe::new(bore?, length?, wall, fittings?.unwrap_or(FittingLoss::NONE));
    r.good("roughness_in", "out_of_bounds", made)
}

fn darcy_pipe(r: &mut Reader<'_>) -> Option<Found> {
    let (pipe, viscosity, flow) = (pipe(r), r.required(&VISCOSITY), r.required(&FLOW));
    let loss = pipe?.loss(flow?, viscosity?);
    let found = Found::default().number(LOSS_FT, loss.loss_ft).number(LOSS_PSI, loss.loss_psi);
    let found = found.number(FACTOR_FOUND, loss.friction_factor).number(REYNOLDS, loss.reynolds);
    Some(found.number(VELOCITY, loss.velocity_ft_per_s))
}

fn darcy_system(r: &mut Reader<'_>) -> Option<Found> {
    let (pipes, viscosity) = (r.list(&PIPES, pipe), r.required(&VISCOSITY));
    let (flow, head) = (r.optional(&AT_FLOW), r.optional(&HEAD));
    let (pipes, viscosity, flow, head) = (pipes?, viscosity?, flow?, head?);
    let system = r.good("pipes", "required", PipeSystem::new(&pipes, viscosity))?;
    match (flow, head) {
        (Some(flow), None) => {
            let loss = system.loss(flow);
            let found = Found::default().number(LOSS_FT, loss.loss_ft).number(LOSS_PSI, loss.loss_psi);
            Some(each_pipe(found, &loss.each))
        }
        (None, Some(head)) => Some(Found::default().number(FLOW_GPM, system.flow_under(head).gpm())),
        _ => r.exactly_one_of(&["flow_gpm", "head_ft"]),
    }
}

fn each_pipe(found: Found, each: &[PipeLoss]) -> Found {
    let found = found.steps("pipe_friction_factor", "1", each.iter().map(|pipe| pipe.friction_factor));
    found.steps("pipe_loss", "ft", each.iter().map(|pipe| pipe.loss_ft))
}
