//! Solvent properties.

use std::f64::consts::PI;
use std::fmt;

use crate::constants::{ATMOSPHERE, CELSIUS_ZERO, GAS_CONSTANT};

/// A solvent at the temperature of ink and head. SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Solvent {
    /// Name as the user wrote it or as built in.
    pub name: String,
    /// Molar mass, kg/mol.
    pub molar_mass: f64,
    /// Liquid density, kg/m^3.
    pub density: f64,
    /// Liquid viscosity, Pa s.
    pub viscosity: f64,
    /// Surface tension, N/m.
    pub surface_tension: f64,
    /// Latent heat of evaporation, J/kg.
    pub latent_heat: f64,
    /// Saturation vapour pressure at `vapour_temperature`, Pa.
    pub vapour_pressure: f64,
    /// Temperature of `vapour_pressure`, K.
    pub vapour_temperature: f64,
    /// Heat capacity of the vapour at constant pressure, J/(kg K).
    pub vapour_heat_capacity: f64,
    /// What it does at other temperatures, if it is built in.
    pub table: Option<Table>,
    /// Diffusivity of the vapour in the gas at 298.15 K and one atmosphere, m^2/s.
    pub diffusivity: f64,
    /// Flash point, K, if it has one that matters.
    pub flash_point: Option<f64>,
    /// Whether it is toxic to reproduction (NMP).
    pub reproductive_toxicity: bool,
}

/// Temperature of [`Solvent::diffusivity`], K.
pub const DIFFUSIVITY_TEMPERATURE: f64 = 298.15;

/// Heat capacity of a vapour that is not known better, J/(kg K). An ESTIMATE: vapours of organic liquids lie between 1000 and 1900.
/// It slows the evaporation of a cooled droplet by at most some 5 %.
pub const USUAL_VAPOUR_HEAT_CAPACITY: f64 = 1400.0;

/// One row of a property table.
#[derive(Debug, PartialEq)]
struct Row {
    /// C.
    celsius: f64,
    /// Pa.
    vapour_pressure: f64,
    /// kg/m^3.
    density: f64,
    /// N/m.
    surface_tension: f64,
    /// Pa s.
    viscosity: f64,
    /// J/kg.
    latent_heat: f64,
}

/// A built-in solvent.
#[derive(Debug, PartialEq)]
struct BuiltIn {
    names: &'static [&'static str],
    molar_mass: f64,
    diffusivity: f64,
    vapour_heat_capacity: f64,
    flash_point_celsius: Option<f64>,
    reproductive_toxicity: bool,
    rows: &'static [Row],
}

const fn row(
    celsius: f64,
    vapour_pressure: f64,
    density: f64,
    surface_tension: f64,
    viscosity: f64,
    latent_heat: f64,
) -> Row {
    Row { celsius, vapour_pressure, density, surface_tension, viscosity, latent_heat }
}

