//! `longlay serve` as a process of its own, that can be killed, and a client that keeps what was answered.

use std::ffi::OsStr;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

use reqwest::header::{HeaderMap, HeaderValue};
use reqwest::{Client, Method, RequestBuilder};
use serde_json::Value;
use tempfile::TempDir;

use crate::ground::binary;

/// A database file, and the program that serves it, again and again.
pub(crate) struct Town {
    /// The file.
    pub(crate) database: PathBuf,
    /// What the program is started by, such as `strace`, before its own name.
    pub(crate) under: Vec<String>,
    program: PathBuf,
    key: Option<String>,
    notes: TempDir,
}

/// A running service.
pub(crate) struct Server {
    child: Child,
    /// Its address.
    pub(crate) url: String,
    client: Client,
    key: Option<String>,
}

/// What was answered.
#[derive(Debug, Clone)]
pub(crate) struct Reply {
    pub(crate) status: u16,
    pub(crate) headers: HeaderMap,
    pub(crate) bytes: Vec<u8>,
}

impl Reply {
    /// The body, which is JSON.
    pub(crate) fn json(&self) -> Value {
        serde_json::from_slice(&self.bytes).unwrap_or_else(|error| panic!("{error}: {self:?}"))
    }

    /// A header, empty where it is not there.
    pub(crate) fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().expect("text"))
    }

    /// The kind of problem.
    pub(crate) fn slug(&self) -> String {
        let kind = self.json()["type"].as_str().unwrap_or_default().to_owned();
        kind.rsplit('/').next().unwrap_or_default().to_owned()
    }

    /// The body of an answer that went well.
    pub(crate) fn good(self) -> Self {
        let said = String::from_utf8_lossy(&self.bytes);
        assert!((200..300).contains(&self.status), "{} {said}", self.status);
        self
    }
}

impl Town {
    /// With its database at this path.
    pub(crate) fn at(database: PathBuf) -> Self {
        let notes = tempfile::tempdir().expect("a temporary folder");
        Self { database, under: Vec::new(), program: binary(), key: None, notes }
    }

    /// With another copy of the program.
    pub(crate) fn with_program(mut self, program: PathBuf) -> Self {
        self.program = program;
        self
    }

    /// Another file with the same keys in it.
    pub(crate) fn copied_to(&self, database: PathBuf) -> Self {
        Self { key: self.key.clone(), ..Self::at(database) }
    }

    /// Another command of the program, which must go well.
    pub(crate) fn run(&self, words: &[&OsStr]) {
        let output = Command::new(&self.program).args(words).output().expect("the program starts");
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{words:?} ended with {}: {said}", output.status);
    }

    fn command(&self) -> Command {
        let mut words = self.under.iter().map(Into::into).chain([self.program.clone().into_os_string()]);
        let mut command = Command::new(words.next().expect("a program"));
        command.args(words).arg("serve").arg("--database").arg(&self.database);
        command.args(["--listen", "127.0.0.1:0", "--allow-network-folder"]);
        // A line for every request would be most of the work.
        command.env("RUST_LOG", "warn,longlay_service::cli=info").stdin(Stdio::null());
        command.stdout(self.note("stdout")).stderr(self.note("stderr"));
        command
    }

    fn note(&self, name: &str) -> File {
        File::create(self.notes.path().join(name)).expect("a file for what it says")
    }

    /// What it said on its standard error since its last start.
    pub(crate) fn said(&self) -> String {
        fs::read_to_string(self.notes.path().join("stderr")).unwrap_or_default()
    }

    /// Starts it, and waits until it serves.
    pub(crate) fn start(&mut self) -> Server {
        let mut child = self.command().spawn().expect("the program starts");
        let url = self.address(&mut child).unwrap_or_else(|status| panic!("it ended with {status}: {}", self.said()));
        let printed = fs::read_to_string(self.notes.path().join("stdout")).expect("what it printed");
        self.key = key(&printed).or(self.key.take());
        let client = Client::builder().timeout(Duration::from_secs(30)).build().expect("a client");
        Server { child, url, client, key: self.key.clone() }
    }

    /// Starts it where it must refuse to serve: how it ended and what it said.
    pub(crate) fn refused(&self) -> (ExitStatus, String) {
        let mut child = self.command().spawn().expect("the program starts");
        let ended = match self.address(&mut child) {
            Ok(url) => {
                let _ = child.kill();
                panic!("it serves at {url}")
            }
            Err(ended) => ended,
        };
        (ended, self.said())
    }

