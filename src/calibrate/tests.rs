//! Whether what lines teach is true: known truths are recovered, wrong models are told, and what lines cannot tell is said.

use crate::asked::{Asked, CalibrateError};
use crate::calibrate::calibrate;
use crate::density::{LACKS, lack_of};
use crate::learn::Posterior;
use crate::lines::{self, Line};
use crate::model::{Model, Observation, at_deviates};
use crate::prepared::Prepared;
use crate::testing::first_line;
use crate::unknowns;
use motefall_figures::calibration::{Agreement, WORTH_PRINTING};
use motefall_physics::jet::store::FieldStore;
use motefall_run::Silent;
use motefall_run::atlas::Atlas;
use motefall_scenario::Turnable;
use rand::rngs::Xoshiro256PlusPlus;
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rayon::prelude::*;
use std::sync::LazyLock;

/// Jets are solved once for all tests here.
fn jets() -> &'static FieldStore {
    static JETS: LazyLock<(tempfile::TempDir, FieldStore)> = LazyLock::new(|| {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let store = FieldStore::in_folder(folder.path().to_owned());
        (folder, store)
    });
    &JETS.1
}

/// Lines that are kept for judging: speed, mm/s, and sheath, sccm.
const HELD_OUT: [(&str, i32); 3] = [("1", 25), ("2", 40), ("4", 65)];

/// Twelve lines: four speeds at three sheath flows, with widths to 2 % and coverage to 4 %. Values are put in later.
fn twelve(scenario: &Turnable) -> Vec<Line> {
    let mut text = String::from(
        "name,item,region,flow.sheath_sccm,edge_width_um,edge_width_sd_um,coverage_percent,coverage_sd_percent,held_out\n",
    );
    for sheath in [25, 40, 65] {
        for speed in ["0.5", "1", "2", "4"] {
            let held_out = if HELD_OUT.contains(&(speed, sheath)) { "yes" } else { "" };
            text +=
                &format!("{speed} at {sheath},{speed} mm/s,strip at {speed} mm/s,{sheath},50,1,20,0.8,{held_out}\n");
        }
    }
    lines::parse(&text, "lines.csv", scenario).unwrap_or_else(|faults| panic!("{faults}")).lines
}

/// Values that a bench gives whose fitted values are `true_values`: scattered by prints, by what the model lacks, and by the measurement.
fn measured(
    observations: &[Observation],
    prepared: &Prepared<'_>,
    true_values: &[Option<f64>],
    lacks: [f64; 2],
    random: &mut Xoshiro256PlusPlus,
) -> Vec<Observation> {
    let lines = observations.iter().map(|own| own.line + 1).max().unwrap_or(0);
    let mut normal = || random.sample::<f64, _>(StandardNormal);
    let of_lines: Vec<[f64; 3]> = (0..lines).map(|_| [normal(), normal(), normal()]).collect();
    let value = |(k, own): (usize, &Observation)| {
        let [shared, widths, amounts] = of_lines[own.line];
        let scatter = prepared.scatter[k];
        let of_lack = lack_of(own).map_or(0.0, |lack| lacks[lack] * [widths, amounts][lack]);
        let fitted = true_values[k].expect("the model has an answer")
            + scatter.shared * shared
            + scatter.own * normal()
            + of_lack
            + own.sd * normal();
        Observation { fitted, ..own.clone() }
    };
    observations.iter().enumerate().map(value).collect()
}

