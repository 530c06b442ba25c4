//! Drying against values worked by hand, laws and finer steps.

use super::*;
use crate::constants::{ATMOSPHERE, GAS_CONSTANT};
use crate::inputs::SolventPart;
use crate::materials::gas::{GasSpecies, GasState};
use crate::materials::solvent::Solvent;
use std::f64::consts::PI;

fn nitrogen(celsius: f64) -> GasState {
    GasState::new(GasSpecies::Nitrogen, 273.15 + celsius, ATMOSPHERE)
}

fn liquid(parts: &[(&str, f64)], celsius: f64) -> Vec<SolventPart> {
    let part = |(name, mass_fraction): &(&str, f64)| SolventPart {
        mass_fraction: *mass_fraction,
        solvent: Solvent::built_in(name, 273.15 + celsius).expect("built in"),
    };
    parts.iter().map(part).collect()
}

/// Lognormal mist: 60 classes over +-3.5 sigma, `load` m^3 of liquid per m^3 of carrier.
fn mist(median: f64, gsd: f64, load: f64, solvents: usize) -> MistClasses {
    let z = |i: usize| -3.5 + 7.0 * i as f64 / 59.0;
    let classes: Vec<(f64, f64)> =
        (0..60).map(|i| (median * (z(i) * gsd.ln()).exp(), (-0.5 * z(i) * z(i)).exp())).collect();
    let volume: f64 = classes.iter().map(|(d, n)| n * PI / 6.0 * d.powi(3)).sum();
    MistClasses::generated(classes.into_iter().map(|(d, n)| (d, n * load / volume)), solvents)
}

fn stage<'a>(
    solvents: &'a [SolventPart],
    gas: &'a GasState,
    carrier: &'a [f64],
    sheath: &'a [f64],
    ratio: f64,
    duration: f64,
) -> DryingStage<'a> {
    DryingStage {
        solvents,
        gas,
        carrier_vapour: carrier,
        sheath_vapour: sheath,
        sheath_ratio: ratio,
        mixing_radius: 1.5e-3,
        duration,
    }
}

#[test]
fn isothermal_constant_of_water_at_20_celsius_by_hand() {
    // 8 * 2.502e-5 * 0.01801528 * 2339.3/(998.208 * 8.314463 * 293.15) = 8.43527e-3/2.433041e6 = 3.46697e-9
    let k = isothermal_constant(2.502e-5, 0.018_015_28, 2339.3, 998.208, 293.15);
    assert!((k / 3.466_97e-9 - 1.0).abs() < 1e-4);
}

/// A wide water droplet in dry nitrogen at 60 C: both sides of the balance per 4 pi r, by hand at 19.28 C, then by bisection. Vapour
/// pressure by Wagner & Pruss 1993 (J. Phys. Chem. Ref. Data 22:783, constants from memory), latent heat 2500.9 - 2.386 t/C kJ/kg.
///
/// By hand: ps = 2237 Pa, ys = 0.02208, ln(1/(1 - ys)) = 0.022326; film 312.79 K: D = 2.577e-5 * 1.0875 = 2.8025e-5 m^2/s,
/// P/(R T) = 38.960 mol/m^3, so 0.018015 * 38.960 * 2.8025e-5 * 0.022326 = 4.392e-7 kg/(m s) leave. k = 0.024001 * 1.1181 =
/// 0.026837 W/(m K), L = 2454.9 kJ/kg, so heat comes for 0.026837/1870 * ln(1 + 1870 * 40.72/2454900) = 4.384e-7 kg/(m s). The gap of
/// 0.2 %, at 6.3 + 2.5 % per kelvin, is 0.02 K: 19.26 C and 4.386e-7 kg/(m s).
#[test]
fn the_wet_bulb_of_water_in_hot_dry_nitrogen() {
    let gas = nitrogen(60.0);
    let pressure = |t: f64| {
        let x = 1.0 - t / 647.096;
        let sum = -7.859_517_83 * x + 1.844_082_59 * x.powf(1.5) - 11.786_649_7 * x.powi(3)
            + 22.680_741_1 * x.powf(3.5)
            - 15.961_871_9 * x.powi(4)
            + 1.801_225_02 * x.powf(7.5);
        22.064e6 * (647.096 / t * sum).exp()
    };
    let sides = |t: f64| {
        let film = 0.5 * (t + gas.temperature);
        let diffusivity = 2.577e-5 * (film / 298.15).powf(1.75);
        let leaves =
            0.018_015_28 * ATMOSPHERE / (GAS_CONSTANT * film) * diffusivity * -(-pressure(t) / ATMOSPHERE).ln_1p();
        let conductivity = 0.024_001 * (film / 273.15).powf(0.824_2);
        let latent_heat = 2_500_900.0 - 2386.0 * (t - 273.15);
        let comes = conductivity / 1870.0 * (1870.0 * (gas.temperature - t) / latent_heat).ln_1p();
        (leaves, comes)
    };
    let by_hand = sides(273.15 + 19.28);
    assert!((by_hand.0 / 4.392e-7 - 1.0).abs() < 5e-4 && (by_hand.1 / 4.384e-7 - 1.0).abs() < 5e-4, "{by_hand:?}");
    let (mut low, mut high) = (273.15, 333.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        let (leaves, comes) = sides(middle);
        if leaves > comes { high = middle } else { low = middle }
    }
    assert!((low - 273.15 - 19.26).abs() < 0.01, "{low}");
    let own = evaporation(10e-3, &liquid(&[("water", 1.0)], 60.0), &gas, &[0.0]);
    assert!((own.temperature - low).abs() < 0.02, "{} {low}", own.temperature);
    let rate = own.mass_rates[0] / (4.0 * PI * 5e-3);
    assert!((rate / sides(low).0 - 1.0).abs() < 1e-3, "{rate} {}", sides(low).0);
}

