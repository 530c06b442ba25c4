//! A print whose shutter is told earlier by its delays against the same print with a shutter that has none.

use crate::common::{Case, setting};
use crate::engine::straight::LINE;

fn late(case: Case, [open, close]: [i64; 2]) -> Case {
    case.set("stage.shutter_open_ms", open).set("stage.shutter_close_ms", close)
}

fn led(case: Case, delays: [i64; 2]) -> Case {
    late(case, delays).set("stage.shutter_lead", "compensated")
}

/// The run-up of 1 mm at 10 mm/s takes longer than the delays, so that no wait shifts the print in time: droplet for droplet the same.
#[test]
fn with_lead_a_line_is_printed_as_without_delays() {
    let line = Case::from_text(LINE).set("prints", 2).set("path.0.speed_mm_s", 20);
    let print = |case: Case| {
        let prediction = case.predict();
        (format!("{:?}", prediction.figures), prediction.pile.particles().len() as f64)
    };
    let (ideal, landed) = print(late(line.clone(), [0, 0]));
    let (with, _) = print(led(line.clone(), [30, 45]));
    let (without, landed_late) = print(late(line, [30, 45]));
    assert!(landed > 1e4, "{landed}");
    assert!(with == ideal && without != ideal);
    // Late by 15 ms more at its end than at its begin, of 500 ms.
    assert!((landed_late / landed - 1.03).abs() < 0.01, "{}", landed_late / landed);
}

/// Every layer has a motion of its own, and begins with the shutter closed.
#[test]
fn layers_are_led_each_by_itself() {
    let cell = Case::shipped("two-electrode-cell").set("flight.model", "straight");
    // Where delays are equal, no stroke is too short.
    let led = led(cell.clone(), [30, 30]).inputs();
    let ideal = late(cell, [0, 0]).inputs();
    let (led, ideal) = (setting(&led), setting(&ideal));
    assert_eq!(led.layers.len(), 2);
    for (led, ideal) in led.layers.iter().zip(&ideal.layers) {
        let (led, ideal) = (&led.timeline, &ideal.timeline);
        assert_eq!((led.openings.len(), led.strokes.len()), (ideal.openings.len(), ideal.strokes.len()));
        assert!(led.openings[0].commanded[0] >= 0.0);
        for (a, b) in led.openings.iter().zip(&ideal.openings) {
            for end in [0, 1] {
                let [p, q] = [led.at(a.mist[end]), ideal.at(b.mist[end])].map(|place| place.expect("it moves"));
                assert!((p[0] - q[0]).hypot(p[1] - q[1]) < 1e-9, "{p:?} {q:?}");
            }
            assert!((a.mist[1] - a.mist[0] - b.mist[1] + b.mist[0]).abs() < 1e-7, "{a:?} {b:?}");
        }
    }
}
