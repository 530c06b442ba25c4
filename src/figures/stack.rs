//! Heights of particles that drop one after another and stick where they first touch, and which of them touch then.

use super::cells::{Cells, Look};
use super::{Grid, Particle};
use ndarray::Array2;

/// Sub-points along a pixel's edge at which [`top_height`] looks.
const SAMPLES: usize = 4;

/// Particles in order of landing, and the height at which each came to rest on those before it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Pile {
    particles: Vec<Particle>,
    /// Of each particle's middle above the chip, m.
    heights: Vec<f64>,
}

impl Pile {
    /// Of particles that drop in this order, by ballistic deposition: see `Dropper::drop`.
    pub fn of(particles: Vec<Particle>) -> Self {
        let mut dropper = Dropper::default();
        dropper.drop(&particles, 0.0, |_, _| {});
        let heights = dropper.balls.into_iter().map(|ball| ball.height).collect();
        Self { particles, heights }
    }

    /// The particles, in order of landing.
    pub fn particles(&self) -> &[Particle] {
        &self.particles
    }

    /// Height of each particle's middle above the chip, m, in the same order.
    pub fn heights(&self) -> &[f64] {
        &self.heights
    }

    /// Each particle with its height, m.
    pub fn iter(&self) -> impl Iterator<Item = (&Particle, f64)> {
        self.particles.iter().zip(self.heights.iter().copied())
    }

    /// Whether there is no particle.
    pub fn is_empty(&self) -> bool {
        self.particles.is_empty()
    }
}

/// Of particles whose heights (m) are known.
impl FromIterator<(Particle, f64)> for Pile {
    fn from_iter<I: IntoIterator<Item = (Particle, f64)>>(known: I) -> Self {
        let (particles, heights) = known.into_iter().unzip();
        Self { particles, heights }
    }
}

/// Drops particles one after another. Its lists serve print after print.
#[derive(Debug, Default)]
pub(crate) struct Dropper {
    cells: Cells,
    /// The particles that dropped so far and those to come, close together in memory.
    balls: Vec<Ball>,
    /// Earlier particles that touch the one that drops, seen from above: number, height, and by how much the square of the distance seen
    /// from above falls short of that of touching.
    beside: Vec<(u32, f64, f64)>,
}

/// A particle on its way down, m.
#[derive(Debug, Clone, Copy)]
struct Ball {
    /// Middle, from the lower left particle.
    at: [f64; 2],
    /// Of the middle, once it has come to rest.
    height: f64,
    radius: f64,
}

impl Dropper {
    /// Drops particles: in the order given, each drops straight down and sticks at first contact with the plane or with an earlier particle,
    /// without rolling. Calls `touching(later, earlier)` for each two whose surfaces then lie within `touch` (m) of each other, once or
    /// several times.
    ///
    /// z = max(r, max over earlier particles j with horizontal distance rho < r + r_j of z_j + sqrt((r + r_j)^2 - rho^2)), r the radii, m.
    ///
    /// Real particles roll or are drawn together by the drying liquid, so this is the upper, fluffy limit of the height.
    /// Source: Vold 1959, A numerical approach to the problem of sediment volume, J. Colloid Sci. 14:168 (rule from memory).
    pub(crate) fn drop(&mut self, particles: &[Particle], touch: f64, mut touching: impl FnMut(usize, usize)) {
        debug_assert!(particles.iter().all(|p| p.diameter > 0.0));
        let Self { cells, balls, beside } = self;
        let margin = touch.max(0.0);
        let low = particles.iter().fold([f64::INFINITY; 2], |low, p| [low[0].min(p.x), low[1].min(p.y)]);
        let ball = |p: &Particle| Ball { at: [p.x - low[0], p.y - low[1]], height: 0.0, radius: 0.5 * p.diameter };
        balls.clear();
        balls.extend(particles.iter().map(ball));
        cells.lay(balls.iter().map(|ball| (ball.at, ball.radius + margin)));
        for index in 0..balls.len() {
            let Ball { at: [x, y], radius, .. } = balls[index];
            let reach = cells.reach([x, y], radius + margin);
            let mut z = radius;
            beside.clear();
            cells.visit(reach, |other, top| {
                if top + margin < z - radius {
                    // All others in this cell lie lower still.
                    return Look::Enough;
                }
                let Ball { at: [u, v], height, radius: other_radius } = balls[other as usize];
                let both = radius + other_radius;
                let left = both * both - (u - x) * (u - x) - (v - y) * (v - y);
                let reached = both + touch;
                let short = reached * reached - (u - x) * (u - x) - (v - y) * (v - y);
                if short >= 0.0 {
                    beside.push((other, height, short));
                }
                if left > 0.0 && height + both > z {
                    z = z.max(height + left.sqrt());
                }
                Look::On
            });
            balls[index].height = z;
            for &(other, height, short) in beside.iter() {
                if (z - height) * (z - height) <= short {
                    touching(index, other as usize);
                }
            }
            cells.insert(reach, index as u32, z + radius);
        }
    }

    /// Height of the middle of a particle that was dropped, m.
    pub(crate) fn height(&self, particle: usize) -> f64 {
        self.balls[particle].height
    }
}

