//! What is written of a sweep, from made-up results whose truth is known. All numbers here are invented.

use motefall_figures::kinds::kind;
use motefall_figures::statistics::{FigureAt, wilson_95};
use motefall_figures::sweep::{FigureStats, PointRecord, PointStats, SweepResult};
use motefall_figures::{CautionKind, PrintFigure};
use motefall_output::sweep::{Class, End, Extra, best, ranked, write};
use motefall_physics::inputs::{Axis, AxisValues, Chance, Design, Limit, PointPrints, SweepPlan};
use ndarray::{ArrayD, IxDyn};
use ndarray_npy::NpzReader;
use std::fs;
use std::path::PathBuf;
use std::time::Instant;

/// Centre, half axes and softness of the window in the first two axes, scaled 0..1: p = 1/(1 + exp((r - 1)/softness)).
const CENTRE: [f64; 2] = [0.45, 0.55];
const HALF: [f64; 2] = [0.30, 0.36];
const SOFTNESS: f64 = 0.08;
const WANTED: f64 = 0.9;

fn linear(key: &str, unit: &str, from: f64, to: f64, count: u32) -> Axis {
    Axis { key: key.into(), unit: unit.into(), values: AxisValues::Linear { from, to, count } }
}

fn log(key: &str, unit: &str, from: f64, to: f64, count: u32) -> Axis {
    Axis { key: key.into(), unit: unit.into(), values: AxisValues::Log { from, to, count } }
}

fn unscale(axis: &Axis, place: f64) -> f64 {
    match &axis.values {
        AxisValues::Linear { from, to, .. } => from + place * (to - from),
        AxisValues::Log { from, to, .. } => from * (to / from).powf(place),
        AxisValues::List(list) => list[(place * (list.len() - 1) as f64).round() as usize],
    }
}

fn count(axis: &Axis) -> usize {
    match &axis.values {
        AxisValues::List(list) => list.len(),
        AxisValues::Linear { count, .. } | AxisValues::Log { count, .. } => *count as usize,
    }
}

/// Scaled places of a grid, the last axis fastest.
fn grid(axes: &[Axis]) -> Vec<Vec<f64>> {
    let mut out = vec![vec![]];
    for axis in axes {
        let n = count(axis);
        let values: Vec<f64> = (0..n).map(|i| if n > 1 { i as f64 / (n - 1) as f64 } else { 0.0 }).collect();
        out = out
            .into_iter()
            .flat_map(|p: Vec<f64>| values.iter().map(move |v| [p.clone(), vec![*v]].concat()))
            .collect();
    }
    out
}

/// Radical inverse: digits of `index` in a base, mirrored at the point.
fn mirrored(mut index: u32, base: u32) -> f64 {
    let (mut value, mut part) = (0.0, 1.0 / f64::from(base));
    while index > 0 {
        value += f64::from(index % base) * part;
        index /= base;
        part /= f64::from(base);
    }
    value
}

/// Halton points.
fn scattered(n: u32, axes: usize) -> Vec<Vec<f64>> {
    (1..=n).map(|i| [2, 3, 5, 7, 11, 13][..axes].iter().map(|b| mirrored(i, *b)).collect()).collect()
}

/// True pass probability of the window.
fn truth(place: &[f64]) -> f64 {
    let r = place.iter().zip(CENTRE).zip(HALF).map(|((p, c), h)| ((p - c) / h).powi(2)).sum::<f64>().sqrt();
    1.0 / (1.0 + ((r - 1.0) / SOFTNESS).exp())
}

/// Prints that pass: counted by a small multiplicative generator, or rounded without chance.
fn passing(p: f64, prints: u32, chance: Option<u64>) -> u32 {
    let Some(seed) = chance else { return (p * f64::from(prints)).round() as u32 };
    let mut state = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    (0..prints)
        .filter(|_| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            ((state >> 11) as f64 / (1u64 << 53) as f64) < p
        })
        .count() as u32
}

struct Make {
    axes: Vec<Axis>,
    design: Design,
    places: Vec<Vec<f64>>,
    prints: u32,
    by_chance: bool,
}

