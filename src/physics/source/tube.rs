//! What settles, diffuses and hits the bends in the mist tube.

use std::f64::consts::{FRAC_PI_2, PI};

use crate::inputs::TubePiece;
use crate::materials::drag::{diffusion_coefficient, relaxation_time, settling_speed, slip_correction};
use crate::materials::gas::GasState;

/// Reynolds number of a tube above which its flow may not be laminar (Reynolds 1883; Hinds 1999 gives 2000-2100 too).
pub const LARGEST_LAMINAR_REYNOLDS: f64 = 2100.0;

/// Share of droplets of one size that gets through one piece of tube, by mechanism. The mechanisms are taken as independent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Penetration {
    /// Past gravity, 0 to 1.
    pub(crate) settling: f64,
    /// Past diffusion to the wall, 0 to 1.
    pub(crate) diffusion: f64,
    /// Past the bends, 0 to 1.
    pub(crate) bends: f64,
}

impl Penetration {
    /// Share that gets through, 0 to 1.
    pub(crate) fn total(&self) -> f64 {
        self.settling * self.diffusion * self.bends
    }
}

/// Where droplets of one size end in a run of tube. The four shares add up to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TubeShares {
    /// Settled.
    pub(crate) settling: f64,
    /// Diffused to the wall.
    pub(crate) diffusion: f64,
    /// Hit the wall in a bend.
    pub(crate) bends: f64,
    /// Got through.
    pub through: f64,
}

/// Mean speed, m/s, of an actual flow (m^3/s) in a bore (m).
pub(crate) fn mean_speed(flow: f64, bore: f64) -> f64 {
    flow / (PI * bore * bore / 4.0)
}

/// Reynolds number of the flow in a tube: rho U D/mu.
pub fn tube_reynolds(flow: f64, bore: f64, gas: &GasState) -> f64 {
    gas.density * mean_speed(flow, bore) * bore / gas.viscosity
}

/// Mean residence time in the pieces, s, at an actual flow (m^3/s).
pub(crate) fn residence_time(pieces: &[TubePiece], flow: f64) -> f64 {
    pieces.iter().map(|p| p.length * PI * p.bore * p.bore / 4.0 / flow).sum()
}

/// Share of particles that passes a horizontal round tube in laminar (developed) flow under gravity.
///
/// P = 1 - (2/pi) [2 k sqrt(1 - k^(2/3)) - k^(1/3) sqrt(1 - k^(2/3)) + asin(k^(1/3))], k = 3 L v/(4 D U); 0 for k >= 1.
///
/// `length` L and `bore` D (m), `settling` speed v (m/s), mean `speed` U (m/s).
/// Source: Thomas 1958, J. Air Pollut. Control Assoc. 8:32; Fuchs 1964, The Mechanics of Aerosols; Pich 1972, Theory of
/// gravitational deposition of particles from laminar flows in channels, J. Aerosol Sci. 3:351.
pub fn settling_penetration(length: f64, bore: f64, settling: f64, speed: f64) -> f64 {
    let k = 0.75 * length * settling / (bore * speed);
    if k >= 1.0 {
        return 0.0;
    }
    let third = k.cbrt();
    let root = (1.0 - third * third).sqrt();
    let lost = (2.0 * k * root - third * root + third.asin()) / FRAC_PI_2;
    (1.0 - lost).clamp(0.0, 1.0)
}

/// Eigenvalues and weights of the Graetz problem for a round tube: mean concentration = sum w exp(-l^2 xi/2).
/// Computed from the power series of R'' + R'/r + l^2 (1 - r^2) R = 0, R(1) = 0; the first agree with Shah & London 1978.
const GRAETZ: [(f64, f64); 16] = [
    (2.704_364_419_88, 0.819_050_420_8),
    (6.679_031_449_35, 0.097_526_926_85),
    (10.673_379_538_1, 0.032_503_993_83),
    (14.671_078_462_7, 0.015_440_156_29),
    (18.669_871_864_5, 0.008_788_493_62),
    (22.669_143_358_8, 0.005_583_849_051),
    (26.668_661_996, 0.003_820_177_636),
    (30.668_323_340_9, 0.002_756_375_057),
    (34.668_073_822_4, 0.002_070_191_891),
    (38.667_883_346_9, 0.001_604_296_385),
    (42.667_733_805_5, 0.001_274_898_181),
    (46.667_613_697_8, 0.001_034_242_688),
    (50.667_515_395_1, 0.000_853_590_686_2),
    (54.667_433_652_7, 0.000_714_855_879_7),
    (58.667_364_754_9, 0.000_606_222_426_4),
    (62.667_306_001_1, 0.000_519_721_916_8),
];

