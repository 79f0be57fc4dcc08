//! Files come in by the same scopes as the records in them do one by one.

use longlay_tests::Service;
use longlay_tests::records::hydrant;
use reqwest::Method;

use crate::keys::{SCOPES, key, operations};

/// A sheet of each kind, and the operation that writes such a record by itself. `{n}` is told apart in each.
const SHEETS: [(&str, &str, &str); 8] = [
    ("hydrants", "put_hydrant", "hydrant_id,lon,lat,owner,potable,in_service\n{n},-30,40,public,yes,yes\n"),
    (
        "flow-tests",
        "create_flow_test",
        "hydrant_id,tested_on,static_psi,residual_psi,flow_gpm\nH-1,2026-05-14,60,40,50{n}\n",
    ),
    ("hose-types", "put_hose_type", "id,name,diameter_in,loss_coefficient,source\n{n},Own,5,0.07,own test\n"),
    ("appliances", "put_appliance", "id,name,loss_coefficient,source\n{n},Own,0.4,own test\n"),
    (
        "hydrant-valves",
        "put_hydrant_valve",
        "id,name,through_coefficient,to_pump_coefficient,from_pump_coefficient,source\n{n},Own,0.2,0.1,0.05,own test\n",
    ),
    ("pumpers", "put_pumper", "id,name,rated_flow_gpm\n{n},Engine,1500\n"),
    ("lay-profiles", "put_lay_profile", "id,name,hose_type_id,lines,carried_ft\n{n},Forward,std-5in,1,1000\n"),
    ("demand-points", "put_demand_point", "demand_point_id,lon,lat\n{n},-30,40\n"),
];

#[tokio::test]
async fn each_kind_is_brought_in_by_whoever_may_write_its_records_one_by_one_and_by_nobody_else() {
    let (service, admin) = Service::keyed().await;
    let put = service.request(Method::PUT, "/v1/hydrants/H-1").bearer_auth(&admin).json(&hydrant());
    service.send(put).await.created();
    let operations = operations(&service).await;
    let held = async |kind: &str| {
        let request = service.request(Method::GET, &format!("/v1/exports/{kind}?format=ndjson")).bearer_auth(&admin);
        service.send(request).await.text
    };
    for (n, scope) in SCOPES.iter().enumerate() {
        let (secret, _) = key(&service, &admin, &[scope]).await;
        for (kind, one_by_one, sheet) in SHEETS {
            let path = format!("/v1/imports/{kind}");
            let bulk = operations.iter().find(|one| one.path == path).unwrap();
            let single = operations.iter().find(|one| one.id == one_by_one).unwrap();
            assert_eq!(bulk.scopes, single.scopes, "{kind}");
            let request = service.request(Method::POST, &path).bearer_auth(&secret).header("content-type", "text/csv");
            let before = held(kind).await;
            let answer = service.send(request.body(sheet.replace("{n}", &n.to_string()))).await;
            let opens = *scope == "admin" || (*scope == "field:write" && ["hydrants", "flow-tests"].contains(&kind));
            if opens {
                assert_eq!(answer.ok()["created"], 1, "{scope} {kind}");
            } else {
                answer.problem(403, "scope-missing");
                assert_eq!(held(kind).await, before, "{scope} {kind}");
            }
        }
    }
}

#[tokio::test]
async fn a_kind_written_in_another_way_opens_no_other_door() {
    let (service, admin) = Service::keyed().await;
    let (field, _) = key(&service, &admin, &["field:write"]).await;
    let post = |path: &str, secret: &str| {
        let request = service.request(Method::POST, path).bearer_auth(secret).header("content-type", "text/csv");
        service.send(request.body(SHEETS[2].2.replace("{n}", "own")))
    };
    for path in ["/v1/imports/hose%2Dtypes", "/v1/imports/%68ydrants", "/v1/imports/hydrants%2F..%2Fhose-types"] {
        post(path, &field).await.problem(403, "scope-missing");
    }
    post("/v1/imports/%68ydrants", &admin).await.problem(404, "not-found");
}
