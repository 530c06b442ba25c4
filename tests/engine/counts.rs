//! Chance between prints: compound Poisson counts, output noise, and independent streams.

use crate::SIGMAS;
use crate::common::{Case, section, setting};
use crate::engine::straight::LINE;
use motefall_figures::measure::Measurer;
use motefall_physics::source::atomiser::{Retention, rideable_number};
use motefall_run::Silent;
use motefall_run::print::{Keep, MOST_KEPT, Printer, print_parallel};
use motefall_run::setting::Setting;
use rayon::prelude::*;

/// A dot of many-particle droplets inside a target that catches all of it. Invented.
fn dot() -> Case {
    let dot = section("kind = 'dot'\nname = 'dot'\nat_um = [0, 0]\ndwell_s = 0.25");
    let target =
        section("kind = 'rectangle'\nname = 'target'\nrole = 'target'\ncenter_um = [0, 0]\nsize_um = [1200, 1200]");
    Case::from_text(LINE)
        .set("path", vec![dot])
        .set("region", vec![target])
        .set("map.pitch_um", 100.0)
        .set("map.margin_um", 0.0)
        .set("atomiser.droplet_median_um", 2.0)
        .set("atomiser.droplet_gsd", 1.3)
        .set("atomiser.mist_load_ul_per_l", 0.1)
        .set("ink.powder.0.mass_percent", 0.4)
        .set("tube.0.length_mm", 20)
}

/// What is counted of one print: droplets generated, particles in the target, particles elsewhere on the chip.
#[derive(Clone, Copy)]
struct Count {
    generated: f64,
    target: f64,
}

/// Counts of the prints of these numbers.
fn counts(setting: &Setting, numbers: &[u32]) -> Vec<Count> {
    numbers
        .par_iter()
        .map_init(
            || Printer::new(setting),
            |printer, number| {
                let outcome = printer.make(*number, &Silent).expect("nobody stops it");
                Count {
                    generated: outcome.tally().generated.droplets as f64,
                    target: outcome.tally().region(0).particles[0] as f64,
                }
            },
        )
        .collect()
}

fn mean_and_variance(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let n = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / n;
    (mean, values.map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0))
}

fn correlation(pairs: &[(f64, f64)]) -> f64 {
    let (a, va) = mean_and_variance(pairs.iter().map(|p| p.0));
    let (b, vb) = mean_and_variance(pairs.iter().map(|p| p.1));
    let sum: f64 = pairs.iter().map(|p| (p.0 - a) * (p.1 - b)).sum();
    sum / (pairs.len() as f64 - 1.0) / (va * vb).sqrt()
}

/// Mean number of particles per generated droplet that reach the chip, and variance over mean of their count.
///
/// A droplet of a size carries a Poisson number of mean m and passes the tube with the probability p. The count of a print is compound
/// Poisson: its mean is droplets times E[p m], its variance droplets times E[p (m + m^2)] (Feller 1968, An introduction to probability
/// theory and its applications, vol. 1, ch. XII).
fn expected(setting: &Setting) -> (f64, f64) {
    const STEPS: usize = 400;
    let powder = &setting.inputs.layers[0].ink.powders[0];
    let concentration =
        motefall_physics::source::atomiser::number_concentration(powder, setting.layers[0].conditions.ink_density);
    let (mut first, mut second, mut total) = (0.0, 0.0, 0.0);
    for k in 0..STEPS {
        let z = 14.0 * ((k as f64 + 0.5) / STEPS as f64 - 0.5);
        let weight = (-0.5 * z * z).exp();
        let retention = Retention::of(&setting.inputs.layers[0].atomiser);
        let m = rideable_number(&powder.sizes, concentration, retention, setting.layers[0].droplets.at_deviate(z));
        let passes = 1.0 - setting.layers[0].mist.at(z).lost;
        first += weight * passes * m;
        second += weight * passes * (m + m * m);
        total += weight;
    }
    (first / total, second / first)
}

const PRINTS: u32 = 2000;