/// Below this xi the expansion for short tubes is used: there it is within 6e-6 of the series, which wants ever more terms.
const SHORT_TUBE: f64 = 0.003;

/// Share of particles that passes a round tube in laminar (developed) flow by diffusion to the wall.
///
/// P = sum w_n exp(-l_n^2 xi/2), xi = pi D L/Q (exact Graetz series, 16 terms); for xi < 0.003
/// P = 1 - 2.5638 xi^(2/3) + 1.2 xi + 0.1767 xi^(4/3).
///
/// `diffusivity` D (m^2/s), `length` L (m), `flow` Q (m^3/s). Error below 1e-5 (1e-4 of the losses).
/// Source: Graetz 1885, Ann. Phys. 261:337; Gormley & Kennedy 1949, Diffusion from a stream flowing through a cylindrical
/// tube, Proc. R. Irish Acad. 52A:163 (short tubes, after Leveque 1928).
pub fn diffusion_penetration(diffusivity: f64, length: f64, flow: f64) -> f64 {
    let xi = PI * diffusivity * length / flow;
    let p = if xi < SHORT_TUBE {
        let third = xi.cbrt();
        1.0 - 2.5638 * third * third + 1.2 * xi + 0.1767 * xi * third
    } else {
        GRAETZ.iter().map(|(l, w)| w * (-0.5 * l * l * xi).exp()).sum()
    };
    p.clamp(0.0, 1.0)
}

/// Share of particles that passes a bend in laminar flow.
///
/// P = [1 + (Stk/0.171)^(0.452 Stk/0.171 + 2.242)]^(-2 phi/pi).
///
/// `stokes` Stk = tau U/D (D the bore), `angle` phi of the bend (rad).
/// Range: fitted at a Reynolds number of about 1000 and a Dean number of about 38; tighter or slower bends differ. Fit +-0.05.
/// Source: Pui, Romay-Novas & Liu 1987, Experimental study of particle deposition in bends of circular cross section, Aerosol
/// Sci. Technol. 7:301, as fitted by Brockmann 1993 (in Willeke & Baron, Aerosol Measurement; constants from memory).
pub fn bend_penetration(stokes: f64, angle: f64) -> f64 {
    let x = stokes / 0.171;
    (1.0 + x.powf(0.452 * x + 2.242)).powf(-angle / FRAC_PI_2)
}

/// Penetration of one piece for one droplet size.
///
/// `flow`: actual flow of the carrier in the tube (m^3/s); `gas`: the gas there; `diameter` (m) and `density` (kg/m^3) of the
/// droplet. An inclined piece settles with v cos(inclination) (Heyder & Gebhart 1977, Gravitational deposition of particles from
/// laminar aerosol flow through inclined circular tubes, J. Aerosol Sci. 8:289), which holds while v is small against the flow's speed.
pub(crate) fn penetration(piece: &TubePiece, flow: f64, gas: &GasState, diameter: f64, density: f64) -> Penetration {
    let slip = slip_correction(diameter, gas.mean_free_path);
    let speed = mean_speed(flow, piece.bore);
    let settling = settling_speed(diameter, density, gas.density, gas.viscosity, slip) * piece.inclination.cos().abs();
    let stokes = relaxation_time(diameter, density, gas.viscosity, slip) * speed / piece.bore;
    Penetration {
        settling: settling_penetration(piece.length, piece.bore, settling, speed),
        diffusion: diffusion_penetration(
            diffusion_coefficient(diameter, gas.temperature, gas.viscosity, slip),
            piece.length,
            flow,
        ),
        bends: piece.bends.iter().map(|angle| bend_penetration(stokes, *angle)).product(),
    }
}

