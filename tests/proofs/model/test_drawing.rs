//! Draws what is asked of flow tests: recorded once, voided once, and sent again under the same key.

use serde_json::{Value, json};

use super::NOW;
use super::asking::Asked;
use super::drawing::{Keyed, Learning, NOT_FOUND, Step, hydrant_id};
use super::expected::{Body, Expected};
use super::state::{Kept, Model, live};
use crate::bodies;
use crate::random::Random;

/// Tests of one hydrant; more would only make looking at them slow.
const MOST_TESTS: usize = 40;

impl Model {
    pub(super) fn record_test(&self, random: &mut Random) -> Step {
        let hydrant = hydrant_id(random);
        let body = bodies::flow_test(random.below(1000));
        let request = Asked::json("POST", format!("/v1/hydrants/{hydrant}/flow-tests"), &body);
        let (request, asked) = match self.keyed(random, request) {
            Ok(keyed) => keyed,
            Err(step) => return *step,
        };
        if live(&self.hydrants, &hydrant).is_none() {
            return Step::of(request, Expected::refused(NOT_FOUND));
        }
        if self.tests_at(&hydrant).len() >= MOST_TESTS {
            return self.list_hydrants(random);
        }
        let expected = Expected::untagged(201, Body::Says(body));
        Step { request, expected, learning: Learning::Recorded { hydrant, asked } }
    }

    pub(super) fn void_test(&self, random: &mut Random) -> Step {
        if self.tests.is_empty() {
            return self.list_hydrants(random);
        }
        let test = random.pick(&self.tests);
        let reason = format!("slip {}", random.below(100));
        let path = format!("/v1/hydrants/{}/flow-tests/{}/void", test.hydrant, test.id);
        let (request, asked) = match self.keyed(random, Asked::json("POST", path, &json!({ "reason": reason }))) {
            Ok(keyed) => keyed,
            Err(step) => return *step,
        };
        if test.record.get("voided").is_some() {
            return Step::of(request, Expected::refused((409, "already-voided")));
        }
        let mut record = test.record.clone();
        record["voided"] = json!({ "reason": reason, "at": NOW });
        let expected = Expected::untagged(200, Body::Exactly(record));
        Step { request, expected, learning: Learning::Voided { id: test.id.clone(), reason, asked } }
    }

    /// The request with a key or without; the whole step where the key was used before.
    fn keyed(&self, random: &mut Random, request: Asked) -> Result<(Asked, Keyed), Box<Step>> {
        if random.percent(40) {
            return Ok((request, None));
        }
        if !self.answers.is_empty() && random.percent(40) {
            let keys: Vec<_> = self.answers.keys().collect();
            let key = (*random.pick(&keys)).clone();
            return Err(Box::new(self.again(random, request, key)));
        }
        let key = format!("key-{}", random.next());
        let asked = (key.clone(), text(&request));
        Ok((request.with(Some(("idempotency-key", key))), Some(asked)))
    }

    /// A key used before: with the same request, or with this other one.
    fn again(&self, random: &mut Random, other: Asked, key: String) -> Step {
        let Kept { request, status, bytes } = &self.answers[&key];
        let header = Some(("idempotency-key", key));
        if random.percent(30) && text(&other) != *request {
            return Step::of(other.with(header), Expected::refused((422, "idempotency-key-reused")));
        }
        let (path, body) = request.split_once('\n').expect("a path and a body");
        let body: Value = serde_json::from_str(body).expect("a body");
        let expected = Expected::untagged(*status, Body::Again(bytes.clone()));
        Step { request: Asked::json("POST", path, &body).with(header), expected, learning: Learning::Replayed }
    }

    pub(super) fn get_test(&self, random: &mut Random) -> Step {
        let hydrant = hydrant_id(random);
        let own: Vec<_> = self.tests.iter().filter(|test| test.hydrant == hydrant).collect();
        if own.is_empty() {
            let path = format!("/v1/hydrants/{hydrant}/flow-tests/00000000-0000-7000-8000-000000000000");
            return Step::of(Asked::plain("GET", path), Expected::refused(NOT_FOUND));
        }
        let test = random.pick(&own);
        let request = Asked::plain("GET", format!("/v1/hydrants/{hydrant}/flow-tests/{}", test.id));
        Step::of(request, Expected::untagged(200, Body::Exactly(test.record.clone())))
    }
}

/// All of a request that makes it the same when it is sent again.
fn text(request: &Asked) -> String {
    format!("{}\n{}", request.path, request.body.as_deref().unwrap_or_default())
}
