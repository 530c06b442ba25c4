//! For every caution a case that raises it and an ordinary one that does not. A caution without a case does not compile.
//!
//! Ordinary is a shipped scenario with droplets that fly straight while it is worked out, so that no jet is solved; then the model that it
//! names is put back, so that what is said of jets is said.

use super::figures::of_figures;
use super::flight::Differ;
use super::prints::{of_particles, stopped};
use super::*;
use crate::Silent;
use crate::ranges::Relation;
use motefall_figures::ExpectedValue;
use motefall_figures::calibration::Agreement::{self, DoesNotFit, Fits};
use motefall_figures::calibration::{Counted, Used};
use motefall_figures::joined::GapCluster;
use motefall_figures::{
    Bridging, Estimate, FigureRow, GapOutcome, LimitOutcome, PrintFigure, RegionFigure, Severity, ShareOfPrints,
};
use motefall_physics::inputs::{Bounce, FlightModel, Layer, Limit, PathItem, Shape, ShutterLead};
use motefall_physics::jet::store::FieldStore;
use motefall_physics::map::MeasuringGrid;
use motefall_physics::map::canvas::Canvas;
use motefall_physics::map::far::FarMap;
use motefall_physics::map::tally::{Tallies, fate};
use motefall_physics::materials::gas::GasSpecies;
use motefall_physics::materials::hazards::Hazard;
use motefall_physics::path::motion::Timeline;
use motefall_physics::source::content::Grain;
use std::path::Path;
use std::sync::LazyLock;

/// Cautions of a case that raises the one in question, and of one that does not.
struct Case {
    raised: Vec<Caution>,
    ordinary: Vec<Caution>,
}

/// A shipped scenario with many keep-outs, spread and a jet; what it raises itself, [`coupon`] or [`line`] does not.
fn chip() -> Inputs {
    shipped("sodium-chip")
}

fn coupon() -> Inputs {
    shipped("foil-coupon")
}

fn line() -> Inputs {
    shipped("first-line")
}

fn shipped(name: &str) -> Inputs {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios").join(name).with_extension("toml");
    motefall_scenario::load(&path).unwrap_or_else(|faults| panic!("{faults}")).inputs
}

fn safety_of(mut inputs: Inputs, change: impl FnOnce(&mut Layer)) -> Vec<Caution> {
    change(&mut inputs.layers[0]);
    safety::cautions(&inputs.layers[0])
}

/// A powder of the chip that is nothing but one hazard.
fn hazard(hazard: Hazard) -> Case {
    let with = |hazard: Hazard| safety_of(chip(), |layer| layer.ink.powders[0].hazards = vec![hazard]);
    // The chip is of vanadium and carbon black, the line of alumina.
    Case { raised: with(hazard), ordinary: safety_of(line(), |_| ()) }
}

