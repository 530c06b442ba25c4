//! When the shutter is told to open and to close, and when mist reaches the chip: the one place for its delays.
//!
//! A command acts after its delay; the later of two commands wins. With [`ShutterLead::Compensated`]:
//! - the shutter is told to open and to close by its delays before the stage is at the first and the last point of a stroke;
//! - it is told to open only after it has closed, and not before the print begins: the stage waits for that at rest, before the
//!   stroke and its run-up;
//! - where the next stroke begins without any way between, it stays open, since nothing is printed beside the strokes;
//! - it is told to close no earlier than to open: where a stroke takes less time than the closing delay is longer than the opening
//!   delay, its mist ends late, which no command can change.

use crate::inputs::{ShutterLead, Stage};

/// Below this, s, times are the same: the motion is rounded, and no way between strokes is so short.
const INSTANT: f64 = 1e-9;

/// From one opening of the shutter to its closing; one or several strokes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Opening {
    /// When the shutter is told to open and to close, s.
    pub commanded: [f64; 2],
    /// Between which times mist reaches the chip, s.
    pub mist: [f64; 2],
}

/// Keeps the openings of a print.
pub(super) struct Shutter {
    delays: [f64; 2],
    lead: ShutterLead,
    /// In order, not touching.
    pub(super) openings: Vec<Opening>,
    /// When the last stroke ended, s.
    drawn_until: f64,
}

impl Shutter {
    pub(super) fn new(stage: &Stage) -> Self {
        let delays = [stage.shutter_open_delay, stage.shutter_close_delay];
        Self { delays, lead: stage.shutter_lead, openings: Vec::new(), drawn_until: 0.0 }
    }

    /// Whether it stays open for a stroke that begins at a time, s, because no way lies between this and the last one.
    pub(super) fn stays_open(&self, begin: f64) -> bool {
        self.lead == ShutterLead::Compensated && !self.openings.is_empty() && begin - self.drawn_until < INSTANT
    }

    /// How long the stage must wait before a stroke that would begin at a time, s, so that the shutter can be told in time.
    pub(super) fn wait(&self, begin: f64) -> f64 {
        if self.lead == ShutterLead::None || self.stays_open(begin) {
            return 0.0;
        }
        let closed = self.openings.last().map_or(0.0, |opening| opening.mist[1]);
        let wait = closed + self.delays[0] - begin;
        if wait < INSTANT { 0.0 } else { wait }
    }

    /// Adds a stroke whose first and last point the stage passes at these times, s, and gives the times between which its mist
    /// reaches the chip; the second lies not after the first if the shutter never opens.
    pub(super) fn draw(&mut self, drawn: [f64; 2]) -> [f64; 2] {
        let mist = match self.lead {
            ShutterLead::None => self.follow(drawn),
            ShutterLead::Compensated => self.precede(drawn),
        };
        self.drawn_until = drawn[1];
        mist
    }

    /// Told when the stage is there.
    fn follow(&mut self, drawn: [f64; 2]) -> [f64; 2] {
        let mist = [drawn[0] + self.delays[0], drawn[1] + self.delays[1]];
        if mist[1] > mist[0] {
            match self.openings.last_mut() {
                Some(last) if last.mist[1] >= mist[0] => {
                    last.mist[1] = mist[1].max(last.mist[1]);
                    last.commanded[1] = drawn[1];
                }
                _ => self.openings.push(Opening { commanded: drawn, mist }),
            }
        }
        mist
    }

    /// Told before the stage is there.
    fn precede(&mut self, drawn: [f64; 2]) -> [f64; 2] {
        if !self.stays_open(drawn[0]) {
            // Rounding must not put it before the print.
            let told = (drawn[0] - self.delays[0]).max(0.0);
            self.openings.push(Opening { commanded: [told; 2], mist: [drawn[0]; 2] });
        }
        let opening = self.openings.last_mut().expect("one was just added, or stays open");
        opening.mist[1] = drawn[1].max(opening.commanded[0] + self.delays[1]);
        opening.commanded[1] = (opening.mist[1] - self.delays[1]).max(opening.commanded[0]);
        [drawn[0], opening.mist[1]]
    }
}

#[cfg(test)]
mod tests {
    use super::super::motion::{Piece, Timeline};
    use super::*;
    use crate::contours::Contours;
    use crate::inputs::{EdgeStroke, Filled, PathItem, Shape, Spacing, Turns};
    use proptest::prelude::*;
    use std::sync::Arc;

