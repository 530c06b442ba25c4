//! What is told of a layer that leaves a range.

use super::Relation;
use crate::setting::LayerSetting;
use motefall_figures::Caution;
use motefall_physics::inputs::Inputs;

impl Relation {
    /// The caution of a layer that leaves the range.
    fn outside(self, setting: &LayerSetting<'_>, inputs: &Inputs) -> Option<Caution> {
        let range = self.range();
        let [least, most] = range.ends;
        // Room for rounding in conversions of units.
        let slack = 1e-9 * most.abs().max(1.0);
        let mut places: Vec<String> = vec![];
        for (at, value) in self.values(setting, inputs) {
            if value < least - slack || value > most + slack {
                let shown = format!("{} {}", digits(value), range.unit).trim_end().to_owned();
                places.push(if at.is_empty() { shown } else { format!("{shown} ({at})") });
            }
        }
        let ends = match least == most {
            true => String::new(),
            false => format!(" of {} to {} {}", digits(least), digits(most), range.unit).trim_end().to_owned(),
        };
        (!places.is_empty()).then(|| {
            range.caution.with(format!(
                "{}: outside of its range here. {}{ends} is covered, and here it is {}. {}",
                range.what,
                capital(range.quantity),
                places.join(", "),
                range.advice
            ))
        })
    }
}

/// Cautions of all relations that a layer uses outside of their ranges.
pub(crate) fn cautions(setting: &LayerSetting<'_>, inputs: &Inputs) -> Vec<Caution> {
    Relation::ALL.iter().filter_map(|relation| relation.outside(setting, inputs)).collect()
}

fn digits(value: f64) -> String {
    match value.abs() {
        size if size >= 100.0 || value == value.round() => format!("{value:.0}"),
        size if size >= 10.0 => format!("{value:.1}"),
        size if size >= 1.0 => format!("{value:.2}"),
        _ => format!("{value:.3}"),
    }
}

