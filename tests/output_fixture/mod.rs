//! Predictions with MADE-UP numbers, put together by hand to look at what the program writes. Nothing here is computed
//! by the engine and nothing here is a result.

use motefall_figures::kinds::{KINDS, Scope};
use motefall_figures::*;
use motefall_physics::inputs::*;
use motefall_physics::materials::gas::GasSpecies;
use motefall_physics::materials::sizes::{LognormalMode, SizeDistribution, Weighting};
use motefall_physics::materials::solvent::Solvent;
use motefall_physics::units::{FlowReference, StandardFlow};
use ndarray::Array2;
use serde_json::{Value, json};

/// A small random generator: only the look of the picture depends on it.
struct Dice(u64);

impl Dice {
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.even().max(1e-300).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.even()).cos()
    }
}

/// What the made-up print looks like.
#[derive(Clone, Copy)]
pub(crate) struct Look {
    /// Particles.
    pub particles: usize,
    /// Powders, 1 to 3.
    pub powders: usize,
    /// Map pitch, m.
    pub pitch: f64,
    /// Map: left, right, lower, upper, m.
    pub map: [f64; 4],
    /// Whether the list of particles is kept.
    pub keep: bool,
}

pub(crate) const CHIP: Look =
    Look { particles: 20_000, powders: 2, pitch: 0.25e-6, map: [-90e-6, 140e-6, -115e-6, 115e-6], keep: true };

fn rectangle(name: &str, role: Role, center: [f64; 2], size: [f64; 2]) -> Region {
    Region { name: name.into(), role, outline: Outline::Rectangle { center, size, rotation: 0.0 } }
}

fn powder(name: &str, density: f64, capacity: f64, hazards: Vec<Hazard>) -> Powder {
    Powder {
        name: name.into(),
        mass_fraction: 0.02,
        density,
        sizes: SizeDistribution::from_modes(&[LognormalMode {
            share: 1.0,
            median: 0.3e-6,
            gsd: 1.6,
            weighting: Weighting::Number,
        }])
        .expect("a plain lognormal"),
        packing_fraction: 0.5,
        capacity,
        mean_free_path: None,
        conduction: Conduction::Insulating,
        hazards,
    }
}

