//! `summary.json`: the result for machines.
//!
//! | key | what it holds |
//! |---|---|
//! | `format` | always `motefall-result`: marks a folder as written by this program |
//! | `format_version` | 2; grows when a key changes its meaning or goes |
//! | `program`, `program_version`, `generator`, `seed` | what is needed to repeat the run |
//! | `name`, `note` | from the scenario |
//! | `inputs` | the resolved scenario, every default written out, in the scenario's own keys |
//! | `unverified` | defaults that nobody has measured: `key`, `value`, `advice` |
//! | `conditions` | what follows before any droplet flies; the unit ends each key; `droplet_median_um` is by count, `droplet_mass_median_um` by mass, both at the atomiser; not there for a print given as layers |
//! | `layers` | only for a print given as layers: list of `name`, `pause_s`, `conditions` and `budget` of each |
//! | `figures` | list of `figure`, `place` (null: whole print), `mean`, `interval_95` (of extremes that of the median), `sd`, `median` and `largest` of the prints (extremes of a print only), `prints`, `unit`, `note`, `meaning`, and `distribution` (null: fewer than 20 prints, or all the same) |
//! | `distribution` | `p5`, `p50`, `p95`; `tolerance` (`low`, `high`: between them lies at least the share `content` of all prints with 95 % confidence, `basis`); `explained`, a list of `input`, `share`, `interval_95`, `direction`; `unexplained` with `share`, `interval_95` (shares of the variance between prints, 0 to 1) |
//! | `limits` | list of `figure`, `resolution_um` (null: of no squares), `implied` (by the role keep-out), `place`, `min`, `max`, `unit`, `mean`, `interval_95`, `lower_bound_prints` (prints of which only a lower bound is known; the mean then is one too), `met`, `prints`, `share_interval_95` of the share of prints that meet it (null: all prints decide together), `hits` (prints that said yes, of a probability; else null), `judged_bounds_95` (lower and upper bound, each at 95 %, by which `min` and `max` of a probability are judged; else null) |
//! | `varied` | keys of the inputs that differ between prints |
//! | `verdict` | `accepted` (null: no limits), `met`, `prints`, `share_interval_95`, `required_share` |
//! | `budget` | totals, rows and closure, in droplets, particles and pg; `powders` names the order of the lists |
//! | `electrodes` | list of printed electrodes: `region`, `role`, `currents`, a list of `c_rate`, `current_na`, `interval_95` |
//! | `bridging` | `prints` and `gaps`, a list of `between`, `width_um`, `bridged_prints`, `bridge_interval_95` (probability of a bridge), `largest_cluster_um` (how much of the gap it spans), `largest_cluster_particles`, `mean_spanned_percent`; null: fewer than two electrodes, or particles too many to keep |
//! | `cautions` | list of `severity` (`safety`, `caution`, `note`), `id`, `text` |
//! | `map` | `resolution_um` (of the figures), `pitch_um`, `origin_um` (lower left corner of the first pixel), `rows`, `columns`, `axes`, `files`, and `far`: where the tiles of the coarse map lie |
//!
//! Values are in the unit that stands beside them or ends their key; null means that there is no value. The file is the
//! same byte for byte when a run is repeated; what may differ (the clock) is in `run.json`.

use super::numbers::tidy;
use super::{differences, names};
use motefall_figures::{
    self as figures, Distribution, Estimate, Fate, Prediction, Severity, electrode_view, statistics,
};
use motefall_files::whole_folder::MARK;
use motefall_physics::inputs::{Layer, Role};
use serde::Serialize;
use serde_json::Value;

/// Version of the layout described in this module.
pub const FORMAT_VERSION: u32 = 3;

