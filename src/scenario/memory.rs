//! Prints that would not fit into memory are told before they begin, with the amount and its cause.

use super::key::{UM, show_number};
use super::keys::MOST_POWDERS;
use super::reader::{Reader, tidy};
use super::sections::Sections;
use motefall_figures::memory::{MOST_BYTES, MOST_IN_DROPLET, counts, figures, in_largest_droplet, list_of, motion};
use motefall_physics::inputs::{Inputs, Layer};
use motefall_physics::path::size::MotionSize;

/// Checks what a print takes besides its maps.
pub(crate) fn room(sections: &Sections<'_>, root: &Reader<'_>, inputs: &Inputs) {
    powders(sections, inputs);
    for (own, layer) in sections.layers.iter().zip(&inputs.layers) {
        contents(&own.ink, layer);
    }
    let of_items: Vec<_> = inputs.layers.iter().flat_map(motion).collect();
    let in_motion: f64 = of_items.iter().map(|(bytes, _)| bytes).sum();
    let (counts, figures) = (counts(inputs), figures(inputs));
    let all = in_motion + counts + figures;
    // A value with a fault of its own makes the sum none.
    if !all.is_finite() || all <= MOST_BYTES {
        return;
    }
    let amount = |bytes: f64| {
        let (all, most) = (all / 1e9, MOST_BYTES / 1e9);
        format!(
            "{:.1} GB of memory; motion, counts and figures together {all:.1} GB, and at most {most:.1} GB are used for them",
            bytes / 1e9
        )
    };
    if in_motion >= counts.max(figures) {
        too_much_motion(sections, &of_items, &amount(in_motion));
    } else if counts >= figures {
        let title = format!(
            "the counts of {} layers, {} regions and {} powders take {}",
            inputs.layers.len(),
            inputs.regions.len(),
            inputs.powders().len(),
            amount(counts)
        );
        root.fault(
            "layer",
            title,
            "too many at once",
            "each layer counts each powder on each region",
            "give fewer layers, regions or powders",
        );
    } else {
        let title = format!("the figures of all prints take {}", amount(figures));
        root.fault(
            "prints",
            title,
            "too many at once",
            "each print has figures of each region and of each item of the path",
            "lower `prints`, or give fewer regions or path items",
        );
    }
}

/// Reports the item of the path that takes most.
fn too_much_motion(sections: &Sections<'_>, of_items: &[(f64, MotionSize)], amount: &str) {
    let largest = sections.paths().zip(of_items).max_by(|(_, (a, _)), (_, (b, _))| a.total_cmp(b));
    let Some((section, (_, size))) = largest else { return };
    let key = ["passes", "speed_mm_s"].into_iter().find(|key| section.has(key)).unwrap_or("name");
    let title = format!(
        "`{}` takes {:.1} h in {:.0} straight pieces, and the motion of the whole path {amount}",
        section.path(),
        size.whole / 3600.0,
        size.straights,
    );
    section.fault(
        key,
        title,
        "too much motion",
        "motion is kept in pieces of at most 0.02 s, so that the output and the wander of the stage are followed",
        "raise the speed or the spacing, lower `passes`, or divide the print into several files",
    );
}

/// Each powder has maps of its own.
fn powders(sections: &Sections<'_>, inputs: &Inputs) {
    let count = inputs.powders().len();
    if count > MOST_POWDERS
        && let Some(last) = sections.layers.last()
    {
        last.ink.fault(
            "powder",
            format!("the inks hold {count} powders together, but at most {MOST_POWDERS} are followed"),
            "too many powders",
            "each powder has maps of its own",
            "give powders that behave alike one name",
        );
    }
}

/// The list of a droplet's particles must fit.
fn contents(ink: &Reader<'_>, layer: &Layer) {
    let each = in_largest_droplet(layer);
    let all: f64 = each.iter().sum();
    let most = layer.ink.powders.iter().zip(&each).max_by(|(_, a), (_, b)| a.total_cmp(b));
    let Some((powder, particles)) = most.filter(|_| all.is_finite() && all > MOST_IN_DROPLET) else { return };
    let Some((_, section)) = ink.names_in("powder").into_iter().find(|(name, _)| *name == powder.name) else { return };
    section.fault(
        "mass_percent",
        format!(
            "the largest droplets would carry {particles:.1e} particles of \"{}\": a list of them takes {:.1} GB of memory, but at most {MOST_IN_DROPLET:.0e} particles of a droplet are followed",
            powder.name,
            list_of(all) / 1e9
        ),
        "too many particles",
        format!(
            "every particle is followed; half of this powder's number is finer than {}",
            UM.show(tidy((UM.of_si(powder.sizes.quantile(0.5)) * 1e5).round() / 1e5))
        ),
        format!(
            "lower `mass_percent` to below {}; if the grains ride as agglomerates, give the sizes of these",
            show_number(tidy(format!("{:.0e}", powder.mass_fraction * 100.0 * 0.9 * MOST_IN_DROPLET / all).parse().unwrap_or(0.0)))
        ),
    );
}
