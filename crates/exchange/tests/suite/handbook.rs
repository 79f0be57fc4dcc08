//! The handbook's tables of columns are the program's.

use std::fs;
use std::path::Path;

use longlay_exchange::column;
use longlay_exchange::kind::Kind;
use longlay_exchange::streets;

#[test]
fn the_handbook_tells_the_columns_that_there_are() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("columns.md");
    let handbook = fs::read_to_string(path).unwrap();
    for kind in Kind::ALL {
        let section = format!("## {}\n\n{}", kind.slug(), column::table(kind));
        assert!(handbook.contains(&section), "columns.md should say:\n\n{section}");
    }
    let section = format!("## streets\n\n{}", column::table_of(streets::COLUMNS));
    assert!(handbook.contains(&section), "columns.md should say:\n\n{section}");
}

#[test]
fn every_example_is_read_in_its_column() {
    use crate::support::{csv, told};
    fn one<T: longlay_exchange::kind::Exchanged>(left_out: &[&str]) {
        let columns: Vec<_> = T::COLUMNS.iter().filter(|column| !left_out.contains(&column.name)).collect();
        let names: Vec<_> = columns.iter().map(|column| column.name).collect();
        let examples: Vec<_> = columns.iter().map(|column| column.example).collect();
        let sheet = format!("{}\n{}\n", names.join(","), examples.join(","));
        let read = csv::<T>(&sheet).map_err(|faults| told(&faults));
        assert_eq!(read.map(|items| items.len()), Ok(1), "{sheet}");
    }
    // What goes with another column only in rows of another sort.
    one::<longlay_records::hydrant::Hydrant>(&["out_of_service_reason"]);
    one::<longlay_records::flow_test::FlowTest>(&["flow_gpm", "second_flow_gpm"]);
    one::<longlay_records::flow_test::FlowTest>(&["outlets", "second_outlets"]);
    one::<longlay_records::equipment::HoseType>(&[]);
    one::<longlay_records::equipment::ApplianceType>(&["loss_coefficient"]);
    one::<longlay_records::equipment::ApplianceType>(&["fixed_loss_psi", "at_or_above_gpm"]);
    one::<longlay_records::equipment::HydrantValveType>(&[]);
    one::<longlay_records::equipment::Pumper>(&[]);
    one::<longlay_records::equipment::LayProfile>(&[]);
    let of_fire_code = ["building_type", "area_sq_ft", "dwelling", "sprinklers"];
    let of_dwellings = ["need_method", "need_edition", "separation_ft"];
    one::<longlay_records::demand::DemandPoint>(&[&of_fire_code[..], &["needed_flow_gpm", "need_source"]].concat());
    one::<longlay_records::demand::DemandPoint>(&[&of_fire_code[..], &of_dwellings[..]].concat());
}
