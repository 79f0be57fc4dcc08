//! Written and read back, any records are equal, and writing them again gives the same bytes.

use std::collections::BTreeMap;

use longlay_exchange::kind::{Exchanged, Kind};
use longlay_exchange::read::{self, Source};
use longlay_exchange::streets;
use longlay_exchange::write::Format;
use longlay_records::demand::DemandPoint;
use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, LayProfile, Pumper};
use longlay_records::flow_test::FlowTest;
use longlay_records::hydrant::Hydrant;
use proptest::collection::vec;
use proptest::prelude::*;

use crate::draws;
use crate::support::{reading, records, written};

fn comes_back<T: Exchanged + PartialEq + std::fmt::Debug>(drawn: Vec<T>) {
    let once: BTreeMap<_, _> = drawn.into_iter().map(|record| (record.key(true), record)).collect();
    let before: Vec<_> = once.into_values().collect();
    let mut files = vec![(Format::Csv, Source::Csv)];
    if T::KIND.has_places() {
        files.push((Format::GeoJson, Source::GeoJson));
    }
    for (format, source) in files {
        let bytes = written(&before, format);
        let after = records::<T>(&bytes, source);
        assert_eq!(after, before, "{}", String::from_utf8_lossy(&bytes));
        assert_eq!(written(&after, format), bytes);
    }
}

macro_rules! round_trips {
    ($($name:ident $draw:ident;)*) => {
        proptest! {
            $(#[test]
            fn $name(drawn in vec(draws::$draw(), 1..8)) {
                comes_back(drawn);
            })*
        }
    };
}

round_trips! {
    hydrants_come_back_as_they_were hydrant;
    flow_tests_come_back_as_they_were flow_test;
    hose_types_come_back_as_they_were hose_type;
    appliances_come_back_as_they_were appliance;
    hydrant_valves_come_back_as_they_were hydrant_valve;
    pumpers_come_back_as_they_were pumper;
    lay_profiles_come_back_as_they_were lay_profile;
    demand_points_come_back_as_they_were demand_point;
}

/// Reads bytes as every kind: what comes of it is records or faults.
fn survives(bytes: &[u8]) {
    fn one<T: Exchanged>(bytes: &[u8]) {
        for source in [Source::Csv, Source::GeoJson] {
            if let Err(faults) = read::records::<T>(bytes, &reading(source)) {
                assert!(!faults.is_empty() && faults.kept().len() <= 100);
            }
        }
    }
    one::<Hydrant>(bytes);
    one::<FlowTest>(bytes);
    one::<HoseType>(bytes);
    one::<ApplianceType>(bytes);
    one::<HydrantValveType>(bytes);
    one::<Pumper>(bytes);
    one::<LayProfile>(bytes);
    one::<DemandPoint>(bytes);
    if let Err(faults) = streets::read(bytes, &reading(Source::GeoJson)) {
        assert!(!faults.is_empty() && faults.kept().len() <= 100);
    }
}

/// A whole header, then rows of whatever could stand in a cell.
fn sheet() -> impl Strategy<Value = String> {
    let cell = prop_oneof![
        "[0-9.,;/ -]{0,12}",
        "\\PC{0,12}",
        Just("hose 2.5 0.9; pumper 4.5 0.8".to_owned()),
        Just("2.5 0.9 14".to_owned()),
        Just("1e308".to_owned()),
        Just("\"".to_owned()),
        Just("yes".to_owned()),
    ];
    let kind = (0..Kind::ALL.len()).prop_map(|at| Kind::ALL[at]);
    (kind, vec(vec(cell, 0..16), 0..6)).prop_map(|(kind, rows)| {
        let header: Vec<_> = kind.columns().iter().map(|column| column.name.to_owned()).collect();
        std::iter::once(header).chain(rows).map(|cells| cells.join(",")).collect::<Vec<_>>().join("\n")
    })
}

/// A feature whose members are of any type.
fn feature() -> impl Strategy<Value = String> {
    let value = prop_oneof![
        "-?[0-9]{1,3}",
        Just("null".to_owned()),
        Just("[[]]".to_owned()),
        Just("\"x\"".to_owned()),
        Just("{}".to_owned())
    ];
    let name = prop_oneof![
        Just("hydrant_id".to_owned()),
        Just("static_psi".to_owned()),
        Just("owner".to_owned()),
        Just("street_id".to_owned()),
        Just("from_level".to_owned()),
        "[a-z_]{0,8}"
    ];
    let kind =
        prop_oneof![Just("Point"), Just("LineString"), Just("MultiLineString"), Just("Polygon"), Just("MultiPolygon")];
    let coordinates = prop_oneof![value.clone(), "[\\[\\], 0-9]{0,12}".prop_map(|inside| format!("[{inside}]"))];
    (vec((name, value.clone()), 0..6), value, (kind, coordinates)).prop_map(|(members, geometry, (kind, coordinates))| {
        let members: Vec<_> = members.iter().map(|(name, value)| format!("{name:?}:{value}")).collect();
        format!(
            "{{\"features\":[{{\"type\":\"Feature\",\"properties\":{{{}}},\"geometry\":{{\"type\":\"{kind}\",\"coordinates\":{coordinates}}}}},{geometry}],\
             \"type\":\"FeatureCollection\"}}",
            members.join(",")
        )
    })
}

proptest! {
    #[test]
    fn no_bytes_make_the_reading_panic(bytes in vec(any::<u8>(), 0..400)) {
        survives(&bytes);
    }

    #[test]
    fn no_cells_make_the_reading_panic(sheet in sheet()) {
        survives(sheet.as_bytes());
    }

    #[test]
    fn no_features_make_the_reading_panic(feature in feature()) {
        survives(feature.as_bytes());
    }
}
