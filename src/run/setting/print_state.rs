//! What differs in a print of a layer.

use super::LayerSetting;
use super::mist::factor_of;
use crate::screen::Screen;
use crate::spread::Deviations;
use motefall_physics::droplet::Finder;
use motefall_physics::droplet::track::Flyer;
use motefall_physics::head::mist::{Flows, MistTable};

/// What differs in a print of a layer: landing points, losses and drying, flows.
pub struct PrintState {
    /// Deviations from the setting.
    pub(crate) deviations: Deviations,
    /// Landing points; `None`: those of the setting.
    pub finder: Option<Finder>,
    /// Losses and drying; `None`: those of the setting.
    pub mist: Option<MistTable>,
    /// Which droplets need to be followed.
    pub(crate) screen: Screen,
}

impl PrintState {
    /// For the deviations of one print.
    pub fn new(setting: &LayerSetting<'_>, deviations: Deviations) -> Self {
        let Flows { head_carrier, head_sheath, .. } = setting.flows;
        let (carrier, sheath) = (head_carrier * deviations.carrier, head_sheath * deviations.sheath);
        let core_share = carrier / (carrier + sheath);
        let finder = match (&setting.landings, &setting.finder) {
            (Some(grid), _) => {
                let stand_off = setting.layer.flight.stand_off + deviations.stand_off;
                let table = grid.at(carrier + sheath, stand_off, core_share);
                Some(Finder::Table(table.widened(setting.layer.flight.radius_factor)))
            }
            (None, Finder::Direct(flyer)) if flyer.field.is_none() => {
                Some(Finder::Direct(Flyer { core_share, ..flyer.clone() }))
            }
            _ => None,
        };
        let changes: Vec<_> = setting
            .mist_changes
            .iter()
            .map(|(input, unit, [minus, plus])| {
                (minus, plus, factor_of(&deviations, *input).map_or(0.0, |f| (f - 1.0) / unit))
            })
            .collect();
        let mist = (!changes.is_empty()).then(|| setting.mist.moved(&changes));
        let table = mist.as_ref().unwrap_or(&setting.mist);
        let screen = Screen::new(&setting.contents, table, &setting.droplets, &deviations);
        Self { deviations, finder, mist, screen }
    }
}
