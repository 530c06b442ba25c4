//! No figure depends on the grid of the maps, nor on the pixels that squares are cut into; and figures of squares are what anybody finds
//! who lays squares of the stated edge over the list of particles.

use crate::common::{Case, mean, setting};
use motefall_figures::measure::Measurer;
use motefall_figures::{BenchUse, Measured, MeasuringGrid, Particle, Prediction};
use motefall_physics::inputs::Outline;
use motefall_physics::map::PrintOutcome;
use motefall_physics::map::canvas::Canvas;
use motefall_physics::map::regions::RegionIndex;
use motefall_physics::source::content::Grain;
use motefall_run::Silent;
use motefall_run::print::{Keep, MOST_KEPT, print_parallel};

fn figures(p: &Prediction) -> String {
    // Every bit of every value, interval and note.
    format!("{:?} {:?}", p.figures, p.limits)
}

#[test]
fn figures_of_shipped_scenarios_are_the_same_at_any_pitch_of_the_maps() {
    for (name, pitches) in [
        ("sodium-chip", &[0.1, 0.25, 1.0, 2.0][..]),
        ("window-sweep", &[0.5, 2.0]),
        ("two-electrode-cell", &[0.5, 5.0]),
        ("first-line", &[1.0, 10.0]),
    ] {
        let case = Case::shipped(name).set("prints", 1);
        let case = if name == "window-sweep" { case.without("sweep") } else { case };
        let at =
            |pitch: f64| figures(&case.clone().set("map.pitch_um", pitch).set("map.margin_um", 7.0 * pitch).predict());
        let first = at(pitches[0]);
        assert!(first.contains("thickness_p95_nm"));
        for pitch in &pitches[1..] {
            assert!(at(*pitch) == first, "{name}: figures differ at a pitch of {pitch} µm");
        }
        // Planted: another resolution is another figure.
        let coarser = case.set("map.pitch_um", 1.0).set("map.margin_um", 7.0).set("map.resolution_um", 1.7);
        assert!(figures(&coarser.predict()) != first, "{name}");
    }
}

/// Half-sides of the target of `sodium-chip` and its centre.
fn target(case: &Case) -> ([f64; 2], [f64; 2]) {
    let inputs = case.inputs();
    let region = inputs.regions.iter().find(|region| region.name == "target").expect("a target");
    let Outline::Rectangle { center, size, rotation } = region.outline else { panic!("a rectangle") };
    assert_eq!(rotation, 0.0);
    (center, size)
}

/// Thickness of each square of the target in nm, mean free paths on its covered part, and its covered share, from chords of the spheres
/// at points `STEP` apart.
fn rasterised(particles: &[Particle], [center, size]: [[f64; 2]; 2], square: f64, paths: &[f64]) -> Vec<[f64; 3]> {
    const PER_SQUARE: usize = 40;
    let step = square / PER_SQUARE as f64;
    let low = [0, 1].map(|k| center[k] - 0.5 * size[k]);
    let [columns, rows] = [0, 1].map(|k| (size[k] / step).round() as usize);
    let mut depth = vec![[0.0; 2]; columns * rows];
    for p in particles {
        let radius = 0.5 * p.diameter;
        let range = |at: f64, low: f64, count: usize| {
            let first = ((at - radius - low) / step - 0.5).ceil().max(0.0) as usize;
            first.min(count)..(((at + radius - low) / step - 0.5).floor() + 1.0).clamp(0.0, count as f64) as usize
        };
        for row in range(p.y, low[1], rows) {
            for column in range(p.x, low[0], columns) {
                let dx = low[0] + (column as f64 + 0.5) * step - p.x;
                let dy = low[1] + (row as f64 + 0.5) * step - p.y;
                let left = radius * radius - dx * dx - dy * dy;
                if left > 0.0 {
                    let chord = 2.0 * left.sqrt();
                    let here = &mut depth[row * columns + column];
                    here[0] += chord;
                    here[1] += chord / paths[usize::from(p.powder)];
                }
            }
        }
    }
    let mut squares = vec![];
    for row in (0..rows).step_by(PER_SQUARE) {
        for column in (0..columns).step_by(PER_SQUARE) {
            let points =
                (0..PER_SQUARE * PER_SQUARE).map(|k| depth[(row + k / PER_SQUARE) * columns + column + k % PER_SQUARE]);
            let (mut thickness, mut deep, mut covered) = (0.0, 0.0, 0.0);
            for [t, d] in points {
                thickness += t;
                deep += d;
                covered += f64::from(t > 0.0);
            }
            let all = (PER_SQUARE * PER_SQUARE) as f64;
            squares.push([thickness / all, deep / f64::max(covered, 1.0), covered / all]);
        }
    }
    squares
}