impl Make {
    fn result(self, name: &str, share: impl Fn(&[f64]) -> Result<f64, String>) -> SweepResult {
        let target = || Some("target".to_string());
        let kinds = ["coverage_percent", "mean_thickness_nm", "hit_probability", "overspray_percent"];
        let at = [target(), target(), Some("rim, inner".into()), None];
        let places: Vec<FigureAt> = kinds.iter().zip(at).map(|(k, p)| (kind(k).expect("known"), p)).collect();
        let limit = |figure: &str, place: Option<String>, min, max| Limit {
            figure: kind(figure).expect("known").figure,
            place,
            min,
            max,
        };
        let limits = vec![
            limit("coverage_percent", target(), Some(0.8), None),
            limit("mean_thickness_nm", target(), Some(100e-9), Some(400e-9)),
            limit("overspray_percent", None, None, Some(0.2)),
        ];
        let points = self
            .places
            .iter()
            .enumerate()
            .map(|(i, place)| {
                let values = self.axes.iter().zip(place).map(|(a, p)| unscale(a, *p)).collect();
                let outcome = share(place).map(|p| {
                    let met = passing(p, self.prints, self.by_chance.then_some(i as u64 + 1));
                    let coverage = 0.75 + 0.2 * p;
                    let thickness = (50.0 + 400.0 * place[0]) * 1e-9;
                    let figure = |mean: f64, sd: f64| {
                        let half = 1.96 * sd / f64::from(self.prints).sqrt();
                        Some(FigureStats {
                            mean,
                            interval: [mean - half, mean + half],
                            sd,
                            n: self.prints,
                            extremes: None,
                        })
                    };
                    PointStats {
                        prints: self.prints,
                        met,
                        met_each: vec![met, (met + self.prints).div_ceil(2), self.prints],
                        figures: vec![
                            figure(coverage, 0.03),
                            figure(thickness, 12e-9),
                            None,
                            figure(0.05 + 0.2 * (1.0 - p), 0.01),
                        ],
                        margin_sd: Some((coverage - 0.8) / 0.03),
                        cautions: if place[0] > 0.8 {
                            vec![CautionKind::JetLength, CautionKind::UnverifiedDefaults]
                        } else {
                            vec![CautionKind::UnverifiedDefaults]
                        },
                        print_time: 300.0 + 900.0 * place[0],
                        ink_used: (2.0 + 6.0 * place[0]) * 1e-9,
                        droplets: 4.0e4,
                    }
                });
                PointRecord { point: i as u64, values, outcome }
            })
            .collect();
        SweepResult {
            name: name.into(),
            note: "Made-up numbers that show what the page looks like; no print was computed.".into(),
            seed: 7,
            resolution: Some(0.5e-6),
            plan: SweepPlan {
                axes: self.axes,
                design: self.design,
                prints: PointPrints::Fixed(self.prints),
                chance: Chance::Common,
                wanted_share: WANTED,
            },
            limits,
            places,
            points,
        }
    }
}

fn full(axes: Vec<Axis>, prints: u32, by_chance: bool) -> Make {
    let places = grid(&axes);
    Make { axes, design: Design::Grid, places, prints, by_chance }
}

fn two_axes(count: u32) -> Vec<Axis> {
    vec![linear("flow.sheath_sccm", "sccm", 20.0, 120.0, count), log("path[1].speed_mm_s", "mm/s", 0.5, 8.0, count)]
}

/// A folder that stays, so that the pages can be looked at.
fn folder(name: &str) -> PathBuf {
    let dir = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("sweep").join(name);
    fs::create_dir_all(&dir).expect("a folder under target");
    dir
}

fn page(result: &SweepResult, name: &str) -> String {
    let dir = folder(name);
    let files = write(result, &dir, &Extra { best_report: Some("best/report.html".into()) }).expect("written");
    assert_eq!(files, ["sweep.csv", "sweep.npz", "window.html"].map(|f| dir.join(f)));
    assert_eq!(fs::read_dir(&dir).expect("folder").count(), 3, "nothing else is left behind");
    let text = fs::read_to_string(dir.join("window.html")).expect("page");
    for bad in ["NaN", ">inf", "http://", "https://", "<script"] {
        assert!(!text.contains(bad), "{bad} in the page of {name}");
    }
    text
}

/// Scaled distance from a point to the true edge of the window along an axis.
fn true_room(place: &[f64], axis: usize, way: f64) -> f64 {
    let mut at = place.to_vec();
    let mut room = 0.0;
    while truth(&at) >= WANTED && (0.0..=1.0).contains(&at[axis]) {
        room += 1e-4;
        at[axis] = place[axis] + way * room;
    }
    room
}

fn scaled(axis: &Axis, value: f64) -> f64 {
    match axis.values {
        AxisValues::Log { from, to, .. } => (value / from).ln() / (to / from).ln(),
        AxisValues::Linear { from, to, .. } => (value - from) / (to - from),
        AxisValues::List(_) => unreachable!("not used"),
    }
}

