//! Hazards of a powder: those that a scenario gives, and those that the name tells of.

use motefall_physics::materials::hazards::{Hazard, of_powder};

/// The hazards given, and those the name tells of; a fine powder if nothing else.
pub(crate) fn hazards_of(name: &str, given: Vec<Hazard>) -> Vec<Hazard> {
    let mut hazards = given;
    for hazard in of_powder(name) {
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
    fn given_hazards_stay_and_a_plain_powder_is_fine() {
        assert_eq!(hazards_of("X", vec![Hazard::Nickel]), [Hazard::Nickel]);
        assert_eq!(hazards_of("LCO", vec![Hazard::Nickel]), [Hazard::Nickel, Hazard::Cobalt]);
        assert_eq!(hazards_of("Coarse sand", vec![]), [Hazard::FinePowder]);
    }
}