#[test]
fn figures_of_squares_follow_from_the_list_of_particles() {
    // Whole squares fit the target.
    for resolution in [0.5, 1.0, 2.5] {
        let case = Case::shipped("sodium-chip").set("prints", 1).set("map.resolution_um", resolution);
        let p = case.clone().set("map.pitch_um", 1.0).predict();
        assert!(!p.pile.is_empty());
        let (center, size) = target(&case);
        let mut squares =
            rasterised(p.pile.particles(), [center, size], resolution * 1e-6, &p.powder_mean_free_paths());
        squares.sort_by(|a, b| a[0].total_cmp(&b[0]));
        let n = squares.len() as f64;
        let average = squares.iter().map(|s| s[0]).sum::<f64>() / n;
        let sd = (squares.iter().map(|s| (s[0] - average).powi(2)).sum::<f64>() / n).sqrt();
        let percentile = |share: f64| squares[((share * n).ceil() as usize).max(1) - 1][0];
        let membrane: f64 = p.inputs.beam.layers.iter().map(|layer| layer.thickness / layer.mean_free_path).sum();
        let limit = p.inputs.beam.limit - membrane;
        let too_thick = squares.iter().filter(|s| s[1] > limit).map(|s| s[2]).sum::<f64>() / n;
        let covered = squares.iter().map(|s| s[2]).sum::<f64>() / n;
        let figure = |id: &str| mean(&p, id, Some("target"));
        // Chords at 40 x 40 points a square and volumes shared by 0.3 % a pixel; the shares by sampled points.
        for (id, expected, allowed) in [
            ("mean_thickness_nm", average, 0.003 * average),
            ("thickness_cv_percent", sd / average, 0.005 * sd / average),
            ("thickness_p50_nm", percentile(0.5), 0.01 * average),
            ("thickness_p95_nm", percentile(0.95), 0.01 * percentile(0.95)),
            ("thickness_p99_nm", percentile(0.99), 0.01 * percentile(0.99)),
            ("coverage_percent", covered, 0.005 * covered),
            ("too_thick_percent", too_thick, 0.01 * covered),
            ("usable_percent", covered - too_thick, 0.01 * covered),
            ("bare_percent", 1.0 - covered, 0.005 * covered),
        ] {
            let found = figure(id);
            println!("{resolution} µm: {id} {found:.5e}, own raster {expected:.5e}");
            assert!((found - expected).abs() <= allowed, "{resolution} µm: {id} {found} against {expected}");
        }
    }
}

#[test]
fn pixels_of_a_square_decide_nothing() {
    let inputs = Case::shipped("sodium-chip").set("prints", 1).set("map.resolution_um", 1.0).inputs();
    let setting = setting(&inputs);
    let first = print_parallel(&setting, 0, Keep::Particles, MOST_KEPT, &Silent).expect("nobody stops it");
    let with = |per_square: usize| {
        let measuring = MeasuringGrid::of_pixels(&inputs, per_square, 50e-6);
        let index = RegionIndex::new(&inputs.regions, measuring.grid);
        let mut canvas = Canvas::new(measuring.grid, inputs.powders().len());
        for p in first.particles.as_deref().expect("kept") {
            canvas.stamp(p.x, p.y, &Grain::new(p.powder, p.diameter));
        }
        let measurer = Measurer::new(&inputs, measuring, &index, BenchUse::default());
        let values = measurer.measure(&PrintOutcome { canvas, ..first.clone() });
        measurer
            .places()
            .iter()
            .zip(values)
            .map(|((kind, place), value)| (kind.id, place.clone(), value))
            .collect::<Vec<_>>()
    };
    let fine = with(5);
    for per_square in [1, 2, 3] {
        for ((id, place, value), (_, _, best)) in with(per_square).into_iter().zip(&fine) {
            // Profiles need pixels of half a micrometre.
            if per_square == 1 && place.as_deref() == Some("electrode fill") {
                continue;
            }
            let (Some(value), Some(best)) = (value.map(Measured::value), best.map(Measured::value)) else { continue };
            // What is covered is looked at in eighths of a pixel. One pixel to a square makes that 125 nm, half a grain: up to 2 %.
            let allowed = if id.starts_with("width") || id.starts_with("peak") { 0.03 } else { 0.01 };
            let allowed = allowed + if per_square == 1 { 0.01 } else { 0.0 };
            // Shares of the area by their difference from what is covered, about a quarter of it.
            let scale = best.abs().max(if id.ends_with("percent") { 0.25 } else { 0.0 });
            assert!(
                (value - best).abs() <= allowed * scale,
                "{per_square} pixels: {id} {place:?} {value} against {best}"
            );
        }
    }
}

#[test]
fn squares_do_not_depend_on_the_maps() {
    let mut inputs = Case::shipped("sodium-chip").inputs();
    let before = MeasuringGrid::new(&inputs, 50e-6);
    inputs.map.pitch *= 3.7;
    inputs.map.margin *= 2.0;
    assert_eq!(MeasuringGrid::new(&inputs, 50e-6), before);
    assert!((before.grid.pitch * before.per_square as f64 / inputs.map.resolution - 1.0).abs() < 1e-12);
}
