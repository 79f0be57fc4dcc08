//! Draws a request, and what the model answers to it.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::asking::Asked;
use super::conditions::{FAILED, NEEDED, Said};
use super::expected::{Body, Expected, Refusal};
use super::state::{Model, Row, live, put, retire, version};
use crate::bodies;
use crate::random::Random;

pub(super) const NOT_FOUND: Refusal = (404, "not-found");
const READ_ONLY: Refusal = (409, "read-only-record");
const SHIPPED_HOSE: &str = "std-5in";
const HYDRANTS: u64 = 12;
const HOSE_TYPES: u64 = 4;
const PUMPERS: u64 = 3;

/// A request with its answer.
pub(super) struct Step {
    pub(super) request: Asked,
    pub(super) expected: Expected,
    pub(super) learning: Learning,
}

/// The key that a request came with and all that was asked, where its answer is kept.
pub(super) type Keyed = Option<(String, String)>;

/// What the model takes up from the answer.
pub(super) enum Learning {
    Nothing,
    Replayed,
    Recorded { hydrant: String, asked: Keyed },
    Voided { id: String, reason: String, asked: Keyed },
}

impl Step {
    pub(super) const fn of(request: Asked, expected: Expected) -> Self {
        Self { request, expected, learning: Learning::Nothing }
    }
}

impl Model {
    /// The next request. What it changes is changed in the model at once.
    pub(super) fn step(&mut self, random: &mut Random) -> Step {
        match random.below(100) {
            0..24 => self.put_hydrant(random),
            24..32 => self.get_hydrant(random),
            32..38 => self.delete_hydrant(random),
            38..46 => self.put_hose_type(random),
            46..50 => self.delete_hose_type(random),
            50..55 => self.put_pumper(random),
            55..58 => self.delete_pumper(random),
            58..61 => self.get_equipment(random),
            61..78 => self.record_test(random),
            78..82 => self.void_test(random),
            82..86 => self.get_test(random),
            86..92 => self.list_hydrants(random),
            _ => self.bad_body(random),
        }
    }

    fn put_hydrant(&mut self, random: &mut Random) -> Step {
        let id = hydrant_id(random);
        let body = bodies::hydrant(random.next());
        let mut record = body.clone();
        record["hydrant_id"] = json!(id);
        put_step(random, &mut self.hydrants, "/v1/hydrants", &id, &body, record, Body::Exactly)
    }

    fn get_hydrant(&self, random: &mut Random) -> Step {
        let id = hydrant_id(random);
        let request = Asked::plain("GET", format!("/v1/hydrants/{id}"));
        let Some(row) = self.hydrants.get(&id).filter(|row| row.live) else {
            return Step::of(request, Expected::refused(NOT_FOUND));
        };
        let version = Some(row.version);
        if random.percent(30) {
            // A reader's comparison is the weak one.
            let tag =
                if random.percent(50) { format!("\"{}\"", row.version) } else { format!("W/\"{}\"", row.version) };
            let expected = Expected { status: 304, version, body: Body::Empty };
            return Step::of(request.with(Some(("if-none-match", tag))), expected);
        }
        let stale = random.percent(30).then(|| ("if-none-match", format!("\"{}\"", row.version - 1)));
        Step::of(request.with(stale), Expected { status: 200, version, body: Body::Exactly(row.record.clone()) })
    }

    fn delete_hydrant(&mut self, random: &mut Random) -> Step {
        let id = hydrant_id(random);
        delete_step(random, &mut self.hydrants, "/v1/hydrants", &id, None)
    }

    fn put_hose_type(&mut self, random: &mut Random) -> Step {
        let body = hose_type(random);
        if random.percent(5) {
            let request = Asked::json("PUT", format!("/v1/hose-types/{SHIPPED_HOSE}"), &body);
            return Step::of(request.with(Some(("if-match", "*".to_owned()))), Expected::refused(READ_ONLY));
        }
        let id = format!("own-{}", random.below(HOSE_TYPES));
        let mut record = body.clone();
        record["id"] = json!(id);
        put_step(random, &mut self.hose_types, "/v1/hose-types", &id, &body, record, Body::Says)
    }

    fn delete_hose_type(&mut self, random: &mut Random) -> Step {
        let id = format!("own-{}", random.below(HOSE_TYPES));
        let carried = |row: &Row| row.live && row.record["hose"][0]["hose_type_id"] == *id;
        let in_use = self.pumpers.values().any(carried).then_some((409, "record-in-use"));
        delete_step(random, &mut self.hose_types, "/v1/hose-types", &id, in_use)
    }

    fn put_pumper(&mut self, random: &mut Random) -> Step {
        let id = format!("E-{}", random.below(PUMPERS));
        let hose =
            if random.percent(50) { SHIPPED_HOSE.to_owned() } else { format!("own-{}", random.below(HOSE_TYPES)) };
        let known = hose == SHIPPED_HOSE || live(&self.hose_types, &hose).is_some();
        let body = pumper(random, &hose);
        if !known {
            let condition = live(&self.pumpers, &id).map(|version| ("if-match", format!("\"{version}\"")));
            let request = Asked::json("PUT", format!("/v1/pumpers/{id}"), &body).with(condition);
            return Step::of(request, Expected::refused((422, "unknown-reference")));
        }
        let mut record = body.clone();
        record["id"] = json!(id);
        put_step(random, &mut self.pumpers, "/v1/pumpers", &id, &body, record, Body::Says)
    }

    fn delete_pumper(&mut self, random: &mut Random) -> Step {
        let id = format!("E-{}", random.below(PUMPERS));
        delete_step(random, &mut self.pumpers, "/v1/pumpers", &id, None)
    }

