//! The formulas an answer rests on, as data: what they say, in which units, over which range, and who says so.

/// A formula.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Formula {
    /// Its stable id.
    pub id: &'static str,
    /// What it gives.
    pub gives: &'static str,
    /// The formula.
    pub formula: &'static str,
    /// Units of what goes in and comes out.
    pub units: &'static str,
    /// Where it holds.
    pub range: &'static str,
    /// Keys into the bibliography.
    pub sources: &'static [&'static str],
}

macro_rules! formulas {
    ($($name:ident $id:literal $gives:literal $formula:literal $units:literal $range:literal [$($source:literal),*];)*) => {
        /// Every formula.
        pub const FORMULAS: &[&Formula] = &[$(&$name),*];
        $(
            #[doc = concat!($gives, ": `", $formula, "`.")]
            pub const $name: Formula =
                Formula { id: $id, gives: $gives, formula: $formula, units: $units, range: $range, sources: &[$($source),*] };
        )*
    };
}

formulas! {
    OUTLET_DISCHARGE "outlet_discharge" "Flow from an open outlet by pitot" "Q = 29.84 c d² √p" "in, psi; gpm" "pitot 10 to 30 psi is trusted best" ["nfpa-291", "flow-precision"];
    PUMPER_OUTLET_FACTOR "pumper_outlet_factor" "Factor for a large outlet that does not run full" "0.97 at 2 psi to 0.83 at 7 psi and over" "psi; 1" "outlets from 3.5 in" ["nfpa-291", "memory"];
    SUPPLY_CURVE "supply_curve" "Pressure in the main at a flow" "P(Q) = S - (S - R)(Q/Qt)^(1/0.54)" "psi, gpm" "best up to the tested flow; an extrapolation beyond" ["kolb-fpt102", "walski-origin"];
    RATED_FLOW "rated_flow" "Flow at the rating pressure" "Qr = Qt ((S - Pr)/(S - R))^0.54, Pr = 20 psi, or S/2 where S < 40" "psi; gpm" "as the supply curve" ["nfpa-291", "lamm-flow-test", "memory"];
    CAPACITY_CLASS "capacity_class" "Class of a hydrant" "AA from 1500 gpm, A from 1000, B from 500, C under" "gpm" "rated flow" ["nfpa-291", "class-marking"];
    HOSE_FRICTION "hose_friction" "Friction loss in hose" "p = C (Q/100/n)² L/100" "gpm, ft; psi" "lined fire hose at fire flows; hose of one size differs by tens of percent" ["rohnert-park", "florida-pump-exam", "ifsta-tables"];
    PARALLEL_LINES "parallel_lines" "Loss of unequal lines side by side" "p common; Q = Σ Qi(p), for squared lines R = 1/(Σ 1/√Ri)²" "gpm; psi" "branches that part and meet again" ["ifsta-tables", "derived"];
    APPLIANCE_LOSS "appliance_loss" "Loss of an appliance" "p = k (Q/100)², or a fixed loss at and above a flow" "gpm; psi" "sources disagree; test your own" ["ifsta-pump-ops", "four-way-maker-test"];
    HYDRANT_VALVE "hydrant_valve" "Loss of a four-way hydrant valve, leg by leg" "p = k (Q/100)²: through unboosted; to_pump and from_pump boosted" "gpm; psi" "sources disagree: through 0.04 to 0.23" ["four-way-maker-test", "shapiro-relay"];
    HYDRANT_BODY "hydrant_body" "Loss of the hydrant's own body and outlet" "p = k (Q/100)²" "gpm; psi" "not where a single-hydrant test already holds it" ["memory"];
    ELEVATION "elevation" "Pressure taken by a rise" "p = 0.434 h" "ft; psi" "any; a fall gives" ["honolulu-hydraulics"];
    PUMP_RATING "pump_rating" "Net pressure a pumper has at a flow" "100 % of rating at 150 psi, 70 % at 200, 50 % at 250; linear between, level below" "gpm; psi" "rated at draft" ["pump-service-test", "common-practice"];
    PRESSURE_CEILING "pressure_ceiling" "The most a pumper may discharge into hose" "min over points of min(marked operating, 0.9 x service test, appliance marking) + 0.434 x rise to it" "psi, ft; psi" "nozzles shut" ["nfpa-1962"];
    DELIVERABLE_FLOW "deliverable_flow" "The most that arrives" "the least over the limits of the largest flow at which each holds" "gpm" "steady flow in a filled line" ["derived"];
    CHANGE_OVER "change_over" "Discharge at which a hydrant valve lets the pumper in" "min(P(Q) - losses before the valve + from_pump loss, S - 0.434 x rise to the valve)" "gpm; psi" "valves that swing on pressure" ["common-practice"];
    LONGEST_LAY "longest_lay" "Longest lay that carries a flow" "L + pressure to spare / (C (Q/100/n)²/100)" "gpm, psi; ft" "as hose friction" ["relay-outline"];
    LINE_FILL "line_fill" "Water and time to fill a line" "V = n L π/4 (d/12)² 7.4805; t = 60 V/Q" "in, ft, gpm; gal, s" "nominal diameter; hose swells" ["derived"];
}
