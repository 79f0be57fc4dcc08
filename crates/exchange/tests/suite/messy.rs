//! A department's own spreadsheets, with all that is wrong with them.

use longlay_exchange::fault::MOST_KEPT;
use longlay_exchange::read::{self, DateFormat, Reading, Source, Spoken};
use longlay_hydraulics::flow_test::MeasuredFlow;
use longlay_records::flow_test::FlowTest;
use longlay_records::hydrant::{Elevation, Hydrant, OutletKind};
use longlay_records::id::AssetId;

use crate::support::{csv, reading, told};

const HYDRANTS: &[u8] = include_bytes!("sheets/hydrants.csv");
const FLOW_TESTS: &[u8] = include_bytes!("sheets/flow_tests.csv");

#[test]
fn a_messy_sheet_of_hydrants_is_read() {
    let items = read::records::<Hydrant>(HYDRANTS, &reading(Source::Csv)).unwrap().items;
    let rows: Vec<_> = items.iter().map(|item| (item.row, item.record.id.as_str())).collect();
    assert_eq!(rows, [(2, "Q-1"), (4, "Q-2"), (6, "Q-3")]);
    let first = &items[0].record;
    assert_eq!(first.main_id.as_deref(), Some("M-12"));
    assert_eq!(
        first.outlets.iter().map(|outlet| outlet.kind).collect::<Vec<_>>(),
        [OutletKind::Hose, OutletKind::Hose, OutletKind::Pumper]
    );
    assert_eq!(items[1].record.description.as_deref(), Some("behind the \"old\" mill; gate left"));
    assert_eq!((first.location.lon(), first.elevation.map(Elevation::ft)), (-90.1034, Some(612.0)));
}

#[test]
fn every_fault_of_a_sheet_of_flow_tests_is_told_with_its_row() {
    let faults = read::records::<FlowTest>(FLOW_TESTS, &reading(Source::Csv)).unwrap_err();
    let expected = [
        "2 tested_on ambiguous_date",
        "3 tested_on date_format_needed",
        "5 static_psi unit_in_cell",
        "6 flow_gpm grouped_number",
        "7 residual_psi residual_above_static",
        "8 outlets wrong_list",
        "9 hydrant_id required",
        "10 tested_on in_the_future",
        "12 - given_twice",
    ];
    assert_eq!(told(&faults), expected);
    let ambiguous = &faults.kept()[0].detail;
    assert!(ambiguous.contains("2026-05-04 or 2026-04-05"), "{ambiguous}");
    assert!(faults.kept()[8].detail.contains("rows 11 and 12"), "{faults:?}");
}

#[test]
fn slashed_dates_are_read_where_it_is_said_what_comes_first() {
    let sheet = "hydrant_id,tested_on,static_psi,residual_psi,flow_gpm\nH-1,5/4/2026,60,40,500\n";
    let said = |date_format| Reading { date_format: Some(date_format), ..reading(Source::Csv) };
    for (format, day) in [(DateFormat::MonthFirst, "2026-05-04"), (DateFormat::DayFirst, "2026-04-05")] {
        let items = read::records::<FlowTest>(sheet.as_bytes(), &said(format)).unwrap().items;
        assert_eq!(items[0].record.tested_on.to_string(), day);
        assert!(!items[0].is_named);
    }
}

#[test]
fn unknown_columns_are_refused_by_name_unless_they_are_to_be_ignored() {
    let sheet = "hydrant_id;tested_on;static_psi;residual_psi;flow_gpm;Crew\nH-1;2026-05-04;60;40;500;B\n";
    let faults = csv::<FlowTest>(sheet).unwrap_err();
    assert_eq!(told(&faults), ["1 Crew unknown_column"]);
    let ignoring = Reading { ignore_unknown_columns: true, ..reading(Source::Csv) };
    let read = read::records::<FlowTest>(sheet.as_bytes(), &ignoring).unwrap();
    assert_eq!(read.ignored_columns, ["Crew"]);
    let items = read.items;
    assert_eq!(items[0].record.gauge_hydrant_id, AssetId::new("H-1").unwrap());
    assert!(matches!(items[0].record.flow, MeasuredFlow::Metered(flow) if flow.gpm() == 500.0));
}

