//! Where droplets and solids went.

use motefall_physics::inputs::Inputs;
use motefall_physics::map::tally::{FateCount, Tally, fate};
use motefall_physics::units::CUBIC_NANOMETRE;

/// What became of a droplet, or of a particle in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// Settled in the mist tube.
    TubeSettling,
    /// Diffused to the wall of the mist tube.
    TubeDiffusion,
    /// Hit the wall in a bend.
    TubeBend,
    /// Hit the wall of the head or taper.
    HeadWall,
    /// Swept past the chip by the gas.
    Escaped,
    /// Bounced off.
    Bounced,
    /// Landed on the named region.
    Region(String),
    /// Landed on the chip outside every region.
    Elsewhere,
    /// Landed beyond the chip's edge.
    OffChip,
}

/// One line of the mass budget.
#[derive(Debug, Clone)]
pub struct BudgetRow {
    /// What became of it.
    pub fate: Fate,
    /// Droplets (a droplet's fate is where its centre went).
    pub droplets: u64,
    /// Particles per powder (a particle's fate is where its own centre went).
    pub particles: Vec<u64>,
    /// Solids per powder, kg.
    pub mass: Vec<f64>,
}

/// Mass budget of a print: the rows add up to what left the vial while the shutter was open.
#[derive(Debug, Clone)]
pub struct Budget {
    /// Droplets generated.
    pub droplets: u64,
    /// Particles generated, per powder.
    pub particles: Vec<u64>,
    /// Solids generated, per powder, kg.
    pub mass: Vec<f64>,
    /// Where they went; adds up to the above.
    pub rows: Vec<BudgetRow>,
    /// Largest relative gap between the rows' sums and the totals.
    pub closure: f64,
    /// Droplets that were expected but not simulated because of the droplet budget (0 in a complete print).
    pub not_simulated: f64,
}

/// Solid mass per powder, kg.
pub fn masses(inputs: &Inputs, count: &FateCount) -> Vec<f64> {
    masses_of(inputs, &count.volume)
}

/// Mass per powder, kg, of solid volumes, nm^3.
pub(crate) fn masses_of(inputs: &Inputs, volumes: &[u128]) -> Vec<f64> {
    let powders = inputs.powders();
    volumes.iter().zip(powders).map(|(volume, powder)| *volume as f64 * CUBIC_NANOMETRE * powder.density).collect()
}

/// Budget of a print: one row per fate that occurred, and one per region in any case. `not_simulated`: droplets expected and left out.
pub fn budget(inputs: &Inputs, tally: &Tally, not_simulated: f64) -> Budget {
    let named = [
        (fate::SETTLED, Fate::TubeSettling),
        (fate::DIFFUSED, Fate::TubeDiffusion),
        (fate::BEND, Fate::TubeBend),
        (fate::WALL, Fate::HeadWall),
        (fate::ESCAPED, Fate::Escaped),
        (fate::BOUNCED, Fate::Bounced),
    ];
    let regions = inputs.regions.iter().enumerate();
    let all = named
        .into_iter()
        .chain(regions.map(|(k, region)| (fate::FIRST_REGION + k, Fate::Region(region.name.clone()))))
        .chain([(fate::ELSEWHERE, Fate::Elsewhere), (fate::OFF_CHIP, Fate::OffChip)]);
    let rows: Vec<BudgetRow> = all
        .map(|(index, fate)| {
            let count = &tally.fates[index];
            BudgetRow {
                fate,
                droplets: count.droplets,
                particles: count.particles.clone(),
                mass: masses(inputs, count),
            }
        })
        .filter(|row| {
            matches!(row.fate, Fate::Region(_)) || row.droplets > 0 || row.particles.iter().any(|count| *count > 0)
        })
        .collect();
    let mut budget = Budget {
        droplets: tally.generated.droplets,
        particles: tally.generated.particles.clone(),
        mass: masses(inputs, &tally.generated),
        rows,
        closure: 0.0,
        not_simulated,
    };
    budget.closure = closure(&budget);
    budget
}

/// Largest relative gap between the rows' sums and the totals, over droplets, particles and mass of each powder.
fn closure(budget: &Budget) -> f64 {
    let gap = |sum: f64, total: f64| if sum == total { 0.0 } else { (sum - total).abs() / total.abs().max(sum.abs()) };
    let mut worst = gap(budget.rows.iter().map(|row| row.droplets as f64).sum(), budget.droplets as f64);
    for (k, (particles, mass)) in budget.particles.iter().zip(&budget.mass).enumerate() {
        worst = worst.max(gap(budget.rows.iter().map(|row| row.particles[k] as f64).sum(), *particles as f64));
        worst = worst.max(gap(budget.rows.iter().map(|row| row.mass[k]).sum(), *mass));
    }
    worst
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sizes::sizes;
    use crate::testing;
    use motefall_physics::source::content::Grain;

    #[test]
    fn rows_add_up_and_a_missing_particle_shows() {
        let inputs = testing::inputs();
        let mut tally = Tally::new(1, inputs.regions.len());
        tally.generated.droplets = 3;
        for fate in [fate::SETTLED, fate::FIRST_REGION, fate::ELSEWHERE] {
            tally.fates[fate].droplets += 1;
            tally.fates[fate].add(&Grain::new(0, 0.2e-6));
            tally.generated.add(&Grain::new(0, 0.2e-6));
        }
        let closed = budget(&inputs, &tally, 0.0);
        assert!(closed.closure < 1e-15, "{}", closed.closure);
        // Three spheres of 200 nm at 2000 kg/m^3: 3 * 4188790 nm^3 = 1.2566e-20 m^3, 2.5133e-17 kg.
        assert!((closed.mass[0] / 2.5133e-17 - 1.0).abs() < 1e-4);
        // Planted fault: one more left the vial than was accounted for.
        tally.generated.add(&Grain::new(0, 0.2e-6));
        assert!((budget(&inputs, &tally, 0.0).closure - 0.25).abs() < 1e-12);
    }

    #[test]
    fn received_shares_sum_to_one_and_share_bins_with_the_landed() {
        let inputs = testing::inputs();
        let mut tally = Tally::new(1, inputs.regions.len());
        tally.landed_sizes[0].add_log(0.3e-6f64.ln());
        let sizes = sizes(&inputs, &tally, std::iter::once(&tally));
        let powder = &sizes.powders[0];
        for shares in [&powder.received_number, &powder.received_volume] {
            assert_eq!(shares.len() + 1, sizes.particle_edges.len());
            assert!((shares.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        }
        let landed = powder.landed_count.iter().position(|count| *count == 1).expect("one counted");
        assert!(sizes.particle_edges[landed] <= 0.3e-6 && 0.3e-6 < sizes.particle_edges[landed + 1]);
        // The number median of the test powder is 0.3 um: half the number lies below the bin's edges around it.
        let below: f64 = powder.received_number[..landed].iter().sum();
        assert!(below < 0.5 && below + powder.received_number[landed] > 0.5);
    }
}
