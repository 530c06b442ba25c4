//! What test lines taught: quantities that can be measured on them, and what a calibration holds.

use motefall_physics::figure_kinds::{Figure, ItemFigure, RegionFigure};
use motefall_physics::words::words;
use statrs::distribution::{ContinuousCDF, Normal};

/// Something that can be measured on a printed line, spot or coupon.
#[derive(Debug, PartialEq)]
pub struct Quantity {
    /// Name in words.
    pub label: &'static str,
    /// Its column in a measurements file; ends with the unit.
    pub column: &'static str,
    /// The column of its uncertainty, one standard deviation.
    pub sd_column: &'static str,
    /// Unit in text.
    pub unit: &'static str,
    /// Written value = SI value times this.
    pub per_si: f64,
    /// What the model gives for it.
    pub what: What,
    /// Least and largest value, as written, that anybody measures on prints of this kind; beyond, a unit has slipped.
    pub range: [f64; 2],
    /// How it is measured.
    pub how: &'static str,
}

/// What the model gives for a quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// A figure of an item of the path or of a region.
    Figure(Figure),
    /// Peak of the profile with its pores, as a profilometer tells it: thickness over packing.
    PeakHeight,
    /// Ink that left the vial as mist in a time with the carrier on.
    VialLoss,
}

macro_rules! quantities {
    ($($label:literal: $column:literal $sd:literal, $unit:literal $per_si:expr, $what:expr, $range:expr, $how:literal;)*) => {
        /// Every quantity, in the order of the columns.
        pub const QUANTITIES: &[Quantity] = &[$(Quantity {
            label: $label, column: $column, sd_column: $sd, unit: $unit, per_si: $per_si, what: $what, range: $range, how: $how,
        }),*];
    };
}

const fn item(figure: ItemFigure) -> What {
    What::Figure(Figure::Item(figure))
}

const fn region(figure: RegionFigure) -> What {
    What::Figure(Figure::Region(figure))
}

quantities! {
    "width from edge to edge": "edge_width_um" "edge_width_sd_um", "µm" 1e6, item(ItemFigure::EdgeWidth), [1.0, 5000.0],
        "in a micrograph: between the outermost places on both sides where particles still cover a tenth as much of the line's length as where they cover most";
    "line width (FWHM)": "line_width_um" "line_width_sd_um", "µm" 1e6, item(ItemFigure::LineWidth), [0.5, 5000.0],
        "with a profilometer: between the places on both sides where the mean height is half of the peak";
    "width holding 99 % of the mass": "width_99_um" "width_99_sd_um", "µm" 1e6, item(ItemFigure::Width99), [1.0, 10_000.0],
        "of a profile: the narrowest band that holds 99 % of its area";
    "peak of the solids": "peak_thickness_nm" "peak_thickness_sd_nm", "nm" 1e9, item(ItemFigure::PeakThickness), [0.1, 1e5],
        "solids alone, without pores, e.g. from the contrast in the microscope";
    "peak height": "peak_height_nm" "peak_height_sd_nm", "nm" 1e9, What::PeakHeight, [0.1, 1e6],
        "with a profilometer: the deposit with its pores";
    "coverage": "coverage_percent" "coverage_sd_percent", "%" 1e2, region(RegionFigure::Coverage), [1e-3, 99.99],
        "in a micrograph: share of the region's area under particles";
    "mean solid thickness": "mean_thickness_nm" "mean_thickness_sd_nm", "nm" 1e9, region(RegionFigure::MeanThickness), [1e-3, 1e5],
        "solid volume over area of the region";
    "solid mass": "mass_ug" "mass_sd_ug", "µg" 1e9, region(RegionFigure::Mass), [1e-6, 1e6],
        "a coupon weighed before and after, dried the same way both times";
    "particles": "particles" "particles_sd", "" 1.0, region(RegionFigure::Particles), [1.0, 1e9],
        "counted in the region; the uncertainty is at least the root of the number";
    "loss of the vial": "vial_loss_mg" "vial_loss_sd_mg", "mg" 1e6, What::VialLoss, [1e-3, 1e5],
        "the vial weighed before and after `vial_minutes` of mist; solvent that only evaporates counts as mist, so let the carrier come saturated";
}

