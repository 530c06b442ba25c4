//! Particle size distributions.

/// Whether the parts of a distribution are weighted by number or by volume.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weighting {
    /// By number of particles.
    Number,
    /// By volume of particles (what laser diffraction reports).
    Volume,
}

/// One lognormal mode of a mixture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LognormalMode {
    /// Share of the mixture in the given weighting; shares are normalised.
    pub share: f64,
    /// Median diameter in the given weighting, m.
    pub median: f64,
    /// Geometric standard deviation, above 1.
    pub gsd: f64,
    /// Weighting of share and median.
    pub weighting: Weighting,
}

/// What is wrong with a distribution.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SizesError {
    /// No modes or bins.
    #[error("no modes or bins")]
    Empty,
}

/// A number distribution of volume-equivalent diameters.
#[derive(Debug, Clone)]
pub struct SizeDistribution {}

impl SizeDistribution {
    /// A mixture of lognormals; all modes in the same weighting.
    pub fn from_modes(_modes: &[LognormalMode]) -> Result<Self, SizesError> {
        Ok(Self {})
    }

    /// A histogram: `edges` (m, rising, one more than `amounts`) and the amount in each bin in the given weighting.
    pub fn from_histogram(_edges: &[f64], _amounts: &[f64], _weighting: Weighting) -> Result<Self, SizesError> {
        Err(SizesError::Empty)
    }

    /// Share of the number below a diameter (m).
    pub fn number_below(&self, _diameter: f64) -> f64 {
        0.0
    }

    /// Share of the volume below a diameter (m).
    pub fn volume_below(&self, _diameter: f64) -> f64 {
        0.0
    }

    /// Raw moment by number, E[d^k], m^k.
    pub fn moment(&self, _k: i32) -> f64 {
        0.0
    }

    /// Diameter (m) below which a share of the number lies.
    pub fn quantile(&self, _share: f64) -> f64 {
        0.0
    }
}
