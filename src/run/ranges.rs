//! The ranges over which relations hold, and whether a setting keeps to them.
//!
//! Every relation whose source or fit has a range stands in [`Relation`]; each must say here which values it is used at, and each has a
//! caution. A range that is stated in a doc comment alone is looked at by nobody.

use super::setting::{LEAST_DIAMETER, LayerSetting};
use crate::deposit::impact_reynolds;
use crate::figures::{Caution, Severity};
use crate::inputs::{DropletMedian, Inputs, SpreadRule};
use crate::jet::profile;
use crate::materials::drag::sphere_reynolds;
use crate::materials::gas::GAS_TEMPERATURE_RANGE;
use crate::materials::solvent::{Solvent, mixture_viscosity};
use crate::run::nominal::{liquid_parts, surface_tension};
use crate::source::atomiser::LANG_RANGE;
use crate::source::tube::{LARGEST_LAMINAR_REYNOLDS, tube_reynolds};
use crate::units::celsius;

/// A relation with a range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Relation {
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
    /// Inelastic mean free path from the density.
    BeamPath,
    /// Spread on impact: Reynolds number.
    ImpactReynolds,
    /// Spread on impact: Ohnesorge number.
    ImpactOhnesorge,
}

/// A range in the unit in which it is told.
struct Range {
    id: &'static str,
    severity: Severity,
    what: &'static str,
    quantity: &'static str,
    unit: &'static str,
    ends: [f64; 2],
    /// What follows, or what to do.
    advice: &'static str,
}

impl Relation {
    /// All of them.
    pub const ALL: [Self; 12] = [
        Self::Lang,
        Self::LaminarTube,
        Self::Bend,
        Self::GasProperties,
        Self::Slip,
        Self::Drag,
        Self::Lift,
        Self::SolventTable,
        Self::VapourPressure,
        Self::BeamPath,
        Self::ImpactReynolds,
        Self::ImpactOhnesorge,
    ];

