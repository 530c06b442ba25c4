//! What chance within a print makes of figures: droplets come independently, so variances of sums are sums over droplets.

use super::on_region::Together;
use super::spot::Amounts;
use super::square::Square;
use motefall_figures::electrode_view::HOUR;
use motefall_physics::figure_kinds::RegionFigure;
use std::f64::consts::FRAC_2_PI;

/// Variance of a figure of a region that chance brings about; `None` where it is not worked out. `mean` is the figure's own, `active` the
/// number of active particles there.
///
/// A droplet lies on a region with all of its particles or with none: it is small next to it.
pub(super) fn of_region(figure: RegionFigure, on: &Together, amounts: Amounts, mean: f64, active: f64) -> Option<f64> {
    let whole = |square: Square| on.whole[amounts.square(square)];
    let own = |square: Square| on.own[amounts.square(square)];
    let per_area = on.area * on.area;
    Some(match figure {
        RegionFigure::Coverage | RegionFigure::Bare => {
            let all = on.whole[amounts.covered()];
            if all > 0.0 { covered_area(&on.covered, whole(Square::Covered) / all) / per_area } else { 0.0 }
        }
        RegionFigure::MeanThickness => whole(Square::Solids) / per_area,
        RegionFigure::MeanFreePaths => whole(Square::Depth) / per_area,
        RegionFigure::Mass => own(Square::Mass),
        RegionFigure::Particles => own(Square::Number),
        RegionFigure::ActiveParticles => own(Square::Active),
        RegionFigure::CoarseParticles => own(Square::Coarse),
        RegionFigure::Capacity => own(Square::Capacity),
        RegionFigure::CurrentAt1C => own(Square::Capacity) / (HOUR * HOUR),
        RegionFigure::ChargePerParticle => {
            let of_both = mean * (mean * own(Square::Active) - 2.0 * own(Square::CapacityActive));
            ((own(Square::Capacity) + of_both) / (active * active)).max(0.0)
        }
        RegionFigure::HitProbability => mean * (1.0 - mean),
        RegionFigure::ThicknessCv
        | RegionFigure::ThicknessP5
        | RegionFigure::ThicknessP50
        | RegionFigure::ThicknessP95
        | RegionFigure::ThicknessP99
        | RegionFigure::TooThick
        | RegionFigure::Usable
        | RegionFigure::Joined
        | RegionFigure::JoinedCapacity
        | RegionFigure::FarthestParticle
        | RegionFigure::LargestParticle => return None,
    })
}

/// Variance of the share `p` of a sum that parts of it make, from the variances of these parts and of all else: of p = a/(a + b).
pub(super) fn of_share(p: f64, [own, rest]: [f64; 2], all: f64) -> f64 {
    ((1.0 - p).powi(2) * own + p * p * rest.max(0.0)) / (all * all)
}

/// Variance of the covered area, m^4, of droplets that cover `one` of it each, m^2 (the mean square over the mean), with what is covered at
/// points, each droplet's by itself, and the areas that these stand for.
///
/// Two points a distance r apart stay both bare with the probability exp(-2 c + c o(r)), o being the part of droplets over the one that are
/// over the other, too: as if they were discs of equal size, which is right for few and nearly for many (Hall 1988, Introduction to the
/// Theory of Coverage Processes; from memory).
fn covered_area(points: &[(f64, f64)], one: f64) -> f64 {
    points.iter().map(|(covered, area)| area * (-2.0 * covered).exp() * one * together(*covered)).sum()
}

/// Integral of exp(c o) - 1 over the plane, in areas of a disc: 8 times that of it times x from 0 to 1, x being the distance over the disc's
/// diameter, o = 2/pi (acos x - x sqrt(1 - x^2)).
fn together(covered: f64) -> f64 {
    const STEPS: usize = 32;
    let at = |k: usize| {
        let x = (k as f64 + 0.5) / STEPS as f64;
        x * (covered * FRAC_2_PI * (x.acos() - x * (1.0 - x * x).sqrt())).exp_m1()
    };
    8.0 / STEPS as f64 * (0..STEPS).map(at).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Few discs do not meet: the variance of what they cover is the number of them times their area squared. Of many, at
    /// c = 3, 8 int x (e^(3 o) - 1) dx = 7.22969 by Simpson's rule in 200,000 steps.
    #[test]
    fn discs_that_meet_scatter_less() {
        assert!((together(1e-6) / 1e-6 - 1.0).abs() < 2e-3, "{}", together(1e-6) / 1e-6);
        let few = covered_area(&[(1e-5, 4.0)], 0.1);
        assert!((few / (1e-5 * 4.0 * 0.1) - 1.0).abs() < 3e-3, "{few}");
        assert!((together(3.0) / 7.229_69 - 1.0).abs() < 2e-3, "{}", together(3.0));
    }

    #[test]
    fn a_share_scatters_with_both_of_its_parts() {
        // a = 30 and b = 70 particles, Poisson: p (1 - p)/n = 0.0021.
        assert!((of_share(0.3, [30.0, 70.0], 100.0) - 0.0021).abs() < 1e-12);
    }
}
