//! Which particles touch: what is joined to its electrode, and what joins two electrodes.
//!
//! Two rules. **Joining** follows contacts in space, at the heights at which the particles came to rest: a current takes this way. Each
//! ballistic particle rests on one other, so real deposits, pressed or drawn together, have more contacts: the joined share is a low
//! estimate. **Bridging** follows contacts seen from above, whatever the heights: it finds every bridge that could form, and some that
//! do not conduct: the probability of a bridge is a high estimate.

mod active;
mod bridges;
mod electrodes;
mod outcome;
mod rules;
mod sets;
#[cfg(test)]
mod tests;

pub use electrodes::{Electrodes, Gap, Lists, joined};
pub use outcome::{ActiveShare, Bridging, GapCluster, GapOutcome, Joined};
pub(crate) use rules::HEIGHT_PRINTS;
pub use rules::{Contacts, Rules, Solid, TOUCH};