impl Quantity {
    /// Whether it belongs to an item of the path; if not, to a region, or the vial.
    pub fn is_of_item(&self) -> bool {
        matches!(self.what, What::Figure(Figure::Item(_)) | What::PeakHeight)
    }

    /// Whether it belongs to a region.
    pub fn is_of_region(&self) -> bool {
        matches!(self.what, What::Figure(Figure::Region(_)))
    }

    /// Whether it is a share that saturates as more lands.
    fn is_share(&self) -> bool {
        self.what == region(RegionFigure::Coverage)
    }

    /// Whether it tells where particles land, and not how many.
    pub fn is_width(&self) -> bool {
        matches!(
            self.what,
            What::Figure(Figure::Item(ItemFigure::EdgeWidth | ItemFigure::LineWidth | ItemFigure::Width99))
        )
    }

    /// The value that is fitted: its logarithm, for a share that of -ln(1 - share), which grows as what lands. SI in; `None` of what is not
    /// above 0, or a share of 1.
    pub fn fitted(&self, value: f64) -> Option<f64> {
        let amount = if self.is_share() { -(-value).ln_1p() } else { value };
        (amount > 0.0 && amount.is_finite()).then(|| amount.ln())
    }

    /// The value, SI, of what is fitted.
    pub fn of_fitted(&self, fitted: f64) -> f64 {
        if self.is_share() { -(-fitted.exp()).exp_m1() } else { fitted.exp() }
    }

    /// What a small uncertainty of the value, SI, is of what is fitted.
    pub fn fitted_sd(&self, value: f64, sd: f64) -> f64 {
        match self.is_share() {
            true => sd / ((1.0 - value) * -(-value).ln_1p()),
            false => sd / value,
        }
    }
}

/// A calibration: what test lines taught about a bench.
#[derive(Debug, Clone)]
pub struct Calibration {
    /// The scenario's title and what it was read from.
    pub scenario: String,
    /// What it learnt from.
    pub learnt_from: Counted,
    /// What is kept for judging.
    pub held_out: Counted,
    /// What was learnt, in the order of the process.
    pub unknowns: Vec<Learnt>,
    /// Correlation of each pair of unknowns as they are now known.
    pub correlations: Vec<Vec<f64>>,
    /// Values of the unknowns, in the units of their keys, each row as likely as any other.
    pub draws: Vec<Vec<f64>>,
    /// What the model lacks from line to line, as a standard deviation of the logarithm, of widths and of amounts: for each draw.
    pub lacks: Vec<[f64; 2]>,
    /// Every measured value.
    pub values: Vec<FittedValue>,
    /// How well the model goes with the lines.
    pub fit: Fit,
    /// What the lines do not tell, in words.
    pub untold: Vec<String>,
    /// What further lines are ranked by.
    pub ranked_by: RankedBy,
    /// Further lines that would narrow it by [`WORTH_PRINTING`] or more, the best first.
    pub further: Vec<Further>,
    /// What else is to be said.
    pub remarks: Vec<String>,
}

/// Lines and vials.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counted {
    /// Lines, spots and coupons.
    pub lines: usize,
    /// Weighed vials.
    pub vials: usize,
}

impl std::fmt::Display for Counted {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let lines = match self.lines {
            1 => "1 line".to_owned(),
            n => format!("{n} lines"),
        };
        let vials = match self.vials {
            1 => "a vial".to_owned(),
            n => format!("{n} vials"),
        };
        match (self.lines, self.vials) {
            (_, 0) => f.write_str(&lines),
            (0, _) => f.write_str(&vials),
            _ => write!(f, "{lines} and {vials}"),
        }
    }
}

