//! The expected deposit: what prints give on average, worked out without making any.
//!
//! A print is droplets that come one by one, independent of each other, from a jet that moves over the chip. So the mean of what lies at a
//! place is an integral: of what falls from a jet that rests (`spot`), over the way that the jet takes (`swept`), over the area of a region
//! (`places`). Sizes, contents, losses, drying and landing come from the same tables as those of prints; the droplets that are drawn from
//! them do not. So each is a check of the other.

mod across;
mod chance;
mod chords;
mod figures;
mod images;
mod map;
mod noise;
mod on_region;
mod outcome;
mod places;
mod sample;
mod spot;
mod square;
mod swept;
mod varied;

pub use outcome::{Look, expected, expected_in, expected_possible, look, map_as_set, means_as_set};
pub(crate) use outcome::{means_of, spread_of_means, values};
