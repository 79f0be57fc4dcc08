//! From the question as it came to the hydraulics crate's problem: first what must be loaded, then every fault at once.

use longlay_hydraulics::lay::{Branch, BranchPart, LayProblem, Part, Source, Tank};
use longlay_hydraulics::loss::{
    Appliance, ApplianceLoss, Hose, HydrantValve, LinesOutOfBounds, MAX_LINES, ValveSpread,
};
use longlay_hydraulics::pumper::{DEFAULT_INTAKE_FLOOR_PSI, PumpCurve, Pumper};
use longlay_hydraulics::quantity::{
    ApplianceCoefficient, Diameter, Flow, HoseCoefficient, Length, PositiveFlow, Pressure, Rise, Volume,
};
use longlay_hydraulics::spread::{SourceSpread, Spread};
use longlay_hydraulics::supply::{NoCurve, RATING_PRESSURE_PSI, SupplyCurve};
use longlay_records::equipment::{self, HoseLoad, LayProfile};
use longlay_records::equipment_test::Leg;
use longlay_records::supply::Supply;
use longlay_store::{LayInputs, RecordKind};

use crate::faults::Faults;
use crate::lay::figures::{FigureFrom, Figures};
use crate::lay::refs::find;
use crate::lay::request::{LayBranch, LayCalculation, LayPart, LayPartKind, LayPumper, LaySource, LayTank};

/// Default floor of the main and of the scene intake, psi.
pub(crate) const DEFAULT_FLOOR_PSI: f64 = RATING_PRESSURE_PSI;

/// What a source may be.
const SOURCE_FORMS: &str =
    "give hydrant_id, or static_psi with residual_psi and flow_gpm (and body_loss_coefficient if it is known)";

/// Builds the problem. `supply` is the stored hydrant's, where the source is one, `target` the flow wanted.
pub(super) fn problem(
    ask: &LayCalculation,
    inputs: &LayInputs,
    supply: Option<&Supply>,
    target: Option<PositiveFlow>,
    faults: &mut Faults,
) -> Option<LayProblem> {
    let profile = inputs.lay_profile.as_ref();
    let source = source(&ask.source, supply, faults);
    let parts = match (&ask.parts, profile) {
        (Some(parts), None) => Builder { inputs, faults }.parts("/parts", parts),
        (None, Some(profile)) => Builder { inputs, faults }.profile(ask, profile),
        // A profile that is named and not found has its fault already.
        (None, None) if ask.lay_profile_id.is_some() => None,
        _ => faults.exactly_one_of("", &["lay_profile_id", "parts"]),
    };
    let rise = faults.optional("/rise_ft", ask.rise_ft, Rise::from_ft);
    if ask.parts.is_some() && ask.length_ft.is_some() {
        faults.note("/length_ft", "beside_parts", "each part has its own length: length_ft goes with lay_profile_id");
    }
    let boost = if_given(ask.boost.as_ref(), |boost| Builder { inputs, faults }.pumper("/boost", boost));
    let floor = |own: Option<Pressure>| own.map_or_else(|| Pressure::from_psi(DEFAULT_FLOOR_PSI), Ok);
    let main_floor = faults
        .optional("/main_floor_psi", ask.main_floor_psi, Pressure::from_psi)
        .map(|asked| asked.or(profile.and_then(|profile| profile.main_floor)));
    let scene_floor = faults
        .optional("/scene_floor_psi", ask.scene_floor_psi, Pressure::from_psi)
        .map(|asked| asked.or(profile.and_then(|profile| profile.scene_floor)));
    let fill_flow = faults.optional("/fill_flow_gpm", ask.fill_flow_gpm, PositiveFlow::from_gpm);
    let tank = if_given(ask.tank.as_ref(), |asked| tank(asked, faults));
    Some(LayProblem {
        source: source?,
        parts: parts?,
        rise: rise?,
        boost: boost?,
        main_floor: floor(main_floor?).ok()?,
        scene_floor: floor(scene_floor?).ok()?,
        target,
        fill_flow: fill_flow?,
        tank: tank?,
    })
}

