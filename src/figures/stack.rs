//! Heights of particles that drop one after another and stick where they first touch.

use super::{Grid, Particle};
use ndarray::Array2;

/// Sub-points along a pixel's edge at which [`top_height`] looks.
const SAMPLES: usize = 4;
/// Largest over smallest particle of a size class.
const CLASS_RATIO: f64 = 2.5;
/// End of a list.
const END: u32 = u32::MAX;

/// Particles of similar size, found by place.
///
/// Cells are as wide as the largest particle of the class. Far places share cells (the table wraps round), which costs a
/// comparison and changes nothing.
struct SizeClass {
    /// No particle of the class is larger, m.
    largest_radius: f64,
    /// Edge of a cell, m.
    cell: f64,
    /// Cells along x and y, powers of two.
    size: [i64; 2],
    /// Highest particle in each cell; the others follow by height.
    highest: Vec<u32>,
}

impl SizeClass {
    fn new(largest_radius: f64, extent: [f64; 2], count: usize) -> Self {
        let cell = 2.0 * largest_radius;
        let most = (4 * count).next_power_of_two().max(64) as i64;
        let mut size = extent.map(|length| ((length / cell).min(1e6) as u64 + 1).next_power_of_two() as i64);
        while size[0] * size[1] > most {
            let longer = usize::from(size[1] > size[0]);
            size[longer] /= 2;
        }
        let cells = (size[0] * size[1]) as usize;
        Self { largest_radius, cell, size, highest: vec![END; cells] }
    }

    fn place(&self, column: i64, row: i64) -> usize {
        ((row & (self.size[1] - 1)) * self.size[0] + (column & (self.size[0] - 1))) as usize
    }
}

/// Sets the height of each particle by ballistic deposition: in the order given, each drops straight down and sticks at first
/// contact with the plane or with an earlier particle, without rolling.
///
/// z = max(r, max over earlier particles j with horizontal distance rho < r + r_j of z_j + sqrt((r + r_j)^2 - rho^2)), r the radii, m.
///
/// Real particles roll or are drawn together by the drying liquid, so this is the upper, fluffy limit of the height.
/// Source: Vold 1959, A numerical approach to the problem of sediment volume, J. Colloid Sci. 14:168 (rule from memory).
pub fn stack(particles: &mut [Particle]) {
    if particles.is_empty() {
        return;
    }
    debug_assert!(particles.iter().all(|p| p.diameter > 0.0));
    // The first class holds the smallest third; each further one reaches up to a fixed multiple of the one before.
    let mut diameters: Vec<f64> = particles.iter().map(|p| p.diameter).collect();
    let third = diameters.len() / 3;
    let first_limit = *diameters.select_nth_unstable_by(third, f64::total_cmp).1;
    let class_limit = |class: usize| first_limit * CLASS_RATIO.powi(class as i32);
    let class_of = |diameter: f64| {
        let mut class = 0;
        while diameter > class_limit(class) {
            class += 1;
        }
        class
    };
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    let mut counts: Vec<usize> = vec![];
    for p in particles.iter() {
        for (k, at) in [p.x, p.y].into_iter().enumerate() {
            low[k] = low[k].min(at);
            high[k] = high[k].max(at);
        }
        let class = class_of(p.diameter);
        if class >= counts.len() {
            counts.resize(class + 1, 0);
        }
        counts[class] += 1;
    }
    let extent = [high[0] - low[0], high[1] - low[1]];
    let mut classes: Vec<SizeClass> =
        counts.iter().enumerate().map(|(k, count)| SizeClass::new(0.5 * class_limit(k), extent, *count)).collect();
    let mut lower = vec![END; particles.len()];
    // Place, height and radius of each particle, close together in memory.
    let mut spheres: Vec<[f64; 4]> =
        particles.iter().map(|p| [p.x - low[0], p.y - low[1], 0.0, 0.5 * p.diameter]).collect();

    for index in 0..spheres.len() {
        let [x, y, _, radius] = spheres[index];
        let mut z = radius;
        for class in &classes {
            let reach = radius + class.largest_radius;
            let first = [x, y].map(|at| ((at - reach) / class.cell).floor() as i64);
            let last = [x, y].map(|at| ((at + reach) / class.cell).floor() as i64);
            // Never round the table twice.
            let last = [0, 1].map(|k| last[k].min(first[k] + class.size[k] - 1));
            for row in first[1]..=last[1] {
                for column in first[0]..=last[0] {
                    let mut other = class.highest[class.place(column, row)];
                    while other != END {
                        let [u, v, height, other_radius] = spheres[other as usize];
                        if height + reach <= z {
                            // All others in this cell lie lower still.
                            break;
                        }
                        let touch = radius + other_radius;
                        let left = touch * touch - (u - x) * (u - x) - (v - y) * (v - y);
                        if left > 0.0 && height + touch > z {
                            z = z.max(height + left.sqrt());
                        }
                        other = lower[other as usize];
                    }
                }
            }
        }
        spheres[index][2] = z;
        particles[index].z = z;
        // Into its place by height; new particles mostly come to lie near the top.
        let class = &mut classes[class_of(particles[index].diameter)];
        let place = class.place((x / class.cell).floor() as i64, (y / class.cell).floor() as i64);
        let (mut above, mut below) = (END, class.highest[place]);
        while below != END && spheres[below as usize][2] > z {
            (above, below) = (below, lower[below as usize]);
        }
        lower[index] = below;
        if above == END {
            class.highest[place] = index as u32;
        } else {
            lower[above as usize] = index as u32;
        }
    }
}

