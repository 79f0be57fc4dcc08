//! Every formula with what it is asked with and how it is answered.

use longlay_hydraulics::formula::{self, FORMULAS, Formula};

use super::found::{Found, Output};
use super::input::Input;
use super::reader::Reader;
use super::{flow_test, hose, lay, needed_flow, pipe, pumping, relay, stream};

/// A formula that can be asked by itself.
pub(crate) struct Entry {
    /// The formula.
    pub(crate) formula: &'static Formula,
    /// What it is asked with.
    pub(crate) inputs: &'static [Input],
    /// What it answers; what is not known is left out of an answer.
    pub(crate) outputs: &'static [Output],
    /// Reads the inputs, all of them before any is missed, and asks the library.
    pub(crate) evaluate: fn(&mut Reader<'_>) -> Option<Found>,
}

/// The entries, one list a family.
const FAMILIES: &[&[Entry]] = &[
    flow_test::ENTRIES,
    hose::ENTRIES,
    lay::ENTRIES,
    stream::ENTRIES,
    relay::ENTRIES,
    pumping::ENTRIES,
    pipe::ENTRIES,
    needed_flow::ENTRIES,
];

/// Formulas that mean something for a whole lay, relay, shuttle or log only, with the operation that answers them.
const ELSEWHERE: &[(&Formula, &str)] = &[
    (&formula::DELIVERABLE_FLOW, "/v1/lay-calculations"),
    (&formula::COMBINED_SUPPLY, "/v1/combined-supplies"),
    (&formula::DRILL_BIAS, "/v1/lay-calculations"),
    (&formula::DRILL_ESTIMATE, "/v1/drill-estimates"),
    (&formula::FIRST_WATER, "/v1/shuttles"),
    (&formula::FLOW_DURATION, "/v1/needed-flow"),
    (&formula::ISO_ALTERNATIVE_SUPPLY, "/v1/shuttles"),
    (&formula::NEEDED_FLOW_VERDICT, "/v1/needed-flow"),
    (&formula::PUMP_FOR_LINES, "/v1/attack-lines"),
    (&formula::RELAY_CONSTANT_PRESSURE, "/v1/relays"),
    (&formula::RELAY_PLACES, "/v1/relays"),
    (&formula::SHUTTLE_FLOW, "/v1/shuttles"),
];

/// The entry of a formula; none where another operation answers it.
pub(crate) fn entry(id: &str) -> Option<&'static Entry> {
    FAMILIES.iter().flat_map(|family| family.iter()).find(|entry| entry.formula.id == id)
}

/// The operation that answers a formula that cannot be asked by itself.
pub(crate) fn answered_by(id: &str) -> Option<&'static str> {
    ELSEWHERE.iter().find(|(formula, _)| formula.id == id).map(|(_, path)| *path)
}

