//! Records that come under an id of their own: what is done with each follows from what stands there.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use longlay_records::equipment::{ApplianceType, HoseLoad, HoseType, HydrantValveType, LayProfile, Origin, Pumper};
use longlay_records::hydrant::Hydrant;
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use super::batch::{Refusal, Verdict};
use super::hydrants as many_hydrants;
use super::notices::{self, Notice};
use crate::change::Change;
use crate::error::{RecordKind, StoreError};
use crate::references::missing;
use crate::{appliances, hose_types, hydrant_valves, hydrants, lay_profiles, pumpers};

/// A record that comes under its id.
pub(super) trait Arriving: PartialEq + Sized + Sync {
    const KIND: RecordKind;

    fn id(&self) -> &AssetId;

    /// What it refers to.
    fn references(&self) -> Vec<(RecordKind, &AssetId)> {
        Vec::new()
    }

    /// Whether it came with the program.
    fn is_shipped(&self) -> bool {
        false
    }

    /// What stands under these ids, retired ones too where a return is worth a word.
    fn load(
        conn: &mut SqliteConnection,
        ids: &BTreeSet<AssetId>,
    ) -> impl Future<Output = Result<BTreeMap<AssetId, Standing<Self>>, StoreError>> + Send;

    /// What whoever brings it in should know of what it does to the one that stands there.
    fn notices(&self, _there: &Standing<Self>) -> Vec<Notice> {
        Vec::new()
    }

    /// Writes records, each with its entry in the audit.
    fn put_all(
        conn: &mut SqliteConnection,
        records: &[&Self],
        change: &Change,
    ) -> impl Future<Output = Result<(), StoreError>> + Send;
}

/// A record that stands under an id.
pub(super) struct Standing<T> {
    pub(super) record: T,
    pub(super) retired: bool,
}

/// What is to be done with each of these, and what should be known of it.
pub(super) async fn judged<T: Arriving>(
    conn: &mut SqliteConnection,
    records: &[T],
) -> Result<Vec<(Verdict, Vec<Notice>)>, StoreError> {
    let ids = records.iter().map(|record| record.id().clone()).collect();
    let there = T::load(&mut *conn, &ids).await?;
    let unknown = unknown(conn, records.iter().flat_map(T::references)).await?;
    let verdict = |record: &T| {
        let found = live(&there, record).map(|standing| &standing.record);
        if found.is_some_and(T::is_shipped) {
            return Verdict::Refuse(vec![Refusal::ReadOnly(T::KIND, record.id().to_string())]);
        }
        let refused = refused(&record.references(), &unknown);
        match found {
            _ if !refused.is_empty() => Verdict::Refuse(refused),
            None => Verdict::Create,
            Some(same) if same == record => Verdict::Leave,
            Some(_) => Verdict::Replace,
        }
    };
    let notices = |record: &T| there.get(record.id()).map(|there| record.notices(there)).unwrap_or_default();
    Ok(records.iter().map(|record| (verdict(record), notices(record))).collect())
}

fn live<'a, T: Arriving>(there: &'a BTreeMap<AssetId, Standing<T>>, record: &T) -> Option<&'a Standing<T>> {
    there.get(record.id()).filter(|standing| !standing.retired)
}

/// The references among these that lead nowhere.
pub(super) async fn unknown(
    conn: &mut SqliteConnection,
    references: impl Iterator<Item = (RecordKind, &AssetId)>,
) -> Result<HashSet<(RecordKind, String)>, StoreError> {
    let mut by_kind: Vec<(RecordKind, BTreeSet<&AssetId>)> = Vec::new();
    for (kind, id) in references {
        match by_kind.iter_mut().find(|(known, _)| *known == kind) {
            Some((_, ids)) => {
                ids.insert(id);
            }
            None => by_kind.push((kind, BTreeSet::from([id]))),
        }
    }
    let mut unknown = HashSet::new();
    for (kind, ids) in by_kind {
        unknown.extend(missing(&mut *conn, kind, ids).await?);
    }
    Ok(unknown)
}

