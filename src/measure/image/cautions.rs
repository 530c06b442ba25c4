//! What the user should know of a picture.

use super::Reading;
use super::values::LineReading;
use crate::grains::{inside_distance, without_specks};
use crate::ground::{Brightness, Levels};
use crate::line::{Kind, Look, NoEdges};
use crate::picture::Picture;
use crate::raster::Raster;

/// Share of pixels at the ends of the grey scale above which the picture is called clipped.
const MOST_CLIPPED: f64 = 0.02;
/// Distance of the classes, in standard deviations, below which they are called hard to tell apart.
const CLEARLY_DISTINCT: f64 = 5.0;
/// Mean radius of grains, in standard deviations of the blur, below which they are called too small.
const LEAST_RADIUS: f64 = 2.5;
/// Rows and share of a row that make a data bar.
const BAR_ROWS: usize = 8;
const BAR_SHARE: f64 = 0.5;
/// Unevenness of the light, in steps from ground to particles, from which on it is told.
const UNEVEN: f64 = 0.5;
/// Share of the picture's frame above which what makes it up may well be the ground.
pub(super) const MOST_OF_FRAME: f64 = 0.5;
/// Standard deviations of ground from which on a place is none of it, how far it must lie from an edge, in standard deviations of the blur, and the
/// fewest pixels of such a place.
const FAR_FROM_GROUND: f64 = 6.0;
const EDGE_REACH: f64 = 3.0;
const LEAST_FAINT: usize = 25;
/// Area of such places, over that of particles, that is not told.
const MOST_FAINT: f64 = 0.25;
/// Covered share of a line's middle above which grains hide each other.
const CROWDED: f64 = 0.6;

/// Sentences.
pub(super) fn cautions(
    brightness: Brightness,
    picture: &Picture,
    grey: &Raster<f32>,
    levels: &Levels,
    reading: &Reading,
    look: &Look,
    line: Option<&LineReading>,
) -> Vec<String> {
    let of_grains =
        if reading.network.is_one() { [Some(network(reading)), None, None] } else { of_grains(reading, line) };
    let of_picture = [
        frame(brightness, reading),
        faint(levels, reading),
        data_bar(grey),
        clipped(grey, picture.full_scale),
        classes(levels),
        light(levels),
    ];
    let more = picture.more.then(|| "The file holds more pictures than the first, which are not looked at.".to_owned());
    let ends = (look.kind == Kind::Line && look.ends > 0).then(|| {
        "The line ends within the picture, so what lies beyond its end counts as bare line. Crop to the part that the line crosses.".to_owned()
    });
    let again = look.rises_again.then(|| {
        "What is covered rises to half of its peak more than once across the picture: several lines, or one that is hollow. Crop to one line; with --of line, the width is that of the highest ridge.".to_owned()
    });
    let no_edges = line.and_then(|line| line.edges.err()).map(no_edges);
    of_grains.into_iter().chain(of_picture).chain([more, ends, again, no_edges]).flatten().collect()
}

fn no_edges(why: NoEdges) -> String {
    let why = match why {
        NoEdges::Beyond => "particles do not end within the picture. Take one that shows bare ground on both sides",
        NoEdges::TooFew => {
            "the line is so sparse that a few particles would decide it. Take more of its length, in one picture or in several that you measure \
             as one"
        }
        NoEdges::TooNarrow => "the picture shows too little across the line or along it. Take a larger one",
    };
    format!("The width from edge to edge is not given: {why}.")
}

fn network(reading: &Reading) -> String {
    let network = &reading.network;
    if network.is_film() {
        return "Single grains cannot be told: what is covered reaches across the picture as a whole. Nothing is counted or sized but strays; coverage \
                and widths stand."
            .into();
    }
    let holes = match network.euler_number {
        balance @ ..0 => format!("there are {} more holes than pieces", -balance),
        _ => "it winds".into(),
    };
    format!(
        "Single grains cannot be told: what is covered is a connected network, like a sponge, or grains heaped on each other. {:.0} % of it is \
         one piece, {holes}, and its parts fill {:.0} % of their outlines (grains fill 90 % or more). Nothing is counted or sized; coverage \
         and widths stand.",
        100.0 * network.largest_share,
        100.0 * network.solidity
    )
}

fn of_grains(reading: &Reading, line: Option<&LineReading>) -> [Option<String>; 3] {
    let whole: Vec<f64> = reading.grains.iter().filter(|g| g.weight.is_some()).map(|g| 0.5 * g.diameter).collect();
    let radius = whole.iter().sum::<f64>() / whole.len().max(1) as f64;
    let small = (!whole.is_empty() && radius < LEAST_RADIUS * reading.blur).then(|| {
        format!(
            "Grains are {:.1} pixels in radius on average and edges are blurred by {:.1}: count and sizes are rough. Take a sharper picture or more magnification.",
            radius, reading.blur
        )
    });
    let share = reading.network.largest_share;
    let peak = line.map_or(reading.coverage, |line| line.read.peak);
    let crowded = (peak > CROWDED || share > 0.3 && reading.grains.len() > 3).then(|| {
        "Grains lie on and against each other (covered at most: {peak} %, largest connected piece: {share} % of it): those below are not seen, and count and sizes rest on how the pieces are split."
            .replace("{peak}", &format!("{:.0}", 100.0 * peak))
            .replace("{share}", &format!("{:.0}", 100.0 * share))
    });
    let odd = (reading.network.solidity < 0.88).then(|| {
        format!(
            "The grains fill {:.0} % of their outlines, less than single discs, rods or polygons do (90 % or more): they are odd in shape, or not all were told apart.",
            100.0 * reading.network.solidity
        )
    });
    [small, crowded, odd]
}

