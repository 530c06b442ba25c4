//! Units of length in which drawings are made.

use crate::words::words;

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
    fn units_are_as_long_as_their_words_say() {
        for (unit, word) in LengthUnit::ALL.iter().zip(LengthUnit::WORDS) {
            assert_eq!(unit.word(), *word);
        }
        assert!((LengthUnit::Mil.metres() * 1000.0 / LengthUnit::Inch.metres() - 1.0).abs() < 1e-12);
    }
}
