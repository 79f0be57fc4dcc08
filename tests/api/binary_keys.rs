//! `serve` and `keys`, started as their users start them.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::process::Stdio;
use std::time::Duration;

use longlay_store::{OpenOptions, Store};
use tokio::io::AsyncReadExt;
use tokio::net::TcpListener;
use tokio::process::Child;
use tokio::time::timeout;

use crate::{database, longlay, refused, run, terminate};

/// A `serve` that is up.
pub(crate) struct Serving {
    child: Child,
    pub(crate) address: String,
}

impl Serving {
    /// On a free port, over this database, with what it logs in a file of the same folder.
    pub(crate) async fn start(database: &str, more: &[&str]) -> Self {
        Self::start_on("127.0.0.1", database, more).await
    }

    /// The same, on another address of this machine.
    pub(crate) async fn start_on(host: &str, database: &str, more: &[&str]) -> Self {
        let free = TcpListener::bind((host, 0)).await.unwrap().local_addr().unwrap();
        let address = free.to_string();
        let path = format!("{database}.log");
        let log = fs::File::create(&path).unwrap();
        let mut arguments = vec!["serve", "--database", database, "--listen", &address, "--allow-network-folder"];
        arguments.extend(more);
        let child = longlay(&arguments).env("RUST_LOG", "trace").stderr(Stdio::from(log)).spawn().unwrap();
        let mut serving = Self { child, address };
        for _ in 0..300 {
            if fs::read_to_string(&path).unwrap().contains(" serving ") {
                return serving;
            }
            tokio::time::sleep(Duration::from_millis(100)).await;
            assert!(serving.child.try_wait().unwrap().is_none(), "{}", fs::read_to_string(&path).unwrap());
        }
        panic!("it does not serve: {}", fs::read_to_string(&path).unwrap());
    }

    /// Stops it; what it printed.
    pub(crate) async fn stop(mut self) -> String {
        terminate(&self.child).await;
        assert!(timeout(Duration::from_secs(15), self.child.wait()).await.unwrap().unwrap().success());
        let mut said = String::new();
        self.child.stdout.take().unwrap().read_to_string(&mut said).await.unwrap();
        said
    }

    async fn hydrants(&self, key: &str) -> u16 {
        let request = reqwest::Client::new().get(format!("http://{}/v1/hydrants", self.address)).bearer_auth(key);
        request.send().await.unwrap().status().as_u16()
    }
}

fn keys_in(said: &str) -> Vec<&str> {
    said.split_whitespace().filter(|word| word.starts_with("longlay_")).collect()
}