#[test]
fn properties_of_a_map_that_were_passed_over_are_told_once() {
    let point = "{\"type\":\"Point\",\"coordinates\":[-90.5,40.5]}";
    let feature = |id: &str| feature(id, point).replace("\"owner\"", "\"crew\":2,\"owner\"");
    let features = format!("{},{}", feature("1"), feature("2"));
    assert_eq!(map(&features, ""), ["1 crew unknown_column", "2 crew unknown_column"]);
    let text = format!("{{\"type\":\"FeatureCollection\",\"features\":[{features}]}}");
    let ignoring = Reading { ignore_unknown_columns: true, ..reading(Source::GeoJson) };
    let read = read::records::<Hydrant>(text.as_bytes(), &ignoring).unwrap();
    assert_eq!((read.items.len(), read.ignored_columns), (2, vec!["crew".to_owned()]));
}

#[test]
fn a_column_in_another_unit_is_refused_naming_the_one_wanted() {
    let faults = csv::<FlowTest>("hydrant_id,tested_on,static_kpa,residual_psi\nH-1,2026-05-04,400,40\n").unwrap_err();
    assert_eq!(told(&faults), ["1 static_kpa wrong_unit", "1 static_psi column_missing"]);
    assert!(
        faults.kept()[0].detail.contains("convert the numbers to psi, then name the column `static_psi`"),
        "{faults:?}"
    );
}

#[test]
fn the_first_hundred_faults_are_kept_and_all_are_counted() {
    let rows = "H 1,x,y\n".repeat(250);
    let faults = csv::<Hydrant>(&format!("hydrant_id,lon,lat,owner,potable,in_service\n{rows}")).unwrap_err();
    // Each row: the id, both coordinates, and three cells that are not there.
    assert_eq!((faults.kept().len(), faults.count()), (MOST_KEPT, 1500));
}

#[test]
fn a_row_with_more_cells_than_the_header_is_not_guessed_at() {
    let sheet =
        "hydrant_id,lon,lat,owner,potable,in_service,,\nH-1,-90,40,public,yes,yes,,\nH-2,-90,5,40,public,yes,yes,,x\n";
    assert_eq!(told(&csv::<Hydrant>(sheet).unwrap_err()), ["3 - row_too_wide"]);
}

#[test]
fn a_test_keeps_id_and_time_of_recording_together() {
    let sheet = "id,hydrant_id,tested_on,static_psi,residual_psi,flow_gpm\n019aa5f2-7c00-7a31-9c6e-2f1d5b8e4a10,H-1,2026-05-04,60,40,500\n";
    assert_eq!(told(&csv::<FlowTest>(sheet).unwrap_err()), ["2 recorded_at required"]);
}

#[test]
fn what_holds_no_records_is_refused() {
    for empty in ["", "\n\n"] {
        assert_eq!(told(&csv::<Hydrant>(empty).unwrap_err()), ["0 - no_rows"], "{empty:?}");
    }
}

#[test]
fn a_header_with_no_rows_is_no_records_and_no_fault() {
    for rows in ["", "\n", "\n,,\n"] {
        let sheet = format!("hydrant_id,lon,lat,owner,potable,in_service{rows}");
        assert_eq!(csv::<Hydrant>(&sheet).unwrap(), [], "{rows:?}");
    }
    assert_eq!(map("", ""), [""; 0]);
}

