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
//! | `figures` | list of `figure`, `place` (null: whole print), `mean`, `interval_95` (of extremes that of the median), `sd`, `median` and `largest` of the prints (extremes of a print only), `expected` without chance (null: only prints tell), `sd_unknown` the part of `sd` that a calibration leaves unknown (null: none, or only prints tell), `prints`, `unit`, `note`, `meaning`, and `distribution` (null: fewer than 20 prints, or all the same) |
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

mod filling;
mod parts;

pub use filling::{map_part, summary};
pub use parts::*;

/// Version of the layout described in this module.
pub(crate) const FORMAT_VERSION: u32 = 3;
