//! Which settings a sweep runs: the points of its plan, in a fixed order.

use crate::streams::{self, Purpose};
use motefall_physics::inputs::{Axis, AxisValues, Design, SweepPlan};
use rand::{Rng, RngExt};

/// Points that a Sobol sequence has here: beyond, the generator is not defined.
pub(crate) const MOST_SOBOL_POINTS: u32 = 1 << 16;

/// The points of a plan. Point i is the same whoever asks, and however many are asked for.
#[derive(Debug, Clone)]
pub struct Points {
    plan: SweepPlan,
    seed: u64,
    /// Values of each axis on a grid; of a list, in any design.
    levels: Vec<Vec<f64>>,
    /// Per axis: place of each point in the unit interval, of a Latin hypercube.
    places: Vec<Vec<f64>>,
    count: u64,
}

impl Points {
    /// Works the design out; the reason if it cannot be.
    pub fn new(plan: &SweepPlan, seed: u64) -> Result<Self, String> {
        let levels: Vec<Vec<f64>> = plan.axes.iter().map(|axis| levels(axis, plan.design)).collect();
        let mut places = Vec::new();
        let count = match plan.design {
            Design::Grid => levels
                .iter()
                .try_fold(1u64, |count, values| count.checked_mul(values.len() as u64))
                .ok_or("the grid has more points than can be counted: use fewer values per axis")?,
            Design::Sobol(n) if n > MOST_SOBOL_POINTS => {
                return Err(format!(
                    "a Sobol design has at most {MOST_SOBOL_POINTS} points, not {n}: ask for fewer, or use a Latin hypercube"
                ));
            }
            Design::Sobol(n) => {
                if plan.axes.len() > sobol_burley::NUM_DIMENSIONS as usize {
                    return Err(format!("a Sobol design has at most {} axes", sobol_burley::NUM_DIMENSIONS));
                }
                u64::from(n)
            }
            Design::LatinHypercube(n) => {
                places = (0..plan.axes.len()).map(|axis| latin_places(n, seed, axis)).collect();
                u64::from(n)
            }
        };
        Ok(Self { plan: plan.clone(), seed, levels, places, count })
    }

    /// Number of points.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Values of a point, each in the unit of its axis.
    pub fn at(&self, point: u64) -> Vec<f64> {
        debug_assert!(point < self.count);
        if self.plan.design == Design::Grid {
            // The last axis varies fastest.
            let mut rest = point;
            let mut values: Vec<f64> = self
                .levels
                .iter()
                .rev()
                .map(|values| {
                    let value = values[(rest % values.len() as u64) as usize];
                    rest /= values.len() as u64;
                    value
                })
                .collect();
            values.reverse();
            return values;
        }
        let place = |axis: usize| match self.plan.design {
            Design::LatinHypercube(_) => self.places[axis][point as usize],
            _ => sobol_place(point as u32, axis, self.seed),
        };
        let axes = self.plan.axes.iter().enumerate();
        axes.map(|(k, axis)| value_at(axis, self.plan.design, &self.levels[k], place(k))).collect()
    }
}

/// Values of an axis on a grid.
fn levels(axis: &Axis, design: Design) -> Vec<f64> {
    let steps = |count: u32| (0..count).map(move |i| if count > 1 { f64::from(i) / f64::from(count - 1) } else { 0.0 });
    match &axis.values {
        AxisValues::List(values) => values.clone(),
        AxisValues::Linear { count, .. } | AxisValues::Log { count, .. } => {
            steps(*count).map(|place| between(axis, design, place)).collect()
        }
    }
}

/// Value at a place from 0 to 1 between the ends of an axis; of a list, the entry whose equal part the place lies in.
fn value_at(axis: &Axis, design: Design, levels: &[f64], place: f64) -> f64 {
    match axis.values {
        AxisValues::List(_) => levels[((place * levels.len() as f64) as usize).min(levels.len() - 1)],
        _ => between(axis, design, place),
    }
}

/// Value at a place from 0 to 1 between the ends, rounded to the step of the axis: what is judged can be set.
fn between(axis: &Axis, design: Design, place: f64) -> f64 {
    let (from, to, value) = match axis.values {
        AxisValues::Linear { from, to, .. } => (from, to, from + (to - from) * place),
        AxisValues::Log { from, to, .. } => (from, to, from * (to / from).powf(place)),
        AxisValues::List(_) => unreachable!("a list has no ends"),
    };
    if place == 0.0 || place == 1.0 {
        return if place == 0.0 { from } else { to };
    }
    let rounded = axis.step(design).map_or(value, |step| (value / step).round() * step);
    // 0.3, not 0.30000000000000004.
    let tidy: f64 = format!("{rounded:.11e}").parse().unwrap_or(rounded);
    tidy.clamp(from.min(to), from.max(to))
}

