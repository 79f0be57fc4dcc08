//! Changes that close gaps: each where it is known by construction to be the one, and against a run over the changed town.

use longlay_coverage::cause::CauseCode;
use longlay_coverage::records::{Hydrant, Place};
use longlay_coverage::remedies::{Change, LayChange, LayKind, Lays, Question, Remedies, Step};
use longlay_coverage::rule::Rule;
use longlay_coverage::run::NoRun;
use longlay_coverage::summary::Summary;
use longlay_coverage::threads::Progress;
use longlay_hydraulics::lay::many::ManyLays;

use crate::town::{Street, hydrant, lays_of, outcomes, place, served, source, streets};

/// What the department could change its lay to: the lines, the hose and the pumper as they are, and as they could be.
pub(crate) struct Department {
    pub(crate) pumper_gpm: Option<f64>,
    pub(crate) offers: Vec<LayChange>,
}

pub(crate) const SECOND_LINE: LayChange = LayChange { kind: LayKind::SecondLine, option: 0 };
pub(crate) const BIGGER_HOSE: LayChange = LayChange { kind: LayKind::BiggerHose, option: 0 };
pub(crate) const PUMPER: LayChange = LayChange { kind: LayKind::Pumper, option: 0 };

impl Lays for Department {
    fn offers(&self) -> &[LayChange] {
        &self.offers
    }

    fn with(&self, changes: &[LayChange]) -> Option<ManyLays> {
        let coefficient = if changes.contains(&BIGGER_HOSE) { 0.02 } else { 0.08 };
        let lines = if changes.contains(&SECOND_LINE) { 2 } else { 1 };
        Some(lays_of(coefficient, lines, if changes.contains(&PUMPER) { Some(2000.0) } else { self.pumper_gpm }))
    }
}

/// A town with streets of its own for each thing that is to be put right.
#[derive(Default)]
pub(crate) struct Town {
    pub(crate) lines: Vec<Street>,
    pub(crate) places: Vec<Place>,
    pub(crate) hydrants: Vec<Hydrant>,
}

impl Town {
    /// A street of 8000 ft with places and hydrants so far along it.
    fn street(&mut self, places: &[(f64, f64)], hydrants: &[(f64, Hydrant)]) {
        let y = 20_000.0 * f64::from(u32::try_from(self.lines.len()).unwrap());
        self.lines.push(Street::flat(&[[0.0, y], [8000.0, y]]));
        self.places.extend(places.iter().map(|(x, need)| place(*x, y, *need)));
        self.hydrants.extend(hydrants.iter().map(|(x, hydrant)| Hydrant { x: *x, y, ..*hydrant }));
    }

    pub(crate) fn remedies(&self, department: &Department, rule: Rule, most: usize) -> Remedies {
        self.sought(department, rule, most, 2, &Progress::default()).unwrap()
    }

    pub(crate) fn sought(
        &self,
        department: &Department,
        rule: Rule,
        most: usize,
        threads: usize,
        progress: &Progress,
    ) -> Result<Remedies, NoRun> {
        let many = department.with(&[]).unwrap();
        let found = outcomes(&self.lines, &self.places, &self.hydrants, rule, &many);
        let (streets, places, hydrants) = (&streets(&self.lines), &self.places[..], &self.hydrants[..]);
        let question = Question { streets, places, hydrants, many: &many, lays: department, most, threads };
        Remedies::find(&question, served(streets, places, hydrants, rule), &found, progress)
    }

    /// The same town, judged with other hydrants, rule and lay.
    fn judged(&self, hydrants: &[Hydrant], rule: Rule, many: &ManyLays) -> Summary {
        Summary::of(&outcomes(&self.lines, &self.places, hydrants, rule, many))
    }
}

pub(crate) fn alone() -> Department {
    Department { pumper_gpm: None, offers: Vec::new() }
}

fn boosted() -> Department {
    Department { pumper_gpm: Some(1500.0), offers: Vec::new() }
}

fn of(s: f64, r: f64, q: f64) -> Hydrant {
    Hydrant { source: Some(source(s, r, q)), ..hydrant(0.0, 0.0) }
}

fn strong() -> Hydrant {
    of(90.0, 85.0, 2000.0)
}

fn weak() -> Hydrant {
    of(60.0, 40.0, 600.0)
}

fn rule() -> Rule {
    Rule { combined: false, ..Rule::with_hose(1000.0) }
}

/// The one step that there is, and nothing after it.
fn only(remedies: &Remedies) -> &Step {
    assert!(remedies.is_all && remedies.steps.len() == 1, "{:?}", remedies.steps);
    &remedies.steps[0]
}