fn inputs(look: &Look) -> Inputs {
    let mut powders = vec![
        powder("Na3V2(PO4)3", 3_200.0, 117.6 * 3600.0, vec![Hazard::FinePowder]),
        powder("carbon black", 1_900.0, 0.0, vec![Hazard::CarbonBlack]),
        powder("TiO2 / fine", 4_230.0, 0.0, vec![Hazard::TitaniumDioxide]),
    ];
    powders.truncate(look.powders);
    let line = |name: &str, x: f64| PathItem {
        name: name.into(),
        shape: Shape::Polyline(vec![[x, -60e-6], [x, 60e-6]]),
        speed: 1e-3,
        passes: 4,
    };
    Inputs {
        name: "Sodium chip, first print (made-up numbers)".into(),
        note: "Every number on this page is made up to try the layout; no engine computed it.".into(),
        calibration: None,
        seed: 7,
        layers: vec![Layer {
            name: String::new(),
            pause: 0.0,
            gas: GasInputs {
                species: GasSpecies::Nitrogen,
                temperature: 296.15,
                pressure: 101_325.0,
                carrier_saturation: 0.9,
                sheath_saturation: 0.2,
            },
            flows: Flows {
                carrier: StandardFlow::from_sccm(12.0),
                sheath: StandardFlow::from_sccm(36.0),
                reference: FlowReference::at_celsius(0.0),
            },
            ink: Ink {
                solvents: vec![SolventPart {
                    mass_fraction: 1.0,
                    solvent: Solvent {
                        name: "water".into(),
                        molar_mass: 0.018,
                        density: 998.0,
                        viscosity: 1e-3,
                        surface_tension: 0.072,
                        latent_heat: 2.45e6,
                        vapour_pressure: 2_800.0,
                        vapour_temperature: 296.15,
                        vapour_heat_capacity: 1870.0,
                        table: None,
                        diffusivity: 2.5e-5,
                        flash_point: None,
                        reproductive_toxicity: false,
                    },
                }],
                powders,
                settling: None,
            },
            atomiser: Atomiser {
                median: DropletMedian::Measured(2.2e-6),
                gsd: 1.5,
                mist_load: 1e-5,
                retention_midpoint: 0.33,
                retention_steepness: 6.0,
                fill: None,
            },
            tube: vec![TubePiece { length: 0.6, bore: 4e-3, inclination: 0.0, bends: vec![] }],
            head: Head {
                temperature: 298.15,
                inlet_bore: 1.5e-3,
                mixing_length: 0.02,
                nozzle: 150e-6,
                half_angle: 0.1,
                land: 1e-3,
                plug_blend: None,
            },
            flight: Flight {
                stand_off: 3e-3,
                model: FlightModel::SolvedJet,
                lift_factor: 0.0,
                radius_factor: 1.0,
                landing: LandingMethod::Table,
            },
            landing: Landing {
                contact_angle: 0.7,
                spread: SpreadRule::Larger,
                rim_bias: 0.3,
                bounce: None,
                residue_packing: 0.5,
                bead: BeadRule::Keep,
                chip_temperature: 295.15,
            },
            stage: Stage {
                acceleration: 1.0,
                travel_speed: 1e-2,
                shutter_open_delay: 5e-3,
                shutter_close_delay: 5e-3,
                shutter_lead: ShutterLead::None,
                jitter: 0.5e-6,
                run_up: 100e-6,
            },
            output: OutputDrift {
                warm_up: 600.0,
                chips_per_warm_up: 1,
                chip_change: 0.0,
                run_in_time: 300.0,
                run_in_deficit: 0.1,
                trend: 0.0,
                noise_sd: 0.05,
                noise_time: 5.0,
            },
            path: vec![line("left stroke", -4e-6), line("right stroke", 4e-6)],
        }],
        chip: Chip { width: 3e-3, height: 3e-3 },
        regions: vec![
            rectangle("window", Role::Window, [25e-6, 0.0], [200e-6, 200e-6]),
            rectangle("working electrode", Role::Target, [0.0, 0.0], [30e-6, 140e-6]),
            rectangle("reference", Role::Electrode, [90e-6, 0.0], [20e-6, 140e-6]),
            Region {
                name: "seal".into(),
                role: Role::KeepOut,
                outline: Outline::Disc { center: [1.2e-3, 0.0], radius: 100e-6 },
            },
        ],
        map: MapInputs { resolution: 0.5e-6, pitch: look.pitch, margin: 20e-6, write_particles: look.keep },
        beam: Beam { voltage: 200e3, layers: vec![], limit: 1.0 },
        acceptance: Acceptance {
            implied: 0,
            required_share: 0.9,
            limits: vec![
                Limit {
                    figure: RegionFigure::Coverage.into(),
                    place: Some("working electrode".into()),
                    min: Some(0.6),
                    max: None,
                },
                Limit {
                    figure: RegionFigure::MeanThickness.into(),
                    place: Some("working electrode".into()),
                    min: Some(100e-9),
                    max: Some(400e-9),
                },
                Limit {
                    figure: RegionFigure::HitProbability.into(),
                    place: Some("reference".into()),
                    min: None,
                    max: Some(0.05),
                },
            ],
        },
        cell: Cell { rates: vec![0.1, 1.0, 10.0] },
        prints: PrintCount::Automatic,
        droplet_budget: 1e9,
        spread: Vec::new(),
        unverified: vec![
            UnverifiedDefault {
                key: "atomiser.droplet_gsd".into(),
                value: "1.5".into(),
                advice: "Sets how many fine droplets miss the chip; measure droplet sizes on a witness slide.".into(),
            },
            UnverifiedDefault {
                key: "stage.shutter_open_delay_ms".into(),
                value: "5 ms".into(),
                advice: "Shifts where a stroke begins; print short strokes at two speeds and compare their ends."
                    .into(),
            },
        ],
    }
}

