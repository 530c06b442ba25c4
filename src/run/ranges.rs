//! The ranges over which relations hold, and whether a setting keeps to them.
//!
//! Every relation whose source or fit has a range stands in [`Relation`]; each must say here which values it is used at, and each has a
//! caution. A range that is stated in a doc comment alone is looked at by nobody.

use super::setting::{LEAST_DIAMETER, LayerSetting};
use motefall_figures::{Caution, CautionKind};
use motefall_physics::deposit::impact_reynolds;
use motefall_physics::head::drying::{equilibrium_pressures, evaporation};
use motefall_physics::inputs::{DropletMedian, FlightModel, Inputs, SolventPart, SpreadRule};
use motefall_physics::materials::drag::sphere_reynolds;
use motefall_physics::materials::gas::{GAS_TEMPERATURE_RANGE, GasSpecies, GasState};
use motefall_physics::materials::solvent::{Solvent, mixture_viscosity};
use motefall_physics::source::atomiser::LANG_RANGE;
use motefall_physics::source::atomiser::{liquid_parts, surface_tension};
use motefall_physics::source::tube::{LARGEST_LAMINAR_REYNOLDS, tube_reynolds};
use motefall_physics::units::celsius;

/// How much the gas of the room may matter, an ESTIMATE: a jet of air alone with the same momentum makes lines 18, 38 and 33 % narrower than
/// argon does at Re 417 and 7.5, 15 and 25 nozzle diameters (solved with a mist that does not dry). The axis, where the mist is, holds at
/// most as much air as it has lost of its speed: 14, 29 and 48 %. The product is 3, 11 and 16 %.
const ROOM_GAS_ADVICE: &str = "On its way the jet draws in air of the room. Line widths may be off by some 3 % at a stand-off of 7 nozzle \
                               diameters, 10 % at 15 and 15 % at 25 (an estimate for argon), unless the same gas at the same temperature \
                               fills the space around the nozzle.";
/// Diameter of a droplet that cools as far as any, m: neither curvature nor the free path slow its drying.
const COOLED_DROPLET: f64 = 100e-6;