/// Converts what may be left out.
#[expect(clippy::option_option, reason = "the outer none is a fault noted, the inner one a value not given")]
pub(crate) fn if_given<A, T>(asked: Option<A>, convert: impl FnOnce(A) -> Option<T>) -> Option<Option<T>> {
    asked.map_or(Some(None), |asked| convert(asked).map(Some))
}

pub(crate) fn source(asked: &LaySource, supply: Option<&Supply>, faults: &mut Faults) -> Option<Source> {
    let own = [asked.static_psi, asked.residual_psi, asked.flow_gpm, asked.body_loss_coefficient];
    if asked.hydrant_id.is_some() {
        if own.iter().any(Option::is_some) {
            return faults.add("/source", "exactly_one_of", SOURCE_FORMS);
        }
        return supply.map(|supply| Source {
            curve: supply.curve,
            body_loss: supply.body_loss,
            body_loss_assumed: supply.body_loss_assumed,
            spread: supply.spread,
        });
    }
    if own.iter().all(Option::is_none) {
        return faults.add("/source", "exactly_one_of", SOURCE_FORMS);
    }
    let flow = faults.required("/source/flow_gpm", asked.flow_gpm, PositiveFlow::from_gpm);
    let curve = curve("/source", [asked.static_psi, asked.residual_psi], flow, faults);
    let body = "/source/body_loss_coefficient";
    let body_loss = faults.optional(body, asked.body_loss_coefficient, ApplianceCoefficient::from_psi_per_100gpm2)?;
    Some(Source { curve: curve?, body_loss, body_loss_assumed: false, spread: SourceSpread::of_numbers() })
}

/// The curve through a static and a residual pressure at a flow.
pub(crate) fn curve(
    at: &str,
    [static_psi, residual_psi]: [Option<f64>; 2],
    flow: Option<PositiveFlow>,
    faults: &mut Faults,
) -> Option<SupplyCurve> {
    let (static_at, residual_at) = (format!("{at}/static_psi"), format!("{at}/residual_psi"));
    let static_pressure = faults.required(&static_at, static_psi, Pressure::from_psi);
    let residual = faults.required(&residual_at, residual_psi, Pressure::from_psi);
    match SupplyCurve::new(static_pressure?, residual?, flow?) {
        Ok(curve) => Some(curve),
        Err(error @ NoCurve::NoStatic) => faults.add(&static_at, "no_static", error.to_string()),
        Err(error @ NoCurve::ResidualAboveStatic { .. }) => {
            faults.add(&residual_at, "residual_above_static", error.to_string())
        }
    }
}

/// Hose and appliances one after another, or none with every fault noted.
pub(crate) fn branch(at: &str, parts: &[LayPart], inputs: &LayInputs, faults: &mut Faults) -> Option<Branch> {
    Builder { inputs, faults }.branch(at, parts)
}

fn tank(asked: &LayTank, faults: &mut Faults) -> Option<Tank> {
    let volume = faults.required("/tank/volume_gal", Some(asked.volume_gal), Volume::from_gal);
    let attack = faults.required("/tank/attack_flow_gpm", Some(asked.attack_flow_gpm), PositiveFlow::from_gpm);
    Some(Tank { volume: volume?, attack_flow: attack? })
}

/// Converts parts, with what was loaded for them.
pub(crate) struct Builder<'a> {
    pub(crate) inputs: &'a LayInputs,
    pub(crate) faults: &'a mut Faults,
}

