//! The binary as its operator meets it: settings, the log, stopping, backups.
#![expect(clippy::unwrap_used, clippy::panic, reason = "helpers of tests fail as tests do")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};
use std::time::Duration;

use longlay_store::{OpenOptions, Store};
use serde_json::{Value, json};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::process::{Child, Command};
use tokio::time::{Instant, sleep, timeout};

/// What must never stand in a log.
const SECRET: &str = "hush-4f1d";

fn longlay(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_longlay"));
    command.args(arguments).env_remove("RUST_LOG").stdout(Stdio::piped()).stderr(Stdio::piped()).kill_on_drop(true);
    command
}

async fn run(arguments: &[&str]) -> Output {
    timeout(Duration::from_secs(30), longlay(arguments).output()).await.unwrap().unwrap()
}

fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).unwrap()
}

fn path(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// `serve` on a free port, its log in a file.
struct Serving {
    child: Child,
    url: String,
    log: PathBuf,
    database: PathBuf,
    /// The key it knows.
    key: String,
    _folder: tempfile::TempDir,
}

impl Serving {
    async fn start(more: &[&str]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let (log, database) = (folder.path().join("log"), folder.path().join("town.db"));
        let address = TcpListener::bind("127.0.0.1:0").await.unwrap().local_addr().unwrap().to_string();
        let options = OpenOptions { allow_network_folder: true };
        Store::open(&database, &options).await.unwrap().close().await;
        let made = [
            "keys",
            "create",
            "--database",
            path(&database),
            "--allow-network-folder",
            "--name",
            "operator",
            "--scopes",
            "admin",
        ];
        let key = text(&run(&made).await.stdout).trim_end().to_owned();
        let common = ["serve", "--database", path(&database), "--listen", &address, "--allow-network-folder"];
        let mut command = longlay(&[&common[..], more].concat());
        let stderr = fs::File::create(&log).unwrap();
        let child = command.stdout(Stdio::null()).stderr(stderr).spawn().unwrap();
        let url = format!("http://{address}");
        for _ in 0..200 {
            if TcpStream::connect(&address).await.is_ok() {
                return Self { child, url, log, database, key, _folder: folder };
            }
            sleep(Duration::from_millis(100)).await;
        }
        panic!("it does not serve: {}", fs::read_to_string(&log).unwrap());
    }

    fn logged(&self) -> String {
        fs::read_to_string(&self.log).unwrap()
    }

    async fn signal(&self) {
        let id = self.child.id().unwrap().to_string();
        assert!(Command::new("kill").args(["-TERM", &id]).status().await.unwrap().success());
    }

    async fn ended(&mut self, within_s: u64) -> std::process::ExitStatus {
        timeout(Duration::from_secs(within_s), self.child.wait()).await.unwrap().unwrap()
    }

    async fn connection(&self) -> TcpStream {
        TcpStream::connect(self.url.strip_prefix("http://").unwrap()).await.unwrap()
    }

    /// Waits until a request besides the one that asks is being answered.
    async fn two_in_flight(&self) {
        for _ in 0..200 {
            let asked = reqwest::Client::new().get(format!("{}/metrics", self.url)).bearer_auth(&self.key).send();
            let counts = asked.await.unwrap().text().await.unwrap();
            if counts.contains("longlay_requests_in_flight 2\n") {
                return;
            }
            sleep(Duration::from_millis(50)).await;
        }
        panic!("the request never began");
    }

    /// A PUT of which half has come.
    async fn half_a_put(&self, hydrant: &str) -> (TcpStream, Vec<u8>) {
        let body = json!({ "location": { "lon": 1.0, "lat": 2.0 }, "outlets": [], "owner": "public", "potable": true,
            "in_service": true })
        .to_string();
        let head = format!(
            "PUT /v1/hydrants/{hydrant} HTTP/1.1\r\nhost: x\r\nx-api-key: {}\r\nif-none-match: *\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n",
            self.key,
            body.len()
        );
        let mut connection = self.connection().await;
        let (now, later) = body.as_bytes().split_at(10);
        connection.write_all(&[head.as_bytes(), now].concat()).await.unwrap();
        self.two_in_flight().await;
        (connection, later.to_vec())
    }
}

/// All that comes until the connection ends.
async fn rest(mut connection: TcpStream) -> String {
    let mut rest = Vec::new();
    let _ = timeout(Duration::from_secs(20), connection.read_to_end(&mut rest)).await.unwrap();
    String::from_utf8_lossy(&rest).into_owned()
}

#[tokio::test]
async fn no_secret_of_a_request_stands_in_the_log() {
    let serving = Serving::start(&["--log-format", "json"]).await;
    let client = reqwest::Client::new();
    for at in ["/v1/hydrants", "/v1/hydrants/H-1", "/nothing", "/v1/lay-calculations", "/docs/"] {
        let url = format!("{}{at}?key={SECRET}&{SECRET}=1", serving.url);
        let request = client.post(&url).body(SECRET).header("authorization", format!("Bearer {SECRET}"));
        request.header("x-api-key", SECRET).header("cookie", SECRET).header(SECRET, SECRET).send().await.unwrap();
        let request =
            client.get(&url).header("x-request-id", format!("{SECRET} with a space")).basic_auth("u", Some(SECRET));
        request.header("referer", SECRET).header("user-agent", SECRET).send().await.unwrap();
    }
    sleep(Duration::from_millis(200)).await;
    let log = serving.logged();
    assert!(!log.contains(SECRET), "{log}");
    let lines: Vec<Value> = log.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let answered: Vec<_> = lines.iter().filter(|line| line["message"] == "answered").collect();
    assert_eq!(answered.len(), 10, "{log}");
    let of_hydrant = answered.iter().find(|line| line["span"]["path"] == "/v1/hydrants/H-1").unwrap();
    assert_eq!(of_hydrant["span"]["route"], "/v1/hydrants/{hydrant_id}");
    for line in answered {
        assert!(line["status"].is_u64() && line["bytes"].is_u64() && line["duration_ms"].is_f64(), "{line}");
        assert_eq!(line["span"]["request_id"].as_str().unwrap().len(), 36, "{line}");
    }
}

#[tokio::test]
async fn what_is_under_way_is_finished_after_the_signal_and_nothing_new_is_let_in() {
    let mut serving = Serving::start(&["--drain-s", "8"]).await;
    let (mut under_way, later) = serving.half_a_put("H-1").await;
    let mut idle = serving.connection().await;
    idle.write_all(b"GET /health/ready HTTP/1.1\r\nhost: x\r\n\r\n").await.unwrap();
    let mut first = [0; 12];
    idle.read_exact(&mut first).await.unwrap();
    assert_eq!(&first, b"HTTP/1.1 200");
    serving.signal().await;
    sleep(Duration::from_millis(300)).await;
    assert!(reqwest::get(format!("{}/health/ready", serving.url)).await.is_err(), "it still lets connections in");
    rest(idle).await;
    under_way.write_all(&later).await.unwrap();
    let answer = rest(under_way).await;
    assert!(answer.starts_with("HTTP/1.1 201") && answer.contains("connection: close"), "{answer}");
    assert!(serving.ended(5).await.success(), "{}", serving.logged());
    let log = serving.database.with_extension("db-wal");
    assert!(!log.exists() || fs::metadata(&log).unwrap().len() == 0, "the log is folded in");
    let checked = run(&["check", "--database", path(&serving.database)]).await;
    assert!(checked.status.success(), "{}", text(&checked.stderr));
}

#[tokio::test]
async fn what_does_not_end_in_time_is_dropped_at_the_deadline() {
    let mut serving = Serving::start(&["--drain-s", "1"]).await;
    let (under_way, _) = serving.half_a_put("H-1").await;
    let told = Instant::now();
    serving.signal().await;
    assert!(serving.ended(5).await.success());
    assert!(
        told.elapsed() >= Duration::from_secs(1) && told.elapsed() < Duration::from_secs(4),
        "{:?}",
        told.elapsed()
    );
    assert!(!rest(under_way).await.contains("201"));
}

#[tokio::test]
async fn a_second_signal_ends_it_at_once() {
    let mut serving = Serving::start(&["--drain-s", "60"]).await;
    let _under_way = serving.half_a_put("H-1").await;
    serving.signal().await;
    sleep(Duration::from_millis(300)).await;
    let told = Instant::now();
    serving.signal().await;
    assert_eq!(serving.ended(5).await.code(), Some(1));
    assert!(told.elapsed() < Duration::from_secs(2), "{:?}", told.elapsed());
}

#[tokio::test]
async fn a_connection_too_many_is_told_so() {
    let serving = Serving::start(&["--connections", "8"]).await;
    // The system takes connections before the service does, and those that only tried the port would be counted among the eight: one answer, and they are gone.
    let mut first = serving.connection().await;
    first.write_all(b"GET /health/live HTTP/1.1\r\nhost: x\r\nconnection: close\r\n\r\n").await.unwrap();
    assert!(rest(first).await.starts_with("HTTP/1.1 200"));
    sleep(Duration::from_millis(200)).await;
    let mut held = Vec::new();
    for _ in 0..8 {
        held.push(serving.connection().await);
    }
    sleep(Duration::from_millis(200)).await;
    let mut over = serving.connection().await;
    over.write_all(b"GET /health/live HTTP/1.1\r\nhost: x\r\n\r\n").await.unwrap();
    let answer = rest(over).await;
    assert!(answer.starts_with("HTTP/1.1 503") && answer.contains("retry-after: 1"), "{answer}");
    drop(held);
    sleep(Duration::from_millis(200)).await;
    assert!(reqwest::get(format!("{}/health/live", serving.url)).await.unwrap().status().is_success());
}

#[tokio::test]
async fn a_head_that_is_too_large_is_refused() {
    let serving = Serving::start(&[]).await;
    for (head, status) in
        [(format!("x: {}\r\n", "y".repeat(70_000)), "HTTP/1.1 431"), ("x: y\r\n".repeat(120), "HTTP/1.1 431")]
    {
        let mut connection = serving.connection().await;
        connection.write_all(format!("GET /health/live HTTP/1.1\r\nhost: x\r\n{head}\r\n").as_bytes()).await.unwrap();
        let answer = rest(connection).await;
        assert!(answer.starts_with(status), "{answer}");
    }
}

#[tokio::test]
async fn settings_come_from_the_file_the_environment_and_the_arguments() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("longlay.toml");
    fs::write(&file, "database = \"file.db\"\ndrain_s = 3\nlisten = \"127.0.0.1:3\"\n").unwrap();
    let mut command = longlay(&["config", "--config", path(&file), "--drain-s", "4"]);
    let output = command.env("LONGLAY_LISTEN", "127.0.0.1:2").output().await.unwrap();
    let said = text(&output.stdout);
    for line in ["listen = 127.0.0.1:2  (LONGLAY_LISTEN)", "drain_s = 4  (argument)", "log_format = text  (default)"] {
        assert!(said.lines().any(|found| found == line), "{said}{}", text(&output.stderr));
    }
    assert!(said.contains("database = file.db  ("), "{said}");
    fs::write(&file, "database = \"file.db\"\nlisten_to = 3\n").unwrap();
    let output = run(&["serve", "--config", path(&file)]).await;
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("line 2: there is no setting listen_to"), "{}", text(&output.stderr));
}

