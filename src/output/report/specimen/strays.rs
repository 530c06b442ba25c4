//! How far strays go.

use super::far::far_map;
use super::told::{figure, shown, words};
use crate::page::table;
use maud::{Markup, html};
use motefall_figures::keep_out::keep_outs;
use motefall_figures::{Prediction, PrintFigure, RegionFigure};
use motefall_physics::inputs::Role;

/// Most places that are listed.
const MOST_ROWS: usize = 40;

/// Section 'How far strays go'.
pub(crate) fn strays(p: &Prediction) -> Result<Markup, png::EncodingError> {
    let places = keep_outs(&p.inputs, &p.figures);
    let map = far_map(p)?;
    let told = html! {
        @if places.is_empty() {
            p class="note" { "No region has the role electrode or keep-out, so nothing has to stay clean." }
        } @else {
            (table("fit",
                html! { th { "must stay clean" } th class="n" { "particles per print" } th class="n" { "at least one" } th class="n" { "farthest (µm)" } },
                html! { @for place in places.iter().take(MOST_ROWS) { tr {
                    td { (place.region) span class="why" { (if place.role == Role::KeepOut { "keep-out" } else { "other electrode" }) } }
                    td class="n" { (shown(place.particles.as_ref(), RegionFigure::Particles)) }
                    td class="n" { (shown(place.hit.as_ref(), RegionFigure::HitProbability)) }
                    td class="n" { (shown(place.farthest.as_ref(), RegionFigure::FarthestParticle)) }
                } } },
            ))
            p class="note" {
                "At least one: probability that a print puts any particle there; an upper bound where no print did. Farthest: how far the region's farthest particle lies from the nearest printed electrode; median with its 95 % interval, and largest, of the prints that had any."
            }
        }
        @if figure(p, PrintFigure::FarthestStray, None).is_some() {
            p { "On the whole chip, distance of a print's farthest particle from the nearest printed electrode: " (words(p, PrintFigure::FarthestStray)) @if p.verdict.n > 1 { " of the prints" } "." }
        }
    };
    Ok(html! {
        h2 id="strays" { "How far strays go" }
        @if let Some(map) = map { div class="pair" { (map) div { (told) } } } @else { (told) }
    })
}
