//! Motion of the stage under an acceleration limit.

use super::shutter::{Opening, Shutter};
use super::strokes::{Corners, StrokeLine, strokes};
use crate::contours::{line_length, turned};
use crate::inputs::{PathItem, Stage};

/// Expected droplets in a block of the path: the unit of work and of random streams.
pub const BLOCK_DROPLETS: f64 = 4096.0;
/// Longest block, s, so that output and stage wander are followed.
pub const LONGEST_BLOCK: f64 = 0.02;
/// Time between independent positions of the stage's wander, s. An estimate: slower than servo noise, faster than drift.
pub const JITTER_TIME: f64 = 0.02;

/// A stretch of straight motion at constant acceleration.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// Start, s after the print's begin.
    pub time: f64,
    /// Duration, s.
    pub duration: f64,
    /// Nozzle axis at the start, m.
    pub from: [f64; 2],
    /// Unit vector of the motion.
    pub direction: [f64; 2],
    /// Speed at the start, m/s.
    pub speed: f64,
    /// Acceleration along the direction, m/s^2.
    pub acceleration: f64,
}

impl Piece {
    /// Nozzle axis at a time after the piece's start.
    #[inline]
    pub fn at(&self, time: f64) -> [f64; 2] {
        let s = time * (self.speed + 0.5 * self.acceleration * time);
        [self.from[0] + s * self.direction[0], self.from[1] + s * self.direction[1]]
    }

    /// The same motion turned about the origin by an angle (rad), then shifted (m).
    pub fn displaced(&self, rotation: f64, shift: [f64; 2]) -> Self {
        let turn = |v| if rotation == 0.0 { v } else { turned(v, rotation) };
        let [x, y] = turn(self.from);
        Self { from: [x + shift[0], y + shift[1]], direction: turn(self.direction), ..*self }
    }

    /// The part between two times after the piece's start.
    fn part(&self, from: f64, to: f64) -> Self {
        Self {
            time: self.time + from,
            duration: to - from,
            from: self.at(from),
            speed: self.speed + self.acceleration * from,
            ..*self
        }
    }
}

/// A straight piece of the nozzle's path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stroke {
    /// Start, m.
    pub from: [f64; 2],
    /// End, m.
    pub to: [f64; 2],
    /// Whether mist reaches the chip.
    pub open: bool,
}

/// When a stroke of an item is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StrokeTime {
    /// Index of the item.
    pub item: usize,
    /// Length, m.
    pub length: f64,
    /// When the stage is at its first and at its last point, s.
    pub drawn: [f64; 2],
    /// When its mist begins and ceases to reach the chip, s; not in order if the shutter never opens for it.
    pub mist: [f64; 2],
}

/// Waits of the stage for the shutter, before strokes other than the first.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Waits {
    /// How many.
    pub count: usize,
    /// Together, s.
    pub time: f64,
}

/// Cosine of the slightest turn at which the stage comes to rest: 10 degrees. An estimate: controllers blend slight corners.
const SLIGHT_TURN: f64 = 0.984_8;

/// The whole motion of a print.
#[derive(Debug, Clone)]
pub struct Timeline {
    /// Strokes in order.
    pub strokes: Vec<StrokeTime>,
    /// Motion without gaps, in order.
    pub pieces: Vec<Piece>,
    /// Openings of the shutter, in order; their mist does not touch.
    pub openings: Vec<Opening>,
    /// How long the stage waits for the shutter between strokes.
    pub waits: Waits,
    /// Whole time, s.
    pub duration: f64,
}

/// Builds pieces one after another.
struct Mover {
    pieces: Vec<Piece>,
    time: f64,
    place: [f64; 2],
    acceleration: f64,
}

impl Mover {
    fn push(&mut self, duration: f64, direction: [f64; 2], speed: f64, acceleration: f64) {
        if duration > 0.0 {
            let piece = Piece { time: self.time, duration, from: self.place, direction, speed, acceleration };
            self.place = piece.at(duration);
            self.time += duration;
            self.pieces.push(piece);
        }
    }

    fn rest(&mut self, duration: f64) {
        self.push(duration, [1.0, 0.0], 0.0, 0.0);
    }

