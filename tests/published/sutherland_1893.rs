//! Gas properties at one atmosphere. Sutherland 1893, The viscosity of gases and molecular force, Phil. Mag. 36:507, constants of White
//! 2006, Viscous Fluid Flow; reference: Lemmon & Jacobsen 2004, Int. J. Thermophys. 25:21 and the equations of state named in the data.

use motefall_physics::constants::ATMOSPHERE;
use motefall_physics::materials::gas::{GasSpecies, GasState, sutherland_viscosity};
use motefall_physics::units::kelvin;

use super::table::{close, table};

#[test]
fn the_relation_itself() {
    let mut compared = 0;
    for row in table("sutherland_viscosity") {
        if let Some(reference) = row.maybe("mu0_Pa_s") {
            compared += 1;
            let got = sutherland_viscosity(reference, row.number("T0_K"), row.number("S_K"), kelvin(row.number("T_C")));
            // five printed digits
            close(got, row.number("viscosity_Pa_s"), 5e-5, row.text("gas"));
        }
    }
    assert!(compared >= 14);
}

#[test]
fn gases_against_reference_equations() {
    for row in table("gas_properties") {
        let (species, viscosity_tolerance) = match row.text("gas") {
            "Nitrogen" => (GasSpecies::Nitrogen, 5e-3),
            "Air" => (GasSpecies::Air, 8e-3),
            "Argon" => (GasSpecies::Argon, 1.2e-2),
            other => panic!("unknown gas {other}"),
        };
        let gas = GasState::new(species, kelvin(row.number("T_C")), ATMOSPHERE);
        let what = format!("{} {} C", row.text("gas"), row.text("T_C"));
        close(gas.viscosity, row.number("viscosity_Pa_s"), viscosity_tolerance, &what);
        close(gas.density, row.number("density_kg_m3"), 1e-3, &what);
        // as stated where the constants stand
        close(gas.heat_conductivity, row.number("thermal_conductivity_W_mK"), 5e-3, &what);
        close(gas.heat_capacity, row.number("cp_J_kgK"), 5e-3, &what);
        close(gas.sound_speed, row.number("sound_speed_m_s"), 2e-3, &what);
    }
}
