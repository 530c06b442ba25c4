//! Writes a prediction down: report, summary, tables, maps, terminal text.
//!
//! A result is a folder:
//!
//! | file | what it holds |
//! |---|---|
//! | `report.html` | the report, one file that needs no network |
//! | `summary.json` | everything but the maps, for machines; described in [`summary`] |
//! | `figures.csv` | `figure, name, place, mean, low_95, high_95, sd_between_prints, prints, unit, note`; from 20 prints on `p5, p50, p95, tolerance_low, tolerance_high` (at least `tolerance_content_percent` of all prints with 95 % confidence), `tolerance_basis`; `low_95, high_95` of extremes are those of the median; `expected` the mean without chance; `control_variate_mean, control_variate_low_95, control_variate_high_95` the mean freed of what the drawn inputs happened to do, and `variance_saved_percent` by it, where that is 10 % or more |
//! | `prints.csv` | from 20 prints on, one row a print: `print`, the deviation of each varied input (`stand_off_um`, ...), every figure (`coverage_percent [place]`) |
//! | `knobs.csv` | if asked for: `figure, place, setting, unit, value, unverified, per_unit, power, more, change_percent`: by how much an expected figure grows per unit of a setting, the power of it that it follows, how much more of it is told (in its unit), and what that does to the figure |
//! | `importance.csv` | if inputs vary: `figure, place, input, name, share_percent, low_95, high_95, direction`: which share of a figure's variance between prints each input explains; the last row of a figure is what none explains |
//! | `budget.csv` | `fate, region, droplets, solids_percent`, then per powder `particles_*` and `mass_pg_*`; the first row is what left the vial, the others add up to it |
//! | `sizes.csv` | `what, stage, lower_um, upper_um, count, share`: droplets by stage (counted, whatever their mass), each powder as received and as printed |
//! | `profile.csv` | `item, distance_um`, per powder `thickness_*_nm`, `thickness_total_nm, coverage_percent` |
//! | `landing.csv` | `diameter_um, landed_percent, radius_p5_um, radius_p50_um, radius_p95_um, impact_speed_m_s` |
//! | `maps/*.npy` | 32-bit floats, `array[row, column]`, row 0 at the lowest y: `thickness_<powder>_nm`, `height_nm`, `coverage` (0 to 1), `mean_free_paths` (depth for the beam, all layers together), `top_height_nm` if particles were kept |
//! | `maps/far_particles.npy` | 32-bit floats, particles per tile in a print, mean of the prints, over the whole chip; `maps/grid.json` says under `far` where the tiles lie |
//! | `maps/*.png` | the same as pictures, highest y on top; `maps/grid.json` names the value of the brightest colour |
//! | `maps/grid.json` | pitch, origin, axes, files, units |
//! | `particles.npz` | on request: `x_um, y_um, z_um, diameter_um, powder, droplet` |
//! | `run.json` | when and how long, `stages_s` by stage of the prints, added over all threads: the only file that differs when a run is repeated. `files` lists the other files of the result with length and checksum: these alone are removed when a result is replaced |
//!
//! The folder is put together beside its place and renamed, so it is complete or not there (see `motefall_files::whole_folder`).

pub mod advice;
mod arrays;
mod calibration;
mod differences;
mod error;
mod expected;
pub mod explore;
mod knobs;
mod names;
pub mod numbers;
mod page;
pub mod path;
mod picture;
pub mod plot;
mod report;
mod result;
pub mod sheet;
pub mod summary;
pub mod sweep;
mod tables;
pub mod terminal;
mod time;
pub mod words;

pub use error::OutputError;
pub use expected::expected_json;
pub use result::{Took, Written, json, write, write_calibration};
pub use time::timestamp;