    /// From rest to rest in a straight line: trapezoid of speed, or a triangle when too short.
    fn go(&mut self, to: [f64; 2], speed: f64) {
        let (dx, dy) = (to[0] - self.place[0], to[1] - self.place[1]);
        let length = dx.hypot(dy);
        if length == 0.0 {
            return;
        }
        let direction = [dx / length, dy / length];
        let peak = speed.min((self.acceleration * length).sqrt());
        let ramp = peak / self.acceleration;
        let cruise = (length - peak * ramp).max(0.0) / peak;
        self.push(ramp, direction, 0.0, self.acceleration);
        self.push(cruise, direction, peak, 0.0);
        self.push(ramp, direction, peak, -self.acceleration);
        // No drift from rounding.
        self.place = to;
    }

    /// Through corners, at rest only where the way turns by more than a little. Where it turns, the speed keeps the acceleration
    /// across the way, v^2/r with r the length of the pieces over their turn, within the limit. Gives the number of the first piece
    /// of motion of the last straight.
    fn follow(&mut self, corners: &[[f64; 2]], speed: f64) -> usize {
        let mut last = self.pieces.len();
        let way = |from: [f64; 2], to: [f64; 2]| {
            let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
            let length = dx.hypot(dy);
            (length, [dx / length, dy / length])
        };
        let mut next = 0;
        while next < corners.len() {
            // Straight pieces up to the next rest: end, length, direction.
            let mut run: Vec<([f64; 2], f64, [f64; 2])> = Vec::new();
            let (mut from, mut most) = (self.place, speed);
            for &to in &corners[next..] {
                let (length, direction) = way(from, to);
                if length == 0.0 {
                    next += 1;
                    continue;
                }
                if let Some((_, before, d)) = run.last() {
                    let cosine = d[0] * direction[0] + d[1] * direction[1];
                    if cosine < SLIGHT_TURN {
                        break;
                    }
                    let turn = (d[0] * direction[1] - d[1] * direction[0]).abs().atan2(cosine);
                    if turn > 0.0 {
                        most = most.min((self.acceleration * 0.5 * (before + length) / turn).sqrt());
                    }
                }
                run.push((to, length, direction));
                from = to;
                next += 1;
            }
            let total: f64 = run.iter().map(|(_, length, _)| length).sum();
            let peak = most.min((self.acceleration * total).sqrt());
            let ramp = 0.5 * peak * peak / self.acceleration;
            let mut done = 0.0;
            for (to, length, direction) in run {
                last = self.pieces.len();
                let end = done + length;
                let (a, b) = (self.acceleration, total - ramp);
                let speed_at = |s: f64| {
                    if s < ramp {
                        (2.0 * a * s).max(0.0).sqrt()
                    } else if s > b {
                        (2.0 * a * (total - s)).max(0.0).sqrt()
                    } else {
                        peak
                    }
                };
                // The straight cut where speeding up ends and slowing down begins.
                for (low, high, acceleration) in [(0.0, ramp, a), (ramp, b, 0.0), (b, total, -a)] {
                    let (low, high) = (done.max(low), end.min(high));
                    if high > low {
                        let (v, w) = (speed_at(low), speed_at(high));
                        let duration = if acceleration == 0.0 { (high - low) / peak } else { (w - v) / acceleration };
                        self.push(duration, direction, v, acceleration);
                    }
                }
                // No drift from rounding.
                self.place = to;
                done = end;
            }
        }
        last
    }

    /// Rests before the pieces since `first`, as if they had begun later.
    fn rest_before(&mut self, first: usize, duration: f64) {
        if duration > 0.0 {
            let Some(&begin) = self.pieces.get(first) else { return self.rest(duration) };
            self.pieces[first..].iter_mut().for_each(|piece| piece.time += duration);
            let rest = Piece { duration, direction: [1.0, 0.0], speed: 0.0, acceleration: 0.0, ..begin };
            self.pieces.insert(first, rest);
            self.time += duration;
        }
    }

