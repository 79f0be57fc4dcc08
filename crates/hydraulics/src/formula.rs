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
    FITTED_SUPPLY_CURVE "fitted_supply_curve" "Pressure in the main at a flow, through two points of a test" "P(Q) = S - (S - R2)(Q/Q2)^n, n = ln((S - R2)/(S - R1))/ln(Q2/Q1)" "psi, gpm" "as the supply curve; n from 1 to 3" ["lingireddy-wood", "derived"];
    FLOW_BAND "flow_band" "The 90 % band of a flow" "each input by itself at its 5th and 95th point; √Σ below², √Σ above²" "gpm" "inputs that are off independently; the spans: static and each reading 1 psi, pitot 0.5 psi, outlet coefficient 2 %, a flow without readings 6 %, swing 5 psi, handbook hose -35/+10 %, assumed losses -60/+30 %" ["derived", "nfpa-25-supplement", "memory"];
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
    COMBINED_SUPPLY "combined_supply" "The most that several lines bring together" "the largest T = Σ Qi, each Qi the most its limits let through with Pi(T) - k (Qh/100)² at its hydrant, Pi(T) >= main floor; on mains of their own, T of each hydrant" "gpm, psi; gpm" "steady flow; hydrants of one main are counted as falling together with all that is taken" ["kolb-fpt102", "derived"];
    CHANGE_OVER "change_over" "Discharge at which a hydrant valve lets the pumper in" "min(P(Q) - losses before the valve + from_pump loss, S - 0.434 x rise to the valve)" "gpm; psi" "valves that swing on pressure" ["common-practice"];
    LONGEST_LAY "longest_lay" "Longest lay that carries a flow" "L + pressure to spare / (C (Q/100/n)²/100)" "gpm, psi; ft" "as hose friction" ["relay-outline"];
    LINE_FILL "line_fill" "Water and time to fill a line" "V = n L π/4 (d/12)² 7.4805; t = 60 V/Q" "in, ft, gpm; gal, s" "nominal diameter; hose swells" ["derived"];
    SMOOTH_BORE_FLOW "smooth_bore_flow" "Flow of a smooth-bore tip" "Q = 29.7 d² √NP" "in, psi; gpm" "solid streams from a clean tip" ["ifsta-pump-ops", "tip-table-2015"];
    NOZZLE_REACTION "nozzle_reaction" "Push of a nozzle" "R = 1.57 d² NP smooth bore; R = 0.0505 Q √NP fog" "in, gpm, psi; lbf" "straight streams" ["ifsta-pump-ops"];
    CUSTOMARY_NOZZLE_PRESSURE "customary_nozzle_pressure" "Customary pressure of a nozzle" "smooth bore 50 on a hand line, 80 on a master stream; fog 100, 75 or 50" "psi" "where neither maker nor department states another" ["ifsta-pump-ops"];
    FIXED_ORIFICE "fixed_orifice" "Flow from an opening at another pressure, or the pressure for another flow" "Q2 = Q1 √(P2/P1); P2 = P1 (Q2/Q1)²" "gpm, psi" "one opening that does not change; not a main" ["vccs-civ240"];
    TOTAL_FLOW "total_flow" "Flow of the streams in use" "Σ n Q" "gpm" "every nozzle open at its pressure" ["ifsta-pump-ops"];
    ATTACK_LINE "attack_line" "Pump pressure of an attack line" "PDP = NP + Σ C (Q/100/n)² L/100 + appliances + 0.434 h" "psi, gpm, ft; psi" "steady flow" ["ifsta-pump-ops", "rohnert-park", "honolulu-hydraulics"];
    HAND_RULE "hand_rule" "Pump pressure of an attack line by a rule of thumb" "FL = N Q/10 - 10 in 100 ft, N = 3 for 1-3/4 in, 2 for 2 in; PDP = NP + FL L/100" "gpm, ft, psi; psi" "one department's rule: at high flows it under-promises friction next to C Q² L, so that the nozzle goes short" ["hydraulics-cards-295947", "florida-pump-exam"];
    PUMP_FOR_LINES "pump_for_lines" "Pump pressure of several attack lines" "the most that any asks, the others gated down; marking against max(PDP, PDP - 0.434 h)" "psi" "lines off one pump; nozzles shut" ["ifsta-pump-ops", "nfpa-1962", "derived"];
    OLDER_FRICTION "older_friction" "Older form of friction in 2-1/2 inch hose" "2 q² + q, under 100 gpm 2 q² + q/2, q = Q/100" "gpm; psi per 100 ft" "2-1/2 inch hose" ["engineer-test-283176"];
    HAZEN_WILLIAMS_PSI "hazen_williams_psi" "Friction in pipe, psi form" "p = 4.52 Q^1.85/(C^1.85 d^4.87)" "gpm, in; psi/ft" "water, turbulent flow" ["hazen-williams-psi", "memory"];
    HAZEN_WILLIAMS_FT "hazen_williams_ft" "Friction in pipe, feet of water" "h = 0.2083 (100/C)^1.852 q^1.852/d^4.8655" "gpm, in; ft/100 ft" "water, turbulent flow" ["engineering-toolbox-797"];
    DARCY_PIPE "darcy_pipe" "Friction in one pipe with its fittings" "h = (f L/D + K) V²/2g; f = 64/Re to 2000, else 1/√f = -2 log(ε/(3.7 D) + 2.51/(Re √f))" "gpm, in, ft, cSt; ft, psi" "full pipes, steady flow; roughness to a twentieth of the bore" ["tp-410", "memory"];
    DARCY_SYSTEM "darcy_system" "Loss of pipes in a row, or their flow under a head" "h = Σ (f L/D + K) V²/2g" "gpm, in, ft, cSt; ft, psi, gpm" "as one pipe; each K by the velocity in its own pipe" ["tp-410", "memory"];
    FRICTION_TEST "friction_test" "Coefficient of hose from a two-gauge test" "C = Σ x y/Σ x², x = (Q/100)² L/100, y = p1 - p2 - 0.434 rise; u = √((√2 x 1 psi x Σ x/Σ x²)² + (2 m C)²)" "gpm, psi, ft, %; psi/(100 gpm)²/100 ft" "losses well over 10 psi" ["fire-apparatus-2018", "ifsta-pump-ops", "memory", "derived"];
    DRILL_ESTIMATE "drill_estimate" "Coefficients re-estimated from drills" "most likely c given c = now ± s and, for each stretch between two gauges, p1 - p2 - 0.434 h = Σ c x ± √((√2 x 1 psi)² + (2 m p)²)/1.645" "psi, gpm, ft; as each coefficient" "gauges and meters that are off by chance, and not all alike" ["derived"];
    DRILL_BIAS "drill_bias" "Bias of the answers against drills" "mean of read less predicted at the last gauge; told from 3 drills, beyond 3 psi and 2 s/√n" "psi" "drills that share equipment with the lay" ["derived"];
    LOSS_TEST "loss_test" "Coefficient of an appliance or a valve's leg from a two-gauge test" "k = Σ x y/Σ x², x = (Q/100)², y = p1 - p2 - 0.434 rise; u = √((√2 x 1 psi x Σ x/Σ x²)² + (2 m k)²)" "gpm, psi, ft, %; psi/(100 gpm)²" "both gauges at the appliance, losses well over 10 psi" ["four-way-maker-test", "memory", "derived"];
    PUMP_TEST "pump_test" "Net pressure of a pumper from its own test" "net = discharge - intake at each flow; linear between, level below" "gpm, psi" "each reading the most the pumper adds; a vacuum is less than nothing" ["pump-service-test", "derived"];
    GAUGE_RULES "gauge_rules" "Remaining water from the drop on a gauge" "to 10 % of static 3 more, 15 2, 25 1; drop to 1, 2, 3 first digits 3, 2, 1 more; or n lines drop n² x the first" "psi, gpm" "estimates: most over-promise at their upper edges" ["roll-steady", "gauge-drop-cards", "memory", "derived"];
    RELAY_DISTANCE "relay_distance" "How far one pumper of a relay reaches" "D = (PDP - residual) 100/FL" "psi, gpm; ft" "level ground" ["ifsta-tables", "relay-outline", "memory"];
    RELAY_PUMPERS "relay_pumpers" "Pumpers of a relay" "R/D + 1, rounded up" "ft" "like pumpers and hose on level ground" ["relay-cards"];
    RELAY_PUMP_SIZE "relay_pump_size" "Whether a pumper is large enough for a relay" "100 % of rating to 150 psi, 70 % to 200, 50 % to 250" "psi, gpm" "net pressure" ["pump-service-test", "relay-outline"];
    RELAY_PLACES "relay_places" "Where the pumpers of a relay stand, each as far as it is pushed to" "first place where min(intake + net, own ceiling, hose rating + 0.434 x lowest ground) - C (Q/100/n)² d/100 - 0.434 h = next floor" "gpm, psi, ft" "steady flow; ground straight between its points" ["relay-outline", "derived"];
    RELAY_CONSTANT_PRESSURE "relay_constant_pressure" "Pumpers of a relay at one discharge" "least n with discharge - C (Q/100/n)² d/100 - 0.434 h >= next floor over every stretch d = distance/n" "gpm, psi, ft" "equal spacing; the attack pumper keeps the flow steady" ["relay-outline"];
    LIFT "lift" "Lift at draft" "33.9 - altitude/1000; two thirds of it attainable; 1.13 ft per inHg" "ft, inHg; ft" "cool water, ordinary weather" ["nwcg-35"];
    RATING_BY_LIFT "rating_by_lift" "Share of its rating a pump delivers at a lift" "0.7 to 15 ft, 0.6 at 20 ft, linear between" "ft; 1" "to 20 ft; better under 15" ["ifsta-pump-ops", "nwcg-35"];
    DRAFT_CAPACITY "draft_capacity" "What a pumper gives at draft" "min(share x rating, 100 √(0.434 (attainable - lift)/k)), share at lift + altitude/1000; discharge = net at Q/share - 0.434 lift - k (Q/100)²" "ft, gpm; gpm, psi" "to 20 ft; the second only where the suction was tested" ["ifsta-pump-ops", "nwcg-35", "derived"];
    NPSH_AVAILABLE "npsh_available" "Net positive suction head available" "144 (Ps - Pv)/w - lift - losses" "psia, lb/ft³, ft; ft" "steady flow; a margin over what the maker requires" ["tp-410"];
    PUMP_AFFINITY "pump_affinity" "A pump at another speed" "Q2 = Q1 n, H2 = H1 n², P2 = P1 n³, n = N2/N1" "rpm, gpm, ft, hp" "one impeller, near the same speed" ["tp-410"];
    TANKER_RATE "tanker_rate" "Rate one tanker keeps up" "0.9 tank/(fill + dump + travel), travel = 0.65 + 1.7 x miles there and back" "gal, min, mi; gpm" "a tanker that never waits; sources disagree on the miles" ["shuttle-outline", "shuttle-sheet"];
    SHUTTLE_FLOW "shuttle_flow" "Flow a shuttle keeps up" "min(Σ tanker rates, rates x sites/Σ (time at site/cycle), fill sites x fill flow)" "gpm" "tankers that take turns as they come" ["shuttle-outline", "derived"];
    FIRST_WATER "first_water" "Time until the first tanker dumps" "fill + 0.65 + 1.7 x miles one way" "min, mi; min" "tankers empty at the fill site" ["shuttle-outline", "derived"];
    ISO_ALTERNATIVE_SUPPLY "iso_alternative_supply" "ISO alternative water supply" "250 gpm for 2 h, within 5 min of the first engine" "gpm, gal, min" "areas without hydrants; edition and local survey decide" ["dry-hydrants-iso", "iso-credit"];
    IOWA "iowa" "Iowa rate of flow" "V/100" "ft³; gpm" "the largest single open space" ["carolina-fire-flow"];
    NATIONAL_FIRE_ACADEMY "national_fire_academy" "National Fire Academy needed flow" "L W/3 x floors x involvement, + 25 % of one floor for each exposure, before or after the involvement" "ft; gpm" "interior attack, to half involved, to 1000 gpm" ["ffn-fire-flow", "firehouse-2005", "memory"];
    ISO_NEEDED_FLOW "iso_needed_flow" "ISO needed fire flow" "18 F √A x O (1 + X + P), X + P <= 0.60, rounded, 500 to 12,000" "ft²; gpm" "buildings other than small dwellings" ["iso-nff", "memory"];
    ISO_DWELLING "iso_dwelling" "ISO needed fire flow of small dwellings" "by separation, a table for each edition" "ft; gpm" "one- and two-family dwellings" ["iso-dwelling", "memory"];
    ISO_HYDRANT_CREDIT "iso_hydrant_credit" "The most a hydrant is credited with" "1000 to 300 ft, 670 to 600, 250 to 1000" "ft; gpm" "pumper outlet, 2-1/2 in hose" ["iso-credit"];
    IFC_B105 "ifc_b105" "Fire flow by the fire code's appendix B" "by type of construction and area; a dwelling to 3,600 ft² 1000; sprinklers halve a dwelling's, and take another's to a quarter" "ft²; gpm" "rows known: V-B, I-A to 30,200 ft², V-A of 9,000 ft²; a reduction is as the authority approves" ["shammas-wang-413", "kling-2006", "eng-tips-336083", "memory"];
    FLOW_DURATION "flow_duration" "How long a needed flow runs" "ISO to 2500 gpm 2 h, to 3500 3 h, over it 4 h; NFPA 1142 supply/delivery rate; volume = flow x duration" "gpm, gal; min, gal" "Iowa and the National Fire Academy have none" ["memory", "derived"];
    NEEDED_FLOW_VERDICT "needed_flow_verdict" "Whether a lay gives a needed flow" "met where the low end reaches it, in doubt where only the figure does" "gpm" "as the deliverable flow" ["derived"];
    NFPA_1142 "nfpa_1142" "Least supply without hydrants" "V/OHC x CCN, x 1.5 with an exposure; at least 2,000 or 3,000 gal; 250 to 1,000 gpm by supply" "ft³; gal, gpm" "buildings without sprinklers" ["nfpa-1142", "memory"];
}
