//! The resolved inputs in the user's units: as JSON and as text.

use super::Scenario;
use super::bind::Out;
use super::choices::Draw;
use super::key::{Kind, Section, show_number};
use super::keys::{self, LIMIT, PRINT_LAYER, SPREAD, SpreadPart, VARIED};
use super::reader::{number_spec, tidy};
use motefall_physics::figure_kinds;
use motefall_physics::inputs::{
    Area, Beam, DrawingSource, DropletMedian, Inputs, Law, Layer, Limit, Outline, PathItem, Powder, Region, Shape,
    SolventPart, Spacing, Variation,
};
use motefall_physics::units::MICROMETRE;
use serde_json::{Map, Value};

/// All inputs with the keys and units of a scenario file. Sizes of powders appear as percentiles.
pub fn resolved(inputs: &Inputs) -> Value {
    let limits: Vec<Value> = inputs.acceptance.stated().iter().map(limit).collect();
    let mut out = keys::root::write(inputs)
        .add("chip", keys::chip::write(&inputs.chip).done())
        .add("region", inputs.regions.iter().map(region).collect::<Vec<_>>())
        .add("map", keys::map::write(&inputs.map).done())
        .add("beam", beam(&inputs.beam))
        .add("cell", keys::cell::write(&inputs.cell).done())
        .add("acceptance", keys::acceptance::write(&inputs.acceptance).add("limit", limits).done());
    if !inputs.spread.is_empty() {
        out = out.add("spread", spread(&inputs.spread));
    }
    match &inputs.layers[..] {
        [only] if !inputs.is_layered() => layer_sections(out, only),
        layers => {
            let one = |layer: &Layer| {
                let own = Out::new(&PRINT_LAYER).put("name", &layer.name).put("pause_s", &layer.pause);
                layer_sections(own, layer).done()
            };
            out.add("layer", layers.iter().map(one).collect::<Vec<_>>())
        }
    }
    .done()
}

/// The sections of a layer, which without layers are those of the file.
fn layer_sections(out: Out, layer: &Layer) -> Out {
    let atomiser = keys::atomiser::write(&layer.atomiser);
    let atomiser = match layer.atomiser.median {
        DropletMedian::Measured(d) => atomiser.put("droplet_median_um", &d),
        DropletMedian::Ultrasonic(f) => atomiser.put("frequency_mhz", &f),
    };
    let ink = Out::new(&keys::INK)
        .add("solvent", layer.ink.solvents.iter().map(solvent).collect::<Vec<_>>())
        .add("powder", layer.ink.powders.iter().map(powder).collect::<Vec<_>>())
        .put("settling_percent_per_h", &layer.ink.settling);
    let tube: Vec<Value> = layer.tube.iter().map(|piece| keys::tube::write(piece).done()).collect();
    let flow_reference = layer.flows.reference.temperature;
    out.add("gas", keys::gas::write(&layer.gas).put("flow_reference_c", &flow_reference).done())
        .add("flow", keys::flow::write(&layer.flows).done())
        .add("ink", ink.done())
        .add("atomiser", atomiser.done())
        .add("tube", tube)
        .add("head", keys::head::write(&layer.head).done())
        .add("flight", keys::flight::write(&layer.flight).done())
        .add("landing", keys::landing::write(&layer.landing).done())
        .add("stage", keys::stage::write(&layer.stage).done())
        .add("output", keys::output::write(&layer.output).done())
        .add("path", layer.path.iter().map(path_item).collect::<Vec<_>>())
}

fn beam(beam: &Beam) -> Value {
    let layers = beam
        .layers
        .iter()
        .map(|layer| keys::beam_layer::write(layer).put("mean_free_path_nm", &layer.mean_free_path).done());
    keys::beam::write(beam).add("layer", layers.collect::<Vec<_>>()).done()
}

/// All inputs that may differ, those that do not with a standard deviation of 0.
fn spread(variations: &[Variation]) -> Value {
    let one = |out: Out, SpreadPart { input, section, sd }: &SpreadPart| {
        let found = variations.iter().find(|variation| variation.input == *input);
        let (law, si) = found.map_or((Law::Normal, 0.0), |variation| (variation.law, variation.sd));
        out.add(section.name, Out::new(section).put("law", &law).put(sd, &si).done())
    };
    VARIED.iter().fold(Out::new(&SPREAD), one).done()
}

