//! What is set on the bench.

use super::contents::{MOST_LAYERS, Sheet, and_more, cut, heading, name};
use crate::numbers::given;
use maud::{Markup, html};
use motefall_physics::inputs::{DropletMedian, Layer};
use motefall_physics::units::celsius;

/// Most solvents or powders of an ink that are named.
const MOST_PARTS: usize = 3;
/// Most pieces of tube that are listed.
const MOST_PIECES: usize = 3;
/// Most settings that are listed by layer, but for the room of each further one.
const MOST_DIFFERENT: usize = 8;
/// Longest name of a layer at the head of a column, and longest list of an ink of one layer of several, characters.
const LONGEST_LAYER: usize = 14;
const LONGEST_OF_LAYER: usize = 36;
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
    setting("pressure (abs.)", "gas.pressure_kpa", |layer| with(layer.gas.pressure / 1e3, "kPa")),
    setting("nozzle", "head.nozzle_um", |layer| with(layer.head.nozzle * 1e6, "µm")),
    setting("stand-off", "flight.stand_off_mm", |layer| with(layer.flight.stand_off * 1e3, "mm")),
    setting("ink and tube", "gas.temperature_c", |layer| with(celsius(layer.gas.temperature), "°C")),
    setting("head", "head.temperature_c", |layer| with(celsius(layer.head.temperature), "°C")),
    setting("chip", "landing.chip_c", |layer| with(celsius(layer.landing.chip_temperature), "°C")),
    setting("atomiser", "atomiser.frequency_mhz", |layer| match layer.atomiser.median {
        DropletMedian::Measured(diameter) => format!("median {}", with(diameter * 1e6, "µm")),
        DropletMedian::Ultrasonic(frequency) => with(frequency / 1e6, "MHz"),
    }),
    setting("mist load", "atomiser.mist_load_ul_per_l", |layer| with(layer.atomiser.mist_load * 1e6, "µL/L")),
    setting("mist on before", "output.warm_up_s", |layer| with(layer.output.warm_up, "s")),
    setting("stage acceleration", "stage.acceleration_m_s2", |layer| with(layer.stage.acceleration, "m/s²")),
    setting("travel", "stage.travel_mm_s", |layer| with(layer.stage.travel_speed * 1e3, "mm/s")),
    setting("shutter opens after", "stage.shutter_open_ms", |layer| with(layer.stage.shutter_open_delay * 1e3, "ms")),
    setting("shutter closes after", "stage.shutter_close_ms", |layer| {
        with(layer.stage.shutter_close_delay * 1e3, "ms")
    }),
    setting("run-up", "stage.run_up_um", |layer| with(layer.stage.run_up * 1e6, "µm")),
];

/// Settings whose values are long.
const LONG: &[Setting] = &[
    setting("powders", "ink.powder", |layer| {
        parts(layer.ink.powders.iter().map(|powder| (powder.name.as_str(), powder.mass_fraction)))
    }),
    setting("solvents", "ink.solvent", |layer| {
        parts(layer.ink.solvents.iter().map(|part| (part.solvent.name.as_str(), part.mass_fraction)))
    }),
    setting("tube", "tube", tube),
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
        format!("{}\u{a0}×\u{a0}{}", given(piece.length * 1e3), given(piece.bore * 1e3))
    };
    let words: Vec<String> = layer.tube.iter().take(MOST_PIECES).map(piece).collect();
    let more = if layer.tube.len() > MOST_PIECES { " + …" } else { "" };
    format!("{}{more}\u{a0}mm", words.join(" + "))
}

impl Setting {
    /// What it is in each layer, and whether that is a default that nobody has measured.
    fn values(&self, sheet: &Sheet<'_>) -> Vec<Value> {
        let layers = sheet.inputs().layers.iter().enumerate();
        layers.map(|(number, layer)| ((self.write)(layer), sheet.inputs().is_unverified(number, self.key))).collect()
    }

    /// The same in all layers.
    fn is_common(&self, sheet: &Sheet<'_>) -> bool {
        let values = self.values(sheet);
        values.iter().all(|value| *value == values[0])
    }

    /// A row that holds for all layers.
    fn common(&self, sheet: &Sheet<'_>) -> Markup {
        html! { div { dt { (self.label) } dd { (marked(&self.values(sheet)[0], usize::MAX)) } } }
    }
}

/// A value, and whether it is a default that nobody has measured.
type Value = (String, bool);

fn marked((words, unverified): &Value, most: usize) -> Markup {
    html! { (cut(words, most)) @if *unverified { " " (UNVERIFIED) } }
}

/// What is in the vial, and how mist gets to the head: long words.
fn long(sheet: &Sheet<'_>) -> Markup {
    html! { dl class="long" { @for setting in LONG {
        @if setting.is_common(sheet) {
            (setting.common(sheet))
        } @else {
            @let values = setting.values(sheet);
            @for (number, _) in sheet.layers() { div {
                dt { (setting.label) ", " i { (sheet.called(number, LONGEST_LAYER)) } } dd { (marked(&values[number], LONGEST_OF_LAYER)) }
            } }
        }
    } } }
}

/// Settings that differ between layers, side by side.
fn by_layer(sheet: &Sheet<'_>) -> Markup {
    let all: Vec<&Setting> = SETTINGS.iter().filter(|setting| !setting.is_common(sheet)).collect();
    let most = sheet.room(MOST_DIFFERENT);
    html! { @if !all.is_empty() {
        table {
            thead { tr { th { "by layer" } @for (number, _) in sheet.layers() { th class="n" { (sheet.called(number, LONGEST_LAYER)) } } } }
            tbody { @for setting in all.iter().take(most) {
                @let values = setting.values(sheet);
                tr { td { (setting.label) } @for value in values.iter().take(MOST_LAYERS) { td class="n" { b { (marked(value, LONGEST_LAYER)) } } } }
            } }
        }
        @if sheet.more_layers() > 0 { "Layers: " (and_more(sheet.more_layers(), "check")) ". " }
        @if all.len() > most { "Settings: " (and_more(all.len() - most, "check")) "." }
    } }
}

/// The section.
pub(super) fn section(sheet: &Sheet<'_>) -> Markup {
    let unverified = sheet.inputs().unverified.len();
    html! {
        (heading("Setting", "mass % of ink (powders), of liquid (solvents); tube: length × bore"))
        (long(sheet))
        (by_layer(sheet))
        dl class="settings" { @for setting in SETTINGS.iter().filter(|setting| setting.is_common(sheet)) { (setting.common(sheet)) } }
        @if unverified > 0 {
            p class="note" {
                b { (UNVERIFIED) } " Default that nobody has measured on this bench; " (unverified)
                " in all with those not shown. " code { "motefall check" } " says how to measure each."
            }
        }
    }
}
