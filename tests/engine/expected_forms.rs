//! The expected deposit against closed forms: straight flight of a parabolic core, discs that fall anywhere, lines side by side.

use super::straight::{LINE, RADIUS, core_radius, thickness, width_over_core};
use crate::common::{Case, jets, section};
use motefall_figures::expected::Expected;
use motefall_run::Silent;
use motefall_run::atlas::Atlas;
use motefall_run::expected::expected_in;
use std::f64::consts::PI;
use toml::Table;

fn expect(case: &Case) -> Expected {
    expected_in(&case.inputs(), &Atlas::new(&jets()), &Silent).expect("it runs")
}

fn mean(expected: &Expected, id: &str, place: &str) -> f64 {
    let row = expected.figures.iter().find(|row| row.kind.id == id && row.place.as_deref() == Some(place));
    row.and_then(|row| row.value.as_ref()).unwrap_or_else(|| panic!("{id} of {place} is known")).mean
}

/// A strip along x at a height, m.
fn strip(name: &str, y: f64, width: f64) -> Table {
    let (y, width) = (y * 1e6, width * 1e6);
    section(&format!(
        "kind = 'rectangle'\nname = '{name}'\nrole = 'target'\ncenter_um = [0, {y}]\nsize_um = [100, {width}]"
    ))
}

/// Full width at half height of a line over the core's diameter, and its thickness beside the axis over that on it; the widths that hold 90 and
/// 99 % of it by the integral of the same law.
#[test]
fn a_line_has_the_closed_form_s_width_and_profile() {
    const PLACES: [f64; 4] = [0.3, 0.6, 0.8, 0.95];
    for (ratio, known) in [(1.0, 0.812), (2.0, 0.835), (5.0, 0.853), (10.0, 0.859)] {
        let core = core_radius(ratio);
        let mut strips = vec![strip("axis", 0.0, 2e-6)];
        strips.extend(PLACES.iter().map(|place| strip(&format!("at {place}"), place * core * RADIUS, 2e-6)));
        let case = Case::from_text(LINE).set("flow.sheath_sccm", 10.0 * ratio).set("region", strips);
        let expected = expect(&case);
        let width = mean(&expected, "line_width_um", "line") / (2.0 * core * RADIUS);
        println!("sheath/carrier {ratio}: FWHM/core diameter {width:.4}, known {known}");
        assert!((width / width_over_core(core) - 1.0).abs() < 4e-3 && (width - known).abs() < 4e-3, "{width} {known}");
        for place in PLACES {
            let here = mean(&expected, "mean_thickness_nm", &format!("at {place}"));
            let share = here / mean(&expected, "mean_thickness_nm", "axis");
            let exact = thickness(place * core, core) / thickness(0.0, core);
            println!("  at {place} of the core {share:.4}, known {exact:.4}");
            assert!((share - exact).abs() < 0.01, "{ratio}, {place}: {share} {exact}");
        }
        // The widest line reaches beyond the area that is measured.
        let bands = if ratio > 1.0 { &[("width_90_um", 0.9), ("width_99_um", 0.99)][..] } else { &[] };
        for (id, part) in bands.iter().copied() {
            let width = mean(&expected, id, "line") / (2.0 * core * RADIUS);
            let exact = holds(part, core);
            println!("  {id} {width:.4}, known {exact:.4}");
            assert!((width / exact - 1.0).abs() < 5e-3, "{ratio}, {id}: {width} {exact}");
        }
    }
}

/// Part of the core within which a part of a line's mass lies.
fn holds(part: f64, core: f64) -> f64 {
    const STEPS: usize = 100_000;
    let at = |k: usize| thickness((k as f64 + 0.5) / STEPS as f64 * core, core);
    let all: f64 = (0..STEPS).map(at).sum();
    let mut sum = 0.0;
    let step = (0..STEPS).position(|k| {
        sum += at(k);
        sum >= part * all
    });
    (step.expect("all of it") as f64 + 1.0) / STEPS as f64
}

/// Particles that come alone cover 1 - exp(-n a), n of them per area and each the area a: for sizes of a lognormal law of the median m by
/// volume and the geometric deviation g, a = pi/4 m^2 exp(-4 ln^2 g) (moments of the law, Hatch & Choate 1929; from memory).
#[test]
fn discs_that_fall_anywhere_cover_as_they_must() {
    let area = 0.25 * PI * (0.12e-6f64).powi(2) * (-4.0 * 1.05f64.ln().powi(2)).exp();
    for speed in [2.0, 0.2, 0.02] {
        let case = Case::from_text(LINE)
            .set("region", vec![strip("axis", 0.0, 2e-6)])
            .set("path.0.from_um", vec![-600, 0])
            .set("path.0.to_um", vec![600, 0])
            .set("path.0.speed_mm_s", speed);
        let expected = expect(&case);
        let discs = mean(&expected, "particles", "axis") * area / (100e-6 * 2e-6);
        let covered = mean(&expected, "coverage_percent", "axis");
        let exact = -(-discs).exp_m1();
        println!("{discs:.4} discs over a point: {covered:.5} covered, known {exact:.5}");
        assert!((covered / exact - 1.0).abs() < 5e-3, "{speed}: {covered} {exact}");
    }
}

/// Lines side by side add up: thickness across a period of a filled square, and its ripple.
#[test]
fn lines_of_a_fill_add_up() {
    let core = core_radius(5.0);
    for spacing in [160.0_f64, 240.0, 320.0] {
        let square = format!(
            "kind = 'rectangle'\nname = 'square'\ncenter_um = [0, 0]\nsize_um = [2000, 2000]\nspacing_um = {spacing}\nspeed_mm_s = 10"
        );
        let period = spacing * 1e-6;
        let places: Vec<f64> = (0..8).map(|k| (f64::from(k) - 3.5) / 8.0 * period).collect();
        let strips: Vec<Table> = places.iter().map(|y| strip(&format!("{y}"), *y, 2e-6)).collect();
        let case = Case::from_text(LINE).set("path", vec![section(&square)]).set("region", strips);
        let expected = expect(&case);
        let lines = (2000.0_f64 / spacing * (1.0 - 1e-12)).ceil();
        let line = |k: i32| (f64::from(k) - 0.5 * (lines - 1.0)) * period;
        let profile = |y: f64| if y.abs() < core * RADIUS { thickness(y / RADIUS, core) } else { 0.0 };
        let exact: Vec<f64> = places.iter().map(|y| (0..lines as i32).map(|k| profile(y - line(k))).sum()).collect();
        let found: Vec<f64> = places.iter().map(|y| mean(&expected, "mean_thickness_nm", &format!("{y}"))).collect();
        let [exact_mean, found_mean] = [&exact, &found].map(|all| all.iter().sum::<f64>() / 8.0);
        let ripple = |all: &[f64], mean: f64| {
            let (low, high) = all.iter().fold((f64::INFINITY, 0.0f64), |(low, high), v| (low.min(*v), high.max(*v)));
            0.5 * (high - low) / mean
        };
        let (wanted, here) = (ripple(&exact, exact_mean), ripple(&found, found_mean));
        println!("spacing {spacing} µm: ripple {:.2} %, known {:.2} %", 100.0 * here, 100.0 * wanted);
        for (found, exact) in found.iter().zip(&exact) {
            let (found, exact) = (found / found_mean, exact / exact_mean);
            assert!((found - exact).abs() < 0.01, "{spacing}: {found} {exact}");
        }
    }
}
