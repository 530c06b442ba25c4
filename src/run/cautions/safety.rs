//! What can hurt somebody: powders, gas, solvents, a warm chip.

use crate::ranges::capital;
use motefall_figures::{Caution, CautionKind};
use motefall_physics::inputs::Layer;
use motefall_physics::materials::gas::GasSpecies;
use motefall_physics::materials::hazards::{GROUPS, HazardGroup, of_solvent};
use motefall_physics::materials::solvent::Solvent;
use motefall_physics::units::celsius;

/// Temperature of the chip above which a solvent leaves it much faster than on a bench, K. An estimate.
const WARM: f64 = 313.15;
/// Ends each of these cautions.
const CLOSING: &str = "Local rules and licensed practice decide.";

/// Safety cautions of a layer.
pub(super) fn cautions(layer: &Layer) -> Vec<Caution> {
    let chip = layer.landing.chip_temperature;
    let solvents = layer.ink.solvents.iter().flat_map(|part| solvent(&part.solvent, chip));
    let groups = GROUPS.iter().filter_map(|group| powders(layer, group));
    mist(layer).into_iter().chain(groups).chain(gas(layer.gas.species)).chain(solvents).collect()
}

fn mist(layer: &Layer) -> Option<Caution> {
    (!layer.ink.powders.is_empty()).then(|| {
        CautionKind::MistAndPowder.with(format!(
            "The mist and the dry powder can be breathed: print in an enclosure with extraction, weigh powders in a glove \
             bag or hood, and wear what your safety data sheets ask for. {CLOSING}"
        ))
    })
}

fn powders(layer: &Layer, group: &HazardGroup) -> Option<Caution> {
    let with = layer.ink.powders.iter().filter(|powder| powder.hazards.contains(&group.hazard));
    let names: Vec<&str> = with.map(|powder| powder.name.as_str()).collect();
    let why = match names[..] {
        [] => return None,
        [name] if group.why.starts_with(name) => capital(group.why),
        _ => format!("{}: {}", names.join(", "), group.why),
    };
    Some(CautionKind::of_powder(group.hazard)?.with(format!("{why}. Keep it wetted or enclosed. {CLOSING}")))
}

fn gas(species: GasSpecies) -> Option<Caution> {
    let gas = match species {
        GasSpecies::Nitrogen => "Nitrogen",
        GasSpecies::Argon => "Argon",
        GasSpecies::Air => return None,
    };
    Some(CautionKind::InertGas.with(format!(
        "{gas} goes into the room or the enclosure. It displaces air without a smell: in a small closed room or a glove box with \
         a leak it can suffocate. Ventilate, lead the exhaust away, and have an oxygen alarm where your rules ask for one. \
         {CLOSING}"
    )))
}

