//! Connected pieces.

use crate::raster::Raster;

/// Connected pieces of what is so in a picture.
#[derive(Debug, Clone)]
pub(crate) struct Pieces {
    /// Number of the piece at each place, counted from 1; 0 where there is none.
    pub(crate) labels: Raster<u32>,
    /// Pixels of each piece, from number 1 on; the first entry stands for no piece.
    pub(crate) areas: Vec<usize>,
}

/// Which places are neighbours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Joined {
    /// Those that share a side.
    BySides,
    /// Those that share a side or a corner.
    ByCorners,
}

impl Pieces {
    /// The pieces of all places that are `so`.
    pub(crate) fn of(mask: &Raster<bool>, so: bool, joined: Joined) -> Self {
        let neighbours = if joined == Joined::BySides { 4 } else { 8 };
        let mut labels = mask.map(|_| 0u32);
        let mut areas = vec![0];
        let mut open = Vec::new();
        for start in 0..mask.area() {
            if mask.values[start] != so || labels.values[start] != 0 {
                continue;
            }
            let label = areas.len() as u32;
            let mut area = 0;
            labels.values[start] = label;
            open.push(start);
            while let Some(place) = open.pop() {
                area += 1;
                for next in mask.around(place).into_iter().take(neighbours).flatten() {
                    if mask.values[next] == so && labels.values[next] == 0 {
                        labels.values[next] = label;
                        open.push(next);
                    }
                }
            }
            areas.push(area);
        }
        Self { labels, areas }
    }

    /// How many there are.
    #[cfg(test)]
    pub(crate) fn count(&self) -> usize {
        self.areas.len() - 1
    }

    /// The piece in which each labelled part lies, by its number; 0 of none.
    pub(crate) fn of_each(&self, labels: &Raster<u32>, count: usize) -> Vec<u32> {
        let mut piece_of = vec![0u32; count + 1];
        for (label, piece) in labels.values.iter().zip(&self.labels.values) {
            piece_of[*label as usize] = *piece;
        }
        piece_of[0] = 0;
        piece_of
    }

    /// Pixels of the largest one.
    pub(crate) fn largest(&self) -> usize {
        self.areas.iter().copied().max().unwrap_or(0)
    }
}

/// First and last column, first and last row.
pub(super) type Bounds = [usize; 4];

/// Bounds of labelled places by their number; the first entry stands for no label.
pub(super) fn bounds(labels: &Raster<u32>, count: usize) -> Vec<Bounds> {
    let mut all = vec![[usize::MAX, 0, usize::MAX, 0]; count + 1];
    for (place, label) in labels.values.iter().enumerate().filter(|(_, label)| **label > 0) {
        let (column, row) = (place % labels.columns, place / labels.columns);
        let [left, right, top, bottom] = &mut all[*label as usize];
        (*left, *right) = ((*left).min(column), (*right).max(column));
        (*top, *bottom) = ((*top).min(row), (*bottom).max(row));
    }
    all
}

/// Labels that go on over so many steps from place to place where they may, each place to the nearest.
pub(super) fn grown(mut labels: Raster<u32>, reach: usize, may: impl Fn(usize) -> bool) -> Raster<u32> {
    let mut open: Vec<usize> = (0..labels.area()).filter(|place| labels.values[*place] > 0).collect();
    for _ in 0..reach {
        let mut next = Vec::new();
        for place in open {
            for beside in labels.around(place).into_iter().flatten() {
                if labels.values[beside] == 0 && may(beside) {
                    labels.values[beside] = labels.values[place];
                    next.push(beside);
                }
            }
        }
        if next.is_empty() {
            break;
        }
        open = next;
    }
    labels
}

/// Takes away pieces and fills holes that are smaller than so many pixels.
pub(crate) fn without_specks(mask: &Raster<bool>, least: usize) -> Raster<bool> {
    let mut out = mask.clone();
    for (so, joined) in [(true, Joined::ByCorners), (false, Joined::BySides)] {
        let pieces = Pieces::of(&out, so, joined);
        for (value, label) in out.values.iter_mut().zip(&pieces.labels.values) {
            if *label > 0 && pieces.areas[*label as usize] < least {
                *value = !so;
            }
        }
    }
    out
}

/// What the outlines within the square of four pixels whose middle is the corner above and left of a place add to pieces less holes: a
/// quarter for a convex corner, less a quarter for a concave one. Where two pieces meet in a corner they are one.
///
/// Source: Gray 1971, Local properties of binary images in two dimensions, IEEE Trans. Comput. 20:551.
pub(crate) fn turning(mask: &Raster<bool>, column: usize, row: usize) -> f64 {
    let [a, b] = [mask.at(column - 1, row - 1), mask.at(column, row - 1)];
    let [c, d] = [mask.at(column - 1, row), mask.at(column, row)];
    match [a, b, c, d].iter().filter(|covered| **covered).count() {
        1 => 0.25,
        3 => -0.25,
        2 if a == d => -0.5,
        _ => 0.0,
    }
}

/// The sum of [`turning`] over a picture: pieces less holes, of which those that the frame cuts count in part.
pub(crate) fn total_turning(mask: &Raster<bool>) -> f64 {
    (1..mask.rows)
        .flat_map(|row| (1..mask.columns).map(move |column| (column, row)))
        .map(|(x, y)| turning(mask, x, y))
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mask(rows: &[&str]) -> Raster<bool> {
        let values = rows.iter().flat_map(|row| row.chars().map(|c| c == '#')).collect();
        Raster { columns: rows[0].len(), rows: rows.len(), values }
    }

    #[test]
    fn pieces_and_holes() {
        let picture = mask(&["####..#", "#..#..#", "####...", ".......", "#......", ".#....."]);
        let pieces = Pieces::of(&picture, true, Joined::ByCorners);
        assert_eq!(pieces.areas, [0, 10, 2, 2]);
        assert_eq!((pieces.largest(), Pieces::of(&picture, true, Joined::BySides).count()), (10, 4));
        // With nothing at the frame, outlines turn as often as there are pieces less holes.
        let inner = mask(&["........", ".####..#", ".#..#..#", ".####...", "......#.", ".....#..", "........"]);
        assert_eq!(total_turning(&inner), 1.5);
        let clean = without_specks(&picture, 3);
        assert_eq!(clean, mask(&["####...", "####...", "####...", ".......", ".......", "......."]));
    }
}
