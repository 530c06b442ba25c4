//! Sums over a Poisson number of lognormal sizes: mean lambda E[X], variance lambda E[X^2]. Feller 1968, An introduction to probability
//! theory and its applications, vol. 1, ch. XII, with E[d^k] = CMD^k exp(k^2 ln^2 GSD/2).

use motefall_physics::source::atomiser::DropletSizes;
use motefall_physics::source::content::poisson;
use rand::SeedableRng;
use rand::rngs::Xoshiro256PlusPlus;
use rand_distr::{Distribution, StandardNormal};

use super::table::{close, near, table};

/// Sums drawn per row.
const SUMS: usize = 100_000;

#[test]
fn sums_over_droplets_are_compound_poisson() {
    for row in table("compound_poisson") {
        let (lambda, power) = (row.number("lambda_N"), if row.text("sum") == "sum d^3" { 3 } else { 2 });
        let droplets = DropletSizes { median: row.number("CMD"), gsd: row.number("GSD") };
        let (mean, variance) = (row.number("mean"), row.number("variance"));
        // seven printed digits
        close(variance.sqrt() / mean, row.number("CV"), 1e-5, "printed CV");

        let mut rng = Xoshiro256PlusPlus::seed_from_u64(1);
        let sums: Vec<f64> = (0..SUMS)
            .map(|_| {
                let count = poisson(lambda, &mut rng);
                (0..count).map(|_| droplets.at_deviate(StandardNormal.sample(&mut rng)).powi(power)).sum()
            })
            .collect();
        let n = SUMS as f64;
        let got = sums.iter().sum::<f64>() / n;
        // 4.89 standard errors, alpha 1e-6. Noticed: 0.7 % of the mean at a CV of 0.44, 1.4 % at 0.87, 3.3 % at 2.1.
        near(got, mean, 4.89 * (variance / n).sqrt(), "mean");
        // Fourth central moment of a compound Poisson sum: lambda E[X^4] + 3 (lambda E[X^2])^2.
        let moment = |k: f64| droplets.median.powf(k) * (0.5 * (k * droplets.gsd.ln()).powi(2)).exp();
        let fourth = lambda * moment(4.0 * f64::from(power)) + 3.0 * variance * variance;
        let spread = ((fourth - variance * variance) / n).sqrt();
        let squares = sums.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / n;
        // Cubes of sizes with a wide spread have a fourth moment that no sample shows: there the variance cannot be checked.
        if spread < 0.05 * variance {
            near(squares, variance, 4.89 * spread, "variance");
        }
    }
}
