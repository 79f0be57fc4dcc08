//! The policy from a hydrant's tests to one supply curve with findings.

use crate::flow_test::FlowTest;
use crate::hydrant::Hydrant;

/// A test with the hydrant that carried its gauge.
#[derive(Debug, Clone, PartialEq)]
pub struct GaugedTest {
    /// The test.
    pub test: FlowTest,
    /// The gauge hydrant, retired or not.
    pub gauge: Hydrant,
}

/// All that bears on one hydrant's supply: its own tests, the tests in which it flowed, and the tests gauged at other hydrants on its
/// main. Voided ones too: they are weighed here, not filtered by the store.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The hydrant asked about.
    pub hydrant: Hydrant,
    /// The tests, each once, in any order.
    pub tests: Vec<GaugedTest>,
}
