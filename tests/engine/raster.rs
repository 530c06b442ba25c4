//! Whole prints of an even raster against the Boolean model: equal discs dropped at random cover 1 - exp(-eta) of a window on average, eta
//! being discs times area over window, with a known variance between windows. Hall 1988, Introduction to the Theory of Coverage Processes;
//! Chiu, Stoyan, Kendall & Mecke 2013, Stochastic Geometry and its Applications.

use crate::SIGMAS;
use crate::common::{Case, section, setting};
use crate::engine::straight::LINE;
use motefall_figures::BenchUse;
use motefall_figures::measure::Measurer;
use motefall_physics::inputs::{Inputs, Law, Variation, VariedInput};
use motefall_run::Silent;
use motefall_run::print::Printer;
use rayon::prelude::*;
use std::f64::consts::PI;

/// Edge of the target, m, well inside the raster.
const EDGE: f64 = 40e-6;
/// Diameter of the particles, m; all but equal.
const DIAMETER: f64 = 1e-6;
const PRINTS: u32 = 1000;

/// A raster so fine that particles fall evenly, of droplets of which one in fifty carries a particle. Invented.
fn raster() -> Inputs {
    let path = section(
        "kind = 'rectangle'\nname = 'fill'\ncenter_um = [0, 0]\nsize_um = [60, 60]\nspacing_um = 0.5\nspeed_mm_s = 5",
    );
    let target =
        section("kind = 'rectangle'\nname = 'target'\nrole = 'target'\ncenter_um = [0, 0]\nsize_um = [40, 40]");
    Case::from_text(LINE)
        .set("path", vec![path])
        .set("region", vec![target])
        .set("head.nozzle_um", 100.0)
        .set("flow.carrier_sccm", 1.0)
        .set("flow.sheath_sccm", 60.0)
        .set("map.resolution_um", 0.25)
        .set("map.pitch_um", 0.25)
        .set("map.margin_um", 2.0)
        .set("ink.powder.0.mass_percent", 0.06)
        .set("ink.powder.0.sizes", vec![section("median_um = 1.0\ngsd = 1.01")])
        .set("atomiser.droplet_median_um", 5.0)
        .set("atomiser.mist_load_ul_per_l", 300.0)
        .inputs()
}

/// Particles in the target and its covered share, print by print.
fn prints(inputs: &Inputs) -> Vec<[f64; 2]> {
    let setting = setting(inputs);
    let measurer = Measurer::new(inputs, setting.measuring, &setting.regions, BenchUse::default());
    let at = |id: &str| {
        let found = measurer.places().iter().position(|(k, place)| k.id == id && place.as_deref() == Some("target"));
        found.expect("a figure of the target")
    };
    let places = [at("particles"), at("coverage_percent")];
    (0..PRINTS)
        .into_par_iter()
        .map_init(
            || Printer::new(&setting),
            |printer, print| {
                let figures = measurer.measure(printer.make(print, &Silent).expect("nobody stops it"));
                places.map(|k| figures[k].expect("a value").value())
            },
        )
        .collect()
}

fn mean_and_variance(values: &[[f64; 2]], k: usize) -> [f64; 2] {
    let n = values.len() as f64;
    let mean = values.iter().map(|v| v[k]).sum::<f64>() / n;
    [mean, values.iter().map(|v| (v[k] - mean).powi(2)).sum::<f64>() / (n - 1.0)]
}

/// Variance of the covered share of a square window: exp(-2 eta) (1/W) times the integral over shifts h of (exp(lambda g(h)) - 1) by the share
/// of the window that a shift leaves, g being the area two discs have in common.
fn coverage_variance(eta: f64) -> f64 {
    let r = 0.5 * DIAMETER;
    let density = eta / (PI * r * r);
    let common = |h: f64| {
        let c = h / (2.0 * r);
        2.0 * r * r * (c.acos() - c * (1.0 - c * c).sqrt())
    };
    let steps = 2000;
    let width = 2.0 * r / f64::from(steps);
    let integral: f64 = (0..steps)
        .map(|k| {
            let h = (f64::from(k) + 0.5) * width;
            let stays = 1.0 - 4.0 * h / (PI * EDGE);
            ((density * common(h)).exp() - 1.0) * 2.0 * PI * h * stays * width
        })
        .sum();
    (-2.0 * eta).exp() * integral / (EDGE * EDGE)
}

