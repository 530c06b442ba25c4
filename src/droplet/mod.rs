//! Droplet motion.

pub mod drag;