/// Highest point of the particles in each pixel, m; 0 where there is none.
///
/// Looked up at 4 x 4 points of each pixel and at the apex of each particle, so a peak is exact and a flank is known to a quarter of a
/// pixel.
pub fn top_height(pile: &Pile, grid: Grid) -> Array2<f64> {
    let mut top = Array2::<f64>::zeros((grid.rows, grid.columns));
    let step = 1.0 / SAMPLES as f64;
    for (p, z) in pile.iter() {
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
                if z + 0.5 * p.diameter <= *here {
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
                    *here = here.max(z + left.sqrt() * grid.pitch);
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
        Particle { x, y, diameter, powder: 0, droplet: 0 }
    }

    /// Heights, every pair compared.
    fn plainly(particles: &[Particle]) -> Vec<f64> {
        let mut heights: Vec<f64> = vec![];
        for p in particles {
            let contacts = particles.iter().zip(&heights).filter_map(|(q, z)| {
                let touch = 0.5 * (p.diameter + q.diameter);
                let rho = (p.x - q.x).hypot(p.y - q.y);
                (rho < touch).then(|| z + (touch * touch - rho * rho).sqrt())
            });
            let height = contacts.fold(0.5 * p.diameter, f64::max);
            heights.push(height);
        }
        heights
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
        let four =
            vec![particle(0.0, 0.0, 1.0), particle(0.0, 0.0, 1.0), particle(0.6, 0.0, 1.0), particle(3.0, 0.0, 0.4)];
        let heights = Pile::of(four).heights;
        for (got, wanted) in heights.iter().zip([0.5, 1.5, 2.3, 0.2]) {
            assert!((got - wanted).abs() < 1e-12, "{heights:?}");
        }
    }

    #[test]
    fn lists_of_cells_change_nothing() {
        for (seed, area) in [(1, 20e-6), (2, 2e-6), (3, 2e-3)] {
            let quick = Pile::of(wide(1500, area, seed));
            for (a, b) in quick.heights.iter().zip(plainly(&quick.particles)) {
                assert!((a - b).abs() < 1e-15, "{a} against {b}");
            }
        }
        // Planted fault: another order gives other heights, so the comparison above can fail.
        let quick = Pile::of(wide(1500, 20e-6, 1));
        let turned: Vec<Particle> = quick.particles.iter().rev().copied().collect();
        assert!(quick.heights.iter().zip(plainly(&turned).iter().rev()).any(|(a, b)| (a - b).abs() > 1e-8));
    }

    #[test]
    fn contacts_are_those_of_every_pair() {
        // The same lists serve all prints; 50 nm stand for touching, so that not only what carries a particle touches it.
        let mut dropper = Dropper::default();
        for (seed, area) in [(1, 20e-6), (2, 4e-6), (3, 2e-3)] {
            for touch in [1e-9, 50e-9] {
                let particles = wide(800, area, seed);
                let mut found = vec![];
                dropper.drop(&particles, touch, |later, earlier| found.push((later, earlier)));
                found.sort_unstable();
                found.dedup();
                let heights = plainly(&particles);
                assert!((0..800).all(|k| (dropper.height(k) - heights[k]).abs() < 1e-15));
                let touching = |i: usize, j: usize| {
                    let (p, q) = (&particles[i], &particles[j]);
                    let apart = (p.x - q.x).hypot(p.y - q.y).hypot(heights[i] - heights[j]);
                    apart <= 0.5 * (p.diameter + q.diameter) + touch
                };
                let pairs = (0..800).flat_map(|i| (0..i).map(move |j| (i, j)));
                let wanted: Vec<_> = pairs.filter(|(i, j)| touching(*i, *j)).collect();
                assert_eq!(found, wanted, "area {area}, touch {touch}");
                let resting = particles.iter().zip(&heights).filter(|(p, z)| **z > 0.5 * p.diameter).count();
                assert!(wanted.len() >= resting && (touch < 2e-9 || area > 1e-3 || wanted.len() > resting));
            }
        }
    }

    #[test]
    fn top_of_a_sphere_and_of_a_tiny_one() {
        let grid = Grid { origin: [0.0, 0.0], pitch: 1e-6, columns: 8, rows: 8 };
        let ball = (particle(4.5e-6, 4.5e-6, 4e-6), 2e-6);
        let speck = (particle(1.01e-6, 6.99e-6, 50e-9), 25e-9);
        let top = top_height(&[ball, speck].into_iter().collect(), grid);
        assert!((top[[4, 4]] - 4e-6).abs() < 1e-15);
        // Next pixel along x: nearest sub-points lie 0.5 + 0.125 um off in x and 0.125 um in y: 2 + sqrt(4 - 0.390625 - 0.015625).
        assert!((top[[4, 5]] - (2.0 + 3.593_75f64.sqrt()) * 1e-6).abs() < 1e-12);
        // The speck falls between the sub-points and is found all the same.
        assert!((top[[6, 1]] - 50e-9).abs() < 1e-15);
        assert_eq!(top[[0, 0]], 0.0);
    }
}
