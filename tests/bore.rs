//! The solved flow through the bore: against a march of the boundary layer, entrance length, sink flow, mass, grid.

use motefall_physics::jet::bore::field::{BoreCell, BoreField};
use motefall_physics::jet::bore::shape::Shape;
use motefall_physics::jet::bore::solver::{BoreSolution, refine, solve_bore};
use motefall_physics::jet::grid::Fineness;

/// A cone from a bore of `inlet` nozzle radii, long enough before it for a developed flow.
fn shape(degrees: f64, land: f64, inlet: f64) -> Shape {
    Shape { inlet_radius: inlet, slope: degrees.to_radians().tan(), land, mixing_length: 30.0 * inlet }
}

fn solved(reynolds: f64, shape: Shape) -> BoreSolution {
    solve_bore(reynolds, shape, Fineness::Standard).expect("this bore converges")
}

/// Axial speed at squared radius `s` and height `z`.
fn axial(field: &BoreField, s: f64, z: f64) -> f64 {
    field.at(s.sqrt(), z, &mut BoreCell::default()).axial
}

/// A march of the boundary-layer equation down a cone and a land, from developed flow at the cone's mouth.
///
/// In the cone on spheres about its apex, where pressure is even: W = A u over sigma = (1 - cos theta)/(1 - cos alpha), A the cap's area
/// over pi, x = -rho, g = A'/A = -2/rho, epsilon = 1 - cos alpha:
///
/// ```text
/// W (W_x - g W) - 2 psi_x W_s = -A^2 p' + (8/Re) (s (1 - epsilon s/2) W_s)_s,   psi_s = W/2,   integral of W ds = 1,   W(1) = 0
/// ```
///
/// In the land sigma = r^2, g = 0 and epsilon = 0. Implicit steps of first order, extrapolated; shares nothing with the solver.
struct March {
    sigma: Vec<f64>,
}

impl March {
    fn new() -> Self {
        // Dense at the wall, where W ends.
        let n = 300;
        Self { sigma: (0..=n).map(|k| 1.0 - (1.0 - f64::from(k) / f64::from(n)).powf(1.7)).collect() }
    }

    /// Speed profile A u at the end.
    fn exit(&self, reynolds: f64, degrees: f64, land: f64, inlet: f64) -> Vec<f64> {
        let [coarse, fine] = [400, 800].map(|steps| self.marched(reynolds, degrees, land, inlet, steps));
        coarse.iter().zip(&fine).map(|(coarse, fine)| 2.0 * fine - coarse).collect()
    }

    fn marched(&self, reynolds: f64, degrees: f64, land: f64, inlet: f64, steps: u32) -> Vec<f64> {
        let alpha = degrees.to_radians();
        let mut w: Vec<f64> = self.sigma.iter().map(|s| 2.0 * (1.0 - s)).collect();
        // Even steps in the logarithm of the distance from the apex.
        let ratio = inlet.powf(-1.0 / f64::from(steps));
        let mut rho = inlet / alpha.sin();
        for _ in 0..steps {
            let next = rho * ratio;
            w = self.step(&w, reynolds, rho - next, -2.0 / next, 1.0 - alpha.cos());
            rho = next;
        }
        // The layer of the land grows as a root at first.
        for k in 0..if land > 0.0 { steps } else { 0 } {
            let at = |k: u32| land * (f64::from(k) / f64::from(steps)).powi(2);
            w = self.step(&w, reynolds, at(k + 1) - at(k), 0.0, 0.0);
        }
        w
    }

