//! `export` and `import`, started as their users start them.

use std::collections::BTreeSet;
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::Output;
use std::time::Duration;

use tokio::io::AsyncReadExt;
use tokio::process::{Child, Command};
use tokio::time::{Instant, sleep, timeout};

use crate::binary_keys::{Serving, keys};
use crate::{database, longlay, refused, run};

const HEADER: &str = "hydrant_id,lon,lat,owner,potable,in_service,description";

/// A database with so many hydrants, of which each takes some 2 kB.
async fn town(folder: &tempfile::TempDir, hydrants: usize) -> String {
    let (database, file) = (database(folder), folder.path().join("given.csv"));
    let filler = "é".repeat(1000);
    let rows: Vec<_> = (0..hydrants).map(|n| format!("H-{n:05},-90,40,public,yes,yes,{filler}")).collect();
    fs::write(&file, format!("{HEADER}\n{}\n", rows.join("\n"))).unwrap();
    keys("list", &database, &[]).await;
    import("hydrants", file.to_str().unwrap(), &database).await;
    database
}

async fn import(kind: &str, file: &str, database: &str) {
    let output = run(&["import", kind, file, "--database", database, "--allow-network-folder"]).await;
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

async fn export(database: &str, more: &[&str]) -> Output {
    run(&[&["export", "hydrants", "--database", database], more].concat()).await
}

fn names(folder: &Path) -> BTreeSet<String> {
    fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
}

async fn interrupt(child: &Child) {
    let id = child.id().unwrap().to_string();
    assert!(Command::new("kill").args(["-INT", &id]).status().await.unwrap().success());
}

/// That it ends soon, saying that it was told to.
async fn breaks_off(mut child: Child) {
    let told = Instant::now();
    let status = timeout(Duration::from_secs(20), child.wait()).await.unwrap().unwrap();
    let mut said = String::new();
    child.stderr.take().unwrap().read_to_string(&mut said).await.unwrap();
    assert!(status.code() == Some(1) && said.contains("told to stop before the end"), "{status} {said}");
    assert!(told.elapsed() < Duration::from_secs(10), "{:?}", told.elapsed());
}

#[tokio::test]
async fn what_is_written_to_files_comes_in_again_and_is_written_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let first = town(&folder, 700).await;
    let second = folder.path().join("second.db").to_str().unwrap().to_owned();
    keys("list", &second, &[]).await;
    for form in ["csv", "geojson"] {
        let out = |name: &str| folder.path().join(format!("{name}.{form}")).to_str().unwrap().to_owned();
        let (before, after) = (out("before"), out("after"));
        let output = export(&first, &["--format", form, "--out", &before]).await;
        let (said, told) = (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap());
        assert!(output.status.success() && said.trim_end().ends_with("bytes, 700 hydrants"), "{said}{told}");
        assert!(told.is_empty(), "no bar where nobody looks: {told}");
        import("hydrants", &before, &second).await;
        assert!(export(&second, &["--format", form, "--out", &after]).await.status.success());
        let bytes = fs::read(&before).unwrap();
        assert!(bytes == fs::read(&after).unwrap() && bytes.len() > 700 * 2000, "{form}");
        assert_eq!(fs::metadata(&before).unwrap().permissions().mode() & 0o777, 0o600, "as the database");
        assert_eq!(export(&first, &["--format", form]).await.stdout, bytes, "standard output is given the same");
    }
}

#[tokio::test]
async fn beside_a_running_service_the_same_is_written_as_by_it() {
    let folder = tempfile::tempdir().unwrap();
    let database = town(&folder, 3).await;
    let key = keys("create", &database, &["--name", "Map", "--scopes", "gis:export"]).await;
    let serving = Serving::start(&database, &[]).await;
    for form in ["csv", "geojson", "ndjson"] {
        let url = format!("http://{}/v1/exports/hydrants?format={form}", serving.address);
        let served = reqwest::Client::new().get(url).bearer_auth(key.trim_end()).send().await.unwrap();
        let served = served.error_for_status().unwrap().bytes().await.unwrap();
        assert_eq!(export(&database, &["--format", form]).await.stdout, served, "{form}");
    }
    serving.stop().await;
}

