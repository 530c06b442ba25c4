//! Where the profile of an item lies.

use crate::Grid;
use motefall_physics::contours::{self, Bounds, turned};
use motefall_physics::inputs::{Inputs, Shape};
use motefall_physics::map::LineVolume;
use motefall_physics::map::outline::corners_of_rectangle;

/// Share of a stroke's length left out at each end, where the shutter and the round spot make it different.
pub const END_SHARE: f64 = 0.1;
/// Half length of the strip across a filled disc, in radii: the chord changes by 3 % within it.
const DISC_STRIP: f64 = 0.25;
/// Fewest pixels on each side of the axis that make a profile.
const FEWEST_BINS: usize = 3;
/// Distance from the axis up to which a stroke lies on it, m.
const ON_AXIS: f64 = 1e-9;

/// What ends a profile to the sides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The measuring grid.
    Grid,
    /// The next stroke beside it: half of the way to it.
    Neighbour,
}

/// Where the profile of an item lies: the stretch of the chip that is averaged along.
#[derive(Debug, Clone)]
pub struct Lane {
    pub(super) middle: [f64; 2],
    pub(super) along: [f64; 2],
    /// Half the length that is averaged over, m.
    pub(super) half_length: f64,
    /// Half the width of the item's own shape, m.
    pub(super) own_half: f64,
    /// Distance from the axis up to which the profile goes, m.
    pub(super) reach: f64,
    pub(super) end: End,
}

/// The middle of a shape, along which its profile is averaged.
struct Stretch {
    middle: [f64; 2],
    along: [f64; 2],
    half_length: f64,
    /// Half the width of the shape itself, m.
    own_half: f64,
}

impl Stretch {
    /// `Err` says why there is none.
    fn of(shape: &Shape) -> Result<Self, &'static str> {
        let flat = [1.0, 0.0];
        Ok(match shape {
            Shape::Polyline(points) => return Self::along_longest(std::slice::from_ref(points)),
            Shape::Polylines(drawn) => return Self::along_longest(&drawn.lines),
            Shape::FilledRectangle { center, size, rotation, .. } => Self {
                middle: *center,
                along: turned(flat, *rotation),
                half_length: (0.5 - END_SHARE) * size[0],
                own_half: 0.5 * size[1],
            },
            Shape::FilledDisc { center, radius, .. } => {
                Self { middle: *center, along: flat, half_length: DISC_STRIP * radius, own_half: *radius }
            }
            Shape::Dot { .. } => return Err("a dot has no length to average along"),
            Shape::Filled(filled) => {
                // Along the longest stretch in the middle of the shape, as for a rectangle.
                let area = filled.area.placed(-filled.angle, [0.0; 2]);
                let Bounds { low, high } = area.bounds();
                let y = 0.5 * (low[1] + high[1]);
                let longest = area.spans(y).into_iter().max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])));
                let Some([a, b]) = longest else { return Err("its middle is not inside of it") };
                Self {
                    middle: turned([0.5 * (a + b), y], filled.angle),
                    along: turned(flat, filled.angle),
                    half_length: (0.5 - END_SHARE) * (b - a),
                    own_half: 0.5 * (high[1] - low[1]),
                }
            }
        })
    }

    /// Along the longest straight stroke of these lines; the first of several.
    fn along_longest(lines: &[Vec<[f64; 2]>]) -> Result<Self, &'static str> {
        let strokes = lines
            .iter()
            .flat_map(|points| points.windows(2))
            .map(|p| (p[0], p[1], (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1])));
        let longest = strokes.fold(None, |best: Option<([f64; 2], [f64; 2], f64)>, stroke| match best {
            Some(b) if b.2 >= stroke.2 => Some(b),
            _ => Some(stroke),
        });
        let Some((a, b, length)) = longest.filter(|(_, _, length)| *length > 0.0) else {
            return Err("the line has no length");
        };
        Ok(Self {
            middle: [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])],
            along: [(b[0] - a[0]) / length, (b[1] - a[1]) / length],
            half_length: (0.5 - END_SHARE) * length,
            own_half: 0.0,
        })
    }
}

impl Lane {
    /// Where the profile begins and ends, m.
    pub fn across(&self) -> [[f64; 2]; 2] {
        let [x, y] = self.along;
        [-self.reach, self.reach].map(|at| [self.middle[0] - at * y, self.middle[1] + at * x])
    }

