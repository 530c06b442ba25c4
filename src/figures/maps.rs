//! Maps of a print, from its picture.

use motefall_physics::inputs::Inputs;
use motefall_physics::map::Grid;
use motefall_physics::map::canvas::Canvas;
use ndarray::Array2;

/// Maps of one print; arrays are `[row, column]`, row 0 at the lowest y.
#[derive(Debug, Clone)]
pub struct Maps {
    /// Where the pixels lie.
    pub grid: Grid,
    /// Projected solid thickness, m: an array for each powder, in the order of [`Inputs::powders`].
    pub thickness: Vec<Array2<f64>>,
    /// Deposit height from packing, m.
    pub height: Array2<f64>,
    /// Highest point of the particles when each rests on what lies below it, m; if particles were kept.
    pub top_height: Option<Array2<f64>>,
    /// Covered share of each pixel, 0 to 1.
    pub coverage: Array2<f64>,
}

/// Maps of a print from its picture. `top_height` from [`crate::stack::top_height`] if the particles were kept.
pub fn maps(inputs: &Inputs, canvas: &Canvas, top_height: Option<Array2<f64>>) -> Maps {
    let packing: Vec<f64> = inputs.powders().iter().map(|powder| powder.packing_fraction).collect();
    let (thickness, (height, coverage)) = rayon::join(
        || (0..canvas.powders()).map(|powder| canvas.thickness(powder)).collect(),
        || rayon::join(|| canvas.height(&packing), || canvas.coverage()),
    );
    Maps { grid: canvas.grid, thickness, height, top_height, coverage }
}