    /// 1 m/s^2, travel at 20 mm/s.
    fn stage(lead: ShutterLead, [open, close]: [f64; 2], run_up: f64) -> Stage {
        Stage {
            acceleration: 1.0,
            travel_speed: 0.02,
            shutter_open_delay: open,
            shutter_close_delay: close,
            shutter_lead: lead,
            jitter: 0.0,
            run_up,
        }
    }

    fn led(items: &[PathItem], delays: [f64; 2], run_up: f64) -> Timeline {
        Timeline::new(items, &stage(ShutterLead::Compensated, delays, run_up), None)
    }

    fn item(shape: Shape, speed: f64, passes: u32) -> PathItem {
        PathItem { name: "i".into(), shape, speed, passes }
    }

    fn line(from: [f64; 2], to: [f64; 2], passes: u32) -> PathItem {
        item(Shape::Polyline(vec![from, to]), 2e-3, passes)
    }

    const DELAYS: [f64; 2] = [0.010, 0.015];

    fn is_near(a: &[f64], b: &[f64], play: f64) -> bool {
        a.len() == b.len() && a.iter().zip(b).all(|(a, b)| (a - b).abs() < play)
    }

    /// Times of commands and mist (s), and where the nozzle is then along x (m).
    fn looks(timeline: &Timeline, number: usize) -> ([f64; 4], [f64; 4]) {
        let Opening { commanded: [a, b], mist: [c, d] } = timeline.openings[number];
        let times = [a, b, c, d];
        (times, times.map(|time| timeline.at(time).expect("it moves")[0]))
    }

    #[test]
    fn a_line_of_100_um_at_2_mm_s_by_hand() {
        // At 1 m/s^2 a ramp takes 2 ms and 2 µm, the 96 µm between 48 ms: 52 ms.
        let item = [line([0.0, 0.0], [1e-4, 0.0], 1)];
        let without = Timeline::new(&item, &stage(ShutterLead::None, DELAYS, 0.0), None);
        // Open at 10 ms: 2 µm + 8 ms of 2 mm/s = 18 µm. Closed at 67 ms, after 15 ms at rest.
        let (times, x) = looks(&without, 0);
        assert!(is_near(&times, &[0.0, 0.052, 0.010, 0.067], 1e-9), "{times:?}");
        assert!(is_near(&x, &[0.0, 100e-6, 18e-6, 100e-6], 1e-12), "{x:?}");
        // With lead the stage waits 10 ms, during which the shutter opens, and is told to close 15 ms before 62 ms: 37 ms after its start at
        // 2 µm + 35 ms of 2 mm/s = 72 µm.
        let with = led(&item, DELAYS, 0.0);
        let (times, x) = looks(&with, 0);
        assert!(is_near(&times, &[0.0, 0.047, 0.010, 0.062], 1e-9), "{times:?}");
        assert!(is_near(&x, &[0.0, 72e-6, 0.0, 100e-6], 1e-12), "{x:?}");
        assert!((with.duration - 0.062).abs() < 1e-9 && with.waits.count == 0, "{with:?}");
    }

    #[test]
    fn the_run_up_takes_its_share_of_the_wait() {
        // 10 µm of run-up: 2 µm in 2 ms, 8 µm in 4 ms. The stage waits the other 4 ms and draws the line in 50 ms at speed.
        let timeline = led(&[line([0.0, 0.0], [1e-4, 0.0], 1)], DELAYS, 1e-5);
        let (times, x) = looks(&timeline, 0);
        assert!(is_near(&times, &[0.0, 0.045, 0.010, 0.060], 1e-9), "{times:?}");
        assert!(is_near(&x, &[-10e-6, 70e-6, 0.0, 100e-6], 1e-12), "{x:?}");
        assert_eq!(timeline.pieces[0].speed, 0.0);
        assert!((timeline.pieces[0].duration - 0.004).abs() < 1e-9);
        // One that takes longer than the delay needs no wait: 50 µm take 2 ms and 24 ms.
        let timeline = led(&[line([0.0, 0.0], [1e-4, 0.0], 1)], DELAYS, 5e-5);
        let (times, x) = looks(&timeline, 0);
        assert!(is_near(&times, &[0.016, 0.061, 0.026, 0.076], 1e-9), "{times:?}");
        assert!(is_near(&x[..3], &[-20e-6, 70e-6, 0.0], 1e-12), "{x:?}");
    }

