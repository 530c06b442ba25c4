//! What is read off a profile that has no chance in it.

use super::curve::{band, crossings, highest, moving_mean, outermost, smooth, smoothing};
use super::pieces::{EDGE_PART, EDGE_WINDOW, LEAST_EDGE_COVER};
use crate::Measured;

/// Part of a line's height by which that of a grainy profile may be off.
const PEAK_DOUBT: f64 = 0.1;

/// Standard deviations of a covered share by which chance moves the outermost of the places where it passes a level.
const EDGE_CHANCE: f64 = 2.0;

/// A profile across an item in bins of even width: means over each, along the item's strip.
#[derive(Debug, Clone)]
pub struct ExactProfile {
    /// Width of a bin, m.
    pub bin: f64,
    /// Solid thickness, m.
    pub thickness: Vec<f64>,
    /// Covered share.
    pub coverage: Vec<f64>,
}

impl ExactProfile {
    /// Full width at half of the largest thickness, m; `None` if it does not fall so low on both sides, or there is nothing.
    pub fn width(&self) -> Option<f64> {
        self.width_at(0.5)
    }

    /// The same at a part of the largest thickness.
    fn width_at(&self, part: f64) -> Option<f64> {
        let top = highest(&self.thickness).filter(|top| self.thickness[*top] > 0.0)?;
        match crossings(&self.thickness, top, part * self.thickness[top]) {
            [Some(left), Some(right)] => Some((right - left) * self.bin),
            _ => None,
        }
    }

    /// By how much the width changes if the largest thickness, of which it is at the half, is read `PEAK_DOUBT` wrongly, m.
    pub fn width_doubt(&self) -> f64 {
        let [low, high] = [0.5 * (1.0 - PEAK_DOUBT), 0.5 * (1.0 + PEAK_DOUBT)].map(|part| self.width_at(part));
        low.zip(high).map_or(0.0, |(low, high)| 0.5 * (low - high))
    }

    /// Width of the narrowest band about the middle of the mass that holds a share of it, m; `None` if the profile ends before it has fallen
    /// to so small a part of its peak as the band leaves out.
    pub fn band(&self, share: f64) -> Option<f64> {
        let end = self.thickness.first()?.max(*self.thickness.last()?);
        let ends = end <= (1.0 - share) * self.peak();
        Some(band(&self.thickness, share).filter(|_| ends)? * self.bin)
    }

    /// Distance between the places on both sides from which on less is covered than [`EDGE_PART`] of the most, m; `None` if that is less than
    /// [`LEAST_EDGE_COVER`], or more is covered up to an end.
    pub fn edge_width(&self) -> Option<f64> {
        self.edge_width_at(self.edge_level()?)
    }

    /// By how much particles that cover `speck` each, m^2, may shift the width from edge to edge of a print whose strip is so long, m: covered
    /// shares over the window at the edge scatter by chance.
    pub fn edge_doubt(&self, speck: f64, length: f64) -> f64 {
        let doubt = |level: f64| {
            let chance = (level * speck / (EDGE_WINDOW * length)).sqrt();
            let widths = [level + EDGE_CHANCE * chance, (level - EDGE_CHANCE * chance).max(0.1 * level)];
            let [narrow, wide] = widths.map(|level| self.edge_width_at(level));
            let all = self.bin * self.coverage.len() as f64;
            0.5 * (wide.unwrap_or(all) - narrow.unwrap_or(0.0)).abs()
        };
        self.edge_level().map_or(0.0, doubt)
    }

    /// Covered share at an edge.
    fn edge_level(&self) -> Option<f64> {
        let window = EDGE_WINDOW / self.bin;
        let is_wide = self.coverage.len() as f64 > window;
        let most = || moving_mean(&self.coverage, window).into_iter().map(|(_, mean)| mean).fold(0.0, f64::max);
        is_wide.then(|| (EDGE_PART * most()).max(LEAST_EDGE_COVER))
    }

    fn edge_width_at(&self, level: f64) -> Option<f64> {
        let window = EDGE_WINDOW / self.bin;
        let mirrored: Vec<f64> = self.coverage.iter().rev().copied().collect();
        match [outermost(&self.coverage, window, level)?, outermost(&mirrored, window, level)?] {
            [Measured::Exactly(right), Measured::Exactly(left)] => {
                Some((right + left + 1.0 - self.coverage.len() as f64).max(0.0) * self.bin)
            }
            _ => None,
        }
    }

    /// Largest thickness, m.
    pub fn peak(&self) -> f64 {
        self.thickness.iter().copied().fold(0.0, f64::max)
    }

    /// By how much it is less if the profile is smoothed as that of a print, m.
    pub fn peak_doubt(&self) -> f64 {
        let smoothed = smooth(&self.thickness, smoothing(&self.thickness)).into_iter().fold(0.0, f64::max);
        (self.peak() - smoothed).abs()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A dome 1 - x^2 over ±20 um: half height at 20/sqrt(2) um to each side; 90 % of its area (3 b - b^3)/2 = 0.9 within b = 0.7297 of the
    /// half width. Covered in proportion up to 0.5: a tenth of that where x^2 = 0.9.
    #[test]
    fn a_dome_is_as_wide_as_geometry_says() {
        let bin = 0.05e-6;
        let at = |k: i32| (1.0 - (f64::from(k) * bin / 20e-6).powi(2)).max(0.0);
        let thickness: Vec<f64> = (-600..=600).map(|k| 1e-7 * at(k)).collect();
        let profile = ExactProfile { bin, coverage: (-600..=600).map(|k| 0.5 * at(k)).collect(), thickness };
        let near = |value: Option<f64>, um: f64, error: f64| {
            let value = value.expect("it is there") / 1e-6;
            assert!((value - um).abs() < error, "{value} {um}");
        };
        near(profile.width(), 40.0 / 2f64.sqrt(), 0.01);
        // 20 (sqrt(0.55) - sqrt(0.45)) to both sides, halved.
        near(Some(profile.width_doubt()), 20.0 * (0.55f64.sqrt() - 0.45f64.sqrt()), 0.01);
        near(profile.band(0.9), 40.0 * 0.7297, 0.02);
        // The window of 1 um that begins at the edge holds a tenth of the most on average: half a window farther in.
        near(profile.edge_width(), 40.0 * 0.9f64.sqrt() - 1.0, 0.05);
        assert!((profile.peak() / 1e-7 - 1.0).abs() < 1e-9);
        let cut = ExactProfile { thickness: profile.thickness[400..].to_vec(), ..profile };
        assert_eq!(cut.width(), None);
    }
}