/// `summary.json`.
#[derive(Debug, Serialize)]
#[allow(missing_docs)] // the keys are described in the module's table
pub struct Summary<'a> {
    pub format: &'static str,
    pub format_version: u32,
    pub program: &'static str,
    pub program_version: &'static str,
    pub generator: &'a str,
    pub seed: u64,
    pub name: &'a str,
    pub note: &'a str,
    pub verdict: VerdictPart,
    pub limits: Vec<LimitPart<'a>>,
    pub cautions: Vec<CautionPart<'a>>,
    pub figures: Vec<FigurePart<'a>>,
    pub varied: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub conditions: Option<Conditions<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub layers: Vec<LayerSummary<'a>>,
    pub budget: BudgetPart<'a>,
    pub electrodes: Vec<ElectrodePart<'a>>,
    pub bridging: Option<BridgingPart<'a>>,
    pub map: MapPart,
    pub unverified: Vec<UnverifiedPart<'a>>,
    pub inputs: &'a Value,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct LayerSummary<'a> {
    pub name: &'a str,
    pub pause_s: Option<f64>,
    pub conditions: Conditions<'a>,
    pub budget: BudgetPart<'a>,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct VerdictPart {
    pub accepted: Option<bool>,
    pub met: u32,
    pub prints: u32,
    pub share_interval_95: [Option<f64>; 2],
    pub required_share: f64,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct LimitPart<'a> {
    pub figure: &'static str,
    pub resolution_um: Option<f64>,
    pub implied: bool,
    pub place: Option<&'a str>,
    pub min: Option<f64>,
    pub max: Option<f64>,
    pub unit: &'static str,
    pub mean: Option<f64>,
    pub interval_95: Option<[Option<f64>; 2]>,
    pub lower_bound_prints: u32,
    pub met: u32,
    pub prints: u32,
    pub share_interval_95: Option<[Option<f64>; 2]>,
    pub hits: Option<u32>,
    pub judged_bounds_95: Option<[Option<f64>; 2]>,
}

