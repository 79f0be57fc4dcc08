//! What can be laid, in the order in which to consider it.

use std::cmp::Ordering;

use longlay_hydraulics::finding::Severity;
use longlay_hydraulics::lay::many::{Arrives, ManyLays, Ready};
use longlay_hydraulics::lay::{Lay, LayError, LayProblem, Part, Source};
use longlay_hydraulics::loss::{Hose, MAX_LINES};
use longlay_hydraulics::quantity::PositiveFlow;

use crate::supply_options::near::{Near, NearLay};
use crate::supply_options::ways::Way;

/// Hydrants of which pairs are tried: those that bring most.
const PAIRED: usize = 3;

/// Something that can be laid.
pub(crate) struct Choice<'a> {
    pub(crate) way: Way,
    /// One hydrant, or two.
    pub(crate) lays: Vec<&'a NearLay>,
    pub(crate) arrives: Arrives,
}

impl Choice<'_> {
    pub(crate) fn meets(&self, needed_gpm: Option<f64>) -> bool {
        needed_gpm.is_some_and(|needed| self.arrives.low_gpm >= needed)
    }

    /// Whether something serious is wrong with a test behind it: such a figure is not to be planned on as it stands.
    pub(crate) fn is_doubtful(&self) -> bool {
        let findings = self.lays.iter().filter_map(|lay| lay.supply.as_ref()).flat_map(|supply| &supply.findings);
        findings.into_iter().any(|finding| finding.code.severity() == Severity::Serious)
    }

    fn lay_ft(&self) -> f64 {
        self.lays.iter().map(|lay| lay.lay_ft).sum()
    }
}

/// Everything that can be laid with the hose carried from hydrants in service on which a test bears. With a flow wanted, first what brings it at the low end of
/// its band, and of that what no serious finding speaks against, what takes least, and the shortest; else what brings most.
pub(crate) fn ranked<'a>(near: &'a Near, laid: &Laid, needed_gpm: Option<f64>) -> Vec<Choice<'a>> {
    let many = &laid.many;
    let mut choices = Vec::new();
    let mut ready = Vec::new();
    for lay in near.within().filter(|lay| lay.in_service()) {
        let Some(own) = ready_of(many, lay) else { continue };
        let rise_ft = lay.rise_ft.unwrap_or(0.0);
        let by = many.arrives(&own, lay.lay_ft, rise_ft);
        choices.push(Choice { way: Way::HydrantAlone, lays: vec![lay], arrives: by.alone });
        if let Some(arrives) = by.boosted {
            choices.push(Choice { way: Way::Boosted, lays: vec![lay], arrives });
        }
        if let Some((doubled, lines)) = &laid.doubled {
            // The profile's hose makes its lines; one more takes as much again of it.
            let hose_ft = lay.lay_ft * f64::from(lines + 1) / f64::from(*lines);
            if let (true, Some(own)) = (hose_ft <= near.rule.carried_ft(), ready_of(doubled, lay)) {
                let arrives = doubled.arrives(&own, lay.lay_ft, rise_ft).alone;
                choices.push(Choice { way: Way::SecondLine, lays: vec![lay], arrives });
            }
        }
        ready.push((lay, own, by.alone.low_gpm));
    }
    choices.extend(pairs(&mut ready, many));
    choices.sort_by(|a, b| {
        let met = |choice: &Choice<'_>| choice.meets(needed_gpm);
        let by_what_it_takes = || {
            let doubt = a.is_doubtful().cmp(&b.is_doubtful());
            doubt.then(a.way.cmp(&b.way)).then(a.lay_ft().total_cmp(&b.lay_ft()))
        };
        let of_both_met = if met(a) && met(b) { by_what_it_takes() } else { Ordering::Equal };
        met(b)
            .cmp(&met(a))
            .then(of_both_met)
            .then(b.arrives.low_gpm.total_cmp(&a.arrives.low_gpm))
            .then_with(by_what_it_takes)
    });
    choices
}

