//! What powders and solvents can do to people: one list, from which names are recognised and cautions are worded.
//!
//! Sources are of the classification, by its number; "(memory)" marks what was not looked up again. Cautions are the usual ones: the
//! safety data sheet of the material at hand, local rules and licensed practice decide.

use crate::words::words;

words! {
    /// Hazard groups of powders.
    pub enum Hazard {
        /// Nickel and its compounds.
        Nickel = "nickel",
        /// Cobalt and its compounds.
        Cobalt = "cobalt",
        /// Fine titanium dioxide.
        TitaniumDioxide = "titanium-dioxide",
        /// Carbon black.
        CarbonBlack = "carbon-black",
        /// Any other fine powder.
        FinePowder = "fine-powder",
        /// Manganese and its compounds.
        Manganese = "manganese",
        /// Vanadium compounds.
        Vanadium = "vanadium",
        /// Chromium compounds.
        Chromium = "chromium",
        /// Lead and its compounds.
        Lead = "lead",
        /// Cadmium compounds.
        Cadmium = "cadmium",
        /// Indium compounds.
        Indium = "indium",
        /// Arsenic compounds.
        Arsenic = "arsenic",
        /// Carbon nanotubes and nanofibres.
        Nanotubes = "nanotubes",
    }
}

/// A group and how to tell it from a powder's name.
#[derive(Debug, Clone, Copy)]
pub struct HazardGroup {
    /// Which.
    pub hazard: Hazard,
    /// Element whose presence in a chemical formula tells it.
    pub(crate) element: Option<&'static str>,
    /// Words of a name that tell it, in lower case. A number may follow: `nmc` stands for NMC811, too. Several words stand in a row.
    pub(crate) names: &'static [&'static str],
    /// What it does, as the end of a sentence that begins with the powder.
    pub why: &'static str,
    /// Where that is said.
    #[cfg_attr(not(test), expect(dead_code, reason = "for readers of this list"))]
    source: &'static str,
}

