//! The kinds of record that go in and out.

use longlay_records::demand::DemandPoint;
use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, LayProfile, Pumper};
use longlay_records::flow_test::FlowTest;
use longlay_records::hydrant::{Hydrant, Location};

use crate::column::Column;
use crate::fields::Fields;
use crate::read::MOST_RECORDS;
use crate::value::Value;

/// A kind of record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Hydrants.
    Hydrants,
    /// Flow tests.
    FlowTests,
    /// Kinds of hose.
    HoseTypes,
    /// Kinds of appliance.
    Appliances,
    /// Kinds of hydrant valve.
    HydrantValves,
    /// Pumpers.
    Pumpers,
    /// Standard lays.
    LayProfiles,
    /// Demand points.
    DemandPoints,
}

impl Kind {
    /// Every kind, in an order in which each refers only to those before it.
    pub const ALL: [Self; 8] = [
        Self::Hydrants,
        Self::FlowTests,
        Self::HoseTypes,
        Self::Appliances,
        Self::HydrantValves,
        Self::Pumpers,
        Self::LayProfiles,
        Self::DemandPoints,
    ];

    /// As it stands in addresses and on the command line.
    pub const fn slug(self) -> &'static str {
        match self {
            Self::Hydrants => "hydrants",
            Self::FlowTests => "flow-tests",
            Self::HoseTypes => "hose-types",
            Self::Appliances => "appliances",
            Self::HydrantValves => "hydrant-valves",
            Self::Pumpers => "pumpers",
            Self::LayProfiles => "lay-profiles",
            Self::DemandPoints => "demand-points",
        }
    }

    /// The kind of this slug.
    pub fn of_slug(slug: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.slug() == slug)
    }

    /// Whether it has a place on a map.
    pub const fn has_places(self) -> bool {
        matches!(self, Self::Hydrants | Self::FlowTests | Self::DemandPoints)
    }

    /// Its columns, in the order they are written.
    pub const fn columns(self) -> &'static [Column] {
        match self {
            Self::Hydrants => Hydrant::COLUMNS,
            Self::FlowTests => FlowTest::COLUMNS,
            Self::HoseTypes => HoseType::COLUMNS,
            Self::Appliances => ApplianceType::COLUMNS,
            Self::HydrantValves => HydrantValveType::COLUMNS,
            Self::Pumpers => Pumper::COLUMNS,
            Self::LayProfiles => LayProfile::COLUMNS,
            Self::DemandPoints => DemandPoint::COLUMNS,
        }
    }
}

/// A record that goes in and out.
pub trait Exchanged: Sized {
    /// Its kind.
    const KIND: Kind;
    /// Its columns, in the order they are written.
    const COLUMNS: &'static [Column];

    /// Most records of one file.
    const MOST: usize = MOST_RECORDS;
    /// Whether a map may give an area in place of a point: then the record's place is one inside it.
    const TAKES_AREAS: bool = false;

    /// What stands in each of its columns.
    fn values(&self) -> Vec<Value>;

    /// The record of a row; none where a fault was noted.
    #[doc(hidden)]
    fn read(fields: &mut Fields<'_>) -> Option<Self>;

    /// What [`Self::key`] is, in words.
    const KEYED_BY: &'static str = "id";

    /// What no two rows of a file may share: the id, or all that says which record it is where the file gave none.
    fn key(&self, is_named: bool) -> String;

    /// Where it stands, where the record itself says so.
    fn place(&self) -> Option<Location> {
        None
    }
}

/// The column in which a record names another by this id.
pub fn column_naming<T: Exchanged>(record: &T, id: &str) -> Option<&'static str> {
    let is_named = |value: &Value| matches!(value, Value::Text(text) if text == id);
    let names = |value: &Value| match value {
        Value::Groups(groups) => groups.iter().flatten().any(is_named),
        other => is_named(other),
    };
    // The first column is the record's own id.
    let columns = T::COLUMNS.iter().zip(record.values()).skip(1);
    columns.into_iter().find(|(_, value)| names(value)).map(|(column, _)| column.name)
}
