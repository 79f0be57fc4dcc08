//! The service under test.

use std::path::PathBuf;

use longlay_records::author::Author;
use longlay_records::key::{Key, KeyName, Scope};
use longlay_service::app::AppState;
use longlay_service::clock::{Clock, Ids};
use longlay_service::keyring::{Keyring, Secret};
use longlay_service::pools::Sizes;
use longlay_service::{demo, serve};
use longlay_store::{Change, OpenOptions, Store};
use reqwest::{Client, Method, RequestBuilder};
use serde_json::Value;
use tempfile::TempDir;
use tokio::net::TcpListener;

use crate::answer::Answer;

/// The time that the service under test has, always.
pub const NOW: &str = "2026-11-25T12:00:00Z";

const DATABASE: &str = "town.db";

/// A service of its own for one test, stopped with its runtime and forgotten with its folder.
#[derive(Debug)]
pub struct Service {
    /// Its address.
    pub url: String,
    /// Its records, beside it.
    pub store: Store,
    client: Client,
    folder: TempDir,
}

/// All that a service is started from.
struct Fresh {
    app: AppState,
    listener: TcpListener,
    folder: TempDir,
}

impl Service {
    /// Starts one with nothing but the shipped library in it.
    pub async fn start() -> Self {
        Self::serving(Self::fresh().await, |app| app)
    }

    /// Starts one with the demo town in it.
    pub async fn demo() -> Self {
        Self::demo_with(Sizes::default()).await
    }

    /// Starts one with the demo town in it, and few places for requests.
    pub async fn demo_with(sizes: Sizes) -> Self {
        let fresh = Self::fresh().await;
        demo::load(&fresh.app).await.expect("the demo town");
        Self::serving(fresh, |app| app.with_sizes(sizes))
    }

    /// Starts one that asks for keys, with the secret of an admin's.
    pub async fn keyed() -> (Self, String) {
        let fresh = Self::fresh().await;
        let secret = Secret::random().expect("randomness");
        let key = Key {
            id: fresh.app.ids.next(fresh.app.clock.now()),
            name: KeyName::new("admin of the test").expect("a name"),
            scopes: [Scope::Admin].into(),
            created_at: fresh.app.clock.now(),
            revoked_at: None,
            hash: secret.hash(),
        };
        fresh.app.store.add_key(&key, &Change::by(Author::command_line(), key.created_at)).await.expect("a key kept");
        let keyring = Keyring::new(vec![key]);
        (Self::serving(fresh, |app| app.with_keys(keyring)), secret.reveal().to_owned())
    }

    async fn fresh() -> Fresh {
        let folder = tempfile::tempdir().expect("a temporary folder");
        // What a production service opens, and how; only the folder may lie anywhere.
        let options = OpenOptions { allow_network_folder: true };
        let store = Store::open(&folder.path().join(DATABASE), &options).await.expect("a database");
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
        let url = format!("http://{}", listener.local_addr().expect("an address"));
        let clock = Clock::fixed(NOW.parse().expect("a time"));
        let app = AppState::new(store, clock, Ids::counted(), &url);
        Fresh { app, listener, folder }
    }

    fn serving(fresh: Fresh, finish: impl FnOnce(AppState) -> AppState) -> Self {
        let Fresh { app, listener, folder } = fresh;
        let (url, store) = (app.public_url.to_string(), app.store.clone());
        tokio::spawn(serve::serve(listener, finish(app), serve::Options::default(), std::future::pending()));
        Self { url, store, client: Client::new(), folder }
    }

    /// The file of its records.
    pub fn database(&self) -> PathBuf {
        self.folder.path().join(DATABASE)
    }

    /// A request to be finished by hand.
    pub fn request(&self, method: Method, path: &str) -> RequestBuilder {
        self.client.request(method, format!("{}{path}", self.url))
    }

    /// Sends it.
    pub async fn send(&self, request: RequestBuilder) -> Answer {
        Answer::read(request.send().await.expect("an answer")).await
    }

    /// GET.
    pub async fn get(&self, path: &str) -> Answer {
        self.send(self.request(Method::GET, path)).await
    }

    /// PUT with a JSON body, over whatever stands there.
    pub async fn put(&self, path: &str, body: &Value) -> Answer {
        let made = self.put_with(path, body, &[]).await;
        if made.status == 428 { self.put_with(path, body, &[("if-match", "*")]).await } else { made }
    }

    /// PUT with a JSON body and these headers, and no others of its own.
    pub async fn put_with(&self, path: &str, body: &Value, headers: &[(&str, &str)]) -> Answer {
        self.send(with_headers(self.request(Method::PUT, path).json(body), headers)).await
    }

    /// POST with a JSON body.
    pub async fn post(&self, path: &str, body: &Value) -> Answer {
        self.send(self.request(Method::POST, path).json(body)).await
    }

    /// POST with a JSON body and these headers.
    pub async fn post_with(&self, path: &str, body: &Value, headers: &[(&str, &str)]) -> Answer {
        self.send(with_headers(self.request(Method::POST, path).json(body), headers)).await
    }

    /// DELETE of whatever stands there.
    pub async fn delete(&self, path: &str) -> Answer {
        self.delete_with(path, &[("if-match", "*")]).await
    }

    /// DELETE with these headers, and no others of its own.
    pub async fn delete_with(&self, path: &str, headers: &[(&str, &str)]) -> Answer {
        self.send(with_headers(self.request(Method::DELETE, path), headers)).await
    }

    /// GET with these headers.
    pub async fn get_with(&self, path: &str, headers: &[(&str, &str)]) -> Answer {
        self.send(with_headers(self.request(Method::GET, path), headers)).await
    }

    /// PUT of a record that is needed and not in question.
    pub async fn given(&self, path: &str, body: &Value) {
        self.put(path, body).await.created();
    }

    /// Every item of a list, following `next` to its end.
    pub async fn all(&self, path: &str) -> Vec<Value> {
        let mut items = Vec::new();
        let mut path = path.to_owned();
        loop {
            let page = self.get(&path).await.ok();
            items.extend(page["items"].as_array().expect("items").iter().cloned());
            match page["next"].as_str() {
                Some(next) => next.strip_prefix(&self.url).expect("an address of this service").clone_into(&mut path),
                None => return items,
            }
        }
    }
}

fn with_headers(request: RequestBuilder, headers: &[(&str, &str)]) -> RequestBuilder {
    headers.iter().fold(request, |request, (name, value)| request.header(*name, *value))
}
