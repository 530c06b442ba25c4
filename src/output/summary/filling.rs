//! From a prediction to `summary.json`.

use super::*;
use crate::numbers::tidy;
use crate::words::{bridge_interval, cautions, fate_words, severity_word};
use crate::{differences, names};
use motefall_figures::{self as figures, Distribution, Estimate, FigureRow, LimitOutcome, Prediction, electrode_view};
use motefall_files::whole_folder::MARK;
use motefall_physics::inputs::{Layer, Role};
use serde_json::Value;

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
        limits: (0..).zip(&p.limits).map(|(place, limit)| limit_part(p, place, limit)).collect(),
        cautions: cautions(p)
            .into_iter()
            .map(|c| CautionPart { severity: severity_word(c.severity()), id: c.kind.id(), text: &c.text })
            .collect(),
        figures: p.figures.iter().map(|row| figure_part(p, row)).collect(),
        varied: p.draws.inputs.iter().map(|input| input.key(&p.inputs.layers)).collect(),
        conditions: p.layers.first().filter(|_| !layered).map(|part| conditions(&p.inputs.layers[0], &part.conditions)),
        layers: if layered { layers(p) } else { vec![] },
        budget: budget(p, &p.budget),
        electrodes: electrodes(p),
        bridging: p.bridging.as_ref().map(bridging),
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

/// A limit and what came of it; `place` is its number.
fn limit_part<'a>(p: &'a Prediction, place: usize, l: &'a LimitOutcome) -> LimitPart<'a> {
    LimitPart {
        figure: l.kind().id,
        resolution_um: resolution(p, l.kind()),
        implied: p.inputs.acceptance.is_implied(place),
        place: l.limit.place.as_deref(),
        min: l.limit.min.and_then(|v| number(v * l.kind().per_si)),
        max: l.limit.max.and_then(|v| number(v * l.kind().per_si)),
        unit: l.kind().unit,
        mean: l.estimate.and_then(|e| number(e.mean * l.kind().per_si)),
        interval_95: interval(l.estimate.as_ref(), l.kind().per_si),
        lower_bound_prints: l.estimate.map_or(0, |e| e.at_least),
        met: l.met,
        prints: l.n,
        share_interval_95: l.share_interval().filter(|_| !p.is_undecided(l)).map(|i| i.map(number)),
        hits: l.share.map(|share| share.hits),
        judged_bounds_95: l.share.map(|share| share.bounds.map(number)),
    }
}

fn figure_part<'a>(p: &'a Prediction, row: &'a FigureRow) -> FigurePart<'a> {
    let scale = row.kind.per_si;
    FigurePart {
        figure: row.kind.id,
        resolution_um: resolution(p, row.kind),
        place: row.place.as_deref(),
        mean: row.estimate.and_then(|e| number(e.mean * scale)),
        interval_95: interval(row.estimate.as_ref(), scale),
        sd: row.estimate.and_then(|e| e.sd).and_then(|s| number(s * scale)),
        median: row.estimate.and_then(|e| e.extremes).and_then(|e| number(e[0] * scale)),
        largest: row.estimate.and_then(|e| e.extremes).and_then(|e| number(e[1] * scale)),
        expected: row.expected.as_ref().and_then(|expected| number(expected.mean * scale)),
        sd_unknown: row.from_unknown.and_then(|sd| number(sd * scale)),
        prints: row.estimate.map_or(0, |e| e.n),
        lower_bound_prints: row.estimate.map_or(0, |e| e.at_least),
        unit: row.kind.unit,
        note: row.note.as_deref(),
        meaning: row.kind.meaning,
        distribution: row.distribution.as_ref().map(|d| distribution(d, scale, &p.inputs.layers)),
    }
}

fn layers(p: &Prediction) -> Vec<LayerSummary<'_>> {
    p.inputs
        .layers
        .iter()
        .zip(&p.layers)
        .map(|(layer, part)| LayerSummary {
            name: &layer.name,
            pause_s: number(layer.pause),
            conditions: conditions(layer, &part.conditions),
            budget: budget(p, &part.budget),
        })
        .collect()
}

fn electrodes(p: &Prediction) -> Vec<ElectrodePart<'_>> {
    let current = |(rate, current): &(f64, Option<Estimate>)| CurrentPart {
        c_rate: *rate,
        current_na: current.and_then(|e| number(e.mean * 1e9)),
        interval_95: interval(current.as_ref(), 1e9),
    };
    electrode_view::electrodes(&p.inputs, &p.figures)
        .into_iter()
        .map(|electrode| ElectrodePart {
            region: electrode.region,
            role: if electrode.role == Role::Counter { "counter" } else { "target" },
            currents: electrode.currents.iter().map(current).collect(),
        })
        .collect()
}

fn bridging(bridging: &figures::Bridging) -> BridgingPart<'_> {
    BridgingPart {
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
    }
}

/// Edge of the squares that a figure is averaged over, um; `None` if it is not.
fn resolution(p: &Prediction, kind: &figures::FigureKind) -> Option<f64> {
    kind.is_of_squares().then(|| tidy(p.inputs.map.resolution * 1e6))
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
        files: names::maps(p).into_iter().map(|m| MapFilePart { file: m.npy(), what: m.what, unit: m.unit }).collect(),
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
fn conditions<'a>(layer: &'a Layer, c: &figures::Conditions) -> ConditionsPart<'a> {
    let at = |list: &[f64], i: usize, scale: f64| list.get(i).and_then(|v| number(v * scale));
    ConditionsPart {
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
