//! Circular segment (bead of a line) and spherical cap (drop) at a contact angle: exact geometry, worked out independently of this code.
//! Every value of the table is used.

use motefall_physics::deposit::bead::{segment_area, segment_height, segment_width};
use motefall_physics::deposit::cap_ratio;

use super::table::{close, table};

#[test]
fn areas_heights_widths_and_volumes() {
    for row in table("bead_cap_geometry") {
        let (width, angle) = (row.number("contact_width_um"), row.number("contact_angle_deg").to_radians());
        let area = row.number("bead_area_um2");
        // six printed digits
        close(segment_area(width, angle), area, 5e-6, "area");
        close(segment_width(area, angle), width, 5e-6, "width");
        close(segment_height(width, angle), row.number("height_um"), 5e-6, "height");
        let diameter = width / cap_ratio(angle);
        close(diameter, row.number("equiv_drop_diameter_um"), 5e-6, "drop of the same volume");
        close(std::f64::consts::PI / 6.0 * diameter.powi(3), row.number("cap_volume_um3"), 1.5e-5, "volume of the cap");
    }
}