#[test]
fn stefan_flow_by_hand() {
    // Half of the gas is vapour at the surface, none far away: B = 1, 2 ln 2 = 1.386294. As much far away: P/(P - ps) = 2.
    assert!((stefan_flow(5e4, 0.0, 1e5) - 1.386_294).abs() < 1e-6);
    assert!((stefan_flow(5e4, 5e4, 1e5) - 2.0).abs() < 1e-9);
    assert!((stefan_flow(1.0, 0.0, 1e5) - 1.0).abs() < 1e-5);
    // More vapour than gas: no sense in it, but a number.
    assert!(stefan_flow(2e5, 3e5, 1e5).is_finite());
}

/// Water of 60 C in dry nitrogen: by hand its droplets end at 19.3 C, 2239 Pa over 101,325; at first they are as warm as the gas gets
/// them, but the balance holds from the start. In a carrier at 57.9 kPa of 64 kPa, 90 % is vapour.
#[test]
fn shares_of_vapour_are_looked_at() {
    let solvents = liquid(&[("water", 1.0)], 60.0);
    let thin = mist(2.5e-6, 1.3, 1e-9, 1);
    let gas = nitrogen(60.0);
    let r = dry(&thin, &stage(&solvents, &gas, &[0.0], &[0.0], 0.0, 1e-5));
    assert!((r.vapour_share.at_surface / (2239.0 / ATMOSPHERE) - 1.0).abs() < 0.02, "{:?}", r.vapour_share);
    assert!(r.vapour_share.in_gas < 1e-4);
    let hot = GasState::new(GasSpecies::Nitrogen, 358.15, 64e3);
    let solvents = liquid(&[("water", 1.0)], 85.0);
    let full = equilibrium_pressures(&solvents, hot.temperature);
    let r = dry(&mist(2.5e-6, 1.5, 2e-5, 1), &stage(&solvents, &hot, &full, &[0.0], 0.0, 0.1));
    let VapourShare { in_gas, at_surface } = r.vapour_share;
    assert!((in_gas - 0.904).abs() < 0.005 && (at_surface - 0.904).abs() < 0.005, "{in_gas} {at_surface}");
    // Hotter gas of the same vapour: more evaporates than it can hold, and still there are numbers.
    let hotter = GasState::new(GasSpecies::Nitrogen, 373.15, 64e3);
    let r = dry(&mist(2.5e-6, 1.5, 4e-4, 1), &stage(&solvents, &hotter, &full, &[0.0], 0.0, 0.1));
    assert!(r.vapour_share.in_gas > 0.98 && r.liquid_left.iter().all(|left| left.is_finite()), "{:?}", r.vapour_share);
}