fn solvent(part: &SolventPart) -> Value {
    keys::solvent::write(&part.solvent).put("name", &part.solvent.name).put("mass_percent", &part.mass_fraction).done()
}

fn powder(powder: &Powder) -> Value {
    let mut out = keys::powder::write(powder);
    for (name, share) in [("d10", 0.1), ("d50", 0.5), ("d90", 0.9)] {
        // Three digits: a percentile of a powder is not known better.
        let um = |diameter: f64| format!("{:.2e}", diameter / MICROMETRE).parse::<f64>().unwrap_or(f64::NAN);
        out = out.add(&format!("number_{name}_um"), um(powder.sizes.quantile(share)));
        out = out.add(&format!("volume_{name}_um"), um(powder.sizes.volume_quantile(share)));
    }
    out.done()
}

fn path_item(item: &PathItem) -> Value {
    let out = match &item.shape {
        Shape::Polyline(points) if points.len() == 2 => {
            Out::new(&keys::LINE).put("from_um", &points[0]).put("to_um", &points[1])
        }
        Shape::Polyline(points) => Out::new(&keys::POLYLINE).put("points_um", points),
        Shape::FilledRectangle { .. } => keys::path_rectangle::write(&item.shape),
        Shape::FilledDisc { .. } => keys::path_disc::write(&item.shape),
        Shape::Dot { .. } => keys::path_dot::write(&item.shape),
        Shape::Filled(filled) => {
            let spacing = match filled.spacing {
                Spacing::Given(distance) => Some(distance),
                Spacing::FromLineWidth { .. } => None,
            };
            let out = keys::path_drawing::write(filled).put("draw", &Draw::Fill).put("spacing_um", &spacing);
            from_drawing(out, &filled.source)
        }
        Shape::Polylines(drawn) => {
            from_drawing(Out::new(&keys::path_drawing::TABLE).put("draw", &Draw::Lines), &drawn.source)
        }
    };
    let out = if matches!(item.shape, Shape::Dot { .. }) { out } else { out.put("speed_mm_s", &item.speed) };
    out.kind().put("name", &item.name).put("passes", &item.passes).done()
}

fn region(region: &Region) -> Value {
    let out = match &region.outline {
        Outline::Rectangle { .. } => keys::region_rectangle::write(&region.outline),
        Outline::Disc { .. } => keys::region_disc::write(&region.outline),
        Outline::Area(Area { source: None, contours }) => {
            let corners = contours.contours().first().cloned().unwrap_or_default();
            Out::new(&keys::POLYGON).put("points_um", &corners)
        }
        Outline::Area(area) => from_drawing(Out::new(&keys::DRAWN_REGION), &area.source),
    };
    out.kind().put("name", &region.name).put("role", &region.role).done()
}

/// Where a shape of a drawing came from.
fn from_drawing(out: Out, source: &Option<DrawingSource>) -> Out {
    let Some(source) = source else { return out };
    out.and(keys::drawing_source::write(source)).put("fingerprint", &source.fingerprint)
}

fn limit(limit: &Limit) -> Value {
    let kind = limit.figure.kind();
    let shown = |si: f64| tidy(si * kind.per_si);
    Out::new(&LIMIT)
        .put("figure", &kind.id.to_owned())
        .put("place", &limit.place)
        .put("min", &limit.min.map(shown))
        .put("max", &limit.max.map(shown))
        .done()
}

/// The resolved values as aligned text in sections, unverified defaults marked and listed with advice.
pub fn echo(scenario: &Scenario) -> String {
    let inputs = &scenario.inputs;
    let Value::Object(root) = resolved(inputs) else { unreachable!("the whole file is a section") };
    let mut text = String::new();
    section(&mut text, inputs, &keys::root::TABLE, "", &root);
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
    let figure = values.get("figure").and_then(Value::as_str).and_then(figure_kinds::kind);
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
