//! Vapour pressure over a curved surface. Thomson 1871, On the equilibrium of vapour at a curved surface of liquid, Phil. Mag. 42:448.
//! Surface tension and density as in `solvent_properties.csv` at 20 C.

use motefall_physics::materials::solvent::Solvent;
use motefall_physics::units::kelvin;

use super::table::{close, table};

#[test]
fn kelvin_ratios() {
    let properties = table("solvent_properties");
    for row in table("kelvin_ratio") {
        let (name, t) = (row.text("solvent"), row.number("T_C"));
        let p = properties.iter().find(|p| p.text("solvent") == name && p.number("T_C") == t).expect("tabulated");
        let solvent = Solvent {
            molar_mass: p.number("M_g_mol") * 1e-3,
            density: p.number("density_kg_m3"),
            surface_tension: p.number("surface_tension_N_m"),
            ..Solvent::built_in(name, kelvin(t)).expect("built in")
        };
        // five printed digits of inputs and result
        close(solvent.kelvin_ratio(row.number("d_um") * 1e-6, kelvin(t)), row.number("p_over_psat"), 1e-4, name);
    }
}