/// Runs `longlay keys`, on an empty database where there is none; what it printed.
pub(crate) async fn keys(action: &str, database: &str, more: &[&str]) -> String {
    if !fs::exists(database).unwrap() {
        let options = OpenOptions { allow_network_folder: true };
        Store::open(database.as_ref(), &options).await.unwrap().close().await;
    }
    let mut arguments = vec!["keys", action, "--database", database, "--allow-network-folder"];
    arguments.extend(more);
    let output = run(&arguments).await;
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

#[tokio::test]
async fn the_first_start_prints_one_key_that_works_and_the_next_prints_none() {
    let folder = tempfile::tempdir().unwrap();
    let database = database(&folder);
    let said = Serving::start(&database, &[]).await.stop().await;
    let found = keys_in(&said);
    assert_eq!(found.len(), 1, "{said}");
    let again = Serving::start(&database, &[]).await;
    assert_eq!(again.hydrants(found[0]).await, 200);
    assert_eq!(again.hydrants("longlay_").await, 401);
    assert_eq!(again.stop().await, "");
}

#[tokio::test]
async fn a_key_is_in_no_log_and_in_no_file_and_its_name_is_in_the_log() {
    let folder = tempfile::tempdir().unwrap();
    let database = database(&folder);
    let printed = keys("create", &database, &["--name", "Records system", "--scopes", "records:read,admin"]).await;
    let key = printed.trim_end();
    assert_eq!((printed.lines().count(), key.len()), (1, 72));
    let serving = Serving::start(&database, &[]).await;
    assert_eq!(serving.hydrants(key).await, 200);
    let body = serde_json::json!({ "name": "Map", "scopes": ["gis:read"] });
    let post = reqwest::Client::new().post(format!("http://{}/v1/keys", serving.address)).header("x-api-key", key);
    let made: serde_json::Value = post.json(&body).send().await.unwrap().json().await.unwrap();
    let new = made["key"].as_str().unwrap();
    assert_eq!(serving.hydrants(new).await, 200);
    for entry in fs::read_dir(folder.path()).unwrap() {
        let path = entry.unwrap().path();
        let held = fs::read(&path).unwrap();
        for secret in [key, new] {
            let own = &secret.as_bytes()["longlay_".len()..];
            assert!(!held.windows(own.len()).any(|part| part == own), "{}", path.display());
        }
    }
    let log = fs::read_to_string(format!("{database}.log")).unwrap();
    let answered = log.lines().find(|line| line.contains("/v1/hydrants") && line.contains("answered")).unwrap();
    assert!(answered.contains("Records system") && answered.contains("key_id"), "{answered}");
    assert_eq!(serving.stop().await, "");
}

#[tokio::test]
async fn keys_are_listed_without_their_secrets_and_revoked_by_id() {
    let folder = tempfile::tempdir().unwrap();
    let database = database(&folder);
    let admin = keys("create", &database, &["--name", "Chief", "--scopes", "admin"]).await;
    let reader = keys("create", &database, &["--name", "Preplan tool", "--scopes", "records:read,lay:calculate"]).await;
    let list = keys("list", &database, &[]).await;
    let lines: Vec<_> = list.lines().collect();
    assert_eq!(lines.len(), 2, "{list}");
    assert!(lines[0].ends_with("live  admin  Chief"), "{list}");
    assert!(lines[1].ends_with("live  records:read,lay:calculate  Preplan tool"), "{list}");
    assert!(!list.contains(admin.trim_end()) && !list.contains(reader.trim_end()) && keys_in(&list).is_empty());

    let id = |line: &str| line.split_whitespace().next().unwrap().to_owned();
    let revoke = ["keys", "revoke", "--database", &database, "--allow-network-folder"];
    for says in ["is revoked", "was revoked before"] {
        let done = run(&[&revoke[..], &[&id(lines[1])]].concat()).await;
        let told = String::from_utf8(done.stderr).unwrap();
        assert!(done.status.success() && done.stdout.is_empty() && told.contains(says), "{told}");
    }
    let odd = run(&[&revoke[..], &["Preplan"]].concat()).await;
    assert_eq!(odd.status.code(), Some(2));
    assert!(String::from_utf8(odd.stderr).unwrap().contains("`longlay keys list`"));
    let list = keys("list", &database, &[]).await;
    assert!(list.lines().nth(1).unwrap().contains("  revoked 20"), "{list}");
    let serving = Serving::start(&database, &[]).await;
    assert_eq!(serving.hydrants(reader.trim_end()).await, 401);
    assert_eq!(serving.hydrants(admin.trim_end()).await, 200);
    serving.stop().await;

    let last = ["keys", "revoke", "--database", &database, "--allow-network-folder", &id(lines[0])];
    refused(&last, 1, "last key that can make keys").await;
    let unknown =
        ["keys", "revoke", "--database", &database, "--allow-network-folder", "00000000-0000-7000-8000-000000000000"];
    refused(&unknown, 1, "there is no key").await;
}

#[tokio::test]
async fn keys_of_no_database_make_none() {
    let folder = tempfile::tempdir().unwrap();
    let at = database(&folder);
    let id = "00000000-0000-7000-8000-000000000000";
    for action in [&["create", "--name", "x", "--scopes", "admin"][..], &["list"], &["revoke", id]] {
        let arguments = [&["keys"], action, &["--database", &at, "--allow-network-folder"]].concat();
        refused(&arguments, 5, "there is no database").await;
    }
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[tokio::test]
async fn an_unknown_scope_is_told_with_those_there_are() {
    let folder = tempfile::tempdir().unwrap();
    let database = database(&folder);
    let output = run(&["keys", "create", "--database", &database, "--name", "x", "--scopes", "everything"]).await;
    assert_eq!(output.status.code(), Some(2));
    let stderr = String::from_utf8(output.stderr).unwrap();
    assert!(stderr.contains("records:read") && stderr.contains("field:write"), "{stderr}");
    assert!(!fs::exists(&database).unwrap());
}

#[tokio::test]
async fn the_files_are_for_their_owners_eyes_only() {
    let folder = tempfile::tempdir().unwrap();
    let database = database(&folder);
    let serving = Serving::start(&database, &[]).await;
    let mut seen = 0;
    for entry in fs::read_dir(folder.path()).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|extension| extension != "log") {
            assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600, "{}", path.display());
            seen += 1;
        }
    }
    assert!(seen >= 3, "the database, its write-ahead log and their index");
    serving.stop().await;
}