#[test]
fn a_droplet_in_its_own_vapour_neither_cools_nor_shrinks() {
    for celsius in [25.0, 60.0] {
        let solvents = liquid(&[("water", 0.5), ("ethanol", 0.3), ("ethylene glycol", 0.2)], celsius);
        let gas = nitrogen(celsius);
        let diameter = 0.2e-6;
        let over: Vec<f64> = equilibrium_pressures(&solvents, gas.temperature)
            .iter()
            .zip(&solvents)
            .map(|(p, part)| p * part.solvent.kelvin_ratio(diameter, gas.temperature))
            .collect();
        let still = evaporation(diameter, &solvents, &gas, &over);
        let free = evaporation(diameter, &solvents, &gas, &[0.0; 3]);
        assert!((still.temperature - gas.temperature).abs() < 1e-3, "{}", still.temperature);
        for (a, b) in still.mass_rates.iter().zip(&free.mass_rates) {
            assert!(a.abs() < 1e-4 * b, "{a} {b}");
        }
    }
}

#[test]
fn a_lone_droplet_follows_the_d_squared_law() {
    // One ethylene glycol droplet of 40 um, so thin a mist that the gas stays dry. Kelvin and transition effects below 1 %
    // until it is small; from K of the full rate at 40 um: d^2 falls by 40 % when t = 0.4 d0^2/K.
    let solvents = liquid(&[("ethylene glycol", 1.0)], 25.0);
    let gas = nitrogen(25.0);
    let d0 = 40e-6;
    let rate = evaporation(d0, &solvents, &gas, &[0.0]).mass_rates[0];
    let k = 4.0 * rate / (PI * solvents[0].solvent.density * d0);
    let alone = MistClasses::generated([(d0, 1e-3)], 1);
    let result = dry(&alone, &stage(&solvents, &gas, &[0.0], &[0.0], 0.0, 0.4 * d0 * d0 / k));
    assert!((result.liquid_left[0] - 0.6f64.powf(1.5)).abs() < 2e-3, "{}", result.liquid_left[0]);
    // The transition correction lengthens its end: r^2/2 + 0.71 lambda r falls evenly, lambda = 3 * 1.146e-5/319 = 1.08e-7 m,
    // so it lives (1 + 2 * 0.71 * 1.08e-7/2e-5) * (1 - 0.71 * 1.08e-7/2e-5) = 1.004 d0^2/K, and is gone by 1.03.
    let nearly = dry(&alone, &stage(&solvents, &gas, &[0.0], &[0.0], 0.0, 0.95 * d0 * d0 / k));
    assert!(nearly.liquid_left[0] > 0.005 && nearly.liquid_left[0] < 0.015, "{}", nearly.liquid_left[0]);
    let gone = dry(&alone, &stage(&solvents, &gas, &[0.0], &[0.0], 0.0, 1.03 * d0 * d0 / k));
    assert_eq!(gone.liquid_left[0], 0.0);
}

#[test]
fn a_dense_mist_stops_drying_when_its_gas_is_full() {
    // NMP at 25 C, 20 uL/L, dry carrier, long tube. The gas holds M p/(R T) = 0.09913 * 45/2478.96 = 1.7995e-3 kg/m^3; the liquid
    // is 1028 * 2e-5 = 2.056e-2 kg/m^3; so 1 - 0.08753 = 0.9125 is left, but for the Kelvin effect (under 1 % more vapour).
    let solvents = liquid(&[("NMP", 1.0)], 25.0);
    let gas = nitrogen(25.0);
    let result = dry(&mist(2.5e-6, 1.5, 2e-5, 1), &stage(&solvents, &gas, &[0.0], &[0.0], 0.0, 0.5));
    assert!((result.mist_left - 0.9125).abs() < 1e-3, "{}", result.mist_left);
    assert!(result.saturation[0] > 1.0 && result.saturation[0] < 1.01, "{}", result.saturation[0]);
    // With ten times the gas in a dry sheath, fully mixed: 11 * 0.08753 = 0.963 evaporates.
    let wet = dry(&mist(2.5e-6, 1.5, 2e-5, 1), &stage(&solvents, &gas, &[0.0], &[0.0], 10.0, 20.0));
    assert!((wet.mist_left - 0.037).abs() < 5e-3, "{}", wet.mist_left);
    assert!((wet.mixed_vapour[0] / wet.vapour[0] - 1.0).abs() < 1e-6, "all has mixed");
    // The carrier full and nothing of ten times the sheath in it yet: an eleventh.
    let early = dry(&mist(2.5e-6, 1.5, 2e-5, 1), &stage(&solvents, &gas, &[45.0], &[0.0], 10.0, 1e-7));
    assert!((early.mixed_vapour[0] * 11.0 / 45.0 - 1.0).abs() < 1e-3, "{:?}", early.mixed_vapour);
    // With a sheath as moist as equilibrium, nothing evaporates beyond the carrier's share.
    let p = equilibrium_pressures(&solvents, gas.temperature);
    let kept = dry(&mist(2.5e-6, 1.5, 2e-5, 1), &stage(&solvents, &gas, &p, &p, 10.0, 0.5));
    assert!((kept.mist_left - 1.0).abs() < 0.02, "{}", kept.mist_left);
}