    /// Where it says that it listens; how it ended instead.
    fn address(&self, child: &mut Child) -> Result<String, ExitStatus> {
        let begun = Instant::now();
        while begun.elapsed() < Duration::from_mins(1) {
            let said = self.said();
            let after = said.lines().find_map(|line| line.split_once("address=")).map(|(_, after)| after);
            if let Some(address) = after.and_then(|after| after.split_whitespace().next()) {
                return Ok(format!("http://{address}"));
            }
            if let Some(status) = child.try_wait().expect("its state") {
                return Err(status);
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        let _ = child.kill();
        panic!("it neither served nor ended within a minute: {}", self.said())
    }
}

/// The key that a first start prints.
fn key(printed: &str) -> Option<String> {
    let long = |word: &&str| word.len() >= 40 && word.chars().all(|c| c.is_ascii_alphanumeric() || "-_".contains(c));
    printed.split_whitespace().find(long).map(str::to_owned)
}

impl Server {
    /// Asks it. An error is no answer at all.
    pub(crate) async fn send(
        &self,
        method: Method,
        path: &str,
        headers: &[(&'static str, &str)],
        body: Option<&Value>,
    ) -> Result<Reply, reqwest::Error> {
        let request = self.request(method, path, headers);
        answered(if let Some(body) = body { request.json(body) } else { request }).await
    }

    /// Sends it a spreadsheet to bring in, under a key. An error is no answer at all.
    pub(crate) async fn bring_in(&self, kind: &str, sheet: &str, key: &str) -> Result<Reply, reqwest::Error> {
        let headers = [("content-type", "text/csv"), ("idempotency-key", key)];
        let request = self.request(Method::POST, &format!("/v1/imports/{kind}"), &headers);
        answered(request.body(sheet.to_owned())).await
    }

    fn request(&self, method: Method, path: &str, headers: &[(&'static str, &str)]) -> RequestBuilder {
        let mut request = self.client.request(method, format!("{}{path}", self.url));
        if let Some(key) = &self.key {
            request = request.bearer_auth(key);
        }
        for (name, value) in headers {
            request = request.header(*name, HeaderValue::from_str(value).expect("a header"));
        }
        request
    }

    /// GET, which must be answered.
    pub(crate) async fn get(&self, path: &str) -> Reply {
        self.send(Method::GET, path, &[], None).await.expect("an answer")
    }

    /// PUT of a hydrant, whatever stands there; it must be answered.
    pub(crate) async fn put(&self, id: &str, body: &Value) -> Reply {
        let path = format!("/v1/hydrants/{id}");
        let made = self.send(Method::PUT, &path, &[], Some(body)).await.expect("an answer");
        if made.status != 428 {
            return made;
        }
        self.send(Method::PUT, &path, &[("if-match", "*")], Some(body)).await.expect("an answer")
    }

    /// Every item of a list.
    pub(crate) async fn all(&self, path: &str) -> Vec<Value> {
        let mut items = Vec::new();
        let mut path = path.to_owned();
        loop {
            let page = self.get(&path).await.good().json();
            items.extend(page["items"].as_array().expect("items").iter().cloned());
            match page["next"].as_str() {
                Some(next) => next.strip_prefix(&self.url).expect("an address of its own").clone_into(&mut path),
                None => return items,
            }
        }
    }

    /// The key it asks for.
    pub(crate) fn key(&self) -> Option<&str> {
        self.key.as_deref()
    }

    /// Its process.
    pub(crate) fn process(&self) -> u32 {
        self.child.id()
    }

    /// SIGTERM.
    pub(crate) fn tell_to_stop(&self) {
        signal(self.process(), "TERM");
    }

    /// How it ends, once told to, and how long that took.
    pub(crate) fn ended(&mut self, within: Duration) -> (ExitStatus, Duration) {
        let begun = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().expect("its state") {
                return (status, begun.elapsed());
            }
            assert!(begun.elapsed() < within, "it did not end within {within:?}");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// Tells it to stop; it must end well.
    pub(crate) fn stop(mut self) {
        self.tell_to_stop();
        let (status, _) = self.ended(Duration::from_secs(20));
        assert!(status.success(), "{status}");
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

async fn answered(request: RequestBuilder) -> Result<Reply, reqwest::Error> {
    let response = request.send().await?;
    let (status, headers) = (response.status().as_u16(), response.headers().clone());
    Ok(Reply { status, headers, bytes: response.bytes().await?.to_vec() })
}

/// Sends a signal to one process.
pub(crate) fn signal(process: u32, name: &str) {
    let sent = Command::new("kill").args([format!("-{name}"), process.to_string()]).status();
    assert!(sent.expect("kill").success(), "{name} to {process}");
}

/// What SQLite itself finds wrong with a closed database: nothing, or the proof fails.
pub(crate) fn assert_sound(database: &Path) {
    assert_eq!(asked(database, "PRAGMA integrity_check"), "ok", "{}", database.display());
    assert_eq!(asked(database, "PRAGMA foreign_key_check"), "", "{}", database.display());
}

/// What SQLite itself answers to a query of a closed database: the first column.
pub(crate) fn asked(database: &Path, query: &str) -> String {
    let ask = "import sqlite3, sys\nprint(*[row[0] for row in sqlite3.connect(sys.argv[1]).execute(sys.argv[2])])";
    let output = Command::new("python3").args(["-c", ask]).arg(database).arg(query).output().expect("python3");
    assert!(output.status.success(), "{} {}", database.display(), String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).trim().to_owned()
}
