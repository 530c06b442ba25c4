//! One print, fully described: its layers, how often it is repeated, what nobody has measured.

use super::{
    Acceptance, Atomiser, Beam, Cell, Chip, Flight, Flows, GasInputs, Head, Ink, Landing, MapInputs, OutputDrift,
    PathItem, Powder, Region, Shape, Spacing, Stage, TubePiece, Variation, VariedInput,
};

/// One print, fully described.
#[derive(Debug, Clone)]
pub struct Inputs {
    /// Short title shown on the report.
    pub name: String,
    /// Free text shown on the report; shipped examples say here that they are invented.
    pub note: String,
    /// File with what test lines taught of the bench, as the scenario names it.
    pub calibration: Option<String>,
    /// Seed of every random stream.
    pub seed: u64,
    /// What is printed one upon the other, in order: an ink and its setting each. At least one.
    pub layers: Vec<Layer>,
    /// Extent of the chip, centred on the origin of all coordinates.
    pub chip: Chip,
    /// Named areas on the chip.
    pub regions: Vec<Region>,
    /// Resolution of the figures, and grid of the maps.
    pub map: MapInputs,
    /// Electron beam and what else it crosses.
    pub beam: Beam,
    /// The cell that the electrodes make.
    pub cell: Cell,
    /// Limits that decide whether the setting is accepted; may be empty.
    pub acceptance: Acceptance,
    /// How many times the print is repeated to find the spread between prints.
    pub prints: PrintCount,
    /// What differs between prints besides chance; empty: nothing.
    pub spread: Vec<Variation>,
    /// Largest number of droplets simulated one to one per print before the run says that it stops short.
    pub droplet_budget: f64,
    /// Inputs that nobody has measured: defaults the user did not set.
    pub unverified: Vec<UnverifiedDefault>,
}

impl Inputs {
    /// Whether the print is given as layers with names, one or more.
    pub fn is_layered(&self) -> bool {
        self.layers.iter().any(|layer| !layer.name.is_empty())
    }

    /// Every powder once, in order of first use. Powders of the same name are the same powder; its mass fraction here is that of the
    /// first ink that holds it.
    pub fn powders(&self) -> Vec<&Powder> {
        let mut all: Vec<&Powder> = Vec::new();
        for powder in self.layers.iter().flat_map(|layer| &layer.ink.powders) {
            if !all.iter().any(|other| other.name == powder.name) {
                all.push(powder);
            }
        }
        all
    }

    /// Place in [`Self::powders`] of each powder of a layer's ink.
    pub fn powder_places(&self, layer: &Layer) -> Vec<u16> {
        let all = self.powders();
        let number = |powder: &Powder| {
            let place =
                all.iter().position(|other| other.name == powder.name).expect("all holds the powders of each layer");
            u16::try_from(place).expect("a scenario has at most a hundred powders")
        };
        layer.ink.powders.iter().map(number).collect()
    }

    /// Every printed item of all layers, in order.
    pub fn items(&self) -> impl Iterator<Item = &PathItem> {
        self.layers.iter().flat_map(|layer| &layer.path)
    }

    /// The same print with a spacing for every fill: what follows from the line of each layer stands where it was left out.
    #[must_use]
    pub fn with_spacings(&self, from_lines: impl IntoIterator<Item = Option<f64>>) -> Self {
        let spaced = |(layer, from_line): (&Layer, Option<f64>)| {
            let mut layer = layer.clone();
            for item in &mut layer.path {
                if let Shape::Filled(filled) = &mut item.shape {
                    filled.spacing = Spacing::Given(filled.spacing.with(from_line));
                }
            }
            layer
        };
        Self { layers: self.layers.iter().zip(from_lines).map(spaced).collect(), ..self.clone() }
    }

    /// What differs from print to print, in the order of the draws: what belongs to the chip's place on the stage once, what belongs to
    /// an ink and its flows once a layer.
    pub fn varied(&self) -> Vec<Varied> {
        let each = |variation: &Variation| {
            let own = self.layers.len() > 1 && !variation.input.is_shared();
            let layers = if own { self.layers.len() } else { 1 };
            let input = variation.input;
            (0..layers).map(move |layer| Varied { input, layer: own.then_some(layer) })
        };
        self.spread.iter().flat_map(each).collect()
    }

    /// The unverified default behind a key of the resolved inputs, if there is one. What all layers take from the same default bears no
    /// layer in its name.
    pub fn unverified_default(&self, key: &str) -> Option<&UnverifiedDefault> {
        let of_all = key.strip_prefix("layer[").and_then(|rest| rest.split_once("].")).map(|(_, rest)| rest);
        self.unverified.iter().find(|u| u.key == key || Some(u.key.as_str()) == of_all)
    }

    /// Whether a layer, counted from 0, takes an unverified default for a key such as `head.land_um`.
    pub fn is_unverified(&self, layer: usize, key: &str) -> bool {
        let full = if self.is_layered() { format!("layer[{}].{key}", layer + 1) } else { key.to_owned() };
        self.unverified_default(&full).is_some()
    }
}

/// One layer of the print: an ink, how it is printed, and what.
#[derive(Debug, Clone)]
pub struct Layer {
    /// Name shown in tables; empty in a print that is not given as layers.
    pub name: String,
    /// Wait before the layer begins, s.
    pub pause: f64,
    /// Carrier and sheath gas.
    pub gas: GasInputs,
    /// Flows as set on the controllers.
    pub flows: Flows,
    /// What is in the vial.
    pub ink: Ink,
    /// How the ink becomes mist.
    pub atomiser: Atomiser,
    /// Pieces of tubing from the atomiser to the head, in order.
    pub tube: Vec<TubePiece>,
    /// Print head.
    pub head: Head,
    /// From the nozzle exit to the chip.
    pub flight: Flight,
    /// What a droplet does on contact.
    pub landing: Landing,
    /// Motion stage and shutter.
    pub stage: Stage,
    /// Change of mist output with time, counted from the start of the layer.
    pub output: OutputDrift,
    /// What is printed, in order.
    pub path: Vec<PathItem>,
}

/// A varied input of the whole print or of one of its layers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Varied {
    /// Which input.
    pub input: VariedInput,
    /// Number of the layer, from 0; `None`: of the whole print, or of its only layer.
    pub layer: Option<usize>,
}

impl Varied {
    fn layer_name(self, layers: &[Layer]) -> Option<&str> {
        self.layer.and_then(|k| layers.get(k)).map(|layer| layer.name.as_str())
    }

    /// Name in words, with that of the layer.
    pub fn label(self, layers: &[Layer]) -> String {
        let label = self.input.label();
        self.layer_name(layers).map_or_else(|| label.to_owned(), |name| format!("{label} ({name})"))
    }

    /// Key in tables: that of the input, with the layer's name in brackets.
    pub fn key(self, layers: &[Layer]) -> String {
        let key = self.input.key();
        self.layer_name(layers).map_or_else(|| key.to_owned(), |name| format!("{key} [{name}]"))
    }
}

/// Number of repeated prints.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PrintCount {
    /// As many as are cheap, at most 20.
    Automatic,
    /// As asked for.
    Fixed(u32),
}

/// An input that took its default value and that matters.
#[derive(Debug, Clone, PartialEq)]
pub struct UnverifiedDefault {
    /// Scenario key, e.g. `atomiser.droplet_gsd`.
    pub key: String,
    /// Value with unit, as text.
    pub value: String,
    /// Why it matters and how to measure it.
    pub advice: String,
}
