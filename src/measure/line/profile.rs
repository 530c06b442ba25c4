//! Widths of a profile, as predictions have them: by the same smoothing and the same parts of the peak.

use motefall_figures::profile::{smooth, smoothing};

/// Part of the covered area within the outer width.
const BAND_SHARE: f64 = 0.99;
/// A band that reaches so near to the picture's edge, in its own widths, holds what is in the picture, and more may lie outside.
const BAND_MARGIN: f64 = 0.05;

/// Half of a peak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct HalfHeight {
    /// Largest value of the smoothed profile.
    pub(crate) peak: f64,
    /// Where the profile falls to half of it, in bins; `None` on a side where it does not.
    pub(crate) ends: [Option<f64>; 2],
}

impl HalfHeight {
    /// Both ends.
    pub(crate) fn both(&self) -> Option<[f64; 2]> {
        Some([self.ends[0]?, self.ends[1]?])
    }
}

/// Where a profile, smoothed over a third of its width, falls to half of its peak. A parabola follows a bell over that length, and a steep edge
/// stays where it is at half height.
pub(crate) fn half_height(profile: &[f64]) -> Option<HalfHeight> {
    smoothed_half_height(profile, smoothing(profile), None)
}

/// The same with a smoothing that is given, and with a peak if it is known better than as the largest value, to which chance adds.
fn smoothed_half_height(profile: &[f64], half_window: usize, peak: Option<f64>) -> Option<HalfHeight> {
    let smoothed = smooth(profile, half_window);
    let top = (0..smoothed.len()).max_by(|a, b| smoothed[*a].total_cmp(&smoothed[*b]))?;
    let peak = peak.unwrap_or(smoothed[top]);
    if peak <= 0.0 || smoothed[top] < 0.5 * peak {
        return None;
    }
    let level = 0.5 * peak;
    let between = |inside: usize, outside: usize| {
        let share = (smoothed[inside] - level) / (smoothed[inside] - smoothed[outside]);
        inside as f64 + share * (outside as f64 - inside as f64)
    };
    let left = (0..top).rev().find(|k| smoothed[*k] < level).map(|k| between(k + 1, k));
    let right = (top + 1..smoothed.len()).find(|k| smoothed[*k] < level).map(|k| between(k - 1, k));
    Some(HalfHeight { peak, ends: [left, right] })
}

/// What is read off the profile of a line, pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LineRead {
    /// Largest covered share.
    pub(crate) peak: f64,
    /// Where half of it is covered, in bins.
    pub(crate) half: [f64; 2],
    /// The band about the centroid that holds 99 %, in bins.
    pub(crate) band: [f64; 2],
    /// Whether that band reaches the end of the profile.
    pub(crate) band_is_cut: bool,
}

impl LineRead {
    /// Width at half height, bins.
    pub(crate) fn width_half(&self) -> f64 {
        self.half[1] - self.half[0]
    }

    /// Width of the band, bins.
    pub(crate) fn width_99(&self) -> f64 {
        self.band[1] - self.band[0]
    }
}

/// Reads a profile of covered shares with a smoothing and a peak that are given; `None` if it does not fall to half on both sides.
pub(crate) fn read_line(profile: &[f64], half_window: usize, peak: Option<f64>) -> Option<LineRead> {
    let half_height = smoothed_half_height(profile, half_window, peak)?;
    let band = band(profile, BAND_SHARE)?;
    let margin = BAND_MARGIN * (band[1] - band[0]);
    let last = profile.len() as f64 - 0.5;
    Some(LineRead {
        peak: half_height.peak,
        half: half_height.both()?,
        band,
        band_is_cut: band[0] < margin - 0.5 || band[1] > last - margin,
    })
}

/// Ends, in bins, of the narrowest band about the centroid that holds a share of the whole.
fn band(profile: &[f64], share: f64) -> Option<[f64; 2]> {
    let total: f64 = profile.iter().sum();
    if total <= 0.0 {
        return None;
    }
    let centroid = profile.iter().enumerate().map(|(k, v)| k as f64 * v).sum::<f64>() / total;
    let mut below = vec![0.0];
    for value in profile {
        below.push(below[below.len() - 1] + value);
    }
    let left_of = |at: f64| {
        let at = (at + 0.5).clamp(0.0, profile.len() as f64);
        let bin = (at as usize).min(profile.len() - 1);
        below[bin] + (at - bin as f64) * profile[bin]
    };
    let (mut low, mut high) = (0.0, profile.len() as f64);
    for _ in 0..50 {
        let half = 0.5 * (low + high);
        if left_of(centroid + half) - left_of(centroid - half) < share * total {
            low = half;
        } else {
            high = half;
        }
    }
    Some([centroid - high, centroid + high])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bell(sigma: f64, top: f64) -> Vec<f64> {
        (0..401).map(|k| top * (-0.5 * ((f64::from(k) - 190.3) / sigma).powi(2)).exp()).collect()
    }

    fn read(profile: &[f64]) -> Option<LineRead> {
        read_line(profile, smoothing(profile), None)
    }

    #[test]
    fn widths_of_a_bell() {
        let read = read(&bell(20.0, 0.6)).expect("a line");
        // 2 sqrt(2 ln 2) sigma = 2.35482 * 20; smoothing over a third of the width lowers the peak by less than 0.1 %.
        assert!((read.width_half() / 47.096 - 1.0).abs() < 0.003, "{}", read.width_half());
        assert!((0.5 * (read.half[0] + read.half[1]) - 190.3).abs() < 0.05);
        assert!((read.peak - 0.6).abs() < 0.002, "{}", read.peak);
        // 2 * 2.5758 sigma (quantile of the normal curve at 0.995, from memory).
        assert!((read.width_99() / 103.03 - 1.0).abs() < 0.002, "{}", read.width_99());
        assert!(!read.band_is_cut);
    }

    #[test]
    fn a_box_keeps_its_width() {
        for width in [12usize, 40, 101] {
            let steep: Vec<f64> = (0..400).map(|k| if (150..150 + width).contains(&k) { 0.8 } else { 0.0 }).collect();
            let read = read(&steep).expect("a line");
            assert!((read.width_half() / width as f64 - 1.0).abs() < 0.02, "{width}: {}", read.width_half());
        }
    }

    #[test]
    fn what_does_not_fall_to_half_is_no_line() {
        let cut: Vec<f64> = bell(20.0, 0.6)[185..].to_vec();
        assert!(read(&cut).is_none());
        assert_eq!(half_height(&cut).expect("a peak").ends[0], None);
        assert!(half_height(&[0.0; 50]).is_none());
        // Most of a wide foot lies outside.
        let foot: Vec<f64> = bell(20.0, 0.6).iter().map(|v| v + 0.01).collect();
        assert!(read(&foot).expect("a line").band_is_cut);
    }
}
