//! Demand points out of maps of parcels, and needs that are worked out.

use longlay_exchange::read::{self, Item, Source};
use longlay_hydraulics::needed_flow::{IsoEdition, dwelling_needed_flow};
use longlay_hydraulics::quantity::Separation;
use longlay_records::demand::{DemandPoint, Need};
use serde_json::{Value, json};

use crate::support::{csv, reading, told};

fn map(geometry: &Value) -> Result<Vec<Item<DemandPoint>>, Vec<String>> {
    let feature = json!({"type": "Feature", "geometry": geometry, "properties": {"demand_point_id": "B-1"}});
    let map = json!({"type": "FeatureCollection", "features": [feature]}).to_string();
    let read = read::records(map.as_bytes(), &reading(Source::GeoJson));
    read.map(|read| read.items).map_err(|faults| told(&faults))
}

#[test]
fn a_parcel_stands_at_a_place_inside_it_and_says_so() {
    // A courtyard: the middle of its box lies in the hole.
    let rings = json!([
        [[-30.0, 40.0], [-29.0, 40.0], [-29.0, 41.0], [-30.0, 41.0], [-30.0, 40.0]],
        [[-29.8, 40.2], [-29.2, 40.2], [-29.2, 40.8], [-29.8, 40.8], [-29.8, 40.2]]
    ]);
    let items = map(&json!({"type": "Polygon", "coordinates": rings})).unwrap();
    let place = items[0].record.location;
    assert!(items[0].is_of_area);
    let in_hole = (-29.8..=-29.2).contains(&place.lon()) && (40.2..=40.8).contains(&place.lat());
    let in_box = (-30.0..=-29.0).contains(&place.lon()) && (40.0..=41.0).contains(&place.lat());
    assert!(in_box && !in_hole, "{place:?}");
    let point = map(&json!({"type": "Point", "coordinates": [-30.0, 40.0]})).unwrap();
    assert!(!point[0].is_of_area);
}

#[test]
fn what_has_no_place_inside_is_refused() {
    let level = json!([[[-30.0, 40.0], [-29.0, 40.0], [-29.5, 40.0], [-30.0, 40.0]]]);
    assert_eq!(map(&json!({"type": "Polygon", "coordinates": level})).unwrap_err(), ["1 geometry no_area"]);
    let open = json!([[[-30.0, 40.0], [-29.0, 40.0], [-29.5, 41.0]]]);
    assert_eq!(map(&json!({"type": "Polygon", "coordinates": open})).unwrap_err(), ["1 geometry no_area"]);
    let line = json!({"type": "LineString", "coordinates": [[-30.0, 40.0], [-29.0, 40.0]]});
    assert_eq!(map(&line).unwrap_err(), ["1 geometry not_a_point"]);
    assert_eq!(map(&Value::Null).unwrap_err(), ["1 geometry not_a_point"]);
}

const HEADER: &str = "demand_point_id,lon,lat,needed_flow_gpm,need_source,need_method,need_edition,separation_ft,building_type,area_sq_ft,dwelling,sprinklers";

fn needs(cells: &str) -> Result<Option<Need>, Vec<String>> {
    let read = csv::<DemandPoint>(&format!("{HEADER}\nB-1,-30,40,{cells}\n"));
    read.map(|items| items[0].record.need.clone()).map_err(|faults| told(&faults))
}

#[test]
fn a_need_is_said_or_worked_out_or_not_known() {
    assert_eq!(needs(",,,,,,,,"), Ok(None));
    let said = needs("1500,survey,,,,,,,").unwrap().unwrap();
    assert_eq!(said.gpm(), Ok(1500.0));
    let need = needs(",,iso_dwelling,from_2012,25,,,,").unwrap().unwrap();
    let gpm = dwelling_needed_flow(IsoEdition::From2012, Separation::from_ft(25.0).unwrap()).gpm;
    assert_eq!(need.gpm(), Ok(gpm));
    assert_eq!(needs(&format!("{gpm},,iso_dwelling,from_2012,25,,,,")), Ok(Some(need)));
    assert!(matches!(needs(",,ifc_b105,from_2015,,V-B,4200,no,none"), Ok(Some(Need::FireCode(_)))));
}

#[test]
fn a_need_that_contradicts_itself_is_refused_with_all_that_is_wrong() {
    assert_eq!(needs("9999,,iso_dwelling,from_2012,25,,,,").unwrap_err(), ["2 needed_flow_gpm differs_from_method"]);
    assert_eq!(needs(",,iso_dwelling,,,,,,").unwrap_err(), ["2 need_edition required", "2 separation_ft required"]);
    assert_eq!(needs(",,iso_dwelling,from_2015,25,,,,").unwrap_err(), ["2 need_edition not_one_of"]);
    assert_eq!(needs("800,,,,25,,,,").unwrap_err(), ["2 separation_ft not_with"]);
    assert_eq!(needs(",survey,,,,,,,").unwrap_err(), ["2 need_source not_with"]);
    assert_eq!(needs(",,ifc_b105,from_2015,,II-A,9000,no,none").unwrap_err(), ["2 building_type no_known_row"]);
    assert_eq!(needs("0,,,,,,,,").unwrap_err(), ["2 needed_flow_gpm out_of_bounds"]);
}
