//! How much motion an item of a path makes, from above and without working it out.

use super::fill::LONGEST_TURN;
use crate::contours::line_length;
use crate::inputs::{EdgeStroke, PathItem, Shape, ShutterLead, Stage, Turns};
use crate::map::outline::bounds_of_shape;

/// Motion of an item with all its passes.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct MotionSize {
    /// Strokes drawn in one go.
    pub strokes: f64,
    /// Straight pieces of them.
    pub straights: f64,
    /// Time with the shutter open, s.
    pub open: f64,
    /// Time with the moves between strokes, s.
    pub whole: f64,
}

/// One pass: strokes, straight pieces, length, m.
struct Pass {
    strokes: f64,
    straights: f64,
    length: f64,
}

/// Lines of a filled band.
fn lines(height: f64, spacing: f64) -> f64 {
    (height / spacing).ceil().max(1.0)
}

/// A spacing that was left out counts as estimated.
fn pass(shape: &Shape) -> Pass {
    match shape {
        Shape::Polyline(points) => Pass { strokes: 1.0, straights: points.len() as f64, length: line_length(points) },
        Shape::FilledRectangle { size, spacing, .. } => {
            let lines = lines(size[1], *spacing);
            Pass { strokes: 1.0, straights: 2.0 * lines, length: lines * size[0] + size[1] }
        }
        Shape::FilledDisc { radius, spacing, .. } => {
            let lines = lines(2.0 * radius, *spacing);
            // The turns run along the rim.
            Pass { strokes: 1.0, straights: 2.0 * lines, length: lines * 2.0 * radius + 4.0 * radius }
        }
        Shape::Dot { .. } => Pass { strokes: 1.0, straights: 1.0, length: 0.0 },
        Shape::Filled(filled) => {
            // Each line that an edge crosses begins or ends there; the next one is drawn on in the same stroke where the edge is steep.
            let (sine, cosine) = filled.angle.sin_cos();
            let (mut height, mut shallow, mut around, mut corners) = (0.0, 0.0, 0.0, 0.0);
            filled.area.each_edge(|a, b| {
                let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
                let (along, across) = ((dx * cosine + dy * sine).abs(), (dy * cosine - dx * sine).abs());
                height += across;
                shallow += if along > (LONGEST_TURN - 0.5) * across { across } else { 0.0 };
                around += dx.hypot(dy);
                corners += 1.0;
            });
            let pieces = 2.0 * filled.area.contours().len() as f64;
            let spacing = filled.spacing.with(None);
            let lines = 0.5 * height / spacing + pieces;
            let strokes = match filled.turns {
                Turns::Open => lines.min(shallow / spacing + corners + pieces),
                Turns::Shut => lines,
            };
            let along = if filled.edge == EdgeStroke::Along { 1.0 } else { 0.0 };
            Pass {
                strokes,
                straights: 2.0 * lines + along * corners,
                // Ways from stroke to stroke run along the edge.
                length: filled.area.area() / spacing + (1.0 + along) * around,
            }
        }
        Shape::Polylines(drawn) => Pass {
            strokes: drawn.lines.len() as f64,
            straights: drawn.lines.iter().map(|line| line.len() as f64).sum(),
            length: drawn.lines.iter().map(|line| line_length(line)).sum(),
        },
    }
}

/// Time for a length (m) from rest to rest at most at a speed (m/s) with an acceleration (m/s^2): a trapezoid, or a triangle when too short.
fn rest_to_rest(length: f64, speed: f64, acceleration: f64) -> f64 {
    if length * acceleration > speed * speed {
        length / speed + speed / acceleration
    } else {
        2.0 * (length / acceleration).sqrt()
    }
}