/// `chip`: its temperature, K.
fn solvent(solvent: &Solvent, chip: f64) -> Vec<Caution> {
    let name = &solvent.name;
    let toxic = of_solvent(name);
    let mut list = vec![];
    if solvent.reproductive_toxicity {
        list.push(CautionKind::ReproductiveToxicity.with(format!(
            "The solvent {name} may harm the unborn child and passes the skin: gloves and extraction. {CLOSING}"
        )));
    } else if let Some(toxic) = toxic {
        list.push(
            CautionKind::ToxicSolvent
                .with(format!("The solvent {name} {}: gloves and extraction. {CLOSING}", toxic.why)),
        );
    }
    if chip > WARM && (toxic.is_some() || solvent.reproductive_toxicity || solvent.flash_point.is_some()) {
        list.push(CautionKind::WarmSolvent.with(format!(
            "The chip at {:.0} C drives off {name} as vapour, much faster than at room temperature, right where you look: extraction \
             at the stage, and no hot spot that could light it. {CLOSING}",
            celsius(chip)
        )));
    }
    // 60 C: upper flash point of liquids classed as flammable (UN GHS, category 3).
    if let Some(flash) = solvent.flash_point.filter(|flash| celsius(*flash) <= 60.0) {
        list.push(CautionKind::Flammable.with(format!(
            "The solvent {name} is flammable (flash point about {:.0} C) and leaves the printer as vapour: no ignition source near the \
             exhaust. {CLOSING}",
            celsius(flash)
        )));
    }
    list
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing;
    use motefall_figures::Severity;
    use motefall_physics::materials::hazards::Hazard;

    fn raised(layer: &Layer) -> Vec<Caution> {
        let list = cautions(layer);
        assert!(list.iter().all(|caution| caution.severity() == Severity::Safety));
        list
    }

    fn ids(layer: &Layer) -> Vec<&'static str> {
        raised(layer).iter().map(|caution| caution.kind.id()).collect()
    }

    #[test]
    fn every_hazard_group_raises_its_caution_and_only_then() {
        let mut layer = testing::inputs().layers.remove(0);
        for group in GROUPS {
            layer.ink.powders[0].hazards = vec![group.hazard];
            let own: Vec<Caution> =
                raised(&layer).into_iter().filter(|c| GROUPS.iter().any(|g| g.hazard.word() == c.kind.id())).collect();
            assert_eq!(own.len(), 1, "{:?}", group.hazard);
            assert_eq!(own[0].kind.id(), group.hazard.word());
            assert!(
                own[0].text.contains(group.why) && own[0].text.contains("Local rules and licensed practice decide")
            );
        }
    }

    #[test]
    fn a_powder_that_is_the_hazard_is_named_once() {
        let mut layer = testing::inputs().layers.remove(0);
        let mut told = |name: &str| {
            layer.ink.powders.truncate(1);
            layer.ink.powders[0].name = name.into();
            layer.ink.powders[0].hazards = vec![Hazard::CarbonBlack];
            raised(&layer).into_iter().find(|c| c.kind == CautionKind::CarbonBlack).expect("raised").text
        };
        assert!(told("carbon black").starts_with("Carbon black is possibly carcinogenic"));
        assert!(told("soot").starts_with("soot: carbon black is possibly carcinogenic"));
    }

    #[test]
    fn gases_solvents_and_a_warm_chip_raise_theirs() {
        let mut layer = testing::inputs().layers.remove(0);
        layer.ink.powders[0].hazards = vec![Hazard::FinePowder];
        layer.landing.chip_temperature = 298.15;
        let solvent = |name: &str| Solvent::built_in(name, 295.15).expect("built in");
        layer.ink.solvents.truncate(1);
        layer.ink.solvents[0].solvent = solvent("water");
        layer.gas.species = GasSpecies::Air;
        assert_eq!(ids(&layer), ["mist-and-powder"]);
        for species in [GasSpecies::Nitrogen, GasSpecies::Argon] {
            layer.gas.species = species;
            assert_eq!(ids(&layer), ["mist-and-powder", "inert-gas"]);
        }
        layer.gas.species = GasSpecies::Air;
        for (name, expected) in [
            ("nmp", &["reproductive-toxicity"][..]),
            ("ethylene glycol", &["toxic-solvent"]),
            ("ethanol", &["flammable"]),
            ("isopropanol", &["flammable"]),
            ("water", &[]),
        ] {
            layer.ink.solvents[0].solvent = solvent(name);
            layer.landing.chip_temperature = 298.15;
            assert_eq!(ids(&layer)[1..], *expected, "{name}");
            layer.landing.chip_temperature = 353.15;
            assert_eq!(ids(&layer).contains(&"warm-solvent"), name != "water", "{name}");
        }
        // Somebody's own solvent of a listed name, with all properties given.
        layer.ink.solvents[0].solvent = Solvent { name: "Methanol".into(), ..solvent("ethanol") };
        assert!(
            raised(&layer).iter().any(|c| c.kind == CautionKind::ToxicSolvent && c.text.contains("it is not ethanol"))
        );
    }
}