/// Built-in solvents.
///
/// Water, ethanol, isopropanol and ethylene glycol: pure-component correlations of the usual data banks (DIPPR/Perry, VDI, Yaws,
/// CRC, reference equations), evaluated at the stated temperatures; other compilations lie within 5 % in vapour pressure, and
/// within 5 % (ethylene glycol 5-10 %) in the rest. Diffusivity in nitrogen: Fuller, Schettler & Giddings 1966, Ind. Eng. Chem.
/// 58(5):18, with constants from Poling, Prausnitz & O'Connell 2001; within 5 %, and 2-10 % too high in argon.
///
/// NMP and alpha-terpineol are badly estimated by those correlations (their viscosities by factors of 3 and 50). They carry handbook
/// and data-sheet values at 25 C from memory, +-3 % (NMP vapour pressure 32 Pa at 20 C and 45 Pa at 25 C; alpha-terpineol
/// viscosity +-50 %). Away from 25 C: density and surface tension with the slopes of the correlations, NMP's vapour pressure
/// from its two values on by the correlation's ratio, viscosity by an activation energy that is an ESTIMATE (NMP 14 kJ/mol,
/// alpha-terpineol 50 kJ/mol). The vapour pressure of alpha-terpineol is uncertain by a factor of 3 (values near 6 Pa at 25 C are quoted too).
///
/// Heat capacities of vapours, as ideal gases near 40 C: reference equations (water, ethanol, ethylene glycol), TRC (isopropanol); of
/// alpha-terpineol by Joback's groups, of NMP an ESTIMATE. Droplets of the last three hardly cool.
///
/// Flash points: NIOSH Pocket Guide (isopropanol 12 C), the others from memory of safety data sheets.
const BUILT_IN: &[BuiltIn] = &[
    BuiltIn {
        names: &["water", "h2o"],
        molar_mass: 18.015_28e-3,
        diffusivity: 2.577e-5,
        vapour_heat_capacity: 1870.0,
        flash_point_celsius: None,
        reproductive_toxicity: false,
        rows: &[
            row(0.0, 611.2, 999.843, 0.075_65, 0.001_784, 2_500_900.0),
            row(20.0, 2339.3, 998.208, 0.072_74, 0.001_002, 2_453_500.0),
            row(25.0, 3169.9, 997.048, 0.071_97, 0.000_89, 2_441_700.0),
            row(40.0, 7384.9, 992.217, 0.069_6, 0.000_652_7, 2_406_000.0),
            row(60.0, 19_946.0, 983.196, 0.066_24, 0.000_466, 2_357_700.0),
            row(80.0, 47_414.0, 971.791, 0.062_67, 0.000_354_1, 2_308_000.0),
            row(100.0, 101_418.0, 958.353, 0.058_91, 0.000_281_6, 2_256_400.0),
        ],
    },
    BuiltIn {
        names: &["ethanol", "etoh", "ethyl alcohol"],
        molar_mass: 46.068_44e-3,
        diffusivity: 1.26e-5,
        vapour_heat_capacity: 1470.0,
        flash_point_celsius: Some(13.0),
        reproductive_toxicity: false,
        rows: &[
            row(0.0, 1601.8, 806.414, 0.023_97, 0.001_819, 945_940.0),
            row(20.0, 5875.7, 789.421, 0.022_35, 0.001_194, 926_010.0),
            row(25.0, 7885.4, 785.133, 0.021_95, 0.001_082, 920_660.0),
            row(40.0, 17_880.0, 772.091, 0.020_72, 0.000_819_5, 903_520.0),
            row(60.0, 46_734.0, 754.054, 0.019_03, 0.000_584_4, 877_530.0),
            row(80.0, 107_804.0, 734.853, 0.017_24, 0.000_430_2, 847_010.0),
            row(100.0, 224_180.0, 714.017, 0.015_33, 0.000_324_4, 810_920.0),
        ],
    },
    BuiltIn {
        names: &["isopropanol", "ipa", "2 propanol", "propan 2 ol", "isopropyl alcohol"],
        molar_mass: 60.095_02e-3,
        diffusivity: 1.053e-5,
        vapour_heat_capacity: 1550.0,
        flash_point_celsius: Some(12.0),
        reproductive_toxicity: false,
        rows: &[
            row(0.0, 1027.4, 805.695, 0.022_88, 0.004_576, 799_160.0),
            row(20.0, 4207.2, 786.75, 0.021_26, 0.002_383, 769_290.0),
            row(25.0, 5779.9, 781.871, 0.020_85, 0.002_05, 761_600.0),
            row(40.0, 13_925.0, 766.883, 0.019_61, 0.001_342, 737_940.0),
            row(60.0, 38_655.0, 745.973, 0.017_94, 0.000_807, 704_670.0),
            row(80.0, 92_756.0, 723.809, 0.016_23, 0.000_512_2, 668_990.0),
            row(100.0, 197_208.0, 700.160, 0.014_48, 0.000_341_9, 630_230.0),
        ],
    },
    BuiltIn {
        names: &[
            "nmp",
            "n methyl 2 pyrrolidone",
            "n methylpyrrolidone",
            "1 methyl 2 pyrrolidone",
            "n methyl pyrrolidone",
        ],
        molar_mass: 99.131_06e-3,
        diffusivity: 8.231e-6,
        vapour_heat_capacity: 1300.0,
        flash_point_celsius: Some(91.0),
        reproductive_toxicity: true,
        // Vapour pressure above 25 C: correlation times 45/42.14. Viscosity: 1.67 mPa s exp(14 kJ/mol/R (1/T - 1/298.15 K)).
        rows: &[
            row(20.0, 32.0, 1031.1, 0.041_27, 0.001_840, 560_140.0),
            row(25.0, 45.0, 1028.0, 0.040_7, 0.001_67, 556_260.0),
            row(40.0, 129.6, 1018.5, 0.038_99, 0.001_274, 544_930.0),
            row(60.0, 457.9, 1005.4, 0.036_74, 0.000_923, 530_480.0),
            row(80.0, 1382.5, 991.6, 0.034_51, 0.000_693, 516_640.0),
        ],
    },
    BuiltIn {
        names: &["ethylene glycol", "eg", "ethane 1,2 diol", "1,2 ethanediol", "monoethylene glycol"],
        molar_mass: 62.067_84e-3,
        diffusivity: 1.146e-5,
        vapour_heat_capacity: 1370.0,
        flash_point_celsius: Some(111.0),
        reproductive_toxicity: false,
        rows: &[
            row(20.0, 7.5697, 1113.39, 0.048_67, 0.020_84, 1_070_300.0),
            row(25.0, 11.941, 1109.88, 0.048_22, 0.016_84, 1_064_600.0),
            row(40.0, 42.391, 1099.3, 0.046_88, 0.009_628, 1_047_800.0),
            row(60.0, 186.99, 1085.04, 0.045_08, 0.005_221, 1_025_800.0),
            row(80.0, 678.23, 1070.49, 0.043_25, 0.003_163, 1_004_200.0),
        ],
    },
    BuiltIn {
        names: &["alpha terpineol", "terpineol"],
        molar_mass: 154.249_3e-3,
        diffusivity: 5.987e-6,
        vapour_heat_capacity: 1400.0,
        flash_point_celsius: Some(90.0),
        reproductive_toxicity: false,
        // Density and surface tension shifted to 931 kg/m^3 and 32.5 mN/m at 25 C; viscosity 37 mPa s at 25 C, 50 kJ/mol.
        rows: &[
            row(20.0, 12.482, 933.9, 0.033_08, 0.052_2, 457_090.0),
            row(25.0, 18.407, 931.0, 0.032_5, 0.037, 452_790.0),
            row(40.0, 54.795, 921.9, 0.030_78, 0.014_1, 440_340.0),
            row(60.0, 201.4, 909.2, 0.028_5, 0.004_46, 424_670.0),
            row(80.0, 638.74, 895.5, 0.026_23, 0.001_60, 409_900.0),
        ],
    },
];

