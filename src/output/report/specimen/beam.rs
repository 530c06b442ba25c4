//! What the beam sees.

use super::told::{figure, shown};
use super::transmitted::transmitted;
use crate::numbers::{self, trimmed};
use crate::page::table;
use maud::{Markup, html};
use motefall_figures::{Prediction, RegionFigure, beam_view};
use motefall_physics::inputs::{Region, Role};

/// Most regions in a table of shares.
const MOST_ROWS: usize = 12;

/// Section 'What the beam sees'.
pub(crate) fn beam(p: &Prediction) -> Result<Markup, png::EncodingError> {
    let regions: Vec<&Region> =
        p.inputs.regions.iter().filter(|r| r.role.is_printed() || r.role == Role::Window).take(MOST_ROWS).collect();
    let picture = transmitted(p)?;
    Ok(html! {
        h2 id="beam" { "What the beam sees" }
        div class=(if picture.is_some() { "pair" } else { "" }) {
            @if let Some(picture) = picture { (picture) }
            figure {
                @if regions.is_empty() {
                    p class="note" { "No region has the role target, counter or window, so there are no shares to give." }
                } @else { (shares(p, &regions)) }
                div style="margin-top:14px" { (depths(p, &regions)) }
                figcaption {
                    (caption(p))
                }
            }
        }
    })
}

/// Bare, usable and too thick shares of each region.
fn shares(p: &Prediction, regions: &[&Region]) -> Markup {
    html! {
        div class="beam-shares" {
            span class="head" { "area" } span class="head" { "bare, usable, too thick" } span class="head n" { "bare (%)" } span class="head n" { "usable (%)" } span class="head n" { "too thick (%)" }
            @for region in regions {
                @let of = |id: RegionFigure| figure(p, id, Some(&region.name));
                span { (region.name) }
                @if let (Some(usable), Some(thick)) = (of(RegionFigure::Usable), of(RegionFigure::TooThick)) {
                    @let bare = (1.0 - usable.mean - thick.mean).max(0.0);
                    (share_bar([bare, usable.mean, thick.mean]))
                    @for id in [RegionFigure::Bare, RegionFigure::Usable, RegionFigure::TooThick] { span class="n" { (shown(of(id), id)) } }
                } @else {
                    span class="note" { "outside the window or the fine map" } span {} span {} span {}
                }
            }
        }
    }
}

/// Depth and coarse particles of each region.
fn depths(p: &Prediction, regions: &[&Region]) -> Markup {
    table(
        "fit",
        html! { th { "area" } th class="n" { "mean depth (λ)" } th class="n" { "largest particle (µm)" } th class="n" { "particles above 0.5\u{a0}µm" } },
        html! { @for region in regions { tr {
            td { (region.name) }
            @for id in [RegionFigure::MeanFreePaths, RegionFigure::LargestParticle, RegionFigure::CoarseParticles] {
                td class="n" { (shown(figure(p, id, Some(&region.name)), id)) }
            }
        } } },
    )
}

/// What the shares mean, and what the beam has to cross.
fn caption(p: &Prediction) -> Markup {
    let beam = &p.inputs.beam;
    let layers = beam_view::layers_depth(beam);
    html! {
        b { "How much of each area is usable. " }
        "Empty: bare, the beam meets only " (if beam.layers.is_empty() { "vacuum" } else { "the layers listed here" })
        "; solid: usable, covered by at least one particle and within the limit; hatched: too thick, more than "
        (trimmed(beam.limit)) " inelastic mean free paths (λ), all layers together, so images fade. Means over "
        (numbers::counted(p.verdict.n.into(), "print", "prints")) "; the three shares add up to 100\u{a0}%. Within a square of " (numbers::length(p.inputs.map.resolution)) ", the deposit is taken as even over the covered part. "
        @if p.inputs.regions.iter().any(|r| r.role == Role::Window) { "A window counts only particles outside its electrodes. " }
        br;
        (trimmed(beam.voltage / 1e3)) "\u{a0}kV. Other layers: "
        @if beam.layers.is_empty() { "none given (membranes and liquid go under " code { "[[beam.layer]]" } ")" }
        @for (i, layer) in beam.layers.iter().enumerate() {
            @if i > 0 { ", " }
            (layer.material) " " (numbers::length(layer.thickness)) " (λ " (numbers::length(layer.mean_free_path)) ")"
        }
        @if !beam.layers.is_empty() { ", together " (numbers::significant(layers, 3)) "\u{a0}λ" }
        ". Deposit: "
        @for (i, powder) in p.inputs.powders().iter().enumerate() {
            @if i > 0 { ", " }
            (powder.name) " λ " (p.powder_mean_free_paths().get(i).map_or_else(String::new, |path| numbers::length(*path)))
        }
        "."
    }
}

/// Bare, usable and too thick as one bar.
fn share_bar([bare, usable, thick]: [f64; 3]) -> Markup {
    let piece = |class: &str, at: f64, share: f64| {
        html! { @if share > 0.0 { div class=(format!("piece {class}")) style=(format!("left:{:.3}%;width:{:.3}%", at * 100.0, share * 100.0)) {} } }
    };
    html! { div class="track" { (piece("bare", 0.0, bare)) (piece("usable", bare, usable)) (piece("thick", bare + usable, thick)) } }
}
