//! What one print, or the run of prints, says: what was left out, where the solids went, what is not known.

use motefall_figures::budget::masses;
use motefall_figures::{Caution, CautionKind};
use motefall_physics::droplet::track::ESCAPE_RADIUS;
use motefall_physics::inputs::{Inputs, Layer};
use motefall_physics::map::PrintOutcome;
use motefall_physics::map::tally::{FateCount, Tally, fate};

/// Share of the solids that land below which the result says where they go. An estimate.
const LITTLE: f64 = 0.05;

/// Cautions of a print of which `expected` droplets were expected.
pub(super) fn cautions(inputs: &Inputs, outcome: &PrintOutcome, expected: f64) -> Vec<Caution> {
    let tally = outcome.tally();
    let all = [
        droplet_budget(inputs, outcome.not_simulated, expected),
        little_lands(inputs, tally),
        not_followed(inputs, tally),
        off_chip(tally),
    ];
    all.into_iter().flatten().collect()
}

fn droplet_budget(inputs: &Inputs, not_simulated: f64, expected: f64) -> Option<Caution> {
    (not_simulated > 0.0).then(|| {
        CautionKind::DropletBudget.with(format!(
            "The print has {expected:.2e} droplets, more than the droplet_budget of {:.2e}. Only {:.1} % were simulated, drawn evenly \
             over the print: masses, counts and thicknesses are that share of the print's.",
            inputs.droplet_budget,
            100.0 * (1.0 - not_simulated / expected)
        ))
    })
}

fn off_chip(tally: &Tally) -> Option<Caution> {
    let droplets = tally.fates[fate::OFF_CHIP].droplets;
    (droplets > 0).then(|| {
        CautionKind::OffChip
            .with(format!("{droplets} droplets landed beyond the chip's edge; they count in the budget and on no map."))
    })
}

/// What of the solids is carried farther than droplets are followed.
fn not_followed(inputs: &Inputs, tally: &Tally) -> Option<Caution> {
    let mass = |count: &FateCount| masses(inputs, count).iter().sum::<f64>();
    let carried = mass(&tally.fates[fate::ESCAPED]);
    let landed: f64 = tally.landed().map(mass).sum();
    if carried <= 0.0 {
        return None;
    }
    let percent = 100.0 * carried / (carried + landed);
    let share = if percent < 0.1 { "Less than 0.1".to_owned() } else { format!("{percent:.1}") };
    let radius = |layer: &Layer| ESCAPE_RADIUS * 0.5 * layer.head.nozzle;
    let farthest = inputs.layers.iter().map(radius).fold(f64::INFINITY, f64::min);
    let reach = match tally.at_edge {
        0 => "",
        _ => " Some land just within that distance, so the farthest stray particle is given as 'at least'.",
    };
    Some(CautionKind::NotFollowed.with(format!(
        "{share} % of the solids that come out of the nozzle are carried farther than {:.1} mm from its axis ({ESCAPE_RADIUS:.0} nozzle radii) and \
         are not followed from there. Most of them leave with the gas; what settles farther out, on the chip or its seal, is in no \
         figure.{reach}",
        1e3 * farthest,
    )))
}

/// Where most of the solids go if hardly any land, and what helps.
fn little_lands(inputs: &Inputs, tally: &Tally) -> Option<Caution> {
    let mass = |count: &FateCount| masses(inputs, count).iter().sum::<f64>();
    let left = mass(&tally.generated);
    let landed: f64 = tally.landed().map(mass).sum();
    if left <= 0.0 || landed >= LITTLE * left {
        return None;
    }
    let ways = [
        (fate::SETTLED, "settle in the mist tube: make it shorter, steeper or narrower, or use more carrier gas"),
        (
            fate::DIFFUSED,
            "diffuse to the wall of the mist tube: make it shorter, or use more carrier gas or larger droplets",
        ),
        (fate::BEND, "hit the bends of the mist tube: use wider bends or less carrier gas"),
        (fate::WALL, "hit the wall of the head: use more sheath gas or a gentler taper"),
        (
            fate::ESCAPED,
            "are carried away past the chip: use a narrower nozzle, more gas, or droplets that dry less (a solvent of low vapour pressure)",
        ),
    ];
    let (most, way) =
        ways.map(|(at, way)| (mass(&tally.fates[at]), way)).into_iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
    Some(CautionKind::LittleLands.with(format!(
        "Only {:.1} % of the solids that leave the vial land. {:.0} % {way}.",
        100.0 * landed / left,
        100.0 * most / left
    )))
}

