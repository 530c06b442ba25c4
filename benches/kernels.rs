//! Times of the inner loops: one look-up, one flight, one stamp, one drag; and of the jet's solution.

use std::hint::black_box;
use std::sync::LazyLock;

use divan::Bencher;
use motefall_figures::joined::{Rules, Solid, joined};
use motefall_figures::{Grid, Particle};
use motefall_physics::constants::ATMOSPHERE;
use motefall_physics::droplet::table::LandingTable;
use motefall_physics::droplet::track::{Flyer, Sphere};
use motefall_physics::inputs::{Conduction, Outline};
use motefall_physics::jet::bore::field::BoreField;
use motefall_physics::jet::bore::shape::Shape;
use motefall_physics::jet::bore::solver::{BoreSolution, solve_bore};
use motefall_physics::jet::exit::ExitProfile;
use motefall_physics::jet::field::{Cell, Field};
use motefall_physics::jet::grid::Fineness;
use motefall_physics::jet::solver::{JetNumbers, Solution, Source, Surroundings, solve, solve_from};
use motefall_physics::map::canvas::Canvas;
use motefall_physics::materials::drag;
use motefall_physics::materials::gas::{GasSpecies, GasState};
use motefall_physics::source::content::Grain;

fn main() {
    divan::main();
}

/// Droplets in turn, so that no branch is learnt by heart.
const MIXED: usize = 1024;

const SHAPE: Shape = Shape { inlet_radius: 1.0 / 0.15, slope: 0.105, land: 2.0, mixing_length: 200.0 };

fn numbers(reynolds: f64) -> JetNumbers {
    JetNumbers { reynolds, stand_off_ratio: 20.0, exit: ExitProfile::Bore(SHAPE), surroundings: Surroundings::Open }
}

fn bore(reynolds: f64) -> BoreSolution {
    solve_bore(reynolds, SHAPE, Fineness::Standard).expect("this bore converges")
}

static JET: LazyLock<Solution> =
    LazyLock::new(|| solve(numbers(500.0), Fineness::Standard).expect("this jet converges"));

static FLYER: LazyLock<Flyer> = LazyLock::new(|| {
    let gas = GasState::new(GasSpecies::Nitrogen, 295.15, ATMOSPHERE);
    let nozzle_radius = 75e-6;
    Flyer {
        field: Some(Field::new(&JET)),
        bore: BoreField::solved(&bore(500.0)),
        gas,
        nozzle_radius,
        exit_speed: JET.numbers.reynolds * gas.viscosity / (gas.density * 2.0 * nozzle_radius),
        core_share: 1.0 / 6.0,
        lift_factor: 0.0,
        radius_factor: 1.0,
        refinement: 1.0,
    }
});

static TABLE: LazyLock<LandingTable> = LazyLock::new(|| LandingTable::new(&FLYER, [20e-9, 12e-6], [1000.0, 1400.0]));

/// Shares of the flow and diameters (m) of a mist of 0.3 to 8 um, from the fractional parts of multiples of two irrational numbers.
static DROPLETS: LazyLock<Vec<(f64, f64)>> = LazyLock::new(|| {
    (1..=MIXED)
        .map(|k| {
            let k = k as f64;
            ((0.618_033_988_7 * k).fract().max(1e-3), 0.3e-6 * (8.0_f64 / 0.3).powf((0.754_877_666 * k).fract()))
        })
        .collect()
});

#[divan::bench]
fn drag_evaluation(bencher: Bencher) {
    bencher
        .counter(MIXED)
        .bench(|| (0..MIXED).map(|k| drag::schiller_naumann(black_box(0.01 * k as f64))).sum::<f64>());
}

#[divan::bench]
fn field_look_up(bencher: Bencher) {
    let field = Field::new(&JET);
    // Down a stream of the jet, as a droplet does.
    bencher.counter(MIXED).bench(|| {
        let mut cell = Cell::default();
        (0..MIXED).map(|k| field.at(0.1, 40.0 / MIXED as f64 * k as f64, &mut cell).axial).sum::<f64>()
    });
}

/// Direct tracking. Divide by `table_look_up` for the table's gain.
#[divan::bench(sample_count = 20)]
fn flight(bencher: Bencher) {
    let flyer = &*FLYER;
    let droplets = &*DROPLETS;
    bencher.counter(MIXED).bench(|| {
        for &(q, diameter) in droplets {
            black_box(flyer.fly(q, Sphere { diameter, density: 1030.0 }));
        }
    });
}

#[divan::bench]
fn table_look_up(bencher: Bencher) {
    let table = &*TABLE;
    let droplets: Vec<(f64, f64)> = DROPLETS.iter().map(|&(q, d)| (q, d.ln())).collect();
    bencher.counter(MIXED).bench(|| {
        for &(q, log) in &droplets {
            black_box(table.find(q, log, 1030.0));
        }
    });
}

/// A particle of 0.3 um on pixels of 0.25 um.
#[divan::bench]
fn stamp(bencher: Bencher) {
    let mut canvas = Canvas::new(Grid { origin: [0.0, 0.0], pitch: 0.25e-6, columns: 400, rows: 400 }, 1);
    let places: Vec<[f64; 2]> = (1..=MIXED)
        .map(|k| [0.618_033_988_7, 0.754_877_666].map(|a: f64| 5e-6 + 90e-6 * (a * k as f64).fract()))
        .collect();
    bencher.counter(MIXED).bench_local(|| {
        for place in &places {
            canvas.stamp(place[0], place[1], &Grain::new(0, 0.3e-6));
        }
    });
}

/// A million particles of 0.1 to 1 um, four in ten of carbon, several layers deep on two electrodes and between them.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn joined_million(bencher: Bencher) {
    let particles: Vec<Particle> = (1..=1_000_000)
        .map(|k| {
            let part = |a: f64| (a * f64::from(k)).fract();
            Particle {
                x: 400e-6 * (part(0.618_033_988_7) - 0.5),
                y: 400e-6 * (part(0.754_877_666) - 0.5),
                diameter: 0.1e-6 * 10f64.powf(part(0.569_840_291) * part(0.414_213_562)),
                powder: u16::from(part(0.732_050_808) < 0.4),
                droplet: 0,
            }
        })
        .collect();
    let solids = [
        Solid { conduction: Conduction::Insulating, capacity: 1e9 },
        Solid { conduction: Conduction::Conducting, capacity: 0.0 },
    ];
    let electrode = |x: f64| Outline::Rectangle { center: [x, 0.0], size: [150e-6, 400e-6], rotation: 0.0 };
    let electrodes = [electrode(-120e-6), electrode(120e-6)];
    bencher
        .counter(particles.len())
        .bench_local(|| joined(black_box(&particles), &solids, &electrodes, Rules::default()));
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn landing_table() -> LandingTable {
    LandingTable::new(&FLYER, [20e-9, 12e-6], [1000.0, 1400.0])
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn bore_cold() -> BoreSolution {
    bore(black_box(600.0))
}

/// With its bore.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn jet_cold() -> Solution {
    solve(black_box(numbers(600.0)), Fineness::Standard).expect("this jet converges")
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn jet_from_a_neighbour(bencher: Bencher) {
    let neighbour = solve(numbers(570.0), Fineness::Standard).expect("this jet converges");
    let bore = bore(600.0);
    let source = Source::Bore(&bore);
    bencher
        .bench(|| solve_from(&neighbour, numbers(600.0), source, Fineness::Standard).expect("a near start converges"));
}