/// The table of a built-in solvent, and the temperature (K) at which the solvent's density and latent heat were read from it.
#[derive(Clone, Copy, PartialEq)]
pub struct Table {
    of: &'static BuiltIn,
    temperature: f64,
}

impl fmt::Debug for Table {
    /// Its name stands for its rows, which never change.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Table").field(&self.of.names[0]).field(&self.temperature).finish()
    }
}

impl BuiltIn {
    /// The two neighbouring rows between which a temperature (C) lies, or the nearest two.
    fn around(&self, celsius: f64) -> [&Row; 2] {
        let last = self.rows.len() - 2;
        let i = self.rows[1..=last].iter().take_while(|r| celsius >= r.celsius).count();
        [&self.rows[i], &self.rows[i + 1]]
    }
}

/// Vapour pressure and latent heat over temperature, in pieces that are quick to look up: ln p = level - slope/T and L = heat +
/// heat_slope (T - from), p in Pa, T in K, L in J/kg.
#[derive(Debug, Clone)]
pub struct VapourCurve {
    /// By rising temperature; the first and the last reach as far as wanted.
    pieces: Vec<Piece>,
}

#[derive(Debug, Clone, Copy)]
struct Piece {
    from: f64,
    level: f64,
    slope: f64,
    heat: f64,
    heat_slope: f64,
}

impl VapourCurve {
    #[inline]
    fn piece(&self, temperature: f64) -> &Piece {
        let above = &self.pieces[1..];
        let number = above.iter().take_while(|piece| piece.from <= temperature).count();
        &self.pieces[number]
    }

    /// Logarithm of the vapour pressure (Pa) over the flat liquid, and the temperature S (K) such that it rises by S/T^2 per kelvin.
    #[inline]
    pub fn log_pressure(&self, temperature: f64) -> (f64, f64) {
        let piece = self.piece(temperature);
        (piece.level - piece.slope / temperature, piece.slope)
    }

    /// Latent heat, J/kg.
    #[inline]
    pub fn latent_heat(&self, temperature: f64) -> f64 {
        let piece = self.piece(temperature);
        piece.heat + piece.heat_slope * (temperature - piece.from)
    }
}

