//! Where a straight line is inside a region, and lands on it.

use motefall_physics::inputs::{Outline, Region, Role};
use motefall_physics::map::outline;

/// A line: a point, m, and a unit vector.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    pub(super) from: [f64; 2],
    pub(super) along: [f64; 2],
}

impl Line {
    /// Where on the line lies the point next to this one, and how far to the left of the line this one is, m.
    pub(super) fn place(&self, point: [f64; 2]) -> [f64; 2] {
        let [dx, dy] = [0, 1].map(|k| point[k] - self.from[k]);
        [dx * self.along[0] + dy * self.along[1], dy * self.along[0] - dx * self.along[1]]
    }
}

/// Stretches of a line, begin and end, in order.
pub(super) type Stretches = Vec<[f64; 2]>;

/// An outline seen from a line: places along it and to its left, m.
#[derive(Debug, Clone)]
enum Framed {
    Edges(Edges),
    Disc { middle: [f64; 2], radius: f64 },
}

impl Framed {
    fn new(outline: &Outline, line: Line) -> Self {
        match outline {
            Outline::Rectangle { center, size, rotation } => {
                let (sin, cos) = rotation.sin_cos();
                let corner = |x: f64, y: f64| {
                    let (x, y) = (0.5 * x * size[0], 0.5 * y * size[1]);
                    line.place([center[0] + cos * x - sin * y, center[1] + sin * x + cos * y])
                };
                let corners = [corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)];
                Self::Edges(Edges::new((0..4).map(|k| [corners[k], corners[(k + 1) % 4]]).collect()))
            }
            Outline::Disc { center, radius } => Self::Disc { middle: line.place(*center), radius: *radius },
            Outline::Area(area) => {
                let mut edges = Vec::new();
                area.contours.each_edge(|a, b| edges.push([line.place(a), line.place(b)]));
                Self::Edges(Edges::new(edges))
            }
        }
    }

    /// Where the line so far to the left is inside.
    fn inside(&self, left: f64) -> Stretches {
        match self {
            Self::Edges(edges) => {
                let mut crossings: Vec<f64> = edges.crossings(left).collect();
                crossings.sort_by(f64::total_cmp);
                crossings.chunks_exact(2).map(|ends| [ends[0], ends[1]]).collect()
            }
            Self::Disc { middle: [at, aside], radius } => {
                let half = (radius * radius - (aside - left) * (aside - left)).max(0.0).sqrt();
                if half > 0.0 { vec![[at - half, at + half]] } else { vec![] }
            }
        }
    }
}

/// A rectangle along a line: from where to where along it and to its left, m, and how many times it counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Block {
    pub(super) at: [f64; 2],
    pub(super) left: [f64; 2],
    pub(super) times: f64,
}

/// Part of a rectangle's size by which its corners may lie off the right angles.
const SKEW: f64 = 1e-9;

impl Block {
    fn meets(&self, other: &Self) -> Option<Self> {
        let common = |one: [f64; 2], other: [f64; 2]| {
            let [from, to] = [one[0].max(other[0]), one[1].min(other[1])];
            (to > from).then_some([from, to])
        };
        let (at, left) = (common(self.at, other.at)?, common(self.left, other.left)?);
        Some(Self { at, left, times: self.times * other.times })
    }
}

impl Framed {
    /// As a rectangle along the line, if it is one.
    fn block(&self) -> Option<Block> {
        let Self::Edges(edges) = self else { return None };
        let [a, b, c, d] = edges.strips.first()?[..] else { return None };
        let corners = [a, b, c, d].map(|edge| edge[0]);
        let ends = |k: usize| {
            let of = |pick: fn(f64, f64) -> f64| corners[1..].iter().map(|corner| corner[k]).fold(corners[0][k], pick);
            [of(f64::min), of(f64::max)]
        };
        let (at, left) = (ends(0), ends(1));
        let most = SKEW * (at[1] - at[0]).max(left[1] - left[0]);
        let near = |value: f64, ends: [f64; 2]| ends.iter().any(|end| (value - end).abs() <= most);
        let is_along = [a, b, c, d].iter().all(|[from, to]| {
            let turn = [0, 1].map(|k| (from[k] - to[k]).abs() <= most);
            near(from[0], at) && near(from[1], left) && turn[0] != turn[1]
        });
        is_along.then_some(Block { at, left, times: 1.0 })
    }
}

/// Edge by its two ends.
type Edge = [[f64; 2]; 2];

/// Edges, found by how far to the left they are.
#[derive(Debug, Clone)]
struct Edges {
    /// The least place to the left of any, m, and strips per length, 1/m.
    low: f64,
    per_metre: f64,
    /// Edges that reach into each strip.
    strips: Vec<Vec<Edge>>,
}

/// Edges up to which all are looked at.
const FEW: usize = 12;
/// Most strips.
const MOST_STRIPS: usize = 512;

