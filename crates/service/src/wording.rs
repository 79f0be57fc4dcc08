//! What a deserializer says of a value, in the words of JSON and of queries: callers know no `f64` and no struct.

/// The same fault in plain words. What is plain already stays as it is.
pub(crate) fn plain(said: &str) -> String {
    let said = without_place(said);
    if let Some((found, expected)) = split(said, &["invalid type: ", "invalid value: "]) {
        return format!("must be {}, not {}", kind(expected), value(found));
    }
    if let Some((found, expected)) = split(said, &["unknown variant "]) {
        return format!("must be {expected}, not {found}");
    }
    match said {
        // What serde_json says where one of a few words should stand.
        "expected value" => "must be text".to_owned(),
        "invalid float literal" | "cannot parse float from empty string" => "must be a number".to_owned(),
        "invalid digit found in string" | "cannot parse integer from empty string" => {
            "must be a whole number".to_owned()
        }
        "number too large to fit in target type" => "must be a smaller whole number".to_owned(),
        "provided string was not `true` or `false`" => "must be true or false".to_owned(),
        _ if ["unknown", "missing", "duplicate"].iter().any(|start| said.starts_with(start)) => {
            said.replacen(" field", " member", 1)
        }
        _ => said.to_owned(),
    }
}

/// The pointer of a fault says where it is; line and column are taken off the end.
fn without_place(said: &str) -> &str {
    match said.rsplit_once(" at line ") {
        Some((fault, place)) if place.replacen(" column ", "", 1).bytes().all(|byte| byte.is_ascii_digit()) => fault,
        _ => said,
    }
}

fn split<'a>(said: &'a str, starts: &[&str]) -> Option<(&'a str, &'a str)> {
    let rest = starts.iter().find_map(|start| said.strip_prefix(start))?;
    // What was found may quote the caller; what was expected never does.
    rest.rsplit_once(", expected ")
}

fn kind(expected: &str) -> &str {
    match expected {
        "f64" => "a number",
        "u8" => "a whole number from 0 to 255",
        "a boolean" => "true or false",
        "a string" | "string or map" => "text",
        "a sequence" => "a list",
        other => other,
    }
}

fn value(found: &str) -> &str {
    match found {
        "map" => "an object",
        "sequence" => "a list",
        other => {
            let named = ["string ", "integer ", "floating point ", "boolean "];
            named.iter().find_map(|kind| other.strip_prefix(kind)).unwrap_or(other)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_caller_wrote_is_no_part_of_the_grammar() {
        let said = r#"invalid type: string "x, expected f64 at line 9 column 9", expected f64 at line 1 column 60"#;
        assert_eq!(plain(said), r#"must be a number, not "x, expected f64 at line 9 column 9""#);
    }

    #[test]
    fn what_is_plain_stays() {
        let said = "must be a date like 2026-05-01";
        assert_eq!(plain(said), said);
    }
}