/// A name without what does not matter in it.
fn plain_name(name: &str) -> String {
    name.trim().to_lowercase().replace(['-', '_'], " ")
}

impl Solvent {
    /// Built-in properties at a temperature (K), or `None` for an unknown name. Case, hyphens and underscores do not matter.
    ///
    /// Linear between the tabulated temperatures in density, surface tension and latent heat; in viscosity and vapour pressure
    /// the logarithm is linear in 1/T. Between [`Solvent::tabulated`] temperatures, extrapolated outside.
    pub fn built_in(name: &str, temperature: f64) -> Option<Self> {
        let found = BUILT_IN.iter().find(|s| s.names.contains(&plain_name(name).as_str()))?;
        let celsius = temperature - CELSIUS_ZERO;
        let [a, b] = found.around(celsius);
        let linear = (celsius - a.celsius) / (b.celsius - a.celsius);
        let inverse = |c: f64| 1.0 / (c + CELSIUS_ZERO);
        let arrhenius = (1.0 / temperature - inverse(a.celsius)) / (inverse(b.celsius) - inverse(a.celsius));
        let straight = |x: f64, y: f64| x + linear * (y - x);
        let curved = |x: f64, y: f64| x * (y / x).powf(arrhenius);
        Some(Self {
            name: found.names[0].to_owned(),
            molar_mass: found.molar_mass,
            density: straight(a.density, b.density),
            viscosity: curved(a.viscosity, b.viscosity),
            surface_tension: straight(a.surface_tension, b.surface_tension),
            latent_heat: straight(a.latent_heat, b.latent_heat),
            vapour_pressure: curved(a.vapour_pressure, b.vapour_pressure),
            vapour_temperature: temperature,
            vapour_heat_capacity: found.vapour_heat_capacity,
            table: Some(Table { of: found, temperature }),
            diffusivity: found.diffusivity,
            flash_point: found.flash_point_celsius.map(|c| c + CELSIUS_ZERO),
            reproductive_toxicity: found.reproductive_toxicity,
        })
    }

    /// Temperatures between which a built-in solvent is tabulated, K; `None` for an unknown name.
    pub fn tabulated(name: &str) -> Option<[f64; 2]> {
        let found = BUILT_IN.iter().find(|solvent| solvent.names.contains(&plain_name(name).as_str()))?;
        Some([found.rows.first()?.celsius, found.rows.last()?.celsius].map(|celsius| celsius + CELSIUS_ZERO))
    }