/// Simulation-based calibration (Talts et al. 2018, Validating Bayesian inference algorithms with simulation-based calibration): forty
/// truths drawn from what was thought possible, each with twelve lines measured on it. The rank of each truth among the draws is even, and
/// intervals of 90 % hold about 90 % of them.
///
/// What is thought possible is narrow here, so that the first polynomials do. (Forty truths over the usual ranges, with polynomials fitted anew
/// as a calibration does, took five minutes: 91.2 % within 90 %, chi-square 4.8.)
///
/// n = 160 ranks in 5 bins of 32: chi-square of 4 degrees of freedom, 33.4 at 1e-6; a posterior that is half as wide as it should be puts about
/// 54 into each outer bin, which gives more than 38. The number inside the 90 % intervals has a standard deviation of 2.4 %.
#[test]
fn known_truths_are_recovered() {
    const TRUTHS: usize = 40;
    let scenario = first_line();
    let lines = twelve(&scenario);
    let atlas = Atlas::for_like_droplets(jets());
    let free = [
        "atomiser.mist_load_ul_per_l=15..27",
        "landing.contact_angle_deg=24..38",
        "flight.radius_factor=0.95..1.05",
        "atomiser.retention_midpoint=0.27..0.40",
    ]
    .map(str::to_owned);
    let asked = Asked { scenario: &scenario, lines: &lines, free: &free, print: None };
    let model = Model::new(&scenario, &atlas, &lines);
    let prepared = Prepared::new(&asked, &model, &Silent).unwrap_or_else(|error| panic!("{error}"));
    let of_truth = |number: usize| -> [Vec<f64>; 2] {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(1000 + number as u64);
        // Lines so wide that they meet the next have no width, and nobody would measure one.
        let (truth, true_values) = loop {
            let truth: Vec<f64> = prepared.unknowns.iter().map(|unknown| unknown.at_share(random.random())).collect();
            let true_values = model.at(&at_deviates(&prepared.unknowns, &truth), &Silent).expect("it runs");
            if true_values.iter().all(Option::is_some) {
                break (truth, true_values);
            }
        };
        let lacks = LACKS.map(|lack| lack * random.sample::<f64, _>(StandardNormal).abs());
        let observations = measured(&model.observations, &prepared, &true_values, lacks, &mut random);
        let posterior =
            prepared.learn(&observations, None, &Silent).unwrap_or_else(|error| panic!("{number}: {error}"));
        [1.0, 0.5].map(|width| ranks(&posterior, &truth, width))
    };
    let ranks: Vec<[Vec<f64>; 2]> = (0..TRUTHS).into_par_iter().map(of_truth).collect();
    let [right, narrow] = [0, 1].map(|k| {
        let ranks: Vec<f64> = ranks.iter().flat_map(|both| both[k].iter().copied()).collect();
        let mut bins = [0.0; 5];
        ranks.iter().for_each(|rank| bins[(rank * 5.0).min(4.0) as usize] += 1.0);
        let even = ranks.len() as f64 / 5.0;
        let chi_square: f64 = bins.iter().map(|count| (count - even).powi(2) / even).sum();
        let inside = ranks.iter().filter(|rank| (0.05..=0.95).contains(*rank)).count() as f64 / ranks.len() as f64;
        println!("ranks {bins:?}, chi-square {chi_square:.2}, {:.1} % within 90 %", 100.0 * inside);
        (chi_square, inside)
    });
    assert!(right.0 < 33.4 && (0.80..=0.97).contains(&right.1), "{right:?}");
    // The check can fail: with draws half as far apart as they should be.
    assert!(narrow.0 > 33.4 && narrow.1 < 0.80, "{narrow:?}");
}

/// Share of the draws below the truth, for each unknown; draws so many times as far from their mean.
fn ranks(posterior: &Posterior, truth: &[f64], width: f64) -> Vec<f64> {
    let n = posterior.draws.len() as f64;
    let share = |(k, truth): (usize, &f64)| {
        let mean = posterior.draws.iter().map(|draw| draw[k]).sum::<f64>() / n;
        posterior.draws.iter().filter(|draw| mean + width * (draw[k] - mean) < *truth).count() as f64 / n
    };
    truth.iter().enumerate().map(share).collect()
}

/// A coverage that no mist load thought possible gives: it is told, with the value that is farthest off.
#[test]
fn nothing_that_was_thought_possible_may_fit() {
    let scenario = first_line();
    let text = "name,item,region,coverage_percent,coverage_sd_percent\n\
                a,2 mm/s,strip at 2 mm/s,90,1\n\
                b,4 mm/s,strip at 4 mm/s,5.2,0.2\n";
    let lines = lines::parse(text, "lines.csv", &scenario).unwrap_or_else(|faults| panic!("{faults}")).lines;
    let free = ["atomiser.mist_load_ul_per_l".to_owned()];
    let error = calibrate(&Asked { scenario: &scenario, lines: &lines, free: &free, print: None }, jets(), &Silent)
        .expect_err("no fit");
    let words = error.to_string();
    assert!(matches!(error, CalibrateError::NothingFits(_)), "{words}");
    assert!(words.contains("coverage of \"a\": measured 90") && words.contains("--free"), "{words}");
}

