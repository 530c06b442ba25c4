//! The solved jet: grid, mass, neighbours, and which settings have a solution at all.

use motefall_physics::constants::ATMOSPHERE;
use motefall_physics::droplet::track::{Arrival, Flyer, Sphere};
use motefall_physics::jet::bore::field::BoreField;
use motefall_physics::jet::bore::shape::Shape;
use motefall_physics::jet::exit::ExitProfile;
use motefall_physics::jet::field::{Cell, Field};
use motefall_physics::jet::grid::Fineness;
use motefall_physics::jet::solver::{JetError, JetNumbers, Solution, Source, Surroundings, solve, solve_from};
use motefall_physics::materials::gas::{GasSpecies, GasState};

fn numbers(reynolds: f64, stand_off_ratio: f64) -> JetNumbers {
    JetNumbers { reynolds, stand_off_ratio, exit: ExitProfile::Blend(0.0), surroundings: Surroundings::Open }
}

fn solved(reynolds: f64, stand_off_ratio: f64) -> Solution {
    solve(numbers(reynolds, stand_off_ratio), Fineness::Standard).expect("this jet converges")
}

fn shape() -> Shape {
    Shape { inlet_radius: 1.0 / 0.15, slope: 6f64.to_radians().tan(), land: 2.0, mixing_length: 200.0 }
}

/// A 150 um nozzle under a 1 mm bore with a sixth of the flow as aerosol.
fn flyer(solution: &Solution) -> Flyer {
    let gas = GasState::new(GasSpecies::Nitrogen, 295.15, ATMOSPHERE);
    let nozzle_radius = 75e-6;
    Flyer {
        field: Some(Field::new(solution)),
        bore: BoreField::similar(&shape(), 0.0),
        gas,
        nozzle_radius,
        exit_speed: solution.numbers.reynolds * gas.viscosity / (gas.density * 2.0 * nozzle_radius),
        core_share: 1.0 / 6.0,
        lift_factor: 0.0,
        radius_factor: 1.0,
        refinement: 1.0,
    }
}

/// Largest relative change of the landing radius between two grids, over droplets that land on both; and the share of the flow, over
/// all droplets, that changes its fate.
fn landing_change(standard: &Flyer, fine: &Flyer) -> (f64, f64) {
    let (mut worst, mut changed, mut all) = (0.0_f64, 0, 0);
    for k in 0..=24 {
        let diameter = 0.3e-6 * (8.0_f64 / 0.3).powf(k as f64 / 24.0);
        let sphere = Sphere { diameter, density: 1030.0 };
        for q in [0.02, 0.1, 0.25, 0.5, 0.75, 0.95] {
            all += 1;
            match (standard.fly(q, sphere), fine.fly(q, sphere)) {
                (Arrival::Landed { radius: a, .. }, Arrival::Landed { radius: b, .. }) => {
                    // A landing within a tenth of the core of the axis is compared with that tenth.
                    let scale = b.abs().max(0.03 * fine.nozzle_radius);
                    let change = (a - b).abs() / scale;
                    if change > 0.005 {
                        println!("{:.2} µm, q {q}: {:.3} µm and {:.3} µm", diameter * 1e6, a * 1e6, b * 1e6);
                    }
                    worst = worst.max(change);
                }
                (a, b) => changed += usize::from(std::mem::discriminant(&a) != std::mem::discriminant(&b)),
            }
        }
    }
    (worst, changed as f64 / all as f64)
}

fn grid_halving(reynolds: f64, stand_off_ratio: f64) {
    let standard = solved(reynolds, stand_off_ratio);
    let fine =
        solve_from(&standard, standard.numbers, Source::Blend(0.0), Fineness::Fine).expect("the fine grid converges");
    let (worst, changed) = landing_change(&flyer(&standard), &flyer(&fine));
    println!(
        "Re {reynolds}, {stand_off_ratio} D: landing radius changes by at most {:.2} %, fates {:.1} %",
        100.0 * worst,
        100.0 * changed
    );
    assert!(
        worst < 0.01,
        "Re {reynolds}, {stand_off_ratio} D: halving the grid moves a landing by {:.2} %",
        100.0 * worst
    );
    assert!(
        changed <= 0.02,
        "Re {reynolds}, {stand_off_ratio} D: halving the grid changes {:.1} % of the fates",
        100.0 * changed
    );
}

