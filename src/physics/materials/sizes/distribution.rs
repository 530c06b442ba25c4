//! A distribution and what is asked of it.

use super::laws::{CountLaw, log_uniform_moment, normal_below};

/// A number distribution of volume-equivalent diameters.
#[derive(Debug, Clone, PartialEq)]
pub struct SizeDistribution {
    pub(super) law: CountLaw,
    /// Third moment by number, m^3.
    pub(super) third_moment: f64,
}

impl SizeDistribution {
    /// Share of the number below a diameter (m).
    pub fn number_below(&self, diameter: f64) -> f64 {
        self.moment_below(diameter, 0)
    }

    /// Share of the volume below a diameter (m).
    pub fn volume_below(&self, diameter: f64) -> f64 {
        (self.moment_below(diameter, 3) / self.third_moment).min(1.0)
    }

    /// Raw moment by number, E[d^k], m^k.
    pub fn moment(&self, k: i32) -> f64 {
        match &self.law {
            CountLaw::Lognormal(parts) => parts.iter().map(|p| p.share * p.moment(k)).sum(),
            CountLaw::Histogram(bins) => bins.iter().map(|b| b.share * log_uniform_moment(b.low, b.high, k)).sum(),
        }
    }

    /// Partial moment by number, E[d^k; d < diameter], m^k.
    pub(crate) fn moment_below(&self, diameter: f64, k: i32) -> f64 {
        if diameter.is_nan() || diameter <= 0.0 {
            return 0.0;
        }
        match &self.law {
            CountLaw::Lognormal(parts) => {
                let log = diameter.ln();
                parts.iter().map(|p| p.share * p.moment(k) * normal_below((log - p.shifted(k)) / p.sigma)).sum()
            }
            CountLaw::Histogram(bins) => bins
                .iter()
                .filter(|b| diameter > b.low)
                .map(|b| {
                    let top = diameter.min(b.high);
                    b.share * log_uniform_moment(b.low, top, k) * (top / b.low).ln() / (b.high / b.low).ln()
                })
                .sum(),
        }
    }

    /// Mean diameter `D[p,q] = (M_p/M_q)^(1/(p-q))`, m, p > q; `D[3,2]` is Sauter's.
    ///
    /// Source: ISO 9276-2:2014, Representation of results of particle size analysis, part 2 (moment-ratio notation).
    pub fn mean_diameter(&self, p: i32, q: i32) -> f64 {
        debug_assert!(p > q);
        (self.moment(p) / self.moment(q)).powf(1.0 / f64::from(p - q))
    }

    /// Diameter (m) below which a share of the number lies. Shares outside 0..1 give the ends of `SizeDistribution::support`.
    pub fn quantile(&self, share: f64) -> f64 {
        self.invert(share, 0)
    }

    /// Diameter (m) below which a share of the volume lies.
    pub fn volume_quantile(&self, share: f64) -> f64 {
        self.invert(share, 3)
    }

    fn invert(&self, share: f64, k: i32) -> f64 {
        let (low, high) = self.support();
        if share.is_nan() || share <= 0.0 {
            return low;
        }
        if share >= 1.0 {
            return high;
        }
        let total = if k == 0 { 1.0 } else { self.moment(k) };
        let (mut a, mut b) = (low.ln(), high.ln());
        // Each step halves the bracket; 64 reach the last bit of any bracket here.
        for _ in 0..64 {
            let middle = 0.5 * (a + b);
            if self.moment_below(middle.exp(), k) < share * total {
                a = middle;
            } else {
                b = middle;
            }
        }
        (0.5 * (a + b)).exp()
    }

    /// Diameters (m) between which all of the number and of the volume lies (but for 1e-15).
    pub fn support(&self) -> (f64, f64) {
        match &self.law {
            CountLaw::Lognormal(parts) => parts.iter().fold((f64::INFINITY, 0.0f64), |(low, high), p| {
                let (a, b) = p.range();
                (low.min(a.exp()), high.max(b.exp()))
            }),
            CountLaw::Histogram(bins) => (bins[0].low, bins[bins.len() - 1].high),
        }
    }

    /// Number per unit of the logarithm of the diameter, at a diameter (m).
    #[cfg(test)]
    pub(crate) fn log_density(&self, diameter: f64) -> f64 {
        match &self.law {
            CountLaw::Lognormal(parts) => parts.iter().map(|p| p.share * p.log_density(diameter.ln())).sum(),
            CountLaw::Histogram(bins) => bins
                .iter()
                .find(|b| diameter >= b.low && diameter < b.high)
                .map_or(0.0, |b| b.share / (b.high / b.low).ln()),
        }
    }