/// What is said of the layers of a scenario before any print, after a change of the inputs and one of what was worked out from them.
fn of_setting(
    mut inputs: Inputs,
    change: impl FnOnce(&mut Inputs),
    worked_out: impl FnOnce(&mut LayerSetting<'_>),
) -> Vec<Caution> {
    change(&mut inputs);
    let as_set = inputs.layers.clone();
    inputs.layers.iter_mut().for_each(|layer| layer.flight.model = FlightModel::Straight);
    let store = FieldStore::none();
    let mut setting = Setting::new(&inputs, &store, &Silent).expect("needs no jet");
    for (layer, as_set) in setting.layers.iter_mut().zip(&as_set) {
        layer.layer = as_set;
    }
    worked_out(&mut setting.layers[0]);
    of_layers(&setting, &[])
}

fn unchanged(inputs: Inputs) -> Vec<Caution> {
    of_setting(inputs, |_| (), |_| ())
}

/// The chip as it is.
fn ordinary() -> Vec<Caution> {
    static ORDINARY: LazyLock<Vec<Caution>> = LazyLock::new(|| unchanged(chip()));
    ORDINARY.clone()
}

/// The chip with other inputs.
fn set(change: impl FnOnce(&mut Layer)) -> Case {
    let raised = of_setting(chip(), |inputs| change(&mut inputs.layers[0]), |_| ());
    Case { raised, ordinary: ordinary() }
}

/// The chip with something else worked out.
fn found(change: impl FnOnce(&mut LayerSetting<'_>)) -> Case {
    Case { raised: of_setting(chip(), |_| (), change), ordinary: ordinary() }
}

/// The cell, whose electrodes are filled areas, printed with a shutter that is late by so many seconds.
fn cell_with_shutter(delay: f64) -> Vec<Caution> {
    let late = |layer: &mut Layer| {
        (layer.stage.shutter_open_delay, layer.stage.shutter_close_delay) = (delay, delay);
    };
    of_setting(shipped("two-electrode-cell"), |inputs| inputs.layers.iter_mut().for_each(late), |_| ())
}

/// The chip with a fill of so many m^3.
fn filled(fill: f64) -> Vec<Caution> {
    of_setting(chip(), |inputs| inputs.layers[0].atomiser.fill = Some(fill), |_| ())
}

/// The chip with an ink of which such a share settles in an hour.
fn settling(share: f64) -> Vec<Caution> {
    of_setting(chip(), |inputs| inputs.layers[0].ink.settling = Some(share / 3600.0), |_| ())
}

/// Two lines of 100 µm, 20 µm apart, at 2 mm/s with a shutter that is told earlier by these delays, s, and by ordinary ones.
fn led(delays: [f64; 2], ordinary: [f64; 2]) -> Case {
    let with = |[open, close]: [f64; 2]| {
        let mut layer = chip().layers.remove(0);
        let drawn = |y| Shape::Polyline(vec![[0.0, y], [1e-4, y]]);
        let line = |y| PathItem { name: "line".into(), shape: drawn(y), speed: 2e-3, passes: 1 };
        layer.path = vec![line(0.0), line(2e-5)];
        layer.stage.run_up = 0.0;
        layer.stage.shutter_lead = ShutterLead::Compensated;
        (layer.stage.shutter_open_delay, layer.stage.shutter_close_delay) = (open, close);
        shutter::cautions(&layer.stage, &Timeline::new(&layer.path, &layer.stage, None))
    };
    Case { raised: with(delays), ordinary: with(ordinary) }
}

fn range(relation: Relation) -> Case {
    let raised = crate::ranges::tests::raised(&crate::ranges::tests::beyond(relation));
    // Ordinary bends are all outside: slow flow of fine mist.
    let ordinary = match relation {
        Relation::Bend => {
            of_setting(chip(), |inputs| inputs.layers[0].tube.iter_mut().for_each(|t| t.bends.clear()), |_| ())
        }
        _ => ordinary(),
    };
    Case { raised, ordinary }
}

/// A made-up print of the chip in which 100 particles land, after a change.
fn print(change: impl FnOnce(&mut PrintOutcome)) -> Case {
    let inputs = chip();
    let ordinary = || {
        let powders = inputs.powders().len();
        let mut tallies = Tallies::new(1, powders, inputs.regions.len());
        let tally = tallies.layer_mut(0);
        for _ in 0..100 {
            tally.generated.add(&Grain::new(0, 0.3e-6));
            tally.fates[fate::ELSEWHERE].add(&Grain::new(0, 0.3e-6));
        }
        PrintOutcome {
            canvas: Canvas::new(MeasuringGrid::new(&inputs, 20e-6).grid, powders),
            picture: None,
            tallies,
            lines: vec![],
            far: FarMap::new(inputs.chip),
            particles: None,
            not_simulated: 0.0,
        }
    };
    let mut changed = ordinary();
    change(&mut changed);
    let of = |outcome: &PrintOutcome| prints::cautions(&inputs, outcome, 100.0);
    Case { raised: of(&changed), ordinary: of(&ordinary()) }
}

fn row(figure: RegionFigure, place: &str, mean: f64) -> FigureRow {
    let estimate = Estimate { mean, interval: None, sd: None, n: 10, extremes: None, at_least: 0 };
    let place = Some(place.to_owned());
    FigureRow {
        kind: figure.kind(),
        place,
        estimate: Some(estimate),
        note: None,
        expected: None,
        controlled: None,
        from_unknown: None,
        distribution: None,
    }
}

/// Made-up figures of the chip: of a region in the role of the first one that has it.
fn figures(role: Role, change: impl FnOnce(&mut Inputs), raised: &[(RegionFigure, f64)]) -> Case {
    let mut inputs = chip();
    change(&mut inputs);
    let place = inputs.regions.iter().find(|region| region.role == role).expect("the chip has one").name.clone();
    let ordinary = [
        (RegionFigure::ActiveParticles, 5000.0),
        (RegionFigure::Joined, 0.9),
        (RegionFigure::Particles, 0.0),
        (RegionFigure::HitProbability, 0.1),
    ];
    let of = |values: &[(RegionFigure, f64)]| {
        let rows: Vec<FigureRow> = values.iter().map(|(figure, mean)| row(*figure, &place, *mean)).collect();
        of_figures(&inputs, &rows, &[], None)
    };
    Case { raised: of(raised), ordinary: of(&ordinary) }
}

/// 5000 +- 50 active particles in ten prints, a share off what was expected: 20 % are 63 standard errors, 0.2 % less than one.
fn expected_off_by(share: f64) -> Vec<Caution> {
    let mut row = row(RegionFigure::ActiveParticles, "target", 5000.0);
    row.estimate = row.estimate.map(|e| Estimate { sd: Some(50.0), ..e });
    let mean = 5000.0 * (1.0 + share);
    row.expected = Some(ExpectedValue {
        mean,
        from_inputs: 0.0,
        from_noise: 0.0,
        from_chance: None,
        from_unknown: 0.0,
        by_input: vec![],
        error: 1.0,
    });
    of_figures(&chip(), &[row], &[], None)
}

/// A bridge in some of ten prints.
fn bridges(bridged: u32) -> Vec<Caution> {
    let gap = GapOutcome {
        between: ["a".into(), "b".into()],
        width: 20e-6,
        bridged,
        largest: GapCluster::default(),
        mean_spanned: 0.1,
    };
    of_figures(&chip(), &[], &[], Some(&Bridging { prints: 10, gaps: vec![gap] }))
}

/// At most a bridge in five prints, and none in so many.
fn no_bridge_in(prints: u32) -> Vec<Caution> {
    let limit = Limit { figure: PrintFigure::Bridge.into(), place: None, min: None, max: Some(0.2) };
    let share = Some(ShareOfPrints::new(0, prints));
    let outcome = LimitOutcome { limit, estimate: None, share, met: 0, n: prints };
    of_figures(&chip(), &[], &[outcome], None)
}

/// The list of particles was asked for; `fullest` as in [`of_particles`].
fn particles(kept: usize, fullest: Option<u64>) -> Vec<Caution> {
    let mut inputs = chip();
    inputs.map.write_particles = true;
    of_particles(&inputs, kept, fullest, 1000).into_iter().collect()
}

fn with_chip(change: impl FnOnce(&mut Inputs), of: fn(&Inputs) -> Option<Caution>) -> Vec<Caution> {
    let mut inputs = chip();
    change(&mut inputs);
    of(&inputs).into_iter().collect()
}

fn case(kind: CautionKind) -> Case {
    match kind {
        // All shipped inks hold powder, in gas that is no air.
        CautionKind::MistAndPowder => {
            Case { raised: safety_of(chip(), |_| ()), ordinary: safety_of(chip(), |layer| layer.ink.powders.clear()) }
        }
        CautionKind::InertGas => Case {
            raised: safety_of(chip(), |_| ()),
            ordinary: safety_of(chip(), |layer| layer.gas.species = GasSpecies::Air),
        },
        CautionKind::Nickel => hazard(Hazard::Nickel),
        CautionKind::Cobalt => hazard(Hazard::Cobalt),
        CautionKind::TitaniumDioxide => hazard(Hazard::TitaniumDioxide),
        CautionKind::CarbonBlack => hazard(Hazard::CarbonBlack),
        CautionKind::Manganese => hazard(Hazard::Manganese),
        CautionKind::Vanadium => hazard(Hazard::Vanadium),
        CautionKind::Chromium => hazard(Hazard::Chromium),
        CautionKind::Lead => hazard(Hazard::Lead),
        CautionKind::Cadmium => hazard(Hazard::Cadmium),
        CautionKind::Indium => hazard(Hazard::Indium),
        CautionKind::Arsenic => hazard(Hazard::Arsenic),
        CautionKind::Nanotubes => hazard(Hazard::Nanotubes),
        CautionKind::ToxicSolvent => Case { raised: safety_of(line(), |_| ()), ordinary: safety_of(coupon(), |_| ()) },
        CautionKind::WarmSolvent | CautionKind::ReproductiveToxicity => {
            Case { raised: safety_of(chip(), |_| ()), ordinary: safety_of(line(), |_| ()) }
        }
        CautionKind::Flammable => Case {
            raised: safety_of(line(), |layer| layer.ink.solvents[0].solvent.flash_point = Some(285.15)),
            ordinary: safety_of(line(), |_| ()),
        },
        CautionKind::LangRange => range(Relation::Lang),
        CautionKind::TubeTurbulent => range(Relation::LaminarTube),
        CautionKind::BendRange => range(Relation::Bend),
        CautionKind::GasRange => range(Relation::GasProperties),
        CautionKind::SlipRange => range(Relation::Slip),
        CautionKind::DragRange => range(Relation::Drag),
        CautionKind::LiftRange => range(Relation::Lift),
        CautionKind::SolventRange => range(Relation::SolventTable),
        CautionKind::VapourRange => range(Relation::VapourPressure),
        CautionKind::VapourShareRange => range(Relation::VapourAtSurface),
        CautionKind::RoomGasRange => range(Relation::RoomGas),
        CautionKind::BeamRange => range(Relation::BeamPath),
        CautionKind::ImpactRange => range(Relation::ImpactOhnesorge),
        CautionKind::DryingTolerance => Case { raised: unchanged(shipped("usual-mist-chip")), ordinary: ordinary() },
        CautionKind::ChanceOnly => Case { raised: unchanged(line()), ordinary: ordinary() },
        CautionKind::MixedTables => {
            Case { raised: flight::differences(Differ::Flights).into_iter().collect(), ordinary: unchanged(line()) }
        }
        CautionKind::Mach => found(|layer| layer.conditions.mach = 0.31),
        CautionKind::StraightFlight => set(|layer| layer.flight.model = FlightModel::Straight),
        CautionKind::JetLength => set(|layer| layer.flight.stand_off = 10e-3),
        CautionKind::Reynolds => found(|layer| layer.conditions.reynolds = 1600.0),
        CautionKind::LiftOn => set(|layer| layer.flight.lift_factor = 0.2),
        CautionKind::LiftOff => {
            let Case { raised, ordinary } = set(|layer| layer.flight.lift_factor = 0.2);
            Case { raised: ordinary, ordinary: raised }
        }
        CautionKind::NoSheath => found(|layer| layer.flows.head_sheath = 0.0),
        CautionKind::Bounce => set(|layer| layer.landing.bounce = Some(Bounce { above_speed: 40.0, probability: 0.5 })),
        CautionKind::Splash => found(|layer| layer.landing_curve.iter_mut().for_each(|p| p.impact_speed = 300.0)),
        CautionKind::EntranceLength => set(|layer| layer.head.mixing_length = 1e-3),
        CautionKind::CoarsePowder => found(|layer| layer.conditions.printable_share[0] = 0.3),
        CautionKind::Bead => Case { raised: unchanged(line()), ordinary: ordinary() },
        CautionKind::BeadDrying => {
            let nearly = |layer: &mut LayerSetting<'_>| layer.beads.nearly_wet = std::mem::take(&mut layer.beads.wet);
            Case { raised: of_setting(line(), |_| (), nearly), ordinary: unchanged(line()) }
        }
        // 40 ms at 2 and 4 mm/s shift strokes of at most 90 um by 80 um and more.
        CautionKind::StrokesOutside => Case { raised: cell_with_shutter(40e-3), ordinary: cell_with_shutter(0.0) },
        // 0.1 nL, and 1 L.
        CautionKind::FillTooSmall => Case { raised: filled(1e-13), ordinary: filled(1e-3) },
        CautionKind::Settling => Case { raised: settling(0.5), ordinary: settling(1e-3) },
        // A line of 100 µm at 2 mm/s takes 50 ms, less than the 60 ms to close; the way to the next takes less than 20 ms to open.
        CautionKind::ShortStrokes => led([20e-3, 60e-3], [10e-3, 15e-3]),
        CautionKind::ShutterWaits => led([20e-3, 15e-3], [1e-4, 1e-4]),
        CautionKind::DropletBudget => print(|outcome| outcome.not_simulated = 40.0),
        CautionKind::LittleLands => {
            print(|outcome| outcome.tallies.layer_mut(0).fates.swap(fate::ELSEWHERE, fate::SETTLED))
        }
        CautionKind::NotFollowed => {
            print(|outcome| outcome.tallies.layer_mut(0).fates[fate::ESCAPED].add(&Grain::new(0, 0.3e-6)))
        }
        CautionKind::OffChip => print(|outcome| outcome.tallies.layer_mut(0).fates[fate::OFF_CHIP].droplets = 1),
        CautionKind::ParticlesNotListed => Case { raised: particles(0, None), ordinary: particles(5, None) },
        CautionKind::TooManyParticles => Case { raised: particles(5, Some(2000)), ordinary: particles(5, None) },
        CautionKind::StoppedEarly => {
            Case { raised: stopped(3, 5).into_iter().collect(), ordinary: stopped(5, 5).into_iter().collect() }
        }
        CautionKind::UnverifiedDefaults => Case {
            raised: with_chip(|_| (), |inputs| unverified(inputs, &[])),
            ordinary: with_chip(|inputs| inputs.unverified.clear(), |inputs| unverified(inputs, &[])),
        },
        CautionKind::NoMembrane => Case {
            raised: with_chip(|inputs| inputs.beam.layers.clear(), no_membrane),
            ordinary: with_chip(|_| (), no_membrane),
        },
        CautionKind::FewParticles => figures(Role::Target, |_| (), &[(RegionFigure::ActiveParticles, 40.0)]),
        CautionKind::NotAsExpected => Case { raised: expected_off_by(0.2), ordinary: expected_off_by(0.002) },
        CautionKind::NotJoined => figures(Role::Target, |_| (), &[(RegionFigure::Joined, 0.2)]),
        CautionKind::KeepOutUnlimited => figures(
            Role::KeepOut,
            |inputs| inputs.acceptance.limits.clear(),
            &[(RegionFigure::Particles, 0.3), (RegionFigure::HitProbability, 0.2)],
        ),
        CautionKind::Calibrated => Case { raised: calibrated(Fits, false), ordinary: vec![] },
        CautionKind::CalibrationOutside => Case { raised: calibrated(Fits, true), ordinary: calibrated(Fits, false) },
        CautionKind::CalibrationMisfit => {
            Case { raised: calibrated(DoesNotFit, false), ordinary: calibrated(Fits, false) }
        }
        CautionKind::TooFewPrints => Case { raised: no_bridge_in(5), ordinary: no_bridge_in(20) },
        CautionKind::Bridge => Case { raised: bridges(2), ordinary: bridges(0) },
        CautionKind::Remark => Case { raised: remarks(&["sheath 0".into()]), ordinary: remarks(&[]) },
    }
}

/// Of a calibration that agrees so with its lines, of lines that differ from the print or not.
fn calibrated(agreement: Agreement, differs: bool) -> Vec<Caution> {
    calibration(
        &Used {
            name: "calibration.toml".into(),
            created: "2026-11-29T08:00:00Z".into(),
            learnt_from: Counted { lines: 11, vials: 1 },
            agreement,
            not_used: vec![],
            outside: if differs { vec!["nozzle 150 µm, lines 200 µm".into()] } else { vec![] },
        },
        &[Apart { name: "coverage, strip".into(), prints: 0.02, unknown: 0.05 }],
    )
}

#[test]
fn every_caution_is_raised_by_its_case_and_not_by_an_ordinary_one() {
    for kind in CautionKind::ALL {
        let Case { raised, ordinary } = case(*kind);
        let own: Vec<&Caution> = raised.iter().filter(|caution| caution.kind == *kind).collect();
        assert!(!own.is_empty(), "{kind:?} is not raised: {raised:?}");
        assert!(ordinary.iter().all(|caution| caution.kind != *kind), "{kind:?} is raised anyhow: {ordinary:?}");
        if kind.severity() == Severity::Safety {
            let defers = own.iter().all(|caution| caution.text.ends_with("Local rules and licensed practice decide."));
            assert!(defers, "{own:?}");
        }
    }
}