#[test]
fn a_hydrant_out_of_service_is_put_back_where_that_closes_gaps() {
    let mut town = Town::default();
    town.street(&[(0.0, 500.0), (100.0, 500.0)], &[(200.0, Hydrant { in_service: false, ..strong() })]);
    town.street(&[(0.0, 500.0)], &[(200.0, strong())]);
    let found = town.remedies(&alone(), rule(), 5);
    let step = only(&found);
    assert_eq!(step.change, Change::BackInService { hydrant: 0, like: None });
    assert_eq!(
        (step.closed.as_slice(), step.opened.len(), found.before.gaps(), step.after.gaps()),
        (&[0, 1][..], 0, 2, 0)
    );
    let back = [strong(), strong()].map(|hydrant| Hydrant { x: 200.0, ..hydrant });
    let back = [Hydrant { y: 0.0, ..back[0] }, Hydrant { y: 20_000.0, ..back[1] }];
    assert_eq!(step.after, town.judged(&back, rule(), &alone().with(&[]).unwrap()));
}

#[test]
fn a_hydrant_to_test_is_reckoned_by_the_weaker_of_the_two_nearest_and_its_band_is_wider() {
    let untested = Hydrant { source: None, ..strong() };
    let with = |need: f64, near: &[(f64, Hydrant)]| {
        let mut town = Town::default();
        let mut hydrants = vec![(100.0, untested)];
        hydrants.extend_from_slice(near);
        town.street(&[(0.0, need)], &hydrants);
        // Spots are before the place itself: a hydrant there would do as well, and is the dearer.
        town.remedies(&alone(), rule(), 1)
    };
    let two = [(2500.0, strong()), (2600.0, of(80.0, 60.0, 1000.0))];
    let step = &with(600.0, &two).steps[0];
    assert_eq!((step.change, step.closed.as_slice()), (Change::Test { hydrant: 0, like: 2 }, &[0][..]));
    assert!(step.is_assumed && step.considered[0].like_ft == Some(2500.0));
    // What the weaker of them gives, the strong one notwithstanding.
    let most = |band: fn(Hydrant) -> Hydrant| {
        let near = [band(Hydrant { x: 100.0, ..two[1].1 })];
        let ask = |need| {
            outcomes(
                &[Street::flat(&[[0.0, 0.0], [8000.0, 0.0]])],
                &[place(0.0, 0.0, need)],
                &near,
                rule(),
                &alone().with(&[]).unwrap(),
            )
        };
        ask(1.0)[0].alone.unwrap().arrives.low_gpm
    };
    let own = most(|hydrant| hydrant);
    let tests = |found: Remedies| found.steps.iter().any(|step| matches!(step.change, Change::Test { .. }));
    assert!(!tests(with(own * 0.999, &two)), "a borrowed test is less sure than an own one");
    let lent = most(|hydrant| Hydrant {
        source: hydrant.source.map(|mut source| {
            source.spread = source.spread.borrowed(20.0);
            source
        }),
        ..hydrant
    });
    assert!(tests(with(lent * 0.999, &two)) && !tests(with(lent * 1.001, &two)));
    // One tested hydrant near is not two, and two past all that is searched are none.
    assert!(!tests(with(600.0, &two[..1])));
    assert!(!tests(with(600.0, &two.map(|(x, hydrant)| (x + 1000.0, hydrant)))));
}

#[test]
fn more_hose_is_as_much_as_closes_most_for_each_quarter() {
    let mut town = Town::default();
    // 1000 ft are carried: with a quarter more the first two are reached, with all of it again the third.
    town.street(&[(0.0, 500.0), (20.0, 500.0), (3850.0, 500.0)], &[(1100.0, strong()), (2100.0, strong())]);
    // As the crow flies, where no new hydrant is offered.
    town.lines.clear();
    let rule = Rule { detour: 1.0, ..rule() };
    let found = town.remedies(&alone(), rule, 5);
    let [first, second] = &found.steps[..] else { panic!("{:?}", found.steps) };
    let hose_ft = |hundreds: f64| Change::MoreHose { hose_ft: hundreds * 100.0 };
    // Of quarters of a thousand in sections of a hundred, whole ones.
    assert_eq!((first.change, first.changes, first.closed.as_slice()), (hose_ft(12.0), 1, &[0, 1][..]));
    assert_eq!((second.change, second.changes, second.closed.as_slice()), (hose_ft(20.0), 4, &[2][..]));
    assert_eq!(first.after, town.judged(&town.hydrants, Rule { hose_ft: 1200.0, ..rule }, &alone().with(&[]).unwrap()));
}