/// Where droplets of one size end in a run of pieces, passed in order. Within a piece the loss is shared among its causes in
/// proportion to -ln P of each, as if they acted side by side. Arguments as for `penetration`.
pub fn shares(pieces: &[TubePiece], flow: f64, gas: &GasState, diameter: f64, density: f64) -> TubeShares {
    let mut sum = TubeShares { settling: 0.0, diffusion: 0.0, bends: 0.0, through: 1.0 };
    for piece in pieces {
        let p = penetration(piece, flow, gas, diameter, density);
        let lost = sum.through * (1.0 - p.total());
        // -ln 0 is infinite: anything that stops everything takes its share as a large number.
        let weight = |p: f64| -p.max(1e-300).ln();
        let weights = [weight(p.settling), weight(p.diffusion), weight(p.bends)];
        let all: f64 = weights.iter().sum();
        if all > 0.0 {
            sum.settling += lost * weights[0] / all;
            sum.diffusion += lost * weights[1] / all;
            sum.bends += lost * weights[2] / all;
            sum.through -= lost;
        }
    }
    sum.through = sum.through.max(0.0);
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::constants::ATMOSPHERE;
    use crate::materials::gas::GasSpecies;

    fn piece(bore: f64, inclination: f64, bends: &[f64]) -> TubePiece {
        TubePiece { length: 0.5, bore, inclination, bends: bends.to_vec() }
    }

    #[test]
    fn settling_by_hand() {
        // L 1 m, D 4 mm, U 0.1 m/s, v 5.3333e-5 m/s: k = 0.75 * 5.3333e-5/(0.004 * 0.1) = 0.1
        // k^(1/3) = 0.464159, root = sqrt(1 - 0.215443) = 0.885752
        // 2 * 0.1 * 0.885752 - 0.464159 * 0.885752 + asin(0.464159) = 0.177150 - 0.411130 + 0.482691 = 0.248711
        // P = 1 - 0.248711/1.570796 = 0.841666
        let p = settling_penetration(1.0, 0.004, 1.6e-4 / 3.0, 0.1);
        assert!((p - 0.841_67).abs() < 1e-5);
        assert_eq!(settling_penetration(1.0, 0.004, 1.0, 0.1), 0.0);
        assert_eq!(settling_penetration(1.0, 0.004, 0.0, 0.1), 1.0);
    }

    #[test]
    fn the_short_and_the_long_tube_meet() {
        let flow = 1e-6;
        let at = |xi: f64| diffusion_penetration(xi * flow / PI, 1.0, flow);
        assert!((at(SHORT_TUBE * (1.0 - 1e-9)) - at(SHORT_TUBE)).abs() < 7e-6);
        assert_eq!(at(0.0), 1.0);
    }

    #[test]
    fn bend_by_hand() {
        // Stk 0.171, 90 degrees: x = 1, P = 2^-1; 45 degrees: 2^-0.5
        assert!((bend_penetration(0.171, FRAC_PI_2) - 0.5).abs() < 1e-12);
        assert!((bend_penetration(0.171, FRAC_PI_2 / 2.0) - 0.5f64.sqrt()).abs() < 1e-12);
        assert_eq!(bend_penetration(0.0, FRAC_PI_2), 1.0);
    }

    #[test]
    fn losses_add_up_and_grow_with_size() {
        let gas = GasState::new(GasSpecies::Nitrogen, 298.15, ATMOSPHERE);
        let run = [piece(3e-3, 0.0, &[FRAC_PI_2, 1.0]), piece(2e-3, FRAC_PI_2, &[])];
        let mut before = 1.0;
        for i in 0..60 {
            let d = 0.3e-6 * 1.08f64.powi(i);
            let s = shares(&run, 25e-6 / 60.0, &gas, d, 1100.0);
            assert!((s.settling + s.diffusion + s.bends + s.through - 1.0).abs() < 1e-12);
            let product = penetration(&run[0], 25e-6 / 60.0, &gas, d, 1100.0).total()
                * penetration(&run[1], 25e-6 / 60.0, &gas, d, 1100.0).total();
            assert!((s.through - product).abs() < 1e-12);
            assert!(d < 1e-6 || s.through <= before, "{d}");
            before = s.through;
        }
        // a vertical piece settles nothing
        assert!(penetration(&run[1], 25e-6 / 60.0, &gas, 5e-6, 1100.0).settling > 1.0 - 1e-10);
        // 25 cm^3/min in 3 mm: U = 0.0589 m/s, Re = 1.145 * 0.0589 * 0.003/1.779e-5 = 11.4
        assert!((tube_reynolds(25e-6 / 60.0, 3e-3, &gas) - 11.37).abs() < 0.1);
        // 0.5 m of 3 mm and of 2 mm: (3.534 + 1.571) cm^3 over 0.41667 cm^3/s = 12.25 s
        assert!((residence_time(&run, 25e-6 / 60.0) - 12.25).abs() < 0.01);
    }
}