#[tokio::test]
async fn no_file_is_replaced_unless_it_is_said_and_the_database_never() {
    let folder = tempfile::tempdir().unwrap();
    let database = town(&folder, 1).await;
    let to = folder.path().join("hydrants.csv").to_str().unwrap().to_owned();
    fs::write(&to, "another's").unwrap();
    let there = names(folder.path());
    let arguments = ["export", "hydrants", "--database", &database, "--out", &to];
    refused(&arguments, 2, "--force to replace it").await;
    assert_eq!((fs::read_to_string(&to).unwrap().as_str(), names(folder.path())), ("another's", there));
    assert!(export(&database, &["--out", &to, "--force"]).await.status.success());
    assert!(fs::read_to_string(&to).unwrap().starts_with("hydrant_id,"));
    let over = ["export", "hydrants", "--database", &database, "--out", &database, "--force"];
    refused(&over, 2, "is the database itself").await;
    assert!(run(&["check", "--database", &database]).await.status.success());
}

#[tokio::test]
async fn what_cannot_be_written_out_is_told_by_the_exit_code() {
    let folder = tempfile::tempdir().unwrap();
    let database = town(&folder, 1).await;
    refused(&["export", "pumpers", "--database", &database, "--format", "geojson"], 2, "no place on a map").await;
    let nowhere = folder.path().join("no-folder").join("a.csv").to_str().unwrap().to_owned();
    refused(&["export", "hydrants", "--database", &database, "--out", &nowhere], 4, "no-folder").await;
    let missing = folder.path().join("no.db").to_str().unwrap().to_owned();
    refused(&["export", "hydrants", "--database", &missing], 5, "there is no database").await;
    assert!(!Path::new(&missing).exists());
    assert_eq!(run(&["export", "engines", "--database", &database]).await.status.code(), Some(2));
}

#[tokio::test]
async fn an_interrupt_ends_it_soon_although_nobody_reads_what_it_writes() {
    let folder = tempfile::tempdir().unwrap();
    let database = town(&folder, 1500).await;
    let mut child = longlay(&["export", "hydrants", "--database", &database]).spawn().unwrap();
    let mut first = [0; 10];
    child.stdout.as_mut().unwrap().read_exact(&mut first).await.unwrap();
    sleep(Duration::from_millis(300)).await;
    assert!(child.try_wait().unwrap().is_none(), "a pipe does not hold all of it");
    interrupt(&child).await;
    breaks_off(child).await;
}

#[tokio::test]
async fn an_interrupt_leaves_no_half_file() {
    let folder = tempfile::tempdir().unwrap();
    let database = town(&folder, 2500).await;
    let to = folder.path().join("out").join("hydrants.csv");
    fs::create_dir(to.parent().unwrap()).unwrap();
    let arguments = ["export", "hydrants", "--database", &database, "--out", to.to_str().unwrap()];
    let mut child = longlay(&arguments).spawn().unwrap();
    for _ in 0..4000 {
        if !names(to.parent().unwrap()).is_empty() {
            break;
        }
        sleep(Duration::from_millis(5)).await;
    }
    assert!(!to.exists() && child.try_wait().unwrap().is_none(), "it is under way");
    interrupt(&child).await;
    breaks_off(child).await;
    assert!(names(to.parent().unwrap()).is_empty());
}

#[tokio::test]
async fn a_reader_that_has_enough_is_no_failure() {
    let folder = tempfile::tempdir().unwrap();
    let database = town(&folder, 1500).await;
    let mut child = longlay(&["export", "hydrants", "--database", &database]).spawn().unwrap();
    let mut first = [0; 10];
    let mut stdout = child.stdout.take().unwrap();
    stdout.read_exact(&mut first).await.unwrap();
    drop(stdout);
    assert!(timeout(Duration::from_secs(20), child.wait()).await.unwrap().unwrap().success());
}
