//! Limits that decide.

use super::{Region, Role};
use crate::figure_kinds::{Figure, RegionFigure};

/// Limits that decide.
#[derive(Debug, Clone)]
pub struct Acceptance {
    /// Share of prints that must meet every limit.
    pub required_share: f64,
    /// The limits, in SI: those stated, then those that follow from a role.
    pub limits: Vec<Limit>,
    /// How many of them, at the end, follow from a role.
    pub implied: usize,
}

impl Acceptance {
    /// Limits that somebody wrote.
    pub fn stated(&self) -> &[Limit] {
        &self.limits[..self.limits.len() - self.implied]
    }

    /// Whether a limit, counted from 0, follows from a role.
    pub fn is_implied(&self, number: usize) -> bool {
        number >= self.stated().len()
    }
}

/// Limits that follow from a role: if any limit is stated, no particle may lie on a keep-out for which none is.
pub fn implied_limits(stated: &[Limit], regions: &[Region]) -> Vec<Limit> {
    if stated.is_empty() {
        return Vec::new();
    }
    let silent = |region: &&Region| !stated.iter().any(|limit| limit.place.as_ref() == Some(&region.name));
    let clean = |region: &Region| Limit {
        figure: RegionFigure::Particles.into(),
        place: Some(region.name.clone()),
        min: None,
        max: Some(0.0),
    };
    regions.iter().filter(|region| region.role == Role::KeepOut).filter(silent).map(clean).collect()
}

/// One limit.
#[derive(Debug, Clone)]
pub struct Limit {
    /// Which figure.
    pub figure: Figure,
    /// Region or path item it applies to; `None` for figures of the whole print.
    pub place: Option<String>,
    /// Least accepted value, SI.
    pub min: Option<f64>,
    /// Largest accepted value, SI.
    pub max: Option<f64>,
}
