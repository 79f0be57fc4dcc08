use std::fs;
use std::path::Path;
use std::task::Poll;
use std::time::Duration;

use longlay_store::{HydrantQuery, OpenError, OpenOptions, Put, Store, StoreError, is_served};
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions, Connection};

use crate::support::{change, flow_test, fresh, full_hydrant, hydrant, id};

async fn refused(path: &Path) -> OpenError {
    Store::open(path, &OpenOptions::default()).await.expect_err("must not open")
}

#[tokio::test]
async fn records_survive_closing_and_opening() {
    let db = fresh().await;
    db.store.put_hydrant(&full_hydrant("H-1"), &change()).await.unwrap();
    db.store.ping().await.unwrap();
    db.store.close().await;
    let wal = db.path.with_extension("db-wal");
    assert!(!wal.exists() || fs::metadata(&wal).unwrap().len() == 0, "the log is folded in");
    assert!(db.store.ping().await.is_err(), "a closed store is not ready");

    let again = Store::open(&db.path, &OpenOptions::default()).await.unwrap();
    assert_eq!(again.hydrant(&id("H-1")).await, Ok(Some(full_hydrant("H-1"))));
}

#[tokio::test]
async fn what_a_killed_process_committed_is_there() {
    let db = fresh().await;
    db.store.put_hydrant(&hydrant("H-1"), &change()).await.unwrap();
    // What a kill leaves behind: the file and its log, never closed.
    let left = tempfile::tempdir().unwrap();
    let path = left.path().join("longlay.db");
    fs::copy(&db.path, &path).unwrap();
    fs::copy(db.path.with_extension("db-wal"), path.with_extension("db-wal")).unwrap();
    let again = Store::open(&path, &OpenOptions::default()).await.unwrap();
    assert_eq!(again.hydrant(&id("H-1")).await, Ok(Some(hydrant("H-1"))));
}

#[cfg(unix)]
#[tokio::test]
async fn the_files_are_their_owner_s_alone() {
    use std::os::unix::fs::PermissionsExt;
    let db = fresh().await;
    db.store.put_hydrant(&hydrant("H-1"), &change()).await.unwrap();
    for extension in ["db", "db-wal", "db-shm", "db.lock"] {
        let mode = fs::metadata(db.path.with_extension(extension)).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600, "{extension}");
    }
}

#[tokio::test]
async fn a_path_that_cannot_be_made_is_refused_with_its_reason() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("file");
    fs::write(&file, "x").unwrap();
    for path in [file.join("a.db"), folder.path().join("missing").join("a.db"), folder.path().to_owned()] {
        match refused(&path).await {
            OpenError::CannotCreate { path: named, reason } => {
                assert_eq!(named, path);
                assert!(!reason.is_empty());
            }
            other => panic!("{}: {other:?}", path.display()),
        }
    }
}

#[tokio::test]
async fn a_file_that_is_no_database_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("notes.txt");
    for content in ["hydrant list\n".to_owned(), "x".repeat(10_000)] {
        fs::write(&path, &content).unwrap();
        assert_eq!(refused(&path).await, OpenError::NotADatabase { path: path.clone() });
        assert_eq!(fs::read_to_string(&path).unwrap(), content);
    }
}

#[tokio::test]
async fn another_program_s_database_is_refused_and_left_alone() {
    for sql in ["CREATE TABLE invoices (id INTEGER)", "PRAGMA application_id = 7"] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("other.db");
        let mut conn = SqliteConnectOptions::new().filename(&path).create_if_missing(true).connect().await.unwrap();
        sqlx::raw_sql(sql).execute(&mut conn).await.unwrap();
        conn.close().await.unwrap();
        let before = fs::read(&path).unwrap();
        assert_eq!(refused(&path).await, OpenError::NotOurs { path: path.clone() });
        assert_eq!(fs::read(&path).unwrap(), before);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "nothing was left beside it");
    }
}

#[tokio::test]
async fn a_newer_schema_is_refused() {
    let db = fresh().await;
    db.store.close().await;
    sqlx::raw_sql(
        "INSERT INTO _sqlx_migrations SELECT 9999, 'later', installed_on, 1, checksum, 0 FROM _sqlx_migrations LIMIT 1",
    )
    .execute(&mut db.raw().await)
    .await
    .unwrap();
    match refused(&db.path).await {
        OpenError::Newer { path, found, known } => {
            assert_eq!((path, found), (db.path.clone(), 9999));
            assert!((2..9999).contains(&known));
        }
        other => panic!("{other:?}"),
    }
}