#[test]
fn drift_margins_on_a_grid_agree_with_the_truth_within_half_a_step() {
    let result = full(two_axes(13), 2000, false).result("Ellipse", |p| Ok(truth(p)));
    let text = page(&result, "ellipse");
    assert!(text.contains("There is a window") && text.contains("best/report.html"));
    let ranking = ranked(&result);
    assert_eq!(ranking.len(), 10);
    assert_eq!(best(&result), Some(ranking[0].index));
    for r in &ranking {
        assert_eq!(r.class, Class::Sure);
        let values = &result.points[r.index].values;
        let place: Vec<f64> = result.plan.axes.iter().zip(values).map(|(a, v)| scaled(a, *v)).collect();
        for (axis, both) in r.drifts.iter().enumerate() {
            for (d, way) in both.expect("varies").iter().zip([-1.0, 1.0]) {
                // A straight line between two points of a curve that falls from 1 to 0 within a few steps.
                let expected = true_room(&place, axis, way);
                assert!(
                    (d.scaled - expected).abs() < 0.5 / 12.0,
                    "point {} axis {axis}: {} for {expected}",
                    r.index,
                    d.scaled
                );
                assert_eq!(d.end, End::Fails);
                let moved = unscale(&result.plan.axes[axis], place[axis] + way * d.scaled);
                assert!((d.distance - (moved - values[axis]).abs()).abs() < 1e-9 * values[axis].abs());
            }
        }
    }
    // The recommended point is the one of the grid nearest to the middle: 0.45 and 0.55 lie between 5/12 and 6/12, 6/12 and 7/12.
    let values = &result.points[ranking[0].index].values;
    for (axis, (value, centre)) in result.plan.axes.iter().zip(values.iter().zip(CENTRE)) {
        assert!((scaled(axis, *value) - centre).abs() <= 1.0 / 12.0);
    }
}

#[test]
fn a_scattered_design_finds_the_same_window() {
    let axes = two_axes(2);
    let make = Make { places: scattered(400, 2), axes, design: Design::Sobol(400), prints: 400, by_chance: false };
    let result = make.result("Scattered ellipse", |p| Ok(truth(p)));
    page(&result, "scattered");
    let first = &ranked(&result)[0];
    assert_eq!(first.class, Class::Sure);
    let values = &result.points[first.index].values;
    let place: Vec<f64> = result.plan.axes.iter().zip(values).map(|(a, v)| scaled(a, *v)).collect();
    let spacing = 400f64.powf(-0.5);
    for axis in 0..2 {
        assert!((place[axis] - CENTRE[axis]).abs() < 2.0 * spacing, "{place:?}");
        for (d, way) in first.drifts[axis].expect("varies").iter().zip([-1.0, 1.0]) {
            let expected = true_room(&place, axis, way);
            assert!((d.scaled - expected).abs() < spacing, "axis {axis}: {} for {expected}", d.scaled);
        }
    }
}

#[test]
fn the_middle_comes_before_a_corner_that_passes_more_often() {
    // Seven points on one axis; the fourth passes a little less often than the one at the edge of the window.
    let shares = [0.2, 1.0, 0.98, 0.97, 0.98, 1.0, 0.1];
    let axes = vec![linear("flow.sheath_sccm", "sccm", 20.0, 80.0, 7)];
    let result = full(axes, 1000, false).result("One axis", |p| Ok(shares[(p[0] * 6.0).round() as usize]));
    let text = page(&result, "one_axis");
    assert!(text.contains("between the points") && !text.contains("every pair"));
    let first = &ranked(&result)[0];
    assert_eq!(first.index, 3);
    // Between the points the normal deviate of the share is drawn straight. 1000 of 1000 counts as 999.5: 3.290527; 0.2 is -0.841621, 0.1 is
    // -1.281552, 0.9 is 1.281552 (from memory). From 30 down to 20: 10 * 2.008975/4.132148 = 4.861818, so 24.861818 below 50; from 70 up to 80:
    // 10 * 2.008975/4.572078 = 4.394009.
    let [down, up] = first.drifts[0].expect("varies");
    assert!((down.distance - 24.8618).abs() < 1e-3 && (up.distance - 24.3940).abs() < 1e-3, "{down:?} {up:?}");
}

