//! Velocity profile across a bore: developed, plug, or a blend.
//!
//! Speeds are in units of the mean speed, radii in units of the bore's radius.

/// Exponent of the near-plug profile `(1 - x^m) (m + 2)/m`: flat but for a boundary layer of about a tenth of the
/// radius. An estimate; a true plug would have a jump at the wall that no grid resolves.
const PLUG_EXPONENT: i32 = 20;

/// Speed at radius `x`: `(1 - b) 2 (1 - x^2) + b (1 - x^m)(m + 2)/m` with blend `b`, 0 (developed, Poiseuille) to 1.
#[inline]
pub fn speed(x: f64, plug_blend: f64) -> f64 {
    if plug_blend == 0.0 {
        return 2.0 * (1.0 - x * x);
    }
    let m = f64::from(PLUG_EXPONENT);
    (1.0 - plug_blend) * 2.0 * (1.0 - x * x) + plug_blend * (1.0 - x.powi(PLUG_EXPONENT)) * (m + 2.0) / m
}

/// Vorticity over radius, `-(du/dx)/x`.
pub(crate) fn vorticity_over_radius(x: f64, plug_blend: f64) -> f64 {
    let m = f64::from(PLUG_EXPONENT);
    (1.0 - plug_blend) * 4.0 + plug_blend * (m + 2.0) * x.powi(PLUG_EXPONENT - 2)
}

/// Share of the flow inside radius `x`: `(1 - b)(2 x^2 - x^4) + b (m + 2)/m (x^2 - 2 x^(m+2)/(m + 2))`.
#[inline]
pub(crate) fn flow_inside(x: f64, plug_blend: f64) -> f64 {
    let m = f64::from(PLUG_EXPONENT);
    let s = x * x;
    (1.0 - plug_blend) * s * (2.0 - s) + plug_blend * ((m + 2.0) / m * s - 2.0 / m * x.powi(PLUG_EXPONENT + 2))
}

/// Radius that holds a share of the flow; the inverse of `flow_inside`. Exact for a developed profile,
/// `sqrt(1 - sqrt(1 - q))`; by bisection otherwise.
pub fn radius_of_flow(share: f64, plug_blend: f64) -> f64 {
    let share = share.clamp(0.0, 1.0);
    if plug_blend == 0.0 {
        // Written so that no digits are lost for small shares: 1 - sqrt(1-q) = q / (1 + sqrt(1-q)).
        return (share / (1.0 + (1.0 - share).sqrt())).sqrt();
    }
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if flow_inside(middle, plug_blend) < share { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn profiles_carry_unit_flow_and_invert() {
        for blend in [0.0, 0.3, 1.0] {
            assert!((flow_inside(1.0, blend) - 1.0).abs() < 1e-14);
            // Trapezoid of 2 x u(x) over 10^4 steps.
            let n = 10_000;
            let sum: f64 =
                (0..n).map(|k| (k as f64 + 0.5) / n as f64).map(|x| 2.0 * x * speed(x, blend) / n as f64).sum();
            assert!((sum - 1.0).abs() < 1e-6);
            for share in [1e-6, 0.1, 0.25, 0.9] {
                let x = radius_of_flow(share, blend);
                assert!((flow_inside(x, blend) - share).abs() < 1e-12);
            }
        }
        // By hand: q = 0.2 gives sqrt(1 - sqrt(0.8)) = sqrt(0.105573) = 0.324920.
        assert!((radius_of_flow(0.2, 0.0) - 0.324_919_7).abs() < 1e-7);
    }
}
