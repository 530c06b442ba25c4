//! Bright or dark rows of a scanned picture, as charging leaves them.

use super::blur::{median, quantile};
use crate::raster::Raster;

/// Rows over which a row is compared, to each side.
const REACH: usize = 15;
/// Most rows of a streak: more of them may be the line itself.
const MOST_ROWS: usize = 6;
/// Scatter of rows about their neighbours beyond which one is a streak.
const OUTSTANDING: f32 = 6.0;
/// Share of a row whose grey stands for its ground.
const GROUND_SHARE: f64 = 0.25;

/// Takes from rows by how much their ground differs from that of the rows near them, and gives how many they were. A picture whose streaks
/// end within the picture keeps them.
pub(super) fn level_streaks(grey: &mut Raster<f32>) -> usize {
    let grounds: Vec<f32> = (0..grey.rows).map(|row| quantile(&mut grey.row(row).to_vec(), GROUND_SHARE)).collect();
    let near = |row: usize| {
        let mut near = grounds[row.saturating_sub(REACH)..(row + REACH + 1).min(grounds.len())].to_vec();
        median(&mut near)
    };
    let offsets: Vec<f32> = (0..grounds.len()).map(|row| grounds[row] - near(row)).collect();
    let mut sizes: Vec<f32> = offsets.iter().map(|offset| offset.abs()).collect();
    // A picture without noise has no scatter: half a count, as from rounding, stands in.
    let scatter = (1.4826 * median(&mut sizes)).max(0.5);
    let mut count = 0;
    let mut row = 0;
    while row < offsets.len() {
        let end = (row..offsets.len()).find(|k| offsets[*k].abs() <= OUTSTANDING * scatter).unwrap_or(offsets.len());
        if (1..=MOST_ROWS).contains(&(end - row)) {
            for streak in row..end {
                let offset = offsets[streak];
                let columns = grey.columns;
                grey.values[streak * columns..(streak + 1) * columns].iter_mut().for_each(|value| *value -= offset);
            }
            count += end - row;
        }
        row = end.max(row + 1);
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn streaks_go_and_bands_stay() {
        let mut grey = Raster::filled(40, 200, 10.0f32);
        for (k, value) in grey.values.iter_mut().enumerate() {
            let (column, row) = (k % 40, k / 40);
            // Two streaks, a band of 40 rows that is the line itself, and particles in one column.
            *value += if [50, 51, 170].contains(&row) { 30.0 } else { 0.0 };
            *value += if (80..120).contains(&row) { 60.0 } else { 0.0 };
            *value += if column == 5 { 100.0 } else { 0.0 };
        }
        assert_eq!(level_streaks(&mut grey), 3);
        assert_eq!([50, 51, 170].map(|row| grey.at(0, row)), [10.0; 3]);
        assert_eq!([grey.at(0, 79), grey.at(0, 80), grey.at(5, 170)], [10.0, 70.0, 110.0]);
    }
}