#[test]
fn halving_the_grid_moves_landings_by_less_than_a_percent_at_re_500() {
    grid_halving(500.0, 20.0);
}

#[test]
fn halving_the_grid_is_worth_a_percent_of_the_diameter_at_re_100() {
    // Here droplets of 1.15 um only just land by inertia, and the landing radius runs away towards that edge: a relative change of
    // the radius has no bound there, a shift of the diameter has. From 1.6 um the radius itself is held to a percent. Smaller
    // droplets land, if at all, by sliding along the plate within their own radius of it, at places that no grid gives to a percent.
    let standard = solved(100.0, 10.0);
    let fine =
        solve_from(&standard, standard.numbers, Source::Blend(0.0), Fineness::Fine).expect("the fine grid converges");
    let (standard, fine) = (flyer(&standard), flyer(&fine));
    let place = |flyer: &Flyer, q: f64, diameter: f64| match flyer.fly(q, Sphere { diameter, density: 1030.0 }) {
        Arrival::Landed { radius, .. } => radius,
        _ => f64::INFINITY,
    };
    let mut worst = 0.0_f64;
    for k in 0..=24 {
        let diameter = 0.3e-6 * (8.0_f64 / 0.3).powf(k as f64 / 24.0);
        for q in [0.02, 0.1, 0.25, 0.5, 0.75, 0.95] {
            let (small, large) = (place(&standard, q, 0.99 * diameter), place(&standard, q, 1.01 * diameter));
            let there = place(&fine, q, diameter);
            if diameter < 1.15e-6 {
                continue;
            }
            if diameter > 1.6e-6 {
                let here = place(&standard, q, diameter);
                worst = worst.max((here - there).abs() / there.abs().max(0.03 * fine.nozzle_radius));
            } else {
                assert!(
                    small.min(large) <= there && there <= small.max(large),
                    "{:.3} µm, q {q}: {:.2} µm on the fine grid, {:.2} to {:.2} µm on the standard one",
                    diameter * 1e6,
                    there * 1e6,
                    large * 1e6,
                    small * 1e6
                );
            }
        }
    }
    println!("Re 100, 10 D, above 1.6 µm: landing radius changes by at most {:.2} %", 100.0 * worst);
    assert!(worst < 0.01, "halving the grid moves a landing by {:.2} %", 100.0 * worst);
}

#[test]
fn halving_the_grid_moves_landings_by_less_than_a_percent_at_re_1000() {
    grid_halving(1000.0, 10.0);
}

/// Diameter (m) from which droplets land that enter where a share of the aerosol flow lies inside.
fn cut(flyer: &Flyer, share: f64) -> f64 {
    let lands =
        |diameter: f64| matches!(flyer.fly(share, Sphere { diameter, density: 1030.0 }), Arrival::Landed { .. });
    let (mut low, mut high) = (0.1e-6_f64, 20e-6_f64);
    while high / low > 1.0001 {
        let middle = (low * high).sqrt();
        if lands(middle) { high = middle } else { low = middle }
    }
    high
}

/// Momentum of the gas through a plane out to 20 R, in units of the mean exit speed and the nozzle's area.
fn momentum(field: &Field, z: f64) -> f64 {
    let n = 40_000;
    let ds = 400.0 / f64::from(n);
    let mut cell = Cell::default();
    (0..n).map(|k| field.at((f64::from(k) + 0.5) * ds, z, &mut cell).axial.powi(2) * ds).sum()
}

