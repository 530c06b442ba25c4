//! Small line plots as SVG text: linear and logarithmic axes, lines, step histograms, bands, dots, a legend.
//!
//! Colours come from the page's style sheet (`s1`, `s2`, ... and `currentColor`), so one drawing serves light, dark and
//! print.

mod axis;
mod dots;
mod drawing;
mod escape;

pub(crate) use axis::{LABEL_HEIGHT, PlotAxis, Scale, kept_labels, label_width, nice_below, nice_ticks, tick_label};
pub(crate) use dots::Dot;
pub(crate) use drawing::{Dash, Mark, Plot, Series};
pub(crate) use escape::escape;
