//! Transition correction of evaporation. Fuchs & Sutugin 1971, High-dispersed aerosols, in Topics in Current Aerosol Research 2.

use motefall_physics::head::drying::transition_correction;

use super::table::{close, table};

#[test]
fn transition_correction_over_five_decades() {
    for row in table("transition_correction") {
        let knudsen = row.number("Kn=2lambda/d");
        close(transition_correction(knudsen), row.number("FuchsSutugin_alpha1"), 1e-4, "Fuchs & Sutugin");
        // the form as printed by Hinds 1999, eq. 13.17 (1.71 and 1.33)
        close(transition_correction(knudsen), row.number("Hinds_phi"), 1e-3, "Hinds");
    }
}
