//! What the potentiostat sees of a print: capacity and currents of each printed electrode.

use super::{Estimate, FigureRow, RegionFigure, estimate_at};
use motefall_physics::inputs::{Inputs, Role};

/// One hour, s: the time in which a current of 1C passes the capacity.
pub const HOUR: f64 = 3600.0;
/// Active particles below which a cell responds as single particles rather than as a bulk electrode.
///
/// Source: Kang et al. 2023, ACS Nano 17:21493 (about 130).
pub const BULK_PARTICLES: f64 = 130.0;

/// Current at a C-rate, A: I = n Q / 1 h.
///
/// n the C-rate, 1/h of the theoretical capacity Q, C. Any rate from 0. It is the definition of the C-rate: nC passes the capacity in
/// 1/n hours.
pub(crate) fn current(capacity: f64, rate: f64) -> f64 {
    rate * capacity / HOUR
}

/// Counter electrodes' capacity over the working electrodes'; `None` without working capacity.
pub(crate) fn capacity_ratio(counter: f64, working: f64) -> Option<f64> {
    (working > 0.0).then(|| counter / working)
}

/// Mean theoretical charge of an active particle, C; `None` without any.
pub(crate) fn charge_per_particle(capacity: f64, active: u64) -> Option<f64> {
    (active > 0).then(|| capacity / active as f64)
}

/// A printed electrode over prints.
#[derive(Debug, Clone)]
pub struct Electrode<'a> {
    /// Name of its region.
    pub region: &'a str,
    /// Working (target) or counter.
    pub role: Role,
    /// Solid mass, kg.
    pub mass: Option<Estimate>,
    /// Theoretical capacity, C.
    pub capacity: Option<Estimate>,
    /// Current at each C-rate of the scenario, A.
    pub currents: Vec<(f64, Option<Estimate>)>,
    /// Active particles.
    pub active: Option<Estimate>,
    /// Charge of an active particle, C.
    pub charge: Option<Estimate>,
    /// Share of the active particles that is joined to it.
    pub joined: Option<Estimate>,
}

impl Electrode<'_> {
    /// Whether its active particles are so few that it responds particle by particle.
    pub fn is_individual(&self) -> bool {
        self.active.is_some_and(|active| active.mean > 0.0 && active.mean < BULK_PARTICLES)
    }
}

/// Printed electrodes, working ones first, from the figures over prints.
pub fn electrodes<'a>(inputs: &'a Inputs, figures: &[FigureRow]) -> Vec<Electrode<'a>> {
    let mut regions: Vec<_> = inputs.regions.iter().filter(|region| region.role.is_printed()).collect();
    regions.sort_by_key(|region| region.role == Role::Counter);
    regions
        .into_iter()
        .map(|region| {
            let get = |figure: RegionFigure| estimate_at(figures, figure, Some(&region.name)).copied();
            let capacity = get(RegionFigure::Capacity);
            let scaled = |rate: f64| {
                capacity.map(|e| Estimate {
                    mean: current(e.mean, rate),
                    interval: e.interval.map(|ends| ends.map(|end| current(end, rate))),
                    sd: e.sd.map(|sd| current(sd, rate)),
                    ..e
                })
            };
            Electrode {
                region: &region.name,
                role: region.role,
                mass: get(RegionFigure::Mass),
                currents: inputs.cell.rates.iter().map(|rate| (*rate, scaled(*rate))).collect(),
                capacity,
                active: get(RegionFigure::ActiveParticles),
                charge: get(RegionFigure::ChargePerParticle),
                joined: get(RegionFigure::Joined),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing;

    #[test]
    fn currents_scale_with_the_rate_and_the_ratio_is_one_of_capacities() {
        // 1.223 nAh = 4.4028e-6 C: 1C is 1.223 nA, C/10 0.1223 nA.
        assert!((current(1.223e-9 * 3600.0, 1.0) - 1.223e-9).abs() < 1e-18);
        assert!((current(1.223e-9 * 3600.0, 0.1) - 0.1223e-9).abs() < 1e-18);
        assert_eq!(capacity_ratio(1.2, 0.8), Some(1.2 / 0.8));
        assert_eq!((capacity_ratio(1.0, 0.0), charge_per_particle(1.0, 0)), (None, None));
        assert_eq!(charge_per_particle(3e-12, 6), Some(0.5e-12));
    }

    #[test]
    fn a_table_row_takes_its_figures_and_keeps_the_interval() {
        let mut inputs = testing::inputs();
        inputs.cell.rates = vec![0.5, 2.0];
        let row = |figure: RegionFigure, mean: f64| FigureRow {
            kind: figure.kind(),
            place: Some("target".into()),
            estimate: Some(Estimate {
                mean,
                interval: Some([0.9 * mean, 1.2 * mean]),
                sd: Some(0.1 * mean),
                n: 9,
                extremes: None,
                at_least: 0,
            }),
            note: None,
            expected: None,
            controlled: None,
            from_unknown: None,
            distribution: None,
        };
        let rows = [row(RegionFigure::Capacity, 7.2e-6), row(RegionFigure::ActiveParticles, 129.0)];
        let found = electrodes(&inputs, &rows);
        assert_eq!(found.len(), 1);
        // 7.2e-6 C: 2 nA at 1C, so 1 nA and 4 nA.
        let [(_, slow), (_, fast)] = found[0].currents[..] else { panic!("two rates") };
        assert!((slow.expect("known").mean - 1e-9).abs() < 1e-21);
        let [low, high] = fast.and_then(|e| e.interval).expect("known");
        assert!((low - 3.6e-9).abs() < 1e-21 && (high - 4.8e-9).abs() < 1e-21);
        assert!(found[0].is_individual() && found[0].mass.is_none());
        assert!(!electrodes(&inputs, &[row(RegionFigure::ActiveParticles, 130.0)])[0].is_individual());
    }
}