/// A formula by its id.
pub(crate) fn formula(id: &str) -> Option<&'static Formula> {
    FORMULAS.iter().find(|formula| formula.id == id).copied()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use serde_json::{Map, Value, json};

    use super::*;
    use crate::faults::Faults;
    use crate::formulas::input::Kind;

    fn entries() -> impl Iterator<Item = &'static Entry> {
        FAMILIES.iter().flat_map(|family| family.iter())
    }

    /// Where faults of this code stand when these inputs are read.
    fn faults(entry: &Entry, inputs: &Map<String, Value>, code: &str) -> BTreeSet<String> {
        let mut faults = Faults::of_body();
        (entry.evaluate)(&mut Reader::new(String::new(), entry.inputs, inputs, &mut faults));
        let of_code = faults.noted().iter().filter(|fault| fault.code == code);
        of_code.filter_map(|fault| fault.pointer.clone()).collect()
    }

    /// Pointers of all values that are declared, lists by their one item's members.
    fn declared(inputs: &[Input], at: &str, wanted: fn(&Input) -> bool) -> BTreeSet<String> {
        let mut found = BTreeSet::new();
        for input in inputs {
            let pointer = format!("{at}/{}", input.name);
            match input.kind {
                Kind::List(items) => found.extend(declared(items, &format!("{pointer}/0"), wanted)),
                _ if wanted(input) => drop(found.insert(pointer)),
                _ => {}
            }
        }
        found
    }

    /// An object of every name that any formula declares, none of them with a value that can be read.
    fn unreadable() -> Value {
        let names = entries().flat_map(|entry| entry.inputs).flat_map(|input| match input.kind {
            Kind::List(items) => items.iter().map(|item| item.name).collect(),
            _ => vec![input.name],
        });
        names.map(|name| (name.to_owned(), json!({}))).collect()
    }

    #[test]
    fn every_formula_is_asked_by_itself_or_answered_elsewhere_and_none_twice() {
        let asked: Vec<_> = entries().map(|entry| entry.formula.id).collect();
        let elsewhere: Vec<_> = ELSEWHERE.iter().map(|(formula, _)| formula.id).collect();
        for formula in FORMULAS {
            let times = asked.iter().chain(&elsewhere).filter(|id| **id == formula.id).count();
            assert_eq!(times, 1, "{}: give it an entry in a family, or an operation in ELSEWHERE", formula.id);
        }
        assert_eq!(asked.len() + elsewhere.len(), FORMULAS.len());
    }

    #[test]
    fn an_evaluator_reads_what_it_declares_and_nothing_else() {
        for entry in entries() {
            let mut inputs = unreadable();
            for input in entry.inputs.iter().filter(|input| matches!(input.kind, Kind::List(_))) {
                inputs[input.name] = json!([unreadable()]);
            }
            let read = faults(entry, inputs.as_object().unwrap(), "wrong_type");
            assert_eq!(read, declared(entry.inputs, "", |_| true), "{}", entry.formula.id);
        }
    }

    #[test]
    fn an_evaluator_asks_for_what_it_declares_as_required_and_for_nothing_else() {
        for entry in entries() {
            let lists = entry.inputs.iter().filter(|input| matches!(input.kind, Kind::List(_)));
            let inputs = lists.clone().map(|list| (list.name.to_owned(), json!([{}]))).collect();
            let missed = faults(entry, &inputs, "required");
            assert_eq!(missed, declared(entry.inputs, "", |input| input.required), "{}", entry.formula.id);
            let missed = faults(entry, &Map::new(), "required");
            for list in lists {
                assert_eq!(missed.contains(&format!("/{}", list.name)), list.required, "{}", entry.formula.id);
            }
        }
    }

    #[test]
    fn a_name_ends_with_its_unit() {
        let units = [
            ("psi", "_psi"),
            ("gpm", "_gpm"),
            ("ft", "_ft"),
            ("in", "_in"),
            ("gal", "_gal"),
            ("min", "_min"),
            ("mi", "_mi"),
            ("s", "_s"),
            ("%", "_percent"),
            ("ft²", "_sq_ft"),
            ("ft³", "_cu_ft"),
            ("rpm", "_rpm"),
            ("hp", "_hp"),
            ("psia", "_psia"),
            ("cSt", "_cst"),
            ("inHg", "_inhg"),
            ("lb/ft³", "_lb_per_cu_ft"),
            ("lbf", "_lbf"),
            ("ft/s", "_ft_per_s"),
        ];
        let ends = |name: &str, unit: &str| match units.iter().find(|(known, _)| *known == unit) {
            Some((_, suffix)) => assert!(name.ends_with(suffix), "{name} is in {unit}"),
            // A coefficient's unit is too long for a name.
            None => assert!(["", "1"].contains(&unit) || unit.starts_with("psi/(100 gpm)²"), "{name}: {unit}"),
        };
        for entry in entries() {
            entry.outputs.iter().for_each(|output| ends(output.name, output.unit));
            for input in entry.inputs {
                match input.kind {
                    Kind::List(items) => items.iter().for_each(|item| ends(item.name, item.unit)),
                    _ => ends(input.name, input.unit),
                }
            }
        }
    }
}
