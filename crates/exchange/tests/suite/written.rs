//! What an export looks like, read by a library that is not ours.

use longlay_exchange::write::Format;
use longlay_hydraulics::quantity::{Diameter, OutletCoefficient};
use longlay_records::hydrant::{Elevation, Hydrant, HydrantOutlet, Location, OutletKind, Owner, Status};
use longlay_records::id::AssetId;
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::draws;
use crate::support::written;

fn hydrant() -> Hydrant {
    Hydrant {
        id: AssetId::new("H-101").unwrap(),
        location: Location::new(-90.1, 40.25).unwrap(),
        elevation: Some(Elevation::from_ft(-3.5).unwrap()),
        outlets: vec![HydrantOutlet {
            kind: OutletKind::Hose,
            diameter: Diameter::from_in(2.5).unwrap(),
            coefficient: OutletCoefficient::from_number(0.9).unwrap(),
        }],
        body_loss: None,
        main_id: Some("=M,1".to_owned()),
        main_diameter: None,
        pressure_zone: None,
        owner: Owner::Public,
        potable: true,
        seasonal: false,
        status: Status::InService,
        description: None,
    }
}

#[test]
fn a_row_holds_plain_numbers_and_no_formula() {
    let text = String::from_utf8(written(&[hydrant()], Format::Csv)).unwrap();
    let lines: Vec<_> = text.lines().collect();
    assert_eq!(lines[1], "H-101,-90.1,40.25,-3.5,hose 2.5 0.9,,\"'=M,1\",,,public,yes,no,yes,,");
    assert!(lines[0].starts_with("hydrant_id,lon,lat,elevation_ft,outlets,"), "{text}");
}

#[test]
fn a_line_for_programs_is_the_record_of_the_api() {
    let line: Value = serde_json::from_slice(&written(&[hydrant()], Format::NdJson)).unwrap();
    let expected = json!({
        "hydrant_id": "H-101", "location": {"lon": -90.1, "lat": 40.25}, "elevation_ft": -3.5,
        "outlets": [{"kind": "hose", "diameter_in": 2.5, "coefficient": 0.9}],
        "main_id": "=M,1", "owner": "public", "potable": true, "seasonal": false, "in_service": true,
    });
    assert_eq!(line, expected);
}

#[test]
fn a_feature_stands_at_its_point_and_holds_no_lists() {
    let map: Value = serde_json::from_slice(&written(&[hydrant(), hydrant()], Format::GeoJson)).unwrap();
    let feature = &map["features"][1];
    assert_eq!(feature["geometry"], json!({"type": "Point", "coordinates": [-90.1, 40.25]}));
    assert_eq!(feature["properties"]["outlets"], "hose 2.5 0.9");
    assert_eq!(feature["properties"].get("lon"), None);
    let empty: Value = serde_json::from_slice(&written::<Hydrant>(&[], Format::GeoJson)).unwrap();
    assert_eq!(empty, json!({"type": "FeatureCollection", "features": []}));
}

proptest! {
    #[test]
    fn another_reader_finds_the_same_cells(hydrant in draws::hydrant()) {
        let bytes = written(std::slice::from_ref(&hydrant), Format::Csv);
        let mut reader = csv::Reader::from_reader(bytes.as_slice());
        let row = reader.records().next().unwrap().unwrap();
        prop_assert_eq!(&row[1].parse::<f64>().unwrap(), &hydrant.location.lon());
        let description = hydrant.description.unwrap_or_default();
        let cell = &row[14];
        prop_assert!(cell == description || cell.strip_prefix('\'') == Some(&description), "{} {}", cell, description);
        prop_assert!(!cell.starts_with(['=', '+', '-', '@']));
    }
}
