//! How near measured figures come to the truth of made-up pictures.

use super::draw::{PLAIN, Scene, Taken};
use motefall_measure::{Brightness, Figure, ImageMeasured, ImageOptions, Kind, Sought, Value, measure_image};
use std::f64::consts::PI;

/// Side of a pixel, m.
const PIXEL: f64 = 5e-8;

fn measured(scene: &Scene, taken: Taken, seed: u64, sought: Sought) -> ImageMeasured {
    let brightness = if taken.dark { Brightness::Dark } else { Brightness::Bright };
    let options = ImageOptions { pixel: Some(PIXEL), brightness, sought, ..ImageOptions::default() };
    measure_image(&scene.png(taken, seed), &options).unwrap_or_else(|error| panic!("{taken:?} seed {seed}: {error}"))
}

fn value(image: &ImageMeasured, figure: Figure) -> Value {
    image.values.get(&figure).copied().unwrap_or_else(|| panic!("{figure:?} is not there: {:?}", image.cautions))
}

/// Covered share that was drawn.
fn drawn_coverage(scene: &Scene) -> f64 {
    scene.cover().iter().map(|v| f64::from(*v)).sum::<f64>() / (scene.columns * scene.rows) as f64
}

/// Fields of discs of 4 to 8 pixels in radius, covered from 2 to 50 %, blurred by 0.6 to 2 pixels, noise up to 15 % of the step from ground to
/// particles, light that differs by up to 60 % over the picture, bright rows, particles bright or dark. Seeds 1 to 24.
#[test]
fn coverage_is_right_to_one_percent() {
    let mut seed = 0;
    let mut worst = 0.0f64;
    for share in [0.02, 0.1, 0.25, 0.5] {
        for (blur, noise, uneven, streaks, dark) in [
            (0.6, 0.02, 0.0, 0, false),
            (1.0, 0.10, 0.3, 0, false),
            (1.5, 0.05, 0.6, 0, false),
            (2.0, 0.05, 0.2, 0, true),
            (1.0, 0.15, 0.2, 6, false),
            (1.0, 0.05, 0.4, 6, true),
        ] {
            seed += 1;
            let apart = if share > 0.4 { 0.9 } else { 1.0 };
            let scene = Scene::field(640, 480, share, apart, 6.0, 1.2, seed);
            let taken = Taken { blur, noise, uneven, streaks, dark };
            let image = measured(&scene, taken, seed, Sought::Only(Kind::Field));
            let (found, truth) = (value(&image, Figure::Coverage), drawn_coverage(&scene));
            let off = found.value - truth;
            println!(
                "coverage {truth:.4} found {:.4} off {off:+.4} {taken:?} blur {:.2}",
                found.value,
                image.blur / PIXEL
            );
            worst = worst.max(off.abs());
        }
    }
    println!("worst {worst:.4}");
    assert!(worst < 0.01, "{worst}");
}

/// Fields in which no disc hides another, up to half covered; discs of 6 pixels in radius (lognormal, 1.2), blurred by up to 1.5 pixels, noise
/// up to 10 %. The truth is the number of middles within the frame. Seeds 101 to 112.
#[test]
fn number_and_sizes_of_grains() {
    let mut seed = 100;
    let mut worst = [0.0f64; 2];
    for share in [0.05, 0.15, 0.3, 0.45] {
        for (blur, noise) in [(0.6, 0.03), (1.0, 0.1), (1.5, 0.05)] {
            seed += 1;
            let scene = Scene::field(800, 600, share, 1.0, 6.0, 1.2, seed);
            let taken = Taken { blur, noise, ..PLAIN };
            let image = measured(&scene, taken, seed, Sought::Only(Kind::Field));
            let area = 800.0 * 600.0 * PIXEL * PIXEL;
            let number = value(&image, Figure::Density).value * area / scene.number() as f64 - 1.0;
            let moments = |power: i32| scene.discs.iter().map(|d| (2.0 * d.radius * PIXEL).powi(power)).sum::<f64>();
            let off = |figure, truth: f64| value(&image, figure).value / truth - 1.0;
            let sizes = [
                off(Figure::MeanByNumber, moments(1) / moments(0)),
                off(Figure::MeanBySurface, moments(3) / moments(2)),
                off(Figure::MeanByVolume, moments(4) / moments(3)),
            ];
            println!("share {share} {blur} {noise}: {} discs, number {number:+.3}, sizes {sizes:+.3?}", scene.number());
            worst[0] = worst[0].max(number.abs());
            worst[1] = sizes.iter().fold(worst[1], |w, s| w.max(s.abs()));
        }
    }
    println!("worst {worst:?}");
    assert!(worst[0] < 0.05, "{worst:?}");
    assert!(worst[1] < 0.05, "{worst:?}");
}

