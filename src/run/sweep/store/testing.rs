//! A small sweep for tests. All values are invented.

use super::{Header, Opened, Shard, Store, StoreError, point_line};
use crate::sweep::design::Points;
use motefall_figures::sweep::{FigureStats, PointRecord, PointStats, SweepResult};
use motefall_figures::{CautionKind, RegionFigure};
use motefall_physics::inputs::{Axis, AxisValues, Chance, Design, Limit, PointPrints, SweepPlan};
use serde_json::Value;
use std::path::Path;

pub(super) fn result() -> SweepResult {
    let axis = |key: &str, values| Axis { key: key.into(), unit: "µm".into(), values };
    SweepResult {
        name: "n".into(),
        note: "invented".into(),
        seed: 3,
        resolution: Some(0.5e-6),
        plan: SweepPlan {
            axes: vec![
                axis("a.b", AxisValues::List(vec![0.1, 2.0])),
                axis("c", AxisValues::Log { from: 0.5, to: 8.0, count: 3 }),
            ],
            design: Design::Grid,
            prints: PointPrints::Adaptive { round: 5, most: 20, half_width: 0.05 },
            chance: Chance::Own,
            wanted_share: 0.9,
        },
        limits: vec![Limit {
            figure: RegionFigure::Coverage.into(),
            place: Some("t".into()),
            min: Some(0.3),
            max: None,
        }],
        places: vec![(RegionFigure::Coverage.kind(), Some("t".into()))],
        points: Vec::new(),
    }
}

pub(super) fn header(identity: Value) -> Header {
    Header::new(&result(), 6, Shard::WHOLE, identity)
}

pub(super) fn design() -> Points {
    Points::new(&result().plan, 3).expect("a design")
}

pub(super) fn record(point: u64) -> PointRecord {
    let figure = FigureStats {
        mean: 0.1 + 0.2,
        interval: [1.0 / 3.0, 5e-324],
        sd: 1e23 / 7.0,
        n: 5,
        extremes: Some([0.1 + 0.7, 1e-5 / 3.0]),
    };
    PointRecord {
        point,
        values: design().at(point),
        outcome: Ok(PointStats {
            prints: 5,
            met: 4,
            met_each: vec![4],
            figures: vec![Some(figure)],
            margin_sd: Some(-0.1),
            cautions: vec![CautionKind::LangRange],
            print_time: 1.2345678901234567,
            ink_used: 1.1e-10 / 3.0,
            droplets: 1234.5,
        }),
    }
}

pub(super) fn open(folder: &Path, identity: Value) -> Result<(Store, Opened), StoreError> {
    Store::open(folder, &header(identity), "1, since noon")
}

pub(super) fn same(points: u64, cut: u64) -> Opened {
    Opened::Same { points, cut, damaged: Vec::new(), leftovers: 0 }
}

/// Lines of all points of the design; one cannot run, and its reason holds letters that a flipped bit turns into the end of a line.
pub(super) fn all_lines() -> Vec<Vec<u8>> {
    let odd = PointRecord { outcome: Err("J*J".into()), ..record(2) };
    (0..6).map(|point| if point == 2 { point_line(&odd) } else { point_line(&record(point)) }).collect()
}
