//! The whole engine, from a scenario to figures, against closed forms, conservation, itself by another way, and the laws of chance.
//!
//! Statistical checks use fixed seeds and reject at a probability of about 1e-6 ([`SIGMAS`] or the like); each says how many it counts
//! and the smallest error it would notice.

mod common;

/// Standard deviations that a normal quantity exceeds, on either side, with a probability of 1e-6.
const SIGMAS: f64 = 4.89;

mod engine {
    mod atlas;
    mod bead;
    mod counts;
    mod drawn;
    mod expected;
    mod expected_forms;
    mod golden;
    mod joined;
    mod landing;
    mod layers;
    mod lead;
    mod line;
    mod mist;
    mod possible;
    mod raster;
    mod resolution;
    mod shipped;
    mod straight;
    mod tracker;
    mod widths;
}