    #[test]
    fn passes_that_turn_at_the_end_of_the_line_are_one_opening() {
        // Three passes of 52 ms from rest to rest, nothing between them.
        let timeline = led(&[line([0.0, 0.0], [1e-4, 0.0], 3)], DELAYS, 0.0);
        assert_eq!((timeline.openings.len(), timeline.waits.count), (1, 0));
        let (times, x) = looks(&timeline, 0);
        assert!(is_near(&times, &[0.0, 0.151, 0.010, 0.166], 1e-9), "{times:?}");
        assert!(is_near(&x, &[0.0, 72e-6, 0.0, 100e-6], 1e-11), "{x:?}");
        assert!(timeline.strokes.windows(2).all(|pair| (pair[0].mist[1] - pair[1].mist[0]).abs() < 1e-9));
    }

    #[test]
    fn the_stage_waits_where_the_way_between_passes_is_too_short() {
        // Out of the line and back on 10 µm takes 12 ms, enough for 10 ms; for 20 ms the stage waits 8 ms at the turn.
        let item = [line([0.0, 0.0], [1e-4, 0.0], 2)];
        assert_eq!(led(&item, DELAYS, 1e-5).waits.count, 0);
        let timeline = led(&item, [0.020, 0.015], 1e-5);
        assert_eq!((timeline.openings.len(), timeline.waits.count), (2, 1));
        assert!((timeline.waits.time - 0.008).abs() < 1e-9, "{:?}", timeline.waits);
        // Told to open again as soon as it has closed.
        let [first, second] = [timeline.openings[0], timeline.openings[1]];
        assert!((second.commanded[0] - first.mist[1]).abs() < 1e-9);
        assert!((second.mist[0] - first.mist[1] - 0.020).abs() < 1e-9);
        assert!((timeline.at(second.mist[0]).expect("it moves")[0] - 1e-4).abs() < 1e-11);
    }

    #[test]
    fn dots_get_their_dwell() {
        let dot = |at, passes| item(Shape::Dot { at, dwell: 0.5 }, 1e-3, passes);
        let timeline = led(&[dot([0.0, 0.0], 1), dot([1e-4, 0.0], 2)], [0.010, 0.030], 0.0);
        let dwells: Vec<f64> = timeline.openings.iter().map(|o| o.mist[1] - o.mist[0]).collect();
        // Two passes over a dot are a dwell twice as long.
        assert!(is_near(&dwells, &[0.5, 1.0], 1e-9), "{dwells:?}");
        assert!(timeline.openings.iter().all(|o| timeline.way(o.mist[0], o.mist[1]) == 0.0));
        assert!(is_near(&timeline.openings[1].commanded, &[0.52, 1.5], 1e-9), "{:?}", timeline.openings);
        // 100 µm of travel from rest to rest take 20 ms, which is enough to open.
        assert_eq!(timeline.waits.count, 0);
    }

    #[test]
    fn a_stroke_shorter_than_the_shutter_ends_late() {
        // 10 µm take 2 ms, 3 ms and 2 ms. Told to open and to close at once, mist lasts 40 ms - 10 ms.
        let timeline = led(&[line([0.0, 0.0], [1e-5, 0.0], 1)], [0.010, 0.040], 0.0);
        assert!(is_near(&timeline.openings[0].commanded, &[0.0, 0.0], 1e-12), "{:?}", timeline.openings);
        assert!(is_near(&timeline.openings[0].mist, &[0.010, 0.040], 1e-12), "{:?}", timeline.openings);
        assert!(is_near(&timeline.strokes[0].drawn, &[0.010, 0.017], 1e-9), "{:?}", timeline.strokes);
        assert!((timeline.duration - 0.040).abs() < 1e-9);
    }

    fn square(turns: Turns, edge: EdgeStroke, angle: f64) -> Shape {
        let square = vec![[0.0, 0.0], [3e-4, 0.0], [3e-4, 3e-4], [0.0, 3e-4]];
        let area = Arc::new(Contours::new(vec![square]));
        Shape::Filled(Filled { area, spacing: Spacing::Given(3e-5), angle, turns, edge, source: None })
    }

