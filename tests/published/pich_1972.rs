//! Settling in a horizontal tube in developed laminar flow. Thomas 1958, J. Air Pollut. Control Assoc. 8:32; Fuchs 1964, The Mechanics
//! of Aerosols; Pich 1972, Theory of gravitational deposition of particles from laminar flows in channels, J. Aerosol Sci. 3:351.
//! Checked at the source by a numerical integral of the flux.

use motefall_physics::source::tube::settling_penetration;

use super::table::{near, table};

#[test]
fn penetration_under_gravity() {
    for row in table("tube_settling_penetration") {
        let kappa = row.number("kappa=3_L_Vts_over_4_d_U");
        // L 2 m, bore 4 mm, 0.3 m/s
        let settling = kappa * 4.0 * 0.004 * 0.3 / (3.0 * 2.0);
        let p = settling_penetration(2.0, 0.004, settling, 0.3);
        near(p, row.number("P_laminar_exact"), 1e-5, &format!("kappa {kappa}"));
        near(p, row.number("P_numeric"), 1e-5, &format!("kappa {kappa}"));
    }
}