#[test]
fn the_variance_in_use_is_the_published_one() {
    // boolean_coverage_equal_discs.csv: W/a times the variance is 0.207288 at eta = 0.5 in a window without an edge; here the edge takes
    // 4/pi of the mean shift, about 0.4 um, over 40 um.
    let scaled = coverage_variance(0.5) * EDGE * EDGE / (0.25 * PI * DIAMETER * DIAMETER);
    assert!(scaled < 0.207_288 && scaled > 0.207_288 * 0.98, "{scaled}");
}

/// 1000 prints: the mean count is known to 0.1 %, a variance to 4.5 %; noticed are 22 % of a variance, that is, pairs of particles (100 %),
/// or one print made many times (all of it).
#[test]
fn an_even_raster_covers_as_the_boolean_model_says() {
    let measured = prints(&raster());
    let n = f64::from(PRINTS);
    let [count, count_variance] = mean_and_variance(&measured, 0);
    let [covered, covered_variance] = mean_and_variance(&measured, 1);
    let eta = count * 0.25 * PI * DIAMETER * DIAMETER / (EDGE * EDGE);
    let expected = coverage_variance(eta);
    println!(
        "{count:.1} particles, variance/mean {:.3}; eta {eta:.4}, covered {covered:.5} (Boolean {:.5}), variance over Boolean {:.3}",
        count_variance / count,
        1.0 - (-eta).exp(),
        covered_variance / expected
    );
    assert!((0.3..0.8).contains(&eta), "{eta}");
    // Few droplets carry two particles, which then overlap: both count and coverage differ from the ideal by their share, about 2 %.
    let error = (expected / n).sqrt();
    assert!((covered - (1.0 - (-eta).exp())).abs() < SIGMAS * error + 0.01 * covered, "{covered}");
    let spread = SIGMAS * (2.0 / (n - 1.0)).sqrt();
    assert!((count_variance / count - 1.02).abs() < spread, "Poisson: {}", count_variance / count);
    assert!((covered_variance / expected - 1.0).abs() < spread, "{covered_variance} {expected}");
    // Means of two neighbouring prints scatter half as much as prints do. Planted fault: a stream shared by both; they scatter as much.
    let pairs = |shared: bool| -> Vec<[f64; 2]> {
        let second = usize::from(!shared);
        measured.chunks_exact(2).map(|p| [0, 1].map(|k| 0.5 * (p[0][k] + p[second][k]))).collect()
    };
    let limit = SIGMAS * (2.0 / (0.5 * n - 1.0)).sqrt();
    for k in 0..2 {
        let whole = mean_and_variance(&measured, k)[1];
        let ratio = |shared: bool| 2.0 * mean_and_variance(&pairs(shared), k)[1] / whole;
        println!("pairs of prints: variance ratio {:.3}; with a shared stream {:.3}", ratio(false), ratio(true));
        assert!((ratio(false) - 1.0).abs() < limit);
        assert!((ratio(true) - 1.0).abs() > limit, "a shared stream is not noticed");
    }
}

/// An output whose level differs by 10 % from print to print adds (10 % of the mean)^2 to the variance of the counts; alignment adds nothing
/// to an even raster.
#[test]
fn counts_are_overdispersed_by_what_the_output_varies() {
    let mut inputs = raster();
    let vary = |input, sd| Variation { input, law: Law::Normal, sd };
    inputs.spread =
        vec![vary(VariedInput::AlignmentX, 1e-6), vary(VariedInput::AlignmentY, 1e-6), vary(VariedInput::Output, 0.1)];
    let [count, variance] = mean_and_variance(&prints(&inputs), 0);
    let expected = 1.02 * count + (0.1 * count).powi(2);
    println!("{count:.1} particles, variance {variance:.0}, expected {expected:.0}");
    assert!(expected > 5.0 * count);
    assert!((variance / expected - 1.0).abs() < SIGMAS * (2.0 / f64::from(PRINTS - 1)).sqrt());
}
