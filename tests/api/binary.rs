//! The binary, started as its users start it.
#![expect(clippy::unwrap_used, clippy::panic, reason = "helpers of tests fail as tests do")]

mod binary_coverage;
mod binary_exchange;
mod binary_keys;
mod binary_tls;

use std::path::Path;
use std::process::{Output, Stdio};
use std::time::Duration;

use tokio::io::{AsyncBufReadExt, AsyncReadExt, BufReader};
use tokio::net::TcpListener;
use tokio::process::{Child, Command};
use tokio::time::{Instant, timeout};

use binary_keys::{Serving, keys};

fn longlay(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_longlay"));
    command.args(arguments).env_remove("RUST_LOG").stdout(Stdio::piped()).stderr(Stdio::piped()).kill_on_drop(true);
    command
}

/// Runs it to its end, which must come soon.
async fn run(arguments: &[&str]) -> Output {
    timeout(Duration::from_secs(20), longlay(arguments).output()).await.unwrap().unwrap()
}

/// A start that must fail with this code and one line that says this.
async fn refused(arguments: &[&str], code: i32, says: &str) {
    let output = run(arguments).await;
    let stderr = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(code), "{stderr}");
    let said: Vec<_> = stderr.lines().filter(|line| line.starts_with("longlay: ")).collect();
    assert!(said.len() == 1 && said[0].contains(says), "{stderr}");
}

fn database(folder: &tempfile::TempDir) -> String {
    folder.path().join("town.db").to_str().unwrap().to_owned()
}

/// A demo on a free port, once it says where it is, with all it said.
async fn demo() -> (Child, String, String) {
    let mut child = longlay(&["demo", "--listen", "127.0.0.1:0"]).spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut said = String::new();
    while !said.contains("Ctrl-C") {
        let line = timeout(Duration::from_secs(30), lines.next_line()).await.unwrap().unwrap();
        said.push_str(&line.unwrap_or_else(|| panic!("the demo ended: {said}")));
        said.push('\n');
    }
    let url = said.split_whitespace().find(|word| word.starts_with("http://127.0.0.1:")).unwrap().to_owned();
    (child, url, said)
}

async fn terminate(child: &Child) {
    let id = child.id().unwrap().to_string();
    assert!(Command::new("kill").args(["-TERM", &id]).status().await.unwrap().success());
}

#[tokio::test]
async fn the_demo_town_is_served_whole() {
    let (_child, url, _) = demo().await;
    let mut hydrants = 0;
    let mut next = Some(format!("{url}/v1/hydrants?limit=50"));
    while let Some(page) = next {
        let page: serde_json::Value = reqwest::get(page).await.unwrap().json().await.unwrap();
        hydrants += page["items"].as_array().unwrap().len();
        next = page["next"].as_str().map(str::to_owned);
    }
    let file = include_str!("../../crates/service/data/demo-town/hydrants.json");
    let expected: Vec<serde_json::Value> = serde_json::from_str(file).unwrap();
    assert_eq!(hydrants, expected.len());
}

#[tokio::test]
async fn the_request_that_the_demo_prints_gives_the_answer_that_it_prints() {
    let (_child, _, said) = demo().await;
    let request = said.split('\'').find(|piece| piece.contains("/deliverable-flow?")).unwrap();
    let answer: serde_json::Value = reqwest::get(request).await.unwrap().json().await.unwrap();
    for figure in [&answer["unboosted"], &answer["boosted"]] {
        assert!(said.contains(&format!("plan on {} gpm", figure["planning_flow_gpm"].as_f64().unwrap())), "{said}");
    }
    assert!(said.contains(answer["diagnosis"]["message"].as_str().unwrap()), "{said}");
}

#[tokio::test]
async fn the_readme_shows_what_the_demo_prints() {
    let (_child, _, said) = demo().await;
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let readme = include_str!("../../README.md");
    let shown = readme.split("```text\n").nth(1).and_then(|text| text.split("```").next()).unwrap();
    assert!(words(&said).contains(&words(shown)), "{said}");
    let caution = "A planning answer. Gauges at the pump govern; local procedures decide.";
    assert!(words(shown).ends_with(caution), "{shown}");
}