/// What is said of single particles: of `kept` ones of the first print, and of the fullest print's number where more land than
/// `most_kept`, so that what touches what is not worked out.
pub(crate) fn of_particles(inputs: &Inputs, kept: usize, fullest: Option<u64>, most_kept: usize) -> Option<Caution> {
    if let Some(landed) = fullest {
        let text = too_many_particles(inputs, kept, landed, most_kept);
        return Some(CautionKind::TooManyParticles.with(text));
    }
    (inputs.map.write_particles && kept == 0).then(|| {
        CautionKind::ParticlesNotListed
            .with("The list of single particles was asked for, but none landed; no list was written.")
    })
}

/// What is not known because so many particles land in a print.
fn too_many_particles(inputs: &Inputs, kept: usize, landed: u64, most_kept: usize) -> String {
    let limits = inputs.acceptance.limits.iter();
    let asked: Vec<&str> =
        limits.map(|limit| limit.figure.kind()).filter(|k| k.needs_particles()).map(|k| k.label).collect();
    let undecided = match asked.is_empty() {
        true => String::new(),
        false => format!(" No print can meet the limits on {}, since nothing is known of them.", asked.join(", ")),
    };
    let missing = match (kept > 0, inputs.map.write_particles) {
        (true, _) => "which of them touch and bridges between electrodes are not given.",
        (false, false) => {
            "which of them touch, bridges between electrodes, heights of single particles and the picture of particles are not given."
        }
        (false, true) => {
            "which of them touch, bridges between electrodes, heights of single particles, their list and the picture of particles are \
             not given."
        }
    };
    let million = |particles: f64| format!("{:.1} million", particles * 1e-6);
    format!(
        "{} particles land in the fullest print. With more than {}, {missing}{undecided} To see them, predict a part of the print: fewer \
         passes, a shorter path or a smaller area.",
        million(landed as f64),
        million(most_kept as f64)
    )
}

/// What a run that was stopped holds.
pub(crate) fn stopped(made: u32, asked: u32) -> Option<Caution> {
    (made < asked).then(|| {
        CautionKind::StoppedEarly.with(format!(
            "Stopped early: this is what {made} of {asked} prints gave. Nothing else is missing, but intervals are wider than they would be \
             and the share of prints that pass is less sure."
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing;
    use motefall_physics::source::content::Grain;

    #[test]
    fn hardly_anything_landed_is_told_with_what_helps() {
        let inputs = testing::inputs();
        let grain = Grain::new(0, 0.3e-6);
        let with = |landed: u32, at: usize| {
            let mut tally = Tally::new(1, inputs.regions.len());
            for k in 0..100 {
                tally.generated.add(&grain);
                tally.fates[if k < landed { fate::ELSEWHERE } else { at }].add(&grain);
            }
            little_lands(&inputs, &tally).map(|caution| caution.text)
        };
        assert_eq!(with(6, fate::SETTLED), None);
        let text = with(4, fate::SETTLED).expect("told");
        assert!(text.contains("Only 4.0 %") && text.contains("96 % settle in the mist tube"), "{text}");
        assert!(with(0, fate::ESCAPED).expect("told").contains("past the chip"));
        assert_eq!(little_lands(&inputs, &Tally::new(1, 0)), None);
    }

    #[test]
    fn what_is_carried_away_is_told_with_how_far_it_was_followed() {
        let mut inputs = testing::inputs();
        inputs.layers[0].head.nozzle = 150e-6;
        let grain = Grain { diameter: 300e-9, volume: 14_137_167, powder: 0 };
        let mut tally = Tally::new(1, 0);
        (0..39).for_each(|_| tally.fates[fate::ELSEWHERE].add(&grain));
        assert_eq!(not_followed(&inputs, &tally), None);
        tally.fates[fate::ESCAPED].add(&grain);
        let text = not_followed(&inputs, &tally).expect("told").text;
        assert!(
            text.starts_with("2.5 % of the solids") && text.contains("1.5 mm") && !text.contains("at least"),
            "{text}"
        );
        tally.at_edge = 1;
        assert!(not_followed(&inputs, &tally).expect("told").text.contains("at least"));
    }
}
