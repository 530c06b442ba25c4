//! The resolved inputs in the user's units: as JSON and as text.

use super::Scenario;
use super::keys::{
    ACCEPTANCE, ATOMISER, BEAD_RULES, BEAM, BOUNCE, CELL, CHIP, FLIGHT, FLIGHT_MODELS, FLOW, GAS, GASES, HAZARDS, HEAD,
    INK, Key, Kind, LANDING, LANDING_METHODS, LAWS, LAYER, LIMIT, MAP, OUTPUT, PATH, POWDER, PRINT_LAYER, REGION,
    ROLES, ROOT, SOLVENT, SPREAD, SPREAD_RULES, STAGE, Section, TUBE, TURNS, VARIED, sd_key, show_number,
};
use super::reader::{number_spec, tidy};
use crate::figures::kinds;
use crate::inputs::{
    Conduction, DrawingSource, DropletMedian, EdgeStroke, Inputs, Law, Layer, Limit, Outline, PathItem, Powder,
    PrintCount, Region, Shape, SolventPart, Variation,
};
use crate::units::MICROMETRE;
use serde_json::{Map, Value, json};

/// A section of the JSON under construction: SI goes in, the unit of the key comes out.
struct Out {
    spec: &'static Section,
    map: Map<String, Value>,
}

impl Out {
    fn new(spec: &'static Section) -> Self {
        Self { spec, map: Map::new() }
    }

    fn key(&self, name: &str) -> &'static Key {
        self.spec.key(name).expect("the echo writes only keys of the table")
    }

    fn value(mut self, name: &str, value: impl Into<Value>) -> Self {
        self.map.insert(name.to_owned(), value.into());
        self
    }

    fn written(&self, name: &str, si: f64) -> f64 {
        let spec = number_spec(self.key(name)).expect("the table says that it is a number");
        tidy(spec.unit.from_si(si))
    }

    fn number(self, name: &str, si: f64) -> Self {
        let written = self.written(name, si);
        self.value(name, written)
    }

    fn numbers(mut self, pairs: &[(&str, f64)]) -> Self {
        for (name, si) in pairs {
            self = self.number(name, *si);
        }
        self
    }

    fn optional(self, name: &str, si: Option<f64>) -> Self {
        match si {
            Some(si) => self.number(name, si),
            None => self,
        }
    }

    fn list(self, name: &str, si: &[f64]) -> Self {
        let written: Vec<f64> = si.iter().map(|v| self.written(name, *v)).collect();
        self.value(name, written)
    }

    fn points(self, name: &str, si: &[[f64; 2]]) -> Self {
        let written: Vec<Vec<f64>> = si.iter().map(|p| p.iter().map(|v| self.written(name, *v)).collect()).collect();
        self.value(name, written)
    }

    fn choice<T: PartialEq>(self, name: &str, values: &[T], chosen: &T) -> Self {
        let (Kind::Choice(words) | Kind::Choices(words)) = self.key(name).kind else {
            unreachable!("the table says that it is a choice")
        };
        let word = words.iter().zip(values).find(|(_, value)| *value == chosen).map(|(word, _)| *word);
        self.value(name, word)
    }

    /// Where a shape of a drawing came from.
    fn source(self, source: &Option<DrawingSource>) -> Self {
        let Some(source) = source else { return self };
        let mut out = self.value("file", source.file.as_str());
        if let Some(layer) = &source.layer {
            out = out.value("layer", layer.as_str());
        }
        if let Some(unit) = source.unit {
            out = out.value("drawing_unit", unit.word());
        }
        out.value("fingerprint", source.fingerprint.as_str())
            .list("at_um", &source.at)
            .number("rotation_deg", source.rotation)
    }

    fn done(self) -> Value {
        Value::Object(self.map)
    }
}

