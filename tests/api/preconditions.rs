use longlay_tests::records::{appliance, hose_type, hydrant, hydrant_valve, lay_profile, pumper, with};
use longlay_tests::{Answer, Service};
use serde_json::{Value, json};

const HYDRANT: &str = "/v1/hydrants/H-1";

fn described(text: &str) -> Value {
    with(hydrant(), &json!({ "description": text }))
}

async fn if_match(service: &Service, tag: &str, body: &Value) -> Answer {
    service.put_with(HYDRANT, body, &[("if-match", tag)]).await
}

#[tokio::test]
async fn the_second_of_two_who_read_one_version_changes_nothing() {
    let service = Service::start().await;
    service.given(HYDRANT, &hydrant()).await;
    let (one, two) = (service.get(HYDRANT).await, service.get(HYDRANT).await);
    assert_eq!((one.header("etag"), two.header("etag")), ("\"1\"", "\"1\""));
    let first = if_match(&service, one.header("etag"), &described("first")).await;
    assert_eq!(first.ok()["description"], "first");
    assert_eq!(first.header("etag"), "\"2\"");
    let second = if_match(&service, two.header("etag"), &described("second")).await;
    let problem = second.problem(412, "precondition-failed");
    assert!(problem.detail().contains("version 2"), "{}", problem.detail());
    let stands = service.get(HYDRANT).await;
    assert_eq!((stands.ok()["description"].as_str(), stands.header("etag")), (Some("first"), "\"2\""));
}

#[tokio::test]
async fn of_twenty_who_write_over_one_version_one_wins() {
    let service = std::sync::Arc::new(Service::start().await);
    service.given(HYDRANT, &hydrant()).await;
    for version in 1..=5_u64 {
        let writers = (0..20).map(|writer| {
            let service = std::sync::Arc::clone(&service);
            tokio::spawn(async move {
                let body = described(&format!("{version} by {writer}"));
                (if_match(&service, &format!("\"{version}\""), &body).await, body)
            })
        });
        let mut won = Vec::new();
        for writer in writers.collect::<Vec<_>>() {
            let (answer, body) = writer.await.unwrap();
            if answer.status == 200 {
                assert_eq!(answer.header("etag"), format!("\"{}\"", version + 1));
                won.push(body);
            } else {
                answer.problem(412, "precondition-failed");
            }
        }
        assert_eq!(won.len(), 1, "at version {version}");
        assert_eq!(service.get(HYDRANT).await.ok()["description"], won[0]["description"]);
    }
}

#[tokio::test]
async fn nothing_is_overwritten_or_retired_unseen() {
    let service = Service::start().await;
    assert_eq!(service.put_with(HYDRANT, &hydrant(), &[]).await.created()["hydrant_id"], "H-1");
    let unsaid = service.put_with(HYDRANT, &described("other"), &[]).await;
    let unsaid = unsaid.problem(428, "precondition-required");
    assert!(unsaid.detail().contains("If-Match"), "{}", unsaid.detail());
    service.delete_with(HYDRANT, &[]).await.problem(428, "precondition-required");
    assert_eq!(service.get(HYDRANT).await.ok()["description"], hydrant()["description"]);
    service.delete_with(HYDRANT, &[("if-match", "\"2\"")]).await.problem(412, "precondition-failed");
    service.delete_with(HYDRANT, &[("if-match", "\"1\"")]).await.no_content();
    service.delete_with(HYDRANT, &[]).await.problem(404, "not-found");
}

#[tokio::test]
async fn a_star_is_said_of_whatever_there_is() {
    let service = Service::start().await;
    let (overwrite, make) = ([("if-match", "*")], [("if-none-match", "*")]);
    service.put_with(HYDRANT, &hydrant(), &overwrite).await.problem(412, "precondition-failed");
    service.put_with(HYDRANT, &hydrant(), &make).await.created();
    service.put_with(HYDRANT, &described("made again"), &make).await.problem(412, "precondition-failed");
    assert_eq!(service.put_with(HYDRANT, &described("over"), &overwrite).await.ok()["description"], "over");
    service.delete_with(HYDRANT, &overwrite).await.no_content();
}

#[tokio::test]
async fn no_version_is_met_twice() {
    let service = Service::start().await;
    service.given(HYDRANT, &hydrant()).await;
    service.delete(HYDRANT).await.no_content();
    if_match(&service, "\"2\"", &hydrant()).await.problem(412, "precondition-failed");
    let back = service.put_with(HYDRANT, &hydrant(), &[]).await;
    back.created();
    assert_eq!(back.header("etag"), "\"3\"");
    if_match(&service, "\"1\"", &hydrant()).await.problem(412, "precondition-failed");
}