pub(super) fn refused(references: &[(RecordKind, &AssetId)], unknown: &HashSet<(RecordKind, String)>) -> Vec<Refusal> {
    if unknown.is_empty() {
        return Vec::new();
    }
    let mut refused = Vec::new();
    for (kind, id) in references.iter().map(|(kind, id)| (*kind, id.to_string())) {
        let refusal = Refusal::UnknownReference(kind, id.clone());
        if unknown.contains(&(kind, id)) && !refused.contains(&refusal) {
            refused.push(refusal);
        }
    }
    refused
}

fn hoses<'a>(loads: impl IntoIterator<Item = &'a HoseLoad>) -> Vec<(RecordKind, &'a AssetId)> {
    loads.into_iter().map(|load| (RecordKind::HoseType, &load.hose_type_id)).collect()
}

impl Arriving for Hydrant {
    const KIND: RecordKind = RecordKind::Hydrant;

    fn id(&self) -> &AssetId {
        &self.id
    }

    async fn load(
        conn: &mut SqliteConnection,
        ids: &BTreeSet<AssetId>,
    ) -> Result<BTreeMap<AssetId, Standing<Self>>, StoreError> {
        let stored = hydrants::load_stored(conn, ids).await?.into_iter();
        Ok(stored.map(|(id, found)| (id, Standing { record: found.hydrant, retired: found.retired })).collect())
    }

    fn notices(&self, there: &Standing<Self>) -> Vec<Notice> {
        notices::of_hydrant(self, there)
    }

    async fn put_all(conn: &mut SqliteConnection, records: &[&Self], change: &Change) -> Result<(), StoreError> {
        many_hydrants::put_all(conn, records, change).await
    }
}

macro_rules! equipment {
    ($($record:ident $kind:ident $file:ident $shipped:expr, $references:expr;)*) => {
        $(impl Arriving for $record {
            const KIND: RecordKind = RecordKind::$kind;

            fn id(&self) -> &AssetId {
                &self.id
            }

            fn references(&self) -> Vec<(RecordKind, &AssetId)> {
                let references: fn(&Self) -> Vec<(RecordKind, &AssetId)> = $references;
                references(self)
            }

            fn is_shipped(&self) -> bool {
                let shipped: fn(&Self) -> bool = $shipped;
                shipped(self)
            }

            async fn load(
                conn: &mut SqliteConnection,
                ids: &BTreeSet<AssetId>,
            ) -> Result<BTreeMap<AssetId, Standing<Self>>, StoreError> {
                let live = $file::load(conn, ids).await?.into_iter();
                Ok(live.map(|(id, record)| (id, Standing { record, retired: false })).collect())
            }

            // A department has tens of them: one at a time is fast enough.
            async fn put_all(conn: &mut SqliteConnection, records: &[&Self], change: &Change) -> Result<(), StoreError> {
                for record in records {
                    $file::put(&mut *conn, record, change).await?;
                }
                Ok(())
            }
        })*
    };
}

equipment! {
    HoseType HoseType hose_types |row| row.origin == Origin::Library, |_| Vec::new();
    ApplianceType Appliance appliances |row| row.origin == Origin::Library, |_| Vec::new();
    HydrantValveType HydrantValve hydrant_valves |row| row.origin == Origin::Library,
        |row| hoses([&row.to_pump_hose, &row.from_pump_hose].into_iter().flatten());
    Pumper Pumper pumpers |_| false, |row| hoses(&row.hose);
    LayProfile LayProfile lay_profiles |_| false, |row| {
        let valve = row.hydrant_valve_id.iter().map(|id| (RecordKind::HydrantValve, id));
        let appliances = row.scene_appliance_ids.iter().map(|id| (RecordKind::Appliance, id));
        valve.chain([(RecordKind::HoseType, &row.hose_type_id)]).chain(appliances).collect()
    };
}
