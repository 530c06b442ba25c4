//! What chance makes differ: squares of what droplets bring.

use motefall_physics::inputs::Powder;
use motefall_physics::map::tally::COARSE;
use motefall_physics::source::atomiser::sphere_volume;
use motefall_physics::source::content::Grain;

/// What chance makes differ from print to print. Droplets come independently, so the variance of a sum over them is the sum of their squares.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Square {
    /// Particles.
    Number,
    /// Particles of active powders.
    Active,
    /// Coarse particles.
    Coarse,
    /// Solid volume, m^6.
    Solids,
    /// Thickness in mean free paths times area, m^4.
    Depth,
    /// Mass, kg^2.
    Mass,
    /// Capacity, C^2.
    Capacity,
    /// Capacity times active particles, C.
    CapacityActive,
    /// Covered area, m^4.
    Covered,
}

impl Square {
    /// All, in their order.
    pub(super) const ALL: [Self; 9] = [
        Self::Number,
        Self::Active,
        Self::Coarse,
        Self::Solids,
        Self::Depth,
        Self::Mass,
        Self::Capacity,
        Self::CapacityActive,
        Self::Covered,
    ];
}

/// What a particle counts for, besides its number and volume.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Worth {
    number: f64,
    active: f64,
    coarse: f64,
    solids: f64,
    depth: f64,
    mass: f64,
    capacity: f64,
}

impl Worth {
    /// A particle of an ink of these powders, with the mean free path in each, m.
    pub(super) fn of(grain: &Grain, powders: &[Powder], mean_free_paths: &[f64]) -> Self {
        let place = usize::from(grain.powder);
        let powder = &powders[place];
        let solids = sphere_volume(grain.diameter);
        let mass = solids * powder.density;
        Self {
            number: 1.0,
            active: if powder.capacity > 0.0 { 1.0 } else { 0.0 },
            coarse: if grain.diameter > COARSE { 1.0 } else { 0.0 },
            solids,
            depth: solids / mean_free_paths[place],
            mass,
            capacity: mass * powder.capacity,
        }
    }

    pub(super) fn plus(self, other: Self) -> Self {
        Self {
            number: self.number + other.number,
            active: self.active + other.active,
            coarse: self.coarse + other.coarse,
            solids: self.solids + other.solids,
            depth: self.depth + other.depth,
            mass: self.mass + other.mass,
            capacity: self.capacity + other.capacity,
        }
    }

    /// In the order of [`Square::ALL`]; `covered` is the square of what the droplet covers.
    pub(super) fn times(self, all: Self, covered: f64) -> [f64; Square::ALL.len()] {
        Square::ALL.map(|square| match square {
            Square::Number => self.number * all.number,
            Square::Active => self.active * all.active,
            Square::Coarse => self.coarse * all.coarse,
            Square::Solids => self.solids * all.solids,
            Square::Depth => self.depth * all.depth,
            Square::Mass => self.mass * all.mass,
            Square::Capacity => self.capacity * all.capacity,
            Square::CapacityActive => self.capacity * all.active,
            Square::Covered => covered,
        })
    }
}