/// All inputs with the keys and units of a scenario file. Sizes of powders appear as percentiles.
pub fn resolved(inputs: &Inputs) -> Value {
    let Inputs { chip, map, beam, acceptance, .. } = inputs;
    let prints = match inputs.prints {
        PrintCount::Automatic => json!("auto"),
        PrintCount::Fixed(n) => json!(n),
    };
    let mut out = Out::new(&ROOT);
    if !inputs.spread.is_empty() {
        out = out.value("spread", spread(&inputs.spread));
    }
    let layers: Vec<Value> = beam
        .layers
        .iter()
        .map(|layer| {
            let pairs = [("thickness_nm", layer.thickness), ("mean_free_path_nm", layer.mean_free_path)];
            Out::new(&LAYER).value("material", layer.material.as_str()).numbers(&pairs).done()
        })
        .collect();
    out = match &inputs.layers[..] {
        [only] if !inputs.is_layered() => layer_sections(out, only),
        layers => {
            let one = |layer: &Layer| {
                let out = Out::new(&PRINT_LAYER).value("name", layer.name.as_str()).number("pause_s", layer.pause);
                layer_sections(out, layer).done()
            };
            out.value("layer", layers.iter().map(one).collect::<Vec<_>>())
        }
    };
    out.value("name", inputs.name.as_str())
        .value("note", inputs.note.as_str())
        .value("seed", inputs.seed)
        .value("prints", prints)
        .number("droplet_budget", inputs.droplet_budget)
        .value("chip", Out::new(&CHIP).numbers(&[("width_mm", chip.width), ("height_mm", chip.height)]).done())
        .value("region", inputs.regions.iter().map(region).collect::<Vec<_>>())
        .value(
            "map",
            Out::new(&MAP)
                .numbers(&[("resolution_um", map.resolution), ("pitch_um", map.pitch), ("margin_um", map.margin)])
                .value("write_particles", map.write_particles)
                .done(),
        )
        .value(
            "beam",
            Out::new(&BEAM)
                .numbers(&[("voltage_kv", beam.voltage), ("limit_mean_free_paths", beam.limit)])
                .value("layer", layers)
                .done(),
        )
        .value("cell", Out::new(&CELL).list("c_rates", &inputs.cell.rates).done())
        .value(
            "acceptance",
            Out::new(&ACCEPTANCE)
                .number("required_share_percent", acceptance.required_share)
                .value("limit", acceptance.stated().iter().map(limit).collect::<Vec<_>>())
                .done(),
        )
        .done()
}