impl Builder<'_> {
    /// All of the parts, or none once every fault is noted.
    fn parts(&mut self, pointer: &str, parts: &[LayPart]) -> Option<Vec<Part>> {
        let built: Vec<_> =
            parts.iter().enumerate().map(|(i, part)| self.part(&format!("{pointer}/{i}"), part)).collect();
        built.into_iter().collect()
    }

    fn part(&mut self, at: &str, part: &LayPart) -> Option<Part> {
        self.refuse_out_of_place(at, part);
        match part.kind {
            LayPartKind::Hose => self.hose(at, part).map(Part::Hose),
            LayPartKind::Appliance => self.appliance(at, part).map(Part::Appliance),
            LayPartKind::HydrantValve => self.hydrant_valve(at, part).map(Part::HydrantValve),
            LayPartKind::Rise => self.faults.required(&format!("{at}/feet"), part.feet, Rise::from_ft).map(Part::Rise),
            LayPartKind::Pumper => self.pumper(at, &part.pumper()).map(Part::Pumper),
            LayPartKind::Parallel => {
                let Some(branches) = &part.branches else {
                    return self.faults.add(&format!("{at}/branches"), "required", "must be given");
                };
                let branch =
                    |(i, branch): (usize, &LayBranch)| self.branch(&format!("{at}/branches/{i}/parts"), &branch.parts);
                let built: Vec<_> = branches.iter().enumerate().map(branch).collect();
                built.into_iter().collect::<Option<_>>().map(Part::Parallel)
            }
        }
    }

    fn refuse_out_of_place(&mut self, at: &str, part: &LayPart) {
        for member in part.out_of_place() {
            self.faults.note(&format!("{at}/{member}"), "not_with_kind", "does not go with a part of this kind");
        }
    }

    fn branch(&mut self, at: &str, parts: &[LayPart]) -> Option<Branch> {
        let mut piece = |(i, part): (usize, &LayPart)| {
            let at = format!("{at}/{i}");
            match part.kind {
                LayPartKind::Hose => {
                    self.refuse_out_of_place(&at, part);
                    self.hose(&at, part).map(BranchPart::Hose)
                }
                LayPartKind::Appliance => {
                    self.refuse_out_of_place(&at, part);
                    self.appliance(&at, part).map(BranchPart::Appliance)
                }
                _ => {
                    self.faults.add(&format!("{at}/kind"), "not_in_a_branch", "only hose and appliances may stand here")
                }
            }
        };
        let built: Vec<_> = parts.iter().enumerate().map(&mut piece).collect();
        built.into_iter().collect::<Option<_>>().map(|parts| Branch { parts })
    }

    pub(crate) fn hose(&mut self, at: &str, part: &LayPart) -> Option<Hose> {
        let length = self.faults.required(&format!("{at}/length_ft"), part.length_ft, Length::from_ft);
        let lines = self.lines(at, part.lines.unwrap_or(1));
        if part.hose_type_id.is_some() {
            let own = [part.loss_coefficient, part.diameter_in, part.max_operating_psi, part.service_test_psi];
            if own.iter().any(Option::is_some) {
                return self.faults.exactly_one_of(at, &["hose_type_id", "loss_coefficient"]);
            }
            let pointer = format!("{at}/hose_type_id");
            let found = find(
                RecordKind::HoseType,
                &self.inputs.hose_types,
                part.hose_type_id.as_deref(),
                &pointer,
                self.faults,
            );
            return stored_hose(Figures::of(self.inputs), found?, length?, lines?);
        }
        let coefficient = HoseCoefficient::from_psi_per_100gpm2_100ft;
        let coefficient = self.faults.required(&format!("{at}/loss_coefficient"), part.loss_coefficient, coefficient);
        let diameter = self.faults.optional(&format!("{at}/diameter_in"), part.diameter_in, Diameter::from_in);
        let marked =
            self.faults.optional(&format!("{at}/max_operating_psi"), part.max_operating_psi, Pressure::from_psi);
        let tested = self.faults.optional(&format!("{at}/service_test_psi"), part.service_test_psi, Pressure::from_psi);
        let mut hose = Hose::new(coefficient?, length?, lines?).ok()?;
        (hose.diameter, hose.max_operating, hose.service_test) = (diameter?, marked?, tested?);
        Some(hose)
    }

    fn lines(&mut self, at: &str, lines: u8) -> Option<u8> {
        if (1..=MAX_LINES).contains(&lines) {
            return Some(lines);
        }
        self.faults.add(&format!("{at}/lines"), "out_of_bounds", LinesOutOfBounds(lines).to_string())
    }

    fn appliance(&mut self, at: &str, part: &LayPart) -> Option<Appliance> {
        let marked =
            self.faults.optional(&format!("{at}/max_operating_psi"), part.max_operating_psi, Pressure::from_psi);
        let from = self.faults.optional(&format!("{at}/at_or_above_gpm"), part.at_or_above_gpm, Flow::from_gpm);
        match (&part.appliance_id, part.loss_coefficient, part.fixed_loss_psi) {
            (Some(id), None, None) if part.max_operating_psi.is_none() && part.at_or_above_gpm.is_none() => {
                let pointer = format!("{at}/appliance_id");
                let found = find(RecordKind::Appliance, &self.inputs.appliances, Some(id), &pointer, self.faults)?;
                Some(stored_appliance(Figures::of(self.inputs), found))
            }
            (None, squared @ Some(_), None) if part.at_or_above_gpm.is_none() => {
                let k = ApplianceCoefficient::from_psi_per_100gpm2;
                let k = self.faults.required(&format!("{at}/loss_coefficient"), squared, k)?;
                Some(given_appliance(ApplianceLoss::Squared(k), marked?))
            }
            (None, None, fixed @ Some(_)) => {
                let fixed = self.faults.required(&format!("{at}/fixed_loss_psi"), fixed, Pressure::from_psi);
                let Some(at_or_above) = from? else {
                    return self.faults.add(&format!("{at}/at_or_above_gpm"), "required", "must be given with fixed_loss_psi");
                };
                Some(given_appliance(ApplianceLoss::Step { fixed: fixed?, at_or_above }, marked?))
            }
            _ => self.faults.add(
                at,
                "exactly_one_of",
                "give exactly one of appliance_id, loss_coefficient, or fixed_loss_psi with at_or_above_gpm; a stored appliance has its own marking",
            ),
        }
    }

    fn hydrant_valve(&mut self, at: &str, part: &LayPart) -> Option<HydrantValve> {
        let hydrant_valve_id = &part.hydrant_valve_id;
        let own = [part.through_coefficient, part.to_pump_coefficient, part.from_pump_coefficient];
        if hydrant_valve_id.is_some() == own.iter().any(Option::is_some) {
            return self.faults.exactly_one_of(at, &["hydrant_valve_id", "through_coefficient"]);
        }
        if hydrant_valve_id.is_some() {
            let pointer = format!("{at}/hydrant_valve_id");
            let found = find(
                RecordKind::HydrantValve,
                &self.inputs.hydrant_valves,
                hydrant_valve_id.as_deref(),
                &pointer,
                self.faults,
            )?;
            return self.stored_valve(&pointer, found);
        }
        let mut leg = |name: &str, value: Option<f64>| {
            self.faults.required(&format!("{at}/{name}"), value, ApplianceCoefficient::from_psi_per_100gpm2)
        };
        let through = leg("through_coefficient", part.through_coefficient);
        let to_pump = leg("to_pump_coefficient", part.to_pump_coefficient);
        let from_pump = leg("from_pump_coefficient", part.from_pump_coefficient);
        let (through, to_pump, from_pump) = (through?, to_pump?, from_pump?);
        Some(HydrantValve {
            through,
            to_pump,
            from_pump,
            to_pump_hose: None,
            from_pump_hose: None,
            assumed: false,
            spread: ValveSpread::ASSUMED,
        })
    }

    fn stored_valve(&mut self, at: &str, kind: &equipment::HydrantValveType) -> Option<HydrantValve> {
        let figures = Figures::of(self.inputs);
        let mut connecting = |load: &Option<HoseLoad>| {
            if_given(load.as_ref(), |load| {
                let id = Some(load.hose_type_id.as_str());
                let found = find(RecordKind::HoseType, &self.inputs.hose_types, id, at, self.faults)?;
                stored_hose(figures, found, load.length, 1)
            })
        };
        let [through, to_pump, from_pump] =
            [Leg::Through, Leg::ToPump, Leg::FromPump].map(|leg| figures.leg(kind, leg));
        Some(HydrantValve {
            through: through.value,
            to_pump: to_pump.value,
            from_pump: from_pump.value,
            to_pump_hose: connecting(&kind.to_pump_hose)?,
            from_pump_hose: connecting(&kind.from_pump_hose)?,
            // One leg that was not tested leaves the valve's figures a handbook's.
            assumed: [&through, &to_pump, &from_pump].iter().any(|leg| leg.from == FigureFrom::Handbook),
            spread: ValveSpread { through: through.spread, to_pump: to_pump.spread, from_pump: from_pump.spread },
        })
    }

    pub(crate) fn pumper(&mut self, at: &str, asked: &LayPumper) -> Option<Pumper> {
        let own = [asked.rated_flow_gpm, asked.intake_floor_psi, asked.max_discharge_psi];
        if asked.pumper_id.is_some() {
            if own.iter().any(Option::is_some) {
                return self.faults.exactly_one_of(at, &["pumper_id", "rated_flow_gpm"]);
            }
            let pointer = format!("{at}/pumper_id");
            let found =
                find(RecordKind::Pumper, &self.inputs.pumpers, asked.pumper_id.as_deref(), &pointer, self.faults)?;
            return stored_pumper(Figures::of(self.inputs), found);
        }
        let rated = self.faults.required(&format!("{at}/rated_flow_gpm"), asked.rated_flow_gpm, PositiveFlow::from_gpm);
        let floor = asked.intake_floor_psi.or(Some(DEFAULT_INTAKE_FLOOR_PSI));
        let floor = self.faults.required(&format!("{at}/intake_floor_psi"), floor, Pressure::from_psi);
        let most = format!("{at}/max_discharge_psi");
        let most = self.faults.optional(&most, asked.max_discharge_psi, Pressure::from_psi);
        Some(Pumper { curve: PumpCurve::from_rating(rated?), intake_floor: floor?, max_discharge: most? })
    }

    /// A stored lay: valve, hose, scene appliances.
    fn profile(&mut self, ask: &LayCalculation, profile: &LayProfile) -> Option<Vec<Part>> {
        let at = "/lay_profile_id";
        let mut parts = Vec::new();
        if let Some(id) = &profile.hydrant_valve_id {
            let found =
                find(RecordKind::HydrantValve, &self.inputs.hydrant_valves, Some(id.as_str()), at, self.faults)?;
            parts.push(Part::HydrantValve(self.stored_valve(at, found)?));
        }
        let length = self.faults.optional("/length_ft", ask.length_ft, Length::from_ft)?.unwrap_or(profile.carried);
        let kind =
            find(RecordKind::HoseType, &self.inputs.hose_types, Some(profile.hose_type_id.as_str()), at, self.faults)?;
        parts.push(Part::Hose(stored_hose(Figures::of(self.inputs), kind, length, profile.lines)?));
        for id in &profile.scene_appliance_ids {
            let found = find(RecordKind::Appliance, &self.inputs.appliances, Some(id.as_str()), at, self.faults)?;
            parts.push(Part::Appliance(stored_appliance(Figures::of(self.inputs), found)));
        }
        Some(parts)
    }
}