/// Highest point of the particles in each pixel, m; 0 where there is none.
///
/// Looked up at 4 x 4 points of each pixel and at the apex of each particle, so a peak is exact and a flank is known to a quarter of a
/// pixel.
pub fn top_height(particles: &[Particle], grid: Grid) -> Array2<f64> {
    let mut top = Array2::<f64>::zeros((grid.rows, grid.columns));
    let step = 1.0 / SAMPLES as f64;
    for p in particles {
        let (u, v) = ((p.x - grid.origin[0]) / grid.pitch, (p.y - grid.origin[1]) / grid.pitch);
        let radius = 0.5 * p.diameter / grid.pitch;
        let range = |at: f64, count: usize| {
            let first = (at - radius).floor().max(0.0) as usize;
            let last = (at + radius).floor().max(-1.0) + 1.0;
            first..(last as usize).min(count)
        };
        for row in range(v, grid.rows) {
            for column in range(u, grid.columns) {
                let here = &mut top[[row, column]];
                if p.z + 0.5 * p.diameter <= *here {
                    continue;
                }
                let mut left =
                    if row as f64 == v.floor() && column as f64 == u.floor() { radius * radius } else { 0.0 };
                for i in 0..SAMPLES {
                    let dy = row as f64 + (i as f64 + 0.5) * step - v;
                    for j in 0..SAMPLES {
                        let dx = column as f64 + (j as f64 + 0.5) * step - u;
                        left = left.max(radius * radius - dx * dx - dy * dy);
                    }
                }
                if left > 0.0 {
                    *here = here.max(p.z + left.sqrt() * grid.pitch);
                }
            }
        }
    }
    top
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng, rngs::Xoshiro256PlusPlus};

    fn particle(x: f64, y: f64, diameter: f64) -> Particle {
        Particle { x, y, z: 0.0, diameter, powder: 0, droplet: 0 }
    }

    /// Every pair compared.
    fn plainly(particles: &mut [Particle]) {
        for i in 0..particles.len() {
            let (done, rest) = particles.split_at_mut(i);
            let p = &mut rest[0];
            let contacts = done.iter().filter_map(|q| {
                let touch = 0.5 * (p.diameter + q.diameter);
                let rho = (p.x - q.x).hypot(p.y - q.y);
                (rho < touch).then(|| q.z + (touch * touch - rho * rho).sqrt())
            });
            p.z = contacts.fold(0.5 * p.diameter, f64::max);
        }
    }

    fn wide(count: usize, area: f64, seed: u64) -> Vec<Particle> {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        (0..count)
            .map(|_| {
                // 30 nm to 3 um, evenly in the logarithm: wider than any ink.
                let diameter = 30e-9 * 100f64.powf(random.random::<f64>().powi(4));
                particle((random.random::<f64>() - 0.5) * area, (random.random::<f64>() - 0.5) * area, diameter)
            })
            .collect()
    }

    #[test]
    fn contacts_by_hand() {
        // On the plane; straight on top: 0.5 + 1 = 1.5; beside it at rho = 0.6: 0.5 + sqrt(1 - 0.36) = 1.3, but the second one is
        // touched earlier: 1.5 + 0.8 = 2.3; clear of all.
        let mut four =
            vec![particle(0.0, 0.0, 1.0), particle(0.0, 0.0, 1.0), particle(0.6, 0.0, 1.0), particle(3.0, 0.0, 0.4)];
        stack(&mut four);
        let heights: Vec<f64> = four.iter().map(|p| p.z).collect();
        for (got, wanted) in heights.iter().zip([0.5, 1.5, 2.3, 0.2]) {
            assert!((got - wanted).abs() < 1e-12, "{heights:?}");
        }
    }

    #[test]
    fn lists_of_cells_change_nothing() {
        for (seed, area) in [(1, 20e-6), (2, 2e-6), (3, 2e-3)] {
            let mut quick = wide(1500, area, seed);
            let mut slow = quick.clone();
            stack(&mut quick);
            plainly(&mut slow);
            for (a, b) in quick.iter().zip(&slow) {
                assert!((a.z - b.z).abs() < 1e-15, "{} against {}", a.z, b.z);
            }
        }
        // Planted fault: another order gives other heights, so the comparison above can fail.
        let mut quick = wide(1500, 20e-6, 1);
        let mut slow: Vec<Particle> = quick.iter().rev().copied().collect();
        stack(&mut quick);
        plainly(&mut slow);
        assert!(quick.iter().zip(slow.iter().rev()).any(|(a, b)| (a.z - b.z).abs() > 1e-8));
    }

    #[test]
    fn top_of_a_sphere_and_of_a_tiny_one() {
        let grid = Grid { origin: [0.0, 0.0], pitch: 1e-6, columns: 8, rows: 8 };
        let ball = Particle { z: 2e-6, ..particle(4.5e-6, 4.5e-6, 4e-6) };
        let speck = Particle { z: 25e-9, ..particle(1.01e-6, 6.99e-6, 50e-9) };
        let top = top_height(&[ball, speck], grid);
        assert!((top[[4, 4]] - 4e-6).abs() < 1e-15);
        // Next pixel along x: nearest sub-points lie 0.5 + 0.125 um off in x and 0.125 um in y: 2 + sqrt(4 - 0.390625 - 0.015625).
        assert!((top[[4, 5]] - (2.0 + 3.593_75f64.sqrt()) * 1e-6).abs() < 1e-12);
        // The speck falls between the sub-points and is found all the same.
        assert!((top[[6, 1]] - 50e-9).abs() < 1e-15);
        assert_eq!(top[[0, 0]], 0.0);
    }
}
