//! What a key of a scenario file is: its unit, range, default, and the section in which it stands.

/// A unit in which a value is written. SI value = `zero` + written value times `si`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Unit {
    /// How keys end.
    pub(crate) suffix: &'static str,
    /// How it is written in text.
    pub(crate) symbol: &'static str,
    /// SI units per unit.
    pub(crate) si: f64,
    /// SI value at 0.
    pub(crate) zero: f64,
    /// What it measures: units of the same kind are the ones that get mixed up.
    pub(crate) kind: &'static str,
}

impl Unit {
    /// SI from the written value.
    pub(crate) fn to_si(self, written: f64) -> f64 {
        self.zero + written * self.si
    }

    /// Written value from SI.
    pub(crate) fn of_si(self, si: f64) -> f64 {
        (si - self.zero) / self.si
    }

    /// A value with its unit.
    pub(crate) fn show(self, written: f64) -> String {
        let space = if self.symbol.is_empty() { "" } else { " " };
        format!("{}{space}{}", show_number(written), self.symbol)
    }
}

/// A number as a person would write it.
pub(crate) fn show_number(value: f64) -> String {
    let size = value.abs();
    if value == 0.0 || (1e-4..1e7).contains(&size) { format!("{value}") } else { format!("{value:e}") }
}

macro_rules! units {
    ($($name:ident $suffix:literal $symbol:literal $si:expr, $zero:expr, $kind:literal;)*) => {
        $(#[allow(missing_docs)] pub(crate) const $name: Unit = Unit { suffix: $suffix, symbol: $symbol, si: $si, zero: $zero, kind: $kind };)*
        /// Every unit a key may end with, and the ones that users reach for by mistake.
        pub(crate) const UNITS: &[Unit] = &[$($name),*];
    };
}

units! {
    UM "um" "µm" 1e-6, 0.0, "length";
    NM "nm" "nm" 1e-9, 0.0, "length";
    MM "mm" "mm" 1e-3, 0.0, "length";
    CM "cm" "cm" 1e-2, 0.0, "length";
    M "m" "m" 1.0, 0.0, "length";
    S "s" "s" 1.0, 0.0, "time";
    MS "ms" "ms" 1e-3, 0.0, "time";
    MIN "min" "min" 60.0, 0.0, "time";
    MM_S "mm_s" "mm/s" 1e-3, 0.0, "speed";
    UM_S "um_s" "µm/s" 1e-6, 0.0, "speed";
    MM_MIN "mm_min" "mm/min" 1e-3 / 60.0, 0.0, "speed";
    M_S "m_s" "m/s" 1.0, 0.0, "speed";
    M_S2 "m_s2" "m/s^2" 1.0, 0.0, "acceleration";
    MM_S2 "mm_s2" "mm/s^2" 1e-3, 0.0, "acceleration";
    CELSIUS "c" "C" 1.0, 273.15, "temperature";
    KELVIN "k" "K" 1.0, 0.0, "temperature";
    KPA "kpa" "kPa" 1e3, 0.0, "pressure";
    PA "pa" "Pa" 1.0, 0.0, "pressure";
    MBAR "mbar" "mbar" 100.0, 0.0, "pressure";
    BAR "bar" "bar" 1e5, 0.0, "pressure";
    SCCM "sccm" "sccm" 1e-6 / 60.0, 0.0, "flow";
    SLM "slm" "slm" 1e-3 / 60.0, 0.0, "flow";
    MHZ "mhz" "MHz" 1e6, 0.0, "frequency";
    KHZ "khz" "kHz" 1e3, 0.0, "frequency";
    DEG "deg" "deg" std::f64::consts::PI / 180.0, 0.0, "angle";
    RAD "rad" "rad" 1.0, 0.0, "angle";
    PERCENT "percent" "%" 1e-2, 0.0, "share";
    RATIO "" "" 1.0, 0.0, "share";
    PERCENT_PER_H "percent_per_h" "%/h" 1e-2 / 3600.0, 0.0, "drift";
    ML "ml" "mL" 1e-6, 0.0, "volume";
    UL_PER_L "ul_per_l" "µL/L" 1e-6, 0.0, "load";
    KV "kv" "kV" 1e3, 0.0, "voltage";
    V "v" "V" 1.0, 0.0, "voltage";
    G_CM3 "g_cm3" "g/cm^3" 1e3, 0.0, "density";
    KG_M3 "kg_m3" "kg/m^3" 1.0, 0.0, "density";
    MPA_S "mpa_s" "mPa s" 1e-3, 0.0, "viscosity";
    PA_S "pa_s" "Pa s" 1.0, 0.0, "viscosity";
    MN_M "mn_m" "mN/m" 1e-3, 0.0, "surface tension";
    N_M "n_m" "N/m" 1.0, 0.0, "surface tension";
    MM2_S "mm2_s" "mm^2/s" 1e-6, 0.0, "diffusivity";
    CM2_S "cm2_s" "cm^2/s" 1e-4, 0.0, "diffusivity";
    G_MOL "g_mol" "g/mol" 1e-3, 0.0, "molar mass";
    KJ_KG "kj_kg" "kJ/kg" 1e3, 0.0, "latent heat";
    MAH_G "mah_g" "mAh/g" 3600.0, 0.0, "specific capacity";
    COUNT "" "" 1.0, 0.0, "count";
}

/// A number: unit, least and largest value as written, and why no others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Number {
    /// Unit as written.
    pub(crate) unit: Unit,
    /// Least value as written.
    pub(crate) least: f64,
    /// Largest value as written.
    pub(crate) most: f64,
    /// Why.
    pub(crate) why: &'static str,
}

/// What a key holds.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Kind {
    /// A number.
    Number(Number),
    /// A list of numbers.
    Numbers(Number),
    /// `[x, y]`.
    Point(Number),
    /// A list of at least so many points.
    Points(Number, usize),
    /// A whole number from the first to the second.
    Integer(u64, u64),
    /// A whole number in the range, or "auto".
    IntegerOrAuto(u64, u64),
    /// Any text.
    Text,
    /// One of these words.
    Choice(&'static [&'static str]),
    /// A list of these words.
    Choices(&'static [&'static str]),
    /// true or false.
    Flag,
    /// A section `[name]`.
    Table(&'static Section),
    /// Repeated sections `[[name]]`.
    Tables(&'static Section),
    /// Repeated sections `[[name]]` whose keys depend on `kind`.
    Shapes(&'static [Section]),
}

/// What happens when a key is left out.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Need {
    /// It is a fault.
    Required,
    /// It means something by itself.
    Optional,
    /// This value, as written, is well known or harmless.
    Default(f64),
    /// This word.
    Word(&'static str),
    /// This value, as written, is a guess that nobody has measured; with advice how to measure it.
    Assumed(f64, &'static str),
    /// It follows from another key, which is as good as a guess; with advice how to measure it.
    Follows(&'static str),
}

/// One key.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Key {
    /// As written.
    pub(crate) name: &'static str,
    /// What it holds.
    pub(crate) kind: Kind,
    /// What if it is left out.
    pub(crate) need: Need,
    /// What it means.
    pub(crate) help: &'static str,
}

/// Keys that stand together.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Section {
    /// Name, or the `kind` of a shape.
    pub(crate) name: &'static str,
    /// What it is about.
    pub(crate) help: &'static str,
    /// Its keys in the order of the echo.
    pub(crate) keys: &'static [Key],
}

impl Section {
    /// The key of that name.
    pub(crate) fn key(&self, name: &str) -> Option<&'static Key> {
        self.keys.iter().find(|key| key.name == name)
    }
}