    /// Diameters of a straight bore after which the speed on the axis is 1.98, from a flat profile and from the one that the solver starts
    /// with, which has a thin layer at the wall.
    fn lengths(&self, reynolds: f64) -> [f64; 2] {
        [|_: f64| 1.0, |s: f64| 1.1 * (1.0 - s.powi(10))].map(|start| {
            let mut w: Vec<f64> = self.sigma.iter().map(|s| if *s < 1.0 { start(*s) } else { 0.0 }).collect();
            let (mut length, mut step) = (0.0, 1e-6 * reynolds);
            loop {
                let next = self.step(&w, reynolds, step, 0.0, 0.0);
                if next[0] >= 1.98 {
                    return 0.5 * (length + step * (1.98 - w[0]) / (next[0] - w[0]));
                }
                (w, length) = (next, length + step);
                step = (1.05 * step).min(1e-4 * reynolds);
            }
        })
    }

    fn step(&self, old: &[f64], reynolds: f64, length: f64, g: f64, epsilon: f64) -> Vec<f64> {
        let s = &self.sigma;
        let n = s.len() - 1;
        let integral = |w: &[f64]| (0..n).map(|i| 0.5 * (w[i] + w[i + 1]) * (s[i + 1] - s[i])).sum::<f64>();
        let mut new = old.to_vec();
        for _ in 0..5 {
            let (mut upper, mut first, mut second) = (vec![0.0; n], vec![0.0; n], vec![0.0; n]);
            let mut psi_change = 0.0;
            for i in 0..n {
                let face = |a: usize| {
                    let middle = 0.5 * (s[a] + s[a + 1]);
                    8.0 / reynolds * middle * (1.0 - 0.5 * epsilon * middle) / (s[a + 1] - s[a])
                };
                let below = if i > 0 { 0.5 * (s[i] + s[i - 1]) } else { 0.0 };
                let width = 0.5 * (s[i] + s[i + 1]) - below;
                if i > 0 {
                    let change = 0.5 * (new[i] + new[i - 1] - old[i] - old[i - 1]);
                    psi_change += 0.5 * change * (s[i] - s[i - 1]);
                }
                // -2 psi_x W_s by central differences.
                let across = if i > 0 { -2.0 * psi_change / length / (s[i + 1] - s[i - 1]) } else { 0.0 };
                let inner = if i > 0 { face(i - 1) / width } else { 0.0 };
                let outer = face(i) / width;
                let (lower, over) = (-across - inner, across - outer);
                let diagonal = new[i] / length - g * new[i] + inner + outer;
                let (right, push) = (new[i] * old[i] / length, 1.0);
                let (f, p, c) = if i > 0 { (first[i - 1], second[i - 1], upper[i - 1]) } else { (0.0, 0.0, 0.0) };
                let pivot = diagonal - lower * c;
                upper[i] = over / pivot;
                first[i] = (right - lower * f) / pivot;
                second[i] = (push - lower * p) / pivot;
            }
            let (mut a, mut b) = (vec![0.0; n + 1], vec![0.0; n + 1]);
            for i in (0..n).rev() {
                a[i] = first[i] - upper[i] * a[i + 1];
                b[i] = second[i] - upper[i] * b[i + 1];
            }
            let push = (1.0 - integral(&a)) / integral(&b);
            new = a.iter().zip(&b).map(|(a, b)| a + push * b).collect();
        }
        new
    }
}

/// Largest difference of the solver's profile on the axis, and anywhere, from a marched one. Without a land on the sphere about the cone's
/// apex that meets the wall half a radius above the exit: at the exit itself the free jet already draws together, which no march knows.
fn differences(field: &BoreField, march: &March, marched: &[f64], degrees: f64, land: f64) -> [f64; 2] {
    let alpha = degrees.to_radians();
    let mut cell = BoreCell::default();
    let mut speed = |sigma: f64| {
        if land > 0.0 {
            return field.at(sigma.sqrt(), -1e-9, &mut cell).axial;
        }
        let wall = field.line.wall(-0.5).radius;
        let (rho, cosine) = (wall / alpha.sin(), 1.0 - sigma * (1.0 - alpha.cos()));
        let sine = (1.0 - cosine * cosine).max(0.0).sqrt();
        let gas = field.at(rho * sine, -0.5 + rho * (alpha.cos() - cosine), &mut cell);
        2.0 * rho * rho * (1.0 - alpha.cos()) * (gas.axial * cosine - gas.radial * sine)
    };
    let differences: Vec<f64> = march.sigma.iter().zip(marched).map(|(s, w)| speed(*s) - w).collect();
    [differences[0].abs(), differences.iter().fold(0.0, |most: f64, d| most.max(d.abs()))]
}

