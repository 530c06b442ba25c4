//! Prints of several layers: heights, what prints share and draw, accounts, threads, sweeps. All inks are invented.

use crate::SIGMAS;
use crate::common::{Case, jets, setting};
use motefall_figures::Pile;
use motefall_physics::inputs::Inputs;
use motefall_physics::map::{Particle, PrintOutcome};
use motefall_run::Silent;
use motefall_run::print::{Keep, MOST_KEPT, Printer, print_parallel};
use motefall_run::spread;
use motefall_run::sweep::point::{Effort, Shared, run_point};
use motefall_scenario as scenario;
use std::path::Path;

/// Two inks with a powder in common on one pad; straight flight, so that no jet is solved.
const TWO: &str = r#"
name = "two layers"
note = "Invented."
seed = 4
prints = 2
tube = [{ length_mm = 100, bore_mm = 3, inclination_deg = 90 }]
region = [{ kind = "rectangle", name = "pad", role = "target", center_um = [0, 0], size_um = [60, 40] }]
flow = { carrier_sccm = 8, sheath_sccm = 24 }
head = { inlet_bore_mm = 1, mixing_length_mm = 10, half_angle_deg = 6, nozzle_um = 150, land_um = 150 }
flight = { stand_off_mm = 1.5, model = "straight" }
chip = { width_mm = 2, height_mm = 2 }
map = { pitch_um = 0.5, margin_um = 40 }
output = { noise_percent = 0, run_in_deficit_percent = 0 }
stage = { jitter_um = 0, shutter_open_ms = 0, shutter_close_ms = 0 }
ink.solvent = [{ name = "water" }]

[atomiser]
droplet_median_um = 2.2
droplet_gsd = 1.2
mist_load_ul_per_l = 10

[[layer]]
name = "oxide"
ink.powder = [
    { name = "alumina", mass_percent = 6, density_g_cm3 = 3.95, packing_fraction = 0.4, sizes = [{ median_um = 0.5, gsd = 1.2 }] },
    { name = "carbon", mass_percent = 0.1, density_g_cm3 = 1.9, sizes = [{ median_um = 0.25, gsd = 1.2 }] },
]
path = [{ kind = "line", name = "bed", from_um = [-30, 0], to_um = [30, 0], speed_mm_s = 2, passes = 4 }]

[[layer]]
name = "top"
pause_s = 60
flow.sheath_sccm = 40
atomiser = { droplet_median_um = 2.5 }
ink.powder = [
    { name = "silver", mass_percent = 4, density_g_cm3 = 10.5, packing_fraction = 0.6, sizes = [{ median_um = 0.4, gsd = 1.2 }] },
    { name = "carbon", mass_percent = 0.25, density_g_cm3 = 1.9, sizes = [{ median_um = 0.25, gsd = 1.2 }] },
]
path = [{ kind = "line", name = "cover", from_um = [-20, 0], to_um = [20, 0], speed_mm_s = 8 }]
"#;

fn two() -> Case {
    Case::from_text(TWO)
}

/// The same print without its later layer.
fn first_alone(both: &Inputs) -> Inputs {
    Inputs { layers: both.layers[..1].to_vec(), ..both.clone() }
}

fn print(inputs: &Inputs, number: u32) -> PrintOutcome {
    print_parallel(&setting(inputs), number, Keep::Particles, MOST_KEPT, &Silent).expect("runs")
}

fn kept(print: &PrintOutcome) -> &[Particle] {
    print.particles.as_deref().expect("they are few")
}

/// Height at which a particle first touches the plane or one of these, each pair compared.
fn contact(p: &Particle, below: &[(Particle, f64)]) -> f64 {
    let contacts = below.iter().filter_map(|(q, z)| {
        let touch = 0.5 * (p.diameter + q.diameter);
        let rho = (p.x - q.x).hypot(p.y - q.y);
        (rho < touch).then(|| z + (touch * touch - rho * rho).sqrt())
    });
    contacts.fold(0.5 * p.diameter, f64::max)
}

