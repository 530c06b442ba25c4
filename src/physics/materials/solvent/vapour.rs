//! Vapour pressure and latent heat over temperature.

use super::table::PropertyRow;
use super::{Solvent, SolventTable};
use crate::constants::{CELSIUS_ZERO, GAS_CONSTANT};

/// Vapour pressure and latent heat over temperature, in pieces that are quick to look up: ln p = level - slope/T and L = heat +
/// heat_slope (T - from), p in Pa, T in K, L in J/kg.
#[derive(Debug, Clone)]
pub struct VapourCurve {
    /// By rising temperature; the first and the last reach as far as wanted.
    pieces: Vec<CurvePiece>,
}

#[derive(Debug, Clone, Copy)]
struct CurvePiece {
    from: f64,
    level: f64,
    slope: f64,
    heat: f64,
    heat_slope: f64,
}

impl VapourCurve {
    #[inline]
    fn piece(&self, temperature: f64) -> &CurvePiece {
        let above = &self.pieces[1..];
        let number = above.iter().take_while(|piece| piece.from <= temperature).count();
        &self.pieces[number]
    }

    /// Logarithm of the vapour pressure (Pa) over the flat liquid, and the temperature S (K) such that it rises by S/T^2 per kelvin.
    #[inline]
    pub(crate) fn log_pressure(&self, temperature: f64) -> (f64, f64) {
        let piece = self.piece(temperature);
        (piece.level - piece.slope / temperature, piece.slope)
    }

    /// Latent heat, J/kg.
    #[inline]
    pub(crate) fn latent_heat(&self, temperature: f64) -> f64 {
        let piece = self.piece(temperature);
        piece.heat + piece.heat_slope * (temperature - piece.from)
    }
}

impl Solvent {
    /// How vapour pressure and latent heat go with temperature.
    ///
    /// Built in: as the table's, within 0.5 % of the relations that it was made from, both in proportion to what the user gives. Others:
    /// p = p0 exp(L M/R (1/T0 - 1/T)) (Clausius-Clapeyron with constant latent heat L). Range: some 30 K about `vapour_temperature`.
    pub(crate) fn vapour_curve(&self) -> VapourCurve {
        let Some(SolventTable { of, temperature }) = self.table else {
            let slope = self.latent_heat * self.molar_mass / GAS_CONSTANT;
            let level = self.vapour_pressure.ln() + slope / self.vapour_temperature;
            let piece =
                CurvePiece { from: self.vapour_temperature, level, slope, heat: self.latent_heat, heat_slope: 0.0 };
            return VapourCurve { pieces: vec![piece] };
        };
        let piece = |rows: &[PropertyRow]| {
            let [from, to] = [&rows[0], &rows[1]].map(|row| row.celsius + CELSIUS_ZERO);
            let slope = (rows[1].vapour_pressure / rows[0].vapour_pressure).ln() / (1.0 / from - 1.0 / to);
            let heat_slope = (rows[1].latent_heat - rows[0].latent_heat) / (to - from);
            let level = rows[0].vapour_pressure.ln() + slope / from;
            CurvePiece { from, level, slope, heat: rows[0].latent_heat, heat_slope }
        };
        let mut curve = VapourCurve { pieces: of.rows.windows(2).map(piece).collect() };
        let level = self.vapour_pressure.ln() - curve.log_pressure(self.vapour_temperature).0;
        let heat = self.latent_heat / curve.latent_heat(temperature);
        for piece in &mut curve.pieces {
            piece.level += level;
            piece.heat *= heat;
            piece.heat_slope *= heat;
        }
        curve
    }
}
