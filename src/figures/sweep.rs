//! What a sweep says: one record per point.

use super::statistics::Place;
use crate::inputs::{Limit, SweepPlan};

/// Everything a report of a sweep shows.
#[derive(Debug, Clone)]
pub struct SweepResult {
    /// Title of the scenario.
    pub name: String,
    /// Note of the scenario.
    pub note: String,
    /// Seed of the scenario.
    pub seed: u64,
    /// The plan.
    pub plan: SweepPlan,
    /// Limits that decide.
    pub limits: Vec<Limit>,
    /// Figures and places, in the order of [`PointStats::figures`].
    pub places: Vec<Place>,
    /// Points in the order of the design.
    pub points: Vec<PointRecord>,
}

/// One point of a sweep.
#[derive(Debug, Clone, PartialEq)]
pub struct PointRecord {
    /// Number in the design, from 0.
    pub point: u64,
    /// Value on each axis, in the axis's unit.
    pub values: Vec<f64>,
    /// What came of it: figures, or why it cannot run.
    pub outcome: Result<PointStats, String>,
}

/// What the prints of a point gave.
#[derive(Debug, Clone, PartialEq)]
pub struct PointStats {
    /// Prints made.
    pub prints: u32,
    /// Prints that met every limit.
    pub met: u32,
    /// Prints that met each limit, in the order of the limits.
    pub met_each: Vec<u32>,
    /// Over prints, in the order of [`SweepResult::places`]; `None` where no print gave a value.
    pub figures: Vec<Option<FigureStats>>,
    /// Smallest distance of a limited figure's mean from its limit, in standard deviations between prints; negative beyond the limit;
    /// `None` without limits or spread.
    pub margin_sd: Option<f64>,
    /// Identifiers of the cautions that apply.
    pub cautions: Vec<String>,
    /// Time of a print with all moves, s.
    pub print_time: f64,
    /// Ink used by a print, m^3.
    pub ink_used: f64,
    /// Droplets of a print.
    pub droplets: f64,
}

/// One figure over the prints of a point, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FigureStats {
    /// Mean.
    pub mean: f64,
    /// 95 % interval of the mean (of the share, for shares of prints); equal to the mean if there is none.
    pub interval: [f64; 2],
    /// Standard deviation between prints.
    pub sd: f64,
    /// Prints that gave a value.
    pub n: u32,
}
