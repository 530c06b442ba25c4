//! Core of a mist inside its sheath: exact integrals of the developed profile 2(1 - x^2) (Hagen 1839, Poiseuille 1840), q = 2 s^2 - s^4,
//! and of plug flow, q = s^2.

use motefall_physics::head::profile;

use super::table::{close, table};

#[test]
fn core_radius_from_the_share_of_the_flow() {
    for row in table("sheath_focusing_poiseuille") {
        let q = row.number("q_aerosol_fraction");
        // seven printed digits
        close(profile::radius_of_flow(q, 0.0), row.number("r_over_R_parabolic"), 1e-6, "developed");
        // The table's plug slips along the wall; ours has a boundary layer of a tenth of the radius and so is faster inside by
        // (m + 2)/m = 1.1: the core is narrower by up to sqrt(1.1), 4.9 %, and never wider.
        let ratio = profile::radius_of_flow(q, 1.0) / row.number("r_over_R_plug");
        assert!((1.0 / 1.1f64.sqrt() - 1e-6..1.0).contains(&ratio), "plug, q {q}: {ratio}");
    }
}