impl MotionSize {
    /// Of an item; not finite if the item has faults.
    pub fn of(item: &PathItem, stage: &Stage) -> Self {
        let Pass { strokes, straights, length } = pass(&item.shape);
        let passes = f64::from(item.passes);
        let dwell = if let Shape::Dot { dwell, .. } = item.shape { dwell } else { 0.0 };
        // Together straights take the longest if they are equally long: the time of one is concave in its length.
        let each = if straights > 0.0 { rest_to_rest(length / straights, item.speed, stage.acceleration) } else { 0.0 };
        let drawn = passes * (straights * each + dwell);
        let late = (stage.shutter_close_delay - stage.shutter_open_delay).max(0.0);
        let open = drawn + passes * strokes * late;
        let across = bounds_of_shape(&item.shape).diagonal() + 2.0 * stage.run_up;
        // Passes run back and forth, so that the next one begins where the last one ended.
        let moves = passes * (strokes - 1.0).max(0.0);
        let travel = moves * (across / stage.travel_speed + stage.travel_speed / stage.acceleration);
        let run_up = passes * strokes * 2.0 * stage.run_up / item.speed;
        let waits = match stage.shutter_lead {
            ShutterLead::None => 0.0,
            // Until it is open, and before that until it has closed behind a stroke that was too short for it.
            ShutterLead::Compensated => passes * strokes * (stage.shutter_open_delay + late),
        };
        let whole = drawn + travel + run_up + waits + stage.shutter_close_delay;
        Self { strokes: passes * strokes, straights: passes * straights, open: open.min(whole), whole }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contours::Contours;
    use crate::inputs::{DrawnLines, Filled, Spacing};
    use crate::path::motion::Timeline;
    use std::sync::Arc;

    #[test]
    fn the_estimate_lies_above_the_motion_and_not_far() {
        let comb: Vec<[f64; 2]> = (0..40)
            .flat_map(|k| {
                let x = 50e-6 * f64::from(k);
                [[x, 0.0], [x, 1e-3], [x + 25e-6, 1e-3], [x + 25e-6, 0.0]]
            })
            .chain([[2e-3, -1e-4], [0.0, -1e-4]])
            .collect();
        let filled = |edge, turns, angle| {
            let area = Arc::new(Contours::new(vec![comb.clone()]));
            Shape::Filled(Filled { area, spacing: Spacing::Given(1e-5), angle, turns, edge, source: None })
        };
        let circle = (0..=100).map(|k| (0.0628 * f64::from(k)).sin_cos()).map(|(s, c)| [1e-3 * c, 1e-3 * s]).collect();
        let shapes = [
            Shape::Polyline(vec![[0.0, 0.0], [1e-3, 0.0], [1e-3, 1e-3]]),
            Shape::FilledRectangle { center: [0.0; 2], size: [1e-3, 5e-4], rotation: 0.3, spacing: 1e-5 },
            Shape::FilledDisc { center: [0.0; 2], radius: 5e-4, spacing: 1e-5 },
            Shape::Dot { at: [0.0; 2], dwell: 0.4 },
            filled(EdgeStroke::Without, Turns::Open, 0.0),
            filled(EdgeStroke::Along, Turns::Shut, 1.2),
            Shape::Polylines(DrawnLines { lines: vec![circle, vec![[0.0, 0.0], [1e-4, 0.0]]], source: None }),
        ];
        let stage = |lead, delays: [f64; 2], run_up| Stage {
            acceleration: 1.0,
            travel_speed: 0.02,
            shutter_open_delay: delays[0],
            shutter_close_delay: delays[1],
            shutter_lead: lead,
            jitter: 0.0,
            run_up,
        };
        for (k, shape) in shapes.into_iter().enumerate() {
            for (speed, stage) in [
                (0.5, stage(ShutterLead::None, [0.01, 0.01], 0.0)),
                (1e-3, stage(ShutterLead::None, [0.01, 0.01], 0.0)),
                (2e-2, stage(ShutterLead::None, [0.0, 0.2], 1e-4)),
                (2e-2, stage(ShutterLead::Compensated, [0.05, 0.01], 0.0)),
                (0.5, stage(ShutterLead::Compensated, [0.01, 0.2], 1e-4)),
            ] {
                let item = PathItem { name: "i".into(), shape: shape.clone(), speed, passes: 3 };
                let late = stage.shutter_close_delay - stage.shutter_open_delay;
                let size = MotionSize::of(&item, &stage);
                let timeline = Timeline::new(std::slice::from_ref(&item), &stage, None);
                let near = |what: &str, estimate: f64, exact: f64, factor: f64| {
                    assert!(
                        exact <= estimate * (1.0 + 1e-9) && estimate <= factor * exact,
                        "{what} of shape {k} at {speed} m/s: {estimate}, in truth {exact}"
                    );
                };
                near("strokes", size.strokes, timeline.strokes.len() as f64, 5.0);
                // A shutter that closes late stays open over short ways; a drawn curve is passed without the rests counted here.
                let is_loose = late > 0.0 || matches!(shape, Shape::Polylines(_));
                near("open", size.open, timeline.open_time(), if is_loose { 7.0 } else { 2.0 });
                near("whole", size.whole, timeline.duration, 10.0);
                // Ramps up and down and what lies between; ways between strokes, too.
                let pieces = 3.0 * (size.straights + size.strokes) + 1.0;
                assert!(timeline.pieces.len() as f64 <= pieces, "{pieces} {}", timeline.pieces.len());
            }
        }
    }
}
