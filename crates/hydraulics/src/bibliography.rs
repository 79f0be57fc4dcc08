//! The one bibliography: everything cited in this project, by key.

/// How the cited figure came here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seen {
    /// The figure was read in a copy, or an excerpt, of the work.
    Read,
    /// It is from memory, and should be confirmed against the edition in use.
    Memory,
    /// It is customary in the trade, with no single source.
    Custom,
}

/// One work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Work {
    /// The key it is cited by.
    pub key: &'static str,
    /// Author, title, place.
    pub citation: &'static str,
    /// How its figures came here.
    pub seen: Seen,
}

/// The work behind a key.
pub fn work(key: &str) -> Option<&'static Work> {
    BIBLIOGRAPHY.iter().find(|work| work.key == key)
}

macro_rules! works {
    ($($key:literal $seen:ident $citation:literal;)*) => {
        /// Every work cited.
        pub const BIBLIOGRAPHY: &[Work] = &[$(Work { key: $key, citation: $citation, seen: Seen::$seen }),*];
    };
}

works! {
    "common-practice" Custom "Customary in pump operations; no single source";
    "memory" Memory "From memory, not verified in a copy; confirm against the edition in use";
    "derived" Custom "Own arithmetic from the stated formula; no printed figure";
    "nfpa-291" Read "NFPA 291, Recommended Practice for Water Flow Testing and Marking of Hydrants, ch. 4 and 5 (excerpts; items from memory are marked where they stand)";
    "nfpa-1962" Read "NFPA 1962 (2018), Care, Use, Inspection, Service Testing and Replacement of Fire Hose (excerpts)";
    "nfpa-25-supplement" Read "NFPA 25 handbook, supplement on testing water supplies (excerpt)";
    "nfpa-1142" Read "NFPA 1142, Water Supplies for Suburban and Rural Fire Fighting (review slides; 2001 edition 7.3.2)";
    "nfpa-1142-annex" Memory "NFPA 1142/1231, annex dwelling example";
    "kolb-fpt102" Read "K. Kolb, Water Supply slides, course FPT 102 Fire Prevention and Inspection, slides 1-16";
    "walski-origin" Read "T. Walski, technical note on the origin of the hydrant flow projection equation";
    "flow-precision" Read "Trade article on the precision of flow measurement (2024), citing NFPA 291";
    "lamm-flow-test" Read "W. Lamm, Procedures for Flow Testing Hydrants (2001), part 4";
    "lamm-four-way" Read "W. Lamm, article on four-way hydrant valves";
    "mtas-2062" Read "University of Tennessee, Municipal Technical Advisory Service, note MTAS-2062 on hydrant testing";
    "lingireddy-wood" Read "Lingireddy and Wood, ASCE Journal of Hydraulic Engineering 126(10), 2000 (abstract)";
    "eng-tips-333286" Read "Eng-Tips forum thread 333286, Fire Hydrant Flow Test and modifiers, citing NFPA 291";
    "castlegate-2004" Read "City of College Station TX, Castlegate Sec. 7 waterline report (March 2004)";
    "fair-geyer-okun" Read "Shammas and Wang, Fair, Geyer and Okun's Water and Wastewater Engineering (2011), p. 203 fig. 6.9";
    "shammas-wang-413" Read "Shammas and Wang, Water Engineering: Hydraulics, Distribution and Treatment, p. 121 table 4.13";
    "vccs-civ240" Read "VCCS CIV 240, lesson 3, Relationship of Pressure and Flow Math Examples";
    "class-marking" Read "NFPA 291 ch. 5 marking table as given on Firefighter Nation (2008) and in driver/operator study cards";
    "firerescue1-supply" Read "FireRescue1, Which Supply Line? (friction loss per 100 ft)";
    "lewis-13" Read "Lewis County Fire District 13, Introduction to Basic Hydraulics slides";
    "rohnert-park" Read "City of Rohnert Park CA DPS, training handout 3-8, Calculating Friction Loss in Hose Lays";
    "florida-pump-exam" Read "Florida pump operations practice examination answers (study document)";
    "engineer-test-283176" Read "Engineer's Test 2014 study cards (set 283176)";
    "hydraulics-cards-295947" Read "Hydraulics study cards (set 295947)";
    "fire-apparatus-2018" Read "Fire Apparatus Magazine, September 2018, The Importance of Friction Loss and Flow Testing";
    "ifsta-pump-ops" Read "IFSTA Pumping Apparatus Driver/Operator Handbook, as given in study cards (brainscape 5476749 and others); tables from memory are marked where they stand";
    "ifsta-tables" Memory "IFSTA Pumping Apparatus Driver/Operator Handbook, siamesed-line and maximum-distance relay tables";
    "engineering-toolbox-797" Read "Engineering ToolBox, Hazen-Williams page d_797";
    "hazen-williams-psi" Memory "Hazen-Williams in the psi form of sprinkler standards";
    "tp-410" Read "Technical Paper 410, Flow of Fluids through Valves, Fittings and Pipe, problems as quoted in the documentation of the fluids library";
    "four-way-maker-test" Read "A maker's published field test of a four-way hydrant valve, 20 ft of 5 in hose, static 115 psi (brand withheld)";
    "shapiro-relay" Read "P. Shapiro, Relay Pump Operations: Who Says It's Just for the Long Lay?, flow tests 1, 5 and 6";
    "shapiro-myths" Read "P. Shapiro, Why Does It Always Have to Be Done That Way?, myth 2";
    "nwcg-34" Read "NWCG Firefighter Math, course 3.4";
    "nwcg-35" Read "NWCG Firefighter Math, course 3.5";
    "honolulu-hydraulics" Read "Honolulu Community College, fire hydraulics course, ch. 1";
    "pump-service-test" Read "Fire-apparatus service page, Test Your Fire Pump Annually (rating points)";
    "relay-outline" Read "Firehouse drill outline, Relay Pumping Operations, p. 3-4 (IFSTA 1st ed.)";
    "relay-cards" Read "Relay study cards (brainscape 5479700)";
    "relay-practice-cards" Read "Relay study cards (brainscape 5254815 and 3025625)";
    "dry-hydrants-iso" Read "Dry hydrant page on ISO credit: alternative water supply, 250 gpm for 2 hours within 5 minutes of the first engine";
    "shuttle-outline" Read "Firehouse drill outline, Water Shuttle Operations, p. 9 and 12-13 (IFSTA 1st ed. ch. 14)";
    "shuttle-sheet" Read "Mobile water supply shuttle question sheet (docsity 14368545)";
    "roll-steady" Read "The Roll Steady, Hashing your intake (percentage method)";
    "gauge-drop-cards" Read "Driver/operator study cards ch. 11-16 and set 283176 (gauge-drop rules)";
    "carolina-fire-flow" Read "Carolina Fire Rescue EMS Journal, Determining Required Fire Flow";
    "firehouse-2005" Read "Firehouse forum thread, Do You know the answer? (2005)";
    "ffn-fire-flow" Read "FireFighter Nation, Simple Ways to Determine Your Fire Flow Requirements";
    "iso-dwelling" Read "ISO needed fire flow, 1-2 family dwelling table (older edition, copy)";
    "iso-credit" Read "ISO public protection report text, Indian River County FL document 6712 p. 122";
    "iso-nff" Read "ISO needed fire flow formula (HSDL Coffee Break FP-2013-43/45); rounding from memory";
    "kling-2006" Read "Kling Engineering memo to City of College Station (December 2006), applying 2003 IFC App. B";
    "eng-tips-336083" Read "Eng-Tips forum thread 336083, quoting IFC B105.1 (older edition)";
    "tip-table-2015" Read "A manufacturer's smooth-bore tip flow table, 2015 manual (brand withheld)";
    "hydraulic-institute" Read "Hydraulic Institute Engineering Data Library, theoretical discharge of nozzles";
    "knowt-14" Read "Pump operations study notes, ch. 14 (water hammer)";
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::caution::Caution;
    use crate::finding::FindingCode;
    use crate::formula::FORMULAS;
    use crate::needed_flow::MethodCaution;

    #[test]
    fn keys_stand_once_and_every_citation_is_found() {
        for (i, entry) in BIBLIOGRAPHY.iter().enumerate() {
            assert!(BIBLIOGRAPHY[..i].iter().all(|earlier| earlier.key != entry.key), "{}", entry.key);
        }
        let findings = FindingCode::ALL.iter().map(|code| code.source());
        let cautions = Caution::ALL.iter().map(|caution| caution.source());
        let formulas = FORMULAS.iter().flat_map(|formula| formula.sources.iter().copied());
        let methods = MethodCaution::ALL.iter().map(|caution| caution.source());
        for key in findings.chain(cautions).chain(methods).chain(formulas) {
            assert!(work(key).is_some(), "{key} is not in the bibliography");
        }
    }
}
