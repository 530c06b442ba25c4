use motefall::constants::ATMOSPHERE;
use motefall::droplet::track::*;
use motefall::jet::bore::{field::BoreField, shape::Shape, solver::*};
use motefall::jet::exit::ExitProfile;
use motefall::jet::field::Field;
use motefall::jet::grid::Fineness;
use motefall::jet::solver::*;
use motefall::materials::gas::{GasSpecies, GasState};
fn main() {
    let re = 390.0;
    let shape = Shape { inlet_radius: 1.0 / 0.15, slope: 25f64.to_radians().tan(), land: 2.0, mixing_length: 200.0 };
    let bore = solve_bore(re, shape, Fineness::Standard).unwrap();
    let numbers = JetNumbers {
        reynolds: re,
        stand_off_ratio: 16.7,
        exit: ExitProfile::Bore(shape),
        surroundings: Surroundings::Open,
    };
    let jet = solve_jet(numbers, Source::Bore(&bore), Fineness::Standard).unwrap();
    let gas = GasState::new(GasSpecies::Nitrogen, 295.15, ATMOSPHERE);
    let f = Flyer {
        field: Some(Field::new(&jet)),
        bore: BoreField::solved(&bore),
        gas,
        nozzle_radius: 75e-6,
        exit_speed: re * gas.viscosity / (gas.density * 150e-6),
        core_share: 1.0,
        lift_factor: 0.0,
        refinement: 1.0,
    };
    for k in 0..24 {
        let d = 4e-6 * 1.06f64.powi(k);
        print!("{:.2} um: ", d * 1e6);
        let s = Sphere { diameter: d, density: 1074.0 };
        let mut last = ' ';
        for j in 0..1000 {
            let q = (j as f64 + 0.5) / 1000.0;
            let c = match f.fly(q, s) {
                Arrival::Landed { .. } => 'L',
                Arrival::Wall => 'W',
                Arrival::Escaped => 'E',
            };
            if c != last {
                print!("{c} from {q:.4} ");
                last = c;
            }
        }
        for q in [0.1, 0.3, 0.5, 0.6, 0.7, 0.8, 0.9] {
            if let Arrival::Landed { radius, .. } = f.fly(q, s) {
                print!(" {:.1}", radius * 1e6)
            }
        }
        for r in [2.0, 8.0] {
            let g = Flyer { refinement: r, ..f.clone() };
            if let Arrival::Landed { radius, .. } = g.fly(0.6, s) {
                print!(" / {:.1}", radius * 1e6)
            }
        }
        println!();
    }
}
