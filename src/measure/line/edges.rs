//! Where a line ends, also one so sparse that single particles could decide.

use super::height::Height;
use super::strip::Strip;
use motefall_figures::profile::{EDGE_PART, EDGE_WINDOW, smooth};

/// How much of the profile the window of the edge may take.
const LARGEST_WINDOW: f64 = 0.25;
/// Part of the smoothing length by which chance may move an edge: with less smoothing, the outermost of several places where a grainy profile
/// passes the level would come out too far.
const LARGEST_SHIFT: f64 = 1.0 / 3.0;
/// Most smoothing, in widths at half height: a parabola follows a bell over that length.
const MOST_SMOOTHING: f64 = 0.4;
/// Steepness of a bell where it has a tenth of its height, relative, times its width at half height: sqrt(2 ln 10) * 2 sqrt(2 ln 2).
const BELL_SLOPE: f64 = 5.053;
/// Variance that smoothing by a parabola leaves, times the half window: the integral of its squared weights is 9/8 over it.
const PARABOLA_VARIANCE: f64 = 9.0 / 8.0;
/// Largest relative standard deviation of what is covered at an edge, by the number of particles there, at which edges are still given.
const LARGEST_CHANCE: f64 = 0.5;

/// Why a line has no width from edge to edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum NoEdges {
    /// Particles do not end within the picture.
    Beyond,
    /// Too few particles lie at the edges.
    TooFew,
    /// The picture shows too little across the line.
    TooNarrow,
}

/// Edges of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Edges {
    /// Where they are, in bins.
    pub(crate) ends: [f64; 2],
    /// Covered share there.
    pub(crate) cover: f64,
    /// Bins over which the profile was smoothed; 0 if it was not.
    pub(crate) smoothed_over: usize,
}

/// How the edges of a line are read.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct EdgeReader {
    /// Bins over which predictions average outwards.
    window: usize,
    /// Half window of the smoothing, bins; 0 of none.
    half_window: usize,
    height: Height,
}

impl EdgeReader {
    /// `grain` is the area of the grain, pixels, that a covered place belongs to on average, `width` about the width at half height, in
    /// bins of `pixel` m, and `peak` the largest covered share.
    ///
    /// The covered share p at an edge scatters by `sqrt(9/8 grain/(p length h))` of itself if particles lie by chance and are smoothed over
    /// h to both sides; with the relative slope s there, this moves the edge by so much over s. h is as long as keeps that below
    /// [`LARGEST_SHIFT`] of h: dense lines are not smoothed at all.
    pub(crate) fn new(strip: &Strip, grain: f64, width: f64, peak: f64, pixel: f64) -> Result<Self, NoEdges> {
        let window = ((EDGE_WINDOW / pixel).round() as usize).max(1);
        if window as f64 > LARGEST_WINDOW * strip.bins as f64 {
            return Err(NoEdges::TooNarrow);
        }
        let length = (0..strip.bins).map(|bin| strip.length(bin)).fold(0.0, f64::max);
        let scatter = PARABOLA_VARIANCE * grain / (EDGE_PART * peak * length);
        let slope = BELL_SLOPE / width;
        let wanted = (scatter / (slope * LARGEST_SHIFT).powi(2)).cbrt();
        let most = MOST_SMOOTHING * width;
        let half_window = wanted.min(most);
        if scatter / half_window > LARGEST_CHANCE * LARGEST_CHANCE {
            return Err(NoEdges::TooFew);
        }
        // Three values are not smoothed by a parabola.
        let half_window = if half_window < 1.5 { 0 } else { half_window.round() as usize };
        let height = Height::of(strip, |profile| means(profile, window, half_window)).ok_or(NoEdges::TooNarrow)?;
        Ok(Self { window, half_window, height })
    }

    /// Edges of the whole line.
    pub(crate) fn whole(&self, profile: &[f64]) -> Result<Edges, NoEdges> {
        let cover = EDGE_PART * self.height.whole();
        let ends = self.at(profile, cover).ok_or(NoEdges::Beyond)?;
        let smoothed_over = if self.half_window == 0 { 0 } else { 2 * self.half_window + 1 };
        Ok(Edges { ends, cover, smoothed_over })
    }

    /// Width, bins, of the line without a part, whose profile is given.
    pub(crate) fn width_without(&self, part: usize, profile: &[f64]) -> Option<f64> {
        self.at(profile, EDGE_PART * self.height.without(part)).map(|[left, right]| right - left)
    }

    /// The outermost places on both sides beyond which, over the next window, less than a level is covered.
    fn at(&self, profile: &[f64], level: f64) -> Option<[f64; 2]> {
        let means = means(profile, self.window, self.half_window);
        let inner = means.iter().rposition(|m| *m >= level).filter(|k| k + 1 < means.len())?;
        let share = (means[inner] - level) / (means[inner] - means[inner + 1]);
        let outer = means.iter().position(|m| *m >= level).filter(|k| *k > 0)?;
        let other = (means[outer] - level) / (means[outer] - means[outer - 1]);
        // A window that begins at a bin begins half a bin before its middle; one that ends with a bin ends half a bin after it.
        let right = inner as f64 + share - 0.5;
        let left = outer as f64 - other + self.window as f64 - 0.5;
        (right > left).then_some([left, right])
    }
}

/// Means of a smoothed profile over a window that begins at a bin.
fn means(profile: &[f64], window: usize, half_window: usize) -> Vec<f64> {
    let smoothed = if half_window == 0 { profile.to_vec() } else { smooth(profile, half_window) };
    smoothed.windows(window).map(|values| values.iter().sum::<f64>() / window as f64).collect()
}
