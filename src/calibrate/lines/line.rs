//! What a row of the table holds.

use motefall_figures::calibration::Quantity;

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
