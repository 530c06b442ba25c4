//! `report.html`: one file, pictures first.

mod chip;
mod differ;
mod plots;
mod specimen;

use super::summary;
use super::terminal::{limit_words, verdict_sentence};
use super::{differences, numbers};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use motefall_figures::cautions::Bearing;
use motefall_figures::{Conditions, FigureKind, FigureRow, KINDS, Prediction, Scope, Severity};
use motefall_physics::inputs::Layer;
use serde_json::Value;

const STYLE: &str = include_str!("style.css");
/// Most places beside each other in a table of figures.
const MOST_COLUMNS: usize = 4;
/// Most places whose figures are shown without a click.
const MOST_OPEN_PLACES: usize = 10;

/// The report as text.
pub fn html(p: &Prediction, scenario: &Value) -> Result<String, png::EncodingError> {
    let hero = chip::hero(p)?;
    let multiples = chip::multiples(p)?;
    let beam = specimen::beam(p)?;
    let strays = specimen::strays(p)?;
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="generator" content=(concat!("motefall ", env!("CARGO_PKG_VERSION")));
                title { (p.inputs.name) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                main {
                    h1 { (p.inputs.name) }
                    @if !p.inputs.note.is_empty() { p class="note" { (p.inputs.note) } }
                    (contents(p))
                    (verdict(p))
                    (safety_line(p))
                    div id="pictures" class="hero" {
                        (hero.map) (hero.close)
                        @if hero.wide { div { h2 id="limits" style="margin-top:0" { "Limits" } (limits(p)) } }
                    }
                    @if !hero.wide { h2 id="limits" { "Limits" } (limits(p)) }
                    (differ::section(p))
                    (beam)
                    (specimen::potentiostat(p))
                    (strays)
                    h2 id="maps" { "Every map by itself, around the deposit" }
                    (multiples)
                    p class="note" style="margin-top:8px" { "The numbers behind them are in " code { "maps/" } "; " code { "maps/grid.json" } " says where they lie." }
                    h2 id="lines" { "Across the lines" }
                    (plots::profiles(p))
                    h2 id="sizes" { "Sizes by stage" }
                    (plots::sizes(p))
                    h2 id="landing" { "Landing" }
                    (plots::landing(p))
                    h2 id="budget" { "Mass budget" @if p.verdict.n > 1 { " of the first print" } }
                    (plots::budget(p))
                    h2 id="figures" { "All figures" }
                    (figures(p))
                    h2 id="cautions" { "Cautions" }
                    (cautions(p))
                    h2 id="conditions" { "Conditions" }
                    (conditions(p))
                    h2 id="inputs" { "Inputs" }
                    (inputs(p, scenario))
                    footer {
                        "motefall " (env!("CARGO_PKG_VERSION")) " · seed " (p.inputs.seed) " · random numbers: " (p.generator)
                        " · the same scenario, version and seed give the same numbers again. Files beside this one: "
                        code { "summary.json" } ", " code { "figures.csv" } ", "
                        @if differences::are_known(p) { code { "prints.csv" } ", " }
                        @if p.figures.iter().any(|row| row.distribution.as_ref().is_some_and(|d| !d.explained.is_empty())) { code { "importance.csv" } ", " }
                        code { "budget.csv" } ", " code { "sizes.csv" } ", "
                        code { "profile.csv" } ", " code { "landing.csv" } ", " code { "maps/" } "."
                    }
                }
            }
        }
    };
    Ok(page.into_string())
}

/// Sections: where they begin and what they are called in the list at the top.
const SECTIONS: [(&str, &str); 15] = [
    ("pictures", "Pictures"),
    ("limits", "Limits"),
    ("differ", "How prints differ"),
    ("beam", "Beam"),
    ("potentiostat", "Potentiostat"),
    ("strays", "Strays"),
    ("maps", "Maps"),
    ("lines", "Across the lines"),
    ("sizes", "Sizes"),
    ("landing", "Landing"),
    ("budget", "Mass budget"),
    ("figures", "All figures"),
    ("cautions", "Cautions"),
    ("conditions", "Conditions"),
    ("inputs", "Inputs"),
];