#[test]
fn a_later_layer_rests_on_the_earlier_ones() {
    let inputs = two().inputs();
    let (alone, both) = (print(&first_alone(&inputs), 0), print(&inputs, 0));
    // The first layer is the same with and without a second one, and lies below it in the list.
    let bed = kept(&alone).len();
    assert!(kept(&both).starts_with(kept(&alone)));
    assert!(kept(&both).is_sorted_by_key(|particle| particle.droplet));
    let both: Vec<(Particle, f64)> = Pile::of(kept(&both).to_vec()).iter().map(|(p, z)| (*p, z)).collect();
    let (bed, cover) = both.split_at(bed);
    assert!(bed.len() > 3000 && cover.len() > 300, "{} and {}", bed.len(), cover.len());
    let mut raised = 0;
    for (k, (p, z)) in cover.iter().enumerate() {
        assert!((z - contact(p, bed).max(contact(p, &cover[..k]))).abs() < 1e-15);
        raised += usize::from(contact(p, bed) > 0.5 * p.diameter);
    }
    // In the middle of the dense bed each lies on it: the share of the plane that is not covered there is below 1 in 100.
    let is_middle = |p: &Particle| p.x.abs() < 15e-6 && p.y.abs() < 4e-6;
    let middle: Vec<(Particle, f64)> = cover.iter().copied().filter(|(p, _)| is_middle(p)).collect();
    let on_bed = middle.iter().filter(|(p, _)| contact(p, bed) > 0.5 * p.diameter).count();
    println!("{raised} of {} raised; in the middle {on_bed} of {}", cover.len(), middle.len());
    assert!(middle.len() > 100 && on_bed as f64 > 0.98 * middle.len() as f64);
    // Mean height over the bed, against the same layer on a bare chip.
    let mean =
        |list: &[(Particle, f64)]| list.iter().map(|(p, z)| z - 0.5 * p.diameter).sum::<f64>() / list.len() as f64;
    let bare = Pile::of(cover.iter().map(|(p, _)| *p).collect());
    let bare: Vec<(Particle, f64)> = bare.iter().map(|(p, z)| (*p, z)).filter(|(p, _)| is_middle(p)).collect();
    println!("mean height of their feet {:.3} µm, on a bare chip {:.3} µm", mean(&middle) * 1e6, mean(&bare) * 1e6);
    assert!(mean(&middle) > mean(&bare) + 0.3e-6);
    // Planted fault: the layers in the wrong order come to lie elsewhere.
    let turned = Pile::of(cover.iter().chain(bed).map(|(p, _)| *p).collect());
    assert!(turned.heights().iter().zip(cover).any(|(a, (_, b))| (a - b).abs() > 0.3e-6));

    // The map of the deposit's height adds up over powders and layers: solid thickness over packing, powder by powder.
    let prediction = two().predict();
    let names: Vec<&str> = prediction.inputs.powders().iter().map(|powder| powder.name.as_str()).collect();
    assert_eq!(names, ["alumina", "carbon", "silver"]);
    for (place, height) in prediction.maps.height.indexed_iter() {
        let parts = prediction.maps.thickness.iter().zip([0.4, 0.5, 0.6]).map(|(map, packing)| map[place] / packing);
        assert!((height - parts.sum::<f64>()).abs() <= 1e-9 * height);
    }
    let top = prediction.maps.top_height.expect("particles were kept");
    let highest = both.iter().map(|(p, z)| z + 0.5 * p.diameter).fold(0.0, f64::max);
    assert!((top.iter().copied().fold(0.0, f64::max) - highest).abs() < 1e-12);
}