#[test]
fn the_lay_is_changed_where_the_lay_holds_the_water_back() {
    let mut town = Town::default();
    town.street(&[(0.0, 1500.0), (50.0, 1500.0)], &[(900.0, strong())]);
    let offered = |offers: &[LayChange]| {
        let found = town.remedies(&Department { offers: offers.to_vec(), ..alone() }, rule(), 3);
        found.steps.iter().map(|step| step.change).collect::<Vec<_>>()
    };
    for offer in [SECOND_LINE, BIGGER_HOSE, PUMPER] {
        assert_eq!(offered(&[offer]), [Change::Lay(offer)]);
    }
    assert_eq!(offered(&[PUMPER, BIGGER_HOSE, SECOND_LINE]), [Change::Lay(SECOND_LINE)], "of equals the cheapest");
}

#[test]
fn a_second_pumper_counts_where_two_hydrants_are_boosted() {
    let mut town = Town::default();
    let main = |main| Hydrant { main: Some(main), ..strong() };
    town.street(&[(4000.0, 2600.0)], &[(3100.0, main(1)), (4900.0, main(2))]);
    let rule = Rule::with_hose(1000.0);
    let step = town.remedies(&boosted(), rule, 3).steps.remove(0);
    assert_eq!((step.change, step.closed.as_slice()), (Change::SecondPumper, &[0][..]));
    assert_eq!(
        step.after,
        town.judged(&town.hydrants, Rule { second_pumper: true, ..rule }, &boosted().with(&[]).unwrap())
    );
    assert!(town.remedies(&alone(), rule, 3).steps.iter().all(|step| step.change != Change::SecondPumper));
}

#[test]
fn a_new_hydrant_stands_on_a_street_before_the_gaps_that_it_closes() {
    let mut town = Town::default();
    town.street(&[(4400.0, 500.0), (7000.0, 500.0), (7200.0, 500.0)], &[(4300.0, strong()), (4500.0, strong())]);
    // So far off that no hose on an engine could do it, and near enough to lend.
    let found = town.remedies(&alone(), rule(), 5);
    let step = only(&found);
    let Change::NewHydrant { at, like } = step.change else { panic!("{:?}", step.change) };
    assert!(at[1] == 0.0 && (7000.0..=7200.0).contains(&at[0]) && like < 2);
    assert_eq!((step.closed.as_slice(), step.after.gaps()), (&[1, 2][..], 0));
}

#[test]
fn without_streets_no_place_for_a_hydrant_is_known() {
    let mut town = Town::default();
    town.street(
        &[(0.0, 500.0), (4000.0, 500.0)],
        &[(400.0, strong()), (800.0, strong()), (4400.0, Hydrant { in_service: false, ..strong() })],
    );
    town.lines.clear();
    let step = town.remedies(&alone(), rule(), 5).steps.remove(0);
    assert_eq!(step.change, Change::BackInService { hydrant: 2, like: None });
    town.hydrants.pop();
    let found = town.remedies(&alone(), rule(), 5);
    assert!(found.steps.iter().all(|step| !matches!(step.change, Change::NewHydrant { .. })));
}

#[test]
fn work_on_a_main_comes_where_nothing_else_helps() {
    let mut town = Town::default();
    town.street(&[(0.0, 1000.0), (50.0, 900.0)], &[(100.0, weak())]);
    let found = town.remedies(&Department { offers: vec![SECOND_LINE, BIGGER_HOSE, PUMPER], ..alone() }, rule(), 5);
    let step = only(&found);
    let Change::MainWork { hydrant: 0, times } = step.change else { panic!("{:?}", step.change) };
    assert!(times == 2.0 && step.considered.len() == 1);
    assert_eq!(step.closed, [0, 1]);
    // More than a main's work is no remedy.
    town.places.iter_mut().for_each(|place| place.need_gpm = Some(9000.0));
    let found = town.remedies(&alone(), rule(), 5);
    assert!(found.steps.is_empty() && found.is_all);
}

#[test]
fn a_main_is_worked_on_once_and_only_where_it_was_tested() {
    let mut town = Town::default();
    town.street(&[(0.0, 900.0), (50.0, 1400.0)], &[(100.0, weak())]);
    let offers = vec![SECOND_LINE, BIGGER_HOSE, PUMPER];
    let found = town.remedies(&Department { offers, ..alone() }, rule(), 6);
    let works = found.steps.iter().filter(|step| matches!(step.change, Change::MainWork { .. }));
    assert_eq!(works.count(), 1, "{:?}", found.steps);
    town.hydrants[0].borrowed = true;
    assert!(town.remedies(&alone(), rule(), 6).steps.is_empty(), "on a borrowed test nothing is built");
}

