//! How a particle is added to the pixels below it.

use super::bits::{SUB, each_byte};
use super::cells::{Canvas, TILE};
use super::corners::{CORNER_INTERVALS, Corners, MOST_LINES, TO_WHOLE};
use crate::source::content::Grain;
use std::hint::select_unpredictable;

/// Pixels across a disc up to which its cover is set in one go.
const DISC_PIXELS: usize = 6;
const TILE_PIXELS: usize = TILE * TILE;
/// Volume from which a particle is not stamped as a tiny one, nm^3: a sphere of 129 um.
const MOST_TINY: u64 = 1 << 50;

impl Canvas {
    /// Covers every sub-pixel whose centre lies in the disc; place and radius in sub-pixels.
    #[inline]
    fn cover_disc(&mut self, u: f64, v: f64, radius: f64) {
        let sub = SUB as i64;
        let (columns, rows) = (self.grid.columns as i64 * sub, self.grid.rows as i64 * sub);
        let first = ceil(v - radius - 0.5).max(0);
        let last = floor(v + radius - 0.5).min(rows - 1);
        let square = radius * radius;
        let half = |row: i64| {
            let dy = row as f64 + 0.5 - v;
            (square - dy * dy).max(0.0).sqrt()
        };
        // The usual particle, a few pixels wide and off the grid's sides.
        let (left, right) = (floor(u - radius - 1.0), floor(u + radius + 1.0));
        let (west, east) = (left / sub, right / sub);
        if left >= 0 && right < columns && east - west < DISC_PIXELS as i64 {
            let local = u - (west * sub) as f64;
            // All rows first: their square roots do not wait for each other.
            let mut halves = [0.0; (DISC_PIXELS + 1) * SUB];
            let height = (last + 1 - first).max(0) as usize;
            for (k, of_row) in halves[..height].iter_mut().enumerate() {
                *of_row = half(first + k as i64);
            }
            let mut row = first;
            while row <= last {
                let pixel_row = row / sub;
                let top = last.min(pixel_row * sub + sub - 1);
                let mut spans = [0u64; SUB];
                for half in &halves[(row - first) as usize..=(top - first) as usize] {
                    // Bits whose centre is within `half`: from the first centre beyond local - half to the last before local + half.
                    let from = (local - half + 0.5) as i64;
                    let to = (local + half + 0.5) as i64;
                    spans[(row % sub) as usize] = if to > from { ((1u64 << (to - from)) - 1) << from } else { 0 };
                    row += 1;
                }
                for column in west..=east {
                    let shift = (column - west) * sub;
                    let mut word = 0;
                    for (k, span) in spans.iter().enumerate() {
                        word |= (span >> shift & 0xff) << (k * SUB);
                    }
                    let index = self.index(pixel_row as usize, column as usize);
                    self.cells[index] |= word;
                }
            }
            return;
        }
        for row in first..=last {
            let half = half(row);
            let left = ceil(u - half - 0.5).max(0);
            let right = floor(u + half - 0.5).min(columns - 1);
            if left <= right {
                let row = row as usize;
                each_byte(left as usize, right as usize, |pixel, byte| {
                    let index = self.index(row / SUB, pixel);
                    self.cells[index] |= byte << (row % SUB * SUB);
                });
            }
        }
    }

    /// Adds a particle seen from above at a place (m).
    ///
    /// Its volume is shared among the pixels under it (to about 0.3 % of the sphere's volume per pixel) without loss; what lies
    /// beyond the grid is dropped here and is kept in the budget.
    #[inline]
    pub fn stamp(&mut self, x: f64, y: f64, grain: &Grain) {
        let Grain { powder, diameter, volume: total } = *grain;
        let powder = usize::from(powder);
        let u = (x - self.grid.origin[0]) * self.per_metre;
        let v = (y - self.grid.origin[1]) * self.per_metre;
        let radius = 0.5 * diameter * self.per_metre;
        let [first, end] = [[u - radius, v - radius], [u + radius, v + radius]];
        // On a pixel's edge either pixel will do: a disc that ends there has nothing in the other.
        let corner = first.map(|at| (at - 0.5 + TO_WHOLE) - TO_WHOLE);
        let fits = |k: usize| first[k] >= 0.0 && corner[k] < self.last[k] && end[k] - corner[k] < 2.0;
        if fits(0) && fits(1) && total < MOST_TINY {
            let [column, row] = corner.map(|at| ((at + TO_WHOLE).to_bits() & 0xffff_ffff) as usize);
            self.stamp_tiny(powder, total, [row, column], [u - corner[0], v - corner[1]], radius);
        } else {
            self.stamp_any(powder, total, [u, v], radius);
        }
    }

