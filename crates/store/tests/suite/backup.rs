use std::fs::{self, File};
use std::future::poll_fn;
use std::path::{Path, PathBuf};
use std::pin::pin;
use std::task::Poll;

use longlay_records::author::Author;
use longlay_records::hydrant::Hydrant;
use longlay_records::key::Scope;
use longlay_store::{
    AuditEntry, CopyError, HydrantQuery, OpenError, OpenOptions, Store, Unsound, back_up, inspect, restore,
};
use sqlx::ConnectOptions;
use sqlx::sqlite::SqliteConnectOptions;

use crate::keys::key;
use crate::support::{Fresh, change, flow_test, fresh, full_hydrant, hydrant, id, now};

async fn town() -> Fresh {
    let db = fresh().await;
    db.store.put_hydrant(&full_hydrant("H-1"), &change()).await.unwrap();
    db.store.add_flow_test(&flow_test(1, "H-1"), &change()).await.unwrap();
    db
}

fn beside(db: &Fresh, name: &str) -> PathBuf {
    db.path.with_file_name(name)
}

async fn hydrants(path: &Path) -> Vec<Hydrant> {
    let store = Store::open(path, &OpenOptions::default()).await.unwrap();
    let found = store.hydrants(&HydrantQuery::default(), None, 10_000).await.unwrap();
    store.close().await;
    found
}

