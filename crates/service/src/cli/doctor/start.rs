//! Whether `serve` would start with these settings: what it refuses is told here beforehand.

use std::env;

use super::super::serve::refuse_plain_http;
use super::super::{Failure, bind};
use super::{Finding, State};
use crate::config::Settings;

/// Looks at the settings as `serve` does when it starts.
pub(super) async fn of_start(settings: &Settings, is_served: bool) -> Vec<Finding> {
    let mut findings = of_settings(settings, is_served).await;
    findings.extend(
        Settings::strangers(env::vars_os().filter_map(|(name, _)| name.into_string().ok())).into_iter().map(|name| {
            Finding(State::Warn, format!("the variable {name} looks like a setting and is none: correct or remove it"))
        }),
    );
    findings
}

async fn of_settings(settings: &Settings, is_served: bool) -> Vec<Finding> {
    let faults = settings.faults();
    if !faults.is_empty() {
        return faults.into_iter().map(|fault| Finding(State::Fail, fault.to_string())).collect();
    }
    let said = match start(settings, is_served).await {
        Ok(()) => Finding(State::Ok, "`serve` takes these settings".to_owned()),
        Err(failure) => Finding(State::Fail, failure.to_string()),
    };
    vec![said]
}

async fn start(settings: &Settings, is_served: bool) -> Result<(), Failure> {
    refuse_plain_http(settings)?;
    // The service that runs listens there itself.
    if !is_served {
        bind(settings.listen()?).await?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use tokio::net::TcpListener;

    use super::*;
    use crate::config::Given;

    /// What is found first with these settings, and a database.
    async fn found(settings: &[(&'static str, &str)], is_served: bool) -> (State, String) {
        let mut given: Given = Given(settings.iter().map(|(name, value)| (*name, (*value).to_owned())).collect());
        given.0.insert("database", "town.db".to_owned());
        let mut findings = of_settings(&Settings::settle(&given, |_| None).unwrap(), is_served).await;
        let Finding(state, said) = findings.remove(0);
        (state, said)
    }

    #[tokio::test]
    async fn what_serve_refuses_fails() {
        for (settings, says) in [
            (&[("listen", "0.0.0.0:0")][..], "without TLS"),
            (&[("listen", "127.0.0.1:99999")], "listen"),
            (&[("listen", "127.0.0.1:0"), ("heavy-requests", "9")], "heavy-requests"),
            (&[("listen", "127.0.0.1:0"), ("log-format", "xml")], "log-format"),
            (&[("listen", "127.0.0.1:0"), ("tls-cert", "town.pem")], "tls_key"),
        ] {
            let (state, said) = found(settings, false).await;
            assert!(state == State::Fail && said.contains(says), "{said}");
        }
    }

    #[tokio::test]
    async fn what_serve_takes_is_well() {
        assert_eq!(found(&[("listen", "127.0.0.1:0")], false).await.0, State::Ok);
        assert_eq!(found(&[("listen", "0.0.0.0:0"), ("allow-plain-http", "true")], false).await.0, State::Ok);
    }

    #[tokio::test]
    async fn a_port_that_another_has_fails_unless_the_service_has_it() {
        let busy = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = busy.local_addr().unwrap().to_string();
        assert_eq!(found(&[("listen", &address)], false).await.0, State::Fail);
        assert_eq!(found(&[("listen", &address)], true).await.0, State::Ok);
    }
}
