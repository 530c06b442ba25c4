//! What a row of the table holds.

use motefall_figures::calibration::{Quantity, What};

/// What a table holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// Lines on which something was measured; at least one.
    pub lines: Vec<Line>,
    /// Names of those on which nothing was measured yet.
    pub unmeasured: Vec<String>,
}

impl Measured {
    /// That rows were left out, in words.
    pub fn remark(&self) -> Option<String> {
        let names: Vec<String> = self.unmeasured.iter().map(|name| format!("\"{name}\"")).collect();
        (!names.is_empty()).then(|| format!("Nothing is measured yet on {}: left out.", names.join(", ")))
    }
}

/// One measured line, spot, coupon or vial.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Its name; no other has the same.
    pub name: String,
    /// Row of the file, from 1, as an editor counts.
    pub row: u64,
    /// Item of the scenario's path by which it was printed.
    pub item: Option<String>,
    /// Region of the scenario in which it was measured.
    pub region: Option<String>,
    /// Settings that differ from the scenario: key, and value in the unit of the key.
    pub settings: Vec<(String, f64)>,
    /// How long a vial gave mist, s.
    pub vial_time: Option<f64>,
    /// Over how many prints the values are means.
    pub prints: u32,
    /// How it was measured, in the user's words.
    pub method: Option<String>,
    /// Whether it is kept for judging and takes no part in the fit.
    pub is_held_out: bool,
    /// What was measured.
    pub values: Vec<Value>,
}

impl Line {
    /// Whether it is a weighed vial, and nothing that was printed.
    pub(crate) fn is_vial(&self) -> bool {
        !self.values.is_empty() && self.values.iter().all(|value| value.quantity.what == What::VialLoss)
    }
}

/// A measured value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Value {
    /// Of what.
    pub quantity: &'static Quantity,
    /// SI.
    pub value: f64,
    /// Its uncertainty, one standard deviation, SI. Above 0.
    pub sd: f64,
}
