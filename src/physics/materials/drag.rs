//! Drag, slip and lift on a small sphere, and what follows from them: relaxation time, settling, diffusion.
//!
//! Pure functions in SI. Those in the tracking loop are small and free of branches.

use std::f64::consts::PI;

use crate::constants::{BOLTZMANN, GRAVITY};

/// Slip correction: Cc = 1 + Kn (1.257 + 0.400 exp(-1.10/Kn)), Kn = 2 lambda/d.
///
/// `diameter` d (m), `gas_mean_free_path` lambda (m). Divides the Stokes drag.
/// Range: Kn 0 to about 100. Other published fits (Allen & Raabe 1985 for solid spheres, Hutchins et al. 1995) lie within 2.5 %.
/// Source: Davies 1945, Definitive equations for the fluid resistance of spheres, Proc. Phys. Soc. 57:259.
#[inline]
pub fn slip_correction(diameter: f64, gas_mean_free_path: f64) -> f64 {
    let knudsen = 2.0 * gas_mean_free_path / diameter;
    1.0 + knudsen * (1.257 + 0.400 * (-1.10 / knudsen).exp())
}

/// Factor on the Stokes drag at a Reynolds number: 1 + 0.15 Re^0.687.
///
/// `reynolds` Re = rho_gas |u - v| d / mu. Range: Re < 800 (within 6 % of measured drag).
/// Source: Schiller & Naumann 1933, Z. Ver. Dtsch. Ing. 77:318.
#[inline]
pub fn schiller_naumann(reynolds: f64) -> f64 {
    1.0 + 0.15 * reynolds.powf(0.687)
}

/// Largest Reynolds number of the droplet for which [`schiller_naumann`] is used without a caution.
pub const SCHILLER_NAUMANN_LIMIT: f64 = 800.0;

/// Reynolds number of a sphere: rho v d / mu. `speed` (m/s) relative to the gas, gas density (kg/m^3) and viscosity (Pa s).
#[inline]
pub fn sphere_reynolds(speed: f64, diameter: f64, gas_density: f64, gas_viscosity: f64) -> f64 {
    gas_density * speed * diameter / gas_viscosity
}

/// Relaxation time, s, in Stokes drag with slip: rho d^2 Cc / (18 mu).
///
/// `density` rho of the droplet (kg/m^3; added mass of the gas neglected, 0.1 %), `diameter` d (m), `gas_viscosity` mu (Pa s), `slip` Cc.
/// Source: Hinds 1999, Aerosol Technology, eq. 5.3 with slip.
#[inline]
pub fn relaxation_time(diameter: f64, density: f64, gas_viscosity: f64, slip: f64) -> f64 {
    density * diameter * diameter * slip / (18.0 * gas_viscosity)
}

/// Terminal settling speed, m/s: tau g (1 - rho_gas/rho)/f(Re), f from [`schiller_naumann`], solved by fixed-point iteration.
///
/// `density` rho of the droplet, `gas_density` rho_gas (for drag and buoyancy) and `gas_viscosity` in SI, `slip` Cc. Range: Re < 800; the iteration contracts there.
#[inline]
pub fn settling_speed(diameter: f64, density: f64, gas_density: f64, gas_viscosity: f64, slip: f64) -> f64 {
    let stokes = relaxation_time(diameter, density - gas_density, gas_viscosity, slip) * GRAVITY;
    let mut speed = stokes;
    for _ in 0..200 {
        let next = stokes / schiller_naumann(sphere_reynolds(speed, diameter, gas_density, gas_viscosity));
        let change = (next - speed).abs();
        speed = 0.5 * (next + speed);
        if change <= 1e-13 * speed {
            break;
        }
    }
    speed
}

/// Brownian diffusion coefficient, m^2/s: k T Cc / (3 pi mu d) (Stokes 1851; Einstein 1905).
///
/// `diameter` d (m), `temperature` T (K), `gas_viscosity` mu (Pa s), `slip` Cc. Not for molecules.
#[inline]
pub fn diffusion_coefficient(diameter: f64, temperature: f64, gas_viscosity: f64, slip: f64) -> f64 {
    BOLTZMANN * temperature * slip / (3.0 * PI * gas_viscosity * diameter)
}