#[tokio::test]
async fn a_voided_test_of_the_demo_town_has_its_reason() {
    let (_child, url, _) = demo().await;
    let tests: serde_json::Value =
        reqwest::get(format!("{url}/v1/hydrants/H-449/flow-tests")).await.unwrap().json().await.unwrap();
    assert!(tests["items"][0]["voided"]["reason"].is_string(), "{tests}");
}

#[tokio::test]
async fn sigterm_ends_it_well_and_soon() {
    let (mut child, url, _) = demo().await;
    assert!(reqwest::get(format!("{url}/health/ready")).await.unwrap().status().is_success());
    let told = Instant::now();
    terminate(&child).await;
    let status = timeout(Duration::from_secs(15), child.wait()).await.unwrap().unwrap();
    assert!(status.success() && told.elapsed() < Duration::from_secs(5), "{status} after {:?}", told.elapsed());
}

#[tokio::test]
async fn a_request_that_never_ends_does_not_keep_it_from_stopping() {
    let (mut child, url, _) = demo().await;
    let address = url.strip_prefix("http://").unwrap();
    let mut stuck = tokio::net::TcpStream::connect(address).await.unwrap();
    let head = format!(
        "PUT /v1/hydrants/H-1 HTTP/1.1\r\nhost: {address}\r\ncontent-type: application/json\r\ncontent-length: 100\r\n\r\n{{"
    );
    tokio::io::AsyncWriteExt::write_all(&mut stuck, head.as_bytes()).await.unwrap();
    tokio::time::sleep(Duration::from_millis(200)).await;
    terminate(&child).await;
    let status = timeout(Duration::from_secs(15), child.wait()).await.unwrap().unwrap();
    assert!(status.success(), "{status}");
    let mut rest = Vec::new();
    let _ = stuck.read_to_end(&mut rest).await;
}

#[tokio::test]
async fn what_was_recorded_is_there_after_a_restart() {
    let folder = tempfile::tempdir().unwrap();
    let database = database(&folder);
    let key = keys("create", &database, &["--name", "a", "--scopes", "admin"]).await;
    let body = serde_json::json!({
        "location": { "lon": 1.0, "lat": 2.0 }, "outlets": [], "owner": "public", "potable": true, "in_service": true
    });
    for restarted in [false, true] {
        let serving = Serving::start(&database, &[]).await;
        let url = format!("http://{}/v1/hydrants/H-1", serving.address);
        let client = reqwest::Client::new();
        let answer = client.get(&url).bearer_auth(key.trim_end()).send().await.unwrap();
        assert_eq!(answer.status().as_u16(), if restarted { 200 } else { 404 });
        if !restarted {
            let put = client.put(&url).bearer_auth(key.trim_end()).json(&body);
            put.send().await.unwrap().error_for_status().unwrap();
        }
        serving.stop().await;
    }
}

#[tokio::test]
async fn a_busy_port_is_told_in_one_line() {
    let busy = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = busy.local_addr().unwrap().to_string();
    refused(&["demo", "--listen", &address], 3, &address).await;
}

#[tokio::test]
async fn a_folder_that_is_not_there_is_told_in_one_line() {
    let folder = tempfile::tempdir().unwrap();
    let database = folder.path().join("no-folder").join("town.db");
    refused(&["serve", "--database", database.to_str().unwrap(), "--listen", "127.0.0.1:0"], 4, "no-folder").await;
}

#[tokio::test]
async fn a_file_that_is_no_database_is_left_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let text = "hydrant list, 1987\n".repeat(100);
    std::fs::write(database(&folder), &text).unwrap();
    let database = database(&folder);
    let arguments = ["serve", "--database", &database, "--listen", "127.0.0.1:0", "--allow-network-folder"];
    refused(&arguments, 5, "not a SQLite database").await;
    assert_eq!(std::fs::read_to_string(&database).unwrap(), text);
}

#[tokio::test]
async fn an_address_for_callers_that_is_none_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let database = database(&folder);
    let arguments = ["serve", "--database", &database, "--listen", "127.0.0.1:0", "--public-url", "hydrants.example"];
    refused(&arguments, 2, "hydrants.example").await;
}