    fn get_equipment(&self, random: &mut Random) -> Step {
        let (path, rows, id) = if random.percent(50) {
            ("/v1/hose-types", &self.hose_types, format!("own-{}", random.below(HOSE_TYPES)))
        } else {
            ("/v1/pumpers", &self.pumpers, format!("E-{}", random.below(PUMPERS)))
        };
        let request = Asked::plain("GET", format!("{path}/{id}"));
        let found = rows.get(&id).filter(|row| row.live);
        let expected = found.map_or(Expected::refused(NOT_FOUND), |row| Expected {
            status: 200,
            version: Some(row.version),
            body: Body::Says(row.record.clone()),
        });
        Step::of(request, expected)
    }

    pub(super) fn list_hydrants(&self, random: &mut Random) -> Step {
        if random.percent(10) {
            return Step::of(Asked::plain("GET", "/v1/hydrants?cursor=H-1"), Expected::refused((400, "invalid-query")));
        }
        let limit = usize::try_from(1 + random.below(HYDRANTS + 2)).expect("a limit");
        let after = random.percent(50).then(|| hydrant_id(random));
        let cursor = after.as_ref().map(|id| format!("&cursor=after.{id}")).unwrap_or_default();
        let behind = |id: &String| after.as_ref().is_none_or(|after| id > after);
        let rows = self.hydrants.iter().filter(|(id, row)| row.live && behind(id));
        let records: Vec<_> = rows.map(|(_, row)| row.record.clone()).collect();
        let more = records.len() > limit;
        let page = records.into_iter().take(limit).collect();
        let request = Asked::plain("GET", format!("/v1/hydrants?limit={limit}{cursor}"));
        Step::of(request, Expected::untagged(200, Body::Page(page, more)))
    }

    /// A put that would be right but for its body.
    fn bad_body(&self, random: &mut Random) -> Step {
        let id = hydrant_id(random);
        let mut body = bodies::hydrant(random.next());
        let mut request = Asked::json("PUT", format!("/v1/hydrants/{id}"), &body);
        request = request.with(live(&self.hydrants, &id).map(|version| ("if-match", format!("\"{version}\""))));
        let refusal = match random.below(5) {
            0 => {
                request.body = Some("{\"location\":".to_owned());
                (400, "invalid-json")
            }
            1 => {
                request.headers.retain(|(name, _)| *name != "content-type");
                (415, "unsupported-media-type")
            }
            2 => {
                body["colour"] = json!("red");
                request.body = Some(body.to_string());
                (422, "invalid-body-shape")
            }
            3 => {
                body["location"]["lat"] = json!(90.5);
                request.body = Some(body.to_string());
                (422, "invalid-values")
            }
            _ => {
                request.headers.push(("if-none-match", "no tag".to_owned()));
                (400, "invalid-header")
            }
        };
        Step::of(request, Expected::refused(refusal))
    }
}

fn put_step(
    random: &mut Random,
    rows: &mut BTreeMap<String, Row>,
    path: &str,
    id: &str,
    body: &Value,
    record: Value,
    compared: fn(Value) -> Body,
) -> Step {
    let (said, header) = Said::draw(random, version(rows, id));
    let request = Asked::json("PUT", format!("{path}/{id}"), body).with(header);
    if let Err(refusal) = said.lets_put(live(rows, id)) {
        return Step::of(request, Expected::refused(refusal));
    }
    let (status, version) = put(rows, id, record.clone());
    Step::of(request, Expected { status, version: Some(version), body: compared(record) })
}

fn delete_step(
    random: &mut Random,
    rows: &mut BTreeMap<String, Row>,
    path: &str,
    id: &str,
    in_use: Option<Refusal>,
) -> Step {
    let (said, header) = Said::draw(random, version(rows, id));
    let request = Asked::plain("DELETE", format!("{path}/{id}")).with(header);
    // What is not there cannot be retired, whatever is said of it.
    let refusal = match (live(rows, id), said) {
        (None, _) => Some(NOT_FOUND),
        (Some(_), Said::Nothing) => Some(NEEDED),
        (Some(_), Said::Whatever) => in_use,
        (Some(version), Said::OneOf(tags)) if tags.contains(&version) => in_use,
        (Some(_), _) => Some(FAILED),
    };
    if let Some(refusal) = refusal {
        return Step::of(request, Expected::refused(refusal));
    }
    retire(rows, id);
    Step::of(request, Expected::untagged(204, Body::Empty))
}

pub(super) fn hydrant_id(random: &mut Random) -> String {
    format!("H-{:02}", random.below(HYDRANTS))
}

fn hose_type(random: &mut Random) -> Value {
    let coefficient = [0.0625, 0.125, 0.25, 0.5];
    json!({
        "name": format!("hose {}", random.below(1000)), "diameter_in": 5.0, "loss_coefficient": *random.pick(&coefficient),
        "max_operating_psi": 185.0, "service_test_psi": 200.0, "source": "two-gauge test"
    })
}

fn pumper(random: &mut Random, hose: &str) -> Value {
    json!({
        "name": format!("Engine {}", random.below(1000)), "rated_flow_gpm": 1500.0, "intake_floor_psi": 20.0,
        "max_discharge_psi": 185.0,
        "points": [{ "flow_gpm": 750.0, "net_psi": 250.0 }, { "flow_gpm": 1500.0, "net_psi": 150.0 }],
        "tank_gal": 750.0, "hose": [{ "hose_type_id": hose, "length_ft": 1000.0 }]
    })
}