#[test]
fn a_name_that_is_near_one_of_ours_is_told_with_it_and_all_of_ours_once() {
    let sheet =
        "Hydrant ID,Longitude,Latitude,Owner,Potable,In Service,In Service Since\nH-1,-90,40,public,yes,yes,1990\n";
    let faults = csv::<Hydrant>(sheet).unwrap_err();
    let expected = [
        "1 Longitude unknown_column",
        "1 Latitude unknown_column",
        "1 In Service Since unknown_column",
        "1 lon column_missing",
        "1 lat column_missing",
    ];
    assert_eq!(told(&faults), expected);
    let details: Vec<_> = faults.kept().iter().map(|fault| fault.detail.as_str()).collect();
    assert!(
        details[0].contains("is `lon` meant?") && details[0].contains("ignore_unknown_columns=true"),
        "{details:?}"
    );
    assert!(details[0].contains("main_diameter_in"), "{details:?}");
    assert_eq!(details[1], "`Latitude` is no column of ours; is `lat` meant?");
    assert_eq!(details[2], "`In Service Since` is no column of ours", "the near one is in the file");
    let typed = Reading { spoken: Spoken::CommandLine, ..reading(Source::Csv) };
    let faults = read::records::<Hydrant>(sheet.as_bytes(), &typed).unwrap_err();
    assert!(faults.kept()[0].detail.contains("--ignore-unknown-columns"), "{faults:?}");
}

#[test]
fn a_hydrant_at_no_place_is_refused() {
    let sheet = |place: &str| format!("hydrant_id,lon,lat,owner,potable,in_service\nH-1,{place},public,yes,yes\n");
    assert_eq!(told(&csv::<Hydrant>(&sheet("0,0.0")).unwrap_err()), ["2 lon no_place"]);
    assert_eq!(csv::<Hydrant>(&sheet("0,51.5")).unwrap().len(), 1, "on the meridian");
    let point = "{\"type\":\"Point\",\"coordinates\":[0,0]}";
    assert_eq!(map(&feature("\"Q-1\"", point), ""), ["1 lon no_place"]);
}

fn map(features: &str, crs: &str) -> Vec<String> {
    let text = format!("{{\"type\":\"FeatureCollection\",{crs}\"features\":[{features}]}}");
    match read::records::<Hydrant>(text.as_bytes(), &reading(Source::GeoJson)) {
        Ok(read) => read.items.iter().map(|item| item.record.id.to_string()).collect(),
        Err(faults) => told(&faults),
    }
}

fn feature(id: &str, geometry: &str) -> String {
    format!(
        "{{\"type\":\"Feature\",\"properties\":{{\"hydrant_id\":{id},\"owner\":\"public\",\"potable\":true,\"in_service\":1}},\"geometry\":{geometry}}}"
    )
}

#[test]
fn a_map_is_read_where_its_points_are_longitude_and_latitude() {
    let point = "{\"type\":\"Point\",\"coordinates\":[-90.5,40.5,12]}";
    assert_eq!(map(&feature("\"Q-1\"", point), ""), ["Q-1"]);
    assert_eq!(map(&feature("101", point), ""), ["101"], "maps keep numbers as numbers");
    let wgs_84 = "\"crs\":{\"type\":\"name\",\"properties\":{\"name\":\"urn:ogc:def:crs:OGC:1.3:CRS84\"}},";
    assert_eq!(map(&feature("\"Q-1\"", point), wgs_84), ["Q-1"]);
    let other = wgs_84.replace("OGC:1.3:CRS84", "EPSG::26916");
    assert_eq!(map(&feature("\"Q-1\"", point), &other), ["0 - not_geojson"]);
    let swapped = "{\"type\":\"Point\",\"coordinates\":[40.5,-90.5]}";
    assert_eq!(map(&feature("\"Q-1\"", swapped), ""), ["1 lat out_of_bounds"]);
    assert_eq!(map(&feature("\"Q-1\"", "null"), ""), ["1 geometry not_a_point"]);
    let two = format!("{},{}", feature("\"Q-1\"", point), feature("\"Q-1\"", point));
    assert_eq!(map(&two, ""), ["2 - given_twice"]);
    assert_eq!(map("{\"type\":\"Feature\"", ""), ["0 - not_json"]);
}

