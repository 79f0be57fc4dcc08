//! Single records under SIGKILL: each writer knows what it was told is kept, and which one request was not answered.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use reqwest::Method;
use serde_json::Value;

use crate::bodies;
use crate::random::Random;
use crate::server::{Reply, Server};

const HYDRANTS_EACH: u64 = 5;

/// What is known of one hydrant and its tests.
#[derive(Debug, Default)]
struct Known {
    record: Option<Value>,
    tag: String,
    /// Acknowledged tests by their notes, with the key and the answer of the first time.
    tests: BTreeMap<String, Acknowledged>,
}

#[derive(Debug)]
struct Acknowledged {
    sent: Value,
    key: String,
    answer: Reply,
}

/// What was under way when the service was killed.
enum UnderWay {
    Put { id: String, body: Value },
    Post { id: String, body: Value, key: String },
}

/// Writes one record after the other.
pub(crate) struct Writer {
    number: u64,
    random: Random,
    known: BTreeMap<String, Known>,
    under_way: Option<UnderWay>,
    pub(crate) acknowledged: u64,
}

/// What came of the writes that were not answered, and of those sent again.
#[derive(Debug, Default)]
pub(crate) struct Counts {
    pub(crate) under_way_kept: u64,
    pub(crate) under_way_absent: u64,
    pub(crate) replayed: u64,
}

impl Writer {
    pub(crate) fn new(number: u64, seed: u64) -> Self {
        Self { number, random: Random::new(seed), known: BTreeMap::new(), under_way: None, acknowledged: 0 }
    }

    /// Writes until there is no answer.
    pub(crate) async fn write(mut self, server: Arc<Server>, era: u64, done: Arc<AtomicU64>) -> Self {
        while self.under_way.is_none() {
            let before = self.acknowledged;
            let id = format!("K{era}-{}-{}", self.number, self.random.below(HYDRANTS_EACH));
            let known = self.known.entry(id.clone()).or_default();
            if known.record.is_none() || self.random.percent(50) {
                self.put(&server, id).await;
            } else {
                self.post(&server, id).await;
            }
            done.fetch_add(self.acknowledged - before, Ordering::Relaxed);
        }
        self
    }

    async fn put(&mut self, server: &Server, id: String) {
        let body = bodies::hydrant(self.random.next());
        let known = self.known.entry(id.clone()).or_default();
        let condition = match &known.record {
            Some(_) => ("if-match", known.tag.clone()),
            None => ("if-none-match", "*".to_owned()),
        };
        let path = format!("/v1/hydrants/{id}");
        match server.send(Method::PUT, &path, &[(condition.0, &condition.1)], Some(&body)).await {
            Ok(reply) => {
                let reply = reply.good();
                reply.header("etag").clone_into(&mut known.tag);
                known.record = Some(body);
                self.acknowledged += 1;
            }
            Err(_) => self.under_way = Some(UnderWay::Put { id, body }),
        }
    }

    async fn post(&mut self, server: &Server, id: String) {
        let number = self.random.next();
        let (body, key) = (bodies::flow_test(number), format!("kill-{number}"));
        match post(server, &id, &body, &key).await {
            Ok(answer) => {
                self.acknowledged += 1;
                let known = self.known.get_mut(&id).expect("a hydrant");
                known.keep(Acknowledged { sent: body, key, answer: answer.good() });
            }
            Err(_) => self.under_way = Some(UnderWay::Post { id, body, key }),
        }
    }

    /// Finds out what became of the request that was not answered, and takes a few answers a second time.
    pub(crate) async fn settle(&mut self, server: &Server, counts: &mut Counts) {
        match self.under_way.take().expect("each writes until it is killed") {
            UnderWay::Put { id, body } => {
                let reply = server.get(&format!("/v1/hydrants/{id}")).await;
                let known = self.known.get_mut(&id).expect("a hydrant");
                let kept = reply.status == 200 && bodies::says(&reply.json(), &body);
                if kept {
                    reply.header("etag").clone_into(&mut known.tag);
                    known.record = Some(body);
                }
                counts.add(kept);
            }
            UnderWay::Post { id, body, key } => {
                let answer = post(server, &id, &body, &key).await.expect("an answer").good();
                counts.add(answer.header("idempotency-replayed") == "true");
                let known = self.known.get_mut(&id).expect("a hydrant");
                known.keep(Acknowledged { sent: body, key, answer });
            }
        }
        let ids: Vec<_> = self.known.keys().cloned().collect();
        let id = self.random.pick(&ids).clone();
        for test in self.known[&id].tests.values().rev().take(3) {
            let again = post(server, &id, &test.sent, &test.key).await.expect("an answer");
            assert_eq!(again.header("idempotency-replayed"), "true", "{} was not known again", test.key);
            assert_eq!((again.status, &again.bytes), (test.answer.status, &test.answer.bytes), "{}", test.key);
            counts.replayed += 1;
        }
    }

    /// The hydrants that are known to be, and their tests: these, each once, and no others.
    pub(crate) async fn check(&self, server: &Server, prefix: &str) {
        for (id, known) in self.known.iter().filter(|(id, _)| id.starts_with(prefix)) {
            let reply = server.get(&format!("/v1/hydrants/{id}")).await;
            let Some(record) = &known.record else {
                assert_eq!(reply.status, 404, "{id} was never acknowledged: {}", reply.json());
                continue;
            };
            assert!(
                reply.status == 200 && bodies::says(&reply.json(), record),
                "{id} is {} not {record}",
                reply.json()
            );
            assert_eq!(reply.header("etag"), known.tag, "{id}");
            let tests = server.all(&format!("/v1/hydrants/{id}/flow-tests?limit=1000")).await;
            assert_eq!(tests.len(), known.tests.len(), "tests at {id}");
            for test in tests {
                let notes = test["notes"].as_str().expect("notes");
                let known = known.tests.get(notes).unwrap_or_else(|| panic!("{id} has a test never sent: {test}"));
                assert!(bodies::says(&test, &known.sent), "{test} is not {}", known.sent);
            }
        }
    }
}

impl Known {
    fn keep(&mut self, test: Acknowledged) {
        self.tests.insert(test.sent["notes"].as_str().expect("notes").to_owned(), test);
    }
}

impl Counts {
    const fn add(&mut self, kept: bool) {
        if kept {
            self.under_way_kept += 1;
        } else {
            self.under_way_absent += 1;
        }
    }
}

async fn post(server: &Server, id: &str, body: &Value, key: &str) -> Result<Reply, reqwest::Error> {
    let path = format!("/v1/hydrants/{id}/flow-tests");
    server.send(Method::POST, &path, &[("idempotency-key", key)], Some(body)).await
}
