//! Mixtures of liquids.

/// Density of a mixture without change of volume on mixing, kg/m^3: 1/rho = sum w_i/rho_i.
///
/// `parts`: mass fraction (summing to 1) and density (kg/m^3). For liquids (water with alcohols: up to 4 % too low) and for inks with their powders.
pub fn mixture_density(parts: &[(f64, f64)]) -> f64 {
    1.0 / parts.iter().map(|(w, density)| w / density).sum::<f64>()
}

/// Viscosity of a liquid mixture, Pa s, an ESTIMATE: ln mu = sum w_i ln mu_i.
///
/// `parts`: mass fraction and viscosity (Pa s). The form of Arrhenius 1887 with mass fractions; water with alcohols is two to three times thicker.
/// Dispersed powder is not counted.
pub fn mixture_viscosity(parts: &[(f64, f64)]) -> f64 {
    parts.iter().map(|(w, viscosity)| w * viscosity.ln()).sum::<f64>().exp()
}

/// Surface tension of a liquid mixture, N/m, an ESTIMATE: the mean by mass fraction.
///
/// `parts`: mass fraction and surface tension (N/m). Water with a little alcohol lies well below it, because alcohol gathers at the surface.
pub fn mixture_surface_tension(parts: &[(f64, f64)]) -> f64 {
    parts.iter().map(|(w, tension)| w * tension).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mixtures_by_hand() {
        // 1/(0.3/1000 + 0.7/800) = 1/(0.0003 + 0.000875) = 851.0638
        assert!((mixture_density(&[(0.3, 1000.0), (0.7, 800.0)]) - 851.0638).abs() < 1e-3);
        // sqrt(1e-3 * 16e-3) = 4e-3
        assert!((mixture_viscosity(&[(0.5, 1e-3), (0.5, 16e-3)]) - 4e-3).abs() < 1e-12);
        assert!((mixture_surface_tension(&[(0.25, 0.072), (0.75, 0.024)]) - 0.036).abs() < 1e-12);
    }
}