    /// A particle of any size at any place; both in pixels.
    fn stamp_any(&mut self, powder: usize, total: u64, [u, v]: [f64; 2], radius: f64) {
        let (columns, rows) = (self.grid.columns as f64, self.grid.rows as f64);
        if !(u + radius >= 0.0 && v + radius >= 0.0 && u - radius < columns && v - radius < rows) {
            return;
        }
        let (left, right) = (floor(u - radius), floor(u + radius));
        let (low, high) = (floor(v - radius), floor(v + radius));
        let sub = SUB as f64;
        self.cover_disc(u * sub, v * sub, radius * sub);
        let (first, beyond) = (left.max(0) as usize, (right + 1).min(self.grid.columns as i64) as usize);
        let rows = low.max(0) as usize..(high + 1).min(self.grid.rows as i64) as usize;
        for row in rows {
            for column in first..beyond {
                let pixel = self.pixel(row, column);
                self.occupied[pixel / TILE_PIXELS] |= 1 << (pixel % TILE_PIXELS);
            }
        }
        if left == right && low == high {
            self.add(powder, left, low, total);
        } else if right - left < MOST_LINES as i64 && high - low < MOST_LINES as i64 {
            self.stamp_small(powder, total, [left, low], [right, high], [u, v], radius);
        } else {
            self.stamp_large(powder, total, [left, low], [right, high], [u, v], radius);
        }
    }

    /// A particle within two by two pixels, the usual one: nothing is decided on the way, so the processor has nothing to guess. The same as
    /// [`Canvas::cover_disc`] and [`Canvas::stamp_small`] together. Place in pixels from the corner of the lower left one.
    #[inline]
    fn stamp_tiny(&mut self, powder: usize, total: u64, [row, column]: [usize; 2], place: [f64; 2], radius: f64) {
        let covers = cover_of_four(place, radius);
        let volumes = volumes_of_four(total, place, radius);
        // Where it does not reach the next row or column, nothing is added once more to the first.
        let [next_column, next_row] = place.map(|at| select_unpredictable(at + radius >= 1.0, 1, 0));
        for k in 0..4 {
            let pixel = self.pixel(row + k / 2 * next_row, column + k % 2 * next_column);
            self.occupied[pixel / TILE_PIXELS] |= 1 << (pixel % TILE_PIXELS);
            let record = &mut self.cells[pixel * (1 + self.powders)..][..1 + self.powders];
            record[0] |= covers[k];
            record[1 + powder] += volumes[k];
        }
    }

    #[inline]
    fn add(&mut self, powder: usize, column: i64, row: i64, volume: u64) {
        // Negative numbers become huge ones.
        let (column, row) = (column as usize, row as usize);
        if column < self.grid.columns && row < self.grid.rows {
            let index = self.index(row, column);
            self.cells[index + 1 + powder] += volume;
        }
    }

    /// A sphere over a few pixels each way, cut along the pixel edges with the table of [`Corners`].
    #[inline]
    fn stamp_small(
        &mut self,
        powder: usize,
        total: u64,
        [left, low]: [i64; 2],
        [right, high]: [i64; 2],
        [u, v]: [f64; 2],
        radius: f64,
    ) {
        let corners = Corners::table();
        let whole = total as f64;
        let scale = 0.5 * CORNER_INTERVALS as f64 / radius;
        let middle = 0.5 * CORNER_INTERVALS as f64;
        let across = (right - left) as usize + 1;
        // Places of the pixel edges between the columns; the last one lies beyond the sphere.
        let mut edges = [(0usize, 0.0f64); MOST_LINES];
        for (k, edge) in edges.iter_mut().enumerate().take(across) {
            *edge = Corners::place(middle + (left as f64 + 1.0 + k as f64 - u) * scale);
        }
        edges[across - 1] = (CORNER_INTERVALS - 1, 1.0);
        let mut below = [0.0f64; MOST_LINES];
        let mut given_rows = 0;
        for row in low..=high {
            let line = if row == high {
                (CORNER_INTERVALS - 1, 1.0)
            } else {
                Corners::place(middle + (row as f64 + 1.0 - v) * scale)
            };
            let reached =
                if row == high { total } else { (whole * corners.at((CORNER_INTERVALS - 1, 1.0), line)) as u64 };
            // What is in this row, and how it is shared among its pixels: rounding is carried along, so nothing is lost.
            let in_row = reached.max(given_rows) - given_rows;
            given_rows += in_row;
            let mut given = 0;
            for k in 0..across {
                let here = corners.at(edges[k], line);
                let reached = if k + 1 == across {
                    in_row
                } else {
                    ((whole * (here - below[k])).max(0.0) as u64).clamp(given, in_row)
                };
                below[k] = here;
                self.add(powder, left + k as i64, row, reached - given);
                given = reached;
            }
        }
    }

