//! Spreadsheets that are wholly known from one number, so that a half of one cannot pass for the whole; and which of them are there.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};

use crate::bodies;
use crate::server::Server;

/// Rows of a sheet.
pub(crate) const ROWS: u64 = 50;
/// Tests of one hydrant are told apart by their sheets up to this many.
const MOST_SHEETS: u64 = 400;

/// A place of its own for the hydrants of one sender in one era: each sheet of them stands in the place of the one before.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Ward {
    pub(crate) era: u64,
    pub(crate) sender: u64,
}

impl Ward {
    /// The hydrant of this row.
    pub(crate) fn hydrant(self, row: u64) -> String {
        format!("W{}-{}-{row:03}", self.era, self.sender)
    }

    /// Away from where `bodies::hydrant` puts others.
    fn place(self) -> (u64, u64) {
        (10 + self.era, 50 + 5 * self.sender)
    }

    fn record(self, number: u64, row: u64) -> Value {
        let mut body = bodies::hydrant(number * ROWS + row);
        let (lon, lat) = self.place();
        body["location"] = json!({ "lon": float(lon), "lat": float(lat) });
        body["description"] = json!(number_of(number));
        body
    }

    /// The sheet of hydrants of this number.
    pub(crate) fn sheet(self, number: u64) -> String {
        const PLAIN: [&str; 10] = [
            "elevation_ft",
            "body_loss_coefficient",
            "main_id",
            "main_diameter_in",
            "pressure_zone",
            "owner",
            "potable",
            "seasonal",
            "in_service",
            "description",
        ];
        let (lon, lat) = self.place();
        let row = |row| {
            let record = self.record(number, row);
            let outlets = cells(&record["outlets"], ["kind", "diameter_in", "coefficient"]);
            let plain = PLAIN.map(|name| cell(&record[name])).join(",");
            format!("{},{lon},{lat},{outlets},{plain}\n", self.hydrant(row))
        };
        format!("hydrant_id,lon,lat,outlets,{}\n", PLAIN.join(",")) + &(0..ROWS).map(row).collect::<String>()
    }

    /// Which sheet's hydrants are there: all of one, or none at all.
    pub(crate) async fn standing(self, server: &Server) -> Option<u64> {
        let (lon, lat) = self.place();
        let around = format!("{}.5,{}.5,{lon}.5,{lat}.5", lon - 1, lat - 1);
        let there = server.all(&format!("/v1/hydrants?bbox={around}&limit=1000")).await;
        let number = number_in(&there.first()?["description"]);
        assert_eq!(there.len() as u64, ROWS, "half of sheet {number} of hydrants");
        for (row, record) in (0..).zip(&there) {
            assert_eq!(record["hydrant_id"], self.hydrant(row));
            let sent = self.record(number, row);
            assert!(bodies::says(record, &sent), "half of sheet {number}: {record} is not {sent}");
        }
        Some(number)
    }

    fn test(self, number: u64, row: u64) -> Value {
        let mut test = json!({
            "tested_on": format!("2025-{:02}-{:02}", 1 + row % 12, 1 + row % 28),
            "static_psi": 60.0, "residual_psi": 10.0 + float(row) / 16.0,
            "flow_hydrant_ids": [self.hydrant(row)], "notes": number_of(number),
        });
        let read = float(number % MOST_SHEETS) / 16.0;
        if row.is_multiple_of(2) {
            test["flow_gpm"] = json!(100.0 + read);
        } else {
            let outlet = |pitot_psi: f64| json!({ "diameter_in": 2.5, "coefficient": 0.75, "pitot_psi": pitot_psi });
            test["outlets"] = json!([outlet(5.0 + read), outlet(6.0 + read)]);
        }
        test
    }

    /// The sheet of tests of this number, all with their gauge on one hydrant.
    pub(crate) fn tests(self, number: u64, gauge: &str) -> String {
        const PLAIN: [&str; 5] = ["tested_on", "static_psi", "residual_psi", "flow_gpm", "notes"];
        let row = |row| {
            let test = self.test(number, row);
            let outlets = cells(&test["outlets"], ["diameter_in", "coefficient", "pitot_psi"]);
            let plain = PLAIN.map(|name| cell(&test[name])).join(",");
            format!("{gauge},{outlets},{},{plain}\n", cell(&test["flow_hydrant_ids"][0]))
        };
        format!("hydrant_id,outlets,flow_hydrant_ids,{}\n", PLAIN.join(",")) + &(0..ROWS).map(row).collect::<String>()
    }

    /// Which sheets' tests are there: all of each, each once, and nothing beside.
    pub(crate) async fn recorded(self, server: &Server, gauge: &str) -> BTreeSet<u64> {
        let mut sheets: BTreeMap<u64, Vec<Value>> = BTreeMap::new();
        for test in server.all(&format!("/v1/hydrants/{gauge}/flow-tests?limit=1000")).await {
            sheets.entry(number_in(&test["notes"])).or_default().push(test);
        }
        for (number, tests) in &mut sheets {
            assert_eq!(tests.len() as u64, ROWS, "half of sheet {number} of tests at {gauge}");
            tests.sort_by(|a, b| a["residual_psi"].as_f64().partial_cmp(&b["residual_psi"].as_f64()).expect("numbers"));
            for (row, test) in (0..).zip(tests) {
                let sent = self.test(*number, row);
                assert!(bodies::says(test, &sent), "half of sheet {number}: {test} is not {sent}");
            }
        }
        sheets.into_keys().collect()
    }
}

#[expect(clippy::cast_precision_loss, reason = "small whole numbers")]
const fn float(number: u64) -> f64 {
    number as f64
}

fn number_of(number: u64) -> String {
    format!("sheet {number}")
}

fn number_in(text: &Value) -> u64 {
    let number = text.as_str().and_then(|text| text.strip_prefix("sheet "));
    number.and_then(|number| number.parse().ok()).unwrap_or_else(|| panic!("{text} was never sent"))
}

fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

fn cells(values: &Value, names: [&str; 3]) -> String {
    let items = values.as_array().map(Vec::as_slice).unwrap_or_default();
    items.iter().map(|item| names.map(|name| cell(&item[name])).join(" ")).collect::<Vec<_>>().join("; ")
}
