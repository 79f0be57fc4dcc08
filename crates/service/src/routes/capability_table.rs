//! A hydrant's capability as a row of a table. What is not known is an empty cell, never a nought.

use longlay_records::hydrant::Hydrant;

use crate::routes::capability::HydrantCapability;

/// The headings, with the unit of each number.
pub(crate) const HEADINGS: [&str; 20] = [
    "hydrant_id",
    "lon",
    "lat",
    "in_service",
    "flow_test_id",
    "tested_on",
    "age_days",
    "borrowed_from",
    "static_psi",
    "residual_psi",
    "flow_gpm",
    "rated_flow_gpm",
    "rated_low_gpm",
    "rated_high_gpm",
    "rated_at_least_gpm",
    "rated_at_psi",
    "class",
    "findings",
    "cautions",
    "uncertainties",
];

/// A hydrant's cells. Codes are joined by a space.
pub(crate) fn cells(hydrant: &Hydrant, item: &HydrantCapability) -> [String; HEADINGS.len()] {
    let (place, test) = (hydrant.location, item.flow_test.as_ref());
    let band = item.rated_flow_band_gpm.as_ref();
    [
        item.hydrant_id.clone(),
        place.lon().to_string(),
        place.lat().to_string(),
        if item.in_service { "yes" } else { "no" }.to_owned(),
        known(test.map(|test| test.id)),
        known(test.map(|test| test.tested_on)),
        known(test.map(|test| test.age_days)),
        known(test.and_then(|test| test.borrowed_from.as_ref())),
        known(item.static_psi),
        known(item.residual_psi),
        known(item.flow_gpm),
        known(item.rated_flow_gpm),
        known(band.map(|band| band.low)),
        known(band.and_then(|band| band.high)),
        known(item.rated_flow_at_least_gpm),
        known(item.rated_at_psi),
        known(item.class.as_ref().map(|class| class.code)),
        codes(item.findings.iter().map(|finding| finding.code)),
        codes(item.cautions.iter().map(|caution| caution.code)),
        codes(item.uncertainties.iter().map(|uncertainty| uncertainty.input)),
    ]
}

/// A row with its end of line. Ids, numbers, days and codes hold nothing that would have to be quoted.
pub(crate) fn row<C: AsRef<str>, const N: usize>(cells: &[C; N]) -> String {
    let mut row = cells.each_ref().map(AsRef::as_ref).join(",");
    row.push('\n');
    row
}

fn known(value: Option<impl ToString>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

fn codes<'a>(codes: impl Iterator<Item = &'a str>) -> String {
    codes.collect::<Vec<_>>().join(" ")
}
