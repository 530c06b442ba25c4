use motefall::constants::ATMOSPHERE;
use motefall::droplet::track::*;
use motefall::jet::bore::{field::BoreField, shape::Shape, solver::*};
use motefall::jet::exit::ExitProfile;
use motefall::jet::field::{Cell, Field};
use motefall::jet::grid::Fineness;
use motefall::jet::solver::*;
use motefall::materials::gas::{GasSpecies, GasState};
use std::time::Instant;
fn momentum(f: &Field, z: f64) -> f64 {
    let n = 40000;
    let r2 = 400.0;
    let ds = r2 / n as f64;
    let mut c = Cell::default();
    (0..n)
        .map(|k| {
            let u = f.at((k as f64 + 0.5) * ds, z, &mut c).axial;
            u * u * ds
        })
        .sum()
}
fn main() {
    let shape = Shape { inlet_radius: 1.0 / 0.15, slope: 6f64.to_radians().tan(), land: 2.0, mixing_length: 200.0 };
    let what = std::env::args().nth(1).unwrap_or_default();
    if what == "time" {
        for (re, sd) in [
            (390.0, 16.7),
            (600.0, 5.0),
            (600.0, 16.7),
            (600.0, 40.0),
            (1000.0, 16.7),
            (1500.0, 5.0),
            (1500.0, 16.7),
            (1500.0, 25.0),
            (100.0, 40.0),
        ] {
            let t = Instant::now();
            let bore = solve_bore(re, shape, Fineness::Standard).unwrap();
            let tb = t.elapsed();
            let numbers = JetNumbers {
                reynolds: re,
                stand_off_ratio: sd,
                exit: ExitProfile::Bore(shape),
                surroundings: Surroundings::Open,
            };
            let t = Instant::now();
            let jet = solve_jet(numbers, Source::Bore(&bore), Fineness::Standard);
            match jet {
                Ok(jet) => {
                    println!(
                        "Re {re} S/D {sd}: bore {tb:?}, jet {:?} ({} x {} nodes, {} steps)",
                        t.elapsed(),
                        jet.grid.s.len(),
                        jet.grid.z.len(),
                        jet.newton_steps
                    );
                    let near = JetNumbers { reynolds: 1.1 * re, stand_off_ratio: 1.1 * sd, ..numbers };
                    let t = Instant::now();
                    let bore = solve_bore(1.1 * re, shape, Fineness::Standard).unwrap();
                    let tb = t.elapsed();
                    let t = Instant::now();
                    match solve_from(&jet, near, Source::Bore(&bore), Fineness::Standard) {
                        Ok(j) => println!(
                            "   neighbour 10 % off: bore cold {tb:?} jet {:?}, {} steps",
                            t.elapsed(),
                            j.newton_steps
                        ),
                        Err(e) => println!("   neighbour {e} {:?}", t.elapsed()),
                    }
                }
                Err(e) => println!("Re {re} S/D {sd}: bore {tb:?}, {e} {:?}", t.elapsed()),
            }
        }
        return;
    }
    for (re, sd) in
        [(100.0, 30.0), (100.0, 60.0), (160.0, 60.0), (250.0, 30.0), (250.0, 60.0), (390.0, 16.7), (500.0, 20.0)]
    {
        for exit in [ExitProfile::Blend(0.0), ExitProfile::Bore(shape)] {
            let numbers = JetNumbers { reynolds: re, stand_off_ratio: sd, exit, surroundings: Surroundings::Open };
            let sources = |f| solve_bore(re, shape, f).unwrap();
            let (b1, b2) = (sources(Fineness::Standard), sources(Fineness::Fine));
            let src = |b| match exit {
                ExitProfile::Blend(x) => Source::Blend(x),
                _ => Source::Bore(b),
            };
            let t = Instant::now();
            let standard = solve_jet(numbers, src(&b1), Fineness::Standard).unwrap();
            let time = t.elapsed();
            let fine = solve_from(&standard, numbers, src(&b2), Fineness::Fine).unwrap();
            let gas = GasState::new(GasSpecies::Nitrogen, 295.15, ATMOSPHERE);
            let flyer = |j: &Solution, b: &BoreSolution| Flyer {
                field: Some(Field::new(j)),
                bore: if let ExitProfile::Blend(x) = exit {
                    BoreField::similar(&shape, x)
                } else {
                    BoreField::solved(b)
                },
                gas,
                nozzle_radius: 75e-6,
                exit_speed: re * gas.viscosity / (gas.density * 150e-6),
                core_share: 1.0 / 6.0,
                lift_factor: 0.0,
                refinement: 1.0,
            };
            let (f1, f2) = (flyer(&standard, &b1), flyer(&fine, &b2));
            print!(
                "Re {re} S/D {sd} {} nodes {} x {} {time:?}; momentum",
                if matches!(exit, ExitProfile::Blend(_)) { "developed" } else { "bore" },
                standard.grid.s.len(),
                standard.grid.z.len()
            );
            for x in [0.1, 0.3, 0.6, 1.2] {
                let z = 0.5 * x * re;
                if z < 2.0 * sd - 6.0 {
                    let m0 = momentum(f2.field.as_ref().unwrap(), 1e-9);
                    print!(
                        " X{x}: {:.3}/{:.3} uc {:.4}/{:.4}",
                        momentum(f1.field.as_ref().unwrap(), z) / m0,
                        momentum(f2.field.as_ref().unwrap(), z) / m0,
                        f1.field.as_ref().unwrap().at(0.0, z, &mut Cell::default()).axial,
                        f2.field.as_ref().unwrap().at(0.0, z, &mut Cell::default()).axial
                    );
                }
            }
            let (mut worst, mut fates, mut at) = (0.0f64, 0, (0.0, 0.0));
            for k in 0..=40 {
                let d = 0.3e-6 * (20.0f64 / 0.3).powf(k as f64 / 40.0);
                for q in [0.02, 0.1, 0.25, 0.5, 0.75, 0.95] {
                    let s = Sphere { diameter: d, density: 1030.0 };
                    match (f1.fly(q, s), f2.fly(q, s)) {
                        (Arrival::Landed { radius: a, .. }, Arrival::Landed { radius: b, .. }) => {
                            let c = (a - b).abs() / b.abs().max(0.03 * 75e-6);
                            if c > worst {
                                worst = c;
                                at = (d * 1e6, q);
                            }
                        }
                        (a, b) => fates += usize::from(std::mem::discriminant(&a) != std::mem::discriminant(&b)),
                    }
                }
            }
            let cut = |f: &Flyer| {
                let (mut l, mut h) = (0.3e-6f64, 20e-6f64);
                while h / l > 1.0001 {
                    let m = (l * h).sqrt();
                    if matches!(f.fly(0.5, Sphere { diameter: m, density: 1030.0 }), Arrival::Landed { .. }) {
                        h = m
                    } else {
                        l = m
                    }
                }
                h
            };
            println!(
                "; landing {:.2} % at {:.2} um q {}, fates {fates}, cut {:.3}/{:.3} um {:+.2} %",
                100.0 * worst,
                at.0,
                at.1,
                cut(&f1) * 1e6,
                cut(&f2) * 1e6,
                100.0 * (cut(&f1) / cut(&f2) - 1.0)
            );
        }
    }
}
