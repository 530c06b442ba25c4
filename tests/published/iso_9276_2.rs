//! Mean sizes as ratios of moments. ISO 9276-2:2014, Representation of results of particle size analysis, part 2. Own example: counts
//! 10, 40, 35, 15 at 0.5, 1.5, 2.5, 3.5 um, entered as four bins so narrow (1e-4) that all is at the midpoints.

use motefall_physics::materials::sizes::{SizeDistribution, Weighting};

use super::table::{close, table};

#[test]
fn moment_ratios_of_a_histogram() {
    let (mut edges, mut amounts) = (Vec::new(), Vec::new());
    for (midpoint, count) in [(0.5e-6, 10.0), (1.5e-6, 40.0), (2.5e-6, 35.0), (3.5e-6, 15.0)] {
        edges.extend([midpoint * (1.0 - 5e-5), midpoint * (1.0 + 5e-5)]);
        amounts.extend([count, 0.0]);
    }
    amounts.pop();
    let sizes = SizeDistribution::from_histogram(&edges, &amounts, Weighting::Number).expect("valid");
    for row in table("iso_moments_example") {
        let got = match row.text("mean") {
            "D10" => sizes.mean_diameter(1, 0),
            "D20" => sizes.mean_diameter(2, 0),
            "D30" => sizes.mean_diameter(3, 0),
            "D32 = x_1,2" => sizes.mean_diameter(3, 2),
            "D43 = x_1,3" => sizes.mean_diameter(4, 3),
            "s_0 (n-weighted sd)" => (sizes.moment(2) - sizes.moment(1).powi(2)).sqrt(),
            other => panic!("unknown mean {other}"),
        };
        // seven printed digits
        close(got / 1e-6, row.number("value_um"), 1e-6, row.text("mean"));
    }
}
