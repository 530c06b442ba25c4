//! What is set on the bench.

use super::contents::{Sheet, and_more, cut, heading, name};
use crate::numbers::given;
use maud::{Markup, html};
use motefall_physics::inputs::{DropletMedian, Layer};
use motefall_physics::units::celsius;

/// Most solvents or powders of an ink that are named.
const MOST_PARTS: usize = 4;
/// Most pieces of tube that are listed.
const MOST_PIECES: usize = 3;
/// Stands at a default that nobody has measured, as in the report.
pub(super) const UNVERIFIED: &str = "◆";

/// A setting: its name, its key, how it is written.
struct Setting {
    label: &'static str,
    key: &'static str,
    write: fn(&Layer) -> String,
}

const fn setting(label: &'static str, key: &'static str, write: fn(&Layer) -> String) -> Setting {
    Setting { label, key, write }
}

fn with(value: f64, unit: &str) -> String {
    format!("{}\u{a0}{unit}", given(value))
}

const SETTINGS: &[Setting] = &[
    setting("carrier", "flow.carrier_sccm", |layer| with(layer.flows.carrier.sccm(), "sccm")),
    setting("sheath", "flow.sheath_sccm", |layer| with(layer.flows.sheath.sccm(), "sccm")),
    setting("sccm counted at", "gas.flow_reference_c", |layer| with(celsius(layer.flows.reference.temperature), "°C")),
    setting("gas", "gas.kind", |layer| layer.gas.species.word().to_owned()),
    setting("pressure, absolute", "gas.pressure_kpa", |layer| with(layer.gas.pressure / 1e3, "kPa")),
    setting("nozzle", "head.nozzle_um", |layer| with(layer.head.nozzle * 1e6, "µm")),
    setting("stand-off", "flight.stand_off_mm", |layer| with(layer.flight.stand_off * 1e3, "mm")),
    setting("ink and tube", "gas.temperature_c", |layer| with(celsius(layer.gas.temperature), "°C")),
    setting("head", "head.temperature_c", |layer| with(celsius(layer.head.temperature), "°C")),
    setting("chip", "landing.chip_c", |layer| with(celsius(layer.landing.chip_temperature), "°C")),
    setting("atomiser", "atomiser.frequency_mhz", |layer| match layer.atomiser.median {
        DropletMedian::Measured(diameter) => format!("droplets of {}", with(diameter * 1e6, "µm")),
        DropletMedian::Ultrasonic(frequency) => with(frequency / 1e6, "MHz"),
    }),
    setting("mist load", "atomiser.mist_load_ul_per_l", |layer| with(layer.atomiser.mist_load * 1e6, "µL/L")),
    setting("mist on before print", "output.warm_up_s", |layer| with(layer.output.warm_up, "s")),
    setting("mist tube", "tube", tube),
    setting("stage acceleration", "stage.acceleration_m_s2", |layer| with(layer.stage.acceleration, "m/s²")),
    setting("travel", "stage.travel_mm_s", |layer| with(layer.stage.travel_speed * 1e3, "mm/s")),
    setting("shutter opens after", "stage.shutter_open_ms", |layer| with(layer.stage.shutter_open_delay * 1e3, "ms")),
    setting("shutter closes after", "stage.shutter_close_ms", |layer| {
        with(layer.stage.shutter_close_delay * 1e3, "ms")
    }),
    setting("run-up", "stage.run_up_um", |layer| with(layer.stage.run_up * 1e6, "µm")),
];

/// Settings whose values are long.
const INKS: &[Setting] = &[
    setting("powders, of the ink", "ink.powder", |layer| {
        parts(layer.ink.powders.iter().map(|powder| (powder.name.as_str(), powder.mass_fraction)))
    }),
    setting("solvents, of the liquid", "ink.solvent", |layer| {
        parts(layer.ink.solvents.iter().map(|part| (part.solvent.name.as_str(), part.mass_fraction)))
    }),
];

/// Names with their share by mass.
fn parts<'a>(parts: impl ExactSizeIterator<Item = (&'a str, f64)>) -> String {
    let more = parts.len().saturating_sub(MOST_PARTS);
    let words = parts.take(MOST_PARTS).map(|(part, share)| format!("{} {}", name(part), with(share * 100.0, "%")));
    let more = (more > 0).then(|| format!("and {more} more, see motefall check"));
    words.chain(more).collect::<Vec<_>>().join(", ")
}

fn tube(layer: &Layer) -> String {
    let piece = |piece: &motefall_physics::inputs::TubePiece| {
        format!("{}\u{a0}× ⌀\u{a0}{}", given(piece.length * 1e3), given(piece.bore * 1e3))
    };
    let words: Vec<String> = layer.tube.iter().take(MOST_PIECES).map(piece).collect();
    let more = if layer.tube.len() > MOST_PIECES { " + …" } else { "" };
    format!("{}{more}\u{a0}mm", words.join(" + "))
}

impl Setting {
    /// As it is in all layers; or in each that is written out.
    fn value(&self, sheet: &Sheet<'_>) -> Markup {
        let all: Vec<(String, bool)> = (sheet.inputs().layers.iter().enumerate())
            .map(|(number, layer)| ((self.write)(layer), sheet.inputs().is_unverified(number, self.key)))
            .collect();
        let marked = |(words, unverified): &(String, bool)| html! { (words) @if *unverified { " " (UNVERIFIED) } };
        if all.iter().all(|value| *value == all[0]) {
            return marked(&all[0]);
        }
        html! {
            @for (number, layer) in sheet.layers() {
                @if number > 0 { "; " }
                span class="layer" { (cut(&layer.name, 20)) } " " (marked(&all[number]))
            }
            @if sheet.more_layers() > 0 { "; " (and_more(sheet.more_layers(), "check")) }
        }
    }

    fn row(&self, sheet: &Sheet<'_>) -> Markup {
        html! { div { dt { (self.label) } dd { (self.value(sheet)) } } }
    }
}

/// The section.
pub(super) fn section(sheet: &Sheet<'_>) -> Markup {
    let unverified = sheet.inputs().unverified.len();
    html! {
        (heading("Setting", ""))
        dl class="inks" { @for ink in INKS { (ink.row(sheet)) } }
        dl class="settings" { @for setting in SETTINGS { (setting.row(sheet)) } }
        @if unverified > 0 {
            p class="note" {
                b { (UNVERIFIED) } " Default that nobody has measured on this bench; " (unverified)
                " in all with those not shown. " code { "motefall check" } " says how to measure each."
            }
        }
    }
}
