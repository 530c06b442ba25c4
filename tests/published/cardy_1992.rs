//! Crossing probability of a rectangle at the percolation threshold. Cardy 1992, Critical percolation in finite geometries, J. Phys. A
//! 25:L201; that it holds for any kind of percolation: Langlands, Pouliot & Saint-Aubin 1994. Values of the formula in
//! `tests/data/cardy_crossing.csv` against the aspect ratio: gap over electrode width.

use rand::SeedableRng;
use rand::rngs::Xoshiro256PlusPlus;
use rand_distr::{Distribution, Poisson};
use rayon::prelude::*;
use std::f64::consts::PI;

use super::mertens_moore_2012::{crosses, discs, published_threshold};
use super::table::table;

/// Shorter side of a field, radii.
const SIDE: f64 = 60.0;
/// Fields per aspect ratio.
const FIELDS: u64 = 6000;

/// Share of fields that are bridged.
fn crossing(ratio: f64, eta: f64) -> f64 {
    let field = if ratio < 1.0 { [SIDE, SIDE / ratio] } else { [SIDE * ratio, SIDE] };
    let count = Poisson::new(eta * field[0] * field[1] / PI).expect("positive");
    let bridged: usize = (0..FIELDS)
        .into_par_iter()
        .filter(|k| {
            let mut random = Xoshiro256PlusPlus::seed_from_u64(k + (ratio * 1e6) as u64);
            let number = count.sample(&mut random) as usize;
            crosses(&discs(number, field, &mut random), field, 0.0)
        })
        .count();
    bridged as f64 / FIELDS as f64
}

#[test]
fn crossing_probability_of_two_aspect_ratios() {
    let rows = table("cardy_crossing");
    for ratio in [0.5, 2.0] {
        let exact = |at: f64| {
            let row = rows.iter().find(|row| (row.number("r=gap_length_over_electrode_width") - at).abs() < 1e-6);
            row.expect("a row").number("P_cross")
        };
        let wanted = exact(ratio);
        let error = (wanted * (1.0 - wanted) / FIELDS as f64).sqrt();
        // Where a field ends is known to a disc's radius on each side: 2/60 + 2/120 of the aspect ratio. The slope of the probability
        // with the ratio is taken from the neighbouring rows of the table.
        let neighbours = if ratio < 1.0 { [0.333333, 1.0] } else { [1.25, 2.5] };
        let slope = ((exact(neighbours[0]) - exact(neighbours[1])) / (neighbours[0] - neighbours[1])).abs();
        let allowed = 4.9 * error + slope * ratio * (2.0 / SIDE + 1.0 / SIDE);
        let found = crossing(ratio, published_threshold());
        println!("ratio {ratio}: {found:.4} against {wanted:.4}, allowed {allowed:.4}");
        assert!((found - wanted).abs() < allowed, "ratio {ratio}: {found} against {wanted}, allowed {allowed}");
        assert!(allowed < 0.06, "the comparison tells something");
        // Planted fault: 6 % fewer discs.
        let fewer = crossing(ratio, 0.94 * published_threshold());
        assert!((fewer - wanted).abs() > allowed, "ratio {ratio}: {fewer} with fewer discs");
    }
}