#[test]
fn the_exit_is_that_of_a_marched_boundary_layer() {
    let march = March::new();
    for degrees in [3.0_f64, 6.0, 15.0] {
        for reynolds in [200.0, 400.0, 800.0, 1500.0] {
            for land in [0.0, 2.0] {
                let inlet = 1.0 / 0.15;
                let field = BoreField::solved(&solved(reynolds, shape(degrees, land, inlet)));
                let marched = march.exit(reynolds, degrees, land, inlet);
                let [centre, anywhere] = differences(&field, &march, &marched, degrees, land);
                println!(
                    "Re {reynolds}, {degrees} deg, land {land}: centre at the exit {:.4}, marched {:.4}; apart {centre:.4} on the axis, \
                     {anywhere:.4} anywhere",
                    axial(&field, 0.0, -1e-9),
                    marched[0]
                );
                // The march neglects what is of the order of the squared slope, and how the flow turns at the cone's end; the standard
                // grid adds 0.003.
                let slope = degrees.to_radians().tan();
                assert!(centre < 0.005 + 0.3 * slope * slope, "off by {centre:.4} on the axis");
                assert!(anywhere < 0.015 + 0.5 * slope * slope, "off by {anywhere:.4}");
            }
        }
    }
}

/// Length after which the speed on the axis is 99 % of the developed one: Durst, Ray, Unsal & Bayoumi 2005, The development lengths of
/// laminar pipe and channel flows, J. Fluids Eng. 127:1154: x/D = (0.619^1.6 + (0.0567 Re)^1.6)^(1/1.6), 'for all Re' (from memory).
#[test]
fn a_flat_profile_develops_over_the_published_length() {
    let march = March::new();
    for reynolds in [50.0, 200.0, 800.0] {
        // A cone of a thousandth of a radius is none.
        let diameters = 0.09 * reynolds;
        let shape = Shape { inlet_radius: 1.001, slope: 0.02, land: 2.0 * diameters, mixing_length: 0.0 };
        let solution = solved(reynolds, shape);
        let speeds = solution.scaled_speeds();
        let width = solution.grid.sigma.len();
        let developed = (0..solution.grid.z.len()).find(|j| speeds[j * width][0] >= 1.98).expect("it develops");
        // Linear between nodes.
        let (a, b) = (speeds[(developed - 1) * width][0], speeds[developed * width][0]);
        let share = (1.98 - a) / (b - a);
        let z = solution.grid.z[developed - 1] + share * (solution.grid.z[developed] - solution.grid.z[developed - 1]);
        let length = 0.5 * (z - solution.grid.z[0]);
        let [flat, thin] = march.lengths(reynolds);
        let published = (0.619_f64.powf(1.6) + (0.0567 * reynolds).powf(1.6)).powf(1.0 / 1.6);
        println!(
            "Re {reynolds}: developed after {length:.2} D, marched {thin:.2}; from a flat start {flat:.2} D, published {published:.2} D"
        );
        assert!((length / thin - 1.0).abs() < 0.03, "developed after {length:.2} D, marched {thin:.2} D");
        // At 50 the published length holds what creeps upstream from a flat start; a march and a start with a layer have none of it.
        // Elsewhere a thousandth of the speed is more than a percent of the length.
        assert!(reynolds < 100.0 || (length / published - 1.0).abs() < 0.05 && (flat / published - 1.0).abs() < 0.03);
        // What follows stays developed: 2 (1 - r^2).
        let field = BoreField::solved(&solution);
        for s in [0.0, 0.25, 0.5, 0.81] {
            let got = axial(&field, s, -2.0);
            assert!((got - 2.0 * (1.0 - s)).abs() < 0.02, "{got} at r^2 {s}");
        }
    }
}