#[test]
fn the_edge_of_the_sweep_is_an_at_least() {
    let result = full(two_axes(5), 200, false).result("All pass", |_| Ok(1.0));
    let text = page(&result, "all_pass");
    assert!(text.contains("≥") && text.contains("the window reaches beyond the sweep"));
    let first = &ranked(&result)[0];
    assert_eq!(first.index, 12, "the middle of five by five");
    for both in first.drifts.iter().flatten() {
        assert!(both.iter().all(|d| d.end == End::Unknown && (d.scaled - 0.5).abs() < 1e-9));
    }
    let few = full(two_axes(3), 20, false).result("Few prints", |_| Ok(1.0));
    let text = page(&few, "few_prints");
    assert!(text.contains("from 35 prints on"), "20 of 20 cannot prove 90 %");
    assert_eq!(ranked(&few)[0].class, Class::Likely);
}

#[test]
fn when_no_point_passes_the_page_says_so() {
    let result = full(two_axes(6), 50, true).result("No window", |p| Ok(0.6 * truth(p)));
    let text = page(&result, "no_window");
    assert!(text.contains("No point passes in 90\u{a0}% of its prints"));
    assert!(text.contains("most prints fail on <b>coverage, target</b>"));
    let first = &ranked(&result)[0];
    assert_eq!(first.class, Class::Below);
    let most = result.points.iter().map(|p| p.outcome.as_ref().expect("ran").met).max();
    assert_eq!(result.points[first.index].outcome.as_ref().expect("ran").met, most.expect("points"));
}

#[test]
fn points_that_cannot_run_end_the_window_and_are_grouped() {
    let axes = vec![
        linear("flow.sheath_sccm", "sccm", 20.0, 120.0, 9),
        log("path[1].speed_mm_s", "mm/s", 0.5, 8.0, 8),
        Axis { key: "head.nozzle_um".into(), unit: "µm".into(), values: AxisValues::List(vec![150.0, 200.0, 250.0]) },
    ];
    let choked = |p: &[f64]| p[0] > 0.7 && p[2] < 0.25;
    let result = full(axes, 50, true).result("Sodium electrode on a chip", |p| {
        if choked(p) {
            Err(format!("the jet is choked: Mach {:.2} at the nozzle, at most 0.9 can be computed; lower the sheath flow or take a wider nozzle", 0.8 + p[0] * 0.4))
        } else {
            let shift = [p[0] - 0.15 * (p[2] - 0.5), p[1] + 0.1 * (p[2] - 0.5)];
            Ok(truth(&shift))
        }
    });
    let text = page(&result, "nozzles");
    assert!(text.contains("24\u{a0}points of 216 could not run"));
    assert!(text.matches("cannot run: the jet is choked").count() >= 24, "a cross for each");
    let failed: Vec<usize> = result.points.iter().filter(|p| p.outcome.is_err()).map(|p| p.point as usize).collect();
    assert!(ranked(&result).iter().all(|r| !failed.contains(&r.index)));
    assert_eq!(
        result.points[best(&result).expect("ran")].values[2],
        200.0,
        "not at the edge of the sweep, where nobody knows what is beyond"
    );

    let nothing =
        full(two_axes(2), 10, false).result("Nothing runs", |_| Err("the nozzle is wider than the head".into()));
    assert_eq!(best(&nothing), None);
    assert!(page(&nothing, "nothing").contains("No point could run"));

    let wall = full(vec![linear("flow.sheath_sccm", "sccm", 0.0, 10.0, 11)], 100, false)
        .result("Wall", |p| if p[0] > 0.75 { Err("choked".into()) } else { Ok(1.0) });
    page(&wall, "wall");
    let first = &ranked(&wall)[0];
    let [_, up] = first.drifts[0].expect("varies");
    // Half way between the last point that ran, 7, and the first that did not, 8.
    let value = wall.points[first.index].values[0];
    assert_eq!(up.end, End::CannotRun);
    assert!((value + up.distance - 7.5).abs() < 1e-4, "{value} {up:?}");
}

#[test]
fn one_point_and_no_limits() {
    let one =
        full(vec![linear("flow.sheath_sccm", "sccm", 40.0, 40.0, 1)], 40, false).result("One point", |_| Ok(0.95));
    let text = page(&one, "one_point");
    assert!(text.contains("no window to draw"));
    assert_eq!(best(&one), Some(0));
    let mut free = full(two_axes(3), 10, false).result("No limits", |_| Ok(1.0));
    free.limits.clear();
    free.points.iter_mut().for_each(|p| p.outcome.as_mut().expect("ran").met_each.clear());
    assert!(page(&free, "no_limits").contains("No limits set"));
    let mut empty = free.clone();
    empty.points.clear();
    assert_eq!(best(&empty), None);
    page(&empty, "empty");
}

