//! Slip correction. Davies 1945, Definitive equations for the fluid resistance of spheres, Proc. Phys. Soc. 57:259.
//! Also Allen & Raabe 1985, Hutchins et al. 1995 and Hinds 1999 eq. 3.22. Mean free path 66 nm (air, 20 C, one atmosphere).

use motefall_physics::materials::drag::slip_correction;

use super::table::{close, table};

#[test]
fn slip_correction_of_davies_and_the_other_forms() {
    let mut own = 0;
    for row in table("slip_correction") {
        let diameter = row.number("d_um") * 1e-6;
        let slip = slip_correction(diameter, 66e-9);
        let form = row.text("form");
        let published = row.number("Cc");
        if form == "Davies1945" {
            own += 1;
            close(slip, published, 1e-5, &format!("Davies at {diameter:e} m"));
        } else if diameter >= 2e-9 {
            // Accepted forms differ by up to 2.5 %; below 2 nm (Kn above 100) none of them is meant to be used.
            close(slip, published, 2.5e-2, &format!("{form} at {diameter:e} m"));
        }
    }
    assert!(own >= 10);
}

#[test]
fn slip_correction_in_the_textbook_table() {
    // Hinds 1999, Aerosol Technology, table A11, from memory (+-2 % between editions) and computed from another form: 2.5 % as above.
    for row in table("slip_hinds_A11_memory") {
        close(slip_correction(row.number("d_um") * 1e-6, 66e-9), row.number("Cc"), 2.5e-2, row.text("d_um"));
    }
}
