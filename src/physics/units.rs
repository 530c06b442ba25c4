//! Conversions between the units of the bench and SI, and newtypes where a mix-up would be silent.

use crate::constants::{ATMOSPHERE, CELSIUS_ZERO};
use crate::words::words;

/// Micrometres per metre and the like: multiply a bench value by one of these to get SI.
pub const MICROMETRE: f64 = 1e-6;
/// Coulomb per kilogram for one mAh/g.
pub const MILLIAMPERE_HOUR_PER_GRAM: f64 = 3600.0;
/// Cubic metre per cubic nanometre.
pub const CUBIC_NANOMETRE: f64 = 1e-27;

/// Kelvin from degrees Celsius.
pub fn kelvin(celsius: f64) -> f64 {
    celsius + CELSIUS_ZERO
}

/// Degrees Celsius from kelvin.
pub fn celsius(kelvin: f64) -> f64 {
    kelvin - CELSIUS_ZERO
}

/// The state at which a flow controller counts its standard cubic centimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowReference {
    /// Temperature, K.
    pub temperature: f64,
    /// Pressure, Pa.
    pub pressure: f64,
}

impl FlowReference {
    /// 0 C and one atmosphere, the usual reference of mass flow controllers.
    pub fn at_celsius(celsius: f64) -> Self {
        Self { temperature: kelvin(celsius), pressure: ATMOSPHERE }
    }
}

/// A flow as set on a controller, in m^3/s at the controller's reference state. Never mix it with an actual flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandardFlow(pub f64);

impl StandardFlow {
    /// From standard cubic centimetres per minute.
    pub fn from_sccm(sccm: f64) -> Self {
        Self(sccm * 1e-6 / 60.0)
    }

    /// In standard cubic centimetres per minute.
    pub fn sccm(self) -> f64 {
        self.0 * 60.0 * 1e6
    }

    /// Actual flow, m^3/s, at temperature (K) and pressure (Pa), by the ideal gas law.
    pub fn actual(self, reference: FlowReference, temperature: f64, pressure: f64) -> f64 {
        self.0 * (temperature / reference.temperature) * (reference.pressure / pressure)
    }
}

words! {
    /// Units of length in which drawings are made.
    pub enum LengthUnit {
        /// 1e-9 m.
        Nanometre = "nm",
        /// 1e-6 m.
        Micrometre = "um",
        /// 1e-3 m.
        Millimetre = "mm",
        /// 1e-2 m.
        Centimetre = "cm",
        /// 1 m.
        Metre = "m",
        /// 25.4 mm.
        Inch = "inch",
        /// A thousandth of an inch.
        Mil = "mil",
    }
}

impl LengthUnit {
    /// Metres per unit.
    pub fn metres(self) -> f64 {
        match self {
            Self::Nanometre => 1e-9,
            Self::Micrometre => 1e-6,
            Self::Millimetre => 1e-3,
            Self::Centimetre => 1e-2,
            Self::Metre => 1.0,
            Self::Inch => 25.4e-3,
            Self::Mil => 25.4e-6,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_of_length_and_their_words() {
        for (unit, word) in LengthUnit::ALL.iter().zip(LengthUnit::WORDS) {
            assert_eq!(unit.word(), *word);
        }
        assert!((LengthUnit::Mil.metres() * 1000.0 / LengthUnit::Inch.metres() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_zero_celsius_flow_grows_by_nine_percent_at_25_celsius() {
        // 298.15 / 273.15 = 1.09152...
        let flow = StandardFlow::from_sccm(60.0);
        let actual = flow.actual(FlowReference::at_celsius(0.0), kelvin(25.0), ATMOSPHERE);
        assert!((actual / 1e-6 - 1.091_524_8).abs() < 1e-6);
        assert!((flow.sccm() - 60.0).abs() < 1e-12);
    }
}