#[test]
fn a_thousand_scattered_points_are_written_within_two_seconds_and_twice_alike() {
    let axes = vec![
        linear("flow.sheath_sccm", "sccm", 20.0, 120.0, 2),
        log("path[1].speed_mm_s", "mm/s", 0.5, 8.0, 2),
        linear("flow.carrier_sccm", "sccm", 8.0, 30.0, 2),
        linear("flight.stand_off_um", "µm", 1000.0, 4000.0, 2),
    ];
    let make = Make { places: scattered(1000, 4), axes, design: Design::Sobol(1000), prints: 200, by_chance: true };
    let result = make.result("A thousand settings", |p| {
        if p[0] > 0.9 && p[2] > 0.7 {
            return Err(format!("Reynolds number {:.0} is above 2000: the jet is not laminar", 1500.0 + 700.0 * p[0]));
        }
        let lean = [p[0] + 0.25 * (p[2] - 0.5), p[1] + 0.1 * (p[3] - 0.5)];
        Ok(truth(&lean))
    });
    let dir = folder("thousand");
    // The shortest of three: other work on the machine only ever adds.
    let took = (0..3)
        .map(|_| {
            let start = Instant::now();
            write(&result, &dir, &Extra::default()).expect("written");
            start.elapsed()
        })
        .min()
        .expect("three");
    assert!(took.as_secs_f64() < 2.0, "{took:?}");
    let read = || ["sweep.csv", "sweep.npz", "window.html"].map(|f| fs::read(dir.join(f)).expect("file"));
    let first = read();
    write(&result, &dir, &Extra::default()).expect("written");
    assert!(first == read(), "same result, same bytes");
    page(&result, "thousand");
    let best = &ranked(&result)[0];
    assert_eq!(best.class, Class::Sure);
    assert!(best.rooms[0] > 0.1, "{best:?}");
}

/// What a cell should hold: 12 digits are written.
fn same(cell: &str, value: f64) {
    if value.is_nan() {
        assert_eq!(cell, "");
    } else {
        let read: f64 = cell.parse().expect("a number");
        assert!((read - value).abs() <= 1e-11 * value.abs(), "{read} for {value}");
    }
}

#[test]
fn table_and_arrays_hold_the_same_numbers_as_the_result() {
    let axes = vec![linear("flow.sheath_sccm", "sccm", 20.0, 120.0, 4), log("path[1].speed_mm_s", "mm/s", 0.5, 8.0, 3)];
    let result = full(axes, 37, true)
        .result("Small", |p| if p[0] > 0.9 && p[1] > 0.9 { Err("choked, \"badly\"".into()) } else { Ok(truth(p)) });
    page(&result, "small");
    let dir = folder("small");
    let mut reader = csv::Reader::from_path(dir.join("sweep.csv")).expect("table");
    let head: Vec<String> = reader.headers().expect("header").iter().map(String::from).collect();
    let rows: Vec<csv::StringRecord> = reader.records().collect::<Result<_, _>>().expect("rows");
    assert_eq!(rows.len(), result.points.len());
    let column = |name: &str| head.iter().position(|h| h == name).unwrap_or_else(|| panic!("no column {name}"));
    let mut npz = NpzReader::new(fs::File::open(dir.join("sweep.npz")).expect("arrays")).expect("npz");
    let names = npz.names().expect("names");
    let mut array = |name: &str| -> ArrayD<f64> {
        assert!(names.iter().any(|n| n.trim_end_matches(".npy") == name), "{name} in {names:?}");
        npz.by_name(name).expect("array")
    };
    assert_eq!(array("axis.flow.sheath_sccm").len(), 4);
    let arrays: Vec<(String, ArrayD<f64>)> = [
        "pass_probability",
        "pass_low_95",
        "pass_high_95",
        "margin_sd",
        "print_time_min",
        "ink_ul",
        "droplets",
        "target.coverage_percent",
        "target.coverage_percent_low_95",
        "target.coverage_percent_high_95",
        "target.coverage_percent_sd",
        "target.mean_thickness_nm",
        "rim, inner.hit_probability",
        "overspray_percent",
    ]
    .map(|n| (n.to_string(), array(n)))
    .into();
    for (i, (row, point)) in rows.iter().zip(&result.points).enumerate() {
        same(&row[column("flow.sheath_sccm")], point.values[0]);
        same(&row[column("path[1].speed_mm_s")], point.values[1]);
        for (name, array) in &arrays {
            assert_eq!(array.shape(), [4, 3]);
            same(&row[column(name)], array[IxDyn(&[i / 3, i % 3])]);
        }
        match &point.outcome {
            Err(why) => assert_eq!(&row[column("cannot_run")], why),
            Ok(s) => {
                assert_eq!(&row[column("cannot_run")], "");
                assert_eq!(&row[column("met")], s.met.to_string());
                let [low, high] = wilson_95(s.met, s.prints);
                same(&row[column("pass_probability")], f64::from(s.met) / 37.0);
                same(&row[column("pass_low_95")], low);
                same(&row[column("pass_high_95")], high);
                same(&row[column("print_time_min")], s.print_time / 60.0);
                same(&row[column("ink_ul")], s.ink_used * 1e9);
                let f = s.figures[0].expect("made");
                same(&row[column("target.coverage_percent")], f.mean * 100.0);
                same(&row[column("target.coverage_percent_low_95")], f.interval[0] * 100.0);
                same(&row[column("target.coverage_percent_high_95")], f.interval[1] * 100.0);
                same(&row[column("target.coverage_percent_sd")], f.sd * 100.0);
                same(&row[column("target.mean_thickness_nm")], s.figures[1].expect("made").mean * 1e9);
                same(&row[column("rim, inner.hit_probability")], f64::NAN);
            }
        }
    }
    // Flat where the points do not fill a grid.
    let mut part = result.clone();
    part.points.pop();
    page(&part, "part");
    let mut npz = NpzReader::new(fs::File::open(folder("part").join("sweep.npz")).expect("arrays")).expect("npz");
    let flat: ArrayD<f64> = npz.by_name("pass_probability").expect("array");
    assert_eq!(flat.shape(), [11]);
}