/// The sections of a layer, which without layers are those of the file.
fn layer_sections(out: Out, layer: &Layer) -> Out {
    let Layer { gas, flows, atomiser, head, flight, landing, stage, output, .. } = layer;
    let atomiser_out = match atomiser.median {
        DropletMedian::Measured(d) => Out::new(&ATOMISER).number("droplet_median_um", d),
        DropletMedian::Ultrasonic(f) => Out::new(&ATOMISER).number("frequency_mhz", f),
    };
    let mut landing_out = Out::new(&LANDING)
        .number("contact_angle_deg", landing.contact_angle)
        .choice("spread", &SPREAD_RULES, &landing.spread)
        .choice("bead", &BEAD_RULES, &landing.bead)
        .number("chip_c", landing.chip_temperature)
        .numbers(&[("rim_bias", landing.rim_bias), ("residue_packing", landing.residue_packing)]);
    if let Some(bounce) = landing.bounce {
        let pairs = [("above_m_s", bounce.above_speed), ("probability", bounce.probability)];
        landing_out = landing_out.value("bounce", Out::new(&BOUNCE).numbers(&pairs).done());
    }
    let tube: Vec<Value> = layer
        .tube
        .iter()
        .map(|piece| {
            let pairs = [("length_mm", piece.length), ("bore_mm", piece.bore), ("inclination_deg", piece.inclination)];
            Out::new(&TUBE).numbers(&pairs).list("bends_deg", &piece.bends).done()
        })
        .collect();
    out.value(
        "gas",
        Out::new(&GAS)
            .choice("kind", &GASES, &gas.species)
            .numbers(&[
                ("temperature_c", gas.temperature),
                ("pressure_kpa", gas.pressure),
                ("flow_reference_c", flows.reference.temperature),
                ("carrier_saturation", gas.carrier_saturation),
                ("sheath_saturation", gas.sheath_saturation),
            ])
            .done(),
    )
    .value(
        "flow",
        Out::new(&FLOW).numbers(&[("carrier_sccm", flows.carrier.0), ("sheath_sccm", flows.sheath.0)]).done(),
    )
    .value(
        "ink",
        Out::new(&INK)
            .value("solvent", layer.ink.solvents.iter().map(solvent).collect::<Vec<_>>())
            .value("powder", layer.ink.powders.iter().map(powder).collect::<Vec<_>>())
            .done(),
    )
    .value(
        "atomiser",
        atomiser_out
            .numbers(&[
                ("droplet_gsd", atomiser.gsd),
                ("mist_load_ul_per_l", atomiser.mist_load),
                ("retention_midpoint", atomiser.retention_midpoint),
                ("retention_steepness", atomiser.retention_steepness),
            ])
            .done(),
    )
    .value("tube", tube)
    .value(
        "head",
        Out::new(&HEAD)
            .numbers(&[
                ("temperature_c", head.temperature),
                ("inlet_bore_mm", head.inlet_bore),
                ("mixing_length_mm", head.mixing_length),
                ("nozzle_um", head.nozzle),
                ("half_angle_deg", head.half_angle),
                ("land_um", head.land),
            ])
            .optional("plug_blend", head.plug_blend)
            .done(),
    )
    .value(
        "flight",
        Out::new(&FLIGHT)
            .numbers(&[("stand_off_mm", flight.stand_off), ("lift_factor", flight.lift_factor)])
            .choice("model", &FLIGHT_MODELS, &flight.model)
            .choice("landing", &LANDING_METHODS, &flight.landing)
            .done(),
    )
    .value("landing", landing_out.done())
    .value(
        "stage",
        Out::new(&STAGE)
            .numbers(&[
                ("acceleration_m_s2", stage.acceleration),
                ("travel_mm_s", stage.travel_speed),
                ("shutter_open_ms", stage.shutter_open_delay),
                ("shutter_close_ms", stage.shutter_close_delay),
                ("jitter_um", stage.jitter),
                ("run_up_um", stage.run_up),
            ])
            .done(),
    )
    .value(
        "output",
        Out::new(&OUTPUT)
            .numbers(&[
                ("warm_up_s", output.warm_up),
                ("run_in_s", output.run_in_time),
                ("run_in_deficit_percent", output.run_in_deficit),
                ("trend_percent_per_h", output.trend),
                ("noise_percent", output.noise_sd),
                ("noise_time_s", output.noise_time),
            ])
            .done(),
    )
    .value("path", layer.path.iter().map(path_item).collect::<Vec<_>>())
}

/// All eleven inputs, those that do not differ with a standard deviation of 0.
fn spread(variations: &[Variation]) -> Value {
    let parts = VARIED.iter().zip(SPREAD.keys).map(|(input, key)| {
        let Kind::Table(section) = key.kind else { unreachable!("the table says that they are sections") };
        let sd = sd_key(section);
        let found = variations.iter().find(|variation| variation.input == *input);
        let (law, si) = found.map_or((Law::Normal, 0.0), |variation| (variation.law, variation.sd));
        (key.name.to_owned(), Out::new(section).choice("law", &LAWS, &law).number(sd, si).done())
    });
    Value::Object(parts.collect())
}

fn solvent(part: &SolventPart) -> Value {
    let s = &part.solvent;
    Out::new(&SOLVENT)
        .value("name", s.name.as_str())
        .numbers(&[
            ("mass_percent", part.mass_fraction),
            ("molar_mass_g_mol", s.molar_mass),
            ("density_g_cm3", s.density),
            ("viscosity_mpa_s", s.viscosity),
            ("surface_tension_mn_m", s.surface_tension),
            ("latent_heat_kj_kg", s.latent_heat),
            ("vapour_pressure_pa", s.vapour_pressure),
            ("vapour_temperature_c", s.vapour_temperature),
            ("diffusivity_mm2_s", s.diffusivity),
        ])
        .optional("flash_point_c", s.flash_point)
        .done()
}