/// All groups but the plain fine powder. Shorthands of cathodes (LCO, NMC, ...): common practice, no source.
pub const GROUPS: [HazardGroup; 12] = [
    HazardGroup {
        hazard: Hazard::Nickel,
        element: Some("Ni"),
        names: &[
            "nickel", "nickelate", "nmc", "ncm", "nca", "ncma", "nmca", "lno", "lnmo", "lmno", "nfm", "lrmo", "lmr", "li rich",
        ],
        why: "nickel compounds are carcinogenic when breathed and sensitise the skin",
        source: "IARC Monographs 100C (2012), group 1 (memory)",
    },
    HazardGroup {
        hazard: Hazard::Cobalt,
        element: Some("Co"),
        names: &[
            "cobalt", "cobaltate", "cobaltite", "lco", "lcp", "nmc", "ncm", "nca", "ncma", "nmca", "lrmo", "lmr", "li rich", "lscf",
            "lsc",
        ],
        why: "cobalt compounds are suspected or probable carcinogens, sensitise, and harm the lungs",
        source: "IARC Monographs 131 (2023) (memory)",
    },
    HazardGroup {
        hazard: Hazard::Manganese,
        element: Some("Mn"),
        names: &[
            "manganese", "manganate", "manganite", "permanganate", "lmo", "lnmo", "lmno", "nmc", "ncm", "ncma", "nmca", "lmfp",
            "nfm", "lrmo", "lmr", "li rich", "lsm",
        ],
        why: "manganese dust, breathed over a long time, harms the nerves",
        source: "ACGIH threshold limit value for manganese, 2013 (memory)",
    },
    HazardGroup {
        hazard: Hazard::Vanadium,
        element: Some("V"),
        names: &["vanadium", "vanadate", "vanadia", "nvp", "nvpf", "nvopf", "lvp", "lvo", "lvpf"],
        why: "vanadium compounds irritate the airways, and vanadium pentoxide is possibly carcinogenic",
        source: "IARC Monographs 86 (2006), group 2B for the pentoxide (memory)",
    },
    HazardGroup {
        hazard: Hazard::Chromium,
        element: Some("Cr"),
        names: &["chromium", "chromate", "dichromate", "chromite", "chromia"],
        why: "chromium(VI) compounds are carcinogenic when breathed and sensitise; others may hold traces or turn into them when heated",
        source: "IARC Monographs 100C (2012), group 1 for chromium(VI) (memory)",
    },
    HazardGroup {
        hazard: Hazard::Lead,
        element: Some("Pb"),
        names: &["lead", "plumbate", "pzt", "pmn pt", "pbs", "pbse", "mapi", "mapbi"],
        why: "lead compounds harm nerves, blood and the unborn child, and build up in the body",
        source: "IARC Monographs 87 (2006), group 2A for inorganic lead; CLP Repr. 1A (memory)",
    },
    HazardGroup {
        hazard: Hazard::Cadmium,
        element: Some("Cd"),
        names: &["cadmium", "cdse", "cds", "cdte", "mct"],
        why: "cadmium compounds are carcinogenic when breathed and harm the kidneys",
        source: "IARC Monographs 100C (2012), group 1 (memory)",
    },
    HazardGroup {
        hazard: Hazard::Indium,
        element: Some("In"),
        names: &["indium", "ito", "igzo", "inp"],
        why: "dust of indium compounds harms the lungs; indium phosphide is probably carcinogenic",
        source: "IARC Monographs 86 (2006), group 2A for the phosphide; 118 (2018), group 2B for indium tin oxide (memory)",
    },
    HazardGroup {
        hazard: Hazard::Arsenic,
        element: Some("As"),
        names: &["arsenic", "arsenide", "arsenate", "gaas", "inas"],
        why: "arsenic compounds are carcinogenic",
        source: "IARC Monographs 100C (2012), group 1 (memory)",
    },
    HazardGroup {
        hazard: Hazard::TitaniumDioxide,
        element: None,
        names: &["titania", "titanium dioxide", "titanium oxide", "anatase", "rutile", "tio"],
        why: "fine titanium dioxide is suspected of causing cancer when breathed",
        source: "NIOSH Current Intelligence Bulletin 63 (2011); IARC Monographs 93 (2010), group 2B (memory)",
    },
    HazardGroup {
        hazard: Hazard::CarbonBlack,
        element: None,
        names: &[
            "carbon black", "furnace black", "acetylene black", "lamp black", "lampblack", "thermal black", "channel black",
            "conductive carbon", "conductive black", "super p", "super c", "c65", "c45", "vulcan", "xc72", "xc 72", "xc72r",
            "ketjenblack", "ketjen black", "denka black", "black pearls", "printex",
        ],
        why: "carbon black is possibly carcinogenic when breathed as dust",
        source: "IARC Monographs 93 (2010), group 2B (memory)",
    },
    HazardGroup {
        hazard: Hazard::Nanotubes,
        element: None,
        names: &[
            "nanotube", "cnt", "swcnt", "dwcnt", "fwcnt", "mwcnt", "swnt", "mwnt", "nanofiber", "nanofibre", "cnf", "vgcf",
        ],
        why: "stiff nanotubes and nanofibres may harm the lungs as asbestos does, some kinds are possibly carcinogenic",
        source: "NIOSH Current Intelligence Bulletin 65 (2013); IARC Monographs 111 (2017), group 2B for MWCNT-7 (memory)",
    },
];

/// A solvent that harms people, and why.
#[derive(Debug, Clone, Copy)]
pub struct SolventHazard {
    /// Names in lower case.
    pub(crate) names: &'static [&'static str],
    /// What it does, as the end of a sentence that begins with the solvent.
    pub why: &'static str,
    /// Where that is said.
    #[cfg_attr(not(test), expect(dead_code, reason = "for readers of this list"))]
    source: &'static str,
}