#[test]
fn solvents_are_conserved_and_drying_is_monotone() {
    let gas = nitrogen(25.0);
    for parts in [
        vec![("ethanol", 0.5), ("ethylene glycol", 0.5)],
        vec![("NMP", 1.0)],
        vec![("water", 0.8), ("isopropanol", 0.2)],
    ] {
        let solvents = liquid(&parts, 25.0);
        let dry_gas = vec![0.0; parts.len()];
        let full = equilibrium_pressures(&solvents, gas.temperature);
        let part: Vec<f64> = full.iter().map(|p| 0.9 * p).collect();
        let mut before = f64::INFINITY;
        for duration in [1e-5, 1e-4, 1e-3, 1e-2, 0.1, 0.3, 1.0] {
            let r = dry(&mist(2.5e-6, 1.6, 2e-5, parts.len()), &stage(&solvents, &gas, &part, &dry_gas, 3.0, duration));
            assert!(r.balance_gap < 1e-9, "{parts:?} {duration}: {}", r.balance_gap);
            assert!(r.mist_left <= before + 1e-9, "{parts:?} {duration}: {} after {before}", r.mist_left);
            assert!(r.left.iter().flatten().all(|x| *x >= 0.0 && x.is_finite()));
            // larger droplets keep a larger share
            assert!(r.liquid_left.windows(2).all(|w| w[0] <= w[1] + 1e-3), "{parts:?} {duration}");
            before = r.mist_left;
        }
        // a drier sheath leaves less
        let moist = dry(&mist(2.5e-6, 1.6, 2e-5, parts.len()), &stage(&solvents, &gas, &part, &part, 3.0, 0.3));
        let arid = dry(&mist(2.5e-6, 1.6, 2e-5, parts.len()), &stage(&solvents, &gas, &part, &dry_gas, 3.0, 0.3));
        assert!(arid.mist_left < moist.mist_left);
        // the more volatile solvent goes first
        if parts.len() == 2 && parts[0].0 == "ethanol" {
            assert!(arid.left[45][0] < arid.left[45][1]);
        }
    }
}

#[test]
fn what_leaves_the_droplets_is_in_the_gas() {
    // Counted anew from diameters, shares and pressures, without a sheath: mol per m^3 of carrier before and after.
    let solvents = liquid(&[("ethanol", 0.4), ("ethylene glycol", 0.6)], 25.0);
    let gas = nitrogen(25.0);
    let m = mist(2.5e-6, 1.6, 3e-6, 2);
    let r = dry(&m, &stage(&solvents, &gas, &[500.0, 1.0], &[0.0; 2], 0.0, 0.05));
    let per_mass: f64 = solvents.iter().map(|s| s.mass_fraction / s.solvent.density).sum();
    for (i, part) in solvents.iter().enumerate() {
        let content = part.mass_fraction / per_mass / part.solvent.molar_mass;
        let moles = |left: &dyn Fn(usize) -> f64| -> f64 {
            m.0.iter().enumerate().map(|(j, c)| c.number * PI / 6.0 * c.diameter.powi(3) * content * left(j)).sum()
        };
        let before = moles(&|_| 1.0) + [500.0, 1.0][i] / (GAS_CONSTANT * gas.temperature);
        let after = moles(&|j| r.left[j][i]) + r.vapour[i] / (GAS_CONSTANT * gas.temperature);
        assert!((after / before - 1.0).abs() < 1e-9, "{before} {after}");
    }
    assert!(r.mist_left > 0.05 && r.mist_left < 0.9, "the case must be between the ends: {}", r.mist_left);
}

