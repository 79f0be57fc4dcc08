//! What must hold of remedies in any town.

use longlay_coverage::cause::CauseCode;
use longlay_coverage::records::Hydrant;
use longlay_coverage::remedies::{Change, LayChange, Lays};
use longlay_coverage::rule::Rule;
use longlay_coverage::summary::Summary;
use longlay_coverage::threads::Progress;
use proptest::prelude::*;

use crate::coverage_laws::{hydrants, lines, places};
use crate::remedies::{BIGGER_HOSE, Department, PUMPER, SECOND_LINE, Town, alone};
use crate::town::outcomes;

/// The changes taken one after another, by hand.
struct Changed<'a> {
    first: &'a [Hydrant],
    hydrants: Vec<Hydrant>,
    rule: Rule,
    lay: Vec<LayChange>,
}

impl Changed<'_> {
    fn lend(&self, to: Hydrant, like: u32) -> Hydrant {
        let lender = &self.first[like as usize];
        let mut source = lender.source.unwrap();
        source.spread = source.spread.borrowed(source.curve.drop_psi());
        Hydrant { source: Some(source), borrowed: true, ground_ft: lender.ground_ft, in_service: true, ..to }
    }

    fn take(&mut self, change: Change) {
        match change {
            Change::BackInService { hydrant, like: None } => self.hydrants[hydrant as usize].in_service = true,
            Change::BackInService { hydrant, like: Some(like) } | Change::Test { hydrant, like } => {
                self.hydrants[hydrant as usize] = self.lend(self.hydrants[hydrant as usize], like);
            }
            Change::Lay(change) => self.lay.push(change),
            Change::MoreHose { hose_ft } => self.rule.hose_ft = hose_ft,
            Change::SecondPumper => self.rule.second_pumper = true,
            Change::NewHydrant { at: [x, y], like } => {
                let new = Hydrant { x, y, main: None, ..self.first[like as usize] };
                self.hydrants.push(self.lend(new, like));
            }
            Change::MainWork { hydrant, times } => {
                let source = self.hydrants[hydrant as usize].source.as_mut().unwrap();
                source.curve = source.curve.enlarged(times).unwrap();
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn every_step_is_what_a_run_over_the_changed_town_says(
        lines in lines(), places in places(), hydrants in hydrants(), hose in 300.0..900.0_f64, pumped in any::<bool>(), threads in 1..5_usize,
    ) {
        let town = Town { lines, places, hydrants };
        let department = Department { pumper_gpm: pumped.then_some(1500.0), offers: vec![SECOND_LINE, BIGGER_HOSE, PUMPER] };
        let rule = Rule::with_hose(hose);
        let found = town.remedies(&department, rule, 6);
        prop_assert_eq!(&found, &town.sought(&department, rule, 6, threads, &Progress::default()).unwrap());
        let mut changed = Changed { first: &town.hydrants, hydrants: town.hydrants.clone(), rule, lay: Vec::new() };
        let mut gaps = found.before.gaps();
        for step in &found.steps {
            changed.take(step.change);
            let many = department.with(&changed.lay).unwrap();
            let run = outcomes(&town.lines, &town.places, &changed.hydrants, changed.rule, &many);
            prop_assert_eq!(&step.after, &Summary::of(&run));
            prop_assert_eq!(step.after.gaps(), gaps - step.closed.len() + step.opened.len());
            prop_assert!(step.closed.len() > step.opened.len());
            prop_assert!(step.closed.iter().all(|place| run[*place as usize].cause.code.is_covered()));
            prop_assert_eq!(step.considered[0].change, step.change);
            let worth = step.considered.iter().map(|other| f64::from(other.closes) / f64::from(other.changes));
            prop_assert!(worth.collect::<Vec<_>>().is_sorted_by(|a, b| a >= b));
            gaps = step.after.gaps();
        }
    }

    #[test]
    fn no_hydrant_put_back_closes_more_than_the_one_offered(lines in lines(), places in places(), hydrants in hydrants(), out in 0..256_u32) {
        let hydrants: Vec<_> = hydrants
            .into_iter()
            .zip(0..)
            .map(|(hydrant, bit)| Hydrant { in_service: out >> bit & 1 == 0, ..hydrant })
            .collect();
        let town = Town { lines, places, hydrants };
        let rule = Rule { combined: false, ..Rule::with_hose(800.0) };
        let many = alone().with(&[]).unwrap();
        let judged = |hydrants: &[Hydrant]| outcomes(&town.lines, &town.places, hydrants, rule, &many);
        let before = judged(&town.hydrants);
        let closes = |i: usize| {
            let mut hydrants = town.hydrants.clone();
            hydrants[i].in_service = true;
            let after = judged(&hydrants);
            (0..town.places.len())
                .filter(|place| before[*place].cause.code.is_gap() && after[*place].cause.code == CauseCode::Covered)
                .count()
        };
        let out = |i: &usize| !town.hydrants[*i].in_service && town.hydrants[*i].source.is_some();
        let best = (0..town.hydrants.len()).filter(out).map(closes).max().unwrap_or(0);
        let found = town.remedies(&alone(), rule, 1);
        let considered = found.steps.first().map_or(&[][..], |step| &step.considered);
        let back = considered.iter().find(|other| matches!(other.change, Change::BackInService { .. }));
        let closes = back.map_or(0, |back| back.closes as usize);
        // Of those never tested one may be offered in its stead, where by its neighbours it closes as many or more.
        if matches!(back.map(|back| back.change), Some(Change::BackInService { like: Some(_), .. })) {
            prop_assert!(closes >= best);
        } else {
            prop_assert_eq!(closes, best);
        }
    }
}