#[test]
fn a_long_slow_jet_keeps_its_momentum_and_its_cut() {
    // Jets that have widened to several nozzle radii before they meet the plate: X = 2 (S/R)/Re of 0.5 to 2.4.
    for (reynolds, stand_off_ratio) in [(100.0, 30.0), (160.0, 60.0), (250.0, 60.0)] {
        let standard = solved(reynolds, stand_off_ratio);
        let fine = solve_from(&standard, standard.numbers, Source::Blend(0.0), Fineness::Fine).expect("converges");
        let (standard, fine) = (flyer(&standard), flyer(&fine));
        let field = standard.field.as_ref().expect("a jet");
        let at_exit = momentum(field, 1e-9);
        // The plate slows the gas within some radii.
        let planes = [0.1, 0.3, 0.6, 1.2].map(|x| 0.5 * x * reynolds);
        let planes = planes.into_iter().filter(|z| *z < field.stand_off() - 10.0);
        let kept: Vec<f64> = planes.map(|z| momentum(field, z) / at_exit).collect();
        let (here, there) = (cut(&standard, 0.5), cut(&fine, 0.5));
        println!(
            "Re {reynolds}, {stand_off_ratio} D: momentum {kept:.4?}, cut {:.3} µm, on the fine grid {:.3} µm",
            here * 1e6,
            there * 1e6
        );
        // The gas that is drawn in takes a little: 0.5 % on the fine grid at Re 100 and X 0.6 and 1.2; the standard grid another percent.
        assert!(kept.iter().all(|share| (share - 1.0).abs() < 0.025), "{kept:?}");
        assert!((here / there - 1.0).abs() < 5e-3, "halving the grid moves the cut from {here} to {there}");
    }
}

#[test]
fn the_edge_of_what_lands_is_known_to_two_percent_and_no_fate_at_the_edge_is() {
    // Re 500, 20 diameters: whether a droplet at the very edge lands is a matter of the grid. Where the edge is is not.
    let standard = solved(500.0, 20.0);
    let fine = solve_from(&standard, standard.numbers, Source::Blend(0.0), Fineness::Fine).expect("converges");
    let (standard, fine) = (flyer(&standard), flyer(&fine));
    for share in [0.1, 0.5, 0.9] {
        let (here, there) = (cut(&standard, share), cut(&fine, share));
        println!("share {share}: lands from {:.4} µm, on the fine grid from {:.4} µm", here * 1e6, there * 1e6);
        assert!((here / there - 1.0).abs() < 0.02);
    }
}

/// Flow inside `radius` at a height, in units of the nozzle's: midpoint rule over s = r^2.
fn flow_inside(field: &Field, radius: f64, z: f64) -> f64 {
    let n = 20_000;
    let ds = radius * radius / f64::from(n);
    let mut cell = Cell::default();
    (0..n).map(|k| field.at((f64::from(k) + 0.5) * ds, z, &mut cell).axial * ds).sum()
}

/// Largest relative error of the flow inside the stream surface of the nozzle's rim, psi = 1/2, over planes up to a radius above the
/// plate, where that surface is no longer steep.
fn flow_error(solution: &Solution) -> f64 {
    let field = Field::new(solution);
    let (nr, nz) = (solution.grid.s.len(), solution.grid.z.len());
    let mut worst = (0.0_f64, 0.0);
    for j in (0..nz - 1).filter(|&j| solution.grid.z[j] < field.stand_off() - 1.0) {
        let row = &solution.psi[j * nr..(j + 1) * nr];
        let i = (1..nr).find(|&i| row[i] >= 0.5 - 1e-12).expect("the surface is inside the grid");
        let share = (0.5 - row[i - 1]) / (row[i] - row[i - 1]);
        let s = solution.grid.s[i - 1] + share * (solution.grid.s[i] - solution.grid.s[i - 1]);
        let error = (flow_inside(&field, s.sqrt(), solution.grid.z[j]) - 1.0).abs();
        if error > worst.0 {
            worst = (error, solution.grid.z[j]);
        }
    }
    println!(
        "flow inside the rim's stream surface is off by at most {:.3} %, at height {:.2} R",
        100.0 * worst.0,
        worst.1
    );
    worst.0
}

