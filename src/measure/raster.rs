//! Values in rows and columns.

/// A rectangle of values, row by row from the top left.
#[derive(Debug, Clone, PartialEq)]
pub struct Raster<T> {
    /// Values in a row.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// All values, row by row from the top.
    pub values: Vec<T>,
}

impl<T: Copy> Raster<T> {
    /// The same value everywhere.
    pub fn filled(columns: usize, rows: usize, value: T) -> Self {
        Self { columns, rows, values: vec![value; columns * rows] }
    }

    /// The value at a column and a row.
    pub fn at(&self, column: usize, row: usize) -> T {
        self.values[row * self.columns + column]
    }

    /// One row.
    pub fn row(&self, row: usize) -> &[T] {
        &self.values[row * self.columns..(row + 1) * self.columns]
    }

    /// Each value changed.
    pub fn map<U>(&self, f: impl Fn(T) -> U) -> Raster<U> {
        Raster { columns: self.columns, rows: self.rows, values: self.values.iter().map(|v| f(*v)).collect() }
    }

    /// How many values there are.
    pub fn area(&self) -> usize {
        self.values.len()
    }

    /// The places beside one: first the four that share a side, then the four that share a corner.
    pub(crate) fn around(&self, index: usize) -> [Option<usize>; 8] {
        let (column, row) = (index % self.columns, index / self.columns);
        let (left, right) = (column > 0, column + 1 < self.columns);
        let (up, down) = (row > 0, row + 1 < self.rows);
        let width = self.columns;
        [
            left.then(|| index - 1),
            right.then(|| index + 1),
            up.then(|| index - width),
            down.then(|| index + width),
            (left && up).then(|| index - width - 1),
            (right && up).then(|| index - width + 1),
            (left && down).then(|| index + width - 1),
            (right && down).then(|| index + width + 1),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_stay_within() {
        let raster = Raster::filled(3, 2, 0);
        assert_eq!(raster.around(0), [None, Some(1), None, Some(3), None, None, None, Some(4)]);
        assert_eq!(raster.around(4), [Some(3), Some(5), Some(1), None, Some(0), Some(2), None, None]);
    }
}
