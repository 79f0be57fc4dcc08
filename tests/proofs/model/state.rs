//! What the model holds: rows by their id, tests in the order they were recorded, and answers by their key.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::NOW;
use super::asking::Asking;
use super::drawing::{Keyed, Learning};
use crate::bodies;
use crate::server::Reply;

/// A record that is put, retired and put again.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub(super) version: u64,
    pub(super) live: bool,
    /// What a look at it must say.
    pub(super) record: Value,
}

/// A flow test.
#[derive(Debug, Clone)]
pub(super) struct Test {
    pub(super) hydrant: String,
    pub(super) id: String,
    pub(super) record: Value,
}

/// An answer kept for the same request.
#[derive(Debug, Clone)]
pub(super) struct Kept {
    pub(super) request: String,
    pub(super) status: u16,
    pub(super) bytes: Vec<u8>,
}

/// Everything.
#[derive(Debug, Default)]
pub(super) struct Model {
    pub(super) hydrants: BTreeMap<String, Row>,
    pub(super) hose_types: BTreeMap<String, Row>,
    pub(super) pumpers: BTreeMap<String, Row>,
    pub(super) tests: Vec<Test>,
    pub(super) answers: BTreeMap<String, Kept>,
    pub(super) replays: u64,
}

/// The version a live row stands at.
pub(super) fn live(rows: &BTreeMap<String, Row>, id: &str) -> Option<u64> {
    rows.get(id).filter(|row| row.live).map(|row| row.version)
}

/// The version any row stands at; 0 where there never was one.
pub(super) fn version(rows: &BTreeMap<String, Row>, id: &str) -> u64 {
    rows.get(id).map_or(0, |row| row.version)
}

/// Puts a row: the status and the version that are answered.
pub(super) fn put(rows: &mut BTreeMap<String, Row>, id: &str, record: Value) -> (u16, u64) {
    let status = if live(rows, id).is_some() { 200 } else { 201 };
    let version = version(rows, id) + 1;
    rows.insert(id.to_owned(), Row { version, live: true, record });
    (status, version)
}

/// Retires a live row.
pub(super) fn retire(rows: &mut BTreeMap<String, Row>, id: &str) {
    if let Some(row) = rows.get_mut(id) {
        row.live = false;
        row.version += 1;
    }
}

impl Model {
    /// Takes up what only the answer tells, such as the id of a new test.
    pub(super) fn learn(&mut self, learning: Learning, reply: &Reply) {
        match learning {
            Learning::Nothing => {}
            Learning::Replayed => self.replays += 1,
            Learning::Recorded { hydrant, asked } => {
                let record = reply.json();
                let id = record["id"].as_str().expect("an id").to_owned();
                let location = format!("{}/v1/hydrants/{hydrant}/flow-tests/{id}", super::PUBLIC_URL);
                assert_eq!(reply.header("location"), location);
                self.tests.push(Test { hydrant, id, record });
                self.keep(asked, reply);
            }
            Learning::Voided { id, reason, asked } => {
                let test = self.tests.iter_mut().find(|test| test.id == id).expect("a test");
                test.record["voided"] = json!({ "reason": reason, "at": NOW });
                self.keep(asked, reply);
            }
        }
    }

    fn keep(&mut self, asked: Keyed, reply: &Reply) {
        if let Some((key, request)) = asked {
            self.answers.insert(key, Kept { request, status: reply.status, bytes: reply.bytes.clone() });
        }
    }

    /// Tests gauged at a hydrant.
    pub(super) fn tests_at(&self, hydrant: &str) -> Vec<Value> {
        self.tests.iter().filter(|test| test.hydrant == hydrant).map(|test| test.record.clone()).collect()
    }

    /// Every list, by small pages, against all that is held.
    pub(super) async fn look_at_everything(&self, asking: &Asking) {
        let hydrants: Vec<_> = self.hydrants.values().filter(|row| row.live).map(|row| row.record.clone()).collect();
        assert_eq!(asking.all("/v1/hydrants", 3).await, hydrants);
        for (path, rows) in [("/v1/hose-types", &self.hose_types), ("/v1/pumpers", &self.pumpers)] {
            let own = asking.all(path, 4).await.into_iter().filter(|record| record["origin"] != "library");
            let held: Vec<_> = rows.values().filter(|row| row.live).map(|row| &row.record).collect();
            let own: Vec<_> = own.collect();
            assert_eq!(own.len(), held.len(), "{path}");
            for (record, row) in own.iter().zip(held) {
                assert!(bodies::says(record, row), "{path}: {record} is not {row}");
            }
        }
        for (id, row) in &self.hydrants {
            if row.live {
                let path = format!("/v1/hydrants/{id}/flow-tests");
                let by_themselves = |tests: Vec<Value>| tests.into_iter().map(bodies::by_itself).collect::<Vec<_>>();
                let (found, kept) = (asking.all(&path, 50).await, self.tests_at(id));
                assert_eq!(by_themselves(found), by_themselves(kept), "tests at {id}");
            }
        }
    }
}
