//! The shape of `summary.json`; its keys are described above.

#![allow(missing_docs)]

use serde::Serialize;
use serde_json::Value;

/// `summary.json`.
#[derive(Debug, Serialize)]
pub struct Summary<'a> {
    pub(crate) format: &'static str,
    pub(crate) format_version: u32,
    pub(crate) program: &'static str,
    pub(crate) program_version: &'static str,
    pub(crate) generator: &'a str,
    pub(crate) seed: u64,
    pub(crate) name: &'a str,
    pub(crate) note: &'a str,
    pub(crate) verdict: VerdictPart,
    pub(crate) limits: Vec<LimitPart<'a>>,
    pub(crate) cautions: Vec<CautionPart<'a>>,
    pub(crate) figures: Vec<FigurePart<'a>>,
    pub(crate) varied: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) conditions: Option<ConditionsPart<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) layers: Vec<LayerSummary<'a>>,
    pub(crate) budget: BudgetPart<'a>,
    pub(crate) electrodes: Vec<ElectrodePart<'a>>,
    pub(crate) bridging: Option<BridgingPart<'a>>,
    pub(crate) map: MapPart,
    pub(crate) unverified: Vec<UnverifiedPart<'a>>,
    pub(crate) inputs: &'a Value,
}

#[derive(Debug, Serialize)]
pub(crate) struct LayerSummary<'a> {
    pub(crate) name: &'a str,
    pub(crate) pause_s: Option<f64>,
    pub(crate) conditions: ConditionsPart<'a>,
    pub(crate) budget: BudgetPart<'a>,
}

#[derive(Debug, Serialize)]
pub(crate) struct VerdictPart {
    pub(crate) accepted: Option<bool>,
    pub(crate) met: u32,
    pub(crate) prints: u32,
    pub(crate) share_interval_95: [Option<f64>; 2],
    pub(crate) required_share: f64,
}

#[derive(Debug, Serialize)]
pub(crate) struct LimitPart<'a> {
    pub(crate) figure: &'static str,
    pub(crate) resolution_um: Option<f64>,
    pub(crate) implied: bool,
    pub(crate) place: Option<&'a str>,
    pub(crate) min: Option<f64>,
    pub(crate) max: Option<f64>,
    pub(crate) unit: &'static str,
    pub(crate) mean: Option<f64>,
    pub(crate) interval_95: Option<[Option<f64>; 2]>,
    pub(crate) lower_bound_prints: u32,
    pub(crate) met: u32,
    pub(crate) prints: u32,
    pub(crate) share_interval_95: Option<[Option<f64>; 2]>,
    pub(crate) hits: Option<u32>,
    pub(crate) judged_bounds_95: Option<[Option<f64>; 2]>,
}

#[derive(Debug, Serialize)]
pub(crate) struct DistributionPart {
    pub(crate) p5: Option<f64>,
    pub(crate) p50: Option<f64>,
    pub(crate) p95: Option<f64>,
    pub(crate) tolerance: TolerancePart,
    pub(crate) explained: Vec<SharePart>,
    pub(crate) unexplained: Option<SharePart>,
}

#[derive(Debug, Serialize)]
pub(crate) struct TolerancePart {
    pub(crate) low: Option<f64>,
    pub(crate) high: Option<f64>,
    pub(crate) content: Option<f64>,
    pub(crate) basis: &'static str,
}

#[derive(Debug, Serialize)]
pub(crate) struct SharePart {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) input: Option<String>,
    pub(crate) share: Option<f64>,
    pub(crate) interval_95: [Option<f64>; 2],
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) direction: Option<&'static str>,
}

#[derive(Debug, Serialize)]
pub(crate) struct FigurePart<'a> {
    pub(crate) figure: &'static str,
    pub(crate) resolution_um: Option<f64>,
    pub(crate) place: Option<&'a str>,
    pub(crate) mean: Option<f64>,
    pub(crate) interval_95: Option<[Option<f64>; 2]>,
    pub(crate) sd: Option<f64>,
    pub(crate) median: Option<f64>,
    pub(crate) largest: Option<f64>,
    pub(crate) expected: Option<f64>,
    pub(crate) sd_unknown: Option<f64>,
    pub(crate) prints: u32,
    pub(crate) lower_bound_prints: u32,
    pub(crate) unit: &'static str,
    pub(crate) note: Option<&'a str>,
    pub(crate) meaning: &'static str,
    pub(crate) distribution: Option<DistributionPart>,
}

#[derive(Debug, Serialize)]
pub(crate) struct CautionPart<'a> {
    pub(crate) severity: &'static str,
    pub(crate) id: &'static str,
    pub(crate) text: &'a str,
}

#[derive(Debug, Serialize)]
pub(crate) struct UnverifiedPart<'a> {
    pub(crate) key: &'a str,
    pub(crate) value: &'a str,
    pub(crate) advice: &'a str,
}