impl Edges {
    fn new(edges: Vec<Edge>) -> Self {
        let lefts = |edge: &Edge| [edge[0][1].min(edge[1][1]), edge[0][1].max(edge[1][1])];
        let low = edges.iter().map(|edge| lefts(edge)[0]).fold(f64::INFINITY, f64::min);
        let high = edges.iter().map(|edge| lefts(edge)[1]).fold(f64::NEG_INFINITY, f64::max);
        if edges.len() <= FEW || high <= low {
            return Self { low, per_metre: 0.0, strips: vec![edges] };
        }
        let count = edges.len().min(MOST_STRIPS);
        let per_metre = count as f64 / (high - low);
        let mut strips = vec![vec![]; count];
        for edge in edges {
            let [first, last] = lefts(&edge).map(|left| (((left - low) * per_metre) as usize).min(count - 1));
            strips[first..=last].iter_mut().for_each(|strip| strip.push(edge));
        }
        Self { low, per_metre, strips }
    }

    /// Where edges cross the line so far to the left.
    fn crossings(&self, left: f64) -> impl Iterator<Item = f64> + '_ {
        let strip = (((left - self.low) * self.per_metre).max(0.0) as usize).min(self.strips.len() - 1);
        self.strips[strip].iter().filter_map(move |[[at_a, left_a], [at_b, left_b]]| {
            let crosses = (*left_a < left) != (*left_b < left);
            crosses.then(|| at_a + (at_b - at_a) * (left - left_a) / (left_b - left_a))
        })
    }
}

/// Where lines beside a line are inside a region, and not on others.
#[derive(Debug, Clone)]
pub(super) struct Chords {
    region: Framed,
    /// Regions that claim before it what lands on both.
    earlier: Vec<Framed>,
}

impl Chords {
    /// For a region whatever lies on it.
    pub(super) fn of_whole(regions: &[Region], k: usize, line: Line) -> Self {
        Self { region: Framed::new(&regions[k].outline, line), earlier: Vec::new() }
    }

    /// For what lands on a region and on none that claims it before.
    pub(super) fn of_own(regions: &[Region], k: usize, line: Line) -> Self {
        let of = |other: usize| Framed::new(&regions[other].outline, line);
        Self { region: of(k), earlier: earlier(regions, k).map(of).collect() }
    }

    /// Rectangles along the line that add up to where it is inside, if there are any.
    pub(super) fn blocks(&self) -> Option<Vec<Block>> {
        let region = self.region.block()?;
        let taken: Option<Vec<Block>> = self.earlier.iter().map(Framed::block).collect();
        let taken: Vec<Block> = taken?.iter().filter_map(|taken| region.meets(taken)).collect();
        let apart = |(k, one): (usize, &Block)| taken[..k].iter().all(|other| one.meets(other).is_none());
        taken.iter().enumerate().all(apart).then(|| {
            let less = taken.iter().map(|block| Block { times: -1.0, ..*block });
            std::iter::once(region).chain(less).collect()
        })
    }

    /// The stretches of the line so far to the left, m.
    pub(super) fn at(&self, left: f64) -> Stretches {
        let mut all = self.region.inside(left);
        for other in &self.earlier {
            if all.is_empty() {
                break;
            }
            for taken in other.inside(left) {
                all = all.iter().flat_map(|ends| without(*ends, taken)).collect();
            }
        }
        all
    }
}

/// Regions that claim before a region what lands on both, and that may overlap it: electrodes and keep-outs come before windows, else the
/// order of the inputs decides.
pub(super) fn earlier(regions: &[Region], k: usize) -> impl Iterator<Item = usize> + '_ {
    let rank = |k: usize| (regions[k].role == Role::Window, k);
    let bounds = |k: usize| outline::bounds(&regions[k].outline);
    let meets = move |other: usize| {
        let (one, other) = (bounds(k), bounds(other));
        (0..2).all(|axis| one.low[axis] < other.high[axis] && other.low[axis] < one.high[axis])
    };
    (0..regions.len()).filter(move |other| rank(*other) < rank(k) && meets(*other))
}