/// An unknown and what was learnt of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Learnt {
    /// What it is, in words.
    pub name: String,
    /// Its key in the scenario.
    pub key: String,
    /// Unit of the key.
    pub unit: String,
    /// What the scenario of the lines says.
    pub set: f64,
    /// Whether that is a default that nobody has measured.
    pub was_default: bool,
    /// Whether it differs by a factor; if not, by a difference.
    pub by_factor: bool,
    /// Median and the ends of the interval that holds 95 %, as assumed before any line was measured.
    pub before: [f64; 3],
    /// The same as known now.
    pub after: [f64; 3],
    /// Share of its variance that the lines took away, 0 to 1.
    pub learnt: f64,
}

impl Learnt {
    /// Width of the interval now over that before, of logarithms where it differs by a factor.
    pub fn narrowed_to(&self) -> f64 {
        let width = |[_, low, high]: [f64; 3]| if self.by_factor { (high / low).ln() } else { high - low };
        width(self.after) / width(self.before)
    }
}

/// A measured value, and what the model gives for it.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedValue {
    /// Name of the line.
    pub line: String,
    /// What was measured.
    pub quantity: &'static Quantity,
    /// Measured value and its uncertainty, SI.
    pub measured: [f64; 2],
    /// What the scenario gives as it stands, SI.
    pub before: f64,
    /// What the calibrated model gives, SI, and how far it is uncertain: unknowns, what the model lacks, prints and measurement together.
    pub after: [f64; 2],
    /// Distance of the measured from the calibrated value in units of that uncertainty.
    pub distance: f64,
    /// The same with this line left out of the fit; `None` of a held-out line, which is not in it, and of one that is alone.
    pub left_out: Option<f64>,
    /// Whether its line is kept for judging.
    pub is_held_out: bool,
}

impl FittedValue {
    /// Distance from what all other lines let expect; `None` of a line that is alone.
    pub fn distance_from_others(&self) -> Option<f64> {
        if self.is_held_out { Some(self.distance) } else { self.left_out }
    }
}

/// How well the model goes with the lines.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Values that take part.
    pub values: usize,
    /// Sum of squared residuals in units of the uncertainty of measurement and prints at the best values.
    pub chi_square: f64,
    /// Values less what the unknowns take up, 0 or more.
    pub freedom: f64,
    /// Probability of so large a sum if the model were right, with one degree of freedom at least.
    pub probability: f64,
    /// Share of what was thought possible before that no line rules out.
    pub not_ruled_out: f64,
    /// What the model lacks from line to line, as a standard deviation of the logarithm, of widths and of amounts: median. `None` where fewer
    /// than two lines have such a value.
    pub lacks: [Option<f64>; 2],
}

words! {
    /// What the lines say of the model. This is the only place where it is decided.
    pub enum Agreement {
        /// Less than one degree of freedom is left, and nothing contradicts: the unknowns can meet whatever was measured.
        Untested = "untested",
        /// The misfit is one that a right model has, and no line contradicts the others.
        Fits = "fits",
        /// A right model has so large a misfit in less than [`POOR`] of cases, or a line contradicts the others.
        FitsPoorly = "fits poorly",
        /// A right model has so large a misfit in less than [`DISAGREES`] of cases.
        DoesNotFit = "does not fit",
    }
}

impl Agreement {
    /// What a fit and its values say of the model.
    pub fn of(fit: &Fit, values: &[FittedValue]) -> Self {
        match fit.probability {
            p if p < DISAGREES => Self::DoesNotFit,
            p if p < POOR || contradicting(values).next().is_some() => Self::FitsPoorly,
            _ if fit.freedom < 1.0 => Self::Untested,
            _ => Self::Fits,
        }
    }

    /// Whether the lines speak against the model.
    pub fn is_against(self) -> bool {
        match self {
            Self::Untested | Self::Fits => false,
            Self::FitsPoorly | Self::DoesNotFit => true,
        }
    }
}