/// Toxic solvents, built in or not.
pub(crate) const SOLVENTS: [SolventHazard; 9] = [
    SolventHazard {
        names: &["nmp", "n-methyl-2-pyrrolidone", "n-methylpyrrolidone", "1-methyl-2-pyrrolidone"],
        why: "may harm the unborn child and passes the skin",
        source: "CLP Repr. 1B, H360D; SCOEL/SUM/119 (2007)",
    },
    SolventHazard {
        names: &["dmf", "n,n-dimethylformamide", "dimethylformamide", "dmac", "dimethylacetamide", "n,n-dimethylacetamide", "nep"],
        why: "may harm the unborn child and passes the skin",
        source: "CLP Repr. 1B, H360D (memory)",
    },
    SolventHazard {
        names: &["methanol", "methyl alcohol", "meoh"],
        why: "is toxic when breathed, swallowed or through the skin, and can blind; it is not ethanol",
        source: "CLP Acute Tox. 3, STOT SE 1, H370 (memory)",
    },
    SolventHazard {
        names: &["ethylene glycol", "glycol", "ethanediol", "1,2-ethanediol"],
        why: "is toxic when swallowed, and its mist irritates the airways",
        source: "CLP Acute Tox. 4, H302; ACGIH 2017, 10 mg/m3 as aerosol (memory)",
    },
    SolventHazard {
        names: &["2-methoxyethanol", "methoxyethanol", "methyl cellosolve", "2-ethoxyethanol", "ethoxyethanol"],
        why: "may harm fertility and the unborn child",
        source: "CLP Repr. 1B, H360FD (memory)",
    },
    SolventHazard {
        names: &["toluene", "toluol", "hexane", "n-hexane"],
        why: "is suspected of harming the unborn child or fertility and harms the nerves",
        source: "CLP Repr. 2, H361 (memory)",
    },
    SolventHazard {
        names: &["chloroform", "dichloromethane", "methylene chloride", "dcm", "chlorobenzene", "dichlorobenzene"],
        why: "is harmful when breathed, and some of its kind are suspected of causing cancer",
        source: "CLP Carc. 2, H351, for the first two (memory)",
    },
    SolventHazard {
        names: &["benzene"],
        why: "causes cancer",
        source: "IARC Monographs 120 (2018), group 1 (memory)",
    },
    SolventHazard {
        names: &["formamide", "pyridine", "acetonitrile"],
        why: "is toxic or harmful when breathed or through the skin",
        source: "CLP, several classes (memory)",
    },
];

/// What a solvent of this name does to people, if it is listed.
pub fn of_solvent(name: &str) -> Option<&'static SolventHazard> {
    let name = name.trim().to_lowercase().replace('_', " ");
    SOLVENTS.iter().find(|hazard| hazard.names.contains(&name.as_str()))
}

/// Hazards that the name of a powder tells of.
pub fn of_powder(name: &str) -> Vec<Hazard> {
    let words = words(name);
    let formulas: Vec<Vec<&str>> =
        name.split(|c: char| c.is_whitespace() || ",/_-–@:;|".contains(c)).map(elements).collect();
    let free_of = |element: &str| {
        // `Pb-free`, `Co free`.
        words.array_windows().any(|[word, next]| word.eq_ignore_ascii_case(element) && next == "free")
    };
    let has = |group: &HazardGroup| {
        let by_name = group.names.iter().any(|name| stands_in(name, &words));
        let by_formula = group.element.is_some_and(|e| !free_of(e) && formulas.iter().any(|found| found.contains(&e)));
        by_name || by_formula
    };
    let titanium = |group: &HazardGroup| {
        group.hazard == Hazard::TitaniumDioxide && formulas.iter().any(|found| found[..] == ["Ti", "O"])
    };
    GROUPS.iter().filter(|group| has(group) || titanium(group)).map(|group| group.hazard).collect()
}

/// The words of a name in lower case: letters and digits.
fn words(name: &str) -> Vec<String> {
    name.to_lowercase().split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).map(str::to_owned).collect()
}

/// Whether a listed name stands among the words, with a number or a plural's s behind it or not, and nobody says that it is absent.
fn stands_in(listed: &str, words: &[String]) -> bool {
    let parts: Vec<&str> = listed.split(' ').collect();
    let same = |word: &str, part: &str| {
        let rest = word.strip_prefix(part);
        rest.is_some_and(|rest| rest.is_empty() || rest == "s" || rest.chars().all(|c| c.is_ascii_digit()))
    };
    (0..words.len().saturating_sub(parts.len() - 1)).any(|at| {
        let there = parts.iter().enumerate().all(|(k, part)| same(&words[at + k], part));
        let absent = words.get(at + parts.len()).is_some_and(|next| next == "free")
            || at > 0 && ["no", "non", "without"].contains(&words[at - 1].as_str());
        there && !absent
    })
}

/// Elements of powders; enough to tell a formula from a word.
const ELEMENTS: [&str; 62] = [
    "H", "Li", "Be", "B", "C", "N", "O", "F", "Na", "Mg", "Al", "Si", "P", "S", "Cl", "K", "Ca", "Sc", "Ti", "V", "Cr",
    "Mn", "Fe", "Co", "Ni", "Cu", "Zn", "Ga", "Ge", "As", "Se", "Br", "Rb", "Sr", "Y", "Zr", "Nb", "Mo", "Ru", "Rh",
    "Pd", "Ag", "Cd", "In", "Sn", "Sb", "Te", "I", "Cs", "Ba", "La", "Ce", "Pr", "Nd", "Sm", "Gd", "Ta", "W", "Pt", "Au",
    "Pb", "Bi",
];
/// Words that look like formulas and are none: polymers and plain words.
const NO_FORMULAS: [&str; 10] = ["PVP", "VOC", "PVB", "In", "As", "I", "No", "UV", "CVD", "NCO"];