#[derive(Debug, Serialize)]
pub(crate) struct ConditionsPart<'a> {
    pub(crate) gas_density_kg_m3: Option<f64>,
    pub(crate) gas_viscosity_upa_s: Option<f64>,
    pub(crate) gas_mean_free_path_nm: Option<f64>,
    pub(crate) carrier_flow_ml_min: Option<f64>,
    pub(crate) sheath_flow_ml_min: Option<f64>,
    pub(crate) exit_speed_m_s: Option<f64>,
    /// On the axis.
    pub(crate) centre_speed_m_s: Option<f64>,
    pub(crate) reynolds: Option<f64>,
    pub(crate) mach: Option<f64>,
    pub(crate) stand_off_nozzle_diameters: Option<f64>,
    pub(crate) core_radius_um: Option<f64>,
    pub(crate) tube_time_s: Option<f64>,
    pub(crate) head_time_s: Option<f64>,
    pub(crate) droplet_median_um: Option<f64>,
    pub(crate) droplet_mass_median_um: Option<f64>,
    pub(crate) droplet_mean_volume_fl: Option<f64>,
    pub(crate) droplet_rate_per_s: Option<f64>,
    pub(crate) print_time_s: Option<f64>,
    pub(crate) open_time_s: Option<f64>,
    pub(crate) ink_used_ul: Option<f64>,
    pub(crate) ink_density_kg_m3: Option<f64>,
    pub(crate) liquid_left_percent: Option<f64>,
    pub(crate) exit_saturation_percent: Option<f64>,
    pub(crate) powders: Vec<PowderPart<'a>>,
}

#[derive(Debug, Serialize)]
pub(crate) struct PowderPart<'a> {
    pub(crate) name: &'a str,
    pub(crate) printable_percent: Option<f64>,
    pub(crate) particles_per_droplet: Option<f64>,
    pub(crate) mean_free_path_nm: Option<f64>,
}

#[derive(Debug, Serialize)]
pub(crate) struct BudgetPart<'a> {
    pub(crate) powders: Vec<&'a str>,
    pub(crate) droplets: u64,
    pub(crate) particles: &'a [u64],
    pub(crate) mass_pg: Vec<Option<f64>>,
    pub(crate) closure: f64,
    pub(crate) droplets_not_simulated: Option<f64>,
    pub(crate) rows: Vec<BudgetLine<'a>>,
}

#[derive(Debug, Serialize)]
pub(crate) struct BudgetLine<'a> {
    pub(crate) fate: &'static str,
    pub(crate) region: Option<&'a str>,
    pub(crate) droplets: u64,
    pub(crate) particles: &'a [u64],
    pub(crate) mass_pg: Vec<Option<f64>>,
}

#[derive(Debug, Serialize)]
pub(crate) struct ElectrodePart<'a> {
    pub(crate) region: &'a str,
    pub(crate) role: &'static str,
    pub(crate) currents: Vec<CurrentPart>,
}

#[derive(Debug, Serialize)]
pub(crate) struct CurrentPart {
    pub(crate) c_rate: f64,
    pub(crate) current_na: Option<f64>,
    pub(crate) interval_95: Option<[Option<f64>; 2]>,
}

#[derive(Debug, Serialize)]
pub(crate) struct BridgingPart<'a> {
    pub(crate) prints: u32,
    pub(crate) gaps: Vec<GapPart<'a>>,
}

#[derive(Debug, Serialize)]
pub(crate) struct GapPart<'a> {
    pub(crate) between: [&'a str; 2],
    pub(crate) width_um: Option<f64>,
    pub(crate) bridged_prints: u32,
    pub(crate) bridge_interval_95: [Option<f64>; 2],
    pub(crate) largest_cluster_um: Option<f64>,
    pub(crate) largest_cluster_particles: u64,
    pub(crate) mean_spanned_percent: Option<f64>,
}

/// Where the tiles of the coarse map lie.
#[derive(Debug, Serialize)]
pub(crate) struct FarPart {
    pub(crate) file: &'static str,
    pub(crate) tile_um: f64,
    pub(crate) origin_um: [f64; 2],
    pub(crate) rows: usize,
    pub(crate) columns: usize,
    pub(crate) prints: u32,
}

/// `map` in the summary and `maps/grid.json`.
#[derive(Debug, Serialize)]
pub struct MapPart {
    pub(crate) resolution_um: f64,
    pub(crate) pitch_um: f64,
    pub(crate) origin_um: [f64; 2],
    pub(crate) rows: usize,
    pub(crate) columns: usize,
    pub(crate) axes: &'static str,
    pub(crate) files: Vec<MapFilePart>,
    pub(crate) far: FarPart,
}

#[derive(Debug, Serialize)]
pub(crate) struct MapFilePart {
    pub(crate) file: String,
    pub(crate) what: String,
    pub(crate) unit: &'static str,
}
