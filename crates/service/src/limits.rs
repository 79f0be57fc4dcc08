//! Every bound on what comes in and on how long it may take. Those of a record or a formula stand with it; here they are gathered, so that whoever operates
//! the service or writes against it finds them in one table.

use std::time::Duration;

use longlay_exchange::kind::Exchanged;
use longlay_exchange::read::MOST_RECORDS;
use longlay_exchange::streets::{MOST_PLACES, MOST_STREETS};
use longlay_hydraulics::lay::combined::MAX_SUPPLY_LINES;
use longlay_hydraulics::lay::{MAX_BRANCHES, MAX_PARTS};
use longlay_hydraulics::loss::MAX_LINES;
use longlay_hydraulics::relay::{MAX_GROUND_POINTS, MAX_RELAY_PUMPERS};
use longlay_hydraulics::shuttle::MAX_TANKERS;
use longlay_records::demand::DemandPoint;
use longlay_records::equipment::MAX_LIST;
use longlay_records::equipment_test::MAX_TEST_READINGS;
use longlay_records::flow_test::{MAX_FLOW_HYDRANTS, MAX_TEST_OUTLETS};
use longlay_records::hydrant::MAX_OUTLETS;
use longlay_records::id::MAX_ID_CHARS;
use longlay_records::street::MAX_STREET_PLACES;
use longlay_records::terrain::MAX_GRID_HEIGHTS;

use crate::config::MAX_SETTINGS_BYTES;
use crate::faults::{MAX_NAME_CHARS, MAX_NOTE_CHARS};
use crate::formulas::MAX_ITEMS;
use crate::imports::spool::{MAX_FILE_BYTES, MAX_GROUND_FILE_BYTES};
use crate::observe::MAX_REQUEST_ID_BYTES;
use crate::page::MAX_LIMIT;
use crate::problem::{MAX_DETAIL_CHARS, MAX_FAULTS};
use crate::routes::drill_body::MAX_READINGS;
use crate::streams::MAX_STREAMS;

/// Most demand points of a file.
const MOST_DEMAND_POINTS: usize = <DemandPoint as Exchanged>::MOST;
/// Largest body.
pub(crate) const MAX_BODY_BYTES: usize = 1024 * 1024;
/// Longest path, as it was sent.
pub(crate) const MAX_PATH_BYTES: usize = 512;
/// Longest query, as it was sent.
pub(crate) const MAX_QUERY_BYTES: usize = 8 * 1024;
/// Longest head of a request: its first line and its headers.
pub(crate) const MAX_HEAD_BYTES: usize = 64 * 1024;
/// Most headers of a request.
pub(crate) const MAX_HEADERS: usize = 100;
/// How long the head of a request may take to come, and a connection may stand idle.
pub(crate) const HEAD_WITHIN: Duration = Duration::from_secs(10);
/// Longest time to an answer, the reading of the body in it: more than the store lets a write wait for those before it.
pub(crate) const ANSWER_WITHIN: Duration = Duration::from_secs(10);
/// Longest time to bring in a file, its way over the network included.
pub(crate) const IMPORT_WITHIN: Duration = Duration::from_mins(3);
/// How long a caller may take to read the next piece of an answer.
pub(crate) const STALLED_AFTER: Duration = Duration::from_secs(30);

