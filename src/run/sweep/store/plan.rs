//! Plan and limits of a sweep as they stand in a header.

use super::line::known_figure;
use motefall_physics::inputs::{Axis, AxisValues, Chance, Design, Limit, PointPrints, SweepPlan};
use serde::{Deserialize, Serialize};

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct PlanText {
    axes: Vec<AxisText>,
    design: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    points: Option<u32>,
    pub(super) prints: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) most_prints: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    half_width: Option<f64>,
    common_chance: bool,
    wanted_share: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct AxisText {
    key: String,
    unit: String,
    #[serde(flatten)]
    values: ValuesText,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum ValuesText {
    List(Vec<f64>),
    Linear { from: f64, to: f64, count: u32 },
    Log { from: f64, to: f64, count: u32 },
}

impl PlanText {
    pub(super) fn of(plan: &SweepPlan) -> Self {
        let (design, points) = match plan.design {
            Design::Grid => ("grid", None),
            Design::Sobol(n) => ("sobol", Some(n)),
            Design::LatinHypercube(n) => ("latin-hypercube", Some(n)),
        };
        let (prints, most_prints, half_width) = match plan.prints {
            PointPrints::Fixed(prints) => (prints, None, None),
            PointPrints::Adaptive { round, most, half_width } => (round, Some(most), Some(half_width)),
        };
        let values = |values: &AxisValues| match values {
            AxisValues::List(values) => ValuesText::List(values.clone()),
            AxisValues::Linear { from, to, count } => ValuesText::Linear { from: *from, to: *to, count: *count },
            AxisValues::Log { from, to, count } => ValuesText::Log { from: *from, to: *to, count: *count },
        };
        Self {
            axes: plan
                .axes
                .iter()
                .map(|axis| AxisText { key: axis.key.clone(), unit: axis.unit.clone(), values: values(&axis.values) })
                .collect(),
            design: design.into(),
            points,
            prints,
            most_prints,
            half_width,
            common_chance: plan.chance == Chance::Common,
            wanted_share: plan.wanted_share,
        }
    }

    pub(super) fn plan(&self) -> SweepPlan {
        let values = |values: &ValuesText| match values {
            ValuesText::List(values) => AxisValues::List(values.clone()),
            ValuesText::Linear { from, to, count } => AxisValues::Linear { from: *from, to: *to, count: *count },
            ValuesText::Log { from, to, count } => AxisValues::Log { from: *from, to: *to, count: *count },
        };
        SweepPlan {
            axes: self
                .axes
                .iter()
                .map(|axis| Axis { key: axis.key.clone(), unit: axis.unit.clone(), values: values(&axis.values) })
                .collect(),
            design: match (self.design.as_str(), self.points) {
                ("sobol", Some(n)) => Design::Sobol(n),
                ("latin-hypercube", Some(n)) => Design::LatinHypercube(n),
                _ => Design::Grid,
            },
            prints: match (self.most_prints, self.half_width) {
                (Some(most), Some(half_width)) => PointPrints::Adaptive { round: self.prints, most, half_width },
                _ => PointPrints::Fixed(self.prints),
            },
            chance: if self.common_chance { Chance::Common } else { Chance::Own },
            wanted_share: self.wanted_share,
        }
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct LimitText {
    figure: String,
    place: Option<String>,
    min: Option<f64>,
    max: Option<f64>,
}

impl LimitText {
    pub(super) fn of(limit: &Limit) -> Self {
        Self { figure: limit.figure.kind().id.into(), place: limit.place.clone(), min: limit.min, max: limit.max }
    }

    pub(super) fn limit(&self) -> Result<Limit, String> {
        let figure = known_figure(&self.figure)?.figure;
        Ok(Limit { figure, place: self.place.clone(), min: self.min, max: self.max })
    }
}