    /// Time at which the last pieces since `first` pass a distance from their start.
    fn time_at(&self, first: usize, mut distance: f64) -> f64 {
        for piece in &self.pieces[first..] {
            let length = piece.duration * (piece.speed + 0.5 * piece.acceleration * piece.duration);
            if distance <= length {
                let t = if piece.acceleration == 0.0 {
                    distance / piece.speed
                } else {
                    let root = (piece.speed * piece.speed + 2.0 * piece.acceleration * distance).max(0.0).sqrt();
                    (root - piece.speed) / piece.acceleration
                };
                return piece.time + t.clamp(0.0, piece.duration);
            }
            distance -= length;
        }
        self.time
    }

    /// A stroke with its run-up, from where its run-up begins; gives the times at its first and last point, s.
    fn draw(&mut self, line: &StrokeLine, length: f64) -> [f64; 2] {
        if line.points.len() == 1 {
            let begin = self.time;
            self.rest(line.dwell);
            return [begin, self.time];
        }
        // The first and the last straight piece are lengthened by the run-up and passed at speed.
        let (before, after) = run_up(line, length);
        let mut corners = line.points.clone();
        let last = corners.len() - 1;
        corners[0] = before;
        corners[last] = after;
        let first_piece = self.pieces.len();
        let mut last_start = (first_piece, self.place);
        if line.corners == Corners::Flow {
            last_start = (self.follow(&corners[1..], line.speed), corners[last - 1]);
        } else {
            for &corner in &corners[1..] {
                last_start = (self.pieces.len(), self.place);
                self.go(corner, line.speed);
            }
        }
        let end = line.points[last];
        let from = last_start.1;
        [self.time_at(first_piece, length), self.time_at(last_start.0, (end[0] - from[0]).hypot(end[1] - from[1]))]
    }
}

impl Timeline {
    /// Number of the last stroke whose mist has begun to reach the chip at a time, s; 0 before the first.
    pub fn stroke_at(&self, time: f64) -> usize {
        self.strokes.partition_point(|stroke| stroke.mist[0] <= time).saturating_sub(1)
    }

    /// Motion and openings for the items, in order. The stage rests at every corner of a stroke; between strokes it travels with
    /// the shutter closed. When the shutter is told says [`super::shutter`]; after the last stroke the stage waits until it has closed.
    /// `from_line` as in [`strokes`].
    pub fn new(items: &[PathItem], stage: &Stage, from_line: Option<f64>) -> Self {
        let lines: Vec<(usize, StrokeLine)> = items
            .iter()
            .enumerate()
            .flat_map(|(k, item)| strokes(item, from_line).into_iter().map(move |line| (k, line)))
            .collect();
        let start = lines.first().map_or([0.0, 0.0], |(_, line)| run_up(line, stage.run_up).0);
        let mut times: Vec<StrokeTime> = Vec::with_capacity(lines.len());
        let mut mover = Mover { pieces: Vec::new(), time: 0.0, place: start, acceleration: stage.acceleration };
        let mut shutter = Shutter::new(stage);
        let mut waits = Waits::default();
        for (item, line) in &lines {
            mover.go(run_up(line, stage.run_up).0, stage.travel_speed);
            let first_piece = mover.pieces.len();
            let mut drawn = mover.draw(line, stage.run_up);
            if let (true, Some(last)) = (shutter.stays_open(drawn[0]), times.last_mut()) {
                last.mist[1] = drawn[0];
            }
            let wait = shutter.wait(drawn[0]);
            mover.rest_before(first_piece, wait);
            drawn = drawn.map(|time| time + wait);
            if wait > 0.0 && !times.is_empty() {
                waits = Waits { count: waits.count + 1, time: waits.time + wait };
            }
            let mist = shutter.draw(drawn);
            times.push(StrokeTime { item: *item, length: line_length(&line.points), drawn, mist });
        }
        let closed = shutter.openings.last().map_or(0.0, |opening| opening.mist[1]);
        mover.rest(closed - mover.time);
        Self { strokes: times, pieces: mover.pieces, openings: shutter.openings, waits, duration: mover.time }
    }

