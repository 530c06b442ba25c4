//! Whether a fill of the vial is enough, and what settles in it meanwhile.

use crate::setting::Setting;
use motefall_figures::bench_use::Vial;
use motefall_figures::{BenchUse, Caution, CautionKind};
use motefall_physics::inputs::Layer;

/// Share of settled solids from which a fill should be stirred. An estimate: as much as inks differ from filling to filling.
const MOST_SETTLED: f64 = 0.03;

/// Cautions of all vials.
pub(super) fn cautions(setting: &Setting) -> Vec<Caution> {
    let layers = setting.layers.iter().map(|layer| (layer.layer, layer.conditions.print_time));
    let mut list: Vec<Caution> = layers.filter_map(|(layer, time)| fill_too_small(layer, time)).collect();
    list.extend(settling(setting.bench_use()));
    list
}

fn fill_too_small(layer: &Layer, print_time: f64) -> Option<Caution> {
    let (fill, vial) = (layer.atomiser.fill?, Vial::of(layer, print_time));
    let microlitres = |volume: f64| volume * 1e9;
    let of = if layer.name.is_empty() { String::new() } else { format!("Layer \"{}\": ", layer.name) };
    (vial.chips(fill) < 1.0).then(|| {
        CautionKind::FillTooSmall.with(format!(
            "{of}The fill of the vial, {:.3} µL (atomiser.fill_ml), is not enough for one chip: it takes {:.3} µL for the warm-up and {:.3} µL \
             for the print and the change of the chip. Fill in more, shorten warm-up and travel, or take a lower mist load or carrier flow.",
            microlitres(fill),
            microlitres(vial.warm_up),
            microlitres(vial.chip),
        ))
    })
}

fn settling(used: BenchUse) -> Option<Caution> {
    let settled = used.settled.filter(|settled| *settled > MOST_SETTLED)?;
    Some(CautionKind::Settling.with(format!(
        "Unstirred, {:.1} % of the solids have settled when the last chip is done; later chips get so much less, which prints do not count. \
         Stir or shake the vial between chips, fill it less and more often, or let solids differ between prints (spread.solids).",
        settled * 1e2
    )))
}