fn contents(p: &Prediction) -> Markup {
    html! {
        nav class="contents" aria-label="Contents" {
            @for (id, words) in SECTIONS.iter().filter(|(id, _)| *id != "differ" || differences::are_known(p)) {
                a href=(format!("#{id}")) { (words) } " "
            }
        }
    }
}

fn verdict(p: &Prediction) -> Markup {
    let (class, head) = match p.verdict.accepted {
        Some(true) if p.verdict.share_interval[0] + 1e-9 < p.inputs.acceptance.required_share => {
            ("verdict", "✓ Accepted, not yet for sure")
        }
        Some(true) => ("verdict yes", "✓ Accepted"),
        Some(false) => ("verdict no", "✕ Not accepted"),
        None => ("verdict", "No limits set"),
    };
    let sentence = verdict_sentence(&p.verdict, p.inputs.acceptance.required_share);
    let rest = sentence.split_once(": ").map_or(sentence.as_str(), |(_, rest)| rest);
    let mut failed: Vec<&motefall_figures::LimitOutcome> = p.limits.iter().filter(|l| l.met < l.n).collect();
    failed.sort_by_key(|l| l.met);
    html! {
        div class=(class) {
            p {
                strong { (head) } br;
                (chip::capital(rest))
                @if p.verdict.accepted == Some(false) && !failed.is_empty() {
                    br; "What stands in the way: "
                    @for (i, l) in failed.iter().take(3).enumerate() {
                        @if i > 0 { "; " }
                        (numbers::label_at(l.kind(), p.inputs.map.resolution)) @if let Some(place) = &l.limit.place { " on " (place) }
                        @if p.is_undecided(l) { " is not known (asked " (limit_words(&l.limit)) ")" } @else {
                            " was met in " (l.met) " of " (l.n) " prints (asked " (limit_words(&l.limit)) ", predicted " (numbers::predicted(l)) ")"
                        }
                    }
                    "."
                }
                @for caution in p.cautions.iter().filter(|c| c.kind.bearing() == Bearing::Decision) { br; (caution.text) }
            }
        }
    }
}

fn safety_line(p: &Prediction) -> Markup {
    let n = p.cautions.iter().filter(|c| c.severity() == Severity::Safety).count();
    html! {
        @if n > 0 {
            p { a href="#cautions" { b { (n) (if n == 1 { " safety caution applies" } else { " safety cautions apply" }) } } " to this ink. Read before printing." }
        }
    }
}

fn limits(p: &Prediction) -> Markup {
    if p.limits.is_empty() {
        return html! { p class="note" { "The scenario sets no acceptance limits. Set some under " code { "acceptance" } " to get a decision." } };
    }
    html! {
        div class="scroll limits" { table {
            thead { tr { th { "limit" } th { "asked" } th { "predicted" } th { "met by" } } }
            tbody {
                @for (number, l) in p.limits.iter().enumerate() {
                    tr {
                        td { (chip::capital(&numbers::label_at(l.kind(), p.inputs.map.resolution))) @if let Some(place) = &l.limit.place { ", " (place) } span class="why" { (l.kind().meaning) } }
                        td {
                            (limit_words(&l.limit))
                            @if p.inputs.acceptance.is_implied(number) {
                                span class="why" { "by the role keep-out; a limit of your own on this region replaces it" }
                            }
                        }
                        td { (numbers::predicted(l)) }
                        td {
                            @if p.is_undecided(l) { span class="met some" { "not known" } } @else {
                                span class=(met_class(l.met, l.n, p.inputs.acceptance.required_share)) { (l.met) " of " (l.n) (if l.n == 1 { " print" } else { " prints" }) }
                                @if let Some(share) = differences::limit_share(l) { span class="why" { (share) } }
                            }
                        }
                    }
                }
            }
        } }
        p class="note" { "After ± and in brackets: 95 % interval of the mean over prints" @if p.verdict.n > 0 { " (n = " (p.verdict.n) ")" } ". A print counts as met by its own value; below it the share of all prints that would meet the limit, with its 95 % interval (Wilson 1927). A probability belongs to all prints together: its largest value is judged by the upper bound and its least value by the lower one, each at 95 % by itself (Clopper & Pearson 1934), so more prints can show what few cannot." }
    }
}