/// The scenario as the reader resolves it, in its own keys.
pub(crate) fn scenario() -> Value {
    json!({
        "name": "Sodium chip, first print (made-up numbers)", "seed": 7,
        "gas": {"species": "nitrogen", "temperature_c": 23, "sheath_saturation": 0.2},
        "ink": {"solvents": [{"name": "water", "mass_fraction": 1.0}],
                "powders": [{"name": "Na3V2(PO4)3", "mass_percent": 2.0, "density_kg_m3": 3200}, {"name": "carbon black", "mass_percent": 2.0}]},
        "atomiser": {"droplet_median_um": 2.2, "droplet_gsd": 1.5, "mist_load_ul_per_l": 10},
        "tube": [{"length_mm": 600, "bore_mm": 4}],
        "head": {"nozzle_um": 150, "inlet_bore_mm": 1.5, "carrier_sccm": 12, "sheath_sccm": 36},
        "stage": {"speed_mm_s": 1, "shutter_open_delay_ms": 5},
        "path": [{"name": "left stroke", "points_um": [[-4, -60], [-4, 60]]}, {"name": "right stroke", "points_um": [[4, -60], [4, 60]]}],
        "map": {"pitch_um": 0.25, "margin_um": 20, "write_particles": true}
    })
}

fn estimate(mean: f64, relative: f64) -> Estimate {
    let half = mean.abs() * relative;
    Estimate {
        mean,
        interval: Some([mean - half, mean + half]),
        sd: Some(half * 2.1),
        n: 20,
        at_least: 0,
        extremes: None,
    }
}

/// A made-up value for a figure, SI.
fn made_up(kind: &FigureKind, place: &str) -> Option<Estimate> {
    let main = place == "working electrode";
    let shown = match kind.id {
        "coverage_percent" if main => estimate(71.3, 0.008),
        "coverage_percent" => estimate(0.8, 0.12),
        "mean_thickness_nm" if main => estimate(212.0, 0.021),
        "mean_thickness_nm" => estimate(1.9, 0.15),
        "hit_probability" if place == "reference" => {
            Estimate { mean: 0.0, interval: Some([0.0, 0.139]), sd: None, n: 20, at_least: 0, extremes: None }
        }
        "farthest_stray_um" => {
            Estimate { interval: Some([48.0, 81.0]), extremes: Some([62.13, 889.2]), ..estimate(120.0, 0.9) }
        }
        "capacity_nah" if place == "reference" => estimate(3.5e-7, 0.2),
        "hit_probability" => {
            Estimate { mean: 1.0, interval: Some([0.861, 1.0]), sd: None, n: 20, at_least: 0, extremes: None }
        }
        "thickness_cv_percent" => estimate(64.0, 0.02),
        "thickness_p5_nm" => estimate(0.0, 0.0),
        "largest_particle_um" => {
            Estimate { interval: Some([0.85, 0.97]), extremes: Some([0.9134, 1.21]), ..estimate(0.93, 0.06) }
        }
        "particles" if main => estimate(18_244.0, 0.011),
        "particles" => estimate(47.0, 0.1),
        "capacity_nah" => estimate(0.000_213, 0.02),
        "line_width_um" if place == "left stroke" => return None,
        "edge_width_um" => estimate(31.7, 0.011),
        "line_width_um" => estimate(25.3, 0.013),
        _ => estimate(12.345, 0.05),
    };
    let scale = 1.0 / kind.per_si;
    Some(Estimate {
        mean: shown.mean * scale,
        interval: shown.interval.map(|i| i.map(|v| v * scale)),
        sd: shown.sd.map(|s| s * scale),
        extremes: shown.extremes.map(|e| e.map(|v| v * scale)),
        ..shown
    })
}

