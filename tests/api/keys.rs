use std::collections::BTreeSet;

use longlay_tests::Service;
use longlay_tests::records::hydrant;
use reqwest::{Method, RequestBuilder};
use serde_json::{Value, json};

pub(crate) const SCOPES: [&str; 7] =
    ["records:read", "lay:calculate", "dispatch:read", "gis:read", "gis:export", "field:write", "admin"];
const NO_KEY_HAS_IT: &str = "00000000-0000-7000-8000-000000000000";

/// An operation of the served description.
pub(crate) struct Operation {
    pub(crate) id: String,
    method: Method,
    /// With ids filled in that name nothing.
    pub(crate) path: String,
    /// Whether it asks for a key at all.
    public: bool,
    /// The scopes of which one is enough; none where any key will do.
    pub(crate) scopes: Option<BTreeSet<String>>,
}

impl Operation {
    fn to_whoever_has(&self, scope: &str) -> bool {
        self.scopes.as_ref().is_none_or(|scopes| scopes.contains(scope))
    }
}

fn filled(path: &str) -> String {
    let uuids = ["key_id", "flow_test_id", "equipment_test_id", "drill_id", "coverage_run_id"];
    let step = |step: &str| match step.trim_matches(['{', '}']) {
        name if name == step => step.to_owned(),
        name if uuids.contains(&name) => NO_KEY_HAS_IT.to_owned(),
        _ => "none".to_owned(),
    };
    path.split('/').map(step).collect::<Vec<_>>().join("/")
}

/// A path for each kind that stands in it.
fn paths(path: &str, operation: &Value, document: &Value) -> Vec<String> {
    let kind = operation["parameters"].as_array().into_iter().flatten().find(|one| one["name"] == "kind");
    let Some(kind) = kind else { return vec![filled(path)] };
    let schema = kind["schema"]["$ref"].as_str().unwrap().strip_prefix('#').unwrap();
    let kinds = document.pointer(schema).unwrap()["enum"].as_array().unwrap();
    kinds.iter().map(|kind| filled(&path.replace("{kind}", kind.as_str().unwrap()))).collect()
}

/// Each of them, once for every kind that stands in its path.
pub(crate) async fn operations(service: &Service) -> Vec<Operation> {
    let document = service.get("/openapi.json").await.ok();
    let mut operations = Vec::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let scopes = operation["x-any-scope-of"].as_array();
            for path in paths(path, operation, &document) {
                operations.push(Operation {
                    id: operation["operationId"].as_str().unwrap().to_owned(),
                    method: Method::from_bytes(method.to_uppercase().as_bytes()).unwrap(),
                    path,
                    public: operation["security"] == json!([]),
                    scopes: scopes.map(|scopes| scopes.iter().map(|one| one.as_str().unwrap().to_owned()).collect()),
                });
            }
        }
    }
    assert!(operations.len() >= 60, "{}", operations.len());
    operations
}

/// A key with these scopes, as its secret and its id.
pub(crate) async fn key(service: &Service, admin: &str, scopes: &[&str]) -> (String, String) {
    let body = json!({ "name": format!("key of {scopes:?}"), "scopes": scopes });
    let made = service.send(service.request(Method::POST, "/v1/keys").bearer_auth(admin).json(&body)).await.created();
    (made["key"].as_str().unwrap().to_owned(), made["id"].as_str().unwrap().to_owned())
}

async fn status(service: &Service, request: RequestBuilder) -> u16 {
    service.send(request).await.status
}

#[tokio::test]
async fn every_scope_opens_what_the_description_says_and_nothing_else() {
    let (service, admin) = Service::keyed().await;
    for scope in SCOPES {
        let (secret, _) = key(&service, &admin, &[scope]).await;
        for operation in operations(&service).await {
            let request = service.request(operation.method.clone(), &operation.path).bearer_auth(&secret);
            let answer = service.send(request).await;
            if operation.public || operation.to_whoever_has(scope) {
                assert!(![401, 403].contains(&answer.status), "{scope} {}: {}", operation.id, answer.text);
            } else {
                let problem = answer.problem(403, "scope-missing");
                let needed = operation.scopes.unwrap();
                assert!(needed.iter().all(|scope| problem.detail().contains(scope)), "{}", problem.detail());
            }
        }
    }
}

