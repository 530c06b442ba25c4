//! A small print's figures, kept as they were. This claims no correctness: it shows that something changed, on purpose or not.

use crate::common::Case;
use std::fmt::Write;

/// A tiny invented print.
const TINY: &str = r#"
name = "tiny"
seed = 2
prints = 3
path = [{ kind = "line", name = "a", from_um = [-30, 0], to_um = [30, 0], speed_mm_s = 4 }]
tube = [{ length_mm = 100, bore_mm = 3, bends_deg = [90] }]
region = [{ kind = "rectangle", name = "pad", role = "target", center_um = [0, 0], size_um = [40, 20] }]
flow = { carrier_sccm = 8, sheath_sccm = 24 }
head = { inlet_bore_mm = 1, mixing_length_mm = 10, half_angle_deg = 6, nozzle_um = 150, land_um = 150 }
flight = { stand_off_mm = 1.5 }
chip = { width_mm = 2, height_mm = 2 }
map = { pitch_um = 0.5, margin_um = 40 }

[ink]
solvent = [{ name = "water", mass_percent = 70 }, { name = "ethylene glycol", mass_percent = 30 }]
powder = [{ name = "alumina", mass_percent = 2, density_g_cm3 = 3.95, sizes = [{ median_um = 0.4, gsd = 1.5 }] }]

[atomiser]
droplet_median_um = 2.2
"#;

#[test]
fn figures_of_a_tiny_print() {
    let prediction = Case::from_text(TINY).predict();
    let mut text = String::new();
    for row in &prediction.figures {
        let place = row.place.as_deref().unwrap_or("print");
        match row.estimate {
            Some(estimate) => writeln!(text, "{place}: {} {:.3e}", row.kind.id, estimate.mean * row.kind.per_si),
            None => writeln!(text, "{place}: {} none", row.kind.id),
        }
        .expect("text grows");
    }
    for row in &prediction.budget.rows {
        writeln!(text, "{:?}: {} droplets, {:?} particles", row.fate, row.droplets, row.particles).expect("text grows");
    }
    insta::assert_snapshot!(text, @r#"
    pad: coverage_percent 4.445e0
    pad: mean_thickness_nm 1.131e1
    pad: thickness_cv_percent 3.373e2
    pad: thickness_p5_nm 0.000e0
    pad: thickness_p50_nm 0.000e0
    pad: thickness_p95_nm 6.724e1
    pad: thickness_p99_nm 1.828e2
    pad: too_thick_percent 4.107e0
    pad: usable_percent 3.385e-1
    pad: bare_percent 9.555e1
    pad: mean_free_paths 8.660e-2
    pad: mass_pg 3.587e1
    pad: particles 5.693e2
    pad: active_particles 0.000e0
    pad: capacity_nah 0.000e0
    pad: current_1c_na 0.000e0
    pad: largest_particle_um 8.542e-1
    pad: coarse_particles 2.000e1
    pad: hit_probability 1.000e0
    a: edge_width_um 3.157e1
    a: line_width_um none
    a: width_90_um 3.305e1
    a: width_99_um 4.906e1
    a: peak_thickness_nm 1.225e1
    a: edge_roughness_um none
    print: landed_percent 3.024e1
    print: on_target_percent 2.322e1
    print: overspray_percent 7.678e1
    print: overspray_reach_um 3.084e1
    print: farthest_stray_um 5.375e1
    print: print_time_s 2.900e-2
    print: ink_used_ul 3.867e-5
    print: time_per_chip_s 6.000e2
    print: ink_per_chip_ul 8.000e-1
    TubeSettling: 809 droplets, [6083] particles
    TubeDiffusion: 8 droplets, [5] particles
    Escaped: 38 droplets, [2] particles
    Region("pad"): 252 droplets, [513] particles
    Elsewhere: 1114 droplets, [2002] particles
    "#);
}