#[test]
fn mass_is_conserved() {
    // The droplets' field is interpolated between nodes: second order, so half the spacing leaves about a quarter of the error.
    let solution = solved(500.0, 20.0);
    let fine =
        solve_from(&solution, solution.numbers, Source::Blend(0.0), Fineness::Fine).expect("the fine grid converges");
    let (standard, fine) = (flow_error(&solution), flow_error(&fine));
    assert!(standard < 0.005, "flow off by {:.3} %", 100.0 * standard);
    assert!(fine < 0.4 * standard, "{standard} on the standard grid and {fine} on the fine one");
    let field = Field::new(&solution);

    // A ring-shaped box: what flows in through its inner side, floor and roof. Relative to the flow through its roof.
    let mut worst = 0.0_f64;
    for (low, high) in [(2.0, 8.0), (8.0, 20.0), (20.0, 36.0), (36.0, 39.5)] {
        for radius in [0.5, 1.0, 2.0] {
            let n = 4000;
            let dz = (high - low) / f64::from(n);
            let mut cell = Cell::default();
            let side: f64 = (0..n)
                .map(|k| {
                    2.0 * radius
                        * radius
                        * field.at(radius * radius, low + (f64::from(k) + 0.5) * dz, &mut cell).radial_over_r
                        * dz
                })
                .sum();
            let roof = flow_inside(&field, radius, low);
            let balance = (roof - flow_inside(&field, radius, high) - side) / roof;
            worst = worst.max(balance.abs());
        }
    }
    println!("boxes keep their mass to {:.3} % of the flow through their roof", 100.0 * worst);
    assert!(worst < 0.01, "a box gains or loses {:.3} % of its flow", 100.0 * worst);
}

#[test]
fn a_neighbour_leads_to_the_same_field() {
    let cold = solved(300.0, 8.0);
    let neighbour = solved(280.0, 8.4);
    let near =
        solve_from(&neighbour, cold.numbers, Source::Blend(0.0), Fineness::Standard).expect("a near start converges");
    let largest = cold.psi.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
    let worst = cold.psi.iter().zip(&near.psi).fold(0.0_f64, |m, (a, b)| m.max((a - b).abs())) / largest;
    println!("largest difference of psi {worst:.1e}, {} Newton steps", near.newton_steps);
    assert!(worst < 1e-6, "cold and near solutions differ by {worst:.1e}");
}

#[test]
fn settings_are_solved_or_refused_with_a_reason() {
    for (reynolds, stand_off_ratio) in
        [(50.0, 5.0), (50.0, 40.0), (150.0, 40.0), (600.0, 5.0), (600.0, 40.0), (1500.0, 5.0), (1500.0, 20.0)]
    {
        solved_or_refused(reynolds, stand_off_ratio);
    }
    for (reynolds, stand_off_ratio) in [(0.5, 10.0), (5000.0, 10.0), (f64::NAN, 10.0), (100.0, 0.2), (100.0, 100.0)] {
        let error = solve(numbers(reynolds, stand_off_ratio), Fineness::Standard).expect_err("outside the range");
        assert!(matches!(error, JetError::OutOfRange { .. }), "{error}");
    }
}

fn solved_or_refused(reynolds: f64, stand_off_ratio: f64) {
    let start = std::time::Instant::now();
    match solve(numbers(reynolds, stand_off_ratio), Fineness::Standard) {
        Ok(solution) => {
            println!("Re {reynolds}, {stand_off_ratio} D: solved, {:.2} s", start.elapsed().as_secs_f64());
            assert_eq!(solution.numbers.reynolds, reynolds);
            assert!(solution.psi.iter().chain(&solution.zeta).all(|x| x.is_finite()));
            // The jet still points at the plate: downward on the axis all the way.
            let field = Field::new(&solution);
            let mut cell = Cell::default();
            for k in 1..100 {
                let z = field.stand_off() * f64::from(k) / 100.0;
                assert!(
                    field.at(0.0, z, &mut cell).axial > 0.0,
                    "upward flow on the axis at Re {reynolds}, {stand_off_ratio} D"
                );
            }
        }
        Err(error) => {
            println!("Re {reynolds}, {stand_off_ratio} D: {error} ({:.2} s)", start.elapsed().as_secs_f64());
            assert!(error.to_string().contains("stand-off"), "the message says what to change: {error}");
        }
    }
}