    /// Where the nozzle axis is at a time, s: at the ends before and after the motion; `None` without any motion.
    pub fn at(&self, time: f64) -> Option<[f64; 2]> {
        let number = self.pieces.partition_point(|piece| piece.time <= time).saturating_sub(1);
        let piece = self.pieces.get(number)?;
        Some(piece.at((time - piece.time).clamp(0.0, piece.duration)))
    }

    /// Length of the way between two times (s) in order, m.
    pub fn way(&self, from: f64, to: f64) -> f64 {
        let first = self.pieces.partition_point(|piece| piece.time + piece.duration <= from);
        let along = |piece: &Piece, t: f64| t * (piece.speed + 0.5 * piece.acceleration * t);
        self.pieces[first..]
            .iter()
            .take_while(|piece| piece.time < to)
            .map(|piece| {
                let [a, b] = [from, to].map(|time| along(piece, (time - piece.time).clamp(0.0, piece.duration)));
                b - a
            })
            .sum()
    }

    /// Time with the shutter open, s.
    pub fn open_time(&self) -> f64 {
        self.openings.iter().map(|opening| opening.mist[1] - opening.mist[0]).sum()
    }

    /// The open stretches of motion, none longer than `longest` (s).
    pub fn open_pieces(&self, longest: f64) -> Vec<Piece> {
        let mut parts = Vec::new();
        let mut spans = self.openings.iter().map(|opening| opening.mist).peekable();
        for piece in &self.pieces {
            let end = piece.time + piece.duration;
            while let Some(span) = spans.peek() {
                let (from, to) = (span[0].max(piece.time), span[1].min(end));
                if to > from {
                    let count = ((to - from) / longest).ceil().max(1.0) as usize;
                    let step = (to - from) / count as f64;
                    parts.extend((0..count).map(|k| {
                        let begin = from - piece.time + k as f64 * step;
                        piece.part(begin, begin + step)
                    }));
                }
                if span[1] > end {
                    break;
                }
                spans.next();
            }
        }
        parts
    }

    /// The nozzle's path for drawing.
    pub fn drawing(&self) -> Vec<Stroke> {
        let mut strokes: Vec<Stroke> = Vec::new();
        let mut push = |from: [f64; 2], to: [f64; 2], open: bool| {
            let length = (to[0] - from[0]).hypot(to[1] - from[1]);
            if length == 0.0 {
                return;
            }
            // Ramps and cruise of one straight line are drawn as one.
            if let Some(last) = strokes.last_mut() {
                let (dx, dy) = (last.to[0] - last.from[0], last.to[1] - last.from[1]);
                let cross = dx * (to[1] - from[1]) - dy * (to[0] - from[0]);
                let dot = dx * (to[0] - from[0]) + dy * (to[1] - from[1]);
                let gap = (from[0] - last.to[0]).hypot(from[1] - last.to[1]);
                if last.open == open && gap < 1e-12 && dot > 0.0 && cross.abs() < 1e-9 * dx.hypot(dy) * length {
                    last.to = to;
                    return;
                }
            }
            strokes.push(Stroke { from, to, open });
        };
        let mut first = 0;
        for piece in &self.pieces {
            let mut at = 0.0;
            first += self.openings[first..].iter().take_while(|opening| opening.mist[1] <= piece.time).count();
            for opening in &self.openings[first..] {
                let [from, to] = opening.mist.map(|time| time - piece.time);
                if from >= piece.duration {
                    break;
                }
                if to <= 0.0 {
                    continue;
                }
                let (from, to) = (from.max(0.0), to.min(piece.duration));
                push(piece.at(at), piece.at(from), false);
                push(piece.at(from), piece.at(to), true);
                at = to;
            }
            push(piece.at(at), piece.at(piece.duration), false);
        }
        strokes
    }
}

