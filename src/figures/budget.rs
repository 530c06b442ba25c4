//! Where the solids went, sizes by stage, and the maps of a print: counts turned into the shapes that are written down.

use super::{Budget, BudgetRow, Fate, Maps, PowderSizes, Sizes};
use motefall_physics::inputs::Inputs;
use motefall_physics::map::canvas::Canvas;
use motefall_physics::map::tally::{FateCount, SizeCounts, Tally, fate};
use motefall_physics::units::CUBIC_NANOMETRE;
use ndarray::Array2;

/// Solid mass per powder, kg.
pub fn masses(inputs: &Inputs, count: &FateCount) -> Vec<f64> {
    masses_of(inputs, &count.volume)
}

/// Mass per powder, kg, of solid volumes, nm^3.
pub fn masses_of(inputs: &Inputs, volumes: &[u128]) -> Vec<f64> {
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

/// Sizes by stage, and the powders as received in the same bins. The end bins hold everything beyond, for received and landed alike.
/// `layers`: the counts of each layer, which add up to `tally`.
pub fn sizes<'a>(inputs: &Inputs, tally: &Tally, layers: impl Iterator<Item = &'a Tally>) -> Sizes {
    let edges = SizeCounts::edges();
    let shares = |below: &dyn Fn(f64) -> f64| -> Vec<f64> {
        let inner: Vec<f64> = edges[1..edges.len() - 1].iter().map(|edge| below(*edge)).collect();
        let starts = std::iter::once(0.0).chain(inner.iter().copied());
        let ends = inner.iter().copied().chain(std::iter::once(1.0));
        starts.zip(ends).map(|(start, end)| (end - start).max(0.0)).collect()
    };
    Sizes {
        droplets: layers.map(|tally| tally.droplet_sizes.each_ref().map(|counts| counts.0.clone())).collect(),
        powders: inputs
            .powders()
            .iter()
            .zip(&tally.landed_sizes)
            .map(|(powder, landed)| PowderSizes {
                received_number: shares(&|diameter| powder.sizes.number_below(diameter)),
                received_volume: shares(&|diameter| powder.sizes.volume_below(diameter)),
                landed_count: landed.0.clone(),
            })
            .collect(),
        particle_edges: edges.clone(),
        droplet_edges: edges,
    }
}

/// Maps of a print from its picture. `top_height` from [`super::stack::top_height`] if the particles were kept.
pub fn maps(inputs: &Inputs, canvas: &Canvas, top_height: Option<Array2<f64>>) -> Maps {
    let packing: Vec<f64> = inputs.powders().iter().map(|powder| powder.packing_fraction).collect();
    let (thickness, (height, coverage)) = rayon::join(
        || (0..canvas.powders()).map(|powder| canvas.thickness(powder)).collect(),
        || rayon::join(|| canvas.height(&packing), || canvas.coverage()),
    );
    Maps { grid: canvas.grid, thickness, height, top_height, coverage }
}

#[cfg(test)]
mod tests {
    use super::*;
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