#[test]
fn a_folder_that_is_not_there_is_an_error() {
    let result = full(two_axes(2), 10, false).result("Nowhere", |_| Ok(1.0));
    let missing = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("sweep-that-is-not-there");
    let error = write(&result, &missing, &Extra::default()).expect_err("no folder");
    assert!(error.to_string().contains("sweep.csv: the folder"), "{error}");
}

#[test]
fn settings_have_words_and_the_tightest_limit_is_the_one_that_prints_miss() {
    let mut result = full(two_axes(5), 50, false).result("Words", |p| Ok(truth(p)));
    result.places.push((PrintFigure::FarthestStray.kind(), None));
    let limit = Limit { figure: PrintFigure::FarthestStray.into(), place: None, min: None, max: Some(100e-6) };
    result.limits.push(limit);
    for point in &mut result.points {
        let Ok(stats) = &mut point.outcome else { continue };
        // Coverage is nearest in standard deviations, but prints fail on the strays.
        stats.met_each = vec![50, 50, 50, 47];
        stats.met = 47;
        stats.figures.push(Some(FigureStats {
            mean: 20e-6,
            interval: [10e-6, 30e-6],
            sd: 5e-6,
            n: 50,
            extremes: Some([12e-6, 345e-6]),
        }));
    }
    let text = page(&result, "words");
    let row =
        text.split("<tr class=\"first\">").nth(1).and_then(|rest| rest.split("</tr>").next()).expect("a first row");
    assert!(row.contains("3 of 50 miss it") && row.contains("farthest stray particle"), "{row}");
    assert!(!row.contains("SD"), "{row}");
    assert!(text.contains("Farthest stray particle: prints that meet the limit") && text.contains("prints (%)"));
    for words in ["sheath flow, sccm", "print speed (path 1), mm/s", "rounded to"] {
        assert!(text.contains(words), "{words} is missing");
    }
    let mut rows = csv::Reader::from_path(folder("words").join("sweep.csv")).expect("there");
    let head = rows.headers().expect("a head").clone();
    let column = |name: &str| head.iter().position(|c| c == name).unwrap_or_else(|| panic!("{name} is missing"));
    let first = rows.records().next().expect("a row").expect("even rows");
    assert_eq!(&first[column("farthest_stray_um_median")], "12");
    assert_eq!(&first[column("farthest_stray_um_largest")], "345");
    assert!(!head.iter().any(|name| name == "overspray_percent_median"));
    // Keys stand in the plan alone.
    assert_eq!((text.matches("flow.sheath_sccm").count(), text.matches("path[1].speed_mm_s").count()), (1, 1));
}
