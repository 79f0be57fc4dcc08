//! What the kinds of equipment have in common.

use std::collections::{BTreeMap, BTreeSet};

use longlay_records::drill::UsedKind;
use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, LayProfile, Pumper};
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use super::shelf::Shelf;
use super::state::Town;
use crate::equipment_tests::Wanted;
use crate::error::{RecordKind, StoreError};
use crate::{appliances, hose_types, hydrant_valves, lay_profiles, pumpers};

/// A kind of equipment that the town holds.
pub(crate) trait Shelved: Sized + Send + Sync + 'static {
    const KIND: RecordKind;
    /// What it is to a drill.
    const USED_AS: Option<UsedKind>;

    /// The live ones of these ids.
    fn load(
        conn: &mut SqliteConnection,
        ids: &BTreeSet<AssetId>,
    ) -> impl Future<Output = Result<BTreeMap<AssetId, Self>, StoreError>> + Send;

    /// Asks for the tests of these.
    fn want_tests(wanted: &mut Wanted, ids: BTreeSet<AssetId>);

    fn shelf(town: &Town) -> &Shelf<Self>;

    fn shelf_mut(town: &mut Town) -> &mut Shelf<Self>;
}

macro_rules! shelved {
    ($($record:ident $kind:ident $used:expr, $module:ident $want:expr;)*) => {$(
        impl Shelved for $record {
            const KIND: RecordKind = RecordKind::$kind;
            const USED_AS: Option<UsedKind> = $used;

            async fn load(
                conn: &mut SqliteConnection,
                ids: &BTreeSet<AssetId>,
            ) -> Result<BTreeMap<AssetId, Self>, StoreError> {
                $module::load(conn, ids).await
            }

            fn want_tests(wanted: &mut Wanted, ids: BTreeSet<AssetId>) {
                let want: fn(&mut Wanted, BTreeSet<AssetId>) = $want;
                want(wanted, ids);
            }

            fn shelf(town: &Town) -> &Shelf<Self> {
                &town.$module
            }

            fn shelf_mut(town: &mut Town) -> &mut Shelf<Self> {
                &mut town.$module
            }
        }
    )*};
}

shelved! {
    HoseType HoseType Some(UsedKind::HoseType), hose_types |wanted, ids| wanted.hose_types = ids;
    ApplianceType Appliance Some(UsedKind::Appliance), appliances |wanted, ids| wanted.appliances = ids;
    HydrantValveType HydrantValve Some(UsedKind::HydrantValve), hydrant_valves |wanted, ids| wanted.hydrant_valves = ids;
    Pumper Pumper Some(UsedKind::Pumper), pumpers |wanted, ids| wanted.pumpers = ids;
    LayProfile LayProfile None, lay_profiles |_, _| {};
}