/// All figures: regions, items and print, each as rows of figures by columns of places.
fn figures(p: &Prediction) -> Markup {
    let scoped = |scope: Scope| p.figures.iter().filter(move |r| r.kind.scope == scope).collect::<Vec<_>>();
    let notes: Vec<&FigureRow> = p.figures.iter().filter(|r| r.note.is_some()).collect();
    html! {
        @for (scope, head) in [(Scope::Region, "On the regions"), (Scope::Item, "Along the printed items"), (Scope::Print, "Of the whole print")] {
            @let rows = scoped(scope);
            @if !rows.is_empty() { h3 { (head) } (matrix(&rows, p.inputs.map.resolution)) }
        }
        p class="note" {
            "Means over " (p.verdict.n) (if p.verdict.n == 1 { " print" } else { " prints" }) " with their 95 % interval; of the farthest and largest particle, which a single print may set, median of the prints with its 95 % interval (Thompson 1936; from six prints on) and largest. Standard deviations between prints are "
            @if differences::are_known(p) { "under " a href="#differ" { "How prints differ" } } @else { "in " code { "figures.csv" } } "."
        }
        @if !notes.is_empty() {
            details {
                summary { "Remarks on " (notes.len()) " of these figures" }
                ul { @for r in notes.iter().take(200) { li {
                    (r.kind.label) @if let Some(place) = &r.place { ", " (place) } ": " (r.note.as_deref().unwrap_or_default())
                } } }
            }
        }
    }
}

fn matrix(rows: &[&FigureRow], resolution: f64) -> Markup {
    let mut places: Vec<Option<&str>> = vec![];
    for row in rows {
        if !places.contains(&row.place.as_deref()) {
            places.push(row.place.as_deref());
        }
    }
    let kinds: Vec<&FigureKind> = KINDS.iter().filter(|k| rows.iter().any(|r| r.kind == *k)).collect();
    let table = |columns: &[Option<&str>]| {
        html! {
            div class="scroll matrix" { table {
                thead { tr { th { "figure" } @for c in columns { th class="n" { (c.unwrap_or("value")) } } } }
                tbody {
                    @for kind in kinds.iter().filter(|k| rows.iter().any(|r| r.kind == **k && columns.contains(&r.place.as_deref()))) {
                        tr {
                            td {
                                (chip::capital(&numbers::label_at(kind, resolution))) @if !kind.unit.is_empty() { " (" (kind.unit) ")" }
                                span class="why" { (kind.meaning) }
                            }
                            @for c in columns {
                                td class="n" {
                                    @if let Some(row) = rows.iter().find(|r| r.kind.figure == kind.figure && r.place.as_deref() == *c) {
                                        @let shown = numbers::figure(row.estimate.as_ref(), kind);
                                        @if let Some(note) = &row.note { span title=(note) { (shown.below(kind.unit)) "\u{2009}*" } } @else { (shown.below(kind.unit)) }
                                    }
                                }
                            }
                        }
                    }
                }
            } }
        }
    };
    let (open, rest) = places.split_at(places.len().min(MOST_OPEN_PLACES));
    html! {
        @for columns in open.chunks(MOST_COLUMNS) { (table(columns)) }
        @if !rest.is_empty() {
            details {
                summary { "Figures of " (rest.len()) " more places" }
                @for columns in rest.chunks(MOST_COLUMNS) { (table(columns)) }
            }
        }
    }
}

fn cautions(p: &Prediction) -> Markup {
    let all = summary::cautions(p);
    let (safety, others): (Vec<_>, Vec<_>) = all.into_iter().partition(|c| c.severity() == Severity::Safety);
    html! {
        @if !safety.is_empty() {
            div class="safety" {
                h3 { "⚠ Safety" }
                ul { @for c in &safety { li { (c.text) } } }
                p { "Work with extraction and the usual precautions for fine powders and solvents. Local rules and licensed practice decide how this ink may be handled; this page does not replace them." }
            }
        }
        @if others.is_empty() && safety.is_empty() { p class="note" { "None apply to this run." } }
        ul class="cautions" {
            @for c in &others { li { (with_code(&c.text)) " " span class="tag" { "(" (if c.severity() == Severity::Note { "note" } else { "the prediction may be off" }) ")" } } }
        }
    }
}