#[test]
fn layers_share_the_benchs_deviations_and_draw_their_own() {
    let case = two()
        .set("spread.alignment_x.sd_um", 8.0)
        .set("spread.output.sd_percent", 20.0)
        .set("map.margin_um", 100.0)
        .set("layer.1.path.0.speed_mm_s", 2.0);
    let off =
        ["alignment_y", "rotation", "stand_off", "carrier", "sheath", "trend", "warm_up", "solids", "droplet_median"];
    let sd = [
        "sd_um",
        "sd_deg",
        "sd_um",
        "sd_percent",
        "sd_percent",
        "sd_percent_per_h",
        "sd_s",
        "sd_percent",
        "sd_percent",
    ];
    let case = off.iter().zip(sd).fold(case, |case, (name, sd)| case.set(&format!("spread.{name}.{sd}"), 0.0));
    let inputs = case.inputs();
    let keys: Vec<String> = inputs.varied().iter().map(|varied| varied.key(&inputs.layers)).collect();
    assert_eq!(keys, ["alignment_x_um", "output_percent [oxide]", "output_percent [top]"]);
    let labels: Vec<String> = inputs.varied().iter().map(|varied| varied.label(&inputs.layers)).collect();
    assert_eq!(labels, ["alignment, x", "mist output (oxide)", "mist output (top)"]);

    let shared = setting(&inputs);
    // Particles of alumina and of silver: one of each layer. They come several to a droplet: the variance of their number is up to
    // six times that of a Poisson number.
    let steady: Vec<f64> = shared
        .layers
        .iter()
        .map(|layer| layer.expected_droplets() * layer.conditions.particles_per_droplet[0])
        .collect();
    let mut draws = Vec::new();
    for number in 0..12 {
        let drawn = spread::draw(&inputs, number);
        let print = print_parallel(&shared, number, Keep::Particles, MOST_KEPT, &Silent).expect("runs");
        for (layer, powder) in [(0, 0u16), (1, 2)] {
            let own: Vec<&Particle> = kept(&print).iter().filter(|p| p.powder == powder).collect();
            let n = own.len() as f64;
            // Lines of 60 and 40 um about the origin: their middle lies where the chip was shifted to.
            let middle = own.iter().map(|p| p.x).sum::<f64>() / n;
            let length = if layer == 0 { 60e-6 } else { 40e-6 };
            // Particles come in droplets of up to some ten: as if there were a tenth of them.
            let error = length / 12f64.sqrt() / (n / 10.0).sqrt();
            assert!((middle - drawn[0]).abs() < SIGMAS * error, "{middle} against {} +- {error}", drawn[0]);
            let factor = 1.0 + drawn[1 + layer];
            let generated = print.tallies.layers()[layer].generated.particles[usize::from(powder)] as f64;
            let expected = steady[layer] * factor;
            assert!(
                (generated / expected - 1.0).abs() < SIGMAS * (6.0 / expected).sqrt(),
                "layer {layer}: {generated} particles against {expected}"
            );
        }
        draws.push([drawn[1], drawn[2]]);
    }
    // Own draws: over twelve prints they differ, by sqrt(2) 20 % on average.
    let apart = draws.iter().map(|[a, b]| (a - b).powi(2)).sum::<f64>() / 12.0;
    println!("own draws lie {:.3} apart", apart.sqrt());
    assert!(apart.sqrt() > 0.12);
    // The first layer draws what it draws alone, and is the same print.
    let alone = first_alone(&inputs);
    assert_eq!(spread::draw(&alone, 3), spread::draw(&inputs, 3)[..2]);
    let (alone, both) = (print(&alone, 3), print(&inputs, 3));
    assert!(kept(&both).starts_with(kept(&alone)) && both.tallies.layers()[0].fates == alone.tally_of_wider());
}

/// Counts of a print of the first layer's two powders beside the three of the whole print.
trait Wider {
    fn tally_of_wider(&self) -> Vec<motefall_physics::map::tally::FateCount>;
}

impl Wider for PrintOutcome {
    fn tally_of_wider(&self) -> Vec<motefall_physics::map::tally::FateCount> {
        let mut fates = self.tally().fates.clone();
        for count in &mut fates {
            count.particles.push(0);
            count.volume.push(0);
        }
        fates
    }
}

#[test]
fn two_layers_are_the_same_bytes_on_any_number_of_threads() {
    let inputs = two().inputs();
    let with = |threads: usize| -> PrintOutcome {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
        pool.install(|| print(&inputs, 0))
    };
    let one = with(1);
    assert!(kept(&one).len() > 3000 && one.tallies.layers().len() == 2);
    for threads in [2, 7] {
        let many = with(threads);
        assert!(many.canvas == one.canvas && many.tallies == one.tallies, "{threads} threads");
        assert!(many.particles == one.particles, "{threads} threads");
    }
    // A print made on one thread for its figures alone has the same maps and the same particles on the chip.
    let shared = setting(&inputs);
    let mut printer = Printer::new(&shared);
    let lean = printer.make(0, &Silent).expect("runs");
    assert!(lean.canvas == one.canvas);
    for (lean, full) in lean.tallies.layers().iter().zip(one.tallies.layers()) {
        assert!(lean.region(0).particles == full.region(0).particles);
    }
    // And again, after another: nothing is left over from print to print.
    let first = lean.clone();
    let _ = printer.make(1, &Silent);
    let again = printer.make(0, &Silent).expect("runs");
    assert!(again.canvas == first.canvas && again.tallies == first.tallies);
}

