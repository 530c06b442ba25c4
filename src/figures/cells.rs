//! Discs found by place: which of them meet, seen from above.

use std::num::NonZeroU32;

/// Edge of a cell over the root mean square diameter of the discs. A disc then stands in (1 + 1/2)^2 = 2.25 cells on average.
const CELL_PER_DIAMETER: f64 = 2.0;
/// Cells per disc, at most.
const CELLS_PER_DISC: usize = 4;

/// Square cells over the chip. A disc stands in each cell that the box around it touches, so that two discs that meet stand together in
/// at least one.
///
/// Far places share cells (the table wraps round), which costs a comparison and changes nothing. The lists serve print after print.
#[derive(Debug, Default)]
pub(crate) struct Cells {
    /// Cells per length, 1/m.
    per_metre: f64,
    /// Lower left corner, m: nothing lies beyond it.
    corner: [f64; 2],
    /// Cells along x and y, powers of two.
    size: [usize; 2],
    /// Number of the first entry of each cell, counted from 1.
    first: Vec<Option<NonZeroU32>>,
    entries: Vec<Entry>,
}

/// A disc in a cell.
#[derive(Debug, Clone, Copy)]
struct Entry {
    disc: u32,
    next: Option<NonZeroU32>,
    top: f64,
}

/// Cells that a disc reaches over: first and last column, first and last row, before they are wrapped.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reach {
    columns: [i64; 2],
    rows: [i64; 2],
}

/// Whether there is more to look at in a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Look {
    /// The next disc.
    On,
    /// No other disc of this cell matters.
    Enough,
}

impl Cells {
    /// Lays empty cells for discs that are given by their middle and radius, m.
    pub(crate) fn lay(&mut self, discs: impl Iterator<Item = ([f64; 2], f64)>) {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        let (mut count, mut squares) = (0, 0.0);
        for (middle, radius) in discs {
            for k in 0..2 {
                low[k] = low[k].min(middle[k]);
                high[k] = high[k].max(middle[k]);
            }
            squares += 4.0 * radius * radius;
            count += 1;
        }
        self.entries.clear();
        self.first.clear();
        if count == 0 {
            return;
        }
        self.corner = low;
        self.per_metre = 1.0 / (CELL_PER_DIAMETER * (squares / count as f64).sqrt());
        let most = (CELLS_PER_DISC * count).next_power_of_two();
        self.size = [0, 1].map(|k| (((high[k] - low[k]) * self.per_metre).min(1e6) as usize + 1).next_power_of_two());
        while self.size[0] * self.size[1] > most {
            let longer = usize::from(self.size[1] > self.size[0]);
            self.size[longer] /= 2;
        }
        self.first.resize(self.size[0] * self.size[1], None);
    }

    /// The cells of a disc.
    #[inline]
    pub(crate) fn reach(&self, middle: [f64; 2], radius: f64) -> Reach {
        // Rounded towards zero: a place farther along never has an earlier cell, and more is not asked.
        let cell = |at: f64, k: usize| ((at - self.corner[k]) * self.per_metre) as i64;
        let range = |k: usize| {
            let first = cell(middle[k] - radius, k);
            // Never round the table twice.
            [first, cell(middle[k] + radius, k).min(first + self.size[k] as i64 - 1)]
        };
        Reach { columns: range(0), rows: range(1) }
    }

    /// Calls `f` with each disc in the cells of a reach and its top: in each cell the highest first, until `f` has seen enough of the cell.
    /// A disc comes once for each cell that it shares with the reach.
    #[inline]
    pub(crate) fn visit(&self, reach: Reach, mut f: impl FnMut(u32, f64) -> Look) {
        each_cell(self.size, reach, |cell| {
            let mut here = self.first[cell];
            while let Some(number) = here {
                let entry = &self.entries[place(number)];
                if f(entry.disc, entry.top) == Look::Enough {
                    return;
                }
                here = entry.next;
            }
        });
    }

    /// Puts a disc into its cells, by the height of its top.
    #[inline]
    pub(crate) fn insert(&mut self, reach: Reach, disc: u32, top: f64) {
        let Self { entries, first, size, .. } = self;
        each_cell(*size, reach, |cell| {
            // New ones mostly lie near the top.
            let (mut above, mut below) = (None, first[cell]);
            while let Some(number) = below.filter(|number| entries[place(*number)].top > top) {
                (above, below) = (below, entries[place(number)].next);
            }
            entries.push(Entry { disc, next: below, top });
            let new = NonZeroU32::new(entries.len() as u32);
            match above {
                None => first[cell] = new,
                Some(number) => entries[place(number)].next = new,
            }
        });
    }
}

/// Place of an entry by its number.
#[inline]
fn place(number: NonZeroU32) -> usize {
    number.get() as usize - 1
}

/// Calls `f` with each cell of a reach, wrapped round the table.
#[inline]
fn each_cell(size: [usize; 2], reach: Reach, mut f: impl FnMut(usize)) {
    let wrapped = |cell: i64, k: usize| cell as usize & (size[k] - 1);
    for row in reach.rows[0]..=reach.rows[1] {
        let row = wrapped(row, 1) * size[0];
        for column in reach.columns[0]..=reach.columns[1] {
            f(row + wrapped(column, 0));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng, rngs::Xoshiro256PlusPlus};

    /// Discs that meet share a cell, however large they are and however far the table wraps round; in each cell the highest comes first, and
    /// nothing comes after enough.
    #[test]
    fn discs_that_meet_are_found() {
        let mut cells = Cells::default();
        // Nothing, one disc, a crowd, a few far from each other and one over all of them.
        for (count, area) in [(0, 1.0), (1, 1.0), (600, 20.0), (300, 1e4)] {
            let mut random = Xoshiro256PlusPlus::seed_from_u64(count);
            let mut discs: Vec<([f64; 2], f64)> = (0..count)
                .map(|_| {
                    let place = [(); 2].map(|()| (random.random::<f64>() - 0.5) * area);
                    (place, 0.1 * 100f64.powf(random.random::<f64>().powi(4)))
                })
                .collect();
            if area > 100.0 {
                discs[200] = ([0.0, 0.0], 3e3);
            }
            cells.lay(discs.iter().copied());
            let mut met = 0;
            for (k, (middle, radius)) in discs.iter().enumerate() {
                let reach = cells.reach(*middle, *radius);
                let mut found = vec![false; k];
                cells.visit(reach, |other, _| {
                    found[other as usize] = true;
                    Look::On
                });
                for (other, (place, size)) in discs[..k].iter().enumerate() {
                    let meet = (middle[0] - place[0]).hypot(middle[1] - place[1]) <= radius + size;
                    assert!(found[other] || !meet, "{k} and {other}");
                    met += usize::from(meet);
                }
                // A point has one cell.
                let (mut tops, mut looked_at) = (vec![], 0);
                let here = cells.reach(*middle, 0.0);
                cells.visit(here, |_, top| {
                    tops.push(top);
                    Look::On
                });
                assert!(tops.is_sorted_by(|a, b| a >= b));
                cells.visit(here, |_, _| {
                    looked_at += 1;
                    Look::Enough
                });
                assert_eq!(looked_at, tops.len().min(1));
                cells.insert(reach, k as u32, random.random());
            }
            assert!(count < 2 || met > 50, "{met} of {count}");
        }
    }
}