#[test]
fn the_ends_of_the_inputs_are_survived() {
    let sound = |r: &DryingResult| {
        assert!(r.balance_gap < 1e-9);
        assert!(r.left.iter().flatten().chain(&r.liquid_left).chain(&r.vapour).all(|x| x.is_finite() && *x >= 0.0));
    };
    let hot = nitrogen(90.0);
    let cool = nitrogen(25.0);
    for parts in
        [vec![("ethanol", 1.0)], vec![("water", 0.5), ("NMP", 0.5)], vec![("water", 1.0), ("alpha-terpineol", 0.0)]]
    {
        let n = parts.len();
        for gas in [&hot, &cool] {
            let solvents = liquid(&parts, gas.temperature - 273.15);
            let none = vec![0.0; n];
            let over: Vec<f64> =
                equilibrium_pressures(&solvents, gas.temperature).iter().map(|p| (1.05 * p).min(5e4)).collect();
            for m in [
                mist(2.5e-6, 1.8, 1e-4, n),
                mist(0.2e-6, 1.3, 1e-9, n),
                mist(2.5e-6, 1.5, 0.0, n),
                MistClasses(Vec::new()),
            ] {
                for duration in [0.0, 1e-9, 0.3] {
                    sound(&dry(&m, &stage(&solvents, gas, &none, &none, 50.0, duration)));
                    sound(&dry(&m, &stage(&solvents, gas, &over, &none, 0.0, duration)));
                }
            }
        }
    }
}

#[test]
fn two_stages_make_one() {
    let solvents = liquid(&[("ethanol", 0.3), ("ethylene glycol", 0.7)], 25.0);
    let gas = nitrogen(25.0);
    let whole_mist = mist(2.0e-6, 1.5, 1e-5, 2);
    let whole = dry(&whole_mist, &stage(&solvents, &gas, &[0.0; 2], &[0.0; 2], 0.0, 0.02));
    let first = dry(&whole_mist, &stage(&solvents, &gas, &[0.0; 2], &[0.0; 2], 0.0, 0.005));
    let mut between = whole_mist.clone();
    between.0.iter_mut().zip(&first.left).for_each(|(class, left)| class.left.clone_from(left));
    let second = dry(&between, &stage(&solvents, &gas, &first.vapour, &[0.0; 2], 0.0, 0.015));
    for (a, b) in whole.liquid_left.iter().zip(&second.liquid_left) {
        assert!((a - b).abs() < 2e-3, "{a} {b}");
    }
}

#[test]
fn fine_explicit_steps_give_the_same() {
    // 20,000 explicit Euler steps for one class and one solvent against the implicit solver.
    let solvents = liquid(&[("isopropanol", 1.0)], 25.0);
    let gas = nitrogen(25.0);
    let (d0, number, duration) = (4e-6, 1e11, 3e-4);
    let density = solvents[0].solvent.density;
    let mut mass = density * PI / 6.0 * f64::powi(d0, 3);
    let start = mass;
    let steps = 20_000;
    for _ in 0..steps {
        let vapour = (start - mass) * number / solvents[0].solvent.molar_mass * GAS_CONSTANT * gas.temperature;
        let d = (6.0 * mass / (PI * density)).cbrt();
        mass -= evaporation(d, &solvents, &gas, &[vapour]).mass_rates[0] * duration / f64::from(steps);
    }
    let r = dry(&MistClasses::generated([(d0, number)], 1), &stage(&solvents, &gas, &[0.0], &[0.0], 0.0, duration));
    assert!((r.liquid_left[0] - mass / start).abs() < 1e-3, "{} {}", r.liquid_left[0], mass / start);
    assert!(
        r.liquid_left[0] > 0.2 && r.liquid_left[0] < 0.95,
        "the case must be between the ends: {}",
        r.liquid_left[0]
    );
}

#[test]
fn drying_is_quick_enough() {
    // Counted in steps, not seconds: a step costs about 20 us for 60 classes and 2 solvents (one core), so this is under 50 ms.
    let solvents = liquid(&[("ethanol", 0.5), ("ethylene glycol", 0.5)], 25.0);
    let gas = nitrogen(25.0);
    let r = dry(&mist(2.5e-6, 1.6, 2e-5, 2), &stage(&solvents, &gas, &[0.0; 2], &[0.0; 2], 3.0, 1.0));
    assert!(r.steps < 2000 && r.tolerance == STEP_TOLERANCE, "{} steps", r.steps);
}
