//! `coverage` from the shell, as an analyst starts it.

use std::fs;

use crate::binary_keys::keys;
use crate::{database, refused, run};

/// Files that make a hydrant with a test, and two places north of it: one near, one past the hose that is carried.
const FILES: [(&str, &str); 4] = [
    ("hydrants", "hydrant_id,lon,lat,elevation_ft,owner,potable,in_service\nH-1,-30,40,100,public,yes,yes\n"),
    ("flow-tests", "hydrant_id,tested_on,static_psi,residual_psi,flow_gpm\nH-1,2026-05-01,70,60,1200\n"),
    ("lay-profiles", "id,name,hydrant_valve_id,hose_type_id,lines,carried_ft\nfive,Five,std-four-way,std-5in,1,1000\n"),
    (
        "demand-points",
        "demand_point_id,lon,lat,elevation_ft,needed_flow_gpm\nB-far,-30,40.0035,100,300\nB-near,-30,40.001,100,300\n",
    ),
];

async fn town(folder: &tempfile::TempDir) -> String {
    let database = database(folder);
    keys("list", &database, &[]).await;
    for (kind, text) in FILES {
        let file = folder.path().join(format!("{kind}.csv"));
        fs::write(&file, text).unwrap();
        let output =
            run(&["import", kind, file.to_str().unwrap(), "--database", &database, "--allow-network-folder"]).await;
        assert!(output.status.success(), "{kind}: {}", String::from_utf8_lossy(&output.stderr));
    }
    database
}

#[tokio::test]
async fn a_run_from_the_shell_tells_causes_and_remedies_and_writes_every_point() {
    let folder = tempfile::tempdir().unwrap();
    let database = town(&folder).await;
    let out = folder.path().join("coverage.csv");
    let ask = ["coverage", "--database", &database, "--lay-profile", "five", "--out", out.to_str().unwrap()];
    let output = run(&ask).await;
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let count = |cause: &str| {
        let line = said.lines().find(|line| line.split_whitespace().next() == Some(cause)).unwrap();
        line.split_whitespace().last().unwrap().to_owned()
    };
    assert_eq!((count("covered"), count("beyond_hose")), ("1".to_owned(), "1".to_owned()), "{said}");
    assert!(said.contains("no streets were imported") && said.contains("Gauges at the pump govern"), "{said}");
    // 0.0035 degrees are 1275 ft, times 1.4 some 1785 of hose.
    assert!(said.contains("1. Carry 1800 ft of hose in all: closes 1 of 1 gaps."), "{said}");
    let table = fs::read_to_string(&out).unwrap();
    assert_eq!(
        table.lines().map(|line| line.split(',').next().unwrap()).skip(1).collect::<Vec<_>>(),
        ["B-far", "B-near"]
    );
    refused(&ask, 2, "is there already").await;
    let none = run(&["coverage", "--database", &database, "--lay-profile", "five", "--remedies", "0"]).await;
    assert!(!String::from_utf8(none.stdout).unwrap().contains("What closes most gaps"));
    refused(&["coverage", "--database", &database, "--lay-profile", "six"], 1, "there is no lay profile six").await;
}