#[tokio::test]
async fn tags_are_read_as_rfc_9110_writes_them() {
    let service = Service::start().await;
    service.given(HYDRANT, &hydrant()).await;
    for stale in ["W/\"1\"", "\"one\"", "\"01\"", "\"7\", \"8\""] {
        if_match(&service, stale, &hydrant()).await.problem(412, "precondition-failed");
    }
    assert_eq!(if_match(&service, "\"7\", \"1\"", &hydrant()).await.status, 200);
    for wrong in ["1", "\"1", "\"1\" \"2\"", "*, \"1\"", ","] {
        if_match(&service, wrong, &hydrant()).await.problem(400, "invalid-header");
    }
    for both in [[("if-match", "*"), ("if-none-match", "*")], [("if-none-match", "\"1\""), ("accept", "*/*")]] {
        service.put_with(HYDRANT, &hydrant(), &both).await.problem(400, "invalid-header");
    }
}

#[tokio::test]
async fn what_a_reader_has_already_is_not_sent_again() {
    let service = Service::start().await;
    for (path, body) in [(HYDRANT, hydrant()), ("/v1/lay-profiles/l-1", lay_profile())] {
        service.given(path, &body).await;
        for known in ["\"1\"", "W/\"1\"", "\"9\", \"1\"", "*"] {
            let answer = service.get_with(path, &[("if-none-match", known)]).await;
            assert_eq!(
                (answer.status, answer.text.as_str(), answer.header("etag")),
                (304, "", "\"1\""),
                "{path} {known}"
            );
        }
        service.put(path, &body).await.ok();
        let answer = service.get_with(path, &[("if-none-match", "\"1\"")]).await;
        assert_eq!(answer.header("etag"), "\"2\"");
        answer.ok();
        service.get_with(path, &[("if-none-match", "1")]).await.problem(400, "invalid-header");
    }
    // A figure in use changes with the tests of it, while the row stays as it is.
    service.given("/v1/hose-types/own", &hose_type()).await;
    service.get_with("/v1/hose-types/own", &[("if-none-match", "\"1\"")]).await.ok();
}

#[tokio::test]
async fn what_was_read_can_be_put_back_as_it_is() {
    let service = Service::start().await;
    for (path, body) in [
        (HYDRANT, hydrant()),
        ("/v1/hose-types/own", hose_type()),
        ("/v1/appliances/own", appliance()),
        ("/v1/hydrant-valves/own", hydrant_valve()),
        ("/v1/pumpers/own", pumper()),
        ("/v1/lay-profiles/own", lay_profile()),
    ] {
        service.given(path, &body).await;
        let read = service.get(path).await;
        let tag = read.header("etag").to_owned();
        service.put_with(path, &read.ok(), &[("if-match", &tag)]).await.ok();
        let again = service.get(path).await;
        assert_eq!((again.ok(), again.header("etag")), (read.ok(), "\"2\""), "{path}");
    }
}

#[tokio::test]
async fn a_body_says_no_other_id_than_the_path_and_no_other_origin() {
    let service = Service::start().await;
    let other = with(hydrant(), &json!({ "hydrant_id": "H-2" }));
    let problem = service.put(HYDRANT, &other).await.problem(422, "invalid-values");
    assert_eq!(problem.faults(), ["/hydrant_id not_the_path_s"]);
    for (path, body) in [("/v1/pumpers/own", pumper()), ("/v1/lay-profiles/own", lay_profile())] {
        let problem = service.put(path, &with(body, &json!({ "id": "other" }))).await.problem(422, "invalid-values");
        assert_eq!(problem.faults(), ["/id not_the_path_s"], "{path}");
    }
    for (path, body) in [
        ("/v1/hose-types/own", hose_type()),
        ("/v1/appliances/own", appliance()),
        ("/v1/hydrant-valves/own", hydrant_valve()),
    ] {
        let claimed = with(body, &json!({ "id": "other", "origin": "library" }));
        let problem = service.put(path, &claimed).await.problem(422, "invalid-values");
        assert_eq!(problem.faults(), ["/id not_the_path_s", "/origin not_library"], "{path}");
    }
    assert_eq!(service.get(HYDRANT).await.status, 404);
}

#[tokio::test]
async fn a_shipped_row_is_read_only_whatever_is_said() {
    let service = Service::start().await;
    for headers in [vec![], vec![("if-match", "*")], vec![("if-match", "\"1\"")], vec![("if-none-match", "*")]] {
        let answer = service.put_with("/v1/hose-types/std-5in", &hose_type(), &headers).await;
        answer.problem(409, "read-only-record");
        service.delete_with("/v1/hose-types/std-5in", &headers).await;
    }
    assert_eq!(service.get("/v1/hose-types/std-5in").await.header("etag"), "\"1\"");
}
