//! Flow tests: written once, never edited, voided with a reason.

use longlay_records::flow_test::{FlowTest, Voided};
use longlay_records::id::AssetId;
use uuid::Uuid;

use crate::error::StoreError;
use crate::open::Store;

/// What came of voiding a test.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VoidOutcome {
    /// It no longer counts.
    Voided,
    /// It was voided before; the first reason stands.
    AlreadyVoided,
    /// The gauge hydrant has no such test.
    NotFound,
}

impl Store {
    /// Records a flow test.
    ///
    /// # Errors
    /// [`StoreError::UnknownReference`] where the gauge hydrant or a flow hydrant does not exist or is retired; else see [`StoreError`].
    pub async fn add_flow_test(&self, test: &FlowTest) -> Result<(), StoreError> {
        todo!()
    }

    /// Tests gauged at a hydrant by ascending id, from behind `after`, at most `limit`; voided ones too.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn flow_tests(
        &self,
        gauge: &AssetId,
        after: Option<Uuid>,
        limit: u32,
    ) -> Result<Vec<FlowTest>, StoreError> {
        todo!()
    }

    /// One test gauged at a hydrant.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn flow_test(&self, gauge: &AssetId, id: Uuid) -> Result<Option<FlowTest>, StoreError> {
        todo!()
    }

    /// Voids a test.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn void_flow_test(&self, gauge: &AssetId, id: Uuid, voided: &Voided) -> Result<VoidOutcome, StoreError> {
        todo!()
    }
}
