//! Share of a beam that crosses without energy loss. Egerton 2011, Electron energy-loss spectroscopy in the electron microscope, 3rd ed.:
//! Poisson law of plural scattering. Mean free paths: Iakoubovskii et al. 2008; silicon anchors: Potapov 2014, Ultramicroscopy 147:21.

use motefall_figures::Particle;
use motefall_figures::beam_view::{depth_map, depth_picture, layers_depth, transmitted};
use motefall_physics::inputs::{Beam, BeamLayer};
use motefall_physics::materials::beam::mean_free_path;
use ndarray::Array2;

use super::table::{close, near, table};

#[test]
fn zero_loss_share_of_a_depth() {
    let rows = table("t_over_lambda");
    assert!(rows.len() > 5);
    for row in rows {
        // Printed to 5 digits.
        close(
            transmitted(row.number("t_over_lambda")),
            row.number("zero_loss_fraction"),
            5e-5,
            row.text("t_over_lambda"),
        );
    }
}

#[test]
fn a_silicon_film_of_one_measured_mean_free_path_is_one_deep() {
    for (voltage, thickness) in [(200e3, 150e-9), (300e3, 179e-9)] {
        let beam = Beam { voltage, layers: vec![], limit: 1.0 };
        let film = Array2::from_elem((4, 4), thickness);
        let depth = depth_map(&[film], &[mean_free_path(2329.0, voltage)], &beam).expect("a film");
        // The relation meets the measured values within 1.5 %.
        assert!(depth.iter().all(|d| (d - 1.0).abs() < 0.015), "{} at {voltage} V", depth[[0, 0]]);
    }
}

#[test]
fn a_membrane_a_liquid_and_a_film_by_hand() {
    // 50 nm of silicon nitride above and below, 300 nm of water, and a film of 80 nm of lithium iron phosphate, 200 kV.
    let voltage = 200e3;
    let layer = |density: f64, thickness: f64| BeamLayer {
        material: "layer".into(),
        thickness,
        mean_free_path: mean_free_path(density, voltage),
    };
    let beam = Beam { voltage, layers: vec![layer(3000.0, 100e-9), layer(998.0, 300e-9)], limit: 4.0 };
    let published = |name: &str| {
        let rows = table("imfp_model_values");
        let row = rows.iter().find(|row| row.text("material").starts_with(name) && row.number("E0_keV") == 200.0);
        row.expect("a row").number("lambda_Iakoubovskii_large_angle_nm")
    };
    let (nitride, water, phosphate) =
        (published("silicon nitride low-stress"), published("water"), published("LiFePO4"));
    let film = Array2::from_elem((2, 2), 80e-9);
    let depth = depth_map(&[film], &[mean_free_path(3600.0, voltage)], &beam).expect("a film")[[0, 0]];
    // The table's mean free paths have four digits.
    near(layers_depth(&beam), 100.0 / nitride + 300.0 / water, 2e-3, "layers");
    near(depth, 100.0 / nitride + 300.0 / water + 80.0 / phosphate, 2e-3, "layers and film");
    // The same film as a picture of many small grains: 80 nm of solid over a square of 4 um, 200 nm grains on a lattice.
    let volume = std::f64::consts::PI / 6.0 * (0.2e-6f64).powi(3);
    let count = (80e-9 * 4e-6 * 4e-6 / volume).round() as usize;
    let grains: Vec<Particle> = (0..count)
        .map(|k| {
            let at = [0.618_033_988_7, 0.754_877_666].map(|a: f64| 4e-6 * (a * k as f64).fract());
            Particle { x: at[0], y: at[1], diameter: 0.2e-6, powder: 0, droplet: 0 }
        })
        .collect();
    let picture =
        depth_picture(&grains, &[mean_free_path(3600.0, voltage)], &beam, [-0.1e-6, 4.1e-6], 0.02e-6, [210, 210]);
    // Spread over the picture's 4.2 x 4.2 um.
    let mean = picture.mean().expect("pixels") - layers_depth(&beam);
    close(mean, 80.0 / phosphate * (4.0f64 / 4.2).powi(2), 0.01, "mean depth of the grains");
}