    /// Identifier of its caution.
    pub fn id(self) -> &'static str {
        self.range().id
    }

    fn range(self) -> Range {
        use Severity::{Caution, Note};
        let range = |id, severity, what, quantity, unit, ends, advice| Range {
            id,
            severity,
            what,
            quantity,
            unit,
            ends,
            advice,
        };
        match self {
            Self::Lang => range(
                "lang-range",
                Caution,
                "Lang's relation for the droplet median, here by count (Lang 1962)",
                "frequency",
                "kHz",
                LANG_RANGE.map(|f| f * 1e-3),
                "Take the median as +-30 % or more. A bath at 1.6 MHz had as much by mass (2.9 µm, Rodes et al. 1990), which is 40 % less by count at a GSD of 1.5. Better measure it, and give droplet_median_um by count.",
            ),
            Self::LaminarTube => range(
                "tube-turbulent",
                Caution,
                "Tube losses are computed for laminar flow",
                "Reynolds number",
                "",
                [0.0, LARGEST_LAMINAR_REYNOLDS],
                "The flow may be turbulent: take a wider tube.",
            ),
            Self::Bend => range(
                "bend-range",
                Note,
                "The loss in bends was fitted near a Reynolds number of 1000 (Pui et al. 1987)",
                "Reynolds number",
                "",
                // Within a factor of two of where it was measured: our estimate.
                [500.0, LARGEST_LAMINAR_REYNOLDS],
                "Slow flow in bends takes little of such fine mist; how little is not well known.",
            ),
            Self::GasProperties => range(
                "gas-range",
                Caution,
                "Viscosity and conductivity of the gas",
                "temperature",
                "C",
                GAS_TEMPERATURE_RANGE.map(celsius),
                "They are extrapolated.",
            ),
            Self::Slip => range(
                "slip-range",
                Note,
                "The slip correction",
                "Knudsen number of the smallest droplets",
                "",
                [0.0, 100.0],
                "The smallest droplets hardly land and bring little.",
            ),
            Self::Drag => range(
                "drag-range",
                Caution,
                "The drag of a sphere (Schiller and Naumann 1933)",
                "Reynolds number of the largest droplets against still gas",
                "",
                [0.0, 800.0],
                "Where the largest droplets land is less sure.",
            ),
            Self::Lift => range(
                "lift-range",
                Caution,
                "Shear lift (Mei 1992)",
                "Reynolds number of the largest droplets against still gas",
                "",
                [0.0, 100.0],
                "Lift on the largest droplets is a guess.",
            ),
            Self::SolventTable => range(
                "solvent-range",
                Caution,
                "Properties of built-in solvents are tabulated",
                "temperature beyond the table",
                "K",
                [0.0, 0.0],
                "They are extrapolated: give measured properties of the solvent (viscosity_mpa_s, vapour_pressure_pa and so on).",
            ),
            Self::VapourPressure => range(
                "vapour-range",
                Note,
                "A vapour pressure follows from that at one temperature and a constant latent heat",
                "distance from that temperature",
                "K",
                [0.0, 30.0],
                "Drying there may be 10 % too quick or more.",
            ),
            Self::BeamPath => range(
                "beam-range",
                Note,
                "Mean free paths from the density were fitted at 200 kV and anchored at 300 kV (Iakoubovskii et al. 2008, Potapov 2014)",
                "voltage",
                "kV",
                [200.0, 300.0],
                "Depths for the beam may be off by 20 % or more: give mean_free_path_nm if you know it.",
            ),
            Self::ImpactReynolds => range(
                "impact-range",
                Note,
                "The spread on impact (Scheller and Bousfield 1995)",
                "Reynolds number of the median droplet",
                "",
                [19.0, 16_400.0],
                "Slower or smaller droplets spread as far as their contact angle lets them.",
            ),
            Self::ImpactOhnesorge => range(
                "impact-range",
                Note,
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
        let largest = || {
            let gas = &setting.flows.head_gas;
            let speed = profile::speed(0.0, layer.head.plug_blend) * setting.conditions.exit_speed;
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
                    let t = layer.gas.temperature;
                    Some((name.to_owned(), (low - t).max(t - high).max(0.0)))
                };
                layer.ink.solvents.iter().filter_map(|part| beyond(&part.solvent.name)).collect()
            }
            Self::VapourPressure => {
                let places = temperatures.into_iter().chain([("on the chip", layer.landing.chip_temperature)]);
                let of = |solvent: &Solvent| {
                    places
                        .clone()
                        .map(|(at, t)| (format!("{} {at}", solvent.name), (t - solvent.vapour_temperature).abs()))
                        .collect::<Vec<_>>()
                };
                layer.ink.solvents.iter().flat_map(|part| of(&part.solvent)).collect()
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
        (!places.is_empty()).then(|| Caution {
            severity: range.severity,
            id: range.id,
            text: format!(
                "{}: outside of its range here. {}{ends} is covered, and here it is {}. {}",
                range.what,
                capital(range.quantity),
                places.join(", "),
                range.advice
            ),
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
    if value.abs() >= 100.0 || value == value.round() { format!("{value:.0}") } else { format!("{value:.3}") }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |first| first.to_uppercase().chain(chars).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::{cautions::words, testing};
    use crate::inputs::FlightModel;
    use crate::jet::store::FieldStore;
    use crate::run::Silent;
    use crate::run::setting::Setting;

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
    fn beyond(relation: Relation) -> Inputs {
        let mut inputs = inside();
        let layer = &mut inputs.layers[0];
        match relation {
            Relation::Lang => layer.atomiser.median = DropletMedian::Ultrasonic(1.7e6),
            // 10 sccm are 1.8e-7 m^3/s: 4 Q/(pi D nu) = 2100 at a bore of 7 um.
            Relation::LaminarTube => layer.tube[0].bore = 5e-6,
            Relation::Bend => layer.tube[0].bends = vec![1.57],
            Relation::GasProperties => layer.head.temperature = 383.15,
            // 2 lambda/d = 100 for 20 nm at a mean free path of 1 um: a fifteenth of an atmosphere.
            Relation::Slip => layer.gas.pressure = 5e3,
            Relation::Drag => layer.atomiser.median = DropletMedian::Measured(3e-3),
            Relation::Lift => {
                layer.flight.lift_factor = 0.1;
                layer.atomiser.median = DropletMedian::Measured(1e-3);
            }
            Relation::SolventTable => layer.gas.temperature = 279.15,
            Relation::VapourPressure => layer.landing.chip_temperature = 353.15,
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

    fn raised(inputs: &Inputs) -> Vec<Caution> {
        let store = FieldStore::none();
        let setting = Setting::new(inputs, &store, &Silent).expect("needs no jet");
        cautions(&setting.layers[0], inputs)
    }

    #[test]
    fn every_range_is_looked_at() {
        let within = raised(&inside());
        assert!(within.is_empty(), "{within:?}");
        for relation in Relation::ALL {
            let list = raised(&beyond(relation));
            let quantity = relation.range().quantity.get(1..).expect("a word");
            let own = list.iter().find(|caution| caution.id == relation.id() && caution.text.contains(quantity));
            let own = own.unwrap_or_else(|| panic!("{relation:?}: {list:?}"));
            assert!(words(own.id).is_some(), "{}", own.id);
        }
    }

    #[test]
    fn cold_gas_extrapolates_the_table_of_a_solvent_and_says_how_far() {
        // Tables begin at 20 C: 6 C lie 14 K below.
        let list = raised(&beyond(Relation::SolventTable));
        let own = list.iter().find(|caution| caution.id == "solvent-range").expect("raised");
        assert!(own.text.contains("14 K (water)"), "{}", own.text);
    }
}
