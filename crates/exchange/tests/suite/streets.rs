//! Streets out of a map's file.

use longlay_exchange::read::Source;
use longlay_exchange::streets::{self, Streets};
use longlay_records::street::Barrier;
use serde_json::{Value, json};

use crate::support::{reading, told};

fn network(features: &[(Value, Value)]) -> Result<Streets, Vec<String>> {
    let feature = |(properties, geometry): &(Value, Value)| json!({"type": "Feature", "properties": properties, "geometry": geometry});
    let map = json!({"type": "FeatureCollection", "features": features.iter().map(feature).collect::<Vec<_>>()});
    streets::read(map.to_string().as_bytes(), &reading(Source::GeoJson)).map_err(|faults| told(&faults))
}

fn line() -> Value {
    json!({"type": "LineString", "coordinates": [[-30.0, 40.0], [-30.0, 40.0], [-30.0, 40.01, 12]]})
}

#[test]
fn a_street_is_read_by_our_names_and_by_those_of_the_nena_model() {
    let ours = json!({"street_id": 12, "name": "Quay Lane", "from_level": 1, "to_level": 0});
    let older = json!({"RCL_NGUID": "urn:rcl:{7}", "St_PreDir": "North", "St_Name": "Mill", "St_PosTyp": "Lane", "OneWay": "FT"});
    let newer = json!({"NGUID": "urn:rcl:8", "StreetName": "Bell Row", "oneway": "B", "SpeedLimit": 30});
    let read = network(&[(ours, line()), (older, line()), (newer, line())]).unwrap();
    let told: Vec<_> =
        read.streets.iter().map(|street| (street.id.as_str(), street.name.as_deref().unwrap())).collect();
    assert_eq!(told, [("12", "Quay Lane"), ("urn:rcl:{7}", "North Mill Lane"), ("urn:rcl:8", "Bell Row")]);
    assert_eq!((read.streets[0].from_level, read.streets[0].to_level), (1, 0));
    assert_eq!(read.streets[0].line.len(), 2, "a place that repeats the one before is left out");
    assert_eq!(read.ignored_columns, ["OneWay", "SpeedLimit", "oneway"]);
    assert_eq!((read.rows, read.limited_by_class), (vec![1, 2, 3], 0));
}

#[test]
fn hundreds_of_names_that_nobody_asks_for_are_no_fault() {
    let mut properties = json!({"street_id": "S-1"});
    for i in 0..300 {
        properties[format!("field_{i:03}")] = json!(i);
    }
    assert_eq!(network(&[(properties, line())]).unwrap().ignored_columns.len(), 100);
}

#[test]
fn what_hose_does_not_cross_is_said_or_follows_from_the_class() {
    let barrier = |said: Value| {
        let read = network(&[(said, line())]).unwrap();
        (read.streets[0].barrier, read.limited_by_class)
    };
    assert_eq!(barrier(json!({"street_id": "S", "barrier": "railway"})), (Some(Barrier::Railway), 0));
    assert_eq!(barrier(json!({"street_id": "S", "RoadClass": "Primary"})), (Some(Barrier::LimitedAccess), 1));
    assert_eq!(barrier(json!({"street_id": "S", "RoadClass": "Local"})), (None, 0));
    assert_eq!(barrier(json!({"street_id": "S", "RoadClass": "Primary", "barrier": "none"})), (None, 0));
}

#[test]
fn a_line_of_parts_is_a_street_for_each_gap() {
    let parts = json!({"type": "MultiLineString", "coordinates": [
        [[-30.0, 40.0], [-30.0, 40.01]], [[-30.0, 40.01], [-30.0, 40.02]], [[-30.0, 40.03], [-30.0, 40.04]]]});
    let read = network(&[(json!({"street_id": "S-1"}), parts.clone())]).unwrap();
    let told: Vec<_> = read.streets.iter().map(|street| (street.id.as_str(), street.line.len())).collect();
    assert_eq!(told, [("S-1", 3), ("S-1 #2", 2)]);
    let read = network(&[(json!({"street_id": "S-1", "to_level": 1}), parts)]);
    assert_eq!(read.unwrap_err(), ["1 to_level levels_unclear"]);
}

#[test]
fn every_fault_is_told_with_its_feature() {
    let geometry = |coordinates: Value| json!({"type": "LineString", "coordinates": coordinates});
    let named = |id: &str| json!({"street_id": id});
    let faults = network(&[
        (json!({"name": "Nameless"}), line()),
        (named("S-2"), json!({"type": "Point", "coordinates": [1, 2]})),
        (named("S-3"), geometry(json!([[-30.0, 40.0], [-30.0, 40.0]]))),
        (named("S-4"), geometry(json!([[0, 0], [-30.0, 40.0]]))),
        (named("S-5"), geometry(json!([[40.0, -130.0], [-30.0, 40.0]]))),
        (json!({"street_id": "S-6", "from_level": 0.5, "barrier": "river"}), Value::Null),
        (named("S-7"), line()),
        (named("S-7"), line()),
    ]);
    let expected = [
        "1 street_id required",
        "2 geometry not_a_line",
        "3 geometry no_length",
        "4 geometry no_place",
        "5 geometry out_of_bounds",
        "6 geometry not_a_line",
        "6 from_level out_of_bounds",
        "6 barrier not_one_of",
        "8 - given_twice",
    ];
    assert_eq!(faults.unwrap_err(), expected);
    assert_eq!(network(&[]).unwrap_err(), ["0 - no_rows"]);
}
