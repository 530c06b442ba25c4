//! Bright or dark rows of a scanned picture, as charging leaves them.

use super::blur::median;
use crate::raster::Raster;

/// Most rows of a streak: more of them may be the line itself.
const MOST_ROWS: usize = 6;
/// Scatter of the steps between rows beyond which one is the edge of a streak.
const OUTSTANDING: f32 = 6.0;
/// How well the step at the end of a streak makes up for the one at its begin, as a part of it.
const CLOSED: f32 = 0.4;

/// Takes from rows by how much they differ from those above and below them, and gives how many they were. What is seen hardly changes from
/// one row to the next, so the middle of the differences, column by column, is that of the light. A streak that begins or ends within a
/// row is only levelled as far as it makes up most of the row.
pub(super) fn level_streaks(grey: &mut Raster<f32>) -> usize {
    let step = |row: usize| {
        let mut steps: Vec<f32> =
            grey.row(row).iter().zip(grey.row(row - 1)).map(|(here, above)| here - above).collect();
        median(&mut steps)
    };
    let steps: Vec<f32> = (0..grey.rows).map(|row| if row == 0 { 0.0 } else { step(row) }).collect();
    let mut sizes: Vec<f32> = steps.iter().map(|step| step.abs()).collect();
    // A picture without noise has no scatter: half a count, as from rounding, stands in.
    let least = OUTSTANDING * (1.4826 * median(&mut sizes)).max(0.5);
    let mut count = 0;
    let mut row = 1;
    while row < steps.len() {
        let end = (steps[row].abs() > least).then(|| end_of(&steps, row)).flatten();
        if let Some(end) = end {
            (row..end).for_each(|streak| level(grey, streak, row - 1, end));
            count += end - row;
        }
        row = end.unwrap_or(row + 1);
    }
    count
}

/// The row after a streak that begins at a row.
fn end_of(steps: &[f32], row: usize) -> Option<usize> {
    let mut left = steps[row];
    for (end, step) in steps.iter().enumerate().skip(row + 1).take(MOST_ROWS) {
        left += step;
        if left.abs() <= CLOSED * steps[row].abs() {
            return Some(end);
        }
    }
    None
}

/// Takes from a row by how much it differs from the mean of two others.
fn level(grey: &mut Raster<f32>, row: usize, above: usize, below: usize) {
    let columns = grey.columns;
    let mut differences: Vec<f32> =
        (0..columns).map(|k| grey.at(k, row) - 0.5 * (grey.at(k, above) + grey.at(k, below))).collect();
    let offset = median(&mut differences);
    grey.values[row * columns..(row + 1) * columns].iter_mut().for_each(|value| *value -= offset);
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