/// Two hydrants together, of those that bring most alone.
fn pairs<'a>(ready: &mut Vec<(&'a NearLay, Ready, f64)>, many: &ManyLays) -> Vec<Choice<'a>> {
    ready.sort_by(|a, b| b.2.total_cmp(&a.2).then(a.0.lay_ft.total_cmp(&b.0.lay_ft)));
    ready.truncate(PAIRED);
    let mut choices = Vec::new();
    for (i, (a, of_a, _)) in ready.iter().enumerate() {
        for (b, of_b, _) in &ready[i + 1..] {
            let line = |lay: &NearLay| (lay.lay_ft, lay.rise_ft.unwrap_or(0.0));
            let ((a_ft, a_rise), (b_ft, b_rise)) = (line(a), line(b));
            let arrives = many.together([(of_a, a_ft, a_rise), (of_b, b_ft, b_rise)], shares_main(a, b)).alone;
            choices.push(Choice { way: Way::TwoHydrants, lays: vec![*a, *b], arrives });
        }
    }
    choices
}

/// Whether two hydrants count as fed from one main: unless both their main and their pressure zone are known and differ.
pub(crate) fn shares_main(a: &NearLay, b: &NearLay) -> bool {
    let differ = |a: &Option<String>, b: &Option<String>| a.as_ref().zip(b.as_ref()).is_some_and(|(a, b)| a != b);
    !(differ(&a.hydrant.main_id, &b.hydrant.main_id) && differ(&a.hydrant.pressure_zone, &b.hydrant.pressure_zone))
}

/// A hydrant ready to be asked; none where nobody tested it.
pub(crate) fn ready_of(many: &ManyLays, lay: &NearLay) -> Option<Ready> {
    let source = lay.source()?;
    Some(if lay.rise_ft.is_some() { many.ready(&source) } else { many.ready_ground_unknown(&source) })
}

/// The lay asked of many hydrants, and the same with one more line.
pub(crate) struct Laid {
    pub(crate) many: ManyLays,
    /// With how many lines it is without; none where it has as many as can be.
    doubled: Option<(ManyLays, u8)>,
}

impl Laid {
    pub(crate) fn new(problem: LayProblem) -> Result<Self, LayError> {
        Ok(Self { doubled: with_one_more_line(&problem), many: ManyLays::new(problem)? })
    }

    /// The exact lay of a choice from one hydrant, towards the flow wanted.
    pub(crate) fn exact(&self, way: Way, lay: &NearLay, target: Option<PositiveFlow>) -> Option<Lay> {
        let many = match way {
            Way::HydrantAlone | Way::Boosted => &self.many,
            Way::SecondLine => &self.doubled.as_ref()?.0,
            Way::TwoHydrants => return None,
        };
        let source = lay.source()?;
        let source = Source {
            spread: if lay.rise_ft.is_some() { source.spread } else { source.spread.ground_unknown() },
            ..source
        };
        let exact = many.lay(&source, lay.lay_ft, lay.rise_ft.unwrap_or(0.0)).ok()?;
        let mut problem = LayProblem { target, ..exact.problem().clone() };
        if way != Way::Boosted {
            problem.boost = None;
        }
        Lay::new(problem).ok()
    }
}

fn with_one_more_line(problem: &LayProblem) -> Option<(ManyLays, u8)> {
    let mut problem = LayProblem { boost: None, ..problem.clone() };
    let hose = problem.parts.iter_mut().find_map(|part| if let Part::Hose(hose) = part { Some(hose) } else { None })?;
    let lines = hose.lines();
    if lines >= MAX_LINES {
        return None;
    }
    let mut more = Hose::new(hose.coefficient(), hose.length(), lines + 1).ok()?;
    more.diameter = hose.diameter;
    (more.max_operating, more.service_test, more.spread) = (hose.max_operating, hose.service_test, hose.spread);
    *hose = more;
    Some((ManyLays::new(problem).ok()?, lines))
}