#[test]
fn what_nobody_asked_for_is_passed_over_however_deep_and_wherever_it_stands() {
    let deep = format!("{}1{}", "[".repeat(100_000), "]".repeat(100_000));
    let point = "{\"type\":\"Point\",\"bbox\":DEEP,\"coordinates\":[-90.5,40.5,DEEP]}";
    let foreign =
        feature("\"Q-1\"", point).replacen('{', "{\"id\":DEEP,\"style\":{\"a\":DEEP},", 1).replace("DEEP", &deep);
    assert_eq!(map(&foreign, &format!("\"links\":{deep},\"crs\":null,")), ["Q-1"]);
    let crs = format!("\"crs\":{{\"more\":{deep},\"properties\":{{\"more\":{deep},\"name\":\"EPSG:4326\"}}}},");
    assert_eq!(map(&foreign, &crs), ["Q-1"]);
    assert_eq!(
        map(&format!("{deep},\"x\",7,null"), ""),
        (1..=4).map(|row| format!("{row} - not_geojson")).collect::<Vec<_>>()
    );
    assert_eq!(map(&feature(&deep, point).replace("DEEP", "0"), ""), ["1 hydrant_id not_text"]);
}

#[test]
fn a_text_or_a_name_that_no_record_holds_is_not_kept() {
    let long = "x".repeat(1_000_000);
    let point = "{\"type\":\"Point\",\"coordinates\":[-90.5,40.5]}";
    assert_eq!(map(&feature(&format!("\"{long}\""), point), ""), ["1 hydrant_id out_of_bounds"]);
    let named = feature("\"Q-1\"", point).replace("\"owner\"", &format!("\"{long}\":1,\"owner\""));
    let told = map(&named, "");
    assert!(told.len() == 1 && told[0].ends_with("x unknown_column") && told[0].len() < 200, "{}", told[0].len());
}

#[test]
fn past_a_hundred_names_of_others_nothing_more_is_read() {
    let names = |most: usize| (0..most).map(|i| format!("other{i}")).collect::<Vec<_>>();
    let point = "{\"type\":\"Point\",\"coordinates\":[-90.5,40.5]}";
    let layer = |most: usize| {
        let others = names(most).iter().map(|name| format!("\"{name}\":1,")).collect::<Vec<_>>().concat();
        let one = feature("\"Q-1\"", point).replace("\"owner\"", &format!("{others}\"owner\""));
        format!("{{\"type\":\"FeatureCollection\",\"features\":[{one},{}]}}", one.replace("Q-1", "Q-2"))
    };
    let sheet = |most: usize| {
        let others = names(most).join(",");
        format!("hydrant_id,lon,lat,owner,potable,in_service,{others}\nQ-1,-90.5,40.5,public,1,1\n")
    };
    for (source, made) in [(Source::GeoJson, &layer as &dyn Fn(usize) -> String), (Source::Csv, &sheet)] {
        let ignoring = Reading { ignore_unknown_columns: true, ..reading(source) };
        assert!(read::records::<Hydrant>(made(100).as_bytes(), &ignoring).is_ok());
        let faults = read::records::<Hydrant>(made(101).as_bytes(), &ignoring).unwrap_err();
        assert_eq!(told(&faults), ["1 - too_many_columns"]);
        let faults = read::records::<Hydrant>(made(150).as_bytes(), &reading(source)).unwrap_err();
        assert_eq!((faults.kept().len(), faults.count()), (MOST_KEPT, 101), "the hundred, and that there are more");
    }
}

#[test]
fn a_file_of_more_records_than_are_held_is_refused_once() {
    let rows: Vec<_> = (0..=read::MOST_RECORDS + 1).map(|row| format!("{row},1,1,public,1,1")).collect();
    let rows = rows.join("\n");
    let sheet = format!("hydrant_id,lon,lat,owner,potable,in_service\n{rows}");
    assert_eq!(told(&csv::<Hydrant>(&sheet).unwrap_err()), ["100002 - too_many_rows"]);
}