    /// E[f(d); low < d < high] by number, for an `f` that is smooth between `low` and `high` (m) and grows no faster than d^3.
    ///
    /// Gauss-Legendre (5 points) on panels of the logarithm of the diameter; 1e-9 relative for the retention curves used here.
    pub fn expectation_between(&self, low: f64, high: f64, f: impl Fn(f64) -> f64) -> f64 {
        let clip = |a: f64, b: f64| {
            let a = if low > 0.0 { a.max(low.ln()) } else { a };
            (a, b.min(high.ln()))
        };
        match &self.law {
            CountLaw::Lognormal(parts) => parts
                .iter()
                .map(|p| {
                    let (a, b) = p.range();
                    let (a, b) = clip(a, b);
                    p.share * panels(a, b, 0.5 * p.sigma.min(0.4), |x| f(x.exp()) * p.log_density(x))
                })
                .sum(),
            CountLaw::Histogram(bins) => bins
                .iter()
                .map(|bin| {
                    let (a, b) = clip(bin.low.ln(), bin.high.ln());
                    bin.share / (bin.high / bin.low).ln() * panels(a, b, 0.2, |x| f(x.exp()))
                })
                .sum(),
        }
    }
}

/// Nodes and weights of the 5-point Gauss-Legendre rule on -1..1 (Abramowitz & Stegun 1964, table 25.4).
const GAUSS_5: [(f64, f64); 5] = [
    (0.0, 0.568_888_888_888_888_9),
    (-0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
    (0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
    (-0.906_179_845_938_664, 0.236_926_885_056_189_1),
    (0.906_179_845_938_664, 0.236_926_885_056_189_1),
];

/// Integral of `f` from `a` to `b` on panels no wider than `width`; 0 if the range is empty.
fn panels(a: f64, b: f64, width: f64, f: impl Fn(f64) -> f64) -> f64 {
    if b.is_nan() || a.is_nan() || b <= a {
        return 0.0;
    }
    let count = ((b - a) / width).ceil().max(1.0);
    let half = 0.5 * (b - a) / count;
    (0..count as usize)
        .map(|i| {
            let middle = a + half * (2.0 * i as f64 + 1.0);
            half * GAUSS_5.iter().map(|(node, weight)| weight * f(middle + half * node)).sum::<f64>()
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::materials::sizes::{LognormalMode, SizesError, Weighting};

    fn mode(share: f64, median_um: f64, gsd: f64, weighting: Weighting) -> LognormalMode {
        LognormalMode { share, median: median_um * 1e-6, gsd, weighting }
    }

    #[test]
    fn a_volume_mixture_is_turned_into_numbers_by_hand() {
        // Two modes of equal volume, medians 1 and 10 um by volume, both gsd e^0.5: the small one has 10^3 times the number.
        // Number shares 1000/1001 and 1/1001; count medians 1 um * exp(-3 * 0.25) = 0.472367 um and ten times that.
        let g = 0.5f64.exp();
        let d = SizeDistribution::from_modes(&[
            mode(1.0, 1.0, g, Weighting::Volume),
            mode(1.0, 10.0, g, Weighting::Volume),
        ])
        .expect("valid");
        // Below 0.472367 um: half of the small mode, and of the large one P(z < -ln(10)/0.5 = -4.605) = 2.06e-6
        let below = d.number_below(0.472_367e-6);
        assert!((below - (0.5 * 1000.0 / 1001.0 + 2.06e-6 / 1001.0)).abs() < 1e-6);
        // By volume, half of everything lies below the middle, sqrt(10) um, by symmetry.
        assert!((d.volume_below(10f64.sqrt() * 1e-6) - 0.5).abs() < 1e-9);
        assert!((d.volume_quantile(0.5) / (10f64.sqrt() * 1e-6) - 1.0).abs() < 1e-6);
    }

    #[test]
    fn a_histogram_by_hand() {
        // Number 1 in 1-e um and 3 in e-e^2 um (edges in um): a quarter below e; half of the first bin below sqrt(e).
        let e = std::f64::consts::E;
        let edges = [1e-6, e * 1e-6, e * e * 1e-6];
        let d = SizeDistribution::from_histogram(&edges, &[1.0, 3.0], Weighting::Number).expect("valid");
        assert!((d.number_below(e * 1e-6) - 0.25).abs() < 1e-12);
        assert!((d.number_below(e.sqrt() * 1e-6) - 0.125).abs() < 1e-12);
        // E[d] = 0.25 (e - 1) + 0.75 (e^2 - e) = 0.429570 + 3.503081 = 3.932652 um
        assert!((d.moment(1) / 3.932_652e-6 - 1.0).abs() < 1e-6);
        assert!((d.quantile(0.25) / (e * 1e-6) - 1.0).abs() < 1e-9);
        // by volume: equal volume in both bins means e^3 times the number in the first
        let v = SizeDistribution::from_histogram(&edges, &[1.0, 1.0], Weighting::Volume).expect("valid");
        assert!((v.number_below(e * 1e-6) - e.powi(3) / (e.powi(3) + 1.0)).abs() < 1e-12);
        assert!((v.volume_below(e * 1e-6) - 0.5).abs() < 1e-12);
    }

    #[test]
    fn quantile_inverts_the_share_over_its_range() {
        let d = SizeDistribution::from_modes(&[
            mode(0.9, 0.3, 1.6, Weighting::Number),
            mode(0.1, 4.0, 1.3, Weighting::Number),
        ])
        .expect("valid");
        for share in [1e-9, 1e-3, 0.1, 0.5, 0.899, 0.9, 0.901, 0.999, 1.0 - 1e-9] {
            assert!((d.number_below(d.quantile(share)) - share).abs() < 1e-9, "share {share}");
        }
        let (low, high) = d.support();
        assert_eq!((d.quantile(0.0), d.quantile(1.0), d.quantile(f64::NAN)), (low, high, low));
        assert!(d.volume_below(high) > 1.0 - 1e-12 && d.number_below(low) < 1e-14);
    }

    #[test]
    fn quadrature_gives_the_closed_moments() {
        let d = SizeDistribution::from_modes(&[
            mode(0.5, 0.3, 2.5, Weighting::Volume),
            mode(0.5, 4.0, 1.2, Weighting::Volume),
        ])
        .expect("valid");
        let h = SizeDistribution::from_histogram(&[1e-7, 1e-6, 2e-6, 9e-6], &[2.0, 0.0, 1.0], Weighting::Number)
            .expect("valid");
        for s in [&d, &h] {
            for k in 0..=3 {
                for cut in [0.8e-6, 3e-6, 1.0] {
                    let by_rule = s.expectation_between(0.0, cut, |x| x.powi(k));
                    let closed = s.moment_below(cut, k);
                    assert!((by_rule / closed - 1.0).abs() < 1e-8, "moment {k} below {cut}: {by_rule} {closed}");
                }
            }
            // density and share agree
            let (a, b) = (0.5e-6f64, 0.500_01e-6f64);
            let slope = (s.number_below(b) - s.number_below(a)) / (b / a).ln();
            assert!((s.log_density(0.500_005e-6) / slope - 1.0).abs() < 1e-4);
        }
    }

    #[test]
    fn faults_are_named() {
        use SizesError as E;
        let number = Weighting::Number;
        let bad = |m: LognormalMode| SizeDistribution::from_modes(&[m]).expect_err("must be refused");
        assert_eq!(SizeDistribution::from_modes(&[]).expect_err("empty"), E::Empty);
        assert!(matches!(bad(mode(-1.0, 1.0, 1.5, number)), E::Share { mode: 1, .. }));
        assert!(matches!(bad(mode(1.0, f64::NAN, 1.5, number)), E::Median { .. }));
        assert!(matches!(bad(mode(1.0, 1.0, 1.0, number)), E::Gsd { .. }));
        assert!(matches!(bad(mode(0.0, 1.0, 1.5, number)), E::NothingInIt));
        let mixed = [mode(1.0, 1.0, 1.5, number), mode(1.0, 1.0, 1.5, Weighting::Volume)];
        assert!(matches!(SizeDistribution::from_modes(&mixed), Err(E::MixedWeighting { mode: 2 })));
        let histogram =
            |e: &[f64], a: &[f64]| SizeDistribution::from_histogram(e, a, number).expect_err("must be refused");
        assert!(matches!(histogram(&[1.0], &[]), E::Empty));
        assert!(matches!(histogram(&[1.0, 2.0], &[1.0, 2.0]), E::Lengths { .. }));
        assert!(matches!(histogram(&[0.0, 2.0], &[1.0]), E::Edge { edge: 1, .. }));
        assert!(matches!(histogram(&[1.0, 3.0, 2.0], &[1.0, 1.0]), E::Unsorted { edge: 3, .. }));
        assert!(matches!(histogram(&[1.0, 2.0], &[f64::NAN]), E::Amount { bin: 1, .. }));
        assert!(matches!(histogram(&[1.0, 2.0], &[0.0]), E::NothingInIt));
        assert_eq!(
            histogram(&[2e-6, 1e-6], &[1.0]).to_string(),
            "bin edge 2 (1 µm) is not above the one before (2 µm): sort the edges, smallest first"
        );
    }
}
