//! Prints on a bench of which not all is known.

use crate::common::{Case, jets};
use motefall_figures::{FigureRow, Prediction, RegionFigure};
use motefall_physics::inputs::Inputs;
use motefall_run::atlas::Atlas;
use motefall_run::expected::{expected_possible, means_as_set};
use motefall_run::{Silent, predict, predict_possible};

/// A short straight flight, so that no jet is solved.
fn case(prints: u32) -> Case {
    Case::shipped("sodium-chip").set("flight.model", "straight").set("prints", i64::from(prints)).without("spread")
}

fn possible(inputs: &Inputs, all: &[Inputs]) -> Prediction {
    let jets = jets();
    predict_possible(inputs, all, &Atlas::new(&jets), &Silent).unwrap_or_else(|error| panic!("{error}"))
}

fn coverage(p: &Prediction) -> &FigureRow {
    let is_it =
        |row: &&FigureRow| row.kind.figure == RegionFigure::Coverage.into() && row.place.as_deref() == Some("target");
    p.figures.iter().find(is_it).expect("it is told")
}

fn values(p: &Prediction) -> &[f64] {
    &coverage(p).distribution.as_ref().expect("prints enough").values
}

/// If all that is possible is what is set, prints are those of an ordinary prediction after its first one, bit for bit, and nothing is unknown.
#[test]
fn one_possible_bench_gives_ordinary_prints() {
    let ordinary = predict(&case(25).inputs(), &jets(), &Silent).unwrap_or_else(|error| panic!("{error}"));
    let inputs = case(24).inputs();
    let same = possible(&inputs, &[inputs.clone(), inputs.clone()]);
    assert_eq!(values(&same), &values(&ordinary)[1..]);
    assert_eq!((same.verdict.n, same.far.prints()), (24, 24));
    assert_eq!(coverage(&same).from_unknown, Some(0.0));
    assert_eq!(coverage(&ordinary).from_unknown, None);
}

/// Two mist loads, as likely as each other: every other print has the one and the others the other, and what is unknown is half of the
/// difference of their means (times sqrt(2) with one degree of freedom for two).
#[test]
fn prints_take_what_is_possible_in_turn() {
    let load = |load: f64| case(24).set("atomiser.mist_load_ul_per_l", load).inputs();
    let (low, high) = (load(0.6), load(1.0));
    let both = possible(&case(24).inputs(), &[low.clone(), high.clone()]);
    let alone = |inputs: &Inputs| possible(inputs, std::slice::from_ref(inputs));
    let (lows, highs) = (alone(&low), alone(&high));
    for (k, value) in values(&both).iter().enumerate() {
        let of = if k % 2 == 0 { &lows } else { &highs };
        assert_eq!(*value, values(of)[k], "print {k}");
    }
    let jets = jets();
    let atlas = Atlas::new(&jets);
    let expected = expected_possible(&case(24).inputs(), &[low.clone(), high.clone()], &atlas, &Silent);
    let expected = expected.unwrap_or_else(|error| panic!("{error}"));
    let at = expected
        .figures
        .iter()
        .position(|row| row.kind.figure == coverage(&both).kind.figure && row.place.as_deref() == Some("target"));
    let at = at.expect("it is told");
    let [a, b] =
        [&low, &high].map(|inputs| means_as_set(inputs, &atlas, &Silent).expect("it runs")[at].expect("known"));
    let value = expected.figures[at].value.as_ref().expect("known");
    assert!((value.from_unknown - (b - a).abs() / 2f64.sqrt()).abs() < 1e-12);
    assert!((value.mean / (0.5 * (a + b)) - 1.0).abs() < 0.02, "{} {a} {b}", value.mean);
    assert_eq!(coverage(&both).from_unknown, Some(value.from_unknown));
}