/// Where a stroke's motion begins and ends with its run-up.
fn run_up(line: &StrokeLine, length: f64) -> ([f64; 2], [f64; 2]) {
    let points = &line.points;
    let last = points.len() - 1;
    if last == 0 {
        return (points[0], points[0]);
    }
    let beyond = |end: [f64; 2], inner: [f64; 2]| {
        let (dx, dy) = (end[0] - inner[0], end[1] - inner[1]);
        let distance = dx.hypot(dy).max(f64::MIN_POSITIVE);
        [end[0] + length * dx / distance, end[1] + length * dy / distance]
    };
    (beyond(points[0], points[1]), beyond(points[last], points[last - 1]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inputs::{Shape, ShutterLead};

    fn stage(open: f64, close: f64, run_up: f64) -> Stage {
        Stage {
            acceleration: 2.0,
            travel_speed: 0.02,
            shutter_open_delay: open,
            shutter_close_delay: close,
            shutter_lead: ShutterLead::None,
            jitter: 0.0,
            run_up,
        }
    }

    fn line(from: [f64; 2], to: [f64; 2], speed: f64, passes: u32) -> PathItem {
        PathItem { name: "l".into(), shape: Shape::Polyline(vec![from, to]), speed, passes }
    }

    #[test]
    fn a_line_from_rest_to_rest_by_hand() {
        // 1 mm at 1 mm/s with 2 m/s^2: ramps of 0.5 ms and 0.25 um each, cruise 0.9995 mm in 0.9995 s. Total 1.0005 s.
        let timeline = Timeline::new(&[line([0.0, 0.0], [1e-3, 0.0], 1e-3, 1)], &stage(0.0, 0.0, 0.0), None);
        assert!((timeline.duration - 1.0005).abs() < 1e-9);
        assert!((timeline.open_time() - 1.0005).abs() < 1e-9);
        let pieces = timeline.open_pieces(10.0);
        assert_eq!(pieces.len(), 3);
        assert!((pieces[1].speed - 1e-3).abs() < 1e-15);
        let end = pieces[2].at(pieces[2].duration);
        assert!((end[0] - 1e-3).abs() < 1e-12);
    }

    #[test]
    fn with_a_run_up_the_line_itself_is_drawn_at_speed() {
        let timeline = Timeline::new(&[line([0.0, 0.0], [1e-3, 0.0], 1e-3, 1)], &stage(0.0, 0.0, 1e-4), None);
        let pieces = timeline.open_pieces(10.0);
        assert_eq!(pieces.len(), 1);
        assert!(pieces[0].from[0].abs() < 1e-12);
        assert!((pieces[0].duration - 1.0).abs() < 1e-9);
    }

    #[test]
    fn delays_shift_what_is_printed() {
        // 10 ms late opening at 1 mm/s loses 10 um; 20 ms late closing prints 20 um of the run-out.
        let timeline = Timeline::new(&[line([0.0, 0.0], [1e-3, 0.0], 1e-3, 1)], &stage(0.01, 0.02, 1e-4), None);
        let pieces = timeline.open_pieces(10.0);
        assert!((pieces[0].from[0] - 1e-5).abs() < 1e-10);
        let last = pieces[pieces.len() - 1];
        assert!((last.at(last.duration)[0] - 1.02e-3).abs() < 1e-10);
        assert!((timeline.open_time() - 1.01).abs() < 1e-9);
    }

    #[test]
    fn open_pieces_cover_the_open_time_and_are_short_enough() {
        let items = [line([0.0, 0.0], [1e-3, 1e-3], 2e-3, 3), line([0.0, 1e-3], [1e-3, 0.0], 1e-3, 2)];
        let timeline = Timeline::new(&items, &stage(0.004, 0.009, 0.0), None);
        let pieces = timeline.open_pieces(0.013);
        let sum: f64 = pieces.iter().map(|p| p.duration).sum();
        assert!((sum - timeline.open_time()).abs() < 1e-9);
        assert!(pieces.iter().all(|p| p.duration <= 0.013 + 1e-12));
        let drawn: f64 = timeline.drawing().iter().map(|s| (s.to[0] - s.from[0]).hypot(s.to[1] - s.from[1])).sum();
        let moved: f64 =
            timeline.pieces.iter().map(|p| p.duration * (p.speed + 0.5 * p.acceleration * p.duration)).sum();
        assert!((drawn / moved - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_drawn_circle_is_passed_without_a_stop() {
        use crate::inputs::DrawnLines;
        // Radius 1 mm in 200 pieces at 10 mm/s: v^2/r = 0.1 m/s^2 is within the limit of 2. From rest to rest: 2 pi mm at 10 mm/s
        // and one ramp of 5 ms more.
        let circle: Vec<[f64; 2]> = (0..=200)
            .map(|k| {
                let (sin, cos) = (std::f64::consts::TAU * f64::from(k % 200) / 200.0).sin_cos();
                [1e-3 * cos, 1e-3 * sin]
            })
            .collect();
        let length: f64 = 400.0 * 1e-3 * (std::f64::consts::PI / 200.0).sin();
        let item = |speed| PathItem {
            name: "c".into(),
            shape: Shape::Polylines(DrawnLines { lines: vec![circle.clone()], source: None }),
            speed,
            passes: 1,
        };
        let timeline = Timeline::new(&[item(0.01)], &stage(0.0, 0.0, 0.0), None);
        assert!((timeline.duration - (length / 0.01 + 0.005)).abs() < 1e-9, "{}", timeline.duration);
        assert!((timeline.open_time() - timeline.duration).abs() < 1e-9);
        assert!((timeline.strokes[0].length - length).abs() < 1e-12);
        // At 1 m/s the turn limits the speed to sqrt(a r) = 44.7 mm/s.
        let fast = Timeline::new(&[item(1.0)], &stage(0.0, 0.0, 0.0), None);
        let most = fast.pieces.iter().map(|p| p.speed).fold(0.0, f64::max);
        assert!((most - 2e-3f64.sqrt()).abs() < 1e-4, "{most}");
        // Every piece begins where the one before ends, at its speed.
        for pair in fast.pieces.windows(2) {
            let end = pair[0].at(pair[0].duration);
            assert!((end[0] - pair[1].from[0]).hypot(end[1] - pair[1].from[1]) < 1e-12);
            let speed = pair[0].speed + pair[0].acceleration * pair[0].duration;
            assert!((speed - pair[1].speed).abs() < 1e-9, "{speed} {}", pair[1].speed);
        }
    }

    #[test]
    fn with_a_run_up_the_lines_of_a_drawn_square_are_drawn_at_speed_and_turns_lie_outside() {
        use crate::contours::Contours;
        use crate::inputs::{EdgeStroke, Filled, Spacing, Turns};
        let square = vec![[0.0, 0.0], [1e-3, 0.0], [1e-3, 1e-3], [0.0, 1e-3]];
        let area = std::sync::Arc::new(Contours::new(vec![square]));
        let (turns, edge) = (Turns::Shut, EdgeStroke::Without);
        let shape =
            Shape::Filled(Filled { area, spacing: Spacing::Given(2e-4), angle: 0.0, turns, edge, source: None });
        let item = PathItem { name: "f".into(), shape, speed: 1e-3, passes: 2 };
        let timeline = Timeline::new(&[item], &stage(0.0, 0.0, 1e-4), None);
        // Ten lines of 1 mm at 1 mm/s with the shutter open, each at full speed and inside.
        assert_eq!((timeline.strokes.len(), timeline.openings.len()), (10, 10));
        assert!((timeline.open_time() - 10.0).abs() < 1e-6, "{}", timeline.open_time());
        for piece in timeline.open_pieces(0.1) {
            assert!((piece.speed - 1e-3).abs() < 1e-12 && piece.acceleration == 0.0);
            let at = [piece.from, piece.at(piece.duration)];
            assert!(at.iter().flatten().all(|v| (-1e-9..=1e-3 + 1e-9).contains(v)), "{at:?}");
        }
    }

    #[test]
    fn a_dot_waits_for_its_dwell_and_the_shutter() {
        let dot =
            PathItem { name: "d".into(), shape: Shape::Dot { at: [1e-4, 0.0], dwell: 0.5 }, speed: 1e-3, passes: 1 };
        let timeline = Timeline::new(&[dot], &stage(0.01, 0.03, 0.0), None);
        assert!((timeline.open_time() - 0.52).abs() < 1e-12);
        assert!((timeline.duration - 0.53).abs() < 1e-12);
    }
}