/// What is left of a stretch.
fn without(ends: [f64; 2], taken: [f64; 2]) -> impl Iterator<Item = [f64; 2]> {
    let parts = [[ends[0], ends[1].min(taken[0])], [ends[0].max(taken[1]), ends[1]]];
    parts.into_iter().filter(|[from, to]| to > from)
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_physics::map::outline::contains;

    /// Lines in all directions: a point of the line is on a stretch if it is in the outline.
    #[test]
    fn stretches_are_where_points_are_inside() {
        let corners = vec![[-9e-6, -4e-6], [11e-6, -4e-6], [1e-6, 2e-6], [11e-6, 14e-6], [-9e-6, 14e-6]];
        let spike = |k: u32| {
            let (angle, radius) =
                (f64::from(k) * std::f64::consts::TAU / 80.0, if k.is_multiple_of(2) { 13e-6 } else { 8e-6 });
            [1e-6 + radius * angle.cos(), radius * angle.sin()]
        };
        let star = (0..80).map(spike).collect();
        let outlines = [
            Outline::Rectangle { center: [1e-6, 2e-6], size: [30e-6, 7e-6], rotation: 0.3 },
            Outline::Rectangle { center: [1e-6, 2e-6], size: [30e-6, 7e-6], rotation: 0.0 },
            Outline::Disc { center: [1e-6, 2e-6], radius: 11e-6 },
            Outline::polygon(corners),
            Outline::polygon(star),
        ];
        let mut hits = 0;
        for outline in outlines {
            let region = [Region { name: "r".into(), role: Role::Target, outline }];
            for k in 0..200 {
                let angle = 0.05 * f64::from(k);
                let line = Line { from: [0.0, 0.0], along: [angle.cos(), angle.sin()] };
                let left = 0.1e-6 * f64::from(k % 40) - 1e-6;
                let stretches = Chords::of_whole(&region, 0, line).at(left);
                for m in -300..300 {
                    let at = 0.1e-6 * f64::from(m) + 0.037e-6;
                    let [cos, sin] = line.along;
                    let point = [at * cos - left * sin, at * sin + left * cos];
                    let on = stretches.iter().any(|[from, to]| (*from..*to).contains(&at));
                    assert_eq!(on, contains(&region[0].outline, point), "{region:?} {line:?} {at}");
                    hits += usize::from(on);
                }
            }
        }
        assert!(hits > 50_000, "{hits}");
    }

    /// Lines along and across regions: the blocks add up to the stretches.
    #[test]
    fn blocks_add_up_to_what_is_inside() {
        let square = |role, x: f64, y: f64, size: f64, rotation: f64| Region {
            name: "r".into(),
            role,
            outline: Outline::Rectangle { center: [x, y], size: [size; 2], rotation },
        };
        let quarter = std::f64::consts::FRAC_PI_2;
        let regions = [
            square(Role::Window, 0.0, 0.0, 10.0, 0.0),
            square(Role::Target, 2.0, 0.1, 2.0, quarter),
            square(Role::KeepOut, 4.5, -3.0, 3.0, 0.0),
        ];
        for along in [[1.0, 0.0], [0.0, -1.0], [-quarter.cos(), -1.0]] {
            let line = Line { from: [0.3, 0.5], along };
            let chords = Chords::of_own(&regions, 0, line);
            let blocks = chords.blocks().expect("they lie along and across");
            for k in 0..300 {
                let left = 0.05 * f64::from(k) - 7.513;
                let length: f64 = chords.at(left).iter().map(|[from, to]| to - from).sum();
                let at = |block: &&Block| (block.left[0]..block.left[1]).contains(&left);
                let of_blocks: f64 = blocks.iter().filter(at).map(|b| b.times * (b.at[1] - b.at[0])).sum();
                assert!((length - of_blocks).abs() < 1e-6, "{left}: {length} {of_blocks}");
            }
        }
        let askew = Line { from: [0.3, 0.5], along: [0.8, 0.6] };
        assert_eq!(Chords::of_own(&regions, 0, askew).blocks(), None);
        // Two that overlap each other are not taken off twice.
        let twice =
            [square(Role::Target, 2.0, 0.0, 2.0, 0.0), square(Role::Target, 3.0, 0.0, 2.0, 0.0), regions[0].clone()];
        assert_eq!(Chords::of_own(&twice, 2, Line { from: [0.0; 2], along: [1.0, 0.0] }).blocks(), None);
    }

    #[test]
    fn an_electrode_takes_its_part_of_the_window() {
        let square = |role, x: f64, size: f64| Region {
            name: "r".into(),
            role,
            outline: Outline::Rectangle { center: [x, 0.0], size: [size; 2], rotation: 0.0 },
        };
        let regions =
            [square(Role::Window, 0.0, 10.0), square(Role::Target, 2.0, 2.0), square(Role::KeepOut, 4.5, 3.0)];
        let line = Line { from: [0.0, 0.5], along: [1.0, 0.0] };
        let own = |k: usize, left: f64| Chords::of_own(&regions, k, line).at(left);
        assert_eq!(own(0, 0.0), [[-5.0, 1.0]]);
        assert_eq!((own(1, 0.0), own(2, 0.0)), (vec![[1.0, 3.0]], vec![[3.0, 6.0]]));
        assert_eq!(own(0, 0.8), [[-5.0, 3.0]]);
        assert_eq!(Chords::of_whole(&regions, 0, line).at(0.0), [[-5.0, 5.0]]);
    }
}