/// Probability of the misfit below which the model fits poorly, and below which it does not fit.
pub const POOR: f64 = 0.1;
/// See [`POOR`].
pub const DISAGREES: f64 = 0.01;
/// Distance from what the other lines let expect, in standard deviations, from which a line contradicts them. Of many values more: see
/// [`contradicting`].
pub const CONTRADICTS: f64 = 3.0;
/// Chance that a right model exceeds it with any of its values.
const BY_CHANCE: f64 = 0.05;

/// Values that contradict what the other lines let expect.
pub fn contradicting(values: &[FittedValue]) -> impl Iterator<Item = &FittedValue> {
    let most = most_distance(values.len());
    values.iter().filter(move |value| value.distance_from_others().is_some_and(|distance| distance.abs() > most))
}

/// Distance that each of so many values keeps if it does not contradict: [`CONTRADICTS`], or what a right model exceeds with any of them in one
/// of twenty calibrations, whichever is more.
fn most_distance(values: usize) -> f64 {
    Normal::standard().inverse_cdf(1.0 - 0.5 * BY_CHANCE / values.max(1) as f64).max(CONTRADICTS)
}

impl Calibration {
    /// What the lines say of the model.
    pub fn agreement(&self) -> Agreement {
        Agreement::of(&self.fit, &self.values)
    }
}

/// What further lines are ranked by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RankedBy {
    /// What is not known of all unknowns.
    Unknowns,
    /// What is not known of the figures with a limit of the print in question.
    Print,
}

/// Part by which a further line has to narrow what it is ranked by, to be told.
pub const WORTH_PRINTING: f64 = 0.02;

/// What a further line would teach.
#[derive(Debug, Clone, PartialEq)]
pub struct Further {
    /// The line, in words.
    pub line: String,
    /// Factor by which it would narrow the unknowns on average (geometric mean of the standard deviations), below 1.
    pub narrows: f64,
    /// The unknown that it narrows most, in words, and by which factor.
    pub most: (String, f64),
    /// Factor by which it would narrow what is unknown of the figures with a limit of the print in question, if there is one (root mean square
    /// of the standard deviations of their logarithms).
    pub of_print: Option<f64>,
}

impl Further {
    /// Part by which it narrows what lines are ranked by.
    pub fn gain(&self, by: RankedBy) -> f64 {
        1.0 - match by {
            RankedBy::Unknowns => self.narrows,
            RankedBy::Print => self.of_print.unwrap_or(1.0),
        }
    }
}