    /// Names that [`Solvent::built_in`] knows (each also under common other names).
    pub fn built_in_names() -> &'static [&'static str] {
        const NAMES: [&str; BUILT_IN.len()] = {
            let mut names = [""; BUILT_IN.len()];
            let mut i = 0;
            while i < BUILT_IN.len() {
                names[i] = BUILT_IN[i].names[0];
                i += 1;
            }
            names
        };
        &NAMES
    }

    /// Saturation vapour pressure over the flat pure liquid, Pa, at a temperature (K); see [`Solvent::vapour_curve`].
    pub fn saturation_pressure(&self, temperature: f64) -> f64 {
        self.vapour_curve().log_pressure(temperature).0.exp()
    }

    /// How vapour pressure and latent heat go with temperature.
    ///
    /// Built in: as the table's, within 0.5 % of the relations that it was made from, both in proportion to what the user gives. Others:
    /// p = p0 exp(L M/R (1/T0 - 1/T)) (Clausius-Clapeyron with constant latent heat L). Range: some 30 K about `vapour_temperature`.
    pub fn vapour_curve(&self) -> VapourCurve {
        let Some(Table { of, temperature }) = self.table else {
            let slope = self.latent_heat * self.molar_mass / GAS_CONSTANT;
            let level = self.vapour_pressure.ln() + slope / self.vapour_temperature;
            let piece = Piece { from: self.vapour_temperature, level, slope, heat: self.latent_heat, heat_slope: 0.0 };
            return VapourCurve { pieces: vec![piece] };
        };
        let piece = |rows: &[Row]| {
            let [from, to] = [&rows[0], &rows[1]].map(|row| row.celsius + CELSIUS_ZERO);
            let slope = (rows[1].vapour_pressure / rows[0].vapour_pressure).ln() / (1.0 / from - 1.0 / to);
            let heat_slope = (rows[1].latent_heat - rows[0].latent_heat) / (to - from);
            let level = rows[0].vapour_pressure.ln() + slope / from;
            Piece { from, level, slope, heat: rows[0].latent_heat, heat_slope }
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

    /// By how much of its volume the liquid grows per kelvin, 1/K, and from which temperature on, K: that at which the solvent was read from
    /// its table. It does not grow if it is not built in.
    pub fn expansion(&self) -> (f64, f64) {
        self.table.map_or((0.0, self.vapour_temperature), |Table { of, temperature }| {
            let [a, b] = of.around(temperature - CELSIUS_ZERO);
            let per_kelvin = 2.0 * (a.density - b.density) / ((a.density + b.density) * (b.celsius - a.celsius));
            (per_kelvin, temperature)
        })
    }

    /// Diffusivity of the vapour, m^2/s, at a temperature (K) and pressure (Pa): proportional to T^1.75/p.
    ///
    /// Source: Fuller, Schettler & Giddings 1966, A new method for prediction of binary gas-phase diffusion coefficients,
    /// Ind. Eng. Chem. 58(5):18.
    pub fn vapour_diffusivity(&self, temperature: f64, pressure: f64) -> f64 {
        self.diffusivity * (temperature / DIFFUSIVITY_TEMPERATURE).powf(1.75) * (ATMOSPHERE / pressure)
    }

    /// Length of the Kelvin effect, m, at a temperature (K): 4 sigma M/(rho R T); see [`Solvent::kelvin_ratio`].
    pub fn kelvin_length(&self, temperature: f64) -> f64 {
        4.0 * self.surface_tension * self.molar_mass / (self.density * GAS_CONSTANT * temperature)
    }

    /// Vapour pressure over a droplet of a diameter (m) relative to the flat liquid: exp(4 sigma M/(rho R T d)).
    ///
    /// Source: Thomson 1871, On the equilibrium of vapour at a curved surface of liquid, Phil. Mag. 42:448.
    pub fn kelvin_ratio(&self, diameter: f64, temperature: f64) -> f64 {
        (self.kelvin_length(temperature) / diameter).exp()
    }

    /// Mean speed of the vapour's molecules, m/s: sqrt(8 R T/(pi M)).
    pub fn molecular_speed(&self, temperature: f64) -> f64 {
        (8.0 * GAS_CONSTANT * temperature / (PI * self.molar_mass)).sqrt()
    }
}

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
    fn names_are_forgiving() {
        let nmp = Solvent::built_in("N-Methyl-2-Pyrrolidone", 298.15).expect("known");
        assert_eq!(nmp, Solvent::built_in("nmp", 298.15).expect("known"));
        assert!(nmp.reproductive_toxicity && nmp.vapour_pressure == 45.0);
        assert_eq!(Solvent::built_in("IPA", 293.15).expect("known").name, "isopropanol");
        assert!(Solvent::built_in("ethylene_glycol", 293.15).is_some() && Solvent::built_in("gin", 293.15).is_none());
        for name in Solvent::built_in_names() {
            assert!(Solvent::built_in(name, 300.0).is_some_and(|s| s.name == *name));
        }
    }

    #[test]
    fn tables_are_met_and_joined() {
        let at = |c: f64| Solvent::built_in("water", CELSIUS_ZERO + c).expect("known");
        assert!((at(20.0).vapour_pressure - 2339.3).abs() < 1e-9);
        assert!((at(60.0).viscosity - 4.66e-4).abs() < 1e-12);
        assert!((at(80.0).density - 971.791).abs() < 1e-9);
        // halfway 40-60 C: (992.217 + 983.196)/2 = 987.7065
        assert!((at(50.0).density - 987.7065).abs() < 1e-9);
        // 50 C: 7384.9 (19946/7384.9)^0.51547 = 12324.7 Pa by hand; the reference (IAPWS-95, from memory) is 12352 Pa, 0.2 % above
        assert!((at(50.0).vapour_pressure / 12_324.7 - 1.0).abs() < 1e-4);
        for name in Solvent::built_in_names() {
            for c in [5.0, 20.0, 25.0, 40.0, 59.999, 60.0] {
                let (a, b) = (CELSIUS_ZERO + c, CELSIUS_ZERO + c + 1.0);
                let (a, b) = (Solvent::built_in(name, a).expect("known"), Solvent::built_in(name, b).expect("known"));
                assert!(b.vapour_pressure > a.vapour_pressure && b.viscosity < a.viscosity && b.density < a.density);
                assert!(b.vapour_pressure < 1.15 * a.vapour_pressure, "{name} jumps at {c} C");
            }
        }
    }

    #[test]
    fn clausius_clapeyron_by_hand() {
        let own = Solvent { table: None, ..Solvent::built_in("water", 298.15).expect("known") };
        // 2441700 * 0.01801528/8.314463 = 5290.51 K; 1/298.15 - 1/288.15 = -1.163997e-4; 3169.9 * exp(-0.615814) = 1712.5
        assert!((own.saturation_pressure(288.15) - 1712.5).abs() < 0.5);
        assert_eq!(own.vapour_curve().latent_heat(350.0), own.latent_heat);
    }

    /// What the table says at a temperature does not depend on the one at which the solvent was read; what the user gives scales it.
    #[test]
    fn a_built_in_solvent_follows_its_table_from_any_temperature() {
        for name in Solvent::built_in_names() {
            let read = |celsius: f64| Solvent::built_in(name, CELSIUS_ZERO + celsius).expect("known");
            for t in [2.0, 20.0, 33.0, 60.0, 79.0] {
                let there = read(t);
                for from in [22.0, 60.0, 90.0] {
                    let curve = read(from).vapour_curve();
                    let (log, _) = curve.log_pressure(CELSIUS_ZERO + t);
                    assert!((log.exp() / there.vapour_pressure - 1.0).abs() < 1e-9, "{name} at {t} C read at {from} C");
                    let heat = curve.latent_heat(CELSIUS_ZERO + t);
                    assert!((heat / there.latent_heat - 1.0).abs() < 1e-9, "{name} at {t} C read at {from} C");
                }
            }
        }
        // Half as much again at 25 C and a tenth less heat at 60 C: so everywhere.
        let plain = Solvent::built_in("ethanol", CELSIUS_ZERO + 60.0).expect("known");
        let mine = Solvent {
            vapour_pressure: 1.5 * 7885.4,
            vapour_temperature: CELSIUS_ZERO + 25.0,
            latent_heat: 0.9 * 877_530.0,
            ..plain.clone()
        };
        let (cool, warm) = (CELSIUS_ZERO + 10.0, CELSIUS_ZERO + 70.0);
        assert!((mine.saturation_pressure(warm) / plain.saturation_pressure(warm) - 1.5).abs() < 1e-9);
        let [own, table] = [&mine, &plain].map(|solvent| solvent.vapour_curve().latent_heat(cool));
        assert!((own / table - 0.9).abs() < 1e-9);
        // (754.054 - 734.853)/(744.4535 * 20) = 1.2896e-3 per kelvin
        let (per_kelvin, from) = plain.expansion();
        assert!((per_kelvin / 1.289_6e-3 - 1.0).abs() < 1e-4 && from == CELSIUS_ZERO + 60.0);
    }

    #[test]
    fn diffusivity_and_kelvin_effect_by_hand() {
        let water = Solvent::built_in("water", 298.15).expect("known");
        assert!((water.vapour_diffusivity(298.15, 2.0 * ATMOSPHERE) / (2.577e-5 / 2.0) - 1.0).abs() < 1e-12);
        // 4 * 0.07197 * 0.01801528/(997.048 * 8.314463 * 298.15) = 5.186239e-3/2.471616e6 = 2.09832e-9 m; over 0.1 um: e^0.0209832
        assert!((water.kelvin_ratio(0.1e-6, 298.15) - 1.021_205).abs() < 1e-5);
    }

    #[test]
    fn mixtures_by_hand() {
        // 1/(0.3/1000 + 0.7/800) = 1/(0.0003 + 0.000875) = 851.0638
        assert!((mixture_density(&[(0.3, 1000.0), (0.7, 800.0)]) - 851.0638).abs() < 1e-3);
        // sqrt(1e-3 * 16e-3) = 4e-3
        assert!((mixture_viscosity(&[(0.5, 1e-3), (0.5, 16e-3)]) - 4e-3).abs() < 1e-12);
        assert!((mixture_surface_tension(&[(0.25, 0.072), (0.75, 0.024)]) - 0.036).abs() < 1e-12);
    }
}