/// How a limit is marked: met by all prints, by as many as must pass, or by fewer.
fn met_class(met: u32, prints: u32, required_share: f64) -> &'static str {
    match f64::from(met) {
        _ if met == prints => "met all",
        met if met >= required_share * f64::from(prints) => "met enough",
        _ => "met some",
    }
}

/// Text in which commands stand between backticks.
fn with_code(text: &str) -> Markup {
    html! { @for (i, part) in text.split('`').enumerate() { @if i % 2 == 0 { (part) } @else { code { (part) } } } }
}

/// What follows from the inputs: a list, or a table with a column for each layer.
fn conditions(p: &Prediction) -> Markup {
    let layers: Vec<(&Layer, Vec<(String, String)>)> =
        p.inputs.layers.iter().zip(&p.layers).map(|(layer, part)| (layer, facts(layer, &part.conditions))).collect();
    if let [(_, facts)] = &layers[..] {
        return html! { dl class="facts" { @for (name, value) in facts { div { dt { (name) } dd { (value) } } } } };
    }
    let mut names: Vec<&str> = vec![];
    for (name, _) in layers.iter().flat_map(|(_, facts)| facts) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    html! {
        @for columns in layers.chunks(MOST_COLUMNS) {
            div class="scroll" { table {
                thead { tr { th { "condition" } @for (layer, _) in columns { th class="n" { (layer.name) } } } }
                tbody {
                    @for name in &names {
                        tr {
                            td { (name) }
                            @for (_, facts) in columns {
                                td class="n" { (facts.iter().find(|(other, _)| other == name).map_or("–", |(_, value)| value)) }
                            }
                        }
                    }
                }
            } }
        }
    }
}

fn facts(layer: &Layer, c: &Conditions) -> Vec<(String, String)> {
    let with = |v: f64, unit: &str| {
        format!("{}{}{unit}", numbers::significant(v, 3), if unit.is_empty() { "" } else { "\u{a0}" })
    };
    let mut facts = vec![
        ("Reynolds number at the nozzle", with(c.reynolds, "")),
        ("Mach number on the axis", with(c.mach, "")),
        ("Stand-off", format!("{} nozzle bores", numbers::significant(c.stand_off_ratio, 3))),
        ("Mean gas speed at the exit", with(c.exit_speed, "m/s")),
        ("Gas speed on the axis at the exit", with(c.centre_speed, "m/s")),
        ("Carrier flow in the head", with(c.carrier_flow * 6e7, "mL/min")),
        ("Sheath flow in the head", with(c.sheath_flow * 6e7, "mL/min")),
        ("Radius of the mist core at the exit", with(c.core_radius * 1e6, "µm")),
        ("Gas density", with(c.gas_density, "kg/m³")),
        ("Gas viscosity", with(c.gas_viscosity * 1e6, "µPa s")),
        ("Mean free path of the gas", with(c.mean_free_path * 1e9, "nm")),
        ("Time in the tube", with(c.tube_time, "s")),
        ("Time in the head, on the axis", with(c.head_time, "s")),
        ("Droplet median at the atomiser, by count", with(c.droplet_median * 1e6, "µm")),
        ("Droplet median at the atomiser, by mass", with(c.droplet_mass_median * 1e6, "µm")),
        ("Mean droplet volume", with(c.droplet_mean_volume * 1e18, "µm³")),
        ("Droplets made per second", with(c.droplet_rate, "")),
        ("Print time with moves", with(c.print_time, "s")),
        ("Time with the shutter open", with(c.open_time, "s")),
        ("Ink used", numbers::ink(c.ink_used)),
        ("Ink density", with(c.ink_density, "kg/m³")),
        ("Liquid left at the exit", numbers::percent(c.liquid_left)),
        ("Saturation at the exit", numbers::percent(c.exit_saturation)),
    ]
    .into_iter()
    .map(|(name, value)| (name.to_string(), value))
    .collect::<Vec<_>>();
    if !layer.name.is_empty() {
        facts.push(("Pause before the layer".into(), with(layer.pause, "s")));
    }
    for (i, powder) in layer.ink.powders.iter().enumerate() {
        if let Some(n) = c.particles_per_droplet.get(i) {
            facts.push((format!("{}: particles in a droplet", powder.name), with(*n, "")));
        }
        if let Some(path) = c.powder_mean_free_path.get(i) {
            facts.push((format!("{}: mean free path of the beam", powder.name), with(path * 1e9, "nm")));
        }
    }
    facts
}