/// A made-up prediction.
pub(crate) fn prediction(look: Look) -> Prediction {
    let inputs = inputs(&look);
    let mut dice = Dice(1);
    let [left, right, lower, upper] = look.map;
    let grid = Grid {
        origin: [left, lower],
        pitch: look.pitch,
        columns: ((right - left) / look.pitch).round() as usize,
        rows: ((upper - lower) / look.pitch).round() as usize,
    };
    let empty = || Array2::<f64>::zeros((grid.rows, grid.columns));
    let mut thickness = vec![empty(); look.powders];
    let (mut height, mut coverage, mut top) = (empty(), empty(), empty());
    let spread = (0.11 * (upper - lower).min(right - left) / 2.0).min(9e-6 * (grid.pitch / 0.25e-6).max(1.0));
    let mut particles = vec![];
    for droplet in 0..look.particles as u64 {
        let stray = dice.even() < 0.04;
        let x = dice.normal() * spread * if stray { 4.0 } else { 1.0 } + if dice.even() < 0.5 { -4e-6 } else { 4e-6 };
        let y = (dice.even() - 0.5) * 0.62 * (upper - lower) + dice.normal() * spread * 0.6;
        let powder = if look.powders > 1 && dice.even() < 0.45 { 1 } else { 0 };
        let median: f64 = if powder == 0 { 0.42e-6 } else { 0.2e-6 };
        let diameter = (median * (0.35 * dice.normal()).exp()).min(1.2e-6) * (grid.pitch / 0.25e-6).max(1.0);
        let (row, column) = ((y - lower) / look.pitch, (x - left) / look.pitch);
        let radius = 0.5 * diameter;
        let reach = (radius / look.pitch).ceil() as i64;
        let mut base: f64 = 0.0;
        for i in (row as i64 - reach).max(0)..(row as i64 + reach + 1).min(grid.rows as i64) {
            for j in (column as i64 - reach).max(0)..(column as i64 + reach + 1).min(grid.columns as i64) {
                let d = look.pitch * ((i as f64 + 0.5 - row).hypot(j as f64 + 0.5 - column));
                if d < radius {
                    let at = [i as usize, j as usize];
                    let chord = 2.0 * (radius * radius - d * d).sqrt();
                    thickness[powder][at] += chord;
                    height[at] += chord / 0.5;
                    coverage[at] = 1.0;
                    base = base.max(top[at]);
                    top[at] += 0.5 * chord;
                }
            }
        }
        particles.push((Particle { x, y, diameter, powder: powder as u16, droplet }, base + radius));
    }

    let mut far = FarMap::new(inputs.chip);
    far.begin_print();
    particles.iter().for_each(|(q, _)| far.add([q.x, q.y]));
    // A made-up handful far away.
    for _ in 0..200 {
        let reach = 60e-6 * (3.0 * dice.even()).exp();
        let angle = std::f64::consts::TAU * dice.even();
        far.add([reach * angle.cos(), reach * angle.sin()]);
    }

    let bins = |n: usize, low: f64, high: f64| -> Vec<f64> {
        (0..=n).map(|i| low * (high / low).powf(i as f64 / n as f64)).collect()
    };
    let droplet_edges = bins(48, 0.3e-6, 12e-6);
    let bell = |edges: &[f64], median: f64, gsd: f64| -> Vec<f64> {
        let raw: Vec<f64> = edges
            .windows(2)
            .map(|e| (-0.5 * (((e[0] * e[1]).sqrt() / median).ln() / f64::ln(gsd)).powi(2)).exp())
            .collect();
        let sum: f64 = raw.iter().sum();
        raw.iter().map(|v| v / sum).collect()
    };
    let counts = |edges: &[f64], n: f64, median: f64, gsd: f64| -> Vec<u64> {
        bell(edges, median, gsd).iter().map(|v| (v * n).round() as u64).collect()
    };
    let generated = look.particles as f64 * 2.0;
    let particle_edges = bins(40, 0.03e-6, 8e-6);
    let sizes = Sizes {
        droplets: vec![[
            counts(&droplet_edges, generated, 2.2e-6, 1.5),
            counts(&droplet_edges, generated * 0.8, 2.0e-6, 1.45),
            counts(&droplet_edges, generated * 0.8, 1.6e-6, 1.45),
            counts(&droplet_edges, generated * 0.6, 1.8e-6, 1.35),
        ]],
        droplet_edges,
        powders: (0..look.powders)
            .map(|i| PowderSizes {
                received_number: bell(&particle_edges, 0.45e-6 / (i + 1) as f64, 1.8),
                received_volume: bell(&particle_edges, 1.3e-6 / (i + 1) as f64, 1.8),
                landed_count: counts(
                    &particle_edges,
                    look.particles as f64 / look.powders as f64,
                    0.4e-6 / (i + 1) as f64,
                    1.5,
                ),
            })
            .collect(),
        particle_edges,
    };

    let total: Vec<f64> = (0..look.powders).map(|i| look.particles as f64 * 2.4e-16 / (i + 1) as f64).collect();
    let part = |fate: Fate, share: f64| BudgetRow {
        fate,
        droplets: (generated * share).round() as u64,
        particles: vec![(look.particles as f64 * share) as u64; look.powders],
        mass: total.iter().map(|m| m * share).collect(),
    };
    let region = |name: &str| Fate::Region(name.into());
    let rows = vec![
        part(Fate::TubeSettling, 0.21),
        part(Fate::TubeDiffusion, 0.002),
        part(Fate::TubeBend, 0.0),
        part(Fate::HeadWall, 0.013),
        part(region("window"), 0.12),
        part(region("working electrode"), 0.52),
        part(region("reference"), 0.0004),
        part(region("seal"), 0.0),
        part(Fate::Elsewhere, 0.0146),
        part(Fate::Escaped, 0.12),
    ];

    let distance: Vec<f64> = (-120..=120).map(|i| f64::from(i) * 0.5e-6).collect();
    let profile = |item: &str| Profile {
        item: item.into(),
        thickness: (0..look.powders)
            .map(|i| {
                distance
                    .iter()
                    .map(|d| {
                        let core = (1.0 - (d / 17e-6).powi(2)).max(0.0).powf(1.3) * 310e-9 / (i + 1) as f64;
                        core + 2e-9 * (-d.abs() / 15e-6).exp() * (1.0 + 0.3 * (d * 4e6).sin())
                    })
                    .collect()
            })
            .collect(),
        coverage: distance
            .iter()
            .map(|d| {
                let thick = (1.0 - (d / 17e-6).powi(2)).max(0.0).powf(1.3) * 2.0 + 0.01 * (-d.abs() / 10e-6).exp();
                if d.abs() > 52e-6 { 0.0 } else { 1.0 - (-thick).exp() }
            })
            .collect(),
        distance: distance.clone(),
        length: 120e-6,
    };

    let mut figures = vec![];
    for kind in KINDS {
        let places: Vec<Option<String>> = match kind.scope {
            Scope::Region => inputs.regions.iter().map(|r| Some(r.name.clone())).collect(),
            Scope::Item => inputs.layers[0].path.iter().map(|i| Some(i.name.clone())).collect(),
            Scope::Print => vec![None],
        };
        for place in places {
            let value = made_up(kind, place.as_deref().unwrap_or_default());
            let note = match &value {
                None => Some("no half-height crossing was found".into()),
                Some(e) if e.mean == 0.0 && kind.id == "hit_probability" => {
                    Some("no hit in 20 prints: upper bound".into())
                }
                _ => None,
            };
            figures.push(FigureRow {
                kind,
                place,
                estimate: value,
                note,
                expected: None,
                controlled: None,
                from_unknown: None,
                distribution: None,
            });
        }
    }
    let limits = inputs
        .acceptance
        .limits
        .iter()
        .enumerate()
        .map(|(i, limit)| {
            let kind = limit.figure.kind();
            LimitOutcome {
                limit: limit.clone(),
                estimate: made_up(kind, limit.place.as_deref().unwrap_or_default()),
                share: kind.is_share_of_prints().then(|| ShareOfPrints::new(0, 20)),
                met: [20, 17, 20][i % 3],
                n: 20,
            }
        })
        .collect();
    let stroke = |a: [f64; 2], b: [f64; 2], open| Stroke { from: a, to: b, open };
    let conditions = Conditions {
        gas_density: 1.145,
        gas_viscosity: 1.78e-5,
        mean_free_path: 66.4e-9,
        carrier_flow: 2.18e-7,
        sheath_flow: 6.54e-7,
        centre_speed: 30.0,
        exit_speed: 49.4,
        reynolds: 476.0,
        mach: 0.28,
        stand_off_ratio: 20.0,
        core_radius: 27.4e-6,
        tube_time: 34.6,
        head_time: 0.03,
        droplet_median: 2.2e-6,
        droplet_mass_median: 3.6e-6,
        droplet_mean_volume: 11.7e-18,
        droplet_rate: 1.7e5,
        print_time: 2.31,
        open_time: 0.97,
        ink_used: 4.6e-12,
        ink_density: 1_030.0,
        liquid_left: 0.43,
        exit_saturation: 0.61,
        printable_share: vec![0.34, 0.97, 0.5][..look.powders].to_vec(),
        particles_per_droplet: vec![1.7, 2.9, 0.4][..look.powders].to_vec(),
        powder_mean_free_path: vec![131e-9, 168e-9, 120e-9][..look.powders].to_vec(),
        strokes: vec![
            stroke([-4e-6, -160e-6], [-4e-6, -60e-6], false),
            stroke([-4e-6, -60e-6], [-4e-6, 60e-6], true),
            stroke([-4e-6, 60e-6], [-4e-6, 105e-6], false),
            stroke([-4e-6, 105e-6], [4e-6, 105e-6], false),
            stroke([4e-6, 105e-6], [4e-6, 60e-6], false),
            stroke([4e-6, 60e-6], [4e-6, -60e-6], true),
        ],
    };
    let landing_curve = bins(59, 0.2e-6, 8e-6)
        .into_iter()
        .map(|diameter| {
            let landed = 1.0 / (1.0 + (0.75e-6 / diameter).powi(6));
            let width = 14e-6 * (1.0 + 2.5 * (0.7e-6 / diameter).powi(3));
            let none = landed < 0.02;
            LandingPoint {
                diameter,
                landed: if none { 0.0 } else { landed },
                radius: [0.25, 0.72, 1.0].map(|f| if none { f64::NAN } else { f * width }),
                impact_speed: if none { f64::NAN } else { 30.0 * landed },
            }
        })
        .collect();
    let budget = Budget {
        droplets: generated as u64,
        particles: vec![look.particles as u64; look.powders],
        mass: total,
        rows,
        closure: 3e-16,
        not_simulated: 0.0,
    };
    Prediction {
        layers: vec![LayerPart { conditions, landing_curve, budget: budget.clone() }],
        figures,
        limits,
        verdict: Verdict { accepted: Some(false), met: 17, n: 20, share_interval: [0.64, 0.948] },
        budget,
        sizes,
        profiles: vec![profile("left stroke"), profile("right stroke")],
        maps: Maps { grid, thickness, height, top_height: look.keep.then_some(top), coverage },
        knobs: None,
        pile: if look.keep { particles.into_iter().collect() } else { Pile::default() },
        cautions: vec![
            Caution {
                kind: CautionKind::LiftOff,
                text: "Shear lift is switched off; with it the line may be narrower or wider.".into(),
            },
            Caution {
                kind: CautionKind::UnverifiedDefaults,
                text: "Droplet spread (GSD 1.5) and shutter delay (5 ms) are defaults that nobody has measured.".into(),
            },
            Caution {
                kind: CautionKind::CarbonBlack,
                text: "Carbon black is a possible carcinogen when breathed in: work in an enclosure with extraction.".into(),
            },
            Caution {
                kind: CautionKind::MistAndPowder,
                text: "The mist that misses the chip carries fine powder into the room: lead the exhaust through a filter.".into(),
            },
        ],
        generator: "made up by hand".into(),
        draws: Draws::default(),
        far,
        bridging: look.keep.then(|| Bridging {
            prints: 20,
            gaps: vec![GapOutcome {
                between: ["working electrode".into(), "reference".into()],
                width: 65e-6,
                bridged: 0,
                largest: joined::GapCluster { extent: 2.3e-6, particles: 11 },
                mean_spanned: 0.021,
            }],
        }),
        inputs,
    }
}