/// What lies in the folder of a database.
fn names(db: &Fresh) -> Vec<String> {
    let entries = fs::read_dir(db.path.parent().unwrap()).unwrap();
    let mut names: Vec<_> = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

#[tokio::test]
async fn a_copy_taken_while_the_store_is_open_holds_what_was_recorded() {
    let db = town().await;
    let to = beside(&db, "copy.db");
    let copied = back_up(&db.path, &to, false).await.unwrap();
    assert_eq!((copied.sound.hydrants, copied.sound.flow_tests), (1, 1));
    assert_eq!(copied.sound.schema, copied.sound.newest_schema);
    assert_eq!(copied.bytes, fs::metadata(&to).unwrap().len());
    assert_eq!(hydrants(&to).await, [full_hydrant("H-1")]);
    assert!(names(&db).iter().all(|name| !name.contains("partial")), "{:?}", names(&db));
}

#[cfg(unix)]
#[tokio::test]
async fn a_copy_is_its_owner_s_alone() {
    use std::os::unix::fs::PermissionsExt;
    let db = town().await;
    let to = beside(&db, "copy.db");
    back_up(&db.path, &to, false).await.unwrap();
    assert_eq!(fs::metadata(&to).unwrap().permissions().mode() & 0o777, 0o600);
}

#[tokio::test]
async fn a_file_that_is_there_is_replaced_only_by_force_and_never_the_database() {
    let db = town().await;
    let to = beside(&db, "copy.db");
    fs::write(&to, "mine").unwrap();
    assert_eq!(back_up(&db.path, &to, false).await, Err(CopyError::Exists(to.clone())));
    assert_eq!(fs::read_to_string(&to).unwrap(), "mine");
    back_up(&db.path, &to, true).await.unwrap();
    inspect(&to).await.unwrap();
    assert!(matches!(back_up(&db.path, &db.path, true).await, Err(CopyError::Itself(_))));
    assert!(matches!(restore(&db.path, &db.path, &change()).await, Err(CopyError::Itself(_))));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_copy_taken_under_writing_holds_the_first_of_the_records_without_a_gap() {
    let db = fresh().await;
    let store = db.store.clone();
    let writer = tokio::spawn(async move {
        for n in 0..400 {
            store.put_hydrant(&hydrant(&format!("H-{n:04}")), &change()).await.unwrap();
        }
    });
    let mut held = Vec::new();
    for n in 0..5 {
        let acknowledged = db.store.hydrants(&HydrantQuery::default(), None, 10_000).await.unwrap().len();
        let to = beside(&db, &format!("copy-{n}.db"));
        back_up(&db.path, &to, false).await.unwrap();
        held.push((to, acknowledged));
    }
    writer.await.unwrap();
    for (copy, acknowledged) in held {
        let target = copy.with_extension("restored");
        restore(&copy, &target, &change()).await.unwrap();
        let found = hydrants(&target).await;
        assert!(found.len() >= acknowledged, "{} of {acknowledged} acknowledged before", found.len());
        for (n, hydrant) in found.iter().enumerate() {
            assert_eq!(hydrant.id, id(&format!("H-{n:04}")), "a gap");
        }
    }
}

#[tokio::test]
async fn a_restored_database_is_the_copy_and_what_was_there_before_is_kept_with_its_log() {
    let db = town().await;
    let copy = beside(&db, "copy.db");
    back_up(&db.path, &copy, false).await.unwrap();
    db.store.put_hydrant(&hydrant("H-2"), &change()).await.unwrap();
    // As a kill would leave it: the last record is in the log alone, and the log lies beside the file.
    let left = tempfile::tempdir().unwrap();
    let path = left.path().join("town.db");
    fs::copy(&db.path, &path).unwrap();
    fs::copy(db.path.with_extension("db-wal"), path.with_extension("db-wal")).unwrap();
    let copied = restore(&copy, &path, &change()).await.unwrap();
    let kept = copied.kept.unwrap();
    assert_eq!(kept.file_name().unwrap(), "town.db.before-restore-20261125T083000Z");
    assert_eq!(hydrants(&path).await, [full_hydrant("H-1")]);
    assert_eq!(hydrants(&kept).await, [full_hydrant("H-1"), hydrant("H-2")]);
}

/// What a kill leaves: the file with all but its last record, and the log with that.
async fn killed() -> (tempfile::TempDir, PathBuf) {
    let db = town().await;
    sqlx::raw_sql("PRAGMA wal_checkpoint(TRUNCATE)").execute(&mut db.raw().await).await.unwrap();
    db.store.put_hydrant(&hydrant("H-2"), &change()).await.unwrap();
    let left = tempfile::tempdir().unwrap();
    let path = left.path().join("town.db");
    fs::copy(&db.path, &path).unwrap();
    fs::copy(with(&db.path, "-wal"), with(&path, "-wal")).unwrap();
    (left, path)
}

fn with(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    name.into()
}

#[tokio::test]
async fn a_log_without_its_database_is_kept_and_never_played_onto_the_restored_one() {
    let db = town().await;
    for n in 3..300 {
        db.store.put_hydrant(&hydrant(&format!("H-{n}")), &change()).await.unwrap();
    }
    let copy = beside(&db, "copy.db");
    back_up(&db.path, &copy, false).await.unwrap();
    let (_left, path) = killed().await;
    let log = fs::read(with(&path, "-wal")).unwrap();
    fs::rename(&path, path.with_file_name("moved.db")).unwrap();
    fs::write(with(&path, "-journal"), "of another").unwrap();
    let copied = restore(&copy, &path, &change()).await.unwrap();
    assert_eq!((copied.sound.hydrants, copied.kept), (298, None));
    assert_eq!(inspect(&path).await.unwrap().hydrants, 298);
    let kept = with(&path, ".before-restore-20261125T083000Z");
    assert_eq!(fs::read(with(&kept, "-wal")).unwrap(), log);
    assert_eq!(fs::read(with(&kept, "-journal")).unwrap(), b"of another");
    assert_eq!(hydrants(&path).await.len(), 298);
}

#[tokio::test]
async fn a_copy_that_replaces_another_is_not_read_with_the_log_of_that_one() {
    let db = fresh().await;
    for n in 0..300 {
        db.store.put_hydrant(&hydrant(&format!("N-{n}")), &change()).await.unwrap();
    }
    let (_left, old) = killed().await;
    back_up(&db.path, &old, true).await.unwrap();
    assert_eq!(inspect(&old).await.unwrap().hydrants, 300);
    assert!(["-wal", "-journal", "-shm"].iter().all(|suffix| !with(&old, suffix).exists()));

    let (_left, old) = killed().await;
    fs::remove_file(&old).unwrap();
    assert_eq!(back_up(&db.path, &old, false).await, Err(CopyError::Exists(with(&old, "-wal"))));
    assert!(with(&old, "-wal").exists() && !old.exists());
}

#[tokio::test]
async fn a_copy_never_replaces_a_database_that_is_served() {
    let (db, other) = (town().await, fresh().await);
    assert_eq!(back_up(&db.path, &other.path, true).await, Err(CopyError::InUse(other.path.clone())));
    other.store.close().await;
    back_up(&db.path, &other.path, true).await.unwrap();
    assert_eq!(hydrants(&other.path).await, [full_hydrant("H-1")]);
}

#[cfg(unix)]
#[tokio::test]
async fn a_restore_to_a_link_replaces_the_file_that_it_leads_to_and_keeps_that() {
    let db = town().await;
    let copy = beside(&db, "copy.db");
    back_up(&db.path, &copy, false).await.unwrap();
    let (left, real) = killed().await;
    let elsewhere = tempfile::tempdir().unwrap();
    let link = elsewhere.path().join("link.db");
    std::os::unix::fs::symlink(&real, &link).unwrap();
    let kept = restore(&copy, &link, &change()).await.unwrap().kept.unwrap();
    assert_eq!(fs::canonicalize(left.path()).unwrap(), kept.parent().unwrap());
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink() && !fs::symlink_metadata(&kept).unwrap().is_symlink());
    assert_eq!(hydrants(&real).await, [full_hydrant("H-1")]);
    assert_eq!(hydrants(&kept).await, [full_hydrant("H-1"), hydrant("H-2")]);
    fs::remove_file(&real).unwrap();
    assert!(matches!(restore(&copy, &link, &change()).await, Err(CopyError::Write { .. })), "it leads nowhere");
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
}

#[tokio::test]
async fn what_is_not_ours_is_not_put_aside() {
    let db = town().await;
    let copy = beside(&db, "copy.db");
    back_up(&db.path, &copy, false).await.unwrap();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("other.db");
    let refused = format!("{} is not a Longlay database", path.display());
    let told = async || restore(&copy, &path, &change()).await.map_err(|error| error.to_string());
    for statements in ["PRAGMA application_id = 7; CREATE TABLE diary (day TEXT)", "CREATE TABLE diary (day TEXT)"] {
        let _ = fs::remove_file(&path);
        let options = SqliteConnectOptions::new().filename(&path).create_if_missing(true);
        sqlx::raw_sql(statements).execute(&mut options.connect().await.unwrap()).await.unwrap();
        let before = fs::read(&path).unwrap();
        let told = told().await.unwrap_err();
        assert!(told.starts_with(&refused), "{told}");
        assert_eq!(fs::read(&path).unwrap(), before);
    }
    fs::write(&path, "a letter").unwrap();
    let letter = told().await.unwrap_err();
    assert!(letter.starts_with(&refused) && letter.contains("move it away"), "{letter}");
    assert_eq!(fs::read(&path).unwrap(), b"a letter");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is left beside it");
    fs::write(&path, "").unwrap();
    restore(&copy, &path, &change()).await.unwrap();
    assert_eq!(hydrants(&path).await, [full_hydrant("H-1")]);
}

async fn audit(path: &Path) -> Vec<AuditEntry> {
    let store = Store::open_reading(path).await.unwrap();
    let entries = store.audit(0, 100).await.unwrap();
    store.close().await;
    entries
}

#[tokio::test]
async fn a_restored_database_says_in_its_audit_from_which_file_and_neither_the_copy_nor_a_backup_does() {
    let db = town().await;
    let before = db.store.audit(0, 100).await.unwrap();
    let (copy, again) = (beside(&db, "town \"monday\".db"), beside(&db, "again.db"));
    back_up(&db.path, &copy, false).await.unwrap();
    let path = beside(&db, "restored.db");
    restore(&copy, &path, &change()).await.unwrap();
    let restored = AuditEntry {
        seq: before.last().unwrap().seq + 1,
        at: now(),
        author: Author::command_line(),
        request_id: None,
        action: "restore".to_owned(),
        kind: "database".to_owned(),
        record_id: None,
        record_version: None,
        detail: Some(r#"{"from":"town \"monday\".db"}"#.to_owned()),
    };
    let noted = [before.clone(), vec![restored]].concat();
    assert_eq!(audit(&path).await, noted);
    assert_eq!(audit(&copy).await, before);
    back_up(&path, &again, false).await.unwrap();
    assert_eq!((audit(&path).await, audit(&again).await), (noted.clone(), noted));
    assert!(names(&db).iter().all(|name| !name.contains("partial")), "{:?}", names(&db));
}

#[tokio::test]
async fn where_there_is_no_database_yet_one_restore_keeps_another_and_a_service_out() {
    let db = town().await;
    let copy = beside(&db, "copy.db");
    back_up(&db.path, &copy, false).await.unwrap();
    let path = beside(&db, "new.db");
    let change = change();
    let mut first = pin!(restore(&copy, &path, &change));
    // Begun, and no further.
    assert!(poll_fn(|context| Poll::Ready(first.as_mut().poll(context).is_pending())).await);
    assert_eq!(restore(&copy, &path, &change).await, Err(CopyError::InUse(path.clone())));
    let opened = Store::open(&path, &OpenOptions::default()).await;
    assert_eq!(opened.map(|_| ()), Err(OpenError::InUse { path: path.clone() }));
    assert!(!path.exists(), "whoever is kept out makes no file");
    assert_eq!(first.await.unwrap().kept, None);
    assert_eq!(hydrants(&path).await, [full_hydrant("H-1")]);
}

#[tokio::test]
async fn a_path_without_a_database_is_not_restored_to_while_another_has_its_lock() {
    let db = town().await;
    let copy = beside(&db, "copy.db");
    back_up(&db.path, &copy, false).await.unwrap();
    let path = beside(&db, "new.db");
    let lock = File::create(beside(&db, "new.db.lock")).unwrap();
    lock.lock().unwrap();
    assert_eq!(restore(&copy, &path, &change()).await, Err(CopyError::InUse(path.clone())));
    assert!(!path.exists());
    drop(lock);
    restore(&copy, &path, &change()).await.unwrap();
    let nowhere = path.join("no/such/folder/town.db");
    assert!(matches!(restore(&copy, &nowhere, &change()).await, Err(CopyError::Write { .. })));
}

/// The copy with a byte in each of its later pages turned over.
fn damage(path: &Path) {
    let mut bytes = fs::read(path).unwrap();
    for at in (4096 * 2..bytes.len()).step_by(4096) {
        for byte in &mut bytes[at..at + 64] {
            *byte ^= 0xff;
        }
    }
    fs::write(path, bytes).unwrap();
}

#[tokio::test]
async fn a_damaged_or_foreign_copy_is_refused_and_the_database_left_as_it_was() {
    let db = town().await;
    db.store.close().await;
    let before = fs::read(&db.path).unwrap();
    let copy = beside(&db, "copy.db");
    back_up(&db.path, &copy, false).await.unwrap();
    damage(&copy);
    let refused = restore(&copy, &db.path, &change()).await.unwrap_err();
    assert!(matches!(refused, CopyError::Unsound(Unsound::Damaged { .. })), "{refused:?}");
    fs::write(&copy, "not a database at all, and long enough to be looked at as if it were one\n".repeat(20)).unwrap();
    assert_eq!(restore(&copy, &db.path, &change()).await, Err(CopyError::Unsound(Unsound::NotOurs(copy.clone()))));
    fs::write(&copy, &before[..before.len() / 2]).unwrap();
    assert!(restore(&copy, &db.path, &change()).await.is_err(), "half a copy");
    fs::remove_file(&copy).unwrap();
    assert!(matches!(restore(&copy, &db.path, &change()).await, Err(CopyError::Unsound(Unsound::Unreadable { .. }))));
    assert_eq!(fs::read(&db.path).unwrap(), before);
    assert!(names(&db).iter().all(|name| !name.contains("partial") && !name.contains("before")), "{:?}", names(&db));
}

#[tokio::test]
async fn a_file_copied_by_hand_without_its_log_is_told_to_be_empty() {
    let db = town().await;
    let copy = beside(&db, "copy.db");
    fs::copy(&db.path, &copy).unwrap();
    let told = inspect(&copy).await.unwrap_err();
    assert_eq!(told, Unsound::Empty(copy.clone()));
    assert!(told.to_string().contains("-wal") && told.to_string().contains("longlay backup"), "{told}");
}

#[tokio::test]
async fn a_copy_into_a_folder_that_is_not_there_is_told_so() {
    let db = town().await;
    let folder = beside(&db, "copies");
    let told = back_up(&db.path, &folder.join("monday.db"), false).await.unwrap_err();
    assert_eq!(told, CopyError::NoFolder(folder.clone()));
    assert_eq!(told.to_string(), format!("the folder {} is not there: make it first", folder.display()));
}

#[tokio::test]
async fn a_restore_counts_the_keys_that_are_live_again() {
    let db = town().await;
    let copy = beside(&db, "copy.db");
    assert_eq!(back_up(&db.path, &copy, false).await.unwrap().live_keys, 0);
    let keys = [key(1, &[Scope::Admin]), key(2, &[Scope::RecordsRead]), key(3, &[Scope::GisRead])];
    for key in &keys {
        db.store.add_key(key, &change()).await.unwrap();
    }
    db.store.revoke_key(keys[2].id, &change()).await.unwrap();
    back_up(&db.path, &copy, true).await.unwrap();
    db.store.revoke_key(keys[1].id, &change()).await.unwrap();
    db.store.close().await;
    assert_eq!(restore(&copy, &db.path, &change()).await.unwrap().live_keys, 2);
}

#[tokio::test]
async fn a_database_that_is_served_is_not_replaced() {
    let db = town().await;
    let copy = beside(&db, "copy.db");
    back_up(&db.path, &copy, false).await.unwrap();
    assert_eq!(restore(&copy, &db.path, &change()).await, Err(CopyError::InUse(db.path.clone())));
    db.store.put_hydrant(&hydrant("H-2"), &change()).await.unwrap();
    db.store.close().await;
    assert_eq!(hydrants(&db.path).await, [full_hydrant("H-1"), hydrant("H-2")]);
}

#[tokio::test]
async fn a_damaged_database_can_be_replaced_and_is_kept() {
    let db = town().await;
    db.store.close().await;
    let copy = beside(&db, "copy.db");
    back_up(&db.path, &copy, false).await.unwrap();
    damage(&db.path);
    let broken = fs::read(&db.path).unwrap();
    assert!(inspect(&db.path).await.is_err());
    assert!(back_up(&db.path, &beside(&db, "other.db"), false).await.is_err(), "a damaged database makes no backup");
    let copied = restore(&copy, &db.path, &change()).await.unwrap();
    assert_eq!(hydrants(&db.path).await, [full_hydrant("H-1")]);
    assert_eq!(fs::read(copied.kept.unwrap()).unwrap(), broken);
}

#[tokio::test]
async fn every_record_of_a_sound_database_reads_and_one_that_no_longer_fits_is_named() {
    let db = town().await;
    let shipped = fresh().await.store.read_everything().await.unwrap();
    assert_eq!(db.store.read_everything().await, Ok(shipped + 2));
    sqlx::raw_sql("UPDATE hydrants SET main_diameter_in = 1e9").execute(&mut db.raw().await).await.unwrap();
    let told = db.store.read_everything().await.unwrap_err().to_string();
    assert!(told.contains("hydrants H-1"), "{told}");
    assert!(inspect(&db.path).await.is_ok(), "to SQLite it is sound");
}

#[tokio::test]
async fn a_key_that_no_service_starts_with_makes_the_file_unsound() {
    let db = town().await;
    let add = "INSERT INTO keys VALUES
        ('018bcfe5-6be8-7000-8000-000000000000', 'Tablet', '[\"everything:do\"]', zeroblob(32), '2026-01-01T00:00:00Z', NULL)";
    sqlx::raw_sql(add).execute(&mut db.raw().await).await.unwrap();
    let told = inspect(&db.path).await.unwrap_err().to_string();
    assert!(told.contains("keys 018bcfe5-6be8-7000-8000-000000000000"), "{told}");
    assert!(matches!(back_up(&db.path, &beside(&db, "copy.db"), false).await, Err(CopyError::Unsound(_))));
}

#[tokio::test]
async fn a_schema_that_is_not_what_its_version_made_is_named() {
    for (change, named) in [
        ("DROP TRIGGER keys_never_deleted", "trigger keys_never_deleted is missing"),
        ("DROP INDEX drill_uses_by_asset", "index drill_uses_by_asset is missing"),
        ("CREATE TRIGGER mine BEFORE INSERT ON hydrants BEGIN SELECT 1; END", "trigger mine is not of this program"),
        ("ALTER TABLE pumpers ADD COLUMN colour TEXT", "table pumpers was changed"),
    ] {
        let db = town().await;
        sqlx::raw_sql(change).execute(&mut db.raw().await).await.unwrap();
        let told = inspect(&db.path).await.unwrap_err();
        assert!(matches!(&told, Unsound::Schema { reason, .. } if reason.contains(named)), "{change}: {told}");
    }
    let db = town().await;
    sqlx::raw_sql("ANALYZE").execute(&mut db.raw().await).await.unwrap();
    inspect(&db.path).await.expect("what SQLite keeps for itself is no difference");
}

#[tokio::test]
async fn a_gap_in_the_audit_and_an_entry_without_an_author_are_found() {
    for (change, told) in [
        ("DELETE FROM audit WHERE seq = 2", "from 2 to 2 are gone"),
        ("DELETE FROM audit WHERE seq >= 2", "from 2 to 3 are gone"),
        ("UPDATE audit SET key_id = 'nobody' WHERE seq = 1", "audit 1"),
    ] {
        let db = town().await;
        db.store.put_hydrant(&hydrant("H-2"), &crate::support::change()).await.unwrap();
        db.store.read_everything().await.unwrap();
        let mut conn = db.raw().await;
        sqlx::raw_sql("DROP TRIGGER audit_never_deleted; DROP TRIGGER audit_never_edited")
            .execute(&mut conn)
            .await
            .unwrap();
        sqlx::raw_sql(change).execute(&mut conn).await.unwrap();
        let found = db.store.read_everything().await.unwrap_err().to_string();
        assert!(found.contains(told), "{change}: {found}");
    }
}

#[tokio::test]
async fn the_tests_of_a_retired_hydrant_are_read_too() {
    let db = town().await;
    let before = db.store.read_everything().await.unwrap();
    db.store.retire_hydrant(&id("H-1"), &change()).await.unwrap();
    assert_eq!(db.store.read_everything().await, Ok(before));
    let spoil = "DROP TRIGGER flow_tests_only_voided; UPDATE flow_tests SET tested_on = '2026-13-41'";
    sqlx::raw_sql(spoil).execute(&mut db.raw().await).await.unwrap();
    let told = db.store.read_everything().await.unwrap_err().to_string();
    assert!(told.contains("flow_tests"), "{told}");
}

/// Only root gives files away: where the tests are run by another, there is nothing to see.
#[cfg(unix)]
#[tokio::test]
async fn what_root_restores_belongs_to_whom_the_database_did() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
    let db = town().await;
    db.store.close().await;
    let copy = beside(&db, "copy.db");
    back_up(&db.path, &copy, false).await.unwrap();
    let by_root = fs::metadata(&copy).unwrap().uid() == 0;
    let owner = if by_root { 4321 } else { fs::metadata(&db.path).unwrap().uid() };
    fs::set_permissions(&db.path, fs::Permissions::from_mode(0o640)).unwrap();
    fs::remove_file(with(&db.path, ".lock")).unwrap();
    chown(&db.path, Some(owner), None).unwrap();
    restore(&copy, &db.path, &change()).await.unwrap();
    let restored = fs::metadata(&db.path).unwrap();
    assert_eq!(restored.uid(), owner);
    assert_eq!(restored.permissions().mode() & 0o777, if by_root { 0o640 } else { 0o600 });
    assert_eq!(fs::metadata(with(&db.path, ".lock")).unwrap().uid(), owner);
}

#[tokio::test]
async fn a_reference_that_leads_nowhere_is_found() {
    let db = town().await;
    let break_it = "PRAGMA foreign_keys = OFF; DELETE FROM hydrants WHERE id = 'H-1'";
    sqlx::raw_sql(break_it).execute(&mut db.raw().await).await.unwrap();
    match inspect(&db.path).await {
        Err(Unsound::Damaged { faults, .. }) => {
            assert!(faults.iter().any(|fault| fault.contains("hydrants")), "{faults:?}");
        }
        other => panic!("{other:?}"),
    }
}
