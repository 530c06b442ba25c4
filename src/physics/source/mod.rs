//! From the vial to the head: the ink, its mist, and what the tube takes from it.

pub mod atomiser;
pub mod content;
pub mod inverse;
pub mod tube;