    #[test]
    fn fills_stay_inside_with_turns_shut_and_open() {
        for (turns, openings) in [(Turns::Shut, 10), (Turns::Open, 1)] {
            for run_up in [0.0, 2e-5] {
                let timeline = led(&[item(square(turns, EdgeStroke::Without, 0.0), 2e-3, 1)], [0.010, 0.030], run_up);
                assert_eq!(timeline.openings.len(), openings);
                for piece in timeline.open_pieces(0.01) {
                    let ends = [piece.from, piece.at(piece.duration)];
                    // Strokes end on the edge, turns run along it.
                    let play = 1e-9;
                    assert!(ends.iter().flatten().all(|v| (-play..=3e-4 + play).contains(v)), "{ends:?}");
                }
            }
        }
    }

    /// Geometry, speed and duration of what is printed; slivers of rounding left aside.
    fn printed(timeline: &Timeline) -> Vec<Piece> {
        timeline.open_pieces(f64::MAX).into_iter().filter(|piece| piece.duration > 1e-8).collect()
    }

    proptest! {
        /// With lead the deposit is that of a shutter without delays: the same stretches at the same speeds, and each from its first to
        /// its last point; commands are in order, none before the print or before the shutter has closed, and each acts after its delay.
        #[test]
        fn with_lead_what_is_printed_is_what_is_drawn(
            acceleration in 0.05..20.0f64,
            speed in 2e-4..2e-2f64,
            delays in [0.0..0.05f64, 0.0..0.05f64],
            run_up in prop_oneof![Just(0.0), 1e-6..2e-4f64],
            corners in prop::collection::vec([-1e-3..1e-3f64, -1e-3..1e-3f64], 2..5),
            passes in 1..4u32,
            turns in prop_oneof![Just(Turns::Shut), Just(Turns::Open)],
            edge in prop_oneof![Just(EdgeStroke::Without), Just(EdgeStroke::Along)],
            dwell in 0.06..0.5f64,
        ) {
            // Rounding of the motion: 0.1 µs, 1 nm.
            const TIME: f64 = 1e-7;
            const PLACE: f64 = 1e-9;
            let items = [
                item(Shape::Polyline(corners.clone()), speed, passes),
                item(Shape::Dot { at: corners[0], dwell }, speed, passes),
                item(square(turns, edge, 0.3), speed, passes),
            ];
            let of = |lead, delays: [f64; 2]| {
                Timeline::new(&items, &Stage { acceleration, ..stage(lead, delays, run_up) }, None)
            };
            let (with, ideal) = (of(ShutterLead::Compensated, delays), of(ShutterLead::None, [0.0; 2]));
            let [open, close] = delays;
            let mut closed = 0.0;
            for opening in &with.openings {
                let Opening { commanded, mist } = *opening;
                prop_assert!(commanded[0] >= closed - TIME && commanded[1] >= commanded[0] && mist[0] < mist[1], "{opening:?}");
                prop_assert!((commanded[0] + open - mist[0]).abs() < TIME && (commanded[1] + close - mist[1]).abs() < TIME);
                closed = mist[1];
            }
            // Strokes that take less than the closing delay is longer than the opening delay have a test of their own.
            let shortest = with.strokes.iter().map(|s| s.drawn[1] - s.drawn[0]).fold(f64::MAX, f64::min);
            prop_assume!(shortest > close - open);
            for stroke in &with.strokes {
                prop_assert!((stroke.mist[0] - stroke.drawn[0]).abs() < TIME && (stroke.mist[1] - stroke.drawn[1]).abs() < TIME);
                prop_assert!((with.way(stroke.mist[0], stroke.mist[1]) - stroke.length).abs() < PLACE, "{stroke:?}");
            }
            let (with, ideal) = (printed(&with), printed(&ideal));
            prop_assert_eq!(with.len(), ideal.len());
            for (a, b) in with.iter().zip(&ideal) {
                prop_assert!((a.from[0] - b.from[0]).hypot(a.from[1] - b.from[1]) < PLACE, "{:?} {:?}", a, b);
                prop_assert!((a.duration - b.duration).abs() < TIME && (a.speed - b.speed).abs() < 1e-6, "{:?} {:?}", a, b);
                prop_assert!(a.direction == b.direction && a.acceleration == b.acceleration);
            }
        }
    }
}
