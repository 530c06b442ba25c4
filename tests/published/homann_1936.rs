//! Stagnation flow on the plate under the jet. Homann 1936, Der Einfluss grosser Zaehigkeit bei der Stroemung um den Zylinder und um
//! die Kugel, Z. Angew. Math. Mech. 16:153: f''' + 2 f f'' + 1 - f'^2 = 0.

use motefall_physics::jet::exit::ExitProfile;
use motefall_physics::jet::field::{Cell, Field};
use motefall_physics::jet::grid::Fineness;
use motefall_physics::jet::solver::{JetNumbers, Solution, Surroundings, solve};

use super::table::{near, table};

/// f''(0), Homann 1936 (as computed in the table of values).
fn wall_shear() -> f64 {
    number("fpp0")
}

fn number(quantity: &str) -> f64 {
    table("stagnation_flow")
        .iter()
        .find(|row| row.text("problem").starts_with("Homann") && row.text("quantity") == quantity)
        .unwrap_or_else(|| panic!("no {quantity}"))
        .number("value")
}

#[test]
fn the_layer_on_the_plate_under_the_axis() {
    // A near-plug exit, two diameters above the plate, fine grid: a dozen nodes in the layer.
    let reynolds = 600.0;
    let numbers =
        JetNumbers { reynolds, stand_off_ratio: 2.0, exit: ExitProfile::Blend(1.0), surroundings: Surroundings::Open };
    let solution: Solution = solve(numbers, Fineness::Fine).expect("this jet converges");
    let on_plate = (solution.grid.z.len() - 1) * solution.grid.s.len();
    // Units of U and R: nu = 2/Re. On the plate -zeta = a sqrt(a/nu) f''(0), which gives a.
    let viscosity: f64 = 2.0 / reynolds;
    let strain = (-solution.zeta[on_plate] * viscosity.sqrt() / wall_shear()).powf(2.0 / 3.0);
    let field = Field::new(&solution);
    println!("a = {:.4} U/D", 2.0 * strain);
    // An inviscid plug has 0.916 U/D (Liu, Gabour & Lienhard 1993, Stagnation-point heat transfer during impingement of laminar
    // liquid jets, J. Heat Transfer 115:99; from memory). Here U is the mean: the core is 1.1 times as fast and the stream, less its
    // slow rim, a twentieth narrower, which makes 1.06; the rim's grid adds a few per cent. Order of magnitude: 15 %.
    near(2.0 * strain, 1.06, 0.16, "strain rate at the stagnation point, U/D");
    for eta in ["0.2", "0.4", "0.6", "0.8", "1.0", "1.4", "1.8"] {
        let height = eta.parse::<f64>().expect("a number") * (viscosity / strain).sqrt();
        let gas = field.at(0.0, field.stand_off() - height, &mut Cell::default());
        let got = gas.radial_over_r / strain;
        println!("eta {eta}: {got:.4}, {:+.4}", got - number(&format!("f'({eta})")));
        // Homann's outer flow has the same strain everywhere; the jet's falls by 2 % over the layer's thickness of 0.15 R. 0.015.
        near(got, number(&format!("f'({eta})")), 0.015, &format!("u_r/(a r) at eta = {eta}"));
    }
}