    /// A sphere over many pixels: chords at sub-points, scaled so that the volume is kept.
    fn stamp_large(
        &mut self,
        powder: usize,
        total: u64,
        [left, low]: [i64; 2],
        [right, high]: [i64; 2],
        [u, v]: [f64; 2],
        radius: f64,
    ) {
        let points = if radius < 16.0 { 2 } else { 1 };
        let step = 1.0 / f64::from(points);
        let chord = |column: f64, row: f64| {
            let mut sum = 0.0;
            for i in 0..points {
                for j in 0..points {
                    let dx = column + (f64::from(i) + 0.5) * step - u;
                    let dy = row + (f64::from(j) + 0.5) * step - v;
                    sum += (radius * radius - dx * dx - dy * dy).max(0.0).sqrt();
                }
            }
            sum
        };
        let (across, up) = ((right - left) as usize + 1, (high - low) as usize + 1);
        let chords: Vec<f64> = (0..across * up)
            .map(|k| chord(left as f64 + (k % across) as f64, low as f64 + (k / across) as f64))
            .collect();
        let scale = total as f64 / chords.iter().sum::<f64>();
        // Rounding is carried along so that the parts add up to the whole.
        let mut given = 0;
        let mut reached = 0.0;
        for (k, chord) in chords.iter().enumerate() {
            reached += chord * scale;
            let here = if k + 1 == chords.len() { total - given } else { (reached as u64).clamp(given, total) - given };
            given += here;
            if here > 0 {
                self.add(powder, left + (k % across) as i64, low + (k / across) as i64, here);
            }
        }
    }
}

/// Covered sub-pixels of two by two pixels, from the lower left, below a disc that lies within them; place and radius in pixels.
///
/// In single precision: which sub-pixels are covered differs from [`Canvas::cover_disc`] where an edge passes a centre by less than a
/// ten-thousandth of a sub-pixel.
#[inline]
fn cover_of_four([u, v]: [f64; 2], radius: f64) -> [u64; 4] {
    const ROWS: usize = 2 * SUB;
    /// Added to a number of less than 2^22 in size it leaves the nearest whole number in the lowest bits.
    const TO_WHOLE: f32 = 12_582_912.0;
    let [across, up, reach] = [u, v, radius].map(|length| (length * SUB as f64) as f32);
    let (mut left, mut right) = ([0; ROWS], [0; ROWS]);
    for row in 0..ROWS {
        let dy = row as f32 + 0.5 - up;
        let square = reach * reach - dy * dy;
        // Not `max`, which minds more cases.
        let half = if square > 0.0 { square } else { 0.0 }.sqrt();
        let from = (across - half + TO_WHOLE).to_bits();
        let to = (across + half + TO_WHOLE).to_bits();
        // From the first centre beyond the left end to the last before the right one; where the disc does not reach, both are the same.
        let span = ((1u32 << ((to - from) & 0x1f)) - 1) << (from & 0x1f);
        left[row] = span as u8;
        right[row] = (span >> SUB) as u8;
    }
    let [[lower_left, upper_left], [lower_right, upper_right]] = [left, right].map(|rows| {
        let (mut lower, mut upper) = ([0; SUB], [0; SUB]);
        lower.copy_from_slice(&rows[..SUB]);
        upper.copy_from_slice(&rows[SUB..]);
        [u64::from_le_bytes(lower), u64::from_le_bytes(upper)]
    });
    [lower_left, lower_right, upper_left, upper_right]
}