/// Coordinate of a point of the Sobol sequence, Owen-scrambled by the seed.
pub(crate) fn sobol_place(point: u32, axis: usize, seed: u64) -> f64 {
    let seed = streams::mixed(seed) as u32;
    f64::from(sobol_burley::sample(point, axis as u32, seed))
}

/// Places of the points of a Latin hypercube on an axis: one in each of `n` equal strata, in an order by chance, anywhere inside.
///
/// Source: McKay, Beckman & Conover 1979, A comparison of three methods for selecting values of input variables, Technometrics 21:239.
fn latin_places(n: u32, seed: u64, axis: usize) -> Vec<f64> {
    let mut rng = streams::stream(seed, 0, axis as u64, Purpose::Design);
    let mut strata: Vec<u32> = (0..n).collect();
    for last in (1..strata.len()).rev() {
        strata.swap(last, rng.random_range(0..=last as u64) as usize);
    }
    strata.into_iter().map(|stratum| (f64::from(stratum) + unit(&mut rng)) / f64::from(n)).collect()
}

/// Even in [0, 1), 53 bits.
fn unit(rng: &mut impl Rng) -> f64 {
    (rng.next_u64() >> 11) as f64 / (1u64 << 53) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_physics::inputs::{Axis, Chance, PointPrints};

    fn plan(design: Design, axes: &[AxisValues]) -> SweepPlan {
        let axis = |values: &AxisValues| Axis { key: "any".into(), unit: String::new(), values: values.clone() };
        SweepPlan {
            axes: axes.iter().map(axis).collect(),
            design,
            prints: PointPrints::Fixed(2),
            chance: Chance::Common,
            wanted_share: 0.9,
        }
    }

    fn unit_axes(n: usize) -> Vec<AxisValues> {
        vec![AxisValues::Linear { from: 0.0, to: 1.0, count: 2 }; n]
    }

    fn all(plan: &SweepPlan, seed: u64) -> Vec<Vec<f64>> {
        let points = Points::new(plan, seed).expect("a design");
        (0..points.count()).map(|point| points.at(point)).collect()
    }

    #[test]
    fn on_a_grid_the_last_axis_varies_fastest() {
        let axes = [
            AxisValues::List(vec![5.0, 1.0]),
            AxisValues::Linear { from: 0.0, to: 0.3, count: 4 },
            AxisValues::Log { from: 1.0, to: 100.0, count: 3 },
        ];
        let points = all(&plan(Design::Grid, &axes), 1);
        assert_eq!(points.len(), 24);
        assert_eq!(points[0], [5.0, 0.0, 1.0]);
        assert_eq!(points[1], [5.0, 0.0, 10.0]);
        assert_eq!(points[5], [5.0, 0.1, 100.0]);
        assert_eq!(points[23], [1.0, 0.3, 100.0]);
        let single = plan(Design::Grid, &[AxisValues::Linear { from: 3.0, to: 9.0, count: 1 }]);
        assert_eq!(all(&single, 1), [[3.0]]);
    }

    #[test]
    fn a_latin_hypercube_meets_each_stratum_once() {
        for n in [1, 7, 100] {
            let points = all(&plan(Design::LatinHypercube(n), &unit_axes(3)), 11);
            for axis in 0..3 {
                let mut values: Vec<f64> = points.iter().map(|p| p[axis]).collect();
                values.sort_by(f64::total_cmp);
                // A value beside the edge of its stratum may be rounded over it, by half a step of 0.001.
                let stratum = |i: usize| (i as f64 / f64::from(n) - 0.0005)..((i + 1) as f64 / f64::from(n) + 0.0005);
                assert!(values.iter().enumerate().all(|(i, value)| stratum(i).contains(value)), "{values:?}");
            }
        }
        let points = |seed| all(&plan(Design::LatinHypercube(50), &unit_axes(2)), seed);
        assert_eq!(points(1), points(1));
        assert_ne!(points(1), points(2));
        assert!(points(1).iter().any(|p| (p[0] - p[1]).abs() > 0.3), "the axes are shuffled apart");
    }

    /// Mean square of (points in the box [0, u) x [0, v)) / n - u v over many boxes: small where points are spread evenly.
    fn unevenness(points: &[Vec<f64>]) -> f64 {
        let n = points.len() as f64;
        let corners = (1..=20).flat_map(|i| (1..=20).map(move |j| [f64::from(i) / 20.5, f64::from(j) / 20.5]));
        let miss = |[u, v]: [f64; 2]| {
            let inside = points.iter().filter(|p| p[0] < u && p[1] < v).count() as f64;
            (inside / n - u * v).powi(2)
        };
        corners.map(miss).sum::<f64>() / 400.0
    }

    #[test]
    fn sobol_points_are_spread_more_evenly_than_chance() {
        let sobol = unevenness(&all(&plan(Design::Sobol(256), &unit_axes(2)), 5));
        // Twenty sets of points by chance: the best of them is still worse by far.
        let best = (0..20).map(|set| {
            let mut rng = streams::stream(set, 0, 0, Purpose::Design);
            let points: Vec<Vec<f64>> = (0..256).map(|_| vec![unit(&mut rng), unit(&mut rng)]).collect();
            unevenness(&points)
        });
        let best = best.fold(f64::INFINITY, f64::min);
        assert!(sobol < 0.2 * best, "{sobol:.2e} against {best:.2e}");
    }

    #[test]
    fn a_longer_sobol_design_begins_with_the_shorter() {
        let axes = [
            AxisValues::Log { from: 1.0, to: 50.0, count: 2 },
            AxisValues::List(vec![1.0, 2.0, 3.0]),
            AxisValues::Linear { from: -4.0, to: 4.0, count: 9 },
        ];
        let long = all(&plan(Design::Sobol(300), &axes), 9);
        let short = all(&plan(Design::Sobol(37), &axes), 9);
        assert_eq!(short, long[..37]);
        assert!(long.iter().all(|p| (1.0..=50.0).contains(&p[0]) && p[1].fract() == 0.0 && p[2].abs() <= 4.0));
        assert_ne!(short, all(&plan(Design::Sobol(37), &axes), 10), "the seed scrambles it");
        // All entries of a list come up about equally often.
        let twos = long.iter().filter(|p| p[1] == 2.0).count();
        assert!((95..=105).contains(&twos), "{twos}");
    }

    #[test]
    fn values_between_the_ends_are_numbers_that_a_controller_takes() {
        let axis = |key: &str, values| Axis { key: key.into(), unit: String::new(), values };
        let linear = |from, to, count| AxisValues::Linear { from, to, count };
        let log = |from, to, count| AxisValues::Log { from, to, count };
        for (axis, grid, scattered) in [
            (axis("flow.sheath_sccm", linear(25.0, 65.0, 5)), 0.1, 0.1),
            (axis("path['fill'].speed_mm_s", log(0.6, 2.4, 6)), 0.01, 0.01),
            (axis("flight.stand_off_mm", linear(2.0, 4.0, 4)), 0.01, 0.01),
            // Narrow: values of a grid stay apart, and a scattered design has at least 20 steps.
            (axis("flow.carrier_sccm", linear(10.0, 10.5, 11)), 0.01, 0.01),
            // A range of 60: a two-hundredth is 0.3.
            (axis("head.temperature_c", linear(20.0, 80.0, 3)), 0.1, 0.1),
            // A lower end of 0.1: a twentieth is 0.005.
            (axis("ink.powder[1].mass_percent", log(0.1, 10.0, 4)), 0.001, 0.001),
        ] {
            for (design, step) in [(Design::Grid, grid), (Design::Sobol(50), scattered)] {
                assert_eq!(axis.step(design), Some(step), "{} {design:?}", axis.key);
                let mut plan = plan(design, &[]);
                plan.axes = vec![axis.clone()];
                let values: Vec<f64> = all(&plan, 3).into_iter().map(|point| point[0]).collect();
                assert!(values.iter().all(|v| (v / step - (v / step).round()).abs() < 1e-6), "{values:?}");
                let written = values.iter().map(|v| v.to_string().len()).max();
                assert!(written <= Some(6), "no noise behind the last digit: {values:?}");
                if design == Design::Grid {
                    assert!(values.windows(2).all(|pair| pair[0] < pair[1]), "{values:?}");
                }
            }
        }
        // 0.6 * 4^(2/5) = 1.0447: what is judged is what can be set.
        let speeds = plan(Design::Grid, &[log(0.6, 2.4, 6)]);
        let speeds = SweepPlan { axes: vec![axis("path[1].speed_mm_s", speeds.axes[0].values.clone())], ..speeds };
        assert_eq!(all(&speeds, 1).concat(), [0.6, 0.79, 1.04, 1.38, 1.82, 2.4]);
    }

    #[test]
    fn too_many_sobol_points_are_refused() {
        let axes = unit_axes(1);
        assert!(Points::new(&plan(Design::Sobol(MOST_SOBOL_POINTS), &axes), 1).is_ok());
        let error = Points::new(&plan(Design::Sobol(MOST_SOBOL_POINTS + 1), &axes), 1).expect_err("too many");
        assert!(error.contains("at most 65536 points"), "{error}");
    }
}