#[tokio::test]
async fn the_printed_description_is_the_committed_one() {
    let output = run(&["openapi"]).await;
    assert!(output.status.success());
    let committed =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../../openapi/longlay.json")).unwrap();
    assert_eq!(String::from_utf8(output.stdout).unwrap(), committed);
}

#[tokio::test]
async fn a_password_in_the_address_for_callers_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let database = database(&folder);
    let url = "https://user:pw@hydrants.example";
    refused(&["serve", "--database", &database, "--listen", "127.0.0.1:0", "--public-url", url], 2, "without user")
        .await;
}

#[tokio::test]
async fn a_host_name_to_listen_on_is_told_how_to_write_it() {
    let output = run(&["demo", "--listen", "localhost:8080"]).await;
    assert_eq!(output.status.code(), Some(2));
    let stderr = String::from_utf8(output.stderr).unwrap();
    assert!(stderr.contains("127.0.0.1:8080"), "{stderr}");
}

#[tokio::test]
async fn wrong_arguments_are_told_with_the_usage() {
    let output = run(&["serve"]).await;
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8(output.stderr).unwrap().contains("--database"));
}

#[tokio::test]
async fn a_running_service_is_told_ready_and_a_silent_address_is_not() {
    let (mut child, url, _) = demo().await;
    let asked = run(&["health", "--url", &url]).await;
    assert_eq!((asked.status.code(), asked.stdout.as_slice()), (Some(0), &b"ready\n"[..]));
    terminate(&child).await;
    timeout(Duration::from_secs(15), child.wait()).await.unwrap().unwrap();
    refused(&["health", "--url", &url], 1, "is not ready").await;
}

#[tokio::test]
async fn a_database_in_use_is_refused_and_read_all_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let database = database(&folder);
    let key = keys("create", &database, &["--name", "a", "--scopes", "admin"]).await;
    let first = Serving::start(&database, &[]).await;
    let client = reqwest::Client::new();
    let url = format!("http://{}", first.address);
    let body = serde_json::json!({
        "location": { "lon": 1.0, "lat": 2.0 }, "outlets": [], "owner": "public", "potable": true, "in_service": true
    });
    let put = client.put(format!("{url}/v1/hydrants/H-1")).bearer_auth(key.trim_end()).json(&body);
    put.send().await.unwrap().error_for_status().unwrap();

    let second = ["serve", "--database", &database, "--listen", "127.0.0.1:0", "--allow-network-folder"];
    refused(&second, 6, "ask it over HTTP").await;
    let exported = run(&["audit", "export", "--database", &database]).await;
    assert!(exported.status.success());
    let served = client.get(format!("{url}/v1/audit")).bearer_auth(key.trim_end()).send();
    let served = served.await.unwrap().text().await.unwrap();
    let exported = String::from_utf8(exported.stdout).unwrap();
    // The key, and the hydrant.
    assert!(exported.contains("H-1") && exported.lines().count() == 2, "{exported}");
    assert_eq!(exported, served);
    let behind = run(&["audit", "export", "--database", &database, "--after-seq", "2"]).await;
    assert!(behind.status.success() && behind.stdout.is_empty());
    first.stop().await;
}

#[tokio::test]
async fn an_audit_of_no_database_makes_none() {
    let folder = tempfile::tempdir().unwrap();
    refused(&["audit", "export", "--database", &database(&folder)], 5, "there is no database").await;
    assert!(!Path::new(&database(&folder)).exists());
}