#[tokio::test]
async fn asking_whether_it_is_served_makes_no_lock_and_takes_none() {
    let db = fresh().await;
    assert!(is_served(&db.path).unwrap());
    db.store.close().await;
    let lock = db.path.with_extension("db.lock");
    fs::remove_file(&lock).unwrap();
    assert!(!is_served(&db.path).unwrap());
    assert!(!lock.exists());
    let file = fs::File::create(&lock).unwrap();
    assert!(!is_served(&db.path).unwrap());
    file.lock_shared().unwrap();
    assert!(!is_served(&db.path).unwrap(), "another that asks is no service");
    drop(file);
    // No file can be opened where its name is that of a link to itself.
    fs::remove_file(&lock).unwrap();
    std::os::unix::fs::symlink(&lock, &lock).unwrap();
    let told = is_served(&db.path).unwrap_err().to_string();
    assert!(told.contains("longlay.db.lock"), "{told}");
}

#[tokio::test]
async fn a_lock_file_that_cannot_be_opened_is_named() {
    let db = fresh().await;
    db.store.close().await;
    let lock = db.path.with_extension("db.lock");
    fs::remove_file(&lock).unwrap();
    fs::create_dir(&lock).unwrap();
    let told = refused(&db.path).await;
    assert!(matches!(&told, OpenError::LockFile { path, .. } if *path == fs::canonicalize(&lock).unwrap()), "{told:?}");
    assert!(told.to_string().contains("Give it to the user that serves"), "{told}");
}

#[tokio::test]
async fn a_database_that_must_be_there_is_not_made() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("town.db");
    let opened = Store::open_there(&path, &OpenOptions::default()).await;
    assert_eq!(opened.map(|_| ()), Err(OpenError::Missing { path: path.clone() }));
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[tokio::test]
async fn a_second_opener_is_refused_until_the_first_is_closed() {
    let db = fresh().await;
    let in_use = OpenError::InUse { path: db.path.clone() };
    assert_eq!(refused(&db.path).await, in_use);
    let link = db.path.with_extension("link");
    std::os::unix::fs::symlink(&db.path, &link).unwrap();
    assert_eq!(refused(&link).await, OpenError::InUse { path: link }, "another name of the same file");
    db.store.put_hydrant(&hydrant("H-1"), &change()).await.unwrap();

    let clone = db.store.clone();
    db.store.close().await;
    let again = Store::open(&db.path, &OpenOptions::default()).await.expect("closed, though a clone is left");
    drop(clone);
    assert_eq!(refused(&db.path).await, in_use);
    assert_eq!(again.hydrant(&id("H-1")).await, Ok(Some(hydrant("H-1"))));
}

#[tokio::test]
async fn a_store_that_is_dropped_leaves_no_lock() {
    let db = fresh().await;
    let path = db.path.clone();
    let (store, _folder) = db.parts();
    drop(store);
    // The connections end on threads of their own, the lock with the store.
    Store::open(&path, &OpenOptions::default()).await.unwrap();
}

#[tokio::test]
async fn a_reader_reads_beside_a_writer_and_cannot_write() {
    let db = fresh().await;
    let reader = Store::open_reading(&db.path).await.unwrap();
    db.store.put_hydrant(&hydrant("H-1"), &change()).await.unwrap();
    assert_eq!(reader.hydrant(&id("H-1")).await, Ok(Some(hydrant("H-1"))));
    assert_eq!(reader.audit(0, 10).await.unwrap().len(), 1);
    assert_eq!(reader.put_hydrant(&hydrant("H-2"), &change()).await, Err(StoreError::ReadOnlyFile));
    reader.close().await;
    assert_eq!(db.store.put_hydrant(&hydrant("H-2"), &change()).await, Ok(Put::Created(1)));

    db.store.close().await;
    let alone = Store::open_reading(&db.path).await.unwrap();
    assert_eq!(alone.hydrant(&id("H-2")).await, Ok(Some(hydrant("H-2"))));
}

#[tokio::test]
async fn a_reader_makes_nothing_and_brings_nothing_up_to_date() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.db");
    let refused = async |path: &Path| Store::open_reading(path).await.expect_err("must not open");
    assert_eq!(refused(&path).await, OpenError::Missing { path: path.clone() });
    assert!(!path.exists());

    let db = fresh().await;
    db.store.close().await;
    sqlx::raw_sql("DELETE FROM _sqlx_migrations WHERE version > 4").execute(&mut db.raw().await).await.unwrap();
    match refused(&db.path).await {
        OpenError::Older { found: 4, needed, .. } => assert!(needed > 4),
        other => panic!("{other:?}"),
    }
    sqlx::raw_sql(
        "INSERT INTO _sqlx_migrations SELECT 9999, 'later', installed_on, 1, checksum, 0 FROM _sqlx_migrations LIMIT 1",
    )
    .execute(&mut db.raw().await)
    .await
    .unwrap();
    assert!(matches!(refused(&db.path).await, OpenError::Newer { found: 9999, .. }));
}

#[tokio::test]
async fn a_first_start_that_was_cut_short_is_finished() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.db");
    fs::write(&path, "").unwrap();
    Store::open(&path, &OpenOptions::default()).await.unwrap().ping().await.unwrap();
}

