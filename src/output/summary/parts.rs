//! The shape of `summary.json`; its keys are described above.

#![allow(missing_docs)]

use serde::Serialize;
use serde_json::Value;

/// `summary.json`.
#[derive(Debug, Serialize)]
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
    pub conditions: Option<ConditionsPart<'a>>,
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
pub struct LayerSummary<'a> {
    pub name: &'a str,
    pub pause_s: Option<f64>,
    pub conditions: ConditionsPart<'a>,
    pub budget: BudgetPart<'a>,
}

#[derive(Debug, Serialize)]
pub struct VerdictPart {
    pub accepted: Option<bool>,
    pub met: u32,
    pub prints: u32,
    pub share_interval_95: [Option<f64>; 2],
    pub required_share: f64,
}

#[derive(Debug, Serialize)]
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

#[derive(Debug, Serialize)]
pub struct DistributionPart {
    pub p5: Option<f64>,
    pub p50: Option<f64>,
    pub p95: Option<f64>,
    pub tolerance: TolerancePart,
    pub explained: Vec<SharePart>,
    pub unexplained: Option<SharePart>,
}

#[derive(Debug, Serialize)]
pub struct TolerancePart {
    pub low: Option<f64>,
    pub high: Option<f64>,
    pub content: Option<f64>,
    pub basis: &'static str,
}

#[derive(Debug, Serialize)]
pub struct SharePart {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub input: Option<String>,
    pub share: Option<f64>,
    pub interval_95: [Option<f64>; 2],
    #[serde(skip_serializing_if = "Option::is_none")]
    pub direction: Option<&'static str>,
}

#[derive(Debug, Serialize)]
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
pub struct CautionPart<'a> {
    pub severity: &'static str,
    pub id: &'static str,
    pub text: &'a str,
}

#[derive(Debug, Serialize)]
pub struct UnverifiedPart<'a> {
    pub key: &'a str,
    pub value: &'a str,
    pub advice: &'a str,
}

#[derive(Debug, Serialize)]
pub struct ConditionsPart<'a> {
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
pub struct PowderPart<'a> {
    pub name: &'a str,
    pub printable_percent: Option<f64>,
    pub particles_per_droplet: Option<f64>,
    pub mean_free_path_nm: Option<f64>,
}

#[derive(Debug, Serialize)]
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
pub struct BudgetLine<'a> {
    pub fate: &'static str,
    pub region: Option<&'a str>,
    pub droplets: u64,
    pub particles: &'a [u64],
    pub mass_pg: Vec<Option<f64>>,
}

#[derive(Debug, Serialize)]
pub struct ElectrodePart<'a> {
    pub region: &'a str,
    pub role: &'static str,
    pub currents: Vec<CurrentPart>,
}

#[derive(Debug, Serialize)]
pub struct CurrentPart {
    pub c_rate: f64,
    pub current_na: Option<f64>,
    pub interval_95: Option<[Option<f64>; 2]>,
}

#[derive(Debug, Serialize)]
pub struct BridgingPart<'a> {
    pub prints: u32,
    pub gaps: Vec<GapPart<'a>>,
}

#[derive(Debug, Serialize)]
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
pub struct MapPart {
    pub resolution_um: f64,
    pub pitch_um: f64,
    pub origin_um: [f64; 2],
    pub rows: usize,
    pub columns: usize,
    pub axes: &'static str,
    pub files: Vec<MapFilePart>,
    pub far: FarPart,
}

#[derive(Debug, Serialize)]
pub struct MapFilePart {
    pub file: String,
    pub what: String,
    pub unit: &'static str,
}
