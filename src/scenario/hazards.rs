//! Recognises hazardous powders from their names and formulas.

use crate::inputs::Hazard;

/// Elements of battery and catalyst powders; enough to tell a formula from a word.
const ELEMENTS: [&str; 36] = [
    "H", "Li", "B", "C", "N", "O", "F", "Na", "Mg", "Al", "Si", "P", "S", "Cl", "K", "Ca", "Ti", "V", "Cr", "Mn", "Fe",
    "Co", "Ni", "Cu", "Zn", "Y", "Zr", "Nb", "Mo", "Ag", "Sn", "La", "Ta", "W", "Pt", "Au",
];

/// Symbols in a word that is a chemical formula; empty if it is not one.
fn elements(word: &str) -> Vec<&'static str> {
    let mut rest = word;
    let mut found = Vec::new();
    while let Some(first) = rest.chars().next() {
        if first.is_ascii_digit() || ".()-+xyz".contains(first) {
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

/// The hazards given, and those the name tells of; a fine powder if nothing else.
pub fn hazards_of(name: &str, given: Vec<Hazard>) -> Vec<Hazard> {
    let lower = name.to_lowercase();
    let words = || name.split(|c: char| c.is_whitespace() || ",/_".contains(c));
    let has_element = |symbol: &str| words().any(|word| elements(word).contains(&symbol));
    let says = |parts: &[&str]| parts.iter().any(|part| lower.contains(part));
    let mixed_oxide = words().any(|word| {
        let word = word.to_lowercase();
        word.starts_with("nmc") || word.starts_with("ncm") || word.starts_with("nca")
    });
    let titanium_dioxide = words().any(|word| elements(word) == ["Ti", "O"])
        || says(&["titania", "titanium dioxide", "anatase", "rutile"]);
    let recognised = [
        (Hazard::Nickel, says(&["nickel"]) || mixed_oxide || has_element("Ni")),
        (Hazard::Cobalt, says(&["cobalt"]) || mixed_oxide || has_element("Co")),
        (Hazard::TitaniumDioxide, titanium_dioxide),
        (Hazard::CarbonBlack, says(&["carbon black", "acetylene black", "lamp black", "super p", "conductive carbon"])),
    ];
    let mut hazards = given;
    for (hazard, _) in recognised.into_iter().filter(|(_, found)| *found) {
        if !hazards.contains(&hazard) {
            hazards.push(hazard);
        }
    }
    if hazards.is_empty() {
        hazards.push(Hazard::FinePowder);
    }
    hazards
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hazards_are_recognised_from_names_and_formulas() {
        use Hazard::{CarbonBlack, Cobalt, FinePowder, Nickel, TitaniumDioxide};
        for (name, expected) in [
            ("LiCoO2", vec![Cobalt]),
            ("LiNi0.8Mn0.1Co0.1O2", vec![Nickel, Cobalt]),
            ("NMC811", vec![Nickel, Cobalt]),
            ("nickel oxide", vec![Nickel]),
            ("TiO2", vec![TitaniumDioxide]),
            ("Carbon black", vec![CarbonBlack]),
            ("Na3V2(PO4)3", vec![FinePowder]),
            ("Coarse sand", vec![FinePowder]),
            ("Li4Ti5O12", vec![FinePowder]),
        ] {
            assert_eq!(hazards_of(name, Vec::new()), expected, "{name}");
        }
        assert_eq!(hazards_of("X", vec![Nickel]), [Nickel]);
    }
}
