//! What came back.

use reqwest::Response;
use reqwest::header::HeaderMap;
use serde_json::Value;

/// An answer, read whole.
#[derive(Debug)]
pub struct Answer {
    /// Its status.
    pub status: u16,
    /// Its headers.
    pub headers: HeaderMap,
    /// Its body as text.
    pub text: String,
}

impl Answer {
    pub(crate) async fn read(response: Response) -> Self {
        let (status, headers) = (response.status().as_u16(), response.headers().clone());
        Self { status, headers, text: response.text().await.expect("a body") }
    }

    /// A header, or nothing.
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().expect("plain text"))
    }

    /// The body of a 200.
    pub fn ok(&self) -> Value {
        self.json(200)
    }

    /// The body of a 201.
    pub fn created(&self) -> Value {
        self.json(201)
    }

    /// A 204, with no body.
    pub fn no_content(&self) {
        assert_eq!((self.status, self.text.as_str()), (204, ""));
    }

    /// The body of an answer of this status.
    pub fn json(&self, status: u16) -> Value {
        assert_eq!(self.status, status, "{}", self.text);
        assert_eq!(self.header("content-type"), "application/json");
        serde_json::from_str(&self.text).expect("JSON")
    }

    /// The body of a 200 that is a map's collection.
    pub fn features(&self) -> Value {
        assert_eq!((self.status, self.header("content-type")), (200, "application/geo+json"), "{}", self.text);
        serde_json::from_str(&self.text).expect("JSON")
    }

    /// A problem document of this status and kind; anything else fails the test.
    pub fn problem(&self, status: u16, slug: &str) -> Problem {
        assert_eq!(self.status, status, "{}", self.text);
        assert_eq!(self.header("content-type"), "application/problem+json");
        let document: Value = serde_json::from_str(&self.text).expect("JSON");
        let kind = document["type"].as_str().expect("a type");
        assert!(kind.starts_with("http://") && kind.ends_with(&format!("/problems/{slug}")), "{document:#}");
        assert_eq!(document["status"], status);
        for member in ["title", "detail"] {
            assert!(document[member].as_str().is_some_and(|text| !text.is_empty()), "{document:#}");
        }
        Problem { document }
    }
}

/// A problem document that has the form it must have.
#[derive(Debug)]
pub struct Problem {
    /// The document.
    pub document: Value,
}

impl Problem {
    /// What happened.
    pub fn detail(&self) -> &str {
        self.document["detail"].as_str().unwrap()
    }

    /// Each fault as `place code`, where the place is a pointer, a parameter, or the row and column of a file.
    pub fn faults(&self) -> Vec<String> {
        let errors = self.document["errors"].as_array().map(Vec::as_slice).unwrap_or_default();
        let in_file = |error: &Value| {
            error["row"].as_u64().map(|row| format!("{row} {}", error["column"].as_str().unwrap_or("-")))
        };
        let place = |error: &Value| {
            let named = ["pointer", "parameter"].iter().find_map(|name| error[name].as_str().map(str::to_owned));
            named.or_else(|| in_file(error))
        };
        let fault = |error: &Value| {
            let place = place(error).unwrap_or_else(|| panic!("a fault without a place: {error}"));
            format!("{place} {}", error["code"].as_str().unwrap())
        };
        errors.iter().map(fault).collect()
    }
}
