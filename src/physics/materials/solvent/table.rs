//! Tables of the built-in solvents.

use std::fmt;

/// One row of a property table.
#[derive(Debug, PartialEq)]
pub(super) struct PropertyRow {
    /// C.
    pub(crate) celsius: f64,
    /// Pa.
    pub(crate) vapour_pressure: f64,
    /// kg/m^3.
    pub(crate) density: f64,
    /// N/m.
    pub(crate) surface_tension: f64,
    /// Pa s.
    pub(crate) viscosity: f64,
    /// J/kg.
    pub(crate) latent_heat: f64,
}

/// A built-in solvent.
#[derive(Debug, PartialEq)]
pub(super) struct BuiltIn {
    pub(crate) names: &'static [&'static str],
    pub(crate) molar_mass: f64,
    pub(crate) diffusivity: f64,
    pub(crate) vapour_heat_capacity: f64,
    pub(crate) flash_point_celsius: Option<f64>,
    pub(crate) reproductive_toxicity: bool,
    pub(crate) rows: &'static [PropertyRow],
}

const fn row(
    celsius: f64,
    vapour_pressure: f64,
    density: f64,
    surface_tension: f64,
    viscosity: f64,
    latent_heat: f64,
) -> PropertyRow {
    PropertyRow { celsius, vapour_pressure, density, surface_tension, viscosity, latent_heat }
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
pub(super) const BUILT_IN: &[BuiltIn] = &[
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
pub struct SolventTable {
    pub(super) of: &'static BuiltIn,
    pub(super) temperature: f64,
}

impl fmt::Debug for SolventTable {
    /// Its name stands for its rows, which never change.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Table").field(&self.of.names[0]).field(&self.temperature).finish()
    }
}

impl BuiltIn {
    /// The two neighbouring rows between which a temperature (C) lies, or the nearest two.
    pub(crate) fn around(&self, celsius: f64) -> [&PropertyRow; 2] {
        let last = self.rows.len() - 2;
        let i = self.rows[1..=last].iter().take_while(|r| celsius >= r.celsius).count();
        [&self.rows[i], &self.rows[i + 1]]
    }
}
