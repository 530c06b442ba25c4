//! A sweep with its space and its ranking, and the words for its settings.

use crate::page::joined;
use crate::sweep::effects::{self, Basis};
use crate::sweep::panel::setting;
use crate::sweep::rank::{Class, Ranked, ranked_in};
use crate::sweep::space::{self, Space};
use maud::{Markup, html};
use motefall_figures::sweep::{PointStats, SweepResult};

/// Points of a list that are named.
const MOST_POINTS: usize = 8;

/// A sweep with all that was worked out from it.
pub(super) struct Judged<'a> {
    pub(crate) result: &'a SweepResult,
    pub(crate) space: Space,
    pub(crate) ranking: Vec<Ranked>,
    /// Axes that vary, most influential first, with their share of the variation.
    pub(crate) influence: Vec<(usize, f64)>,
    pub(crate) basis: Basis,
}

impl<'a> Judged<'a> {
    pub(crate) fn new(result: &'a SweepResult) -> Self {
        let space = Space::new(result);
        let ranking = ranked_in(result, &space);
        let (influence, basis) = effects::influence(result, &space);
        Self { result, space, ranking, influence, basis }
    }

    pub(super) fn best(&self) -> Option<&Ranked> {
        self.ranking.first()
    }

    pub(crate) fn stats(&self, ranked: &Ranked) -> Option<&PointStats> {
        self.result.points[ranked.index].outcome.as_ref().ok()
    }

    pub(crate) fn wanted(&self) -> String {
        format!("{}\u{a0}%", setting(self.result.plan.wanted_share * 100.0))
    }

    pub(super) fn number_of(&self, index: usize) -> u64 {
        self.result.points[index].point
    }

    pub(crate) fn ran(&self) -> impl Iterator<Item = &PointStats> {
        self.result.points.iter().filter_map(|p| p.outcome.as_ref().ok()).filter(|s| s.prints > 0)
    }

    pub(crate) fn failed(&self) -> usize {
        self.result.points.len() - self.ran().count()
    }

    /// Scaled settings of the best point, or the middle of the sweep.
    pub(crate) fn slice(&self) -> Vec<f64> {
        self.best().map_or_else(|| vec![0.5; self.space.axes.len()], |b| self.space.places[b.index].clone())
    }

    /// What the point at the head of the ranking is called.
    pub(crate) fn best_word(&self) -> &'static str {
        match self.best().map(|b| b.class) {
            Some(Class::Below) => "best",
            _ => "recommended",
        }
    }

    /// Name of an axis that varies.
    pub(crate) fn name(&self, k: usize) -> String {
        space::name(&self.result.plan.axes[self.space.axes[k].axis])
    }

    /// Name and value of an axis that varies, at a scaled place.
    pub(crate) fn setting(&self, k: usize, place: f64) -> Markup {
        let axis = &self.space.axes[k];
        html! { (self.name(k)) " " (with_unit(axis.value(place), &axis.unit)) }
    }

    /// Settings of a point in words.
    pub(crate) fn settings(&self, index: usize) -> Markup {
        let point = &self.result.points[index];
        joined(
            ", ",
            self.result.plan.axes.iter().zip(&point.values).map(|(axis, value)| {
                html! {
                    (space::name(axis)) " " (with_unit(*value, &axis.unit))
                }
            }),
        )
    }
}

fn with_unit(value: f64, unit: &str) -> Markup {
    html! { b { (setting(value)) @if !unit.is_empty() { "\u{a0}" (unit) } } }
}

/// The first few points of a list.
pub(super) fn first_points(points: &[u64]) -> Markup {
    html! { (joined(", ", points.iter().take(MOST_POINTS).map(|p| html! { (p) }))) @if points.len() > MOST_POINTS { ", …" } }
}
