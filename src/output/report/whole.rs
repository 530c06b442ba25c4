//! The page as a whole: its sections in order.

use super::{cautions, chip, conditions, differ, figures, inputs, knobs, limits, plots, specimen, verdict};
use crate::differences;
use crate::page::{Page, foot, joined};
use maud::{Markup, html};
use motefall_figures::Prediction;
use serde_json::Value;

/// The report as text.
pub(crate) fn html(p: &Prediction, scenario: &Value) -> Result<String, png::EncodingError> {
    let hero = chip::hero(p)?;
    let multiples = chip::multiples(p)?;
    let beam = specimen::beam(p)?;
    let strays = specimen::strays(p)?;
    let body = html! {
        (contents(p))
        (verdict::section(p))
        (verdict::safety_line(p))
        div id="pictures" class="hero" {
            (hero.map) (hero.close)
            @if hero.wide { div { h2 id="limits" style="margin-top:0" { "Limits" } (limits::section(p)) } }
        }
        @if !hero.wide { h2 id="limits" { "Limits" } (limits::section(p)) }
        (differ::section(p))
        (knobs::section(p.knobs.as_ref()))
        (beam)
        (specimen::potentiostat(p))
        (strays)
        h2 id="maps" { "All maps, around the deposit" }
        (multiples)
        p class="note" style="margin-top:8px" { "The values are in " code { "maps/" } "; " code { "maps/grid.json" } " says where the pixels lie." }
        h2 id="lines" { "Across the lines" }
        (plots::profiles(p))
        h2 id="sizes" { "Sizes by stage" }
        (plots::sizes(p))
        h2 id="landing" { "Landing" }
        (plots::landing(p))
        h2 id="budget" { "Mass budget" @if p.verdict.n > 1 { " of the first print" } }
        (plots::budget(p))
        h2 id="figures" { "All figures" }
        (figures::section(p))
        h2 id="cautions" { "Cautions" }
        (cautions::section(p))
        h2 id="conditions" { "Conditions" }
        (conditions::section(p))
        h2 id="inputs" { "Inputs" }
        (inputs::section(p, scenario))
    };
    let foot = foot(p.inputs.seed, Some(&p.generator), files(p));
    Ok(Page { title: &p.inputs.name, note: &p.inputs.note, style: "", body, foot }.html())
}

/// Files beside the report.
fn files(p: &Prediction) -> Markup {
    let explained = p.figures.iter().any(|row| row.distribution.as_ref().is_some_and(|d| !d.explained.is_empty()));
    let names = [
        ("summary.json", true),
        ("figures.csv", true),
        ("prints.csv", differences::are_known(p)),
        ("importance.csv", explained),
        ("knobs.csv", p.knobs.is_some()),
        ("budget.csv", true),
        ("sizes.csv", true),
        ("profile.csv", true),
        ("landing.csv", true),
        ("maps/", true),
    ];
    joined(", ", names.into_iter().filter(|(_, there)| *there).map(|(name, _)| html! { code { (name) } }))
}

/// Sections: where they begin and what they are called in the list at the top.
const SECTIONS: [(&str, &str); 16] = [
    ("pictures", "Pictures"),
    ("limits", "Limits"),
    ("differ", "How prints differ"),
    ("knobs", "Which setting to turn"),
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
    let is_there = |id: &str| match id {
        "differ" => differences::are_known(p),
        "knobs" => p.knobs.is_some(),
        _ => true,
    };
    html! {
        nav class="contents" aria-label="Contents" {
            @for (id, words) in SECTIONS.iter().filter(|(id, _)| is_there(id)) {
                a href=(format!("#{id}")) { (words) } " "
            }
        }
    }
}