/// The table of DEVELOPERS.md.
pub(crate) fn table() -> String {
    let kib = |bytes: usize| format!("{} KiB", bytes / 1024);
    let s = |time: Duration| format!("{} s", time.as_secs());
    let rows: [(&str, String, &str); 30] = [
        ("path", format!("{MAX_PATH_BYTES} bytes"), "414 `address-too-long`"),
        ("query", kib(MAX_QUERY_BYTES), "414 `address-too-long`"),
        ("query parameters", "those of the operation, each once".to_owned(), "400 `invalid-query`"),
        ("head of a request", kib(MAX_HEAD_BYTES), "431, without a body"),
        ("headers of a request", MAX_HEADERS.to_string(), "431, without a body"),
        ("`x-request-id`", format!("{MAX_REQUEST_ID_BYTES} visible ASCII characters"), "replaced by one of ours"),
        ("head of a request, idle connection", s(HEAD_WITHIN), "the connection is closed"),
        ("caller that does not read", s(STALLED_AFTER), "the connection is closed"),
        ("JSON body", kib(MAX_BODY_BYTES), "413 `body-too-large`"),
        ("time to an answer", s(ANSWER_WITHIN), "503 `overloaded`"),
        ("requests at once, connections", "settings of `serve`".to_owned(), "503 `overloaded`"),
        ("file of settings", kib(usize::try_from(MAX_SETTINGS_BYTES).unwrap_or(usize::MAX)), "not started"),
        ("items of a page", MAX_LIMIT.to_string(), "more counts as this"),
        ("faults told", MAX_FAULTS.to_string(), "the rest is counted"),
        ("detail of a problem", format!("{MAX_DETAIL_CHARS} characters"), "cut"),
        ("id", format!("{MAX_ID_CHARS} of `A-Z a-z 0-9 _ -`"), "422 `invalid-values`, in a path 404"),
        ("name, main, pressure zone", format!("{MAX_NAME_CHARS} characters"), "422 `invalid-values`"),
        ("note, description, source, reason, method", format!("{MAX_NOTE_CHARS} characters"), "422 `invalid-values`"),
        ("outlets of a hydrant", MAX_OUTLETS.to_string(), "422 `invalid-values`"),
        ("outlets read in a flow test", MAX_TEST_OUTLETS.to_string(), "422 `invalid-values`"),
        ("hydrants flowed in a flow test", MAX_FLOW_HYDRANTS.to_string(), "422 `invalid-values`"),
        (
            "hose loads and points of a pumper, appliances of a lay profile",
            MAX_LIST.to_string(),
            "422 `invalid-values`",
        ),
        (
            "readings of an equipment test, of a drill",
            format!("{MAX_TEST_READINGS}, {MAX_READINGS}"),
            "422 `invalid-values`",
        ),
        (
            "parts of a lay or of a branch, branches of a part",
            format!("{MAX_PARTS}, {MAX_BRANCHES}"),
            "422 `invalid-values`",
        ),
        ("lines side by side", MAX_LINES.to_string(), "422 `invalid-values`"),
        ("lines of a combined supply", MAX_SUPPLY_LINES.to_string(), "422 `invalid-values`"),
        ("streams, attack lines", MAX_STREAMS.to_string(), "422 `invalid-values`"),
        (
            "pumpers of a relay, points of its ground",
            format!("{MAX_RELAY_PUMPERS}, {MAX_GROUND_POINTS}"),
            "422 `invalid-values`",
        ),
        ("tankers of a shuttle", MAX_TANKERS.to_string(), "422 `invalid-values`"),
        ("items of an input of a formula", MAX_ITEMS.to_string(), "422 `invalid-values`"),
    ];
    let row = |(what, most, over): (&str, String, &str)| format!("| {what} | {most} | {over} |\n");
    "| what | most | over it |\n|---|---|---|\n".to_owned()
        + &rows.into_iter().chain(of_files()).map(row).collect::<String>()
}

/// Of files that are brought in.
fn of_files() -> [(&'static str, String, &'static str); 5] {
    let mib = |bytes: usize| format!("{} MiB", bytes / (1024 * 1024));
    [
        (
            "file of records, its records",
            format!("{}, {MOST_RECORDS}", mib(MAX_FILE_BYTES)),
            "413 `body-too-large`, 422 `import-refused`",
        ),
        ("demand points of a file", MOST_DEMAND_POINTS.to_string(), "422 `import-refused`"),
        (
            "file of streets, its streets, places of their lines",
            format!("{}, {MOST_STREETS}, {MOST_PLACES}", mib(MAX_GROUND_FILE_BYTES)),
            "413 `body-too-large`, 422 `import-refused`",
        ),
        ("places of a street", MAX_STREET_PLACES.to_string(), "422 `import-refused`"),
        (
            "file of heights, its heights",
            format!("{}, {MAX_GRID_HEIGHTS}", mib(MAX_FILE_BYTES)),
            "413 `body-too-large`, 422 `import-refused`",
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_of_the_developers_is_what_the_code_holds_to() {
        let developers = include_str!("../../../DEVELOPERS.md");
        assert!(developers.contains(&table()), "put the output of `longlay config --limits` there");
    }
}
