//! Theoretical capacities by Faraday's law with IUPAC atomic weights.

use motefall_physics::materials::faraday_capacity;

use super::table::{close, table};

#[test]
fn theoretical_capacities() {
    let rows = table("theoretical_capacity");
    assert!(rows.len() > 20);
    for row in rows {
        let capacity = faraday_capacity(row.number("M_g_mol") * 1e-3, row.number("electrons_x")) / 3600.0;
        // molar masses are printed to 5 digits
        close(capacity, row.number("capacity_mAh_g"), 5e-4, row.text("material_graphite_per_6C"));
    }
}
