//! Keys: made once, revoked once, never deleted.

use longlay_records::key::{Key, KeyHash, KeyName, Scope};
use sqlx::SqliteConnection;
use sqlx::types::Json;
use uuid::Uuid;

use crate::audit::Action;
use crate::change::Change;
use crate::error::{RecordKind, StoreError, fault};
use crate::open::Store;
use crate::references::note;
use crate::rows::{Row, time_text};
use crate::town::Touched;

/// What came of revoking a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RevokeOutcome {
    /// It opens nothing any more.
    Revoked,
    /// It was revoked before.
    RevokedBefore,
    /// It is the last live one that can make and revoke keys, and was left as it is.
    LastAdmin,
    /// There is no such key.
    NotFound,
}

impl Store {
    /// Keeps a new key. No answer is kept with it, because that would hold its secret.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn add_key(&self, key: &Key, change: &Change) -> Result<(), StoreError> {
        let mut tx = self.write().await?;
        insert(&mut tx, key).await?;
        note(&mut tx, change, Action::Create, RecordKind::Key, &key.id.to_string()).await?;
        self.commit(tx, Touched::Nothing).await
    }

    /// Keys by ascending id, from behind `after`, at most `limit`; revoked ones too.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn keys(&self, after: Option<Uuid>, limit: u32) -> Result<Vec<Key>, StoreError> {
        let mut tx = self.read().await?;
        load(&mut tx, after, limit).await
    }

    /// One key, live or revoked.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn key(&self, id: Uuid) -> Result<Option<Key>, StoreError> {
        Ok(self.all_keys().await?.into_iter().find(|key| key.id == id))
    }

    /// Every key by ascending id, revoked ones too.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn all_keys(&self) -> Result<Vec<Key>, StoreError> {
        self.keys(None, u32::MAX).await
    }

    /// Revokes a key from now on.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn revoke_key(&self, id: Uuid, change: &Change) -> Result<RevokeOutcome, StoreError> {
        let mut tx = self.write().await?;
        let keys = load(&mut tx, None, u32::MAX).await?;
        let Some(key) = keys.iter().find(|key| key.id == id) else {
            return Ok(RevokeOutcome::NotFound);
        };
        if !key.is_live() {
            return Ok(RevokeOutcome::RevokedBefore);
        }
        if key.is_live_admin() && keys.iter().filter(|other| other.is_live_admin()).count() == 1 {
            return Ok(RevokeOutcome::LastAdmin);
        }
        let (id, now) = (id.to_string(), time_text(change.at));
        sqlx::query!("UPDATE keys SET revoked_at = ?2 WHERE id = ?1", id, now)
            .execute(&mut *tx)
            .await
            .map_err(fault)?;
        note(&mut tx, change, Action::Revoke, RecordKind::Key, &id).await?;
        self.commit(tx, Touched::Nothing).await?;
        Ok(RevokeOutcome::Revoked)
    }
}

async fn insert(conn: &mut SqliteConnection, key: &Key) -> Result<(), StoreError> {
    let (id, name, created_at) = (key.id.to_string(), key.name.as_str(), time_text(key.created_at));
    let scopes = Json(key.scopes.iter().map(|scope| scope.as_str()).collect::<Vec<_>>());
    let sha256 = key.hash.0.as_slice();
    let revoked_at = key.revoked_at.map(time_text);
    sqlx::query!(
        "INSERT INTO keys (id, name, scopes, sha256, created_at, revoked_at) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        id,
        name,
        scopes,
        sha256,
        created_at,
        revoked_at
    )
    .execute(conn)
    .await
    .map_err(fault)?;
    Ok(())
}

pub(crate) async fn load(conn: &mut SqliteConnection, after: Option<Uuid>, limit: u32) -> Result<Vec<Key>, StoreError> {
    let after = after.map(|id| id.to_string()).unwrap_or_default();
    let rows = sqlx::query_as!(
        KeyRow,
        r#"SELECT id, name, scopes AS "scopes: Json<Vec<String>>", sha256, created_at, revoked_at FROM keys
           WHERE id > ?1 ORDER BY id LIMIT ?2"#,
        after,
        limit
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    rows.into_iter().map(KeyRow::key).collect()
}

struct KeyRow {
    id: String,
    name: String,
    scopes: Json<Vec<String>>,
    sha256: Vec<u8>,
    created_at: String,
    revoked_at: Option<String>,
}

impl KeyRow {
    fn key(self) -> Result<Key, StoreError> {
        let row = Row::of("keys", &self.id);
        let hash = <[u8; 32]>::try_from(self.sha256).map_err(|_| row.corrupt("its hash is no SHA-256"))?;
        Ok(Key {
            id: row.uuid(&self.id)?,
            name: row.good(KeyName::new(self.name))?,
            scopes: self.scopes.iter().map(|scope| row.good(scope.parse::<Scope>())).collect::<Result<_, _>>()?,
            created_at: row.time(&self.created_at)?,
            revoked_at: row.maybe(self.revoked_at, |at| at.parse())?,
            hash: KeyHash(hash),
        })
    }
}
