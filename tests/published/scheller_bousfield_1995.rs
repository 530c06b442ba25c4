//! Spreading of drops on impact: Scheller & Bousfield 1995, Newtonian drop impact with a solid surface, AIChE J. 41:1357; splash
//! parameter of Mundo, Sommerfeld & Tropea 1995, Int. J. Multiphase Flow 21:151; spherical cap by geometry. Worked values of these
//! formulas for drops of 1 um to 2 mm; the other columns of the table are not used here.

use motefall_physics::deposit::{cap_ratio, impact_ratio, impact_reynolds, splash_parameter, weber};

use super::table::{close, table};

#[test]
fn spread_splash_and_cap() {
    for row in table("drop_spreading") {
        let [d, v, sigma, rho, mu] = ["d_m", "V_m_s", "sigma", "rho", "mu"].map(|name| row.number(name));
        let (we, re) = (weber(rho, v, d, sigma), impact_reynolds(rho, v, d, mu));
        let oh = mu / (rho * sigma * d).sqrt();
        // five printed digits
        let angle = row.number("contact_angle_deg").to_radians();
        for (got, name) in [
            (we, "We"),
            (re, "Re"),
            (oh, "Oh"),
            (impact_ratio(re, oh), "Dmax_over_D_SchellerBousfield"),
            (splash_parameter(we, re), "K_Mundo"),
            (cap_ratio(angle), "Deq_over_D_cap"),
        ] {
            close(got, row.number(name), 1e-4, name);
        }
    }
}
