//! What the potentiostat sees.

use super::told::{figure, shown, words};
use crate::numbers::{self, trimmed};
use crate::page::{facts, table};
use maud::{Markup, html};
use motefall_figures::electrode_view::{BULK_PARTICLES, Electrode, electrodes};
use motefall_figures::{Estimate, GapOutcome, Prediction, PrintFigure, RegionFigure};
use motefall_physics::inputs::Role;

/// Section 'What the potentiostat sees'.
pub(crate) fn potentiostat(p: &Prediction) -> Markup {
    let all = electrodes(&p.inputs, &p.figures);
    let with_charge = p.inputs.powders().iter().any(|powder| powder.capacity > 0.0);
    let told = [
        ("Ratio of counter to working capacity", PrintFigure::CapacityRatio),
        ("Print time with moves", PrintFigure::PrintTime),
        ("Ink used", PrintFigure::InkUsed),
        ("Time per chip", PrintFigure::TimePerChip),
        ("Ink per chip", PrintFigure::InkPerChip),
        ("Chips per fill", PrintFigure::ChipsPerFill),
        ("Solids settled", PrintFigure::Settled),
    ]
    .into_iter()
    .filter(|(_, of)| match of {
        PrintFigure::CapacityRatio | PrintFigure::ChipsPerFill | PrintFigure::Settled => figure(p, *of, None).is_some(),
        _ => true,
    })
    .map(|(name, of)| (name, words(p, of)));
    html! {
        h2 id="potentiostat" { "What the potentiostat sees" }
        @if all.is_empty() {
            p class="note" { "No region has the role target or counter, so there is no electrode to measure." }
        } @else if !with_charge {
            p class="note" { "No powder of the ink has a capacity (" code { "capacity_mah_g" } "), so there is no charge to give." }
        } @else {
            (table("",
                html! {
                    th { "electrode" } th class="n" { "mass (pg)" } th class="n" { "capacity (nAh)" }
                    @for rate in &p.inputs.cell.rates { th class="n" { "current at " (trimmed(*rate)) "C" } }
                    th class="n" { "active particles" } th class="n" { "charge per particle (pC)" } th class="n" { "joined (%)" }
                },
                html! { @for e in &all { (electrode_row(e)) } },
            ))
            p class="note" {
                "Theoretical capacity of everything on the electrode; a current of 2C would pass it in half an hour, one of C/2 in two hours. After ± and in brackets: 95 % interval of the mean over prints. "
                "Joined: active particles in contact with the electrode, directly or through conducting particles, if each grain sticks where it first touches; a low estimate, since drying and pressing make more contacts."
                @if let Some(joined) = all.iter().filter_map(|e| e.joined).find(|joined| joined.n < p.verdict.n) { " From the first " (numbers::count(joined.n.into())) " prints." }
            }
            @for e in all.iter().filter(|e| e.is_individual()) {
                p { b { (e.region) ": few particles. " } "With fewer than about " (numbers::significant(BULK_PARTICLES, 3)) " active particles a cell responds particle by particle rather than as a bulk electrode (Kang et al. 2023, ACS Nano 17:21493)." }
            }
        }
        (facts("", told))
        (bridges(p))
    }
}

fn electrode_row(e: &Electrode) -> Markup {
    html! { tr {
        td { (e.region) span class="why" { (if e.role == Role::Counter { "counter electrode" } else { "working electrode" }) } }
        td class="n" { (shown(e.mass.as_ref(), RegionFigure::Mass)) }
        td class="n" { (shown(e.capacity.as_ref(), RegionFigure::Capacity)) }
        @for (_, current) in &e.currents { td class="n" { (current_words(current.as_ref())) } }
        td class="n" { (shown(e.active.as_ref(), RegionFigure::ActiveParticles)) }
        td class="n" { (shown(e.charge.as_ref(), RegionFigure::ChargePerParticle)) }
        td class="n" { (shown(e.joined.as_ref(), RegionFigure::Joined)) }
    } }
}

/// A current with its interval, in the unit that suits it.
fn current_words(current: Option<&Estimate>) -> String {
    let Some(current) = current else { return "–".into() };
    let (factor, unit) = [(1e15, "fA"), (1e12, "pA"), (1e9, "nA"), (1e6, "µA")]
        .into_iter()
        .find(|(factor, _)| current.mean * factor < 999.5)
        .unwrap_or((1e3, "mA"));
    let scaled = Estimate {
        mean: current.mean * factor,
        interval: current.interval.map(|ends| ends.map(|end| end * factor)),
        ..*current
    };
    // A figure with the factor 1 lends its way of showing digits.
    let plain = RegionFigure::MeanFreePaths.kind();
    format!("{}\u{a0}{unit}", numbers::figure(Some(&scaled), plain).value)
}

/// Gaps between electrodes: how near to a short circuit.
fn bridges(p: &Prediction) -> Markup {
    let Some(bridging) = &p.bridging else {
        let electrodes = p.inputs.regions.iter().filter(|region| region.role.is_electrode()).count();
        let head = match electrodes {
            0 => return html! {},
            1 => "Joined particles: not known",
            _ => "Joined particles and bridges between electrodes: not known",
        };
        return p.too_many_particles().map_or_else(|| html! {}, |why| html! { h3 { (head) } p class="note" { (why) } });
    };
    let row = |gap: &GapOutcome| {
        html! { tr {
            td { (gap.between[0]) " to " (gap.between[1]) }
            td class="n" { (numbers::length(gap.width)) }
            td class="n" { (gap.bridged) " of " (bridging.prints) }
            td class="n" { (length_or_none(gap.largest.extent)) }
            td class="n" { (numbers::count(gap.largest.particles)) }
            td class="n" { (numbers::percent(gap.mean_spanned)) }
        } }
    };
    html! {
        h3 { "Bridges between electrodes: probability " (words(p, PrintFigure::Bridge)) }
        (table("",
            html! { th { "gap" } th class="n" { "width" } th class="n" { "prints with a bridge" } th class="n" { "largest cluster spans" } th class="n" { "its particles" } th class="n" { "spanned, mean of prints" } },
            html! { @for gap in &bridging.gaps { (row(gap)) } },
        ))
        p class="note" {
            "A bridge is a chain of conducting particles from one electrode to the other. Particles count as touching if, seen from above, at most 1\u{a0}nm separates them, whatever their heights: a high estimate. "
            "Clusters are counted on the bare chip between the two electrodes, where the distances to both add up to at most 1.5 times the gap's width. Particles on an electrode belong to it, and a path across a third electrode counts as separate bridges. "
            "A cluster's span is measured from the first electrode of the gap toward the second; a bridge spans all of it. "
            "The largest cluster is the one with the longest span in any print; the last column is the share of the gap that a print's largest cluster spans, mean of the prints. Where no print had a bridge, the probability is an upper bound at 95 % confidence."
            @if !p.inputs.powders().iter().any(|powder| powder.conduction == motefall_physics::inputs::Conduction::Conducting) { " No powder of this ink conducts, so none can form." }
        }
    }
}

fn length_or_none(length: f64) -> String {
    if length > 0.0 { numbers::length(length) } else { "–".into() }
}