/// The relations, one after another.
macro_rules! relations {
    ($($(#[$doc:meta])* $relation:ident,)*) => {
        /// A relation with a range.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Relation {
            $($(#[$doc])* $relation,)*
        }

        impl Relation {
            /// All of them.
            pub const ALL: &[Self] = &[$(Self::$relation),*];
        }
    };
}

relations! {
    /// Droplet median of an ultrasonic atomiser.
    Lang,
    /// Tube losses of laminar flow.
    LaminarTube,
    /// Losses in bends.
    Bend,
    /// Viscosity and conductivity of the gas.
    GasProperties,
    /// Slip correction.
    Slip,
    /// Drag of a sphere.
    Drag,
    /// Shear lift.
    Lift,
    /// Tables of built-in solvents.
    SolventTable,
    /// Vapour pressure away from the temperature where it is known.
    VapourPressure,
    /// Drying in gas that holds little vapour: share in the gas.
    VapourInGas,
    /// The same: share at a liquid's surface.
    VapourAtSurface,
    /// The jet of one gas in a room of the same.
    RoomGas,
    /// Inelastic mean free path from the density.
    BeamPath,
    /// Spread on impact: Reynolds number.
    ImpactReynolds,
    /// Spread on impact: Ohnesorge number.
    ImpactOhnesorge,
}

/// A range in the unit in which it is told.
struct Range {
    caution: CautionKind,
    what: &'static str,
    quantity: &'static str,
    unit: &'static str,
    ends: [f64; 2],
    /// What follows, or what to do.
    advice: &'static str,
}

impl Relation {
    /// Its caution.
    pub fn caution(self) -> CautionKind {
        self.range().caution
    }

    fn range(self) -> Range {
        let range = |caution, what, quantity, unit, ends, advice| Range { caution, what, quantity, unit, ends, advice };
        match self {
            Self::Lang => range(
                CautionKind::LangRange,
                "Lang's relation for the droplet median, here by count (Lang 1962)",
                "frequency",
                "kHz",
                LANG_RANGE.map(|f| f * 1e-3),
                "Take the median as +-30 % or more. A bath at 1.6 MHz had as much by mass (2.9 µm, Rodes et al. 1990), which is 40 % less by count at a GSD of 1.5. Better measure it, and give droplet_median_um by count.",
            ),
            Self::LaminarTube => range(
                CautionKind::TubeTurbulent,
                "Tube losses are computed for laminar flow",
                "Reynolds number",
                "",
                [0.0, LARGEST_LAMINAR_REYNOLDS],
                "The flow may be turbulent: take a wider tube.",
            ),
            Self::Bend => range(
                CautionKind::BendRange,
                "The loss in bends was fitted near a Reynolds number of 1000 (Pui et al. 1987)",
                "Reynolds number",
                "",
                // Within a factor of two of where it was measured: our estimate.
                [500.0, LARGEST_LAMINAR_REYNOLDS],
                "Slow flow in bends takes little of such fine mist; how little is not well known.",
            ),
            Self::GasProperties => range(
                CautionKind::GasRange,
                "Viscosity and conductivity of the gas",
                "temperature",
                "C",
                GAS_TEMPERATURE_RANGE.map(celsius),
                "They are extrapolated.",
            ),
            Self::Slip => range(
                CautionKind::SlipRange,
                "The slip correction",
                "Knudsen number of the smallest droplets",
                "",
                [0.0, 100.0],
                "The smallest droplets hardly land and bring little.",
            ),
            Self::Drag => range(
                CautionKind::DragRange,
                "The drag of a sphere (Schiller and Naumann 1933)",
                "Reynolds number of the largest droplets against still gas",
                "",
                [0.0, 800.0],
                "Where the largest droplets land is less sure.",
            ),
            Self::Lift => range(
                CautionKind::LiftRange,
                "Shear lift (Mei 1992)",
                "Reynolds number of the largest droplets against still gas",
                "",
                [0.0, 100.0],
                "Lift on the largest droplets is a guess.",
            ),
            Self::SolventTable => range(
                CautionKind::SolventRange,
                "Properties of built-in solvents are tabulated",
                "temperature beyond the table",
                "K",
                [0.0, 0.0],
                "They are extrapolated: give measured properties of the solvent (viscosity_mpa_s, vapour_pressure_pa and so on).",
            ),
            Self::VapourPressure => range(
                CautionKind::VapourRange,
                "The vapour pressure of a solvent that is not built in follows from that at one temperature and a constant latent heat",
                "distance from that temperature",
                "K",
                [0.0, 30.0],
                "Drying there may be off by 10 % or more: give its vapour pressure near the temperature of its droplets or of the chip, whichever matters more.",
            ),
            // Both ends are our estimate: with a tenth of vapour between surface and gas, density, viscosity and conductivity of the gas are
            // off by some 5 %.
            Self::VapourInGas => range(
                CautionKind::VapourShareRange,
                "Flow and drying are computed with the properties of the gas alone, as if it held little vapour",
                "share of vapour in the gas",
                "%",
                [0.0, 10.0],
                "Drying may be off by about as much as that share: take cooler gas, more pressure, or a solvent that is less volatile.",
            ),
            Self::VapourAtSurface => range(
                CautionKind::VapourShareRange,
                "Drying is computed with the properties of the gas alone, as if it held little vapour",
                "share of vapour at the surface of the liquid",
                "%",
                [0.0, 20.0],
                "Drying there may be off by about half of that share; at 100 % the liquid boils, and bubbles scatter its powder.",
            ),
            // A tenth of density is a twentieth of speed at the same momentum: our estimate of what hardly matters.
            Self::RoomGas => range(
                CautionKind::RoomGasRange,
                "The jet is solved as if the room held the same gas at the same temperature",
                "density relative to the air of the room",
                "",
                [0.9, 1.1],
                ROOM_GAS_ADVICE,
            ),
            Self::BeamPath => range(
                CautionKind::BeamRange,
                "Mean free paths from the density were fitted at 200 kV and anchored at 300 kV (Iakoubovskii et al. 2008, Potapov 2014)",
                "voltage",
                "kV",
                [200.0, 300.0],
                "Depths for the beam may be off by 20 % or more: give mean_free_path_nm if you know it.",
            ),
            Self::ImpactReynolds => range(
                CautionKind::ImpactRange,
                "The spread on impact (Scheller and Bousfield 1995)",
                "Reynolds number of the median droplet",
                "",
                [19.0, 16_400.0],
                "Slower or smaller droplets spread as far as their contact angle lets them.",
            ),
            Self::ImpactOhnesorge => range(
                CautionKind::ImpactRange,
                "The spread on impact (Scheller and Bousfield 1995)",
                "Ohnesorge number of the median droplet",
                "",
                [0.002, 0.58],
                "Footprints of wet droplets are less sure.",
            ),
        }
    }

    /// The values at which a layer uses it, in the unit of its range, each with what it belongs to.
    fn values(self, setting: &LayerSetting<'_>, inputs: &Inputs) -> Vec<(String, f64)> {
        let layer = setting.layer;
        let one = |value: f64| vec![(String::new(), value)];
        let tubes = |wanted: &dyn Fn(usize) -> bool| -> Vec<(String, f64)> {
            let reynolds = |bore: f64| tube_reynolds(setting.flows.tube_carrier, bore, &setting.flows.tube_gas);
            let pieces = layer.tube.iter().enumerate().filter(|(k, _)| wanted(*k));
            pieces.map(|(k, piece)| (format!("tube piece {}", k + 1), reynolds(piece.bore))).collect()
        };
        let temperatures = [("in the tube", layer.gas.temperature), ("in the head", layer.head.temperature)];
        let [tube, head] = temperatures;
        let places = [tube, head, ("on the chip", layer.landing.chip_temperature)];
        let largest = || {
            let gas = &setting.flows.head_gas;
            let speed = setting.conditions.centre_speed;
            // Two standard deviations of the droplets' sizes hold nearly all of the mist's volume that lands on a line.
            one(sphere_reynolds(speed, setting.droplets.at_deviate(2.0), gas.density, gas.viscosity))
        };
        match self {
            Self::Lang => match layer.atomiser.median {
                DropletMedian::Ultrasonic(frequency) => one(frequency * 1e-3),
                DropletMedian::Measured(_) => vec![],
            },
            Self::LaminarTube => tubes(&|_| true),
            Self::Bend => tubes(&|k| !layer.tube[k].bends.is_empty()),
            Self::GasProperties => temperatures.iter().map(|(at, t)| ((*at).into(), celsius(*t))).collect(),
            Self::Slip => one(2.0 * setting.conditions.mean_free_path / LEAST_DIAMETER),
            Self::Drag => largest(),
            Self::Lift if layer.flight.lift_factor > 0.0 => largest(),
            Self::Lift => vec![],
            Self::SolventTable => {
                let beyond = |name: &str| {
                    let [low, high] = Solvent::tabulated(name)?;
                    let by = |(at, t): (&str, f64)| (format!("{name} {at}"), (low - t).max(t - high).max(0.0));
                    Some(places.map(by))
                };
                layer.ink.solvents.iter().filter_map(|part| beyond(&part.solvent.name)).flatten().collect()
            }
            Self::VapourPressure => {
                let of = |solvent: &Solvent| {
                    // As cold as a droplet of it gets.
                    let part = SolventPart { mass_fraction: 1.0, solvent: solvent.clone() };
                    let droplet = evaporation(COOLED_DROPLET, &[part], &setting.flows.head_gas, &[0.0]).temperature;
                    places
                        .into_iter()
                        .chain([("in droplets in the head", droplet)])
                        .map(|(at, t)| (format!("{} {at}", solvent.name), (t - solvent.vapour_temperature).abs()))
                        .collect::<Vec<_>>()
                };
                let own = layer.ink.solvents.iter().filter(|part| part.solvent.table.is_none());
                own.flat_map(|part| of(&part.solvent)).collect()
            }
            Self::VapourInGas => {
                let [tube, head] = setting.mist.vapour_shares.map(|share| 100.0 * share.in_gas);
                vec![("in the tube".into(), tube), ("in the head".into(), head)]
            }
            Self::VapourAtSurface => {
                let [tube, head] = setting.mist.vapour_shares.map(|share| 100.0 * share.at_surface);
                let landing = layer.landing.chip_temperature;
                let chip: f64 = equilibrium_pressures(&layer.ink.solvents, landing).iter().sum();
                let chip = 100.0 * chip / layer.gas.pressure;
                vec![("in the tube".into(), tube), ("in the head".into(), head), ("on the chip".into(), chip)]
            }
            Self::RoomGas if layer.flight.model == FlightModel::Straight => vec![],
            Self::RoomGas => {
                // The room is as warm as the ink.
                let room = GasState::new(GasSpecies::Air, layer.gas.temperature, layer.gas.pressure);
                one(setting.flows.head_gas.density / room.density)
            }
            Self::BeamPath => match layer.ink.powders.iter().any(|powder| powder.mean_free_path.is_none()) {
                true => one(inputs.beam.voltage * 1e-3),
                false => vec![],
            },
            Self::ImpactReynolds => impact(setting).map_or(vec![], |[reynolds, _]| one(reynolds)),
            Self::ImpactOhnesorge => impact(setting).map_or(vec![], |[_, ohnesorge]| one(ohnesorge)),
        }
    }

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
pub fn cautions(setting: &LayerSetting<'_>, inputs: &Inputs) -> Vec<Caution> {
    Relation::ALL.iter().filter_map(|relation| relation.outside(setting, inputs)).collect()
}

/// Reynolds and Ohnesorge number of the landed droplet of median size, where the rule of impact is used and droplets land wet.
fn impact(setting: &LayerSetting<'_>) -> Option<[f64; 2]> {
    let layer = setting.layer;
    if layer.landing.spread == SpreadRule::Cap || setting.conditions.liquid_left < 0.05 {
        return None;
    }
    let wanted = setting.droplets.median * setting.conditions.liquid_left.cbrt();
    let landed = setting.landing_curve.iter().filter(|point| point.landed > 0.0 && point.impact_speed.is_finite());
    let gap = |diameter: f64| (diameter / wanted).ln().abs();
    let point = landed.min_by(|a, b| gap(a.diameter).total_cmp(&gap(b.diameter)))?;
    let viscosity = mixture_viscosity(&liquid_parts(&layer.ink, |s| s.viscosity));
    let density = setting.conditions.ink_density;
    let ohnesorge = viscosity / (density * surface_tension(&layer.ink) * point.diameter).sqrt();
    Some([impact_reynolds(density, point.impact_speed, point.diameter, viscosity), ohnesorge])
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
pub(super) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |first| first.to_uppercase().chain(chars).collect())
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::Silent;
    use crate::setting::Setting;
    use crate::testing;
    use motefall_physics::inputs::FlightModel;
    use motefall_physics::jet::store::FieldStore;

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
