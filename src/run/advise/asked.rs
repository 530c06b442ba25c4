//! What an advice is asked for.

use crate::sweep::Case;
use motefall_figures::advice::Freed;
use motefall_physics::inputs::Inputs;
use serde_json::Value;

/// A setting: values of what is freed, each in the unit of its key.
pub type Values = Vec<f64>;
/// The case at a setting, with as many possible inputs of its prints, at most, as asked for where something is unknown of the bench; or why
/// there is none.
pub type CaseAt<'a> = Box<dyn Fn(&[f64], u32) -> Result<Case, String> + Sync + 'a>;

/// How much is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// Settings that are spread over all that can be set.
    pub(super) spread: u32,
    /// Rounds of refining around the best.
    pub(super) rounds: i32,
    /// Fresh prints by which a choice is judged.
    pub(super) fresh: u32,
    /// Prints at each corner by which a margin is proved.
    pub(super) at_corner: u32,
}

impl Effort {
    /// As a decision needs it.
    pub const USUAL: Self = Self { spread: 256, rounds: 8, fresh: 200, at_corner: 64 };
    /// Whether anything passes at all.
    pub const GLANCE: Self = Self { spread: 48, rounds: 3, fresh: 60, at_corner: 0 };
    /// A first answer.
    pub const QUICK: Self = Self { spread: 64, rounds: 3, fresh: 60, at_corner: 24 };
}

/// What an advice is asked for.
pub struct Asked<'a> {
    /// How much is looked at.
    pub effort: Effort,
    /// The scenario as it is; it has limits.
    pub inputs: &'a Inputs,
    /// What may be changed.
    pub freed: &'a [Freed],
    /// What decides the result, to recognise the same question by.
    pub identity: Value,
    /// The case at a setting.
    pub case: CaseAt<'a>,
}
