//! Averages of lognormal sizes. Hatch & Choate 1929, Statistical description of the size properties of non-uniform particulate
//! substances, J. Franklin Inst. 207:369.

use motefall_physics::materials::sizes::{LognormalMode, SizeDistribution, Weighting, hatch_choate};

use super::table::{close, table};

#[test]
fn averages_of_a_lognormal_in_closed_form_and_from_the_distribution() {
    for row in table("hatch_choate") {
        let (cmd, gsd, b) = (row.number("CMD"), row.number("GSD"), row.number("b"));
        let published = row.number("value");
        let what = format!("{} of {cmd}, {gsd}", row.text("average"));
        close(hatch_choate(cmd, gsd, b), published, 1e-6, &what);

        let metres = cmd * 1e-6;
        let mode = LognormalMode { share: 1.0, median: metres, gsd, weighting: Weighting::Number };
        let sizes = SizeDistribution::from_modes(&[mode]).expect("valid");
        let from_sizes = match row.text("average") {
            "geometric/count median" => sizes.quantile(0.5),
            "diam of average area" => sizes.mean_diameter(2, 0),
            "diam of average mass (volume)" => sizes.mean_diameter(3, 0),
            "Sauter D32 (surface mean)" => sizes.mean_diameter(3, 2),
            "mass/volume median" => {
                // and back: the same powder given by volume
                let volume = LognormalMode { median: published * 1e-6, weighting: Weighting::Volume, ..mode };
                let back = SizeDistribution::from_modes(&[volume]).expect("valid");
                close(back.quantile(0.5) / 1e-6, cmd, 1e-6, &what);
                sizes.volume_quantile(0.5)
            }
            "mode" => continue,
            other => panic!("unknown average {other}"),
        };
        close(from_sizes / 1e-6, published, 1e-6, &what);
    }
}