#[test]
fn the_budget_closes_over_layers_and_a_shared_powder_counts_once() {
    let p = two().predict();
    assert!(p.budget.closure < 1e-9 && p.layers.iter().all(|layer| layer.budget.closure < 1e-9));
    assert_eq!(p.layers.iter().map(|layer| layer.budget.droplets).sum::<u64>(), p.budget.droplets);
    let [oxide, top] = [0, 1].map(|k| &p.layers[k].budget);
    // alumina, carbon, silver: each layer has what is in its ink; the carbon of both is one powder.
    assert!(oxide.mass[0] > 0.0 && oxide.mass[1] > 0.0 && oxide.mass[2] == 0.0);
    assert!(top.mass[0] == 0.0 && top.mass[1] > 0.0 && top.mass[2] > 0.0);
    for k in 0..3 {
        assert!(((oxide.mass[k] + top.mass[k]) / p.budget.mass[k] - 1.0).abs() < 1e-12);
        assert_eq!(oxide.particles[k] + top.particles[k], p.budget.particles[k]);
    }
    // In the second ink carbon stands second, and so it does in the print; silver stands first there and third here. By mass there
    // is a sixteenth as much carbon as silver, up to what can ride at all (worked out beforehand) and the chance of counting.
    let conditions = &p.layers[1].conditions;
    let ratio = top.mass[1] / top.mass[2];
    let expected = 0.25 / 4.0 * conditions.printable_share[1] / conditions.printable_share[0];
    println!("carbon over silver {ratio:.3}, expected {expected:.3} from {:?} particles", top.particles);
    assert!((ratio / expected - 1.0).abs() < 0.2);
    // Times and inks add up; the pause counts.
    let time =
        |id: &str| p.figures.iter().find(|row| row.kind.id == id).and_then(|row| row.estimate).expect("known").mean;
    let layers = || p.layers.iter().map(|layer| &layer.conditions);
    assert!((time("print_time_s") - 60.0 - layers().map(|c| c.print_time).sum::<f64>()).abs() < 1e-9);
    assert!((time("ink_used_ul") / layers().map(|c| c.ink_used).sum::<f64>() - 1.0).abs() < 1e-12);
}

#[test]
fn a_sweep_varies_one_layer_and_leaves_the_other_as_it_is() {
    let text = format!(
        "{TWO}\n[[sweep.axis]]\nkey = \"layer['top'].path['cover'].speed_mm_s\"\nvalues = [2, 4]\n\n\
         [[sweep.axis]]\nkey = \"flow.carrier_sccm\"\nvalues = [8]\n"
    );
    let sweep = scenario::parse_sweep(&text, "two.toml", Path::new(".")).unwrap_or_else(|faults| panic!("{faults}"));
    let store = jets();
    let shared = Shared::new(&store);
    let effort = Effort { prints: motefall_physics::inputs::PointPrints::Fixed(2), wanted_share: 0.9 };
    let run = |speed: f64| {
        let inputs = sweep.inputs(&[speed, 8.0]).unwrap_or_else(|why| panic!("{why}"));
        assert!((inputs.layers[1].path[0].speed / (speed * 1e-3) - 1.0).abs() < 1e-12);
        // The sheath of the second layer is its own, the carrier that of the file.
        assert!((inputs.layers[1].flows.sheath.sccm() - 40.0).abs() < 1e-9);
        (run_point(&inputs.clone().into(), effort, &shared, &Silent).expect("runs"), print(&inputs, 0))
    };
    let ((slow, slow_print), (quick, quick_print)) = (run(2.0), run(4.0));
    let landed = |print: &PrintOutcome, layer: usize| {
        print.tallies.layers()[layer].landed().map(|c| c.particles[2]).sum::<u64>() as f64
    };
    assert!(
        slow_print.tallies.layers()[0] == quick_print.tallies.layers()[0],
        "the first layer is the same at both points"
    );
    // 40 um from rest to rest at 1 m/s^2 take L/v + v/a: 22 ms at 2 mm/s, 14 ms at 4 mm/s, so 1.571 times the particles. These are
    // thousands, in two to three thousand droplets: the ratio scatters by 0.066.
    let (expected, error) = (22.0 / 14.0, 0.066);
    let ratio = landed(&slow_print, 1) / landed(&quick_print, 1);
    println!("silver: {} and {}, ratio {ratio:.3}", landed(&slow_print, 1), landed(&quick_print, 1));
    assert!((ratio - expected).abs() < SIGMAS * error);
    assert!(slow.print_time > quick.print_time && quick.print_time > 60.0 && slow.figures.len() == quick.figures.len());
}
