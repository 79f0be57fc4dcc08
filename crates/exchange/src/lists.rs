//! Lists in one cell, as a person types them: `hose 2.5 0.9; pumper 4.5 0.8`. Groups are parted by `;`, what stands in a group by
//! spaces.

use crate::fault::{Wrong, quoted};
use crate::value::Value;

/// Groups as they stand in a cell.
pub(crate) fn written(groups: &[Vec<Value>]) -> String {
    let group = |values: &Vec<Value>| values.iter().map(word).collect::<Vec<_>>().join(" ");
    groups.iter().map(group).collect::<Vec<_>>().join("; ")
}

fn word(value: &Value) -> String {
    match value {
        Value::Text(text) => text.clone(),
        Value::Number(number) => number.to_string(),
        Value::Flag(flag) => flag.to_string(),
        Value::Empty | Value::Groups(_) => String::new(),
    }
}

/// The groups of a cell, each of exactly as many words as there are names.
pub(crate) fn groups<'a, const N: usize>(cell: &'a str, names: &[&str; N]) -> Result<Vec<[&'a str; N]>, Wrong> {
    let mut groups = Vec::new();
    for group in cell.split(';').map(str::trim).filter(|group| !group.is_empty()) {
        let words: Vec<_> = group.split_whitespace().collect();
        let Ok(words) = words.try_into() else {
            let detail = format!("{} is not {}; part one from the next with `;`", quoted(group), names.join(" "));
            return Err(Wrong::new("wrong_list", detail));
        };
        groups.push(words);
    }
    Ok(groups)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_reads_as_it_is_typed() {
        let read = groups(" hose 2.5 0.9;pumper  4.5 0.8 ;", &["kind", "diameter_in", "coefficient"]).unwrap();
        assert_eq!(read, [["hose", "2.5", "0.9"], ["pumper", "4.5", "0.8"]]);
        assert_eq!(groups("", &["id"]).unwrap(), Vec::<[&str; 1]>::new());
    }

    #[test]
    fn a_group_too_short_is_quoted_with_what_belongs_in_it() {
        let wrong = groups("2.5 0.9 14; 2.5 0.9", &["diameter_in", "coefficient", "pitot_psi"]).unwrap_err();
        assert!(wrong.detail.contains("`2.5 0.9` is not diameter_in coefficient pitot_psi"), "{wrong:?}");
    }
}