/// The text with a large first letter.
pub(crate) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |first| first.to_uppercase().chain(chars).collect())
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::Silent;
    use crate::setting::Setting;
    use crate::testing;
    use motefall_figures::CautionKind;
    use motefall_physics::inputs::FlightModel;
    use motefall_physics::inputs::{DropletMedian, SpreadRule};
    use motefall_physics::jet::store::FieldStore;
    use motefall_physics::materials::gas::GasSpecies;
    use motefall_physics::materials::solvent::Solvent;

    /// A setting within every range. Straight flight: no jet is needed.
    fn inside() -> Inputs {
        let mut inputs = testing::inputs();
        let layer = &mut inputs.layers[0];
        layer.flight.model = FlightModel::Straight;
        layer.flight.lift_factor = 0.0;
        layer.landing.spread = SpreadRule::Cap;
        layer.landing.chip_temperature = 298.15;
        for part in &mut layer.ink.solvents {
            part.solvent = Solvent::built_in("water", 295.15).expect("built in");
        }
        inputs
    }

    /// The same, outside of one.
    pub(crate) fn beyond(relation: Relation) -> Inputs {
        let mut inputs = inside();
        let layer = &mut inputs.layers[0];
        match relation {
            Relation::Lang => layer.atomiser.median = DropletMedian::Ultrasonic(1.7e6),
            // 10 sccm are 1.8e-7 m^3/s: 4 Q/(pi D nu) = 2100 at a bore of 7 um.
            Relation::LaminarTube => layer.tube[0].bore = 5e-6,
            Relation::Bend => layer.tube[0].bends = vec![1.57],
            Relation::GasProperties => layer.head.temperature = 383.15,
            // 2 lambda/d = 100 for 20 nm at a mean free path of 1 um: a fifteenth of an atmosphere. A wider nozzle does not choke there.
            Relation::Slip => {
                layer.gas.pressure = 5e3;
                layer.head.nozzle *= 1.5;
            }
            Relation::Drag => layer.atomiser.median = DropletMedian::Measured(3e-3),
            Relation::Lift => {
                layer.flight.lift_factor = 0.1;
                layer.atomiser.median = DropletMedian::Measured(1e-3);
            }
            Relation::SolventTable => layer.landing.chip_temperature = 393.15,
            Relation::VapourPressure => {
                layer.ink.solvents[0].solvent.table = None;
                layer.landing.chip_temperature = 353.15;
            }
            // 57.9 kPa of 101.3.
            Relation::VapourInGas => {
                (layer.gas.temperature, layer.head.temperature) = (358.15, 358.15);
                layer.gas.carrier_saturation = 1.0;
            }
            // 47.4 kPa of 101.3.
            Relation::VapourAtSurface => layer.landing.chip_temperature = 353.15,
            Relation::RoomGas => {
                layer.flight.model = FlightModel::SolvedJet;
                layer.gas.species = GasSpecies::Argon;
            }
            Relation::BeamPath => {
                layer.ink.powders[0].mean_free_path = None;
                inputs.beam.voltage = 80e3;
            }
            Relation::ImpactReynolds => {
                layer.landing.spread = SpreadRule::Larger;
                layer.ink.solvents[0].solvent.viscosity = 1.0;
            }
            Relation::ImpactOhnesorge => {
                layer.landing.spread = SpreadRule::Larger;
                layer.ink.solvents[0].solvent.viscosity = 0.1;
            }
        }
        inputs
    }

    pub(crate) fn raised(inputs: &Inputs) -> Vec<Caution> {
        // Worked out with straight flight, so that no jet is solved, and looked at as set.
        let mut straight = inputs.clone();
        straight.layers[0].flight.model = FlightModel::Straight;
        let store = FieldStore::none();
        let mut setting = Setting::new(&straight, &store, &Silent).expect("needs no jet");
        setting.layers[0].layer = &inputs.layers[0];
        cautions(&setting.layers[0], inputs)
    }

    #[test]
    fn every_range_is_looked_at() {
        let within = raised(&inside());
        assert!(within.is_empty(), "{within:?}");
        for relation in Relation::ALL.iter().copied() {
            let list = raised(&beyond(relation));
            let quantity = relation.range().quantity.get(1..).expect("a word");
            let own = list.iter().find(|caution| caution.kind == relation.caution() && caution.text.contains(quantity));
            assert!(own.is_some(), "{relation:?}: {list:?}");
        }
    }

    #[test]
    fn cold_gas_extrapolates_the_table_of_a_solvent_and_says_how_far() {
        // The table of NMP begins at 20 C: 6 C lie 14 K below. That of water begins at 0 C.
        let mut inputs = inside();
        inputs.layers[0].gas.temperature = 279.15;
        assert!(raised(&inputs).iter().all(|caution| caution.kind != CautionKind::SolventRange));
        inputs.layers[0].ink.solvents[0].solvent = Solvent::built_in("nmp", 279.15).expect("built in");
        let list = raised(&inputs);
        let own = list.iter().find(|caution| caution.kind == CautionKind::SolventRange).expect("raised");
        assert!(own.text.contains("14 K (nmp in the tube)"), "{}", own.text);
        // All of an ethanol chip at 80 C is tabulated.
        inputs.layers[0].gas.temperature = 295.15;
        inputs.layers[0].landing.chip_temperature = 353.15;
        inputs.layers[0].ink.solvents[0].solvent = Solvent::built_in("ethanol", 295.15).expect("built in");
        assert!(raised(&inputs).iter().all(|caution| caution.kind != CautionKind::SolventRange));
    }

    /// A vapour pressure known at 60 C, and droplets that cool to about 17 C there.
    #[test]
    fn cold_droplets_count_for_a_vapour_pressure() {
        let mut inputs = inside();
        let layer = &mut inputs.layers[0];
        (layer.gas.temperature, layer.head.temperature) = (333.15, 333.15);
        layer.landing.chip_temperature = 333.15;
        let ethanol = Solvent::built_in("ethanol", 333.15).expect("built in");
        layer.ink.solvents[0].solvent = Solvent { table: None, name: "mine".into(), ..ethanol };
        let list = raised(&inputs);
        let own = list.iter().find(|caution| caution.kind == CautionKind::VapourRange).expect("raised");
        assert!(own.text.contains("(mine in droplets in the head)"), "{}", own.text);
    }
}
