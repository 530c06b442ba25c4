//! Cut of a round-jet impactor: sqrt(Stk50) = 0.49, Stk = rho d^2 Cc U/(9 mu W), for 500 < Re < 3000 and S/W 1 to 5. Marple & Liu
//! 1974, Characteristics of laminar jet impactors, Environ. Sci. Technol. 8:648; Rader & Marple 1985, Effect of ultra-Stokesian drag
//! and particle interception on impaction characteristics, Aerosol Sci. Technol. 4:141.
//!
//! Their nozzle is a cone and a throat, not a flat profile in a plane. A flat profile cannot cut there: its strain rate at the
//! stagnation point is about 0.92 U/W (inviscid), the axial gradient k twice that, and a sphere on the axis reaches the plate only if
//! tau k > 1/4, which is sqrt(Stk) > 0.52. So the profile here is that of the laminar entrance flow of the throat.

use motefall_physics::constants::ATMOSPHERE;
use motefall_physics::droplet::track::{Arrival, Flyer, Sphere};
use motefall_physics::jet::bore::field::BoreField;
use motefall_physics::jet::bore::shape::Shape;
use motefall_physics::jet::exit::ExitProfile;
use motefall_physics::jet::field::Field;
use motefall_physics::jet::grid::Fineness;
use motefall_physics::jet::solver::{JetNumbers, Surroundings, solve};
use motefall_physics::materials::drag::slip_correction;
use motefall_physics::materials::gas::{GasSpecies, GasState};

use super::table::{near, table};

/// Nozzle diameter W, m: large enough that slip and interception are small, small enough that gravity is.
const NOZZLE: f64 = 1e-3;
/// Density of the particles, kg/m^3.
const DENSITY: f64 = 1000.0;

/// Boundary layer that the cone leaves at the throat, as a length of throat that would grow it, in W: Thwaites' integral of u^5 r^2
/// over the cone for u ~ 1/r^2, slope tan 30 degrees, is 1/(7 tan 30) radii.
const CONE_LAYER: f64 = 0.125;

/// Centre speed over mean speed in the laminar entrance of a pipe that starts flat, at the given lengths in x/(D Re), rising.
///
/// Boundary-layer equation u u_x + v u_r = -p_x + nu (r u_r)_r / r, marched implicitly; the pressure gradient keeps the flow constant.
fn centre_speed_in_entrance(lengths: &[f64]) -> Vec<f64> {
    const N: usize = 400;
    let dr = 1.0 / N as f64;
    // Lengths in x nu/(U R^2) = 4 x/(D Re), so that the viscosity is 1.
    let mut u = vec![1.0; N + 1];
    u[N] = 0.0;
    let mut v = vec![0.0; N + 1];
    let (mut x, mut out) = (0.0, Vec::new());
    let flow = |u: &[f64]| {
        (0..N)
            .map(|i| {
                let (a, b) = (i as f64 * dr, (i + 1) as f64 * dr);
                (a * u[i] + b * u[i + 1]) * dr
            })
            .sum::<f64>()
    };
    let whole = 1.0;
    let mut dx = 2e-7;
    for &length in lengths {
        let target = 4.0 * length;
        while x < target - 1e-15 {
            let step = f64::min(dx, target - x);
            let old = u.clone();
            let mut new = u.clone();
            for _ in 0..4 {
                // Two right sides: old momentum, and a unit pressure gradient.
                let (mut upper, mut first, mut second) = (vec![0.0; N], vec![0.0; N], vec![0.0; N]);
                for i in 0..N {
                    let r = i as f64 * dr;
                    let (below, above) = if i == 0 {
                        (0.0, 4.0 / (dr * dr))
                    } else {
                        ((1.0 - 0.5 * dr / r) / (dr * dr), (1.0 + 0.5 * dr / r) / (dr * dr))
                    };
                    let (lower, over) = (-v[i] / (2.0 * dr) - below, v[i] / (2.0 * dr) - above);
                    let diagonal = new[i] / step + below + above;
                    let (right, push) = (new[i] * old[i] / step, 1.0);
                    let (f, s, c) = if i == 0 { (0.0, 0.0, 0.0) } else { (first[i - 1], second[i - 1], upper[i - 1]) };
                    let pivot = diagonal - lower * c;
                    upper[i] = over / pivot;
                    first[i] = (right - lower * f) / pivot;
                    second[i] = (push - lower * s) / pivot;
                }
                let (mut a, mut b) = (vec![0.0; N + 1], vec![0.0; N + 1]);
                for i in (0..N).rev() {
                    a[i] = first[i] - upper[i] * a[i + 1];
                    b[i] = second[i] - upper[i] * b[i + 1];
                }
                let push = (whole - flow(&a)) / flow(&b);
                for i in 0..=N {
                    new[i] = a[i] + push * b[i];
                }
                // v = -(1/r) d/dx of the integral of u r dr.
                let mut gathered = 0.0;
                for i in 1..N {
                    let (a, b) = ((i - 1) as f64 * dr, i as f64 * dr);
                    gathered += 0.5 * dr * (a * (new[i - 1] - old[i - 1]) + b * (new[i] - old[i]));
                    v[i] = -gathered / (b * step);
                }
            }
            u = new;
            x += step;
            dx = (1.03 * dx).min(1e-3);
        }
        out.push(u[0]);
    }
    out
}

