//! What goes with a needed flow: where its method does not hold, and what in it is doubtful.

macro_rules! method_cautions {
    ($($name:ident $code:literal $source:literal $text:literal;)*) => {
        /// Every caution of the methods.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum MethodCaution {
            $(#[doc = $text] $name,)*
        }

        impl MethodCaution {
            /// Every one.
            pub const ALL: &[Self] = &[$(Self::$name),*];

            /// Its stable code.
            pub const fn code(self) -> &'static str {
                match self { $(Self::$name => $code,)* }
            }

            /// What it says.
            pub const fn text(self) -> &'static str {
                match self { $(Self::$name => $text,)* }
            }

            /// Key of its source in the bibliography.
            pub const fn source(self) -> &'static str {
                match self { $(Self::$name => $source,)* }
            }
        }
    };
}

method_cautions! {
    LargestOpenSpace "largest_open_space" "carolina-fire-flow" "Meant for the largest single open space, and not for a whole building of many rooms.";
    InteriorAttack "interior_attack" "ffn-fire-flow" "Meant for an interior attack, and for no other.";
    OverHalfInvolved "over_half_involved" "ffn-fire-flow" "More than half is involved: the method is not meant for it.";
    Over1000Gpm "over_1000_gpm" "memory" "Over 1000 gpm the method is not meant to be used.";
    ExposureOrderDisputed "exposure_order_disputed" "memory" "Sources differ whether exposures are added before or after the involvement is taken: the answer is by the order asked for.";
    FromMemory "from_memory" "memory" "Factors, roundings or limits in it are from memory: confirm them against the edition in use.";
    DurationFromMemory "duration_from_memory" "memory" "How long the flow has to run is from memory: confirm it against the edition in use.";
    ConstructionFlowCapped "construction_flow_capped" "memory" "The construction's flow was held at the method's cap.";
    ExposureCapped "exposure_capped" "memory" "Exposures and communications were held at 0.60.";
    RaisedToMinimum "raised_to_minimum" "iso-nff" "Raised to the method's least of 500 gpm.";
    HeldAtMaximum "held_at_maximum" "iso-nff" "Held at the method's most of 12,000 gpm: the building may need more.";
    RaisedToLeastSupply "raised_to_least_supply" "nfpa-1142" "Raised to the least supply: 2,000 gal, or 3,000 with an exposure.";
    DwellingCapped "dwelling_capped" "memory" "The construction number was held at 1.0 because it is a dwelling: newer editions do not.";
    ConstructionTypeFromMemory "construction_type_from_memory" "memory" "The number was read, the construction type it belongs to is from memory.";
    SprinklerReductionByApproval "sprinkler_reduction_by_approval" "eng-tips-336083" "What sprinklers take off is as the authority approves: it may allow less.";
    RaisedToSprinkleredLeast "raised_to_sprinklered_least" "memory" "Raised to the least the code leaves a building with sprinklers.";
}
