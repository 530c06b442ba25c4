//! Inelastic mean free path of electrons. Iakoubovskii, Mitsuishi, Nakayama & Furuya 2008, Thickness measurements with electron energy
//! loss spectroscopy, Microsc. Res. Tech. 71:626. Anchor: Potapov 2014, Ultramicroscopy 147:21 (silicon, large collection angle).

use motefall_physics::materials::beam::mean_free_path;

use super::table::{close, table};

#[test]
fn the_relation_at_large_collection_angle() {
    let rows = table("imfp_model_values");
    assert!(rows.len() > 30);
    for row in rows {
        let lambda = mean_free_path(row.number("density_g_cm3") * 1e3, row.number("E0_keV") * 1e3);
        close(lambda / 1e-9, row.number("lambda_Iakoubovskii_large_angle_nm"), 1e-3, row.text("material"));
    }
}

#[test]
fn measured_silicon() {
    let mut compared = 0;
    for row in table("imfp_published") {
        if row.text("material") == "silicon" && row.text("condition") == "large collection angle" {
            compared += 1;
            let lambda = mean_free_path(2329.0, row.number("E0_keV") * 1e3);
            close(lambda / 1e-9, row.number("lambda_nm"), 1.5e-2, row.text("E0_keV"));
        }
    }
    assert_eq!(compared, 2);
}