/// Square root of the Stokes number at which half of the flow's particles land.
fn root_stokes_50(reynolds: f64, gap: f64, throat: f64) -> f64 {
    let gas = GasState::new(GasSpecies::Air, 293.15, ATMOSPHERE);
    let exit_speed = reynolds * gas.viscosity / (gas.density * NOZZLE);
    let centre = centre_speed_in_entrance(&[(throat + CONE_LAYER) / reynolds])[0];
    // The blend with the same centre speed: 2 (1 - b) + 1.1 b.
    let plug_blend = ((2.0 - centre) / 0.9).clamp(0.0, 1.0);
    let numbers = JetNumbers {
        reynolds,
        stand_off_ratio: gap,
        exit: ExitProfile::Blend(plug_blend),
        surroundings: Surroundings::Wall,
    };
    let shape = Shape { inlet_radius: 4.0, slope: 30f64.to_radians().tan(), land: 2.0 * throat, mixing_length: 0.0 };
    let solution = solve(numbers, Fineness::Standard).expect("this jet converges");
    let flyer = Flyer {
        field: Some(Field::new(&solution)),
        bore: BoreField::similar(&shape, plug_blend),
        gas,
        nozzle_radius: 0.5 * NOZZLE,
        exit_speed,
        core_share: 1.0,
        lift_factor: 0.0,
        radius_factor: 1.0,
        refinement: 1.0,
    };
    let lands = |root: f64| {
        let slip_times_square = root * root * 9.0 * gas.viscosity * NOZZLE / (DENSITY * exit_speed);
        let diameter = (0..30)
            .fold(slip_times_square.sqrt(), |d, _| (slip_times_square / slip_correction(d, gas.mean_free_path)).sqrt());
        matches!(flyer.fly(0.5, Sphere { diameter, density: DENSITY }), Arrival::Landed { .. })
    };
    let (mut low, mut high) = (0.2, 1.0);
    while high - low > 1e-4 {
        let middle = 0.5 * (low + high);
        if lands(middle) { high = middle } else { low = middle }
    }
    println!(
        "Re {reynolds}, S/W {gap}, throat {throat} W: centre speed {centre:.3}, blend {plug_blend:.3}, sqrt(Stk50) {high:.3}"
    );
    high
}

#[test]
fn the_entrance_flow_is_right() {
    // 99 % of the developed centre speed at x/(D Re) = 0.056: Shah & London 1978, Laminar Flow Forced Convection in Ducts (from memory).
    near(centre_speed_in_entrance(&[0.056])[0], 1.98, 0.005, "centre speed at the entrance length");
}

#[test]
fn cut_of_a_cone_with_a_throat() {
    // The asked-for 0.05 about 0.49. Throats of two nozzle diameters; with one diameter the profile is flatter and the same chain gives
    // 0.54 to 0.55, and with none (a flat profile) 0.57 to 0.58. At S/W 1 no steady flow was found for Re 1000 and above.
    let published = table("impactor_cut")
        .iter()
        .find(|row| row.text("case") == "round jet recommended")
        .expect("row")
        .number("sqrtStk50");
    for (reynolds, gap) in [(500.0, 1.0), (500.0, 2.0), (500.0, 5.0), (1000.0, 2.0), (1000.0, 5.0)] {
        near(root_stokes_50(reynolds, gap, 2.0), published, 0.05, &format!("sqrt(Stk50) at Re {reynolds}, S/W {gap}"));
    }
}
