//! The motion of a layer that is shown.

use motefall_physics::inputs::{Layer, ShutterLead, Stage};
use motefall_physics::path::motion::Timeline;

/// The motion of a layer.
pub struct Motion<'a> {
    pub(super) layer: &'a Layer,
    pub(super) timeline: Timeline,
    /// As it would be without shutter lead, if it has one.
    pub(super) without_lead: Option<Timeline>,
}

impl<'a> Motion<'a> {
    /// `spacing` (m) is that of fills that have none of their own.
    pub fn new(layer: &'a Layer, spacing: Option<f64>) -> Self {
        let of = |stage: &Stage| Timeline::new(&layer.path, stage, spacing);
        let without_lead = match layer.stage.shutter_lead {
            ShutterLead::None => None,
            ShutterLead::Compensated => Some(of(&Stage { shutter_lead: ShutterLead::None, ..layer.stage.clone() })),
        };
        Self { layer, timeline: of(&layer.stage), without_lead }
    }
}
