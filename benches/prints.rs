//! Whole prints of the shipped scenarios with maps and coverage, on one core: droplets per second.

use divan::Bencher;
use divan::counter::ItemsCount;
use motefall_figures::joined::Lists;
use motefall_figures::measure::Measurer;
use motefall_physics::jet::store::FieldStore;
use motefall_run::Silent;
use motefall_run::atlas::Atlas;
use motefall_run::expected::{expected, map_as_set, means_as_set};
use motefall_run::print::{Keep, Printer};
use motefall_run::setting::Setting;
use motefall_scenario as scenario;
use std::path::Path;

fn main() {
    // One thread: what a core does.
    rayon::ThreadPoolBuilder::new().num_threads(1).build_global().expect("the first pool");
    divan::main();
}

const SHIPPED: [&str; 3] = ["first-line", "sodium-chip", "foil-coupon"];

/// Droplets to which a bench of a print is held.
const MOST_DROPLETS: f64 = 2e6;

fn load(name: &str) -> motefall_physics::inputs::Inputs {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("scenarios/{name}.toml"));
    let mut inputs = scenario::load(&path).unwrap_or_else(|faults| panic!("{faults}")).inputs;
    inputs.droplet_budget = inputs.droplet_budget.min(MOST_DROPLETS);
    inputs
}

/// One print. Items are droplets.
#[divan::bench(args = SHIPPED, sample_count = 5, sample_size = 1)]
fn print(bencher: Bencher, name: &str) {
    let inputs = load(name);
    let setting = Setting::new(&inputs, &FieldStore::none(), &Silent).expect("a shipped scenario runs");
    let mut printer = Printer::new(&setting);
    let droplets = setting.expected_droplets().min(inputs.droplet_budget);
    let mut print = 0;
    bencher.counter(ItemsCount::new(droplets as usize)).bench_local(|| {
        print += 1;
        printer.make(print, &Silent).expect("nobody stops it").tally().clone()
    });
}

/// One print whose particles are kept and stacked, and what touches what among them. Items are droplets.
#[divan::bench(args = ["sodium-chip"], sample_count = 5, sample_size = 1)]
fn print_and_joins(bencher: Bencher, name: &str) {
    let inputs = load(name);
    let setting = Setting::new(&inputs, &FieldStore::none(), &Silent).expect("a shipped scenario runs");
    let measurer = Measurer::new(&inputs, setting.measuring, &setting.regions, setting.bench_use());
    let mut printer = Printer::keeping(&setting, Keep::FiguresAndParticles);
    let droplets = setting.expected_droplets().min(inputs.droplet_budget);
    let (mut print, mut lists) = (0, Lists::default());
    bencher.counter(ItemsCount::new(droplets as usize)).bench_local(|| {
        print += 1;
        measurer.joined(printer.make(print, &Silent).expect("nobody stops it"), print, &mut lists)
    });
}

/// Drying, landing table and path, with the jet at hand.
#[divan::bench(args = SHIPPED, sample_count = 3, sample_size = 1)]
fn setting(bencher: Bencher, name: &str) {
    let inputs = load(name);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let store = FieldStore::in_folder(folder.path().into());
    Setting::new(&inputs, &store, &Silent).expect("a shipped scenario runs");
    bencher.bench(|| Setting::new(&inputs, &store, &Silent).expect("a shipped scenario runs").layers[0].droplet_rate);
}

/// Expected figures as the inputs are set, without what differs between prints; jets, tables and mist at hand.
#[divan::bench(args = SHIPPED, sample_count = 5, sample_size = 1)]
fn expected_as_set(bencher: Bencher, name: &str) {
    let inputs = load(name);
    let inputs = motefall_physics::inputs::Inputs { spread: vec![], ..inputs };
    let folder = tempfile::tempdir().expect("a temporary folder");
    let store = FieldStore::in_folder(folder.path().into());
    let atlas = Atlas::new(&store);
    means_as_set(&inputs, &atlas, &Silent).expect("a shipped scenario runs");
    bencher.bench_local(|| means_as_set(&inputs, &atlas, &Silent).expect("a shipped scenario runs").len());
}

/// The expected map at the scenario's pitch, the same at hand.
#[divan::bench(args = ["sodium-chip"], sample_count = 5, sample_size = 1)]
fn expected_map(bencher: Bencher, name: &str) {
    let inputs = load(name);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let store = FieldStore::in_folder(folder.path().into());
    let atlas = Atlas::new(&store);
    let grid = motefall_figures::Grid::of_maps(&inputs);
    map_as_set(&inputs, &atlas, grid, &Silent).expect("a shipped scenario runs");
    bencher.bench_local(|| map_as_set(&inputs, &atlas, grid, &Silent).expect("a shipped scenario runs").is_some());
}

/// The expected deposit with everything that varies, jets and landing tables at hand: mist and all.
#[divan::bench(args = SHIPPED, sample_count = 3, sample_size = 1)]
fn expected_deposit(bencher: Bencher, name: &str) {
    let inputs = load(name);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let store = FieldStore::in_folder(folder.path().into());
    expected(&inputs, &store, &Silent).expect("a shipped scenario runs");
    bencher.bench(|| expected(&inputs, &store, &Silent).expect("a shipped scenario runs").figures.len());
}
