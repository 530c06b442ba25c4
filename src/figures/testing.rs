//! Inputs for the tests of this folder: one powder, one target, one line.

use motefall_physics::inputs::{
    Acceptance, Atomiser, BeadRule, Beam, Cell, Chip, Conduction, DropletMedian, Flight, FlightModel, Flows, GasInputs,
    Head, Ink, Inputs, Landing, LandingMethod, Layer, MapInputs, Outline, OutputDrift, PathItem, Powder, PrintCount,
    Region, Role, Shape, ShutterLead, SolventPart, SpreadRule, Stage, TubePiece,
};
use motefall_physics::materials::gas::GasSpecies;
use motefall_physics::materials::sizes::{LognormalMode, SizeDistribution, Weighting};
use motefall_physics::materials::solvent::Solvent;
use motefall_physics::units::{FlowReference, StandardFlow, kelvin};

/// A 2000 kg/m^3 powder of 100 mAh/g, median 0.3 um; a 20 x 40 um target over a window; a line along y through its middle.
pub(crate) fn inputs() -> Inputs {
    let rectangle = |name: &str, role, size| Region {
        name: name.into(),
        role,
        outline: Outline::Rectangle { center: [0.0, 0.0], size, rotation: 0.0 },
    };
    Inputs {
        name: "least".into(),
        note: String::new(),
        calibration: None,
        seed: 1,
        layers: vec![layer()],
        chip: Chip { width: 1e-3, height: 1e-3 },
        regions: vec![
            rectangle("window", Role::Window, [30e-6, 60e-6]),
            rectangle("target", Role::Target, [20e-6, 40e-6]),
        ],
        map: MapInputs { resolution: 0.5e-6, pitch: 0.5e-6, margin: 20e-6, write_particles: false },
        beam: Beam { voltage: 200e3, layers: Vec::new(), limit: 2.0 },
        cell: Cell { rates: vec![0.1, 1.0, 10.0] },
        acceptance: Acceptance { required_share: 0.9, limits: Vec::new(), implied: 0 },
        prints: PrintCount::Automatic,
        spread: Vec::new(),
        droplet_budget: 2e9,
        unverified: Vec::new(),
    }
}

/// Water with 1 % of the powder, 10 sccm without sheath.
fn layer() -> Layer {
    let room = kelvin(22.0);
    Layer {
        name: String::new(),
        pause: 0.0,
        gas: GasInputs {
            species: GasSpecies::Nitrogen,
            temperature: room,
            pressure: 101_325.0,
            carrier_saturation: 1.0,
            sheath_saturation: 0.0,
        },
        flows: Flows {
            carrier: StandardFlow(10e-6 / 60.0),
            sheath: StandardFlow(0.0),
            reference: FlowReference { temperature: kelvin(0.0), pressure: 101_325.0 },
        },
        ink: Ink {
            solvents: vec![SolventPart {
                mass_fraction: 1.0,
                solvent: Solvent::built_in("water", room).expect("water is in the table"),
            }],
            powders: vec![powder()],
            settling: None,
        },
        atomiser: Atomiser {
            median: DropletMedian::Measured(2.2e-6),
            gsd: 1.5,
            mist_load: 1e-5,
            retention_midpoint: 0.33,
            retention_steepness: 8.0,
            fill: None,
        },
        tube: vec![TubePiece { length: 0.3, bore: 4e-3, inclination: 0.0, bends: Vec::new() }],
        head: Head {
            temperature: room,
            inlet_bore: 1e-3,
            mixing_length: 10e-3,
            nozzle: 150e-6,
            half_angle: 6f64.to_radians(),
            land: 150e-6,
            plug_blend: None,
        },
        flight: Flight {
            stand_off: 2e-3,
            model: FlightModel::SolvedJet,
            lift_factor: 0.0,
            radius_factor: 1.0,
            landing: LandingMethod::Table,
        },
        landing: Landing {
            contact_angle: 30f64.to_radians(),
            spread: SpreadRule::Larger,
            rim_bias: 0.0,
            bounce: None,
            residue_packing: 0.55,
            bead: BeadRule::Spread,
            chip_temperature: room,
        },
        stage: Stage {
            acceleration: 1.0,
            travel_speed: 20e-3,
            shutter_open_delay: 10e-3,
            shutter_close_delay: 10e-3,
            shutter_lead: ShutterLead::None,
            jitter: 0.5e-6,
            run_up: 0.0,
        },
        output: OutputDrift {
            warm_up: 600.0,
            chips_per_warm_up: 1,
            chip_change: 0.0,
            run_in_time: 300.0,
            run_in_deficit: 0.1,
            trend: 0.0,
            noise_sd: 0.03,
            noise_time: 10.0,
        },
        path: vec![line("line", [0.0, -50e-6], [0.0, 50e-6])],
    }
}

fn powder() -> Powder {
    let mode = LognormalMode { share: 1.0, median: 0.3e-6, gsd: 1.5, weighting: Weighting::Number };
    Powder {
        name: "alumina".into(),
        mass_fraction: 0.01,
        density: 2000.0,
        sizes: SizeDistribution::from_modes(&[mode]).expect("a plain lognormal"),
        packing_fraction: 0.5,
        capacity: 100.0 * 3600.0,
        mean_free_path: Some(100e-9),
        conduction: Conduction::Insulating,
        hazards: Vec::new(),
    }
}

/// A two-point line.
pub(crate) fn line(name: &str, from: [f64; 2], to: [f64; 2]) -> PathItem {
    PathItem { name: name.into(), shape: Shape::Polyline(vec![from, to]), speed: 1e-3, passes: 1 }
}
