//! Districts: areas by which a department counts.

use crate::id::AssetId;
use crate::shape::Shape;

/// An area by which a department counts: a first-due area, a council ward, a water district. Districts may overlap.
#[derive(Debug, Clone, PartialEq)]
pub struct District {
    /// The department's id for it.
    pub id: AssetId,
    /// What it is called.
    pub name: Option<String>,
    /// Where it is.
    pub shape: Shape,
}
