//! What a sweep says: one record per point.

use super::CautionKind;
use super::statistics::FigureAt;
use motefall_physics::inputs::{Limit, SweepPlan};
use statrs::distribution::{ContinuousCDF, Normal};

/// Everything a report of a sweep shows.
#[derive(Debug, Clone)]
pub struct SweepResult {
    /// Title of the scenario.
    pub name: String,
    /// Note of the scenario.
    pub note: String,
    /// Seed of the scenario.
    pub seed: u64,
    /// Edge of the squares over which thickness is averaged, m; `None` if points differ in it.
    pub resolution: Option<f64>,
    /// The plan.
    pub plan: SweepPlan,
    /// Limits that decide.
    pub limits: Vec<Limit>,
    /// Figures and places, in the order of [`PointStats::figures`].
    pub places: Vec<FigureAt>,
    /// Points in the order of the design.
    pub points: Vec<PointRecord>,
}

/// One point of a sweep.
#[derive(Debug, Clone, PartialEq)]
pub struct PointRecord {
    /// Number in the design, from 0.
    pub point: u64,
    /// Value on each axis, in the order of [`SweepPlan::axes`] and in the axis's unit.
    pub values: Vec<f64>,
    /// What came of it: figures, or why it cannot run.
    pub outcome: Result<PointStats, String>,
}

/// What the prints of a point gave.
#[derive(Debug, Clone, PartialEq)]
pub struct PointStats {
    /// Prints made.
    pub prints: u32,
    /// Prints that met every limit.
    pub met: u32,
    /// Prints that met each limit, in the order of the limits.
    pub met_each: Vec<u32>,
    /// Over prints, in the order of [`SweepResult::places`]; `None` where no print gave a value.
    pub figures: Vec<Option<FigureStats>>,
    /// Distance from the tightest limit in standard deviations between prints, see [`PointStats::tightest`]; `None` without limits or
    /// spread.
    pub margin_sd: Option<f64>,
    /// Cautions that apply.
    pub cautions: Vec<CautionKind>,
    /// Time of a print with all moves, s.
    pub print_time: f64,
    /// Ink used by a print, m^3.
    pub ink_used: f64,
    /// Droplets of a print.
    pub droplets: f64,
}

/// The limit that prints fail on first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tightest {
    /// Its place among the limits.
    pub limit: usize,
    /// Prints that miss it.
    pub missed: u32,
    /// Distance from it in standard deviations between prints, negative beyond it.
    pub sd: f64,
}

impl PointStats {
    /// The limit that most prints miss, with the deviate of the normal law below which the share that meets it lies. If every print meets
    /// every limit, the one whose figure's mean is nearest to it in standard deviations between prints; counts and extremes, which are not
    /// normal, are left aside there, and so are figures without spread.
    pub fn tightest(&self, limits: &[Limit], places: &[FigureAt]) -> Option<Tightest> {
        let missed =
            |limit: usize| self.prints.saturating_sub(self.met_each.get(limit).copied().unwrap_or(self.prints));
        let most = (0..limits.len()).map(missed).max().unwrap_or(0);
        if most > 0 {
            let limit = (0..limits.len()).find(|limit| missed(*limit) == most)?;
            // None that meets it counts as half a print.
            let share = f64::from(self.prints - most).max(0.5) / f64::from(self.prints.max(1));
            return Some(Tightest { limit, missed: most, sd: Normal::standard().inverse_cdf(share) });
        }
        let distance = |limit: &Limit| {
            let index = places.iter().position(|(k, place)| k.figure == limit.figure && *place == limit.place)?;
            let figure = self.figures.get(index).copied().flatten()?;
            let below = limit.min.map_or(f64::INFINITY, |min| figure.mean - min);
            let above = limit.max.map_or(f64::INFINITY, |max| max - figure.mean);
            let distance = below.min(above) / figure.sd;
            (places[index].0.has_normal_margin() && figure.sd > 0.0 && distance.is_finite()).then_some(distance)
        };
        let all =
            limits.iter().enumerate().filter_map(|(limit, l)| Some(Tightest { limit, missed: 0, sd: distance(l)? }));
        all.min_by(|a, b| a.sd.total_cmp(&b.sd))
    }
}

/// One figure over the prints of a point, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FigureStats {
    /// Mean.
    pub mean: f64,
    /// 95 % interval of the mean (of the share, for shares of prints; of the median, for extremes); equal to the mean if there is none.
    pub interval: [f64; 2],
    /// Standard deviation between prints.
    pub sd: f64,
    /// Prints that gave a value.
    pub n: u32,
    /// Median and largest of the prints, for extremes of a print ([`super::FigureKind::is_extreme`]) of several prints only.
    pub extremes: Option<[f64; 2]>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kinds::kind;

    #[test]
    fn the_tightest_limit_is_the_one_that_prints_fail_on() {
        let place = |id: &str| (kind(id).expect("known"), None);
        let places = ["coverage_percent", "particles", "farthest_stray_um"].map(place);
        let limit =
            |figure: &str, min, max| Limit { figure: kind(figure).expect("known").figure, place: None, min, max };
        let limits = [
            limit("particles", None, Some(1.0)),
            limit("coverage_percent", Some(0.5), Some(0.8)),
            limit("farthest_stray_um", None, Some(100e-6)),
        ];
        let figure = |mean: f64, sd: f64| Some(FigureStats { mean, interval: [mean; 2], sd, n: 20, extremes: None });
        let point = |met_each: [u32; 3], figures: [Option<FigureStats>; 3]| PointStats {
            prints: 20,
            met: 0,
            met_each: met_each.into(),
            figures: figures.into(),
            margin_sd: None,
            cautions: vec![],
            print_time: 1.0,
            ink_used: 1e-9,
            droplets: 1.0,
        };
        // Particles at 0.3 +- 0.6 are 1.2 of their deviations away, strays 0.8, but no print fails on them: coverage at (0.6 - 0.5)/0.02.
        let calm = point([20; 3], [figure(0.6, 0.02), figure(0.3, 0.6), figure(20e-6, 100e-6)]);
        let found = calm.tightest(&limits, &places).expect("a margin");
        assert!((found.limit, found.missed) == (1, 0) && (found.sd - 5.0).abs() < 1e-9, "{found:?}");
        // Coverage misses in 3 of 20, though the mean of the particles is nearer: 85 % lie below 1.036433 (from memory).
        let busy = point([18, 17, 20], [figure(0.6, 0.02), figure(0.9, 0.6), figure(20e-6, 30e-6)]);
        let found = busy.tightest(&limits, &places).expect("a margin");
        assert!((found.limit, found.missed) == (1, 3) && (found.sd - 1.036_433).abs() < 1e-6, "{found:?}");
        // None meets it: half a print of 20 is 2.5 %.
        let none = point([0, 20, 20], [figure(0.6, 0.02), figure(9.0, 1.0), None]);
        let found = none.tightest(&limits, &places).expect("a margin");
        assert!((found.limit, found.missed) == (0, 20) && (found.sd + 1.959_964).abs() < 1e-6, "{found:?}");
        assert_eq!(point([20; 3], [figure(0.6, 0.0), figure(0.3, 0.6), None]).tightest(&limits, &places), None);
        assert_eq!(calm.tightest(&[], &places), None);
    }
}
