//! Diffusion to the wall of a round tube in developed laminar flow. Exact: Graetz 1885, Ann. Phys. 261:337 (series by collocation, 40
//! terms); Gormley & Kennedy 1949, Diffusion from a stream flowing through a cylindrical tube, Proc. R. Irish Acad. 52A:163;
//! Hinds 1999, eq. 7.31-7.32; eigenvalues as in Shah & London 1978.

use std::f64::consts::PI;

use motefall_physics::source::tube::diffusion_penetration;

use super::table::{close, near, table};

/// Penetration at xi = pi D L/Q.
fn at(xi: f64) -> f64 {
    diffusion_penetration(xi / PI, 1.0, 1.0)
}

#[test]
fn penetration_by_diffusion() {
    for row in table("tube_diffusion_penetration") {
        let xi = row.number("xi_piDL_over_Q");
        let what = format!("xi {xi}");
        if let Some(exact) = row.maybe("P_exact_Graetz") {
            // six printed digits, and 1e-5 of the short-tube expansion
            near(at(xi), exact, 1e-5, &what);
        }
        near(at(xi), row.number("P_GormleyKennedy"), 3e-3, &what);
        near(at(xi), row.number("P_Hinds"), 7e-3, &what);
    }
}

#[test]
fn first_eigenvalue_and_weight() {
    let row = &table("graetz_constants")[0];
    // far down the tube only the first term is left
    let squared = -2.0 * (at(3.0) / at(2.0)).ln();
    close(squared.sqrt(), row.number("lambda_n"), 1e-7, "eigenvalue");
    close(at(2.0) * squared.exp(), row.number("weight_n"), 1e-6, "weight");
}
