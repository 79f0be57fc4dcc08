//! Keys at work: secrets out of the system's randomness, and the live keys in memory, so that asking for a key costs a hash and no statement.

use std::fmt::{self, Write};
use std::sync::{Arc, PoisonError, RwLock};

use longlay_records::key::{Key, KeyHash};
use longlay_store::{Change, RevokeOutcome, Store, StoreError};
use sha2::{Digest, Sha256};
use subtle::ConstantTimeEq;
use tokio::sync::Mutex;
use uuid::Uuid;

/// What every secret starts with: whoever finds one lying about sees what it opens.
const MARK: &str = "longlay_";
/// 256 bits cannot be guessed, so that a plain hash of them is enough.
const SECRET_BYTES: usize = 32;
const SECRET_CHARS: usize = MARK.len() + 2 * SECRET_BYTES;

/// What a caller shows to be let in. It is told once, when its key is made.
pub struct Secret(String);

impl Secret {
    /// A new one.
    ///
    /// # Errors
    /// The system has no randomness to give.
    pub fn random() -> Result<Self, getrandom::Error> {
        let mut bytes = [0; SECRET_BYTES];
        getrandom::fill(&mut bytes)?;
        let mut text = MARK.to_owned();
        for byte in bytes {
            // A string takes whatever is written to it.
            let _ = write!(text, "{byte:02x}");
        }
        Ok(Self(text))
    }

    /// As it is shown, this once.
    pub fn reveal(&self) -> &str {
        &self.0
    }

    /// What is kept of it.
    pub fn hash(&self) -> KeyHash {
        hash(&self.0)
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret")
    }
}

fn hash(secret: &str) -> KeyHash {
    KeyHash(Sha256::digest(secret).into())
}

/// The live keys. Cheap to clone; clones share them.
#[derive(Debug, Clone, Default)]
pub struct Keyring(Arc<Shared>);

#[derive(Debug, Default)]
struct Shared {
    live: RwLock<Vec<Arc<Key>>>,
    /// Held from before a change in the store until it is made here: of two changes the later one stands in both.
    changing: Mutex<()>,
}

impl Keyring {
    /// With the live ones of these.
    pub fn new(keys: Vec<Key>) -> Self {
        let live = keys.into_iter().filter(Key::is_live).map(Arc::new).collect();
        Self(Arc::new(Shared { live: RwLock::new(live), changing: Mutex::default() }))
    }

    /// The live key that this is the secret of. Every key is looked at to its end, so that the time taken tells nothing.
    pub(crate) fn holder(&self, shown: &str) -> Option<Arc<Key>> {
        if shown.len() != SECRET_CHARS {
            return None;
        }
        let hash = hash(shown);
        let live = self.0.live.read().unwrap_or_else(PoisonError::into_inner);
        live.iter()
            .fold(None, |found, key| if bool::from(key.hash.0.ct_eq(&hash.0)) { Some(Arc::clone(key)) } else { found })
    }

    /// Keeps a new key and lets it in.
    pub(crate) async fn add(&self, store: &Store, key: Key, change: Change) -> Result<(), StoreError> {
        let (ring, store) = (self.clone(), store.clone());
        to_its_end(async move {
            let _changing = ring.0.changing.lock().await;
            store.add_key(&key, &change).await?;
            ring.0.live.write().unwrap_or_else(PoisonError::into_inner).push(Arc::new(key));
            Ok(())
        })
        .await
    }

    /// Revokes a key and lets it in no more.
    pub(crate) async fn revoke(&self, store: &Store, id: Uuid, change: Change) -> Result<RevokeOutcome, StoreError> {
        let (ring, store) = (self.clone(), store.clone());
        to_its_end(async move {
            let _changing = ring.0.changing.lock().await;
            let outcome = store.revoke_key(id, &change).await?;
            if matches!(outcome, RevokeOutcome::Revoked | RevokeOutcome::RevokedBefore) {
                ring.0.live.write().unwrap_or_else(PoisonError::into_inner).retain(|key| key.id != id);
            }
            Ok(outcome)
        })
        .await
    }
}

/// Runs on when the caller goes away: a key revoked in the store must not stay in memory.
async fn to_its_end<T: Send + 'static>(
    change: impl Future<Output = Result<T, StoreError>> + Send + 'static,
) -> Result<T, StoreError> {
    tokio::spawn(change).await.unwrap_or_else(|error| Err(StoreError::Other(error.to_string())))
}

#[cfg(test)]
mod tests {
    use chrono::DateTime;
    use longlay_records::key::{KeyName, Scope};

    use super::*;

    fn key(n: u128, secret: &Secret) -> Key {
        Key {
            id: Uuid::from_u128(n),
            name: KeyName::new(format!("key {n}")).unwrap(),
            scopes: [Scope::GisRead].into(),
            created_at: DateTime::UNIX_EPOCH,
            revoked_at: None,
            hash: secret.hash(),
        }
    }

    #[test]
    fn what_is_kept_of_a_secret_is_its_sha_256() {
        // The digest of "abc" that FIPS 180-4's examples give.
        let expected: [u8; 32] = [
            0xba, 0x78, 0x16, 0xbf, 0x8f, 0x01, 0xcf, 0xea, 0x41, 0x41, 0x40, 0xde, 0x5d, 0xae, 0x22, 0x23, 0xb0, 0x03,
            0x61, 0xa3, 0x96, 0x17, 0x7a, 0x9c, 0xb4, 0x10, 0xff, 0x61, 0xf2, 0x00, 0x15, 0xad,
        ];
        assert_eq!(hash("abc").0, expected);
    }

    #[test]
    fn a_secret_is_256_bits_marked_as_ours_and_never_the_same() {
        let (one, other) = (Secret::random().unwrap(), Secret::random().unwrap());
        assert_ne!(one.reveal(), other.reveal());
        let bits = one.reveal().strip_prefix("longlay_").unwrap();
        assert!(bits.len() == 64 && bits.bytes().all(|b| b.is_ascii_hexdigit()));
        assert!(!format!("{one:?}").contains(&bits[..4]));
    }

    #[test]
    fn only_the_whole_secret_of_a_live_key_tells_its_holder() {
        let secrets: Vec<_> = (0..3).map(|_| Secret::random().unwrap()).collect();
        let mut keys: Vec<_> = (0..).zip(&secrets).map(|(n, secret)| key(n, secret)).collect();
        keys[2].revoked_at = Some(DateTime::UNIX_EPOCH);
        let ring = Keyring::new(keys);
        let holder = |shown: &str| ring.holder(shown).map(|key| key.id.as_u128());
        assert_eq!(holder(secrets[0].reveal()), Some(0));
        assert_eq!(holder(secrets[1].reveal()), Some(1));
        assert_eq!(holder(secrets[2].reveal()), None, "revoked");
        let own = secrets[0].reveal();
        let upper = own.to_uppercase();
        for wrong in
            ["", "longlay_", &own[..own.len() - 1], &format!("{own}0"), &upper, Secret::random().unwrap().reveal()]
        {
            assert_eq!(holder(wrong), None);
        }
    }
}
