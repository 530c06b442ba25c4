//! Losses in bends in laminar flow. Pui, Romay-Novas & Liu 1987, Experimental study of particle deposition in bends of circular cross
//! section, Aerosol Sci. Technol. 7:301, as fitted by Brockmann 1993 (Dean number about 38, Reynolds number about 1000).

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

use motefall_physics::source::tube::bend_penetration;

use super::table::{close, table};

#[test]
fn penetration_of_bends() {
    for row in table("bend_penetration") {
        let stokes = row.number("Stk_tau_U_over_Dtube");
        // five printed digits (two short of that in the smallest); the fit itself is within 0.05 of experiment
        close(bend_penetration(stokes, FRAC_PI_2), row.number("P_Pui_laminar_90deg"), 1e-4, "90 degrees");
        close(bend_penetration(stokes, FRAC_PI_4), row.number("P_Pui_laminar_45deg"), 1e-4, "45 degrees");
    }
}
