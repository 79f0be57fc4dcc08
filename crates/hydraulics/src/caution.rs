//! Cautions: what the people at the hydrant and the pump must know with an answer.

macro_rules! cautions {
    ($($name:ident $code:literal $source:literal $text:literal;)*) => {
        /// Every caution there is.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Caution {
            $(#[doc = $text] $name,)*
        }

        impl Caution {
            /// Every caution.
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

cautions! {
    PlanningAnswer "planning_answer" "common-practice" "A planning answer from past tests: the main may give less today.";
    GaugesGovern "gauges_govern" "common-practice" "Gauges at the pump govern. Believe them, not this figure.";
    LocalProcedures "local_procedures" "common-practice" "Local procedures, codes and the water authority decide.";
    MainFloor "main_floor" "nfpa-291" "Do not pull the main below 20 psi, nor below its floor: contamination, backflow and collapse. Watch the intake gauge.";
    SharedMain "shared_main" "common-practice" "A boost or a second hydrant can rob other pumpers and sprinklers on the main. Tell the water authority.";
    NozzleShut "nozzle_shut" "common-practice" "With nozzles shut the intake rises to the pressure shown for no flow: set reliefs, and throttle slowly.";
    GatedLine "gated_line" "common-practice" "A line that is gated down stands under the whole pump pressure once its nozzle is shut.";
    UnderFloor "under_floor" "common-practice" "ALARM: the main is under its floor already. Flow less.";
    HoseOverRating "hose_over_rating" "nfpa-1962" "With nothing flowing, hose or an appliance would be over its marking. Do not pressurise it so.";
    SupplyLost "supply_lost" "common-practice" "Any supply can be lost: keep the scene pumper's tank full.";
    TankRunsOutFirst "tank_runs_out_first" "common-practice" "ALARM: at this attack flow the tank is empty before the line is filled.";
    NoValve "no_valve" "lamm-four-way" "There is no hydrant valve in the lay: boosting a charged line later shuts the crews' water down.";
    ChargedLine "charged_line" "nfpa-1962" "No vehicle over charged hose without bridges; stand clear while it fills.";
    BleedAir "bleed_air" "relay-outline" "Bleed the air from a dry line before pumping from it.";
    OpenSlowly "open_slowly" "knowt-14" "Open and close hydrants and valves slowly and fully: water hammer bursts hose and mains.";
    SingleDumpTank "single_dump_tank" "shuttle-outline" "One portable tank suits less than 300 gpm: set up more, and move water between them.";
    NonPotable "non_potable" "common-practice" "This water is not fit to drink: keep it out of the potable system.";
    Private "private" "common-practice" "A private hydrant: its upkeep and its right of use are the owner's.";
    Seasonal "seasonal" "common-practice" "This hydrant is shut for part of the year.";
    OutOfService "out_of_service" "common-practice" "This hydrant is out of service. Do not count on it.";
}

/// The cautions that go with every answer.
pub const ALWAYS: [Caution; 3] = [Caution::PlanningAnswer, Caution::GaugesGovern, Caution::LocalProcedures];
