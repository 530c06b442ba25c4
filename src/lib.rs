//! Predicts what a sheath-focused aerosol jet leaves on a microscopy chip.