/// Saffman's shear lift with Mei's correction, N: F = 1.615 mu d^2 w sqrt(G/nu) C, toward the faster gas when the sphere lags,
/// where for Re <= 40: C = (1 - 0.3314 sqrt(b)) exp(-Re/10) + 0.3314 sqrt(b), above: C = 0.0524 sqrt(b Re);
/// b = G d/(2 w), Re = w d/nu.
///
/// `slip_speed` w = |u - v| (m/s), `shear` G = |du/dr| (1/s), `diameter` d (m), gas density rho and viscosity mu, nu = mu/rho.
/// Range: 0.1 <= Re <= 100, 0.005 < b < 0.4; below Re 0.1 it goes over to Saffman's own law, which holds for
/// Re << sqrt(Re_G) << 1 (Re_G = G d^2/nu) and is too strong outside. Returns the magnitude; 0 without slip or shear.
/// Source: Saffman 1965, J. Fluid Mech. 22:385 (with the corrigendum of 1968, factor 1.615 in diameters); Mei 1992, An
/// approximate expression for the shear lift force on a spherical particle at finite Reynolds number, Int. J. Multiphase
/// Flow 18:145 (coefficients from memory).
#[inline]
pub(crate) fn shear_lift(slip_speed: f64, shear: f64, diameter: f64, gas_density: f64, gas_viscosity: f64) -> f64 {
    let kinematic = gas_viscosity / gas_density;
    // w sqrt(b) = sqrt(G d w/2) keeps the product finite as w goes to 0.
    let reynolds = slip_speed * diameter / kinematic;
    let speed_root_b = (0.5 * shear * diameter * slip_speed).sqrt();
    let corrected_speed = if reynolds <= 40.0 {
        let decay = (-reynolds / 10.0).exp();
        slip_speed * decay + 0.3314 * speed_root_b * (1.0 - decay)
    } else {
        0.0524 * speed_root_b * reynolds.sqrt()
    };
    1.615 * gas_viscosity * diameter * diameter * (shear / kinematic).sqrt() * corrected_speed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_micrometre_water_in_air_by_hand() {
        // Kn = 2 * 66e-9/1e-6 = 0.132; exp(-1.10/0.132) = 2.404e-4; Cc = 1 + 0.132 (1.257 + 9.6e-5) = 1.165937
        let slip = slip_correction(1e-6, 66e-9);
        assert!((slip - 1.165_937).abs() < 1e-6);
        // tau = 1000 * 1e-12 * 1.165937/(18 * 1.81e-5) = 3.57869e-6 s; v = tau g = 3.50949e-5 m/s
        let tau = relaxation_time(1e-6, 1000.0, 1.81e-5, slip);
        assert!((tau / 3.578_69e-6 - 1.0).abs() < 1e-5);
        // Re = 1.205 * 3.51e-5 * 1e-6/1.81e-5 = 2.336e-6; f = 1 + 0.15 * (2.336e-6)^0.687 = 1 + 0.15 * 1.354e-4 = 1.0000203
        let speed = settling_speed(1e-6, 1000.0, 1.205, 1.81e-5, slip);
        // buoyancy: 1 - 1.205/1000 = 0.998795
        assert!((speed / (3.509_49e-5 * 0.998_795 / 1.000_020_3) - 1.0).abs() < 1e-5);
        // D = 1.380649e-23 * 293.15 * 1.165937/(3 pi 1.81e-5 1e-6) = 4.71901e-21/1.705885e-10 = 2.76631e-11
        let d = diffusion_coefficient(1e-6, 293.15, 1.81e-5, slip);
        assert!((d / 2.766_31e-11 - 1.0).abs() < 1e-5);
    }

    #[test]
    fn lift_by_hand_and_its_limits() {
        // d = 10 um, w = 1 m/s, G = 1e5 /s, nu = 1.5e-5, rho = 1.2, mu = 1.8e-5
        // Re = 1e-5/1.5e-5 = 0.66667; b = 1e5 * 1e-5/2 = 0.5; sqrt(b) = 0.707107; 0.3314 sqrt(b) = 0.234335
        // C = 0.765665 * exp(-0.0666667) + 0.234335 = 0.765665 * 0.935507 + 0.234335 = 0.950620
        // Saffman: 1.615 * 1.8e-5 * 1e-10 * sqrt(1e5/1.5e-5) = 2.907e-15 * 8.164966e4 = 2.373556e-10 N
        let lift = shear_lift(1.0, 1e5, 10e-6, 1.2, 1.8e-5);
        assert!((lift / (2.373_556e-10 * 0.950_620) - 1.0).abs() < 1e-5);
        assert_eq!(shear_lift(0.0, 1e5, 1e-6, 1.2, 1.8e-5), 0.0);
        assert_eq!(shear_lift(1.0, 0.0, 1e-6, 1.2, 1.8e-5), 0.0);
        // slow slip: Saffman's law itself
        let slow = shear_lift(1e-3, 1e5, 1e-6, 1.2, 1.8e-5);
        let saffman = 1.615 * 1.8e-5 * 1e-12 * (1e5f64 / 1.5e-5).sqrt() * 1e-3;
        assert!((slow / saffman - 1.0).abs() < 1e-3);
        // At Re 40 the fit itself jumps by exp(-4) (1 - x)/x, x = 0.3314 sqrt(0.2) = 0.148207: 0.0183156 * 5.7473 = 10.53 %
        let nu = 1.5e-5;
        let at = |re: f64| shear_lift(re * nu / 1e-5, 0.2 * 2.0 * re * nu / 1e-10, 1e-5, 1.2, 1.8e-5);
        assert!((at(39.999) / at(40.001) - 1.1053).abs() < 1e-3);
    }

    #[test]
    fn large_spheres_slip_not_and_crawl_as_stokes() {
        assert!((slip_correction(1e-2, 66e-9) - 1.0).abs() < 2e-5);
        assert_eq!(schiller_naumann(0.0), 1.0);
    }
}
