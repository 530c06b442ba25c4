//! Axes: places, round ticks, labels that do not touch.

/// Scale of an axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Scale {
    /// Equal steps.
    Linear,
    /// Equal ratios; values of zero and below are not drawn.
    Log,
}

/// One axis.
#[derive(Debug, Clone)]
pub(crate) struct PlotAxis {
    /// Quantity and unit, e.g. `distance (µm)`.
    pub(crate) label: String,
    /// Scale.
    pub(crate) scale: Scale,
    /// Lower and upper end.
    pub(crate) range: [f64; 2],
}

impl PlotAxis {
    /// From zero to a little above the largest finite value.
    pub(crate) fn from_zero(label: &str, values: impl Iterator<Item = f64>) -> Self {
        let top = values.filter(|v| v.is_finite()).fold(0.0, f64::max);
        let top = if top > 0.0 { top * 1.06 } else { 1.0 };
        Self { label: label.into(), scale: Scale::Linear, range: [0.0, top] }
    }

    /// Over a range; an empty or reversed one is widened.
    pub(crate) fn over(label: &str, scale: Scale, low: f64, high: f64) -> Self {
        let range = match scale {
            Scale::Linear if !(low.is_finite() && high.is_finite()) => [0.0, 1.0],
            Scale::Linear if high <= low => [low - 0.5, low + 0.5],
            Scale::Linear => [low, high],
            Scale::Log if !(low > 0.0 && high.is_finite()) => [0.1, 10.0],
            Scale::Log if high <= low * 1.01 => [low / 2.0, low * 2.0],
            Scale::Log => [low, high],
        };
        Self { label: label.into(), scale, range }
    }

    /// Place of a value along the axis, 0 to 1, held within the axis; `None` where it cannot be drawn.
    pub(crate) fn place(&self, value: f64) -> Option<f64> {
        let [low, high] = self.range;
        let place = match self.scale {
            Scale::Linear => (value - low) / (high - low),
            Scale::Log if value > 0.0 => (value / low).ln() / (high / low).ln(),
            Scale::Log => return None,
        };
        place.is_finite().then(|| place.clamp(0.0, 1.0))
    }

    /// Ticks: value and label (empty for minor ones).
    pub(crate) fn ticks(&self, wanted: usize) -> Vec<(f64, String)> {
        match self.scale {
            Scale::Linear => {
                let values = nice_ticks(self.range, wanted);
                let step = if values.len() > 1 { values[1] - values[0] } else { 1.0 };
                values.into_iter().map(|v| (v, tick_label(v, step))).collect()
            }
            Scale::Log => log_ticks(self.range),
        }
    }
}

/// Round values (1, 2, 5 times a power of ten) inside a range.
pub(crate) fn nice_ticks([low, high]: [f64; 2], wanted: usize) -> Vec<f64> {
    let raw = (high - low) / wanted.max(1) as f64;
    if !(raw > 0.0 && raw.is_finite()) {
        return vec![];
    }
    let step = nice_step(raw);
    let first = (low / step - 1e-9).ceil() as i64;
    let last = (high / step + 1e-9).floor() as i64;
    (first..=last).map(|i| i as f64 * step).collect()
}

/// The smallest of 1, 2, 5 times a power of ten that is not below a value.
pub(crate) fn nice_step(raw: f64) -> f64 {
    let power = 10f64.powi(raw.log10().floor() as i32);
    let ratio = raw / power;
    let nice = [1.0, 2.0, 5.0, 10.0].into_iter().find(|n| *n >= ratio * (1.0 - 1e-9)).unwrap_or(10.0);
    nice * power
}

/// The largest of 1, 2, 5 times a power of ten that is not above a value.
pub(crate) fn nice_below(raw: f64) -> f64 {
    let power = 10f64.powi(raw.log10().floor() as i32);
    let ratio = raw / power;
    [5.0, 2.0, 1.0].into_iter().find(|n| *n <= ratio * (1.0 + 1e-9)).unwrap_or(1.0) * power
}