/// Edge of the squares that a figure is averaged over, um; `None` if it is not.
fn resolution(p: &Prediction, kind: &motefall_figures::FigureKind) -> Option<f64> {
    kind.is_of_squares().then(|| tidy(p.inputs.map.resolution * 1e6))
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct DistributionPart {
    pub p5: Option<f64>,
    pub p50: Option<f64>,
    pub p95: Option<f64>,
    pub tolerance: TolerancePart,
    pub explained: Vec<SharePart>,
    pub unexplained: Option<SharePart>,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct TolerancePart {
    pub low: Option<f64>,
    pub high: Option<f64>,
    pub content: Option<f64>,
    pub basis: &'static str,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct SharePart {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub input: Option<String>,
    pub share: Option<f64>,
    pub interval_95: [Option<f64>; 2],
    #[serde(skip_serializing_if = "Option::is_none")]
    pub direction: Option<&'static str>,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct FigurePart<'a> {
    pub figure: &'static str,
    pub resolution_um: Option<f64>,
    pub place: Option<&'a str>,
    pub mean: Option<f64>,
    pub interval_95: Option<[Option<f64>; 2]>,
    pub sd: Option<f64>,
    pub median: Option<f64>,
    pub largest: Option<f64>,
    pub prints: u32,
    pub lower_bound_prints: u32,
    pub unit: &'static str,
    pub note: Option<&'a str>,
    pub meaning: &'static str,
    pub distribution: Option<DistributionPart>,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct CautionPart<'a> {
    pub severity: &'static str,
    pub id: &'static str,
    pub text: &'a str,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct UnverifiedPart<'a> {
    pub key: &'a str,
    pub value: &'a str,
    pub advice: &'a str,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct Conditions<'a> {
    pub gas_density_kg_m3: Option<f64>,
    pub gas_viscosity_upa_s: Option<f64>,
    pub gas_mean_free_path_nm: Option<f64>,
    pub carrier_flow_ml_min: Option<f64>,
    pub sheath_flow_ml_min: Option<f64>,
    pub exit_speed_m_s: Option<f64>,
    /// On the axis.
    pub centre_speed_m_s: Option<f64>,
    pub reynolds: Option<f64>,
    pub mach: Option<f64>,
    pub stand_off_nozzle_diameters: Option<f64>,
    pub core_radius_um: Option<f64>,
    pub tube_time_s: Option<f64>,
    pub head_time_s: Option<f64>,
    pub droplet_median_um: Option<f64>,
    pub droplet_mass_median_um: Option<f64>,
    pub droplet_mean_volume_fl: Option<f64>,
    pub droplet_rate_per_s: Option<f64>,
    pub print_time_s: Option<f64>,
    pub open_time_s: Option<f64>,
    pub ink_used_ul: Option<f64>,
    pub ink_density_kg_m3: Option<f64>,
    pub liquid_left_percent: Option<f64>,
    pub exit_saturation_percent: Option<f64>,
    pub powders: Vec<PowderPart<'a>>,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct PowderPart<'a> {
    pub name: &'a str,
    pub printable_percent: Option<f64>,
    pub particles_per_droplet: Option<f64>,
    pub mean_free_path_nm: Option<f64>,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct BudgetPart<'a> {
    pub powders: Vec<&'a str>,
    pub droplets: u64,
    pub particles: &'a [u64],
    pub mass_pg: Vec<Option<f64>>,
    pub closure: f64,
    pub droplets_not_simulated: Option<f64>,
    pub rows: Vec<BudgetLine<'a>>,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct BudgetLine<'a> {
    pub fate: &'static str,
    pub region: Option<&'a str>,
    pub droplets: u64,
    pub particles: &'a [u64],
    pub mass_pg: Vec<Option<f64>>,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct ElectrodePart<'a> {
    pub region: &'a str,
    pub role: &'static str,
    pub currents: Vec<CurrentPart>,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct CurrentPart {
    pub c_rate: f64,
    pub current_na: Option<f64>,
    pub interval_95: Option<[Option<f64>; 2]>,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct BridgingPart<'a> {
    pub prints: u32,
    pub gaps: Vec<GapPart<'a>>,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct GapPart<'a> {
    pub between: [&'a str; 2],
    pub width_um: Option<f64>,
    pub bridged_prints: u32,
    pub bridge_interval_95: [Option<f64>; 2],
    pub largest_cluster_um: Option<f64>,
    pub largest_cluster_particles: u64,
    pub mean_spanned_percent: Option<f64>,
}

/// Where the tiles of the coarse map lie.
#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct FarPart {
    pub file: &'static str,
    pub tile_um: f64,
    pub origin_um: [f64; 2],
    pub rows: usize,
    pub columns: usize,
    pub prints: u32,
}

/// `map` in the summary and `maps/grid.json`.
#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct MapPart {
    pub resolution_um: f64,
    pub pitch_um: f64,
    pub origin_um: [f64; 2],
    pub rows: usize,
    pub columns: usize,
    pub axes: &'static str,
    pub files: Vec<MapFile>,
    pub far: FarPart,
}

#[derive(Debug, Serialize)]
#[allow(missing_docs)]
pub struct MapFile {
    pub file: String,
    pub what: String,
    pub unit: &'static str,
}

/// A number for a file: tidy, or null.
fn number(value: f64) -> Option<f64> {
    value.is_finite().then(|| tidy(value))
}

fn interval(estimate: Option<&Estimate>, scale: f64) -> Option<[Option<f64>; 2]> {
    estimate.and_then(|e| e.interval).map(|i| i.map(|v| number(v * scale)))
}

/// A distribution without its single values, in the figure's unit.
fn distribution(d: &Distribution, scale: f64, layers: &[Layer]) -> DistributionPart {
    let [p5, p50, p95] = d.percentiles.map(|v| number(v * scale));
    let share = |[share, low, high]: [f64; 3], input, direction| SharePart {
        input,
        share: number(share),
        interval_95: [low, high].map(number),
        direction,
    };
    DistributionPart {
        p5,
        p50,
        p95,
        tolerance: TolerancePart {
            low: number(d.tolerance.interval[0] * scale),
            high: number(d.tolerance.interval[1] * scale),
            content: number(d.tolerance.content),
            basis: differences::basis(&d.tolerance),
        },
        explained: d
            .explained
            .iter()
            .map(|e| share(e.share, Some(e.input.key(layers)), Some(differences::direction(e))))
            .collect(),
        unexplained: d.unexplained.map(|s| share(s, None, None)),
    }
}

/// 95 % interval of the probability of a bridge; without any, up to the upper bound.
pub fn bridge_interval(bridged: u32, prints: u32) -> [f64; 2] {
    match bridged {
        0 => [0.0, statistics::zero_hit_bound(prints)],
        _ => statistics::wilson_95(bridged, prints),
    }
}

/// Words of a fate, and the region if it is one.
pub fn fate_words(fate: &Fate) -> (&'static str, Option<&str>) {
    match fate {
        Fate::TubeSettling => ("settled in the tube", None),
        Fate::TubeDiffusion => ("diffused to the tube wall", None),
        Fate::TubeBend => ("hit a tube bend", None),
        Fate::HeadWall => ("hit the wall of the head", None),
        Fate::Escaped => ("carried away by the gas", None),
        Fate::Bounced => ("bounced off", None),
        Fate::Region(name) => ("landed on", Some(name)),
        Fate::Elsewhere => ("landed on the chip outside every region", None),
        Fate::OffChip => ("landed beyond the chip", None),
    }
}

/// Word of a severity.
pub fn severity_word(severity: Severity) -> &'static str {
    match severity {
        Severity::Safety => "safety",
        Severity::Caution => "caution",
        Severity::Note => "note",
    }
}

/// Cautions, gravest first, otherwise in order.
pub fn cautions(p: &Prediction) -> Vec<&motefall_figures::Caution> {
    let mut all: Vec<_> = p.cautions.iter().collect();
    all.sort_by_key(|c| std::cmp::Reverse(c.severity()));
    all
}

/// The maps of a prediction and the grid they share.
pub fn map_part(p: &Prediction) -> MapPart {
    let grid = &p.maps.grid;
    MapPart {
        resolution_um: tidy(p.inputs.map.resolution * 1e6),
        pitch_um: tidy(grid.pitch * 1e6),
        origin_um: grid.origin.map(|o| tidy(o * 1e6)),
        rows: grid.rows,
        columns: grid.columns,
        axes: "array[row, column]; row 0 lies at the lowest y, column 0 at the lowest x; origin_um is the lower left \
               corner of array[0, 0]; pictures have the highest y on top",
        files: names::maps(p).into_iter().map(|m| MapFile { file: m.npy(), what: m.what, unit: m.unit }).collect(),
        far: FarPart {
            file: "far_particles.npy",
            tile_um: tidy(p.far.grid().pitch * 1e6),
            origin_um: p.far.grid().origin.map(|o| tidy(o * 1e6)),
            rows: p.far.grid().rows,
            columns: p.far.grid().columns,
            prints: p.far.prints(),
        },
    }
}

/// What follows from the inputs of a layer.
fn conditions<'a>(layer: &'a Layer, c: &figures::Conditions) -> Conditions<'a> {
    let at = |list: &[f64], i: usize, scale: f64| list.get(i).and_then(|v| number(v * scale));
    Conditions {
        gas_density_kg_m3: number(c.gas_density),
        gas_viscosity_upa_s: number(c.gas_viscosity * 1e6),
        gas_mean_free_path_nm: number(c.mean_free_path * 1e9),
        carrier_flow_ml_min: number(c.carrier_flow * 6e7),
        sheath_flow_ml_min: number(c.sheath_flow * 6e7),
        exit_speed_m_s: number(c.exit_speed),
        centre_speed_m_s: number(c.centre_speed),
        reynolds: number(c.reynolds),
        mach: number(c.mach),
        stand_off_nozzle_diameters: number(c.stand_off_ratio),
        core_radius_um: number(c.core_radius * 1e6),
        tube_time_s: number(c.tube_time),
        head_time_s: number(c.head_time),
        droplet_median_um: number(c.droplet_median * 1e6),
        droplet_mass_median_um: number(c.droplet_mass_median * 1e6),
        droplet_mean_volume_fl: number(c.droplet_mean_volume * 1e18),
        droplet_rate_per_s: number(c.droplet_rate),
        print_time_s: number(c.print_time),
        open_time_s: number(c.open_time),
        ink_used_ul: number(c.ink_used * 1e9),
        ink_density_kg_m3: number(c.ink_density),
        liquid_left_percent: number(c.liquid_left * 100.0),
        exit_saturation_percent: number(c.exit_saturation * 100.0),
        powders: layer
            .ink
            .powders
            .iter()
            .enumerate()
            .map(|(i, powder)| PowderPart {
                name: &powder.name,
                printable_percent: at(&c.printable_share, i, 100.0),
                particles_per_droplet: at(&c.particles_per_droplet, i, 1.0),
                mean_free_path_nm: at(&c.powder_mean_free_path, i, 1e9),
            })
            .collect(),
    }
}

/// A budget, its lists in the order of the print's powders.
fn budget<'a>(p: &'a Prediction, b: &'a figures::Budget) -> BudgetPart<'a> {
    let picograms = |mass: &[f64]| mass.iter().map(|m| number(m * 1e15)).collect::<Vec<_>>();
    BudgetPart {
        powders: p.inputs.powders().into_iter().map(|powder| powder.name.as_str()).collect(),
        droplets: b.droplets,
        particles: &b.particles,
        mass_pg: picograms(&b.mass),
        closure: b.closure,
        droplets_not_simulated: number(b.not_simulated),
        rows: b
            .rows
            .iter()
            .map(|r| {
                let (fate, region) = fate_words(&r.fate);
                BudgetLine { fate, region, droplets: r.droplets, particles: &r.particles, mass_pg: picograms(&r.mass) }
            })
            .collect(),
    }
}

/// The summary of a prediction made from a resolved scenario.
pub fn summary<'a>(p: &'a Prediction, inputs: &'a Value) -> Summary<'a> {
    let layered = p.inputs.is_layered();
    Summary {
        format: MARK,
        format_version: FORMAT_VERSION,
        program: "motefall",
        program_version: env!("CARGO_PKG_VERSION"),
        generator: &p.generator,
        seed: p.inputs.seed,
        name: &p.inputs.name,
        note: &p.inputs.note,
        verdict: VerdictPart {
            accepted: p.verdict.accepted,
            met: p.verdict.met,
            prints: p.verdict.n,
            share_interval_95: p.verdict.share_interval.map(number),
            required_share: p.inputs.acceptance.required_share,
        },
        limits: p
            .limits
            .iter()
            .enumerate()
            .map(|(place, l)| LimitPart {
                figure: l.kind.id,
                resolution_um: resolution(p, l.kind),
                implied: p.inputs.acceptance.is_implied(place),
                place: l.limit.place.as_deref(),
                min: l.limit.min.and_then(|v| number(v * l.kind.per_si)),
                max: l.limit.max.and_then(|v| number(v * l.kind.per_si)),
                unit: l.kind.unit,
                mean: l.estimate.and_then(|e| number(e.mean * l.kind.per_si)),
                interval_95: interval(l.estimate.as_ref(), l.kind.per_si),
                lower_bound_prints: l.estimate.map_or(0, |e| e.at_least),
                met: l.met,
                prints: l.n,
                share_interval_95: l.share_interval().filter(|_| !p.is_undecided(l)).map(|i| i.map(number)),
                hits: l.share.map(|share| share.hits),
                judged_bounds_95: l.share.map(|share| share.bounds.map(number)),
            })
            .collect(),
        cautions: cautions(p)
            .into_iter()
            .map(|c| CautionPart { severity: severity_word(c.severity()), id: c.kind.id(), text: &c.text })
            .collect(),
        figures: p
            .figures
            .iter()
            .map(|row| FigurePart {
                figure: row.kind.id,
                resolution_um: resolution(p, row.kind),
                place: row.place.as_deref(),
                mean: row.estimate.and_then(|e| number(e.mean * row.kind.per_si)),
                interval_95: interval(row.estimate.as_ref(), row.kind.per_si),
                sd: row.estimate.and_then(|e| e.sd).and_then(|s| number(s * row.kind.per_si)),
                median: row.estimate.and_then(|e| e.extremes).and_then(|e| number(e[0] * row.kind.per_si)),
                largest: row.estimate.and_then(|e| e.extremes).and_then(|e| number(e[1] * row.kind.per_si)),
                prints: row.estimate.map_or(0, |e| e.n),
                lower_bound_prints: row.estimate.map_or(0, |e| e.at_least),
                unit: row.kind.unit,
                note: row.note.as_deref(),
                meaning: row.kind.meaning,
                distribution: row.distribution.as_ref().map(|d| distribution(d, row.kind.per_si, &p.inputs.layers)),
            })
            .collect(),
        varied: p.draws.inputs.iter().map(|input| input.key(&p.inputs.layers)).collect(),
        conditions: p.layers.first().filter(|_| !layered).map(|part| conditions(&p.inputs.layers[0], &part.conditions)),
        layers: p
            .inputs
            .layers
            .iter()
            .zip(&p.layers)
            .filter(|_| layered)
            .map(|(layer, part)| LayerSummary {
                name: &layer.name,
                pause_s: number(layer.pause),
                conditions: conditions(layer, &part.conditions),
                budget: budget(p, &part.budget),
            })
            .collect(),
        budget: budget(p, &p.budget),
        electrodes: electrode_view::electrodes(&p.inputs, &p.figures)
            .into_iter()
            .map(|electrode| ElectrodePart {
                region: electrode.region,
                role: if electrode.role == Role::Counter { "counter" } else { "target" },
                currents: electrode
                    .currents
                    .iter()
                    .map(|(rate, current)| CurrentPart {
                        c_rate: *rate,
                        current_na: current.and_then(|e| number(e.mean * 1e9)),
                        interval_95: interval(current.as_ref(), 1e9),
                    })
                    .collect(),
            })
            .collect(),
        bridging: p.bridging.as_ref().map(|bridging| BridgingPart {
            prints: bridging.prints,
            gaps: bridging
                .gaps
                .iter()
                .map(|gap| GapPart {
                    between: [&gap.between[0], &gap.between[1]],
                    width_um: number(gap.width * 1e6),
                    bridged_prints: gap.bridged,
                    bridge_interval_95: bridge_interval(gap.bridged, bridging.prints).map(number),
                    largest_cluster_um: number(gap.largest.extent * 1e6),
                    largest_cluster_particles: gap.largest.particles,
                    mean_spanned_percent: number(gap.mean_spanned * 100.0),
                })
                .collect(),
        }),
        map: map_part(p),
        unverified: p
            .inputs
            .unverified
            .iter()
            .map(|u| UnverifiedPart { key: &u.key, value: &u.value, advice: &u.advice })
            .collect(),
        inputs,
    }
}
