//! Droplets in flight: tracks, and the table of landing points.

pub mod table;
pub mod track;

use table::{Found, LandingTable};
use track::{Arrival, Flyer, Sphere};

/// Finds where a droplet lands: in the table, or by flying it. There is one of these per setting, so its size does not matter.
#[allow(clippy::large_enum_variant)]
#[derive(Debug, Clone)]
pub enum Finder {
    /// Interpolates.
    Table(LandingTable),
    /// Tracks every droplet.
    Direct(Flyer),
}

impl Finder {
    /// For a droplet entering at the share `q` (0 to 1) of the aerosol flow, with its diameter (m), the logarithm of that, which the
    /// caller has at hand, and its density (kg/m^3).
    #[inline]
    pub fn find(&self, q: f64, diameter: f64, log_diameter: f64, density: f64) -> Found {
        match self {
            Self::Table(table) => table.find(q, log_diameter, density),
            Self::Direct(flyer) => match flyer.fly(q, Sphere { diameter, density }) {
                Arrival::Landed { radius, speed, .. } => {
                    Found::Landed { offset: flyer.radius_factor * radius / q.sqrt(), speed }
                }
                Arrival::Wall => Found::Wall,
                Arrival::Escaped => Found::Escaped,
            },
        }
    }
}