/// Lines of which only the speed differs, to be told by mist load and solids: both move all amounts alike.
#[test]
fn lines_that_cannot_tell_two_unknowns_apart_say_so() {
    let scenario = first_line();
    let text = "name,item,region,coverage_percent,coverage_sd_percent\n\
                a,2 mm/s,strip at 2 mm/s,10.2,0.4\n\
                b,4 mm/s,strip at 4 mm/s,5.2,0.2\n";
    let lines = lines::parse(text, "lines.csv", &scenario).unwrap_or_else(|faults| panic!("{faults}")).lines;
    let free = ["atomiser.mist_load_ul_per_l", "ink.powder[1].mass_percent=1.5..2.6"].map(str::to_owned);
    let asked = Asked { scenario: &scenario, lines: &lines, free: &free, print: None };
    let told = calibrate(&asked, jets(), &Silent).unwrap_or_else(|error| panic!("{error}"));
    let words = told.untold.join("\n");
    assert!(
        words.contains("cannot tell apart") && words.contains("mist load") && words.contains("alumina in the ink"),
        "{words}"
    );
    assert!(words.contains("less"), "{words}");
    // Together they are told: the product of both is known better than each.
    assert!(told.correlations[0][1] < -0.6, "{:?}", told.correlations);
    assert!(!told.agreement().is_against(), "{:?}", told.fit);
    // A balance tells them apart; lines that tell next to nothing are not listed.
    assert!(told.further.first().is_some_and(|further| further.line.contains("vial")), "{:?}", told.further);
    let gains: Vec<f64> = told.further.iter().map(|further| further.gain(told.ranked_by)).collect();
    assert!(gains.is_sorted_by(|a, b| a >= b) && gains.iter().all(|gain| *gain >= WORTH_PRINTING), "{gains:?}");
}

/// Lines of a bench that is not as the model has it: lift acts, droplets are more alike, a flow is 20 % higher than set. Nine lines are learnt
/// from, and three at other speeds and sheath flows are held out. Either it is told that the model does not fit, or fits poorly, or what it
/// states of the held-out lines holds the truth: of 60 widths and coverages, at most one in ten lies outside its 95 % interval and none beyond
/// three standard deviations. (Of a right model one in twenty would; they are not independent.)
///
/// Not covered: lines far from those that were learnt from. What mist load and landing radii take up here need not hold there.
#[test]
fn a_wrong_model_is_told_or_wide_enough() {
    let scenario = first_line();
    let lines = twelve(&scenario);
    let atlas = Atlas::for_like_droplets(jets());
    let free = ["atomiser.mist_load_ul_per_l", "landing.contact_angle_deg", "flight.radius_factor"].map(str::to_owned);
    let asked = Asked { scenario: &scenario, lines: &lines, free: &free, print: None };
    let model = Model::new(&scenario, &atlas, &lines);
    let prepared = Prepared::new(&asked, &model, &Silent).unwrap_or_else(|error| panic!("{error}"));
    let wrong = [
        ("flight.lift_factor", 1.0),
        ("atomiser.droplet_gsd", 1.35),
        ("flow.carrier_sccm", 12.0),
        ("flow.carrier_sccm", 8.0),
        // Lines state their own: each is 20 % off.
        ("flow.sheath_sccm", 48.0),
    ];
    let mut distances = vec![];
    for (key, value) in wrong {
        let unknown = unknowns::asked(&scenario, key).expect("a key");
        let truth = model.at(&[(&unknown, value)], &Silent).expect("it runs");
        for seed in 0..2 {
            let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
            let observations = measured(&model.observations, &prepared, &truth, [0.0; 2], &mut random);
            let posterior =
                prepared.learn(&observations, Some(&model), &Silent).unwrap_or_else(|error| panic!("{error}"));
            let values = prepared.values_of(&observations, &posterior, &Silent).expect("it runs");
            let fit = prepared.fit(&posterior, &observations, &|line| !lines[line].is_held_out);
            let agreement = Agreement::of(&fit, &values);
            let held_out = (0..observations.len()).filter(|k| lines[observations[*k].line].is_held_out);
            let own: Vec<f64> = held_out
                .map(|k| {
                    let [middle, sd] = prepared.stated(&posterior, &observations, k);
                    (truth[k].expect("the model has an answer") - middle) / sd
                })
                .collect();
            println!("{key} {value}: {agreement:?}, probability {:.3}, held out {own:.1?}", fit.probability);
            assert_eq!(own.len(), 2 * HELD_OUT.len());
            if !agreement.is_against() {
                distances.extend(own);
            }
        }
    }
    // Most are taken up by mist load and landing radii.
    assert!(distances.len() > 30, "{}", distances.len());
    let outside = |width: f64| distances.iter().filter(|distance| distance.abs() > 1.96 * width).count();
    assert!(distances.iter().all(|distance| distance.abs() < 3.0) && 10 * outside(1.0) <= distances.len());
    // The check can fail: with intervals of a quarter of the width.
    assert!(10 * outside(0.25) > distances.len(), "{}", outside(0.25));
}