/// A tick's value with as many decimals as the step between ticks needs.
pub(crate) fn tick_label(value: f64, step: f64) -> String {
    let decimals = (-(step.abs().log10() + 1e-9).floor()).clamp(0.0, 9.0) as usize;
    let text = format!("{:.*}", decimals, if value.abs() < step * 1e-6 { 0.0 } else { value });
    text.replace('-', "−")
}

fn log_ticks([low, high]: [f64; 2]) -> Vec<(f64, String)> {
    let decades = (high / low).log10();
    let mut out = vec![];
    for exponent in low.log10().floor() as i32..=high.log10().ceil() as i32 {
        for digit in 1..10 {
            let value = digit as f64 * 10f64.powi(exponent);
            if value < low * (1.0 - 1e-9) || value > high * (1.0 + 1e-9) {
                continue;
            }
            let labelled = digit == 1 || (decades < 2.2 && matches!(digit, 2 | 5)) || (decades < 0.7);
            out.push((value, if labelled { tick_label(value, value) } else { String::new() }));
        }
    }
    out
}

/// Which labels of ticks can stand beside each other: place and extent along the axis, and words. Round ones come first; what would touch one
/// that stands is left out.
pub(crate) fn kept_labels(ticks: &[(f64, f64, &str)]) -> Vec<bool> {
    let rank = |text: &str| match text.trim_start_matches(['−', '0', '.']).chars().next() {
        Some('1') | None => 0,
        Some('5') => 1,
        Some('2') => 2,
        _ => 3,
    };
    let mut order: Vec<usize> = (0..ticks.len()).filter(|i| !ticks[*i].2.is_empty()).collect();
    order.sort_by_key(|i| (rank(ticks[*i].2), *i));
    let mut kept = vec![false; ticks.len()];
    for i in order {
        let (place, extent, _) = ticks[i];
        let touches = |j: usize| kept[j] && (ticks[j].0 - place).abs() < 0.5 * (ticks[j].1 + extent);
        kept[i] = !(0..ticks.len()).any(touches);
    }
    kept
}

/// Width of a tick's label with the space beside it, drawing units.
pub(crate) fn label_width(text: &str) -> f64 {
    7.0 * text.chars().count() as f64 + 5.0
}

/// Height of a tick's label with the space above it, drawing units.
pub(crate) const LABEL_HEIGHT: f64 = 15.0;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(nice_ticks([0.0, 10.0], 5), vec![0.0, 2.0, 4.0, 6.0, 8.0, 10.0]);
        assert_eq!(nice_ticks([-37.0, 41.0], 4), vec![-20.0, 0.0, 20.0, 40.0]);
        assert!(nice_ticks([1.0, 1.0], 5).is_empty());
        assert_eq!(nice_below(37.0), 20.0);
        assert_eq!(nice_step(37.0), 50.0);
        assert_eq!(tick_label(0.5, 0.5), "0.5");
        assert_eq!(tick_label(-20.0, 10.0), "−20");
        let labels: Vec<String> = log_ticks([0.5, 20.0]).into_iter().map(|t| t.1).filter(|l| !l.is_empty()).collect();
        assert_eq!(labels, ["0.5", "1", "2", "5", "10", "20"]);
    }

    #[test]
    fn labels_that_would_touch_are_left_out() {
        // 0.6 to 2.4 on 170 units, as on the window page: 0.7, 0.8 and 0.9 lie nearer to each other than they are wide.
        let axis = PlotAxis::over("", Scale::Log, 0.6, 2.4);
        let ticks = axis.ticks(5);
        let placed: Vec<(f64, f64, &str)> = ticks
            .iter()
            .map(|(v, text)| (170.0 * axis.place(*v).expect("inside"), label_width(text), text.as_str()))
            .collect();
        let kept: Vec<&(f64, f64, &str)> =
            placed.iter().zip(kept_labels(&placed)).filter(|(_, kept)| *kept).map(|(tick, _)| tick).collect();
        assert!(kept.iter().any(|t| t.2 == "1") && kept.iter().any(|t| t.2 == "2"), "{kept:?}");
        assert!(kept.len() < placed.iter().filter(|t| !t.2.is_empty()).count());
        assert!(kept.windows(2).all(|pair| pair[1].0 - pair[0].0 >= 0.5 * (pair[0].1 + pair[1].1)), "{kept:?}");
    }
}