/// How a particle's volume is shared among two by two pixels, from the lower left, within which it lies; place and radius in pixels.
#[inline]
fn volumes_of_four(total: u64, [u, v]: [f64; 2], radius: f64) -> [u64; 4] {
    let corners = Corners::table();
    let middle = 0.5 * CORNER_INTERVALS as f64;
    let scale = middle / radius;
    let (edge, line) = (Corners::place(middle + (1.0 - u) * scale), Corners::place(middle + (1.0 - v) * scale));
    let whole = total as i64 as f64;
    let (corner, left) = (corners.at(edge, line), corners.cap(edge));
    let lower = nearest(whole * corners.cap(line)).min(total);
    let upper = total - lower;
    // Nothing is left for a pixel that the particle does not reach.
    let reaches = u + radius > 1.0;
    let lower_left = select_unpredictable(reaches, nearest(whole * corner).min(lower), lower);
    let rest = left - corner;
    let rest = if rest > 0.0 { rest } else { 0.0 };
    let upper_left = select_unpredictable(reaches, nearest(whole * rest).min(upper), upper);
    [lower_left, lower - lower_left, upper_left, upper - upper_left]
}

/// The nearest whole number, for numbers from 0 to [`MOST_TINY`]. Quicker than a conversion, which minds more cases.
#[inline]
fn nearest(x: f64) -> u64 {
    const TWO_TO_52: f64 = 4_503_599_627_370_496.0;
    (x + TWO_TO_52).to_bits() - TWO_TO_52.to_bits()
}

/// Largest whole number not above `x`, for numbers well within the range of i64. (A call into the maths library on processors
/// without the instruction costs more than the rest of a stamp.)
#[inline]
fn floor(x: f64) -> i64 {
    let whole = x as i64;
    whole - i64::from(x < whole as f64)
}