/// Ground goes on beyond a picture as a rule.
fn frame(brightness: Brightness, reading: &Reading) -> Option<String> {
    let share = reading.frame_share();
    let (are, other) = match brightness {
        Brightness::Bright => ("bright", "--dark"),
        Brightness::Dark => ("dark", "--bright"),
    };
    (share > MOST_OF_FRAME).then(|| {
        format!(
            "Particles are the {are} part, as given, and make up {:.0} % of the picture's frame: if that is the ground, give {other}.",
            100.0 * share
        )
    })
}

/// Much of what counts as ground stands out from it, away from the edges of what is brighter.
fn faint(levels: &Levels, reading: &Reading) -> Option<String> {
    let covered = reading.mask.values.iter().filter(|covered| **covered).count();
    let distance = inside_distance(&reading.mask);
    let beyond = -(EDGE_REACH * reading.blur + 1.0);
    let least = (FAR_FROM_GROUND * levels.ground_scatter) as f32;
    let mut stands_out = levels.share.map(|share| share > least);
    let is_clear = |distance: &f32| f64::from(*distance) < beyond;
    stands_out.values.iter_mut().zip(&distance.values).for_each(|(value, distance)| *value &= is_clear(distance));
    let faint = without_specks(&stands_out, LEAST_FAINT);
    let mut shares: Vec<f32> =
        levels.share.values.iter().zip(&faint.values).filter(|(_, faint)| **faint).map(|(share, _)| *share).collect();
    if shares.len() as f64 <= MOST_FAINT * covered as f64 || shares.is_empty() {
        return None;
    }
    let middle = shares.len() / 2;
    let midway = 0.5 * f64::from(*shares.select_nth_unstable_by(middle, f32::total_cmp).1);
    Some(format!(
        "{:.0} % of the picture counts as ground but stands out from it: faint particles beside bright ones, or a glow around these. Look at the \
         overlay; --threshold {:.0} takes them in.",
        100.0 * shares.len() as f64 / faint.area() as f64,
        levels.grey_threshold + (midway - levels.threshold) * levels.step
    ))
}

/// Many rows at the top or bottom in which one grey rules, and others that are not so.
fn data_bar(grey: &Raster<f32>) -> Option<String> {
    let is_bar = |row: usize| {
        let mut values: Vec<f32> = grey.row(row).to_vec();
        values.sort_by(f32::total_cmp);
        let longest = values.chunk_by(|a, b| a == b).map(<[f32]>::len).max().unwrap_or(0);
        longest as f64 > BAR_SHARE * grey.columns as f64
    };
    let most = grey.rows / 3;
    let run = |rows: &mut dyn Iterator<Item = usize>| rows.take_while(|row| is_bar(*row)).take(most).count();
    let ends = [("top", run(&mut (0..grey.rows))), ("bottom", run(&mut (0..grey.rows).rev()))];
    let bars: Vec<String> = ends
        .iter()
        .filter(|(_, rows)| (BAR_ROWS..most).contains(rows))
        .map(|(side, rows)| format!("{side}={rows}"))
        .collect();
    (!bars.is_empty()).then(|| {
        format!(
            "The picture seems to have a data bar, which counts as particles or ground. Cut it off with --crop {}.",
            bars.join(",")
        )
    })
}

fn clipped(grey: &Raster<f32>, full_scale: f32) -> Option<String> {
    let share = |end: f32| grey.values.iter().filter(|v| **v == end).count() as f64 / grey.area() as f64;
    let (black, white) = (share(0.0), share(full_scale));
    (black > MOST_CLIPPED || white > MOST_CLIPPED).then(|| {
        format!(
            "Grey values are cut off ({:.0} % of the pixels are black, {:.0} % white). Widths of edges are then less sure; lower the contrast.",
            100.0 * black,
            100.0 * white
        )
    })
}

fn classes(levels: &Levels) -> Option<String> {
    (levels.distinct < CLEARLY_DISTINCT).then(|| {
        format!(
            "Particles and ground are hard to tell apart: their greys differ by {:.1} times their scatter. Look at the overlay.",
            levels.distinct
        )
    })
}

fn light(levels: &Levels) -> Option<String> {
    (levels.uneven > UNEVEN).then(|| {
        format!(
            "The light is uneven: the ground differs by {:.0} % of the step from ground to particles. It was levelled; look at the overlay.",
            100.0 * levels.uneven
        )
    })
}