#[tokio::test]
async fn the_commands_take_the_database_from_the_environment_and_the_file_of_settings() {
    let mut serving = Serving::start(&[]).await;
    let copy = serving.database.with_file_name("copy.db");
    let (database, settings) = (serving.database.clone(), serving.database.with_file_name("longlay.toml"));
    fs::write(&settings, format!("database = {:?}\n", path(&database))).unwrap();
    let both = async |arguments: &[&str]| {
        let ask = longlay(arguments).env("LONGLAY_DATABASE", &database).output();
        let by_variable = timeout(Duration::from_secs(30), ask).await.unwrap().unwrap();
        assert!(by_variable.status.success(), "{arguments:?}: {}", text(&by_variable.stderr));
        let by_file = run(&[arguments, &["--config", path(&settings)]].concat()).await;
        assert!(by_file.status.success(), "{arguments:?}: {}", text(&by_file.stderr));
    };
    both(&["backup", "--to", path(&copy), "--force"]).await;
    both(&["check"]).await;
    both(&["export", "hydrants"]).await;
    both(&["audit", "export"]).await;
    serving.signal().await;
    assert!(serving.ended(15).await.success());
    both(&["keys", "list", "--allow-network-folder"]).await;
    // Once: what was there is kept under the second of the restore.
    let restored = run(&["restore", "--from", path(&copy), "--config", path(&settings)]).await;
    assert!(restored.status.success(), "{}", text(&restored.stderr));
    assert_eq!(run(&["check"]).await.status.code(), Some(2), "nothing says which");
}