#[tokio::test]
async fn without_a_key_only_what_is_public_opens_and_nothing_else_is_told() {
    let (service, _) = Service::keyed().await;
    for operation in operations(&service).await {
        let request = service.request(operation.method.clone(), &format!("{}?hydrent=1", operation.path));
        let answer = service.send(request.header("content-type", "application/json").body("{")).await;
        if operation.public {
            answer.problem(400, "invalid-query");
        } else {
            answer.problem(401, "key-required");
            let challenges: Vec<_> = answer.headers.get_all("www-authenticate").iter().collect();
            assert_eq!(challenges, [r#"Bearer realm="longlay""#, r#"Basic realm="longlay", charset="UTF-8""#]);
        }
    }
}

#[tokio::test]
async fn what_is_public_is_health_problem_types_and_the_description() {
    let (service, _) = Service::keyed().await;
    let public: BTreeSet<_> =
        operations(&service).await.into_iter().filter(|one| one.public).map(|one| one.id).collect();
    let expected = ["get_liveness", "get_readiness", "get_problem_type", "list_problem_types"];
    assert_eq!(public, expected.map(str::to_owned).into());
    // The client goes where it is led to, from the root to the page.
    for path in ["/openapi.json", "/docs/", "/"] {
        assert_eq!(service.get(path).await.status, 200, "{path}");
    }
}

#[tokio::test]
async fn equipment_is_written_and_anything_is_retired_by_an_admin_alone() {
    let (service, _) = Service::keyed().await;
    for operation in operations(&service).await {
        let equipment = operation.method == Method::PUT && operation.id != "put_hydrant";
        if equipment || operation.method == Method::DELETE || operation.path.starts_with("/v1/keys") {
            assert_eq!(operation.scopes, Some(["admin".to_owned()].into()), "{}", operation.id);
        }
    }
}

#[tokio::test]
async fn each_caller_may_do_its_own_work() {
    let (service, _) = Service::keyed().await;
    let operations = operations(&service).await;
    let may = |scope: &str, id: &str| operations.iter().find(|one| one.id == id).unwrap().to_whoever_has(scope);
    for id in
        ["put_hydrant", "create_flow_test", "void_flow_test", "create_drill", "void_drill", "create_equipment_test"]
    {
        assert!(may("field:write", id), "{id}");
        for reader in ["records:read", "lay:calculate", "dispatch:read", "gis:read", "gis:export"] {
            assert!(!may(reader, id), "{reader} {id}");
        }
    }
    for (scope, id) in [
        ("records:read", "list_hydrants"),
        ("records:read", "list_capabilities"),
        ("lay:calculate", "create_lay_calculation"),
        ("lay:calculate", "get_deliverable_flow"),
        ("dispatch:read", "get_deliverable_flow"),
        ("gis:read", "list_hydrants"),
        ("gis:read", "list_capabilities"),
    ] {
        assert!(may(scope, id), "{scope} {id}");
    }
    assert!(!may("dispatch:read", "create_lay_calculation") && !may("gis:read", "list_drills"));
}

#[tokio::test]
async fn a_key_is_taken_in_three_places_and_as_head_too() {
    let (service, admin) = Service::keyed().await;
    let get = || service.request(Method::GET, "/v1/hydrants");
    for request in [
        get().bearer_auth(&admin),
        get().header("x-api-key", &admin),
        get().basic_auth("anyone", Some(&admin)),
        get().basic_auth("", Some(&admin)),
        service.request(Method::HEAD, "/v1/hydrants").bearer_auth(&admin),
    ] {
        assert_eq!(status(&service, request).await, 200);
    }
    for request in [
        get(),
        get().bearer_auth("longlay_"),
        get().bearer_auth(admin.to_uppercase()),
        get().header("x-api-key", "").bearer_auth(&admin),
        get().basic_auth(&admin, Some("")),
        get().header("cookie", format!("key={admin}")),
        service.request(Method::HEAD, "/v1/hydrants"),
    ] {
        assert_eq!(status(&service, request).await, 401);
    }
}

#[tokio::test]
async fn a_key_in_the_address_is_refused() {
    let (service, admin) = Service::keyed().await;
    for name in ["key", "api_key", "access_token"] {
        let path = format!("/v1/hydrants?{name}={admin}");
        let answer = service.send(service.request(Method::GET, &path).bearer_auth(&admin)).await;
        assert_eq!(answer.problem(400, "invalid-query").faults(), [format!("{name} unknown_parameter")]);
        assert!(!answer.text.contains(&admin), "{}", answer.text);
        service.get(&path).await.problem(401, "key-required");
    }
}

#[tokio::test]
async fn a_revoked_key_opens_nothing_and_is_still_listed() {
    let (service, admin) = Service::keyed().await;
    let (secret, id) = key(&service, &admin, &["records:read"]).await;
    let get = || service.request(Method::GET, "/v1/hydrants").bearer_auth(&secret);
    assert_eq!(status(&service, get()).await, 200);
    for _ in 0..2 {
        let revoke = service.request(Method::DELETE, &format!("/v1/keys/{id}")).bearer_auth(&admin);
        service.send(revoke).await.no_content();
    }
    service.send(get()).await.problem(401, "key-required");
    let list = service.send(service.request(Method::GET, "/v1/keys").bearer_auth(&admin)).await.ok();
    let revoked: Vec<_> = list["items"].as_array().unwrap().iter().map(|key| key["revoked_at"].is_string()).collect();
    assert_eq!(revoked, [false, true]);
}

#[tokio::test]
async fn the_last_admin_key_cannot_be_revoked() {
    let (service, admin) = Service::keyed().await;
    let list = service.send(service.request(Method::GET, "/v1/keys").bearer_auth(&admin)).await.ok();
    let first = list["items"][0]["id"].as_str().unwrap();
    let revoke = |id: &str, by: &str| service.request(Method::DELETE, &format!("/v1/keys/{id}")).bearer_auth(by);
    key(&service, &admin, &["field:write"]).await;
    service.send(revoke(first, &admin)).await.problem(409, "last-admin-key");
    let (other, other_id) = key(&service, &admin, &["admin"]).await;
    service.send(revoke(first, &admin)).await.no_content();
    assert_eq!(status(&service, revoke(first, &admin)).await, 401);
    service.send(revoke(&other_id, &other)).await.problem(409, "last-admin-key");
}

#[tokio::test]
async fn a_secret_is_told_once_and_kept_by_nobody_on_the_way() {
    let (service, admin) = Service::keyed().await;
    let body = json!({ "name": "Map", "scopes": ["gis:read", "gis:read"] });
    let answer = service.send(service.request(Method::POST, "/v1/keys").bearer_auth(&admin).json(&body)).await;
    let made = answer.created();
    assert_eq!(answer.header("cache-control"), "no-store");
    assert_eq!(made["scopes"], json!(["gis:read"]));
    let path = answer.header("location").strip_prefix(&service.url).unwrap().to_owned();
    let record = service.send(service.request(Method::GET, &path).bearer_auth(&admin)).await.ok();
    let expected = json!({ "id": made["id"], "name": "Map", "scopes": ["gis:read"], "created_at": made["created_at"] });
    assert_eq!(record, expected);
}

#[tokio::test]
async fn a_key_without_a_sound_name_and_a_scope_is_not_made() {
    let (service, admin) = Service::keyed().await;
    let post = |body: Value| service.request(Method::POST, "/v1/keys").bearer_auth(&admin).json(&body);
    for (body, fault) in [
        (json!({ "name": " ", "scopes": ["admin"] }), "/name out_of_bounds"),
        (json!({ "name": "x".repeat(65), "scopes": ["admin"] }), "/name out_of_bounds"),
        (json!({ "name": "a\nb", "scopes": ["admin"] }), "/name control_character"),
        (json!({ "name": "a", "scopes": [] }), "/scopes out_of_bounds"),
    ] {
        assert_eq!(service.send(post(body)).await.problem(422, "invalid-values").faults(), [fault]);
    }
    let unknown = json!({ "name": "a", "scopes": ["everything"] });
    let problem = service.send(post(unknown)).await.problem(422, "invalid-body-shape");
    assert_eq!(problem.faults(), ["/scopes/0 invalid_shape"]);
    let list = service.send(service.request(Method::GET, "/v1/keys").bearer_auth(&admin)).await.ok();
    assert_eq!(list["items"].as_array().unwrap().len(), 1);
}

#[tokio::test]
async fn a_key_that_there_is_not_is_not_found() {
    let (service, admin) = Service::keyed().await;
    for method in [Method::GET, Method::DELETE] {
        let request = service.request(method, &format!("/v1/keys/{NO_KEY_HAS_IT}")).bearer_auth(&admin);
        service.send(request).await.problem(404, "not-found");
    }
}

/// What the audit says, as `author action kind`.
async fn noted(service: &Service) -> Vec<String> {
    let entries = service.store.audit(0, 100).await.unwrap();
    entries.into_iter().map(|entry| format!("{} {} {}", entry.author.name, entry.action, entry.kind)).collect()
}

#[tokio::test]
async fn what_a_key_does_is_put_down_to_it() {
    let (service, admin) = Service::keyed().await;
    let (field, field_id) = key(&service, &admin, &["field:write"]).await;
    let put = service.request(Method::PUT, "/v1/hydrants/H-1").bearer_auth(&field).json(&hydrant());
    service.send(put).await.created();
    let revoke = service.request(Method::DELETE, &format!("/v1/keys/{field_id}")).bearer_auth(&admin);
    service.send(revoke).await.no_content();
    let expected = [
        "command line create key",
        "admin of the test create key",
        r#"key of ["field:write"] create hydrant"#,
        "admin of the test revoke key",
    ];
    assert_eq!(noted(&service).await, expected);
    let entries = service.store.audit(0, 100).await.unwrap();
    assert_eq!(entries[2].author.key_id.map(|id| id.to_string()), Some(field_id));
    assert!(entries[3].request_id.is_some());
}

#[tokio::test]
async fn keys_revoked_at_once_open_nothing_afterwards() {
    let (service, admin) = Service::keyed().await;
    let mut made = Vec::new();
    for _ in 0..20 {
        made.push(key(&service, &admin, &["records:read"]).await);
    }
    let revoke = |id: &str| service.request(Method::DELETE, &format!("/v1/keys/{id}")).bearer_auth(&admin).send();
    let sent: Vec<_> = made.iter().map(|(_, id)| tokio::spawn(revoke(id))).collect();
    for one in sent {
        assert_eq!(one.await.unwrap().unwrap().status().as_u16(), 204);
    }
    for (secret, _) in &made {
        let get = service.request(Method::GET, "/v1/hydrants").bearer_auth(secret);
        assert_eq!(status(&service, get).await, 401);
    }
}

#[tokio::test]
async fn a_service_without_keys_lets_everyone_in() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    let stranger = service.request(Method::GET, "/v1/hydrants/H-1").bearer_auth("anything");
    assert_eq!(status(&service, stranger).await, 200);
}
