//! What is measured, with its uncertainty.

use std::collections::BTreeMap;

/// Something that is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Figure {
    /// Covered share of the picture.
    Coverage,
    /// Full width at half of the peak of the profile across the line, m.
    WidthHalf,
    /// Width from edge to edge, m.
    EdgeWidth,
    /// Width of the band that holds 99 % of what is covered, m.
    Width99,
    /// Largest covered share of the profile across the line.
    PeakCoverage,
    /// Three standard deviations of the edges, m.
    Roughness,
    /// Particles beside the line over an area, 1/m^2.
    Strays,
    /// Particles over an area, 1/m^2.
    Density,
    /// Mean diameter by number, `D[1,0]`, m.
    MeanByNumber,
    /// Mean diameter by surface, `D[3,2]`, m.
    MeanBySurface,
    /// Mean diameter by volume, `D[4,3]`, m.
    MeanByVolume,
    /// Height of a profile, m.
    PeakHeight,
    /// Area of the cross-section, m^2.
    Section,
}

/// How a figure is shown: label, unit, units per SI unit.
struct Shown(&'static str, &'static str, f64);

impl Figure {
    fn shown(self) -> Shown {
        match self {
            Self::Coverage => Shown("coverage", "%", 1e2),
            Self::WidthHalf => Shown("width at half height", "µm", 1e6),
            Self::EdgeWidth => Shown("width from edge to edge", "µm", 1e6),
            Self::Width99 => Shown("width holding 99 %", "µm", 1e6),
            Self::PeakCoverage => Shown("coverage at the peak", "%", 1e2),
            Self::Roughness => Shown("edge roughness (3 sigma)", "µm", 1e6),
            Self::Strays => Shown("strays beside the line", "per mm²", 1e-6),
            Self::Density => Shown("particles", "per mm²", 1e-6),
            Self::MeanByNumber => Shown("diameter D[1,0], by number", "µm", 1e6),
            Self::MeanBySurface => Shown("diameter D[3,2], by surface", "µm", 1e6),
            Self::MeanByVolume => Shown("diameter D[4,3], by volume", "µm", 1e6),
            Self::PeakHeight => Shown("peak height", "µm", 1e6),
            Self::Section => Shown("cross-section", "µm²", 1e12),
        }
    }

    /// What it is called.
    pub fn label(self) -> &'static str {
        self.shown().0
    }

    /// The unit in which it is shown.
    pub fn unit(self) -> &'static str {
        self.shown().1
    }

    /// The factor from SI to that unit.
    pub fn per_si(self) -> f64 {
        self.shown().2
    }

    /// The power of the length of a pixel that it grows with.
    pub(crate) fn power_of_scale(self) -> f64 {
        match self {
            Self::Coverage | Self::PeakCoverage | Self::PeakHeight => 0.0,
            Self::Strays | Self::Density => -2.0,
            _ => 1.0,
        }
    }
}

/// A measured value with what makes it uncertain, each as a standard deviation, all SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Value {
    /// The value.
    pub value: f64,
    /// By chance: the count of particles, the unevenness of the line, noise.
    pub chance: f64,
    /// By where ground ends and particles begin; for a trace, by its levelling.
    pub threshold: f64,
    /// By blur of the edges; for a trace, by its smoothing.
    pub focus: f64,
    /// By the size of a pixel; for a trace, by the calibration of its distances and heights.
    pub scale: f64,
    /// By grains that lie on others and are counted as one, if they lie by chance.
    pub overlap: f64,
    /// Whether more lies outside of the picture, so that the value is the least it can be.
    pub at_least: bool,
}

impl Value {
    /// Standard deviation of all together.
    pub fn sd(&self) -> f64 {
        [self.chance, self.threshold, self.focus, self.scale, self.overlap].iter().map(|sd| sd * sd).sum::<f64>().sqrt()
    }

    /// What contributes most; nothing if nothing does.
    pub fn foremost(&self) -> &'static str {
        let parts = [
            (self.chance, "chance"),
            (self.threshold, "threshold"),
            (self.focus, "focus"),
            (self.scale, "scale"),
            (self.overlap, "overlap"),
        ];
        parts.into_iter().filter(|part| part.0 > 0.0).max_by(|a, b| a.0.total_cmp(&b.0)).map_or("", |part| part.1)
    }
}

/// Measured figures.
pub type Values = BTreeMap<Figure, Value>;

/// Several measurements of the same as one: the mean, with the larger of the scatter between them and the chance that each tells for the
/// part by chance (over the root of their number); the others are errors that all share. A figure counts if all have it.
pub fn combined(all: &[Values]) -> Values {
    let Some(first) = all.first() else { return Values::new() };
    let together = |figure: &Figure| -> Option<Value> {
        let values: Vec<Value> = all.iter().map(|values| values.get(figure).copied()).collect::<Option<_>>()?;
        let n = values.len() as f64;
        let mean = |of: fn(&Value) -> f64| values.iter().map(of).sum::<f64>() / n;
        let value = mean(|v| v.value);
        let squares = values.iter().map(|v| (v.value - value).powi(2)).sum::<f64>();
        let between = if values.len() > 1 { squares / (n - 1.0) } else { 0.0 };
        let within = mean(|v| v.chance * v.chance);
        Some(Value {
            value,
            chance: (between.max(within) / n).sqrt(),
            threshold: mean(|v| v.threshold),
            focus: mean(|v| v.focus),
            scale: mean(|v| v.scale),
            overlap: mean(|v| v.overlap),
            at_least: values.iter().any(|v| v.at_least),
        })
    };
    first.keys().filter_map(|figure| Some((*figure, together(figure)?))).collect()
}

/// Standard deviation between measurements; `None` of fewer than two.
pub fn scatter(all: &[Values], figure: Figure) -> Option<f64> {
    let values: Vec<f64> = all.iter().filter_map(|values| values.get(&figure)).map(|v| v.value).collect();
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (values.len() > 1).then(|| (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn several_are_one() {
        let value =
            |value| Value { value, chance: 1.0, threshold: 0.5, focus: 0.0, scale: 0.0, overlap: 0.0, at_least: false };
        let values = |v| Values::from([(Figure::WidthHalf, value(v))]);
        let mut more = values(16.0);
        more.insert(Figure::Coverage, value(1.0));
        let all = [values(10.0), values(13.0), more];
        let one = combined(&all);
        // 10, 13, 16: mean 13, standard deviation 3, over sqrt(3); coverage is not in all of them.
        assert_eq!(one.len(), 1);
        let width = one[&Figure::WidthHalf];
        assert_eq!((width.value, width.threshold), (13.0, 0.5));
        assert!((width.chance - 3f64.sqrt()).abs() < 1e-12 && (width.sd() - 3.25f64.sqrt()).abs() < 1e-12);
        assert_eq!((width.foremost(), scatter(&all, Figure::WidthHalf)), ("chance", Some(3.0)));
        // Two that agree by luck are as uncertain as each of them says.
        let same = combined(&[values(10.0), values(10.0)])[&Figure::WidthHalf];
        assert!((same.chance - 0.5f64.sqrt()).abs() < 1e-12);
    }
}
