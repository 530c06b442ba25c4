//! Physical constants, each with its source.

/// Molar gas constant, J/(mol K). Exact in the SI of 2019 (CODATA 2018: Tiesinga et al. 2021, Rev. Mod. Phys. 93:025010).
pub const GAS_CONSTANT: f64 = 8.314_462_618_153_24;
/// Boltzmann constant, J/K. Exact in the SI of 2019 (same source).
pub(crate) const BOLTZMANN: f64 = 1.380_649e-23;
/// Faraday constant, C/mol. Exact in the SI of 2019 (same source).
pub(crate) const FARADAY: f64 = 96_485.332_123_310_02;
/// Standard acceleration of gravity, m/s^2 (3rd CGPM 1901, by convention).
pub const GRAVITY: f64 = 9.806_65;
/// Zero of the Celsius scale, K. Exact by definition.
pub const CELSIUS_ZERO: f64 = 273.15;
/// Standard atmosphere, Pa. Exact by definition (10th CGPM 1954).
pub const ATMOSPHERE: f64 = 101_325.0;