#[test]
fn what_rests_on_a_borrowed_test_says_so_also_when_another_change_closes_it() {
    let mut town = Town::default();
    let lent = Hydrant { borrowed: true, ..strong() };
    town.street(&[(0.0, 500.0)], &[(1100.0, lent)]);
    town.street(&[(0.0, 500.0)], &[(200.0, Hydrant { in_service: false, ..lent })]);
    town.lines.clear();
    let found = town.remedies(&alone(), Rule { detour: 1.0, ..rule() }, 5);
    let told: Vec<_> = found.steps.iter().map(|step| (step.change, step.is_assumed)).collect();
    let back = Change::BackInService { hydrant: 1, like: None };
    assert_eq!(told, [(back, true), (Change::MoreHose { hose_ft: 1200.0 }, true)]);
}

#[test]
fn one_who_borrows_does_not_lend() {
    let mut town = Town::default();
    let lent = Hydrant { borrowed: true, ..strong() };
    town.street(&[(0.0, 600.0)], &[(100.0, Hydrant { source: None, ..strong() }), (2000.0, strong()), (2100.0, lent)]);
    assert!(town.remedies(&alone(), rule(), 1).steps.is_empty());
    town.hydrants[2].borrowed = false;
    assert_eq!(town.remedies(&alone(), rule(), 1).steps[0].change, Change::Test { hydrant: 0, like: 1 });
}

#[test]
fn hose_past_what_is_reckoned_with_is_not_offered() {
    let mut town = Town::default();
    town.street(&[(0.0, 500.0)], &[(7000.0, strong())]);
    town.lines.clear();
    // 70,000 ft of hose the long way; a quarter of 60,000 more would do, and all of it again is past the bound.
    let far = Rule { hose_ft: 60_000.0, section_ft: 1000.0, detour: 10.0, ..rule() };
    let found = town.remedies(&alone(), far, 3);
    assert!(found.steps.iter().all(|step| matches!(step.change, Change::MoreHose { hose_ft } if hose_ft <= 100_000.0)));
}

#[test]
fn with_pumpers_at_both_the_two_whose_mains_give_most_are_looked_at_too() {
    // Near the place three that give what the pumper is rated at and share a weak main; farther out two strong ones, each on its own.
    let near = Hydrant { main: Some(1), ..of(80.0, 60.0, 1200.0) };
    let own = |main| Hydrant { main: Some(main), ..strong() };
    let mut town = Town::default();
    town.street(
        &[(4000.0, 2000.0)],
        &[(3900.0, near), (4000.0, near), (4100.0, near), (3500.0, own(2)), (4500.0, own(3))],
    );
    let rule = Rule { second_pumper: true, ..Rule::with_hose(1000.0) };
    let many = Department { pumper_gpm: Some(1000.0), offers: Vec::new() }.with(&[]).unwrap();
    let found = &outcomes(&town.lines, &town.places, &town.hydrants, rule, &many)[0];
    assert_eq!(found.cause.code, CauseCode::CoveredIfCombined, "{found:?}");
    assert!(found.combined.unwrap().hydrants.iter().any(|hydrant| *hydrant >= 3));
}

#[test]
fn what_closes_most_for_each_change_comes_first_and_what_follows_is_over_it() {
    let mut town = Town::default();
    town.street(&[(0.0, 500.0)], &[(200.0, Hydrant { in_service: false, ..strong() })]);
    town.street(&[(0.0, 500.0), (30.0, 500.0), (60.0, 500.0)], &[(200.0, Hydrant { in_service: false, ..strong() })]);
    town.street(&[(0.0, 500.0), (30.0, 500.0)], &[(200.0, Hydrant { in_service: false, ..strong() })]);
    let found = town.remedies(&alone(), rule(), 2);
    let changes: Vec<_> = found.steps.iter().map(|step| (step.change, step.closed.len(), step.after.gaps())).collect();
    let back = |hydrant| Change::BackInService { hydrant, like: None };
    assert_eq!(changes, [(back(1), 3, 3), (back(2), 2, 1)]);
    assert!(!found.is_all, "more was there, and no more was asked for");
}

#[test]
fn a_town_without_gaps_needs_nothing() {
    let mut town = Town::default();
    town.street(&[(0.0, 500.0)], &[(200.0, strong())]);
    let found = town.remedies(&Department { offers: vec![BIGGER_HOSE], ..boosted() }, Rule::with_hose(1000.0), 5);
    assert!(found.steps.is_empty() && found.is_all && found.before.count(CauseCode::Covered) == 1);
    let nothing = Town::default().remedies(&alone(), rule(), 5);
    assert!(nothing.steps.is_empty() && nothing.is_all);
}

#[test]
fn a_search_is_called_off() {
    let mut town = Town::default();
    town.street(&[(0.0, 500.0)], &[(200.0, Hydrant { in_service: false, ..strong() })]);
    let progress = Progress::default();
    progress.cancel();
    assert!(matches!(town.sought(&alone(), rule(), 5, 2, &progress), Err(NoRun::Cancelled(_))));
}
