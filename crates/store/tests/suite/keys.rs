//! Keys: revoked once, never edited, never deleted, and never the last that can make others.

use longlay_records::author::Author;
use longlay_records::key::{Key, KeyHash, KeyName, Scope};
use longlay_store::{Change, OpenOptions, RevokeOutcome, Store};
use uuid::Uuid;

use crate::support::{Fresh, fresh, now};

pub(crate) fn key(n: u8, scopes: &[Scope]) -> Key {
    Key {
        id: Uuid::from_u128(n.into()),
        name: KeyName::new(format!("key {n}")).unwrap(),
        scopes: scopes.iter().copied().collect(),
        created_at: now(),
        revoked_at: None,
        hash: KeyHash([n; 32]),
    }
}

fn change() -> Change {
    Change::by(Author::command_line(), now())
}

async fn with(keys: &[Key]) -> Fresh {
    let db = fresh().await;
    for key in keys {
        db.store.add_key(key, &change()).await.unwrap();
    }
    db
}

#[tokio::test]
async fn a_key_comes_back_as_it_was_kept() {
    let kept = [key(1, &Scope::ALL), key(2, &[Scope::GisRead])];
    let db = with(&kept).await;
    assert_eq!(db.store.all_keys().await.unwrap(), kept);
    assert_eq!(db.store.keys(Some(kept[0].id), 10).await.unwrap(), kept[1..]);
    assert_eq!(db.store.keys(None, 1).await.unwrap(), kept[..1]);
    assert_eq!(db.store.key(kept[1].id).await.unwrap().as_ref(), Some(&kept[1]));
    assert_eq!(db.store.key(Uuid::from_u128(9)).await, Ok(None));
}

#[tokio::test]
async fn a_revoked_key_is_kept_with_the_time() {
    let db = with(&[key(1, &[Scope::Admin]), key(2, &[Scope::GisRead])]).await;
    let revoke = async |n: u128| db.store.revoke_key(Uuid::from_u128(n), &change()).await.unwrap();
    assert_eq!(revoke(2).await, RevokeOutcome::Revoked);
    assert_eq!(revoke(2).await, RevokeOutcome::RevokedBefore);
    assert_eq!(revoke(3).await, RevokeOutcome::NotFound);
    let revoked = Key { revoked_at: Some(now()), ..key(2, &[Scope::GisRead]) };
    assert_eq!(db.store.key(revoked.id).await, Ok(Some(revoked)));
}

#[tokio::test]
async fn one_of_two_admins_revoked_at_once_stays() {
    let db = with(&[key(1, &[Scope::Admin]), key(2, &[Scope::Admin, Scope::GisRead]), key(3, &[Scope::GisRead])]).await;
    let change = change();
    let (one, other) = tokio::join!(
        db.store.revoke_key(Uuid::from_u128(1), &change),
        db.store.revoke_key(Uuid::from_u128(2), &change)
    );
    let outcomes = [one.unwrap(), other.unwrap()];
    assert!(outcomes.contains(&RevokeOutcome::Revoked) && outcomes.contains(&RevokeOutcome::LastAdmin), "{outcomes:?}");
    assert_eq!(db.store.all_keys().await.unwrap().iter().filter(|key| key.is_live_admin()).count(), 1);
}

#[tokio::test]
async fn a_key_is_never_edited_deleted_nor_given_back() {
    let db = with(&[key(1, &[Scope::Admin]), key(2, &[Scope::GisRead])]).await;
    db.store.revoke_key(Uuid::from_u128(2), &change()).await.unwrap();
    let before = db.store.all_keys().await.unwrap();
    let mut conn = db.raw().await;
    for sql in [
        "UPDATE keys SET revoked_at = NULL",
        "UPDATE keys SET revoked_at = '2027-01-01T00:00:00Z' WHERE revoked_at IS NOT NULL",
        "UPDATE keys SET scopes = '[\"gis:read\"]', revoked_at = 'x' WHERE revoked_at IS NULL",
        "UPDATE keys SET name = 'other'",
        "UPDATE keys SET sha256 = zeroblob(32)",
        "DELETE FROM keys",
        "INSERT OR REPLACE INTO keys SELECT id, name, '[\"admin\"]', zeroblob(32), created_at, NULL FROM keys",
        "INSERT OR REPLACE INTO keys SELECT 'x' || substr(id, 2), name, scopes, sha256, created_at, NULL FROM keys",
    ] {
        let said = sqlx::raw_sql(sql).execute(&mut conn).await.expect_err(sql).to_string();
        assert!(said.contains("a key is never"), "{sql}: {said}");
    }
    assert_eq!(db.store.all_keys().await.unwrap(), before);
}

#[tokio::test]
async fn keys_are_there_after_a_restart() {
    let db = with(&[key(1, &[Scope::Admin])]).await;
    db.store.close().await;
    let again = Store::open(&db.path, &OpenOptions::default()).await.unwrap();
    assert_eq!(again.all_keys().await.unwrap(), [key(1, &[Scope::Admin])]);
}
