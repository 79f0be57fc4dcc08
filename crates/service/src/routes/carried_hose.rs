//! Hose carried by a pumper, or kept with a hydrant valve.

use longlay_hydraulics::quantity::Length;
use longlay_records::equipment::HoseLoad;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::faults::Faults;

/// A length of one kind of hose.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CarriedHose {
    /// The kind of hose.
    hose_type_id: String,
    /// How much of it.
    #[schema(minimum = 1, maximum = 100_000)]
    length_ft: f64,
}

impl CarriedHose {
    pub(super) fn load(faults: &mut Faults, at: &str, hose: &Self) -> Option<HoseLoad> {
        let hose_type_id = faults.id(&format!("{at}/hose_type_id"), &hose.hose_type_id);
        let length = faults.good(&format!("{at}/length_ft"), Length::from_ft(hose.length_ft));
        Some(HoseLoad { hose_type_id: hose_type_id?, length: length? })
    }

    #[expect(clippy::option_option, reason = "the outer one is a fault noted, the inner one hose not given")]
    pub(super) fn optional_load(faults: &mut Faults, at: &str, hose: Option<&Self>) -> Option<Option<HoseLoad>> {
        hose.map_or(Some(None), |hose| Self::load(faults, at, hose).map(Some))
    }
}

impl From<&HoseLoad> for CarriedHose {
    fn from(load: &HoseLoad) -> Self {
        Self { hose_type_id: load.hose_type_id.to_string(), length_ft: load.length.ft() }
    }
}