fn powder(powder: &Powder) -> Value {
    let mut out = Out::new(&POWDER)
        .value("name", powder.name.as_str())
        .numbers(&[("mass_percent", powder.mass_fraction), ("density_g_cm3", powder.density)]);
    for (name, share) in [("d10", 0.1), ("d50", 0.5), ("d90", 0.9)] {
        // Three digits: a percentile of a powder is not known better.
        let um = |diameter: f64| format!("{:.2e}", diameter / MICROMETRE).parse::<f64>().unwrap_or(f64::NAN);
        out = out.value(&format!("number_{name}_um"), um(powder.sizes.quantile(share)));
        out = out.value(&format!("volume_{name}_um"), um(powder.sizes.volume_quantile(share)));
    }
    let hazards: Vec<Value> = powder
        .hazards
        .iter()
        .filter_map(|h| Out::new(&POWDER).choice("hazards", &HAZARDS, h).map.remove("hazards"))
        .collect();
    out.numbers(&[("packing_fraction", powder.packing_fraction), ("capacity_mah_g", powder.capacity)])
        .optional("mean_free_path_nm", powder.mean_free_path)
        .value("conducting", powder.conduction == Conduction::Conducting)
        .value("hazards", hazards)
        .done()
}

fn path_item(item: &PathItem) -> Value {
    let spec = |kind: &str| PATH.iter().find(|shape| shape.name == kind).expect("the table has all kinds");
    let start = |kind: &str| Out::new(spec(kind)).value("name", item.name.as_str()).value("kind", kind);
    let out = match &item.shape {
        Shape::Polyline(points) if points.len() == 2 => {
            start("line").list("from_um", &points[0]).list("to_um", &points[1])
        }
        Shape::Polyline(points) => start("polyline").points("points_um", points),
        Shape::FilledRectangle { center, size, rotation, spacing } => start("rectangle")
            .list("center_um", center)
            .list("size_um", size)
            .numbers(&[("rotation_deg", *rotation), ("spacing_um", *spacing)]),
        Shape::FilledDisc { center, radius, spacing } => {
            start("disc").list("center_um", center).numbers(&[("radius_um", *radius), ("spacing_um", *spacing)])
        }
        Shape::Dot { at, dwell } => start("dot").list("at_um", at).number("dwell_s", *dwell),
        Shape::Filled(filled) => start("drawing")
            .source(&filled.source)
            .value("draw", "fill")
            // Not known before the line's width is.
            .optional("spacing_um", (!filled.spacing_left_out).then_some(filled.spacing))
            .number("angle_deg", filled.angle)
            .choice("turns", &TURNS, &filled.turns)
            .value("edge", filled.edge == EdgeStroke::Along),
        Shape::Polylines(drawn) => start("drawing").source(&drawn.source).value("draw", "lines"),
    };
    let out = if matches!(item.shape, Shape::Dot { .. }) { out } else { out.number("speed_mm_s", item.speed) };
    out.value("passes", item.passes).done()
}

fn region(region: &Region) -> Value {
    let spec = |kind: &str| REGION.iter().find(|shape| shape.name == kind).expect("the table has all kinds");
    let start = |kind: &str| {
        Out::new(spec(kind)).value("name", region.name.as_str()).value("kind", kind).choice(
            "role",
            &ROLES,
            &region.role,
        )
    };
    match &region.outline {
        Outline::Rectangle { center, size, rotation } => {
            start("rectangle").list("center_um", center).list("size_um", size).number("rotation_deg", *rotation)
        }
        Outline::Disc { center, radius } => start("disc").list("center_um", center).number("radius_um", *radius),
        Outline::Polygon(points) => start("polygon").points("points_um", points),
        Outline::Shape(area) => start("drawing").source(&area.source),
    }
    .done()
}

fn limit(limit: &Limit) -> Value {
    let kind = limit.figure.kind();
    let shown = |si: f64| tidy(si * kind.per_si);
    let mut out = Out::new(&LIMIT).value("figure", kind.id);
    if let Some(place) = &limit.place {
        out = out.value("place", place.as_str());
    }
    out.optional("min", limit.min.map(shown)).optional("max", limit.max.map(shown)).done()
}

