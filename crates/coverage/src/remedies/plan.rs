//! The town and the lay with the changes taken so far.

use longlay_hydraulics::lay::many::ManyLays;

use crate::records::Hydrant;
use crate::remedies::change::{Change, LayChange};
use crate::remedies::lenders::Lenders;
use crate::rule::Rule;

/// The lays that a department could change to.
pub trait Lays: Sync {
    /// Changes that could be made.
    fn offers(&self) -> &[LayChange];

    /// The lay with these changes; none where there is no such lay.
    fn with(&self, changes: &[LayChange]) -> Option<ManyLays>;
}

#[derive(Clone)]
pub(crate) struct Plan {
    pub(crate) rule: Rule,
    pub(crate) hydrants: Vec<Hydrant>,
    pub(crate) lay: Vec<LayChange>,
    pub(crate) many: ManyLays,
    /// Hydrants whose mains were worked on.
    pub(crate) worked: Vec<u32>,
}

impl Plan {
    /// The lay with one more change: of a kind the later stands.
    pub(crate) fn lay_with(&self, change: LayChange) -> Vec<LayChange> {
        let others = self.lay.iter().copied().filter(|other| other.kind != change.kind);
        others.chain([change]).collect()
    }

    /// Takes a change. `many` is the lay with it, where it changes the lay.
    pub(crate) fn take(&mut self, change: Change, lenders: &Lenders<'_>, many: Option<ManyLays>) {
        if let Some(many) = many {
            self.many = many;
        }
        match change {
            Change::BackInService { hydrant, like } => {
                let own = &mut self.hydrants[hydrant as usize];
                own.in_service = true;
                if let Some(like) = like {
                    *own = lenders.as_by(own, like);
                }
            }
            Change::Test { hydrant, like } => {
                let own = &mut self.hydrants[hydrant as usize];
                *own = lenders.as_by(own, like);
            }
            Change::Lay(change) => self.lay = self.lay_with(change),
            Change::MoreHose { hose_ft } => self.rule.hose_ft = hose_ft,
            Change::SecondPumper => self.rule.second_pumper = true,
            Change::NewHydrant { at: [x, y], like } => {
                let new = Hydrant { x, y, source: None, borrowed: true, in_service: true, main: None, ground_ft: None };
                self.hydrants.push(lenders.as_by(&new, like));
            }
            Change::MainWork { hydrant, times } => {
                if let Some(source) = &mut self.hydrants[hydrant as usize].source {
                    source.curve = source.curve.enlarged(times).unwrap_or(source.curve);
                }
                self.worked.push(hydrant);
            }
        }
    }
}