/// Far from the wall the gas in a cone runs straight to the apex, as fast as the square of the distance says.
#[test]
fn the_core_in_a_cone_is_a_sink() {
    let degrees = 15.0_f64;
    let alpha = degrees.to_radians();
    let field = BoreField::solved(&solved(1500.0, shape(degrees, 2.0, 40.0)));
    // The apex of the cone's straight part.
    let wall = field.line.wall(-12.0);
    let apex = -12.0 + wall.radius / alpha.tan();
    let mut cell = BoreCell::default();
    let mut at = |distance: f64, share: f64| {
        let angle = share * alpha;
        let (sine, cosine) = angle.sin_cos();
        let gas = field.at(distance * sine, apex - distance * cosine, &mut cell);
        let across = gas.axial * sine + gas.radial * cosine;
        [(gas.axial * cosine - gas.radial * sine) * distance * distance, across * distance * distance]
    };
    for distance in [10.0, 14.0, 20.0] {
        let axis = at(distance, 0.0)[0];
        for share in [0.2, 0.4] {
            let [along, across] = at(distance, share);
            println!(
                "{distance} R from the apex, {share} of the angle: {along:.4} ({axis:.4} on the axis), across {across:.4}"
            );
            assert!((along / axis - 1.0).abs() < 0.01 && (across / axis).abs() < 0.01);
        }
    }
    // The layer at the wall takes a growing part of the section upstream, so the sink is a little stronger there.
    let (near, far) = (at(10.0, 0.0)[0], at(20.0, 0.0)[0]);
    assert!(far > near && far < 1.1 * near, "{near} and {far}");
}

#[test]
fn halving_the_grid_changes_the_exit_by_less_than_half_a_percent() {
    for (reynolds, degrees, land) in [(390.0, 6.0, 2.0), (200.0, 3.0, 0.5), (1500.0, 15.0, 1.0), (100.0, 30.0, 4.0)] {
        let standard = solved(reynolds, shape(degrees, land, 1.0 / 0.15));
        let fine = refine(&standard, Fineness::Fine).expect("the fine grid converges");
        let (standard, fine) = (BoreField::solved(&standard), BoreField::solved(&fine));
        // Up to the last sixth of the radius: at the very lip no grid is fine enough.
        let worst = (0..70)
            .map(|k| f64::from(k) / 100.0)
            .map(|s| (axial(&standard, s, -1e-9) - axial(&fine, s, -1e-9)).abs())
            .fold(0.0, f64::max);
        let centre = axial(&standard, 0.0, -1e-9) / axial(&fine, 0.0, -1e-9) - 1.0;
        println!(
            "Re {reynolds}, {degrees} deg, land {land}: {worst:.4} of the mean speed, {centre:.4} of that on the axis"
        );
        assert!(worst < 0.01 && centre.abs() < 5e-3);
    }
}

#[test]
fn every_section_carries_the_whole_flow() {
    // The droplets' field is interpolated between nodes: second order, so half the spacing leaves about a quarter of the error.
    let standard = solved(390.0, shape(6.0, 2.0, 1.0 / 0.15));
    let fine = refine(&standard, Fineness::Fine).expect("the fine grid converges");
    let [standard, fine] = [standard, fine].map(|solution| {
        let field = BoreField::solved(&solution);
        let mut worst = 0.0_f64;
        for k in 0..=200 {
            let z = field.line.mouth * f64::from(k) / 200.0 - 1e-9;
            let area = field.line.wall(z).area();
            let n = 20_000;
            let ring = area / f64::from(n);
            let flow: f64 = (0..n).map(|i| axial(&field, ring * (f64::from(i) + 0.5), z) * ring).sum();
            worst = worst.max((flow - 1.0).abs());
        }
        worst
    });
    println!("sections carry the flow to {standard:.5}, on the fine grid {fine:.5}");
    assert!(standard < 0.005 && fine < 0.4 * standard);
}