/// Leaves of the resolved scenario, grouped by top section.
fn leaves(value: &Value, key: &str, out: &mut Vec<(String, String)>) {
    let plain = |v: &Value| match v {
        Value::String(s) => s.clone(),
        Value::Null => "–".into(),
        other => other.to_string(),
    };
    match value {
        Value::Object(map) => {
            for (k, v) in map {
                leaves(v, &if key.is_empty() { k.clone() } else { format!("{key}.{k}") }, out);
            }
        }
        Value::Array(items) if items.iter().any(Value::is_object) => {
            for (i, v) in items.iter().enumerate() {
                leaves(v, &format!("{key}[{}]", i + 1), out);
            }
        }
        Value::Array(items) => {
            let shown: Vec<String> = items.iter().take(40).map(plain).collect();
            let more = if items.len() > 40 { format!(", … ({} in all)", items.len()) } else { String::new() };
            out.push((key.into(), format!("{}{more}", shown.join(", "))));
        }
        other => out.push((key.into(), plain(other))),
    }
}

fn inputs(p: &Prediction, scenario: &Value) -> Markup {
    let unverified = |key: &str| p.inputs.unverified_default(key);
    let mut sections: Vec<(String, Vec<(String, String)>)> = vec![];
    let mut general = vec![];
    if let Value::Object(map) = scenario {
        for (section, value) in map {
            let mut rows = vec![];
            leaves(value, section, &mut rows);
            if matches!(value, Value::Object(_) | Value::Array(_)) {
                sections.push((section.clone(), rows));
            } else {
                general.append(&mut rows);
            }
        }
    }
    if !general.is_empty() {
        sections.insert(0, ("general".into(), general));
    }
    html! {
        @if !p.inputs.unverified.is_empty() {
            div class="scroll" { table {
                thead { tr { th { "default nobody has measured" } th { "value" } th { "why it matters, how to measure it" } } }
                tbody { @for u in &p.inputs.unverified { tr { td { code { (u.key) } } td { (u.value) } td { (u.advice) } } } }
            } }
        }
        p class="note" { "As resolved, every default written out, in the scenario's own keys (the unit ends the key)." @if !p.inputs.unverified.is_empty() { " Marked ◆: unverified default." } }
        div class="inputs" {
            @for (section, rows) in &sections {
                section {
                    h3 { (section) }
                    table { @for (key, value) in rows.iter().take(300) {
                        @let short = key.strip_prefix(section.as_str()).map_or(key.as_str(), |k| k.trim_start_matches('.'));
                        tr {
                            td { code { (short) } @if let Some(u) = unverified(key) { " " span class="flag" title=(u.advice) { "◆" } } }
                            td { (value) }
                        }
                    } }
                    @if rows.len() > 300 { p class="note" { "… and " (rows.len() - 300) " more, in " code { "summary.json" } "." } }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_met_by_as_many_prints_as_must_pass_bears_no_cross() {
        assert_eq!(met_class(20, 20, 0.9), "met all");
        assert_eq!(met_class(18, 20, 0.9), "met enough");
        assert_eq!(met_class(17, 20, 0.9), "met some");
        assert_eq!(met_class(0, 1, 0.9), "met some");
    }

    #[test]
    fn commands_in_cautions_look_like_commands() {
        let text = with_code("`motefall check` says <how>").into_string();
        assert_eq!(text, "<code>motefall check</code> says &lt;how&gt;");
    }
}
