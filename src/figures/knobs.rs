//! What settings do to figures.

use crate::expected::Expected;

/// What figures do when numbers of a scenario are turned, one at a time.
#[derive(Debug, Clone)]
pub struct Knobs {
    /// Figures as the scenario is, without what differs between prints.
    pub expected: Expected,
    /// What each number does, in the order of the process.
    pub effects: Vec<Effect>,
}

/// What a number of a scenario does.
#[derive(Debug, Clone)]
pub struct Effect {
    /// Its key, as an axis of a sweep names it.
    pub key: String,
    /// Unit of the key.
    pub unit: &'static str,
    /// Its value in this unit.
    pub value: f64,
    /// Whether it is a default that nobody has measured.
    pub is_unverified: bool,
    /// Power of it that each figure follows here, in the order of the figures: with 1 % more of a number a figure of the power 2 grows by 2 %.
    /// `None` where only prints tell, where there is nothing, and of numbers of which parts mean nothing, as temperatures and places.
    pub powers: Vec<Option<f64>>,
    /// By how much each figure grows with one unit more of it, in the SI unit of the figure per unit of the key; `None` where only prints tell.
    pub slopes: Vec<Option<f64>>,
    /// By how much more of it is told what it does, in its unit.
    pub more: f64,
}