#[test]
fn counts_scatter_as_compound_poisson_and_more_with_an_unsteady_output() {
    let numbers: Vec<u32> = (0..PRINTS).collect();
    let n = f64::from(PRINTS);
    let steady = dot().inputs();
    let steady = setting(&steady);
    let (per_droplet, fano) = expected(&steady);
    let (mean, variance) = mean_and_variance(counts(&steady, &numbers).iter().map(|c| c.target));
    let expected_mean = steady.expected_droplets() * per_droplet;
    // Nearly normal counts: the variance of n prints has a relative standard error of sqrt(2/(n - 1)), 3.2 %. Noticed: 16 %; a plain
    // Poisson count (ratio 1) is far off.
    let spread = (2.0 / (n - 1.0)).sqrt();
    println!(
        "droplets {:.0}, particles {mean:.1} (expected {expected_mean:.1}), variance/mean {:.3} (expected {fano:.3})",
        steady.expected_droplets(),
        variance / mean
    );
    assert!(fano > 2.0, "{fano}: droplets of many particles are needed for this to be a check");
    assert!((mean - expected_mean).abs() < SIGMAS * (fano * expected_mean / n).sqrt());
    assert!((variance / mean / fano - 1.0).abs() < SIGMAS * spread);

    // Output noise that holds through a print multiplies the mean of the counts by a lognormal number of mean 1.
    let noisy = dot().set("output.noise_percent", 20.0).set("output.noise_time_s", 3600.0).inputs();
    let noisy = setting(&noisy);
    let (mean, variance) = mean_and_variance(counts(&noisy, &numbers).iter().map(|c| c.target));
    let relative = (0.2f64 * 0.2).exp() - 1.0;
    let whole = fano * expected_mean + relative * expected_mean * expected_mean;
    println!("with 20 % noise: particles {mean:.1}, variance {variance:.0} (expected {whole:.0})");
    assert!((mean - expected_mean).abs() < SIGMAS * (whole / n).sqrt());
    // A lognormal with sigma 0.2 has an excess kurtosis of 0.68: relative standard error of the variance sqrt((2 + 0.68)/n), 3.7 %.
    assert!((variance / whole - 1.0).abs() < SIGMAS * (2.68 / n).sqrt());
}

#[test]
fn run_in_and_trend_change_the_output_as_stated() {
    // 100 s of print after 20 s of warm-up: run-in 1 - 0.4 exp(-(20 + t)/60), trend 1 + 0.5 t/3600; mean of the product by midpoints.
    let inputs = dot()
        .set("path.0.dwell_s", 100.0)
        .set("atomiser.mist_load_ul_per_l", 0.1)
        .set("output.warm_up_s", 20.0)
        .set("output.run_in_s", 60.0)
        .set("output.run_in_deficit_percent", 40.0)
        .set("output.trend_percent_per_h", 50.0)
        .inputs();
    let drifting = setting(&inputs);
    let at = |t: f64| (1.0 - 0.4 * (-(20.0 + t) / 60.0).exp()) * (1.0 + 0.5 * t / 3600.0);
    let multiplier = (0..1000).map(|k| at((f64::from(k) + 0.5) * 0.1)).sum::<f64>() / 1000.0;
    let numbers: Vec<u32> = (0..4).collect();
    let generated: f64 = counts(&drifting, &numbers).iter().map(|c| c.generated).sum();
    let expected = 4.0 * drifting.expected_droplets() * multiplier;
    // A Poisson number of 10^6 and more: noticed are 0.5 % of the multiplier (0.86).
    println!(
        "multiplier {multiplier:.4}: generated {generated}, expected {expected:.0}, ratio {:.5}",
        generated / expected
    );
    assert!(expected > 9e5 && (multiplier - 1.0).abs() > 0.1);
    assert!((generated - expected).abs() < SIGMAS * expected.sqrt());
}

