//! The part of a picture that is measured.

use crate::error::MeasureError;
use crate::raster::Raster;
use std::fmt;
use std::str::FromStr;

/// Fewest pixels of a side.
const LEAST_SIDE: usize = 32;

/// What is cut away or kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Crop {
    /// Pixels cut off at each side.
    Sides {
        /// At the top.
        top: usize,
        /// At the bottom.
        bottom: usize,
        /// On the left.
        left: usize,
        /// On the right.
        right: usize,
    },
    /// The part kept.
    Part {
        /// Column of its left edge.
        x: usize,
        /// Row of its top edge.
        y: usize,
        /// Columns.
        width: usize,
        /// Rows.
        height: usize,
    },
}

impl Default for Crop {
    fn default() -> Self {
        Self::Sides { top: 0, bottom: 0, left: 0, right: 0 }
    }
}

impl FromStr for Crop {
    type Err = String;

    /// `bottom=60`, `bottom=60,left=10`, or `x,y,width,height`.
    fn from_str(text: &str) -> Result<Self, String> {
        let advice = "write bottom=60 to cut 60 pixels off (also top, left, right, with commas between), or x,y,width,height to keep a part";
        let number = |word: &str| word.trim().parse::<usize>().map_err(|_| advice.to_owned());
        if !text.contains('=') {
            let numbers: Vec<usize> = text.split(',').map(number).collect::<Result<_, _>>()?;
            let [x, y, width, height] = numbers[..] else { return Err(advice.into()) };
            return Ok(Self::Part { x, y, width, height });
        }
        let (mut top, mut bottom, mut left, mut right) = (0, 0, 0, 0);
        for part in text.split(',') {
            let (side, pixels) = part.split_once('=').ok_or(advice)?;
            let cut = match side.trim() {
                "top" => &mut top,
                "bottom" => &mut bottom,
                "left" => &mut left,
                "right" => &mut right,
                _ => return Err(advice.into()),
            };
            *cut = number(pixels)?;
        }
        Ok(Self::Sides { top, bottom, left, right })
    }
}

impl fmt::Display for Crop {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Part { x, y, width, height } => write!(f, "{x},{y},{width},{height}"),
            Self::Sides { top, bottom, left, right } => {
                let sides = [("top", top), ("bottom", bottom), ("left", left), ("right", right)];
                let cut: Vec<String> =
                    sides.iter().filter(|(_, cut)| **cut > 0).map(|(side, cut)| format!("{side}={cut}")).collect();
                f.write_str(&cut.join(","))
            }
        }
    }
}

impl Crop {
    /// The part of a picture.
    pub fn of(&self, whole: &Raster<f32>) -> Result<Raster<f32>, MeasureError> {
        let outside = || MeasureError::Crop { crop: self.to_string(), columns: whole.columns, rows: whole.rows };
        let (x, y, width, height) = match *self {
            Self::Part { x, y, width, height } => (x, y, width, height),
            Self::Sides { top, bottom, left, right } => {
                let width = whole.columns.checked_sub(left.saturating_add(right)).ok_or_else(outside)?;
                let height = whole.rows.checked_sub(top.saturating_add(bottom)).ok_or_else(outside)?;
                (left, top, width, height)
            }
        };
        let fits = x.checked_add(width).is_some_and(|end| end <= whole.columns)
            && y.checked_add(height).is_some_and(|end| end <= whole.rows);
        if !fits || width == 0 || height == 0 {
            return Err(outside());
        }
        if width.min(height) < LEAST_SIDE {
            return Err(MeasureError::TooSmall { columns: width, rows: height, least: LEAST_SIDE });
        }
        let values = (y..y + height).flat_map(|row| whole.row(row)[x..x + width].iter().copied()).collect();
        Ok(Raster { columns: width, rows: height, values })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crops_are_read_and_checked() {
        let crop = |text: &str| text.parse::<Crop>();
        assert_eq!(crop("bottom=60, left=5").expect("sides").to_string(), "bottom=60,left=5");
        assert_eq!(crop("1,2,3,4").expect("part"), Crop::Part { x: 1, y: 2, width: 3, height: 4 });
        for wrong in ["", "60", "bottom", "bottom=-1", "under=3", "1,2,3", "1;2;3;4"] {
            assert!(crop(wrong).expect_err(wrong).contains("bottom=60"));
        }
        let whole = Raster { columns: 50, rows: 40, values: (0..2000).map(|v| v as f32).collect() };
        let part = crop("bottom=8,left=10").expect("sides").of(&whole).expect("fits");
        assert_eq!((part.columns, part.rows, part.at(0, 0), part.at(39, 31)), (40, 32, 10.0, 1599.0));
        for wrong in ["bottom=40", "left=60", "0,0,51,40", "18446744073709551615,0,32,32"] {
            assert!(matches!(crop(wrong).expect("read").of(&whole), Err(MeasureError::Crop { .. })), "{wrong}");
        }
        assert!(matches!(crop("bottom=9").expect("read").of(&whole), Err(MeasureError::TooSmall { .. })));
    }
}