#[tokio::test]
async fn every_refusal_says_what_to_do() {
    let path = Path::new("/srv/longlay.db").to_owned();
    for (refusal, advice) in [
        (OpenError::CannotCreate { path: path.clone(), reason: "no".to_owned() }, "Give a path"),
        (OpenError::NotADatabase { path: path.clone() }, "Give the path"),
        (OpenError::NotOurs { path: path.clone() }, "Give the path"),
        (OpenError::Newer { path: path.clone(), found: 9, known: 2 }, "Run that version"),
        (OpenError::Older { path: path.clone(), found: 2, needed: 9 }, "Start `longlay serve`"),
        (OpenError::Missing { path: path.clone() }, "Give the path"),
        (OpenError::InUse { path: path.clone() }, "ask it over HTTP"),
        (OpenError::NetworkFolder { path, file_system: "a FUSE folder".to_owned() }, "Keep it on a local disk"),
        (OpenError::SqliteTooOld { found: "3.45.0".to_owned(), needed: "3.51.3".to_owned() }, "Build with"),
    ] {
        assert!(refusal.to_string().contains(advice), "{refusal}");
    }
}

#[tokio::test]
async fn a_disk_that_fails_to_read_is_told_and_passes_without_a_restart() {
    let db = fresh().await;
    db.store.close().await;
    let store = Store::open(&db.path, &OpenOptions::default()).await.unwrap();
    store.put_hydrant(&full_hydrant("H-1"), &change()).await.unwrap();
    // What was put lies in the log alone. Readers that look for it there meet its end, which SQLite tells as a failed read.
    let wal = db.path.with_extension("db-wal");
    let log = fs::read(&wal).unwrap();
    fs::write(&wal, []).unwrap();
    for _ in 0..3 {
        assert_eq!(store.evidence(&id("H-1")).await, Err(StoreError::ReadOnlyFile), "told as a disk that can pass");
    }
    fs::write(&wal, log).unwrap();
    assert_eq!(store.hydrant(&id("H-1")).await, Ok(Some(full_hydrant("H-1"))));
}

#[tokio::test]
async fn two_writers_at_once_both_succeed() {
    let db = fresh().await;
    let write = |store: Store, prefix: &'static str| async move {
        for n in 0..40 {
            let number = format!("{prefix}-{n}");
            store.put_hydrant(&full_hydrant(&number), &change()).await.unwrap();
        }
    };
    // Two tasks share the store's connection; a third has its own, as another program would.
    let mut raw = db.raw().await;
    let other = tokio::spawn(async move {
        for _ in 0..40 {
            sqlx::raw_sql("BEGIN IMMEDIATE; UPDATE hydrants SET description = 'seen'; COMMIT")
                .execute(&mut raw)
                .await
                .unwrap();
        }
    });
    for task in [tokio::spawn(write(db.store.clone(), "A")), tokio::spawn(write(db.store.clone(), "B")), other] {
        task.await.unwrap();
    }
    assert_eq!(db.store.hydrants(&HydrantQuery::default(), None, 1000).await.unwrap().len(), 80);
}

#[tokio::test]
async fn a_caller_who_gives_up_leaves_no_half_record_and_no_lock() {
    let db = fresh().await;
    db.store.put_hydrant(&full_hydrant("H-1"), &change()).await.unwrap();
    let (bare, full) = (hydrant("H-2"), full_hydrant("H-2"));
    let change = change();
    let mut given_up = 0;
    for patience in 1..=40 {
        // Polled so many times and then dropped: mostly one await further into the work each time.
        let record = if patience % 2 == 0 { &bare } else { &full };
        let mut put = Box::pin(db.store.put_hydrant(record, &change));
        let mut polls = 0;
        let finished = std::future::poll_fn(|context| {
            polls += 1;
            match put.as_mut().poll(context) {
                Poll::Pending if polls < patience => Poll::Pending,
                answer => Poll::Ready(answer.is_ready()),
            }
        });
        given_up += u32::from(!finished.await);
        drop(put);
        let found = db.store.hydrant(&bare.id).await.unwrap();
        assert!(found.is_none_or(|found| found == bare || found == full), "half a hydrant");
    }
    assert!(given_up > 0, "every put was faster than one poll");
    db.store.add_flow_test(&flow_test(1, "H-1"), &change).await.unwrap();
}

#[tokio::test]
async fn a_writer_waits_for_another_process_but_not_for_ever() {
    let db = fresh().await;
    let mut other = db.raw().await;
    sqlx::raw_sql("BEGIN IMMEDIATE").execute(&mut other).await.unwrap();
    assert_eq!(db.store.put_hydrant(&hydrant("H-1"), &change()).await, Err(StoreError::Busy));
    assert_eq!(db.store.hydrant(&id("H-1")).await, Ok(None), "readers do not wait for writers");

    let (record, change) = (hydrant("H-1"), change());
    let release = async {
        tokio::time::sleep(Duration::from_millis(300)).await;
        sqlx::raw_sql("ROLLBACK").execute(&mut other).await.unwrap();
    };
    let (put, ()) = tokio::join!(db.store.put_hydrant(&record, &change), release);
    assert_eq!(put, Ok(Put::Created(1)));
}
