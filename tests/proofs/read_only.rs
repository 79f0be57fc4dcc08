//! A folder or a file that cannot be written, as an unprivileged user meets it: told at the start in one line; and while running,
//! a refusal that passes when the file can be written again.

use std::fs::{self, Permissions};
use std::io::Write;
use std::os::unix::fs::{PermissionsExt, chown};
use std::path::Path;
use std::process::Command;

use crate::bodies;
use crate::ground::Ground;
use crate::server::{Server, Town, assert_sound};

const NOBODY: u32 = 65_534;
const UNPRIVILEGED: [&str; 4] = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups"];
const WRITES: u64 = 20;

pub(crate) async fn prove(ground: Ground) -> String {
    let rounds = ground.size(3, 30);
    let above = tempfile::tempdir().expect("a temporary folder");
    if let Err(reason) = possible(&above.path().join("probe")) {
        return format!("SKIPPED: {reason}");
    }
    let folder = above.path().join("town");
    fs::create_dir(&folder).expect("a folder");
    chown(&folder, Some(NOBODY), Some(NOBODY)).expect("a folder of nobody's");
    mode(&folder, 0o700);
    mode(above.path(), 0o755);
    let program = above.path().join("longlay");
    fs::copy(crate::ground::binary(), &program).expect("a copy that all may run");
    mode(&program, 0o755);
    run(Town::at(folder.join("town.db")).with_program(program), &folder, rounds).await
}

/// Whether this can be tried here: another user can be had, and the file system can freeze a file that is open.
fn possible(probe: &Path) -> Result<(), String> {
    let other = Command::new("setpriv").args(&UNPRIVILEGED[1..]).arg("true").status();
    if !other.is_ok_and(|status| status.success()) {
        return Err("not root, so no other user can be had".to_owned());
    }
    let mut file = fs::File::create(probe).expect("a file");
    let froze = Command::new("chattr").arg("+i").arg(probe).status().is_ok_and(|status| status.success());
    let written = file.write_all(b"x");
    let _ = Command::new("chattr").arg("-i").arg(probe).status();
    if froze && written.is_err() { Ok(()) } else { Err("no open file can be frozen on this file system".to_owned()) }
}

async fn run(mut town: Town, folder: &Path, rounds: u64) -> String {
    town.under = UNPRIVILEGED.map(str::to_owned).to_vec();
    mode(folder, 0o500);
    let mut refusals = vec![refusal(&town)];
    mode(folder, 0o700);
    town.start().stop();
    mode(&town.database, 0o400);
    refusals.push(refusal(&town));
    mode(&town.database, 0o600);
    mode(folder, 0o500);
    refusals.push(refusal(&town));
    mode(folder, 0o700);

    let server = town.start();
    let mut kept = 0;
    let mut refused = 0;
    for round in 0..rounds {
        kept += writes(&server, round, 0, 201).await;
        frozen(&town.database, true);
        refused += writes(&server, round, 1, 503).await;
        frozen(&town.database, false);
        kept += writes(&server, round, 2, 201).await;
        // Files that are open stay open: rights taken away later bind only who opens anew.
        mode(folder, 0o500);
        mode(&town.database, 0o400);
        kept += writes(&server, round, 3, 201).await;
        mode(&town.database, 0o600);
        mode(folder, 0o700);
    }
    let there = server.all("/v1/hydrants?limit=1000").await;
    assert_eq!(u64::try_from(there.len()).expect("a length"), kept, "hydrants acknowledged and no others");
    server.stop();
    assert_sound(&town.database);
    format!(
        "{} starts refused clearly, {rounds} times frozen while running: {refused} writes refused, {kept} acknowledged all there, \
         writing again each time",
        refusals.len()
    )
}

/// What it says where it cannot start: one line, with the path, and its own exit code.
fn refusal(town: &Town) -> String {
    let (ended, said) = town.refused();
    assert_eq!(ended.code(), Some(4), "{said}");
    let lines: Vec<_> = said.lines().filter(|line| line.starts_with("longlay: ")).collect();
    assert!(lines.len() == 1 && lines[0].contains("cannot create or write"), "{said}");
    said
}

/// Writes as many hydrants, each of which must be answered so; reading goes on beside it.
async fn writes(server: &Server, round: u64, part: u64, status: u16) -> u64 {
    for n in 0..WRITES {
        let reply = server.put(&format!("R{round}-{part}-{n}"), &bodies::hydrant(n)).await;
        assert_eq!(reply.status, status, "round {round} part {part}: {}", reply.json());
        assert_eq!(server.get("/v1/hydrants?limit=1").await.status, 200, "reading stopped");
    }
    WRITES
}

/// Lets nobody write to the files, not even who has them open.
fn frozen(database: &Path, frozen: bool) {
    for ending in ["", "-wal"] {
        let mut path = database.as_os_str().to_owned();
        path.push(ending);
        let how = if frozen { "+i" } else { "-i" };
        assert!(Command::new("chattr").arg(how).arg(path).status().expect("chattr").success());
    }
}

fn mode(path: &Path, mode: u32) {
    fs::set_permissions(path, Permissions::from_mode(mode)).expect("its rights are set");
}