#[tokio::test]
async fn a_file_is_brought_in_from_the_command_line_whole_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let (database, file) = (database(&folder), folder.path().join("hydrants.csv").to_str().unwrap().to_owned());
    let header = "hydrant_id,lon,lat,owner,potable,in_service";
    std::fs::write(&file, format!("{header}\nH-1,-90,40,public,yes,yes\nH-2,-90,north,public,yes,yes\n")).unwrap();
    let import = ["import", "hydrants", &file, "--database", &database];
    keys("list", &database, &[]).await;
    let broken = run(&import).await;
    let stderr = String::from_utf8(broken.stderr).unwrap();
    assert_eq!(broken.status.code(), Some(7), "{stderr}");
    assert!(stderr.contains("row 3, lat: `north` is no number (not_a_number)"), "{stderr}");
    assert!(stderr.trim_end().ends_with("it has 1 fault"), "{stderr}");
    std::fs::write(&file, format!("{header}\nH-1,-90,40,public,yes,yes\nH-2,-90,40,public,yes,yes\n")).unwrap();
    for (extra, says) in [
        (&["--dry-run"][..], "2 created, 0 replaced, 0 unchanged, 0 recorded before; a look only, nothing was kept"),
        (&[], "hydrants: 2 rows, 2 created, 0 replaced, 0 unchanged"),
        (&[], "hydrants: 2 rows, 0 created, 0 replaced, 2 unchanged"),
    ] {
        let done = run(&[&import[..], extra].concat()).await;
        let stdout = String::from_utf8(done.stdout).unwrap();
        assert!(done.status.success() && stdout.contains(says), "{stdout}");
        assert!(done.stderr.is_empty(), "no bar where nobody looks: {:?}", String::from_utf8(done.stderr));
    }
}

#[tokio::test]
async fn a_mistyped_database_becomes_no_town() {
    let folder = tempfile::tempdir().unwrap();
    let (database, file) = (database(&folder), folder.path().join("hydrants.csv").to_str().unwrap().to_owned());
    std::fs::write(&file, "hydrant_id,lon,lat,owner,potable,in_service\nH-1,-90,40,public,yes,yes\n").unwrap();
    let import = ["import", "hydrants", &file, "--database", &database];
    for more in [&[][..], &["--dry-run"]] {
        refused(&[&import[..], more].concat(), 5, "start `longlay serve --database").await;
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "the sheet alone");
}

#[tokio::test]
async fn a_hydrant_returns_to_service_from_the_command_line_only_where_that_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let (database, file) = (database(&folder), folder.path().join("hydrants.csv").to_str().unwrap().to_owned());
    let import = ["import", "hydrants", &file, "--database", &database, "--ignore-unknown-columns"];
    keys("list", &database, &[]).await;
    let header = "hydrant_id,lon,lat,owner,potable,in_service,main_id,out_of_service_reason";
    std::fs::write(&file, format!("{header}\nH-1,-90,40,public,yes,no,M-1,stem broken\n")).unwrap();
    assert!(run(&import).await.status.success());
    std::fs::write(&file, "hydrant_id,lon,lat,owner,potable,in_service,Crew\nH-1,-90,40,public,yes,yes,B\n").unwrap();
    refused(&import, 7, "nothing was changed").await;
    let stderr = String::from_utf8(run(&import).await.stderr).unwrap();
    assert!(stderr.contains("row 2, in_service: the hydrant H-1 is out of service (stem broken)"), "{stderr}");
    assert!(stderr.contains("say --return-to-service where it was found to work"), "{stderr}");
    for look in [&["--dry-run"][..], &[]] {
        let done = run(&[&import[..], &["--return-to-service"], look].concat()).await;
        let (stdout, stderr) = (String::from_utf8(done.stdout).unwrap(), String::from_utf8(done.stderr).unwrap());
        assert!(done.status.success() && stdout.contains("1 replaced"), "{stdout}{stderr}");
        let said: Vec<_> = stderr.lines().collect();
        assert_eq!(said[0], "passed over: Crew");
        assert!(said[1].starts_with("warning: row 2, H-1: it was out of service (stem broken)"), "{stderr}");
        assert!(said[2].ends_with("what had a value: main_id (empties)") && said.len() == 3, "{stderr}");
    }
}

#[tokio::test]
async fn the_columns_of_every_kind_are_told() {
    for kind in [
        "hydrants",
        "flow-tests",
        "hose-types",
        "appliances",
        "hydrant-valves",
        "pumpers",
        "lay-profiles",
        "demand-points",
    ] {
        let told = run(&["import", kind, "--columns"]).await;
        let stdout = String::from_utf8(told.stdout).unwrap();
        assert!(
            told.status.success() && stdout.starts_with("| column | needed |") && stdout.lines().count() > 7,
            "{stdout}"
        );
    }
}