/// The resolved values as aligned text in sections, unverified defaults marked and listed with advice.
pub fn echo(scenario: &Scenario) -> String {
    let inputs = &scenario.inputs;
    let Value::Object(root) = resolved(inputs) else { unreachable!("the whole file is a section") };
    let mut text = String::new();
    section(&mut text, inputs, &ROOT, "", &root);
    if !inputs.unverified.is_empty() {
        text.push_str("\n* Unverified defaults: nobody has measured these for your bench. The prediction is as good as they are.\n");
        for assumed in &inputs.unverified {
            text.push_str(&format!("  {} = {}\n      {}\n", assumed.key, assumed.value, assumed.advice));
        }
    }
    for note in &scenario.notes {
        text.push_str(&format!("\nNote: {note}\n"));
    }
    text
}

/// Widths of the columns of keys and values.
const COLUMNS: [usize; 2] = [24, 28];

fn section(text: &mut String, inputs: &Inputs, spec: &'static Section, path: &str, values: &Map<String, Value>) {
    let full = |name: &str| if path.is_empty() { name.to_owned() } else { format!("{path}.{name}") };
    let is_plain = |name: &str| {
        !matches!(spec.key(name).map(|key| key.kind), Some(Kind::Table(_) | Kind::Tables(_) | Kind::Shapes(_)))
    };
    // First the keys of the table in its order, then what was derived.
    let derived = values.keys().map(String::as_str).filter(|name| spec.key(name).is_none());
    let names: Vec<&str> =
        spec.keys.iter().map(|key| key.name).chain(derived).filter(|name| values.contains_key(*name)).collect();
    // A limit is in the unit of its figure.
    let figure = values.get("figure").and_then(Value::as_str).and_then(kinds::kind);
    for name in names.iter().filter(|name| is_plain(name)) {
        let key = spec.key(name);
        let unit = key.and_then(number_spec).map_or("", |number| figure.map_or(number.unit.symbol, |kind| kind.unit));
        let shown = match plain(&values[*name]) {
            empty if empty.is_empty() => "none".to_owned(),
            shown => format!("{shown} {unit}"),
        };
        let mark = if inputs.unverified_default(&full(name)).is_some() { "* unverified default" } else { "" };
        let line = format!("  {name:width$}{shown:wide$}{mark}", width = COLUMNS[0], wide = COLUMNS[1]);
        text.push_str(line.trim_end());
        text.push('\n');
    }
    for name in names.iter().filter(|name| !is_plain(name)) {
        let kind = spec.key(name).expect("it is of the table").kind;
        match (kind, &values[*name]) {
            (Kind::Table(inner), Value::Object(map)) => {
                // A section that only holds others needs no heading of its own.
                if inner.keys.iter().any(|key| !matches!(key.kind, Kind::Table(_) | Kind::Tables(_))) {
                    text.push_str(&format!("\n{}\n", full(name)));
                }
                section(text, inputs, inner, &full(name), map);
            }
            (kind, Value::Array(items)) => {
                for (i, item) in items.iter().enumerate() {
                    let Value::Object(map) = item else { continue };
                    let inner = match kind {
                        Kind::Tables(inner) => Some(inner),
                        Kind::Shapes(shapes) => {
                            shapes.iter().find(|shape| map.get("kind").and_then(Value::as_str) == Some(shape.name))
                        }
                        _ => None,
                    };
                    let Some(inner) = inner else { continue };
                    let path = format!("{}[{}]", full(name), i + 1);
                    text.push_str(&format!("\n{path}\n"));
                    section(text, inputs, inner, &path, map);
                }
            }
            _ => {}
        }
    }
}

fn plain(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        // Six digits are more than anyone sets, and hide the digits of computed properties.
        Value::Number(number) => {
            number.as_f64().map_or_else(|| number.to_string(), |v| show_number(format!("{v:.5e}").parse().unwrap_or(v)))
        }
        Value::Array(items) if items.is_empty() => String::new(),
        Value::Array(items) => format!("[{}]", items.iter().map(plain).collect::<Vec<_>>().join(", ")),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        other => other.to_string(),
    }
}