#[test]
fn prints_are_independent_and_a_shared_stream_would_be_noticed() {
    let inputs = dot().inputs();
    let setting = setting(&inputs);
    // The same number gives the same print.
    let mut printer = Printer::new(&setting);
    let first = printer.make(5, &Silent).expect("runs").clone();
    let _ = printer.make(6, &Silent);
    let again = printer.make(5, &Silent).expect("runs");
    assert!(first.canvas == again.canvas && first.tally() == again.tally());
    assert!(first.tally() != printer.make(6, &Silent).expect("runs").tally());
    // To follow the droplets that bring no particle, too, changes none on the chip; in a tube that keeps a good part of them.
    let inputs_of_tube = dot().set("tube.0.inclination_deg", 0.0).set("tube.0.length_mm", 300.0).inputs();
    let lossy = crate::common::setting(&inputs_of_tube);
    let (mut lean, mut full) = (Printer::new(&lossy), Printer::keeping(&lossy, Keep::Maps));
    let (lean, full) = (lean.make(5, &Silent).expect("runs"), full.make(5, &Silent).expect("runs"));
    assert!(lean.canvas == full.canvas && lean.tally().generated.droplets == full.tally().generated.droplets);
    assert!(lean.tally().region(0).particles == full.tally().region(0).particles);
    // What the tube keeps stands at its expected amount in both: a sum over thousands of particles, scattering by 2 % or so.
    let through: u128 = lean.tally().through_tube().map(|count| count.volume[0]).sum();
    let ratio = (through + lean.tally().kept_by_tube[0]) as f64 / full.tally().generated.volume[0] as f64;
    println!("solids generated, expected over followed: {ratio:.4}");
    assert!((ratio - 1.0).abs() < 0.05 && ratio != 1.0, "{ratio}");
    assert_eq!(lean.tally().kept_by_tube, full.tally().kept_by_tube);

    // 1000 pairs of neighbouring numbers: the correlation of independent counts scatters by 1/sqrt(1000); noticed: 0.155.
    let pairs = |numbers: Vec<u32>| -> Vec<(f64, f64)> {
        counts(&setting, &numbers).chunks_exact(2).map(|c| (c[0].target, c[1].target)).collect()
    };
    let limit = SIGMAS / 1000f64.sqrt();
    let found = correlation(&pairs((0..2000).collect()));
    // Planted fault: each pair shares one stream.
    let shared = correlation(&pairs((0..2000).map(|k| k / 2).collect()));
    println!("correlation of neighbouring prints {found:.4}, limit {limit:.3}; with a shared stream {shared:.4}");
    assert!(found.abs() < limit);
    assert!(shared > limit, "a shared stream is not noticed");

    // Blocks of one print have streams of their own too: variance of the sum over blocks is the sum of their variances, or the
    // compound Poisson ratio above would be as many times larger as there are blocks.
    assert!(setting.layers[0].blocks.len() > 5, "{}", setting.layers[0].blocks.len());
}

/// The first print is followed droplet by droplet for the budget, the others only as far as figures need it. Figures must not tell which.
#[test]
fn every_way_to_make_a_print_gives_the_same_figures() {
    for name in ["sodium-chip", "two-electrode-cell"] {
        let inputs = Case::shipped(name).inputs();
        let setting = setting(&inputs);
        let measurer = Measurer::new(&inputs, setting.measuring, &setting.regions, setting.bench_use());
        for print in [0, 3] {
            let whole = print_parallel(&setting, print, Keep::Particles, MOST_KEPT, &Silent).expect("nobody stops it");
            let maps = print_parallel(&setting, print, Keep::Maps, MOST_KEPT, &Silent).expect("nobody stops it");
            let mut printer = Printer::keeping(&setting, Keep::FiguresAndParticles);
            let quick = printer.make(print, &Silent).expect("nobody stops it");
            let expected = measurer.measure(&whole);
            assert_eq!(measurer.measure(quick), expected, "{name}, print {print}");
            let same = |(kind, _): &motefall_figures::statistics::FigureAt| !kind.needs_particles();
            for ((place, a), b) in measurer.places().iter().zip(measurer.measure(&maps)).zip(&expected) {
                assert!(!same(place) || a == *b, "{name}, print {print}: {place:?}");
            }
            // What it is not: the share by the particles that happened to be drawn for what the tube keeps.
            let drawn: u128 = whole.tally().generated.volume.iter().sum();
            let through: u128 = whole.tally().through_tube().flat_map(|count| &count.volume).sum();
            let kept: u128 = whole.tally().kept_by_tube.iter().sum();
            assert_ne!(drawn, through + kept, "{name}");
            assert!((drawn as f64 / (through + kept) as f64 - 1.0).abs() < 0.1, "{name}");
        }
    }
}