#[tokio::test]
async fn what_keeps_serve_from_starting_fails_at_the_doctor() {
    let serving = Serving::start(&[]).await;
    let doctor = ["doctor", "--database", path(&serving.database), "--allow-network-folder"];
    let well = run(&doctor).await;
    assert!(well.status.success(), "{}", text(&well.stdout));
    for (more, says) in [(["--listen", "0.0.0.0:8443"], "without TLS"), (["--listen", "127.0.0.1:99999"], "listen")] {
        let output = run(&[&doctor[..], &more].concat()).await;
        let failed: Vec<_> = text(&output.stdout).lines().filter(|line| line.starts_with("fail ")).collect();
        assert!(output.status.code() == Some(1) && failed.len() == 1 && failed[0].contains(says), "{failed:?}");
    }
}

#[tokio::test]
async fn a_backup_taken_beside_the_service_is_restored_once_it_has_stopped() {
    let mut serving = Serving::start(&[]).await;
    let copy = serving.database.with_file_name("copy.db");
    let hydrants = async |serving: &Serving, name: &str| {
        let (mut connection, later) = serving.half_a_put(name).await;
        connection.write_all(&later).await.unwrap();
        let mut answer = [0; 12];
        connection.read_exact(&mut answer).await.unwrap();
        assert_eq!(&answer, b"HTTP/1.1 201");
    };
    hydrants(&serving, "H-1").await;
    let (database, to) = (path(&serving.database).to_owned(), path(&copy).to_owned());
    let backup = ["backup", "--database", &database, "--to", &to];
    let output = run(&backup).await;
    assert!(output.status.success() && text(&output.stdout).contains("1 hydrants"), "{}", text(&output.stderr));
    assert_eq!(run(&backup).await.status.code(), Some(2), "it is there already");
    hydrants(&serving, "H-2").await;
    let looked = run(&["doctor", "--database", &database]).await;
    assert!(text(&looked.stdout).contains("SQLite 3."), "{}", text(&looked.stdout));
    assert_eq!(run(&["restore", "--from", &to, "--database", &database]).await.status.code(), Some(6), "it is served");
    serving.signal().await;
    assert!(serving.ended(15).await.success());
    let output = run(&["restore", "--from", &to, "--database", &database]).await;
    assert!(output.status.success() && text(&output.stdout).contains("1 hydrants"), "{}", text(&output.stderr));
    assert!(text(&output.stdout).contains("any revoked since are live again"), "{}", text(&output.stdout));
    let other = database.replace("town.db", "letter.txt");
    fs::write(&other, "a letter").unwrap();
    assert_eq!(run(&["restore", "--from", &to, "--database", &other]).await.status.code(), Some(5));
    assert_eq!(fs::read_to_string(&other).unwrap(), "a letter");
    fs::write(&copy, "no copy any more").unwrap();
    assert_eq!(run(&["restore", "--from", &to, "--database", &database]).await.status.code(), Some(7));
    assert!(run(&["check", "--database", &database]).await.status.success());
    assert_eq!(run(&["check", "--database", &to]).await.status.code(), Some(5));
}