    /// That of a printed item: along a line, along the longest straight stroke of a polyline, along the strokes of a filled shape. It
    /// reaches to the grid's edge, or half way to the next stroke beside it. `Err` says why there is none.
    pub fn new(inputs: &Inputs, item: usize, grid: Grid) -> Result<Self, &'static str> {
        let Some(printed) = inputs.items().nth(item) else { return Err("it is not printed") };
        let Stretch { middle, along, half_length, own_half } = Stretch::of(&printed.shape)?;
        if half_length < grid.pitch {
            return Err("shorter than a few pixels: choose a finer map pitch");
        }
        let mut lane = Self { middle, along, half_length, own_half, reach: 0.0, end: End::Grid };
        lane.reach = lane.reach_in_grid(grid);
        for (k, other) in inputs.items().enumerate() {
            let own_fill = k == item && own_half > 0.0;
            for [a, b] in edges(&other.shape).into_iter().filter(|_| !own_fill) {
                if let Some(gap) = lane.gap(a, b).filter(|gap| *gap > own_half + grid.pitch) {
                    let half_way = own_half + 0.5 * (gap - own_half);
                    if half_way < lane.reach {
                        (lane.reach, lane.end) = (half_way, End::Neighbour);
                    }
                }
            }
        }
        lane.reach = lane.side_bins(grid) as f64 * grid.pitch;
        if lane.side_bins(grid) < FEWEST_BINS {
            return Err("the map ends, or the next stroke begins, within a few pixels beside it");
        }
        Ok(lane)
    }

    /// Pixels on each side of the axis.
    pub(super) fn side_bins(&self, grid: Grid) -> usize {
        (self.reach / grid.pitch + 1e-6).max(0.0) as usize
    }

    /// Middle of the strip, m, direction along it, half its length and how far it reaches to both sides, m.
    pub fn extent(&self) -> ([f64; 2], [f64; 2], f64, f64) {
        (self.middle, self.along, self.half_length, self.reach)
    }

    /// Whether a place of the nozzle's path is on the axis, or on the item's own shape about it.
    pub fn holds(&self, point: [f64; 2]) -> bool {
        self.place(point).1.abs() <= self.own_half + ON_AXIS
    }

    /// Counts a particle of the item that came to rest at a point.
    #[inline]
    pub fn count(&self, point: [f64; 2], volume: u64, line: &mut LineVolume) {
        let (along, across) = self.place(point);
        if along.abs() <= self.half_length {
            let counted = if across.abs() <= self.reach { &mut line.within } else { &mut line.beyond };
            *counted += volume;
        }
    }

    /// How far to both sides the strip stays inside the grid, m.
    fn reach_in_grid(&self, grid: Grid) -> f64 {
        let size = [grid.columns as f64 * grid.pitch, grid.rows as f64 * grid.pitch];
        let across = [-self.along[1], self.along[0]];
        let mut reach = f64::INFINITY;
        for end in [-self.half_length, self.half_length] {
            for k in 0..2 {
                let at = self.middle[k] + end * self.along[k] - grid.origin[k];
                if across[k].abs() > 1e-12 {
                    reach = reach.min(at.min(size[k] - at) / across[k].abs());
                }
            }
        }
        reach
    }

    /// Least distance from the axis of a stroke where it runs beside the strip, m; `None` if it does not; 0 if it crosses the axis.
    fn gap(&self, a: [f64; 2], b: [f64; 2]) -> Option<f64> {
        let [(s, d), (t, e)] = [a, b].map(|p| self.place(p));
        // Part of the stroke within the strip's length.
        let (low, high) = (-self.half_length, self.half_length);
        if s.max(t) < low || s.min(t) > high {
            return None;
        }
        let at = |wanted: f64| if s == t { d } else { d + (e - d) * ((wanted - s) / (t - s)).clamp(0.0, 1.0) };
        let (d, e) = if s == t { (d, e) } else { (at(s.clamp(low, high)), at(t.clamp(low, high))) };
        Some(if d * e <= 0.0 { 0.0 } else { d.abs().min(e.abs()) })
    }

    /// Coordinates along and across the strip.
    pub(super) fn place(&self, p: [f64; 2]) -> (f64, f64) {
        let (x, y) = (p[0] - self.middle[0], p[1] - self.middle[1]);
        (x * self.along[0] + y * self.along[1], y * self.along[0] - x * self.along[1])
    }

    /// What ends the profile to the sides.
    pub(crate) fn end(&self) -> End {
        self.end
    }
}

/// Straight edges of what a shape prints: strokes of a polyline, outline of a filled shape, the point of a dot.
fn edges(shape: &Shape) -> Vec<[[f64; 2]; 2]> {
    match shape {
        Shape::Polyline(points) => points.windows(2).map(|p| [p[0], p[1]]).collect(),
        Shape::FilledRectangle { center, size, rotation, .. } => {
            contours::edges(&corners_of_rectangle(*center, *size, *rotation)).collect()
        }
        Shape::FilledDisc { center, radius, .. } => {
            let corner = |k: u32| {
                let [x, y] = turned([*radius, 0.0], std::f64::consts::TAU * f64::from(k) / 32.0);
                [center[0] + x, center[1] + y]
            };
            let corners: Vec<[f64; 2]> = (0..32).map(corner).collect();
            contours::edges(&corners).collect()
        }
        Shape::Dot { at, .. } => vec![[*at, *at]],
        Shape::Filled(filled) => {
            let mut all = Vec::new();
            filled.area.each_edge(|a, b| all.push([a, b]));
            all
        }
        Shape::Polylines(drawn) => drawn.lines.iter().flat_map(|line| line.windows(2)).map(|p| [p[0], p[1]]).collect(),
    }
}