/// What is to be said of a calibration that a prediction took.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Used {
    /// How the user calls its file.
    pub name: String,
    /// When it was made, in UTC.
    pub created: String,
    /// What it learnt from.
    pub learnt_from: Counted,
    /// What that says of the model.
    pub agreement: Agreement,
    /// What was learnt and not used: keys that the scenario does not have, or says itself where the lines were printed by a default.
    pub not_used: Vec<String>,
    /// In what the scenario differs from the lines, in words.
    pub outside: Vec<String>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_unique_and_uncertainties_stand_beside() {
        for (i, a) in QUANTITIES.iter().enumerate() {
            assert!(QUANTITIES[i + 1..].iter().all(|b| b.column != a.column && b.sd_column != a.sd_column));
            assert!(a.range[0] < a.range[1]);
            let unit = a.unit.replace('µ', "u").replace('%', "percent");
            let stem = a.column.strip_suffix(&unit).expect("the unit ends it").trim_end_matches('_');
            let expected = if unit.is_empty() { format!("{stem}_sd") } else { format!("{stem}_sd_{unit}") };
            assert_eq!(a.sd_column, expected);
        }
    }

    /// Coverage of 1 - exp(-0.5) = 0.393469: the amount is 0.5. A width of 2 µm: ln 2e-6.
    #[test]
    fn shares_are_fitted_by_what_lands() {
        let find = |column: &str| QUANTITIES.iter().find(|q| q.column == column).expect("it is listed");
        let coverage = find("coverage_percent");
        let fitted = coverage.fitted(0.393_469_340_287_366_6).expect("a share below 1");
        assert!((fitted - 0.5_f64.ln()).abs() < 1e-12);
        assert!((coverage.of_fitted(fitted) - 0.393_469_340_287_366_6).abs() < 1e-12);
        assert_eq!(coverage.fitted(1.0), None);
        let step = 1e-6;
        let slope = (coverage.fitted(0.4 + step).expect("below 1") - coverage.fitted(0.4).expect("below 1")) / step;
        assert!((coverage.fitted_sd(0.4, 1.0) / slope - 1.0).abs() < 1e-5);
        let width = find("edge_width_um");
        assert_eq!(width.fitted(2e-6), Some(2e-6_f64.ln()));
        assert_eq!(width.fitted(0.0), None);
        assert!((width.fitted_sd(2e-6, 1e-7) - 0.05).abs() < 1e-12);
    }

    fn value(distance: f64, left_out: Option<f64>, is_held_out: bool) -> FittedValue {
        let (line, quantity) = ("a".into(), &QUANTITIES[0]);
        FittedValue {
            line,
            quantity,
            measured: [1.0; 2],
            before: 1.0,
            after: [1.0; 2],
            distance,
            left_out,
            is_held_out,
        }
    }

    fn agreement(freedom: f64, probability: f64, values: &[FittedValue]) -> Agreement {
        let (chi_square, not_ruled_out, lacks) = (1.0, 0.5, [None; 2]);
        Agreement::of(&Fit { values: values.len(), chi_square, freedom, probability, not_ruled_out, lacks }, values)
    }

    #[test]
    fn agreement_is_what_misfit_and_left_out_lines_say() {
        let near = || vec![value(0.5, Some(2.9), false), value(-2.9, None, true)];
        let far = |values: Vec<FittedValue>| [near(), values].concat();
        for (freedom, probability, values, expected) in [
            (8.0, 0.5, near(), Agreement::Fits),
            (8.0, 0.09, near(), Agreement::FitsPoorly),
            (8.0, 0.009, near(), Agreement::DoesNotFit),
            // Within the fit, the line drags the unknowns along; left out, it stands alone.
            (8.0, 0.5, far(vec![value(1.0, Some(-3.1), false)]), Agreement::FitsPoorly),
            (8.0, 0.5, far(vec![value(3.1, None, true)]), Agreement::FitsPoorly),
            (0.9, 0.5, near(), Agreement::Untested),
            (0.9, 0.5, far(vec![value(1.0, Some(4.0), false)]), Agreement::FitsPoorly),
            (0.0, 0.001, near(), Agreement::DoesNotFit),
        ] {
            assert_eq!(agreement(freedom, probability, &values), expected, "{freedom} {probability}");
        }
    }

    /// Two-sided normal quantiles from tables: 3.29 leaves 0.001, so 50 values leave 0.05.
    #[test]
    fn many_values_may_lie_farther_off() {
        assert_eq!(most_distance(10), 3.0);
        assert!((most_distance(50) - 3.2905).abs() < 1e-3, "{}", most_distance(50));
    }

    #[test]
    fn vials_are_no_lines() {
        let words = |lines, vials| Counted { lines, vials }.to_string();
        assert_eq!([words(10, 1), words(1, 0), words(0, 1)], ["10 lines and a vial", "1 line", "a vial"]);
        assert_eq!([words(1, 2), words(0, 0)], ["1 line and 2 vials", "0 lines"]);
    }

    /// 4 to 25 before, a factor of 6.25 = 2.5^2, and 8 to 20 now, a factor of 2.5: half as wide. By a difference: 12 of 21.
    #[test]
    fn an_interval_of_factors_narrows_by_their_logarithms() {
        let learnt = |by_factor| Learnt {
            name: String::new(),
            key: String::new(),
            unit: String::new(),
            set: 10.0,
            was_default: true,
            by_factor,
            before: [10.0, 4.0, 25.0],
            after: [12.0, 8.0, 20.0],
            learnt: 0.75,
        };
        assert!((learnt(true).narrowed_to() - 0.5).abs() < 1e-12);
        assert!((learnt(false).narrowed_to() - 12.0 / 21.0).abs() < 1e-12);
    }
}
