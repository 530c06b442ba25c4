//! Numbers as a reader sees them: honest digits, intervals, units. Pages and terminal share this.

mod figure;
mod plain;
mod quantities;

pub use figure::{Shown, figure, is_upper_bound, label_at, mean, predicted, predicted_short, suited};
pub use plain::{
    at_precision, beside_sd, count, counted, given, percent, share, shares, significant, ten_to, tidy, trimmed, with_sd,
};
pub use quantities::{duration, ink, length, mass};
