//! Where in a request's headers its key stands. In the address it has no place: addresses are logged, kept and passed on.

use axum::http::{HeaderMap, HeaderName, header};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;

const X_API_KEY: HeaderName = HeaderName::from_static("x-api-key");

/// How a request without a key is told to bring one. Desktop programs ask for a password only where `Basic` is offered.
pub(crate) const CHALLENGES: [&str; 2] = [r#"Bearer realm="longlay""#, r#"Basic realm="longlay", charset="UTF-8""#];

/// Takes the key out of the headers, so that nothing behind can log it: `X-API-Key`, else `Authorization` as `Bearer`, or as `Basic`
/// with the key for the password and any user.
pub(crate) fn take(headers: &mut HeaderMap) -> Option<String> {
    let authorization = headers.remove(header::AUTHORIZATION);
    let own = headers.remove(X_API_KEY);
    if let Some(own) = own {
        return own.to_str().ok().map(|key| key.trim().to_owned());
    }
    let authorization = authorization?;
    let (scheme, rest) = authorization.to_str().ok()?.split_once(' ')?;
    let rest = rest.trim();
    if scheme.eq_ignore_ascii_case("bearer") {
        Some(rest.to_owned())
    } else if scheme.eq_ignore_ascii_case("basic") {
        password(rest)
    } else {
        None
    }
}

/// The part of `user:password` behind the colon.
fn password(encoded: &str) -> Option<String> {
    let pair = String::from_utf8(STANDARD.decode(encoded).ok()?).ok()?;
    pair.split_once(':').map(|(_, password)| password.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken(pairs: &[(&'static str, &'static str)]) -> Option<String> {
        let mut headers: HeaderMap =
            pairs.iter().map(|(name, value)| (HeaderName::from_static(name), value.parse().unwrap())).collect();
        let key = take(&mut headers);
        assert!(headers.is_empty(), "{headers:?}");
        key
    }

    #[test]
    fn a_key_is_read_in_each_of_its_three_places() {
        assert_eq!(taken(&[("authorization", "Bearer k-1")]).as_deref(), Some("k-1"));
        assert_eq!(taken(&[("authorization", "bearer  k-1")]).as_deref(), Some("k-1"));
        assert_eq!(taken(&[("x-api-key", "k-1")]).as_deref(), Some("k-1"));
        // `user:k-1` and `:k-1`, by RFC 7617.
        assert_eq!(taken(&[("authorization", "Basic dXNlcjprLTE=")]).as_deref(), Some("k-1"));
        assert_eq!(taken(&[("authorization", "basic OmstMQ==")]).as_deref(), Some("k-1"));
    }

    #[test]
    fn a_key_of_its_own_header_goes_before_what_a_proxy_may_have_written() {
        assert_eq!(taken(&[("authorization", "Basic cHJveHk6cHc="), ("x-api-key", "k-1")]).as_deref(), Some("k-1"));
    }

    #[test]
    fn anything_else_is_no_key() {
        for none in ["", "Bearer", "k-1", "Digest k-1", "Basic ***", "Basic azE=", "Basic /w=="] {
            assert_eq!(taken(&[("authorization", none)]), None, "{none}");
        }
        assert_eq!(taken(&[]), None);
    }
}
