//! A shutter that is told before the stage is there: where that cannot help, and what it costs.

use motefall_figures::{Caution, CautionKind};
use motefall_physics::inputs::{ShutterLead, Stage};
use motefall_physics::path::motion::Timeline;
use motefall_physics::path::shutter::Opening;

/// Cautions of a layer's motion.
pub(super) fn cautions(stage: &Stage, timeline: &Timeline) -> Vec<Caution> {
    match stage.shutter_lead {
        ShutterLead::None => vec![],
        ShutterLead::Compensated => short_strokes(stage, timeline).into_iter().chain(waits(stage, timeline)).collect(),
    }
}

/// Strokes during which the shutter cannot both open and close.
fn short_strokes(stage: &Stage, timeline: &Timeline) -> Option<Caution> {
    let count = |is: fn(&&Opening) -> bool| timeline.openings.iter().filter(is).count();
    let early = count(|opening| opening.commanded[1] < opening.mist[0]);
    let late = count(|opening| opening.commanded[1] <= opening.commanded[0]);
    let ends_late = match late {
        0 => String::new(),
        n => format!(
            " {n} of them end late: they take less time than the {:.1} ms by which the shutter closes more slowly than it opens.",
            (stage.shutter_close_delay - stage.shutter_open_delay) * 1e3
        ),
    };
    (early > 0).then(|| {
        CautionKind::ShortStrokes.with(format!(
            "In {early} of {} openings the shutter is told to close before it has opened, because strokes take less time than the {:.1} ms \
             that it needs to close. Whether its delays hold then is not known: look at a short line under the microscope.{ends_late} Print \
             these strokes more slowly or make them longer, let dots dwell longer in fewer passes, or take a quicker shutter.",
            timeline.openings.len(),
            stage.shutter_close_delay * 1e3,
        ))
    })
}

/// Waits between strokes.
fn waits(stage: &Stage, timeline: &Timeline) -> Option<Caution> {
    let waits = timeline.waits;
    (waits.count > 0).then(|| {
        CautionKind::ShutterWaits.with(format!(
            "Before {} strokes the stage waits for the shutter, {:.2} s of {:.2} s in all: the way from the last stroke takes less than the \
             {:.1} ms from the command to open. A longer run-up (stage.run_up_um, now {:.0} µm), slower travel, a quicker shutter or \
             turns = \"open\" in fills do without; wet lines dry a little longer meanwhile.",
            waits.count,
            waits.time,
            timeline.duration,
            stage.shutter_open_delay * 1e3,
            stage.run_up * 1e6,
        ))
    })
}