/// None only for lines out of bounds, which no write lets in.
fn stored_hose(figures: Figures<'_>, kind: &equipment::HoseType, length: Length, lines: u8) -> Option<Hose> {
    let chosen = figures.hose(kind);
    let mut hose = Hose::new(chosen.value, length, lines).ok()?;
    hose.diameter = Some(kind.diameter);
    (hose.max_operating, hose.service_test) = (kind.max_operating, kind.service_test);
    hose.spread = chosen.spread;
    Some(hose)
}

fn stored_appliance(figures: Figures<'_>, kind: &equipment::ApplianceType) -> Appliance {
    let chosen = figures.appliance(kind);
    let assumed = chosen.from == FigureFrom::Handbook;
    Appliance { loss: chosen.value, max_operating: kind.max_operating, assumed, spread: chosen.spread }
}

/// An appliance whose loss comes with the question. How sure the asker is of it is not known.
fn given_appliance(loss: ApplianceLoss, max_operating: Option<Pressure>) -> Appliance {
    Appliance { loss, max_operating, assumed: false, spread: Spread::ASSUMED_LOSS }
}

/// None only where stored points are no curve, which no write lets in.
fn stored_pumper(figures: Figures<'_>, stored: &equipment::Pumper) -> Option<Pumper> {
    let intake_floor = stored.intake_floor.map_or_else(|| Pressure::from_psi(DEFAULT_INTAKE_FLOOR_PSI), Ok).ok()?;
    Some(Pumper { curve: figures.pumper(stored)?.value, intake_floor, max_discharge: stored.max_discharge })
}
