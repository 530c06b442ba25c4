//! Drag of a sphere. Schiller & Naumann 1933, Z. Ver. Dtsch. Ing. 77:318; Clift, Grace & Weber 1978, Bubbles, Drops and Particles.

use motefall_physics::materials::drag::schiller_naumann;

use super::table::{close, table};

#[test]
fn drag_factor_and_the_standard_curve() {
    for row in table("drag_coefficient_sphere") {
        let reynolds = row.number("Re");
        let factor = schiller_naumann(reynolds);
        close(factor, row.number("SN_factor"), 1e-5, &format!("Re {reynolds}"));
        if reynolds < 800.0 {
            close(factor * 24.0 / reynolds, row.number("Clift"), 6e-2, &format!("Re {reynolds}"));
        }
    }
}