/// Width at half height of what was drawn, from its profile without blur and noise: discs by the picture's own columns.
fn drawn_width(scene: &Scene, angle: f64) -> f64 {
    let cover = scene.cover();
    let half = (0.5 * (scene.columns as f64).hypot(scene.rows as f64)).ceil();
    let mut bins = vec![(0.0f64, 0.0f64); 2 * half as usize + 2];
    for (k, cover) in cover.iter().enumerate() {
        let (x, y) = ((k % scene.columns) as f64 + 0.5, (k / scene.columns) as f64 + 0.5);
        let (x, y) = (x - 0.5 * scene.columns as f64, y - 0.5 * scene.rows as f64);
        let bin = &mut bins[(y * angle.cos() - x * angle.sin() + half) as usize];
        *bin = (bin.0 + f64::from(*cover), bin.1 + 1.0);
    }
    let profile: Vec<f64> = bins.iter().filter(|b| b.1 > 100.0).map(|b| b.0 / b.1).collect();
    // A bell fitted to the profile by its moments within three standard deviations would take strays in; a least-squares search does not.
    fitted_width(&profile)
}

/// Width at half height of the bell that fits a profile best, found by a search on a grid that closes in.
fn fitted_width(profile: &[f64]) -> f64 {
    let (mut middle, mut sigma) = (0.5 * profile.len() as f64, 0.1 * profile.len() as f64);
    let misfit = |middle: f64, sigma: f64| {
        let bell: Vec<f64> = (0..profile.len()).map(|k| (-0.5 * ((k as f64 - middle) / sigma).powi(2)).exp()).collect();
        let (bb, bp) = bell.iter().zip(profile).fold((0.0, 0.0), |s, (b, p)| (s.0 + b * b, s.1 + b * p));
        -bp * bp / bb
    };
    let (mut by_middle, mut by_sigma) = (0.3 * profile.len() as f64, 0.08 * profile.len() as f64);
    for _ in 0..40 {
        let tries = (-2..=2).flat_map(|i| (-2..=2).map(move |k| (f64::from(i), f64::from(k))));
        let places = tries.map(|(i, k)| (middle + i * by_middle / 2.0, (sigma + k * by_sigma / 2.0).max(1.0)));
        let best = places.min_by(|a, b| misfit(a.0, a.1).total_cmp(&misfit(b.0, b.1)));
        (middle, sigma) = best.expect("some tries");
        by_middle *= 0.7;
        by_sigma *= 0.7;
    }
    2.354_82 * sigma
}

/// Lines at several angles, 60 to 140 pixels wide at half height, 10 to 45 % covered at the peak, with strays, blur and noise. The truth is
/// the bell that fits best what was drawn. Seeds 201 to 208.
#[test]
fn widths_of_lines() {
    let mut worst = 0.0f64;
    for (k, (degrees, sigma, discs)) in [
        (0.0f64, 40.0, 3000),
        (0.0, 30.0, 5000),
        (90.0, 50.0, 6000),
        (30.0, 40.0, 5000),
        (-7.0, 60.0, 4000),
        (5.0, 25.0, 2500),
        (60.0, 40.0, 4000),
        (0.0, 60.0, 9000),
    ]
    .into_iter()
    .enumerate()
    {
        let seed = 201 + k as u64;
        let angle = degrees.to_radians();
        let scene = Scene::line(1000, 800, angle, sigma, discs, 40, seed);
        let taken = Taken { blur: 0.8 + 0.2 * (k % 4) as f64, noise: 0.08, uneven: 0.2, ..PLAIN };
        let image = measured(&scene, taken, seed, Sought::Any);
        assert_eq!(image.kind, Kind::Line, "seed {seed}: {:?}", image.cautions);
        let width = value(&image, Figure::WidthHalf);
        let truth = drawn_width(&scene, angle) * PIXEL;
        let off = width.value / truth - 1.0;
        let line = image.line.expect("a line");
        println!(
            "{degrees:5} deg found {:6.2}: width {:.1} px of {:.1} (law {:.1}) off {off:+.4}, sd {:.4}, peak {:.3}, w99 {:.1}, edge {:.1}",
            line.degrees,
            width.value / PIXEL,
            truth / PIXEL,
            2.3548 * sigma,
            width.sd() / width.value,
            value(&image, Figure::PeakCoverage).value,
            value(&image, Figure::Width99).value / PIXEL,
            image.values.get(&Figure::EdgeWidth).map_or(0.0, |v| v.value / PIXEL)
        );
        worst = worst.max(off.abs());
    }
    println!("worst {worst:.4}, {}", PI);
    assert!(worst < 0.02, "{worst}");
}