/// Smallest whole number not below `x`.
#[inline]
fn ceil(x: f64) -> i64 {
    let whole = x as i64;
    whole + i64::from(x > whole as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::map::Grid;
    use crate::source::content::whole_volume;
    use rand::{RngExt, SeedableRng, rngs::Xoshiro256PlusPlus};
    use std::f64::consts::PI;
    use std::ops::Range;

    fn grain(diameter: f64) -> Grain {
        Grain::new(0, diameter)
    }

    fn grid(pitch: f64, size: usize) -> Grid {
        Grid { origin: [0.0, 0.0], pitch, columns: size, rows: size }
    }

    fn volume_in(canvas: &Canvas, rows: Range<usize>) -> u64 {
        rows.map(|row| (0..canvas.grid.columns).map(|column| canvas.record(row, column)[1]).sum::<u64>()).sum()
    }

    #[test]
    fn a_stamp_keeps_the_volume_whatever_its_size_and_place() {
        for (pitch, diameter) in [(1e-6, 0.2e-6), (1e-6, 0.9e-6), (0.25e-6, 0.9e-6), (0.1e-6, 3e-6), (0.05e-6, 3e-6)] {
            for k in 0..50 {
                let mut canvas = Canvas::new(grid(pitch, 100), 1);
                let x = pitch * (50.0 + 0.617 * f64::from(k) % 1.0);
                let y = pitch * (50.0 + 0.381 * f64::from(k) % 1.0);
                canvas.stamp(x, y, &grain(diameter));
                assert_eq!(volume_in(&canvas, 0..100), whole_volume(diameter), "{pitch} {diameter}");
            }
        }
        // pi/6 (200 nm)^3 = 4188790.2 nm^3
        assert_eq!(whole_volume(0.2e-6), 4_188_790);
    }

    #[test]
    fn a_sphere_on_an_edge_and_on_a_corner_is_halved_and_quartered() {
        let mut canvas = Canvas::new(grid(1e-6, 4), 1);
        canvas.stamp(2e-6, 1.5e-6, &grain(0.5e-6));
        let total = whole_volume(0.5e-6) as f64;
        assert!((canvas.record(1, 1)[1] as f64 / total - 0.5).abs() < 1e-6);
        let mut canvas = Canvas::new(grid(1e-6, 4), 1);
        canvas.stamp(2e-6, 2e-6, &grain(0.5e-6));
        for k in [5, 6, 9, 10] {
            assert!((canvas.record(k / 4, k % 4)[1] as f64 / total - 0.25).abs() < 1e-3);
        }
        // A plane at half a radius cuts off the cap (1 - h)^2 (2 + h)/4 = 0.25 * 2.5/4 = 0.15625 for h = 1/2.
        let corners = Corners::table();
        let half = CORNER_INTERVALS as f64 * 0.5;
        let cap = corners.at(Corners::place(0.5 * half), Corners::place(2.0 * half));
        assert!((cap - 0.156_25).abs() < 1e-4, "{cap}");
    }

    #[test]
    fn covered_area_is_that_of_the_disc() {
        // Average over places: unbiased at any pitch. Area pi/4 d^2.
        for (pitch, diameter) in [(0.5e-6, 0.3e-6), (0.5e-6, 2.2e-6)] {
            let n = 400;
            let mut sum = 0.0;
            for k in 0..n {
                let mut canvas = Canvas::new(grid(pitch, 16), 1);
                let x = pitch * (8.0 + (0.754_877_666 * f64::from(k)) % 1.0);
                let y = pitch * (8.0 + (0.569_840_290 * f64::from(k)) % 1.0);
                canvas.stamp(x, y, &grain(diameter));
                sum += canvas.covered() as f64 * (pitch / SUB as f64).powi(2);
                let map = canvas.coverage().sum() * pitch * pitch;
                assert!((map - canvas.covered() as f64 * (pitch / SUB as f64).powi(2)).abs() < 1e-20);
            }
            let area = PI / 4.0 * diameter * diameter;
            assert!((sum / f64::from(n) / area - 1.0).abs() < 0.01, "{}", sum / f64::from(n) / area);
        }
    }

    #[test]
    fn a_tiny_stamp_is_what_the_general_one_gives() {
        let grid = grid(0.5e-6, 40);
        let (mut tiny, mut general) = (Canvas::new(grid, 1), Canvas::new(grid, 1));
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(11);
        let mut at_edge = 0;
        for _ in 0..20_000 {
            tiny.clear();
            general.cells.fill(0);
            let mut even = || rng.random::<f64>();
            let (u, v, radius) = (1.0 + 38.0 * even(), 1.0 + 38.0 * even(), 0.02 + 0.9 * even());
            let grain = grain(2.0 * radius * grid.pitch);
            tiny.stamp(u * grid.pitch, v * grid.pitch, &grain);
            let ends = |at: f64| (floor(at - radius), floor(at + radius));
            let ((left, right), (low, high)) = (ends(u), ends(v));
            general.cover_disc(u * SUB as f64, v * SUB as f64, radius * SUB as f64);
            general.stamp_small(0, grain.volume, [left, low], [right, high], [u, v], radius);
            let different = |k: usize| (0..tiny.cells.len()).filter(move |i| i % 2 == k);
            for i in different(0).filter(|i| tiny.cells[*i] != general.cells[*i]) {
                at_edge += 1;
                let pixel = (0..40 * 40).find(|k| tiny.index(k / 40, k % 40) == i).expect("a pixel");
                let bits = tiny.cells[i] ^ general.cells[i];
                for bit in (0..64).filter(|bit| bits >> bit & 1 == 1) {
                    let centre = |pixel: usize, bit: usize| (pixel * SUB + bit) as f64 + 0.5;
                    let [x, y] = [centre(pixel % 40, bit % SUB), centre(pixel / 40, bit / SUB)];
                    let beyond = (x - u * SUB as f64).hypot(y - v * SUB as f64) - radius * SUB as f64;
                    assert!(beyond.abs() < 1e-4, "{u} {v} {radius}: {beyond}");
                }
            }
            // Parts are rounded to the nearest here and down there, and the last one of four is what two others leave: 2 nm^3 at most.
            assert!(different(1).all(|i| tiny.cells[i].abs_diff(general.cells[i]) <= 2), "{u} {v} {radius}");
        }
        assert!(at_edge <= 5, "{at_edge}");
    }

    #[test]
    fn discs_of_any_size_cover_what_a_plain_count_says() {
        // Within the grid, over its sides, small enough to be set in one go and not.
        let canvas = || Canvas::new(grid(1.0, 40), 1);
        for (u, v, radius) in [
            (100.3, 150.2, 77.0),
            (300.0, 40.0, 50.0),
            (160.1, 99.7, 11.3),
            (0.0, 0.0, 10.0),
            (320.0, 318.0, 12.0),
            (77.5, 77.5, 0.4),
        ] {
            let mut canvas = canvas();
            canvas.cover_disc(u, v, radius);
            let inside = |k: usize| {
                let (x, y) = ((k % 320) as f64 + 0.5 - u, (k / 320) as f64 + 0.5 - v);
                x * x + y * y < radius * radius
            };
            let expected = (0..320 * 320).filter(|k| inside(*k)).count() as u64;
            assert_eq!(canvas.covered(), expected, "{u} {v} {radius}");
        }
    }
}