/// Symbols in a word that is a chemical formula; empty if it is not one.
fn elements(word: &str) -> Vec<&'static str> {
    let mut rest = word;
    let mut found = Vec::new();
    // `5V` is a voltage.
    if NO_FORMULAS.contains(&word) || word.starts_with(|c: char| c.is_ascii_digit()) {
        return found;
    }
    while let Some(first) = rest.chars().next() {
        if first.is_ascii_digit() || ".()[]+·xyz".contains(first) || ('\u{2080}'..='\u{2089}').contains(&first) {
            rest = &rest[first.len_utf8()..];
            continue;
        }
        // The longer symbol first: Co is cobalt, not carbon and o.
        let Some(symbol) =
            [2, 1].iter().find_map(|&n| ELEMENTS.into_iter().find(|e| e.len() == n && rest.starts_with(e)))
        else {
            return Vec::new();
        };
        found.push(symbol);
        rest = &rest[symbol.len()..];
    }
    found
}

#[cfg(test)]
mod tests {
    use super::Hazard::*;
    use super::*;

    #[test]
    fn every_listed_name_is_recognised_and_has_a_source() {
        for group in GROUPS {
            assert!(group.source.contains("memory") || group.source.contains("NIOSH"), "{:?}", group.hazard);
            for name in group.names {
                for written in [name.to_string(), name.to_uppercase(), format!("{name}, milled"), format!("{name}-811")] {
                    assert!(of_powder(&written).contains(&group.hazard), "{written} is {:?}", group.hazard);
                }
                assert!(!of_powder(&format!("{name}-free sand")).contains(&group.hazard), "{name}-free");
            }
            if let Some(element) = group.element {
                assert!(of_powder(&format!("Na2{element}O3")).contains(&group.hazard), "{element}");
            }
        }
        for solvent in SOLVENTS {
            assert!(solvent.source.contains("memory") || solvent.source.contains("SCOEL"), "{:?}", solvent.names);
            for name in solvent.names {
                assert_eq!(of_solvent(&name.to_uppercase()).map(|found| found.why), Some(solvent.why), "{name}");
            }
        }
    }

    #[test]
    fn trade_shorthands_carry_their_metals() {
        for (name, expected) in [
            ("LiCoO2", vec![Cobalt]),
            ("LCO", vec![Cobalt]),
            ("LiNi0.8Mn0.1Co0.1O2", vec![Nickel, Cobalt, Manganese]),
            ("NMC811", vec![Nickel, Cobalt, Manganese]),
            ("NCM-622 / C65", vec![Nickel, Cobalt, Manganese, CarbonBlack]),
            ("NCA", vec![Nickel, Cobalt]),
            ("LNMO_5V", vec![Nickel, Manganese]),
            ("LMO spinel", vec![Manganese]),
            ("LMFP", vec![Manganese]),
            ("nickel oxide", vec![Nickel]),
            ("Ni(OH)2", vec![Nickel]),
            ("Co-doped TiO2", vec![Cobalt, TitaniumDioxide]),
            ("TiO2 (P25)", vec![TitaniumDioxide]),
            ("Na3V2(PO4)3", vec![Vanadium]),
            ("Na₃V₂(PO₄)₃", vec![Vanadium]),
            ("LiCrO2", vec![Chromium]),
            ("PbS quantum dots", vec![Lead]),
            ("CdSe/ZnS", vec![Cadmium]),
            ("InP quantum dots", vec![Indium]),
            ("InAs", vec![Indium, Arsenic]),
            ("MWCNTs", vec![Nanotubes]),
            ("carbon nanotubes", vec![Nanotubes]),
            ("Vulcan XC-72R", vec![CarbonBlack]),
            ("Super P", vec![CarbonBlack]),
        ] {
            assert_eq!(of_powder(name), expected, "{name}");
        }
    }

    #[test]
    fn words_that_only_look_alike_raise_nothing() {
        for name in [
            "Coarse sand", "Li4Ti5O12", "LTO", "LFP", "incandescent ash", "nickel-free alloy", "Pb-free glass", "lead-free solder",
            "cobalt free cathode without manganese", "PVP", "In water", "As received", "alumina", "Carbon", "graphite", "Si", "SnO2",
            "LiFePO4", "CO-free", "misleading name", "violet", "VOC",
        ] {
            assert_eq!(of_powder(name), [], "{name}");
        }
    }
}
