//! The certificate that is served with: whether it can be used, and for how long.

use std::path::Path;

use chrono::{DateTime, TimeDelta, Utc};

use super::{Finding, State};
use crate::tls::{Identity, chain};
use crate::validity::Validity;

/// Time enough to renew it without haste.
const SOON: TimeDelta = TimeDelta::days(30);

/// Looks at the files of a certificate and of its key, where serving is over TLS.
pub(super) fn of_certificate(files: Option<&(impl AsRef<Path>, impl AsRef<Path>)>, now: DateTime<Utc>) -> Vec<Finding> {
    let Some((certificate, key)) = files else {
        let said = "no certificate is given. Where the service is started with one, give it here the same way";
        return vec![Finding(State::Ok, said.to_owned())];
    };
    let (certificate, key) = (certificate.as_ref(), key.as_ref());
    let chain = match Identity::read(certificate, key).and_then(|_| chain(certificate)) {
        Ok(chain) => chain,
        Err(error) => return vec![Finding(State::Fail, error.to_string())],
    };
    let name = |nth: usize| match nth {
        0 => format!("the certificate in {}", certificate.display()),
        nth => format!("certificate {} of the chain in {}", nth + 1, certificate.display()),
    };
    chain.iter().enumerate().map(|(nth, one)| of_dates(&name(nth), Validity::of(one), now)).collect()
}

fn of_dates(name: &str, validity: Option<Validity>, now: DateTime<Utc>) -> Finding {
    let Some(Validity { from, until }) = validity else {
        return Finding(State::Fail, format!("{name} has no dates that can be read: get another"));
    };
    let day = |time: DateTime<Utc>| time.format("%Y-%m-%d %H:%M UTC").to_string();
    if now < from {
        let said =
            format!("{name} holds only from {} on: callers refuse it until then, or the clock is wrong", day(from));
        return Finding(State::Fail, said);
    }
    if now > until {
        return Finding(State::Fail, format!("{name} ran out on {}: renew it, and start the service anew", day(until)));
    }
    if until - now < SOON {
        let days = (until - now).num_days();
        let said = format!("{name} runs out on {}, in {days} days: renew it, and start the service anew", day(until));
        return Finding(State::Warn, said);
    }
    Finding(State::Ok, format!("{name} holds until {}", day(until)))
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::PathBuf;

    use rcgen::{CertificateParams, KeyPair, date_time_ymd};
    use tempfile::TempDir;

    use super::*;

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    /// Files of certificates of these last days, the first with its key.
    fn files(folder: &TempDir, last_days: &[(i32, u8, u8)]) -> (PathBuf, PathBuf) {
        let (certificate, key) = (folder.path().join("cert.pem"), folder.path().join("key.pem"));
        let mut pem = String::new();
        for (nth, (year, month, day)) in last_days.iter().enumerate() {
            let pair = KeyPair::generate().unwrap();
            let mut params = CertificateParams::new(["town.example".to_owned()]).unwrap();
            (params.not_before, params.not_after) = (date_time_ymd(2026, 1, 1), date_time_ymd(*year, *month, *day));
            pem += &params.self_signed(&pair).unwrap().pem();
            if nth == 0 {
                fs::write(&key, pair.serialize_pem()).unwrap();
            }
        }
        fs::write(&certificate, pem).unwrap();
        (certificate, key)
    }

    fn states(files: &(PathBuf, PathBuf), now: &str) -> Vec<State> {
        of_certificate(Some(files), at(now)).into_iter().map(|Finding(state, _)| state).collect()
    }

    #[test]
    fn a_certificate_is_judged_by_its_dates() {
        let folder = tempfile::tempdir().unwrap();
        let files = files(&folder, &[(2026, 12, 31)]);
        for (now, state) in [
            ("2025-12-31T23:59:59Z", State::Fail),
            ("2026-01-01T00:00:00Z", State::Ok),
            ("2026-12-01T00:00:00Z", State::Ok),
            ("2026-12-01T00:00:01Z", State::Warn),
            ("2026-12-31T00:00:00Z", State::Warn),
            ("2026-12-31T00:00:01Z", State::Fail),
        ] {
            assert_eq!(states(&files, now), [state], "{now}");
        }
        let Finding(_, said) = &of_certificate(Some(&files), at("2026-12-21T12:00:00Z"))[0];
        assert!(said.contains("cert.pem runs out on 2026-12-31 00:00 UTC, in 9 days"), "{said}");
    }

    #[test]
    fn every_certificate_of_the_chain_is_looked_at() {
        let folder = tempfile::tempdir().unwrap();
        let files = files(&folder, &[(2028, 1, 1), (2026, 6, 1)]);
        assert_eq!(states(&files, "2026-06-02T00:00:00Z"), [State::Ok, State::Fail]);
        assert!(
            of_certificate(Some(&files), at("2026-06-02T00:00:00Z"))[1].1.starts_with("certificate 2 of the chain")
        );
    }

    #[test]
    fn a_key_of_another_certificate_and_a_file_that_is_not_there_are_told() {
        let (folder, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let (certificate, key) = files(&folder, &[(2028, 1, 1)]);
        let (_, other) = files(&other, &[(2028, 1, 1)]);
        let told = |files: (PathBuf, PathBuf)| {
            let findings = of_certificate(Some(&files), at("2026-06-02T00:00:00Z"));
            assert_eq!(findings.len(), 1, "{findings:?}");
            assert_eq!(findings[0].0, State::Fail, "{findings:?}");
            findings[0].1.clone()
        };
        assert!(told((certificate.clone(), other)).contains("cannot be used together"));
        assert!(told((certificate, folder.path().join("none.pem"))).contains("none.pem"));
        assert!(told((key.clone(), key)).contains("there is no certificate in it"));
    }

    #[test]
    fn to_serve_without_tls_is_no_fault() {
        let findings = of_certificate(None::<&(PathBuf, PathBuf)>, at("2026-06-02T00:00:00Z"));
        assert!(matches!(findings[..], [Finding(State::Ok, _)]), "{findings:?}");
    }
}
