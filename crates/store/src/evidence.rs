//! What bears on a hydrant's supply.

use longlay_records::id::AssetId;
use longlay_records::supply::Evidence;

use crate::error::StoreError;
use crate::hydrants::HydrantQuery;
use crate::open::Store;

impl Store {
    /// A hydrant with the tests that bear on it; none where it does not exist or is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn evidence(&self, id: &AssetId) -> Result<Option<Evidence>, StoreError> {
        todo!()
    }

    /// The same for a page of [`Store::hydrants`], in its order, from one state of the database.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn evidence_page(
        &self,
        query: &HydrantQuery,
        after: Option<&AssetId>,
        limit: u32,
    ) -> Result<Vec<Evidence>, StoreError> {
        todo!()
    }
}
