//! From when and until when a certificate holds, as the TLS library itself reads it: it says so where it refuses one for its time, and looks at nothing
//! before that. A reader of certificates for two dates alone would be a dozen crates more.

use std::time::Duration;

use chrono::{DateTime, Utc};
use tokio_rustls::rustls::client::verify_server_cert_signed_by_trust_anchor;
use tokio_rustls::rustls::pki_types::{CertificateDer, UnixTime};
use tokio_rustls::rustls::server::ParsedCertificate;
use tokio_rustls::rustls::{CertificateError, Error, RootCertStore};

/// No certificate can name a time as late, nor one before 1970 here.
const AFTER_ALL: UnixTime = UnixTime::since_unix_epoch(Duration::MAX);
const BEFORE_ALL: UnixTime = UnixTime::since_unix_epoch(Duration::ZERO);

/// When a certificate holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Validity {
    /// From then on.
    pub(crate) from: DateTime<Utc>,
    /// Until then.
    pub(crate) until: DateTime<Utc>,
}

impl Validity {
    /// Of this certificate; none where its dates cannot be read.
    pub(crate) fn of(certificate: &CertificateDer<'_>) -> Option<Self> {
        let refused_at = |time| {
            let certificate = ParsedCertificate::try_from(certificate).ok()?;
            match verify_server_cert_signed_by_trust_anchor(&certificate, &RootCertStore::empty(), &[], time, &[]) {
                Err(Error::InvalidCertificate(error)) => Some(error),
                _ => None,
            }
        };
        let from = match refused_at(BEFORE_ALL)? {
            CertificateError::NotValidYetContext { not_before, .. } => not_before,
            // It holds since the beginning of time.
            _ => BEFORE_ALL,
        };
        let CertificateError::ExpiredContext { not_after, .. } = refused_at(AFTER_ALL)? else { return None };
        Some(Self { from: date(from)?, until: date(not_after)? })
    }
}

fn date(time: UnixTime) -> Option<DateTime<Utc>> {
    DateTime::from_timestamp(i64::try_from(time.as_secs()).ok()?, 0)
}

#[cfg(test)]
mod tests {
    use rcgen::{BasicConstraints, CertificateParams, IsCa, KeyPair, date_time_ymd};

    use super::*;

    #[test]
    fn the_dates_of_a_certificate_are_read_an_authority_s_too() {
        for is_ca in [IsCa::NoCa, IsCa::ExplicitNoCa, IsCa::Ca(BasicConstraints::Unconstrained)] {
            let mut params = CertificateParams::new(["town.example".to_owned()]).unwrap();
            (params.not_before, params.not_after) = (date_time_ymd(2026, 3, 1), date_time_ymd(2060, 4, 2));
            params.is_ca = is_ca;
            let certificate = params.self_signed(&KeyPair::generate().unwrap()).unwrap();
            let read = Validity::of(certificate.der()).unwrap();
            let day = |text: &str| text.parse::<DateTime<Utc>>().unwrap();
            assert_eq!(
                (read.from, read.until),
                (day("2026-03-01T00:00:00Z"), day("2060-04-02T00:00:00Z")),
                "{is_ca:?}"
            );
        }
    }

    #[test]
    fn what_is_no_certificate_has_no_dates() {
        assert_eq!(Validity::of(&CertificateDer::from(vec![0x30, 0x03, 0x02, 0x01, 0x01])), None);
    }
}
