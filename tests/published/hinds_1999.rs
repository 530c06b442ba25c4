//! Motion of unit-density spheres in air at 20 C and one atmosphere. Hinds 1999, Aerosol Technology, 2nd ed., tables 3.1, 5.1,
//! 5.2, 7.1 and equations 3.21, 5.3, 7.7; Schiller & Naumann 1933 for drag beyond Stokes.

use motefall_physics::constants::{ATMOSPHERE, GRAVITY};
use motefall_physics::materials::drag::{
    diffusion_coefficient, relaxation_time, schiller_naumann, settling_speed, slip_correction, sphere_reynolds,
};
use motefall_physics::materials::gas::{GasSpecies, GasState};

use super::table::{close, table};

/// Conditions of the computed table.
const VISCOSITY: f64 = 1.81e-5;
const GAS_DENSITY: f64 = 1.205;
const TEMPERATURE: f64 = 293.15;
const UNIT_DENSITY: f64 = 1000.0;

/// Distance, m, in which a sphere of a relaxation time comes to rest from a speed: integral of tau dv/f(Re), midpoint rule in the
/// root of the speed, which removes the power 0.687 at the origin.
fn stopping_distance(speed: f64, tau: f64, diameter: f64, gas_density: f64, viscosity: f64) -> f64 {
    let n = 4000;
    (0..n)
        .map(|i| {
            let u = (i as f64 + 0.5) / n as f64;
            let v = speed * u * u;
            2.0 * u * speed / n as f64 * tau / schiller_naumann(sphere_reynolds(v, diameter, gas_density, viscosity))
        })
        .sum()
}

#[test]
fn the_computed_table() {
    for row in table("particle_dynamics_unit_density_air293K") {
        let d = row.number("d_um") * 1e-6;
        let slip = row.number("Cc");
        let what = format!("{d:e} m");
        let tau = relaxation_time(d, UNIT_DENSITY, VISCOSITY, slip);
        close(tau, row.number("tau_s"), 1e-4, &what);
        close(diffusion_coefficient(d, TEMPERATURE, VISCOSITY, slip), row.number("D_m2_s"), 1e-4, &what);
        let speed = settling_speed(d, UNIT_DENSITY, GAS_DENSITY, VISCOSITY, slip);
        // the table was computed with g = 9.81 m/s^2
        close(speed * 9.81 / GRAVITY, row.number("vts_SN_m_s"), 1e-4, &what);
        // four printed digits
        close(sphere_reynolds(10.0, d, GAS_DENSITY, VISCOSITY), row.number("Re_at_10m_s"), 5e-4, &what);
        close(stopping_distance(10.0, tau, d, GAS_DENSITY, VISCOSITY), row.number("stop_SN_10m_s_m"), 1e-4, &what);
    }
}

#[test]
fn the_textbook_tables() {
    // Two printed digits, from memory: 4 %. The whole chain from the gas's own properties.
    let gas = GasState::new(GasSpecies::Air, TEMPERATURE, ATMOSPHERE);
    let mut compared = 0;
    for row in table("particle_dynamics_hinds_memory") {
        let d = row.number("d_um") * 1e-6;
        if d < 1e-9 {
            // 0.37 nm is an air molecule: its diffusivity is measured, and no slip correction is meant for it.
            continue;
        }
        let slip = slip_correction(d, gas.mean_free_path);
        let tau = relaxation_time(d, UNIT_DENSITY, gas.viscosity, slip);
        let got = match row.text("quantity") {
            "tau_s" => tau,
            "vts_m_s" => settling_speed(d, UNIT_DENSITY, gas.density, gas.viscosity, slip),
            "D_m2_s" => diffusion_coefficient(d, gas.temperature, gas.viscosity, slip),
            "stop_distance_10m_s_m" => stopping_distance(10.0, tau, d, gas.density, gas.viscosity),
            other => panic!("unknown quantity {other}"),
        };
        compared += 1;
        close(got, row.number("value"), 4e-2, &format!("{} at {d:e} m", row.text("quantity")));
    }
    assert_eq!(compared, 13);
}