/// The same with so many prints, made-up deviations and made-up effects of them.
pub(crate) fn many_prints(look: Look, n: usize) -> Prediction {
    let mut p = prediction(look);
    let vary = |input, law, sd| Variation { input, law, sd };
    p.inputs.spread = vec![
        vary(VariedInput::AlignmentX, Law::Normal, 3e-6),
        vary(VariedInput::AlignmentY, Law::Normal, 3e-6),
        vary(VariedInput::Rotation, Law::Normal, 0.01),
        vary(VariedInput::StandOff, Law::Uniform, 100e-6),
        vary(VariedInput::Sheath, Law::Normal, 0.02),
        vary(VariedInput::Output, Law::Normal, 0.08),
        vary(VariedInput::Trend, Law::Normal, 0.05 / 3600.0),
        vary(VariedInput::Solids, Law::Normal, 0.03),
    ];
    let mut dice = Dice(3);
    let deviates: Vec<Vec<f64>> = (0..n).map(|_| (0..8).map(|_| dice.normal()).collect()).collect();
    p.draws = Draws {
        inputs: p.inputs.varied(),
        per_print: deviates.iter().map(|z| z.iter().zip(&p.inputs.spread).map(|(z, v)| z * v.sd).collect()).collect(),
    };
    let places: Vec<statistics::FigureAt> = p.figures.iter().map(|row| (row.kind, row.place.clone())).collect();
    let per_print: Vec<Vec<Option<f64>>> = deviates
        .iter()
        .map(|z| {
            p.figures
                .iter()
                .map(|row| {
                    let mean = row.estimate?.mean;
                    let chance = dice.normal();
                    Some(match row.kind.id {
                        "print_time_s" => mean,
                        "hit_probability" => {
                            f64::from(u8::from(mean > 0.0 || row.place.as_deref() == Some("seal") && z[0] > 1.9))
                        }
                        "coverage_percent" => {
                            let harm = 0.04 * z[0] * z[0] + 0.01 * z[2] * z[2];
                            (mean * (1.0 - harm + 0.03 * z[5] - 0.02 * z[3] + 0.02 * chance)).clamp(0.0, 1.0)
                        }
                        "particles" | "coarse_particles" | "active_particles" => {
                            (mean * (1.0 + 0.08 * z[5]) + mean.sqrt() * chance).round().max(0.0)
                        }
                        "line_width_um" => mean * (1.0 + 0.03 * z[3] - 0.02 * z[4] + 0.01 * chance),
                        _ => mean * (0.08 * z[5] + 0.03 * z[7] + 0.02 * chance).exp(),
                    })
                })
                .collect()
        })
        .collect();
    (p.limits, p.verdict) = judge(&p.inputs, &places, &per_print);
    p.figures = motefall_figures::spread::summarise(&places, &per_print, &p.draws);
    p
}
